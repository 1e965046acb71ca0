package evidence

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// isoDate finds days written as tables write them.
var isoDate = regexp.MustCompile(`\b(?:19|20)[0-9]{2}-[01][0-9]-[0-3][0-9]\b`)

// Search fails where a file holds one of the study's own marks (pseudonyms, ids
// of sessions and files, days), or any date. It says in which file and not what.
// Pictures as PNG are passed over: their words are those of the SVG beside them.
func Search(files []File, marks []string) error {
	for _, f := range files {
		if !f.Words() {
			continue
		}
		if isoDate.Match(f.Data) {
			return fmt.Errorf("%s would hold a date", f.Name)
		}
		for _, mark := range marks {
			if mark != "" && bytes.Contains(f.Data, []byte(mark)) {
				return fmt.Errorf("%s would hold a pseudonym, an id or a day of the study", f.Name)
			}
		}
	}
	return nil
}

// Words reports whether a file holds words.
func (f File) Words() bool { return !strings.HasSuffix(f.Name, ".png") }

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

func isWord(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }
