package identity

import (
	"strings"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// Tidy trims a name, collapses its inner white space to single blanks and
// composes its accents. It keeps spelling and case.
func Tidy(name string) string {
	return norm.NFC.String(strings.Join(strings.Fields(strings.ToValidUTF8(name, "\uFFFD")), " "))
}

// Fold is the form in which names are compared: tidied, with compatibility
// forms and letter case folded (Unicode NFKC and full case folding, as in
// Unicode's caseless compatibility matching). Two names are the same swimmer
// exactly when their folded forms are equal; nothing is matched by likeness.
func Fold(name string) string {
	if isASCII(name) { // the same by a shorter way: most cells are
		return strings.ToLower(strings.Join(strings.Fields(name), " "))
	}
	folded := cases.Fold().String(norm.NFKC.String(strings.ToValidUTF8(name, "\uFFFD")))
	// Folding can leave accents uncomposed and compatibility forms can be blanks.
	folded = cases.Fold().String(norm.NFKC.String(folded))
	return norm.NFKC.String(strings.Join(strings.Fields(norm.NFKC.String(folded)), " "))
}

func isASCII(text string) bool {
	for i := range len(text) {
		if text[i] >= utf8.RuneSelf {
			return false
		}
	}
	return true
}
