package run

import (
	"fmt"
	"strings"
	"unicode"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// reach resolves whom each of the study's changes reaches: one set of
// pseudonyms an entry, nil for everybody. A name that is nobody's would turn
// its swimmer into one whom the change never reached, so it is an error, a
// *study.Problems.
func (src *Sources) reach(s *study.Study, own map[string][]held) ([]map[string]bool, error) {
	problems := &study.Problems{File: s.File}
	wrong := func(entry int, format string, args ...any) {
		problems.List = append(problems.List, study.Problem{Key: fmt.Sprintf("changes[%d].swimmers", entry+1), Text: fmt.Sprintf(format, args...)})
	}
	reach := make([]map[string]bool, len(s.Changes))
	taken := map[[2]string]int{} // change and pseudonym -> entry
	for i, c := range s.Changes {
		if c.Swimmers == nil {
			continue
		}
		reach[i] = map[string]bool{}
		for _, name := range c.Swimmers {
			if src.Registry.IsForgotten(name) {
				continue
			}
			swimmer := src.Registry.ByName(name).Swimmer
			_, listed := src.Registry.Member(swimmer)
			if _, seen := own[swimmer]; swimmer == "" || !listed && !seen {
				wrong(i, "nobody here is called %q%s", name, didYouMean(src.Registry.Nearest(name, 3)))
				continue
			}
			if first, twice := taken[[2]string{c.Name, swimmer}]; twice {
				wrong(i, "%q is in change %d of the same name already, perhaps by another name", name, first+1)
			}
			taken[[2]string{c.Name, swimmer}] = i
			reach[i][swimmer] = true
		}
	}
	if len(problems.List) > 0 {
		return nil, problems
	}
	return reach, nil
}

func didYouMean(names []string) string {
	if len(names) == 0 {
		return ""
	}
	return "; did you mean " + strings.Join(names, " or ") + "?"
}

// withoutNamesInNotes takes out the notes whose key or value holds a name or an alias
// of somebody: both go into tables, which hold no names.
func (src *Sources) withoutNamesInNotes(s *study.Study) {
	if s.Privacy.AsGiven {
		return
	}
	called := map[string]bool{}
	for _, m := range src.Registry.Members() {
		for _, name := range append([]string{m.Name}, m.Aliases...) {
			called[strings.Join(wordsOf(name), " ")] = true
		}
	}
	for _, seen := range src.Seen {
		called[strings.Join(wordsOf(seen.Name), " ")] = true
	}
	delete(called, "")
	kept := src.Notes[:0]
	for _, n := range src.Notes {
		if !holdsName(n.Value, called) && !holdsName(strings.ReplaceAll(n.Key, "_", " "), called) {
			kept = append(kept, n)
			continue
		}
		src.Entries = append(src.Entries, read.Entry{Record: n.Record, Records: 1, Kind: read.KindNote, Swimmer: n.Swimmer,
			Rule: read.RuleNamesSomebody, Action: read.Excluded, Detail: "a swimmer's name"})
	}
	src.Notes = kept
}

// holdsName reports whether words that follow each other in a text are
// somebody's name.
func holdsName(text string, called map[string]bool) bool {
	words := wordsOf(text)
	for from := range words {
		for to := from + 1; to <= len(words); to++ {
			if called[strings.Join(words[from:to], " ")] {
				return true
			}
		}
	}
	return false
}

// wordsOf splits a text, in the form in which names are compared, at whatever
// is neither letter nor digit.
func wordsOf(text string) []string {
	return strings.FieldsFunc(identity.Fold(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsMark(r) && !unicode.IsDigit(r) })
}
