package normalise

import (
	"cmp"
	"slices"

	"lengthwise/pipeline/read"
)

// whole excludes every record of a recording under one rule.
func whole(r *read.Recording, rule, detail string) []read.Entry {
	entry := read.Entry{FileID: r.FileID, Records: 1, Swimmer: r.Swimmer,
		Rule: rule, Action: read.Excluded, Detail: detail}
	entries := make([]read.Entry, 0, len(r.Lengths)+len(r.Rests)+1)
	for i := range r.Lengths {
		entry.Kind, entry.Record = r.Lengths[i].Kind, r.Lengths[i].Record
		entries = append(entries, entry)
	}
	for i := range r.Rests {
		entry.Kind, entry.Record = read.KindRest, r.Rests[i].Record
		entries = append(entries, entry)
	}
	records := make([]int64, len(r.Samples))
	for i := range r.Samples {
		records[i] = r.Samples[i].Record
	}
	entry.Kind = read.KindHeartRate
	return append(entries, Runs(entry, records)...)
}

// Runs repeats an entry for records, one entry for each run of consecutive
// numbers. It may reorder records.
func Runs(entry read.Entry, records []int64) []read.Entry {
	if !slices.IsSorted(records) {
		slices.Sort(records)
	}
	var entries []read.Entry
	for from := 0; from < len(records); {
		to := from + 1
		for to < len(records) && records[to] == records[to-1]+1 {
			to++
		}
		entry.Record, entry.Records = records[from], int64(to-from)
		entries = append(entries, entry)
		from = to
	}
	return entries
}

// SortEntries puts entries in the order of the ledger: by file, kind, record
// and rule.
func SortEntries(entries []read.Entry) {
	slices.SortStableFunc(entries, func(a, b read.Entry) int {
		return cmp.Or(
			cmp.Compare(a.FileID, b.FileID),
			cmp.Compare(a.Kind, b.Kind),
			cmp.Compare(a.Record, b.Record),
			cmp.Compare(a.Rule, b.Rule),
			cmp.Compare(a.Session, b.Session),
			cmp.Compare(a.Detail, b.Detail),
		)
	})
}
