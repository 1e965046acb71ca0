package screen

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"lengthwise/pipeline/read"
)

// Account holds what became of every record, file by file: read, used,
// excluded. It grows with the number of runs of records, not with the number
// of heart-rate samples. The zero value is empty and ready. It is not safe for
// use by several goroutines at once.
type Account struct {
	files map[string]*fileAccount
}

// counted are the kinds of record that the account is kept of.
var counted = [...]read.RecordKind{read.KindLength, read.KindRest, read.KindRepeat, read.KindHeartRate}

type fileAccount struct {
	known    bool
	counts   read.Counts
	used     [len(counted)][]span // but for what is in shared and once
	excluded [len(counted)][]span
	uses     map[use]int                       // how often a record is linked by a relation that links some a set number of times
	shared   [len(counted)][]span              // the records linked by shares, as often as may be
	once     [len(counted)]map[Relation][]span // the records linked by each other relation; they are the most by far
}

// span is the records from <= record < to.
type span struct{ from, to int64 }

type use struct {
	kind     int
	record   int64
	relation Relation
}

func kindIndex(k read.RecordKind) int { return slices.Index(counted[:], k) }

func (a *Account) file(id string) *fileAccount {
	if a.files == nil {
		a.files = make(map[string]*fileAccount)
	}
	f := a.files[id]
	if f == nil {
		f = &fileAccount{uses: make(map[use]int)}
		a.files[id] = f
	}
	return f
}

// Read enters how many records a file held.
func (a *Account) Read(fileID string, c read.Counts) {
	f := a.file(fileID)
	f.known, f.counts = true, c
}

// Used enters the records that a screened session uses.
func (a *Account) Used(s *Session) {
	for _, l := range s.Lineage {
		k := kindIndex(l.Kind)
		if k < 0 {
			continue
		}
		f := a.file(l.FileID)
		if l.Relation == Share {
			f.shared[k] = sharing(f.shared[k], l.Record)
			continue
		}
		if !l.Relation.links() {
			if f.once[k] == nil {
				f.once[k] = make(map[Relation][]span)
			}
			f.once[k][l.Relation] = extend(f.once[k][l.Relation], l.Record, 1)
			continue
		}
		u := use{k, l.Record, l.Relation}
		f.uses[u]++
		if f.uses[u] == 1 {
			f.used[k] = extend(f.used[k], l.Record, 1)
		}
	}
	heart := kindIndex(read.KindHeartRate)
	var f *fileAccount
	var id string
	for i := range s.KeptSamples {
		sample := &s.KeptSamples[i]
		if f == nil || id != sample.FileID {
			id = sample.FileID
			f = a.file(id)
		}
		f.used[heart] = extend(f.used[heart], sample.Record, 1)
	}
}

// links reports whether the relation links one record to a set number of
// lengths.
func (r Relation) links() bool { return r == Split || r == Evened }

// sharing adds a record to spans, but for the one added last, which a repeat's
// shares name one after the other.
func sharing(spans []span, record int64) []span {
	if n := len(spans); n > 0 && spans[n-1].to == record+1 {
		return spans
	}
	return extend(spans, record, 1)
}

// usedOf are the records of a kind that are used, those that one relation links
// twice only once, and the latter apart.
func (f *fileAccount) usedOf(k int) (used, twice []span) {
	shared, _ := merge(f.shared[k])
	used = slices.Concat(f.used[k], shared)
	for _, spans := range f.once[k] {
		union, again := merge(spans)
		used, twice = append(used, union...), append(twice, again...)
	}
	return used, twice
}

// Entries enters the records that the ledger excludes.
func (a *Account) Entries(entries []read.Entry) {
	for _, e := range entries {
		if k := kindIndex(e.Kind); k >= 0 && e.Action == read.Excluded && e.Record > 0 {
			f := a.file(e.FileID)
			f.excluded[k] = extend(f.excluded[k], e.Record, max(1, e.Records))
		}
	}
}

// extend adds records to spans, to the last one when they follow it.
func extend(spans []span, record, records int64) []span {
	if n := len(spans); n > 0 && spans[n-1].to == record {
		spans[n-1].to += records
		return spans
	}
	return append(spans, span{record, record + records})
}

// Imbalance says which records of one file and kind break the account.
type Imbalance struct {
	FileID  string
	Kind    read.RecordKind
	Problem string
	Records []int64 // the first few
	Total   int64   // how many there are
}

// Error names file, kind and records.
func (e *Imbalance) Error() string {
	shown := make([]string, len(e.Records))
	for i, r := range e.Records {
		shown[i] = fmt.Sprint(r)
	}
	more := ""
	if e.Total > int64(len(e.Records)) {
		more = fmt.Sprintf(" ... (%d in all)", e.Total)
	}
	return fmt.Sprintf("file %s: %s records %s: %s%s", e.FileID, e.Kind, e.Problem, strings.Join(shown, ", "), more)
}

// ErrUnbalanced is what every error of Check wraps.
var ErrUnbalanced = errors.New("the account of records does not balance (this is an error of the program, not of the data: please report it)")

const (
	shownRecords = 5
	shownFaults  = 20
)

// Check tells whether, for each file and kind, every record that was read is
// either used or excluded, none both or neither, and none used twice but by a
// split (two or three lengths), an even sharing (two) or a repeat (its shares). A record that two rules
// exclude counts once. The error wraps ErrUnbalanced and one Imbalance for
// each fault, the first 20 by file.
func (a *Account) Check() error {
	var faults []error
	for _, id := range slices.Sorted(maps.Keys(a.files)) {
		f := a.files[id]
		if !f.known {
			faults = append(faults, fmt.Errorf("file %s: records are accounted for, but the file was never read", id))
			continue
		}
		for _, fault := range f.check() {
			fault.FileID = id
			faults = append(faults, fault)
		}
	}
	if len(faults) == 0 {
		return nil
	}
	if n := len(faults); n > shownFaults {
		faults = append(faults[:shownFaults:shownFaults], fmt.Errorf("%d more faults", n-shownFaults))
	}
	return fmt.Errorf("%w:\n%w", ErrUnbalanced, errors.Join(faults...))
}

// numbered lists the kinds that share one row of record numbers: a sheet's rows
// are counted from its first, whether they hold a length or a repeat.
var numbered = [...][]read.RecordKind{{read.KindLength, read.KindRepeat}, {read.KindRest}, {read.KindHeartRate}}

// check gives the faults of one file.
func (f *fileAccount) check() []*Imbalance {
	totals := [...]int64{f.counts.Lengths, f.counts.Rests, f.counts.Repeats, f.counts.HeartRate}
	var faults []*Imbalance
	for _, kinds := range numbered {
		faults = append(faults, f.checkTogether(kinds, totals)...)
	}
	return faults
}

// checkTogether checks the kinds that are numbered together.
func (f *fileAccount) checkTogether(kinds []read.RecordKind, totals [len(counted)]int64) []*Imbalance {
	var faults []*Imbalance
	var used, excluded []span
	var total int64
	shown := kinds[0]
	for _, kind := range kinds {
		k := kindIndex(kind)
		if totals[k] > 0 {
			shown = kind
		}
		total += totals[k]
		own, _ := f.usedOf(k)
		used, excluded = append(used, own...), append(excluded, f.excluded[k]...)
	}
	add := func(kind read.RecordKind, problem string, spans []span) {
		if len(spans) > 0 {
			fault := imbalance(problem, spans)
			fault.Kind = kind
			faults = append(faults, fault)
		}
	}
	used, twice := merge(used)
	excluded, _ = merge(excluded)
	var everything []span
	if total > 0 {
		everything = []span{{1, total + 1}}
	}
	all, _ := merge(slices.Concat(used, excluded))
	add(shown, "neither used nor excluded", minus(everything, all))
	add(shown, "used or excluded, but never read", minus(all, everything))
	add(shown, "both used and excluded", common(used, excluded))
	add(shown, "used more than once", twice)
	for _, kind := range kinds {
		k := kindIndex(kind)
		add(kind, "used a wrong number of times", wrongUses(f, k))
		linked, _ := f.usedOf(k)
		if own, _ := merge(slices.Concat(linked, f.excluded[k])); len(faults) == 0 && size(own) != totals[k] {
			add(kind, fmt.Sprintf("%d accounted for, %d read; the others are under another kind", size(own), totals[k]), own)
		}
	}
	return faults
}

// wrongUses finds records linked a number of times that their relation does
// not allow: a split two or three times, one evened out twice, a share any
// number of times, all others once.
func wrongUses(f *fileAccount, k int) []span {
	_, wrong := f.usedOf(k)
	for u, n := range f.uses {
		low, high := 1, 1
		switch u.relation {
		case Split:
			low, high = 2, mostPieces
		case Evened:
			low, high = 2, 2
		}
		if u.kind == k && (n < low || n > high) {
			wrong = append(wrong, span{u.record, u.record + 1})
		}
	}
	wrong, _ = merge(wrong)
	return wrong
}

func imbalance(problem string, spans []span) *Imbalance {
	b := &Imbalance{Problem: problem}
	for _, s := range spans {
		b.Total += s.to - s.from
		for r := s.from; r < s.to && len(b.Records) < shownRecords; r++ {
			b.Records = append(b.Records, r)
		}
	}
	return b
}

// merge gives the union of spans in order, and what lies in more than one.
func merge(spans []span) (union, twice []span) {
	byFrom := slices.Clone(spans)
	slices.SortFunc(byFrom, func(a, b span) int { return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to)) })
	for _, s := range byFrom {
		n := len(union)
		if n == 0 || s.from > union[n-1].to {
			union = append(union, s)
			continue
		}
		last := &union[n-1]
		if over := (span{s.from, min(s.to, last.to)}); over.from < over.to {
			twice = append(twice, over)
		}
		last.to = max(last.to, s.to)
	}
	if len(twice) > 0 {
		twice, _ = merge(twice)
	}
	return union, twice
}

// minus is what lies in a but not in b; both are in order without overlaps.
func minus(a, b []span) []span {
	var left []span
	k := 0
	for _, s := range a {
		for k < len(b) && b[k].to <= s.from {
			k++
		}
		at := s.from
		for j := k; j < len(b) && b[j].from < s.to; j++ {
			if b[j].from > at {
				left = append(left, span{at, b[j].from})
			}
			at = max(at, b[j].to)
		}
		if at < s.to {
			left = append(left, span{at, s.to})
		}
	}
	return left
}

// common is what lies in both; both are in order without overlaps.
func common(a, b []span) []span {
	var both []span
	for i, k := 0, 0; i < len(a) && k < len(b); {
		s := span{max(a[i].from, b[k].from), min(a[i].to, b[k].to)}
		if s.from < s.to {
			both = append(both, s)
		}
		if a[i].to < b[k].to {
			i++
		} else {
			k++
		}
	}
	return both
}

// Reconcile checks the account of a whole run: the records that each file
// held, the sessions that use them and the ledger of every stage. See
// Account.Check.
func Reconcile(counts map[string]read.Counts, sessions []Session, entries []read.Entry) error {
	var a Account
	for id, c := range counts {
		a.Read(id, c)
	}
	for i := range sessions {
		a.Used(&sessions[i])
	}
	a.Entries(entries)
	return a.Check()
}
