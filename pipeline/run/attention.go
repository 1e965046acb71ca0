package run

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// Attention is what a person has to see to before or after a run. It holds
// names and paths, and is for the terminal and the private folder alone.
type Attention struct {
	Roster        string               `json:"roster"`         // its path; "" when there is none, and everybody is used
	ConsentColumn bool                 `json:"consent_column"` // the roster has one
	RosterColumns []read.UnknownColumn `json:"roster_unknown_columns"`
	Waiting       []string             `json:"waiting_for_consent"` // members who have not answered, in the roster's order
	Declined      []string             `json:"declined"`            // members who said no
	Unknown       []UnknownName        `json:"unknown_names"`
	NoFile        []NoFile             `json:"assigned_files_not_there"`
	Files         []FileLedger         `json:"files"`
}

// UnknownName is a name in a file that is not in the roster.
type UnknownName struct {
	File    string   `json:"file"`
	Name    string   `json:"name"`
	Nearest []string `json:"nearest"` // of the roster
}

// NoFile is a row of the assign file whose file is not there, or is claimed
// by no input.
type NoFile struct {
	File      string   `json:"file"`
	Unclaimed bool     `json:"unclaimed"`
	Nearest   []string `json:"nearest"`
}

// FileLedger is what the ledger says of one file, or of several of which it
// says the same.
type FileLedger struct {
	Files []string     `json:"files"`
	Used  bool         `json:"used"` // something of it is in use
	Rules []RuleLedger `json:"rules"`
}

// RuleLedger is what one rule did to a file's records.
type RuleLedger struct {
	Rule    string   `json:"rule"`
	Action  string   `json:"action"`
	Records int64    `json:"records"`
	Details []string `json:"details"` // the first few, equal ones once
	More    int      `json:"more"`    // how many other details there are
}

// shownDetails is how many different details are kept of a file and rule.
const shownDetails = 3

// members sorts the roster's members by what they answered.
func (a *Attention) members(members []identity.Member) {
	for _, m := range members {
		switch m.Consent {
		case identity.ConsentYes:
		case identity.ConsentNo:
			a.Declined = append(a.Declined, m.Name)
		default:
			a.Waiting = append(a.Waiting, m.Name)
		}
	}
}

// unknownNames lists the names that a file shows and the roster does not have,
// however often and in whatever case each is written.
func unknownNames(file string, seen []identity.Seen, registry *identity.Registry) []UnknownName {
	var out []UnknownName
	told := map[string]bool{}
	for _, s := range seen {
		if folded := identity.Fold(s.Name); s.Swimmer == "" && folded != "" && !told[folded] && !registry.IsForgotten(s.Name) {
			told[folded] = true
			out = append(out, UnknownName{File: file, Name: identity.Tidy(s.Name), Nearest: registry.Nearest(s.Name, 2)})
		}
	}
	return out
}

// assigned checks the rows of the assign file against the roster and the
// files that were found.
func (src *Sources) assigned(s *study.Study, assignments []identity.Assignment) {
	var seen []identity.Seen
	var paths []string
	for _, f := range src.Found {
		paths = append(paths, f.Rel)
	}
	fits := func(pattern string, paths []string) bool {
		return slices.ContainsFunc(paths, func(rel string) bool { return study.MatchPath(pattern, rel) })
	}
	var unclaimed []string
	for _, f := range src.Unmatched {
		unclaimed = append(unclaimed, f.Rel)
	}
	for _, a := range assignments {
		seen = append(seen, identity.Seen{Swimmer: src.Registry.ByName(a.Name).Swimmer, Name: a.Name})
		if fits(a.File, paths) {
			continue
		}
		src.Attention.NoFile = append(src.Attention.NoFile, NoFile{File: a.File, Unclaimed: fits(a.File, unclaimed),
			Nearest: study.Nearest(a.File, paths, 1)})
	}
	src.Attention.Unknown = append(src.Attention.Unknown, unknownNames(s.Assign, seen, src.Registry)...)
}

// fileLedgers puts the ledger's entries together by file: files of which
// nothing is used first, then by path. used are the ids of files of which
// something is.
func (src *Sources) fileLedgers(entries []read.Entry, used map[string]bool, s *study.Study) []FileLedger {
	paths := map[string]string{}
	for i, f := range src.Files {
		paths[f.ID] = src.Found[i].Rel
	}
	for _, list := range []string{s.Roster, s.Assign, s.Notes} {
		if list != "" {
			id := src.Registry.FileID(list)
			paths[id], used[id] = list, true
		}
	}
	byFile := map[string][]read.Entry{}
	for _, e := range entries {
		e.Detail = fileWord.ReplaceAllStringFunc(e.Detail, func(word string) string {
			if path := paths[strings.TrimPrefix(word, "file ")]; path != "" {
				return path
			}
			return word
		})
		byFile[e.FileID] = append(byFile[e.FileID], e)
	}
	for i, f := range src.Files {
		if src.Inputs[i].Kind == study.HeartRate && f.Counts.HeartRate > leftOut(byFile[f.ID]) {
			used[f.ID] = true // its samples are in sessions of other files
		}
	}
	var out []FileLedger
	for id, own := range byFile {
		if paths[id] != "" {
			out = append(out, FileLedger{Files: []string{paths[id]}, Used: used[id], Rules: ruleLedgers(own)})
		}
	}
	slices.SortFunc(out, func(a, b FileLedger) int {
		if a.Used != b.Used {
			if b.Used {
				return -1
			}
			return 1
		}
		return strings.Compare(a.Files[0], b.Files[0])
	})
	return joinEqual(out)
}

// leftOut counts the heart-rate records that entries exclude, each once.
func leftOut(entries []read.Entry) int64 {
	own := slices.DeleteFunc(slices.Clone(entries), func(e read.Entry) bool { return e.Action != read.Excluded || e.Kind != read.KindHeartRate })
	slices.SortFunc(own, func(a, b read.Entry) int { return cmp.Compare(a.Record, b.Record) })
	var n, to int64
	for _, e := range own {
		end := e.Record + max(1, e.Records)
		n += max(0, end-max(e.Record, to))
		to = max(to, end)
	}
	return n
}

// fileWord is how a detail names another file: by its id.
var fileWord = regexp.MustCompile(`\bfile f-[0-9a-z]+`)

// joinEqual puts files of which the ledger says the same, the number of records
// aside, into one.
func joinEqual(ledgers []FileLedger) []FileLedger {
	at := map[string]int{}
	var out []FileLedger
	for _, l := range ledgers {
		words := slices.Clone(l.Rules)
		for i := range words {
			words[i].Records = 0
		}
		key := fmt.Sprintf("%v %#v", l.Used, words)
		if i, ok := at[key]; ok {
			out[i].Files = append(out[i].Files, l.Files...)
			for j, rule := range l.Rules {
				out[i].Rules[j].Records += rule.Records
			}
			continue
		}
		at[key] = len(out)
		out = append(out, l)
	}
	return out
}

// ruleLedgers puts one file's entries together by rule and action, what is
// left out first and of that the most.
func ruleLedgers(entries []read.Entry) []RuleLedger {
	type key struct {
		rule   string
		action read.Action
	}
	byRule := map[key][]read.Entry{}
	for _, e := range entries {
		k := key{e.Rule, e.Action}
		byRule[k] = append(byRule[k], e)
	}
	var out []RuleLedger
	for k, own := range byRule {
		l := RuleLedger{Rule: k.rule, Action: string(k.action)}
		for _, e := range own {
			l.Records += max(1, e.Records)
		}
		l.Details = details(own)
		if n := len(l.Details); n > shownDetails {
			l.Details, l.More = l.Details[:shownDetails], n-shownDetails
		}
		out = append(out, l)
	}
	rank := map[string]int{string(read.Excluded): 0, string(read.Repaired): 1, string(read.Noted): 2}
	slices.SortFunc(out, func(a, b RuleLedger) int {
		return cmp.Or(cmp.Compare(rank[a.Action], rank[b.Action]), cmp.Compare(b.Records, a.Records), cmp.Compare(a.Rule, b.Rule))
	})
	return out
}

// details are the entries' details in order, those that differ in the line
// alone as one: "lines 2-9 and 12, column pool: ...".
func details(entries []read.Entry) []string {
	lines := map[string][]int{}
	var order []string
	for _, e := range entries {
		line, text := splitLine(e.Detail)
		if _, known := lines[text]; !known {
			order = append(order, text)
			lines[text] = nil
		}
		if line > 0 {
			lines[text] = append(lines[text], line)
		}
	}
	var out []string
	for _, text := range order {
		if len(lines[text]) > 0 {
			out = append(out, lineWords(lines[text])+text)
		} else if text != "" {
			out = append(out, text)
		}
	}
	return out
}

// splitLine takes "line 2" off the front of a detail; 0 where there is none.
func splitLine(detail string) (line int, text string) {
	rest, found := strings.CutPrefix(detail, "line ")
	if !found {
		return 0, detail
	}
	end := strings.IndexFunc(rest, func(r rune) bool { return r < '0' || r > '9' })
	if end <= 0 {
		return 0, detail
	}
	line, err := strconv.Atoi(rest[:end])
	if err != nil {
		return 0, detail
	}
	return line, rest[end:]
}

// shownRanges is how many runs of lines are named.
const shownRanges = 4

// lineWords names lines: "line 2", "lines 2-9, 12 and 3 more".
func lineWords(lines []int) string {
	slices.Sort(lines)
	lines = slices.Compact(lines)
	if len(lines) == 1 {
		return fmt.Sprintf("line %d", lines[0])
	}
	var ranges []string
	named := 0
	for i := 0; i < len(lines) && len(ranges) < shownRanges; {
		last := i
		for last+1 < len(lines) && lines[last+1] == lines[last]+1 {
			last++
		}
		text := strconv.Itoa(lines[i])
		if last > i {
			text += fmt.Sprintf("-%d", lines[last])
		}
		ranges = append(ranges, text)
		i, named = last+1, last+1
	}
	words := "lines " + strings.Join(ranges, ", ")
	if named < len(lines) {
		words += fmt.Sprintf(" and %d more", len(lines)-named)
	}
	return words
}
