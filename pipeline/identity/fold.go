package identity

import (
	"strings"

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
	folded := cases.Fold().String(norm.NFKC.String(strings.ToValidUTF8(name, "\uFFFD")))
	// Folding can leave accents uncomposed and compatibility forms can be blanks.
	folded = cases.Fold().String(norm.NFKC.String(folded))
	return norm.NFKC.String(strings.Join(strings.Fields(norm.NFKC.String(folded)), " "))
}
