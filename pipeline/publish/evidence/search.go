package evidence

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Private is what no file of a pack may hold.
type Private struct {
	Names []string // of people: looked for as words; of several words whatever their case, a single one as it is written
	Exact []string // pseudonyms, ids of sessions and files, dates: looked for as they are
}

// isoDate finds days written as tables write them.
var isoDate = regexp.MustCompile(`\b(?:19|20)[0-9]{2}-[01][0-9]-[0-3][0-9]\b`)

// Search fails where a file holds something private, or any date. It says in
// which file and what kind of thing, and not what it is. Pictures as PNG are
// passed over: their words are those of the SVG beside them.
func Search(files []File, private Private) error {
	for _, f := range files {
		if strings.HasSuffix(f.Name, ".png") {
			continue
		}
		text := f.Data
		if isoDate.Match(text) {
			return fmt.Errorf("%s would hold a date", f.Name)
		}
		for _, exact := range private.Exact {
			if exact != "" && bytes.Contains(text, []byte(exact)) {
				return fmt.Errorf("%s would hold a pseudonym, an id or a date of the study", f.Name)
			}
		}
		folded := strings.ToLower(string(text))
		for _, name := range private.Names {
			name = strings.TrimSpace(name)
			if holdsWord(string(text), name) || strings.ContainsFunc(name, between) && holdsWord(folded, strings.ToLower(name)) {
				return fmt.Errorf("%s would hold the name of a swimmer", f.Name)
			}
		}
	}
	return nil
}

// holdsWord reports whether a text holds a name between other signs than
// letters and digits.
func holdsWord(text, name string) bool {
	if name == "" {
		return false
	}
	for from := 0; from < len(text); {
		at := strings.Index(text[from:], name)
		if at < 0 {
			return false
		}
		start, end := from+at, from+at+len(name)
		before, _ := utf8.DecodeLastRuneInString(text[:start])
		after, _ := utf8.DecodeRuneInString(text[end:])
		if !isWord(before) && !isWord(after) {
			return true
		}
		from = start + 1
	}
	return false
}

// between are the signs between the words of a name.
func between(r rune) bool { return !isWord(r) }

func isWord(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }
