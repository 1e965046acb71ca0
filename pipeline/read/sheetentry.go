package read

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"lengthwise/pipeline/identity"
)

// sheetLedger gathers the entries and counts of a sheet's rows.
type sheetLedger struct {
	file    File // without entries
	entries []sheetEntry
	latest  map[sheetRun]int // of a run, by its place in entries
}

// sheetEntry is an entry that may be about a run of records.
type sheetEntry struct {
	Entry
	run bool
}

// sheetRun is what the records of a run have in common, when each follows the one before.
type sheetRun struct {
	rule, says string
	kind       RecordKind
	swimmer    string
}

func runOf(e *Entry) sheetRun {
	_, says, _ := strings.Cut(e.Detail, ": ")
	return sheetRun{e.Rule, says, e.Kind, e.Swimmer}
}

// lengthen adds an entry's records to a run of entries that ends before them.
func lengthen(entries []sheetEntry, latest map[sheetRun]int, e *Entry) bool {
	i, ok := latest[runOf(e)]
	if !ok || entries[i].Record+entries[i].Records != e.Record {
		return false
	}
	entries[i].Records += e.Records
	return true
}

// exclude writes the entry of a row that is not used.
func (s *sheetLedger) exclude(r sheetRow, rule, column, format string, args ...any) {
	s.enter(r, rule, Excluded, csvDetail(r.row, column, format, args...))
}

// note writes an entry of a row that is used.
func (s *sheetLedger) note(r sheetRow, rule, column, format string, args ...any) {
	s.enter(r, rule, Noted, csvDetail(r.row, column, format, args...))
}

// noteRun writes a note, or lengthens the one that says the same of the record before.
func (s *sheetLedger) noteRun(r sheetRow, rule, format string, args ...any) {
	e := sheetEntry{s.entry(r, rule, Noted, csvDetail(r.row, "", format, args...)), true}
	if lengthen(s.entries, s.latest, &e.Entry) {
		return
	}
	if s.latest == nil {
		s.latest = map[sheetRun]int{}
	}
	s.latest[runOf(&e.Entry)] = len(s.entries)
	s.entries = append(s.entries, e)
}

func (s *sheetLedger) enter(r sheetRow, rule string, action Action, detail string) {
	s.entries = append(s.entries, sheetEntry{s.entry(r, rule, action, detail), false})
}

func (s *sheetLedger) entry(r sheetRow, rule string, action Action, detail string) Entry {
	return Entry{FileID: s.file.ID, Record: r.record, Records: 1, Kind: r.kind, Swimmer: r.owner.Swimmer, Rule: rule, Action: action, Detail: detail}
}

// inOrder joins entries in the order of their records; of one record in that in which
// they were written. Runs that follow each other become one, and a note that a sheet
// needs but once is kept where it stands first.
func inOrder(all ...[]sheetEntry) []Entry {
	entries := slices.Concat(all...)
	slices.SortStableFunc(entries, func(a, b sheetEntry) int { return cmp.Compare(a.Record, b.Record) })
	kept, latest, once := entries[:0], map[sheetRun]int{}, false
	for _, e := range entries {
		switch {
		case e.Rule == RuleDistance:
			if once {
				continue
			}
			once = true
		case e.run:
			if lengthen(kept, latest, &e.Entry) {
				continue
			}
			latest[runOf(&e.Entry)] = len(kept)
		}
		kept = append(kept, e)
	}
	out := make([]Entry, len(kept))
	for i := range kept {
		out[i] = kept[i].Entry
	}
	return out
}

// sheetNames answers for the names of one file and remembers them, in the order in
// which they were first seen.
type sheetNames struct {
	src    SheetSource
	number map[string]int
	all    []namedOwner
	seen   []identity.Seen
}

// namedOwner is who a cell of a name stands for.
type namedOwner struct {
	name  string // "" where none is written: the file's owner
	owner identity.Owner
}

func newSheetNames(src SheetSource) *sheetNames {
	return &sheetNames{src: src, number: map[string]int{}}
}

// of answers for a cell by the number in all; an empty one is the file's owner.
func (n *sheetNames) of(name string) int {
	i, known := n.number[name]
	if known {
		return i
	}
	name = strings.Clone(name) // it is a piece of the sheet's text
	var owner identity.Owner
	switch {
	case name == "":
		owner = n.src.FileOwner
		if owner.Swimmer == "" && owner.Refused == "" {
			owner.Refused = identity.NoSwimmer
		}
	case n.src.Owner == nil:
		owner.Refused = identity.NoSwimmer
	default:
		owner = n.src.Owner(name)
	}
	if name != "" {
		n.seen = append(n.seen, identity.Seen{Swimmer: owner.Swimmer, Name: name})
	}
	i = len(n.all)
	n.number[name] = i
	n.all = append(n.all, namedOwner{name, owner})
	return i
}

// owner answers for a cell.
func (n *sheetNames) owner(name string) identity.Owner { return n.all[n.of(name)].owner }

// sheetOwnerKey keeps swimmers apart, those whom nobody knows by their names.
func sheetOwnerKey(owner identity.Owner, name string) string {
	if owner.Swimmer != "" {
		return "s\x00" + owner.Swimmer
	}
	return "n\x00" + identity.Fold(name)
}

// noteFile writes an entry about the file as a whole.
func (s *sheetLedger) noteFile(rule, format string, args ...any) {
	s.entries = append(s.entries, sheetEntry{Entry{FileID: s.file.ID, Records: 1, Kind: KindFile, Rule: rule,
		Action: Noted, Detail: fmt.Sprintf(format, args...)}, false})
}
