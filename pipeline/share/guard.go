package share

import (
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Guard knows what no released text may hold.
type Guard struct {
	first time.Time       // the study's first day
	words map[string]bool // folded names, by their words
	squad map[string]bool // those of squads
	ids   map[string]bool // pseudonyms of the study, file ids, session ids
}

// NewGuard makes a guard. names are all names and aliases, squads those of squads, ids
// all ids of the study that a release does not hold; firstDay, YYYY-MM-DD, is the
// study's first.
func NewGuard(firstDay string, names, squads, ids []string) (*Guard, error) {
	first, err := time.Parse(time.DateOnly, firstDay)
	if err != nil {
		return nil, fmt.Errorf("the study's first day: %w", err)
	}
	g := &Guard{first: first, words: map[string]bool{}, squad: map[string]bool{}, ids: map[string]bool{}}
	for _, name := range names {
		if w := strings.Join(words(name), " "); len(w) >= shortestName {
			g.words[w] = true
		}
	}
	for _, squad := range squads {
		if w := strings.Join(words(squad), " "); w != "" {
			g.squad[w] = true
		}
	}
	for _, id := range ids {
		g.ids[id] = true
	}
	return g, nil
}

// Day is the study day of a date, the first being 1.
func (g *Guard) Day(date string) (int32, error) {
	at, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return 0, fmt.Errorf("a day of the study: %w", err)
	}
	return int32(at.Sub(g.first).Hours()/24) + 1, nil
}

var dates = regexp.MustCompile(`\b(?:19|20)\d\d-\d\d-\d\d\b`)

// shortestName is how many letters a name or alias needs to be looked for: a single
// one is a unit as often as a name.
const shortestName = 3

// longestName is how many words of a text are looked at together for a name.
const longestName = 8

// Text gives a text as it may be released, dates as study days. It fails where it
// names somebody, or holds an id of the study; the error does not repeat which.
func (g *Guard) Text(text string) (string, error) {
	var wrong error
	text = dates.ReplaceAllStringFunc(text, func(date string) string {
		day, err := g.Day(date)
		if err != nil {
			wrong = err
		}
		return fmt.Sprintf("study day %d", day)
	})
	if wrong != nil {
		return "", wrong
	}
	for _, field := range strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '-' }) {
		if g.ids[field] {
			return "", fmt.Errorf("a text holds an id of the study")
		}
	}
	if holds(text, g.words) {
		return "", errors.New("a text holds the name of a swimmer")
	}
	return text, nil
}

// Label gives what the study calls something, as Text does, and fails also where it
// holds the name of a squad: who has to do with a change called by a squad's name would
// be known for one of it.
func (g *Guard) Label(text string) (string, error) {
	if holds(text, g.squad) {
		return "", errors.New("the name of a change holds the name of a squad; call the change something else in the study file, and run again")
	}
	return g.Text(text)
}

// holds reports whether words of a text that follow each other are a name.
func holds(text string, names map[string]bool) bool {
	all := words(text)
	for from := range all {
		for to := from + 1; to <= len(all) && to-from <= longestName; to++ {
			if names[strings.Join(all[from:to], " ")] {
				return true
			}
		}
	}
	return false
}

// words are a text's words, without case and accents.
func words(text string) []string {
	var plain strings.Builder
	for _, r := range norm.NFD.String(strings.ToLower(text)) {
		if !unicode.Is(unicode.Mn, r) {
			plain.WriteRune(r)
		}
	}
	return strings.FieldsFunc(plain.String(), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
}
