package read

import (
	"math"
	"slices"
	"testing"
)

// A repeat that took as long as the lengths beside it is a repeat, unless it
// can be the row that sums them up.
func TestSheetTotalsOfTheirOwnLengths(t *testing.T) {
	const header = "swimmer,date,set,rep,length,distance_m,pool,time,strokes\n"
	const (
		whole  = "50,25m,40.7,38\n"
		first  = "25m,20.1,19\n"
		second = "25m,20.4,19\n"
	)
	row := func(set, rep, rest string) string { return "Ana Lima,2026-03-02," + set + "," + rep + "," + rest }
	length := func(set, rep string) string {
		return row(set, rep, "1,,"+first) + row(set, rep, "2,,"+second)
	}
	repeat := func(set, rep string) string { return row(set, rep, ","+whole) }
	for _, c := range []struct {
		name, rows string
		totals     []int64 // records
	}{
		{"the next repeat", length("", "1") + repeat("", "2"), nil},
		{"the repeat before", repeat("", "1") + length("", "2"), nil},
		{"the same repeat of another set", length("1", "1") + repeat("2", "1"), nil},
		{"the same repeat", length("1", "1") + repeat("1", "1"), []int64{3}},
		{"no repeat stated", length("", "1") + repeat("", ""), []int64{3}},
		{"no repeat stated on its lengths", repeat("", "1") + length("", ""), []int64{1}},
		{"first length alone states the repeat", row("", "1", "1,,"+first) + row("", "", "2,,"+second) + repeat("", "2"), nil},
		{"totals first, then a repeat", repeat("", "1") + length("", "") + repeat("", "2"), []int64{1}},
		{"its total, then a repeat", length("", "1") + repeat("", "1") + repeat("", ""), []int64{3}},
		{"a repeat after totals that state it", repeat("", "1") + length("", "1") + repeat("", ""), []int64{1}},
		{"totals before, nothing stated", repeat("", "") + length("", "") + repeat("", "") + length("", ""), []int64{1, 4}},
		{"totals after, nothing stated", length("", "") + repeat("", "") + length("", "") + repeat("", ""), []int64{3, 6}},
	} {
		src := sheetSource(t)
		src.Input.Columns = nil
		f, _, err := Sheet([]byte(header+c.rows), src)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		sheetBalance(t, f, int(f.Counts.Lengths+f.Counts.Repeats))
		var totals []int64
		for _, e := range f.Entries {
			if e.Rule == RuleTotalsRow {
				totals = append(totals, e.Record)
			}
		}
		if !slices.Equal(totals, c.totals) {
			t.Errorf("%s: totals %v, want %v", c.name, totals, c.totals)
		}
	}
}

// A row called a total in the column of lengths says which cells go with it, and
// what it says to do instead works.
func TestSheetTotalsSayWhatGoesWithThem(t *testing.T) {
	const header = "swimmer,date,rep,length,distance_m,pool,time,strokes,hr\n"
	const lengths = "Ana Lima,2026-03-02,1,1,,25m,20,20,\nAna Lima,2026-03-02,1,2,,25m,21,21,\n"
	for _, c := range []struct {
		name, row, detail string
		hr                float64
	}{
		{"total with a heart rate", "Ana Lima,2026-03-02,1,Total,,25m,41,41,150\n",
			"line 4: a sum or mean of other rows; not used from it: hr; what belongs to the whole repeat is used when, " +
				"in place of the word, the length is left blank and distance_m gives the repeat's metres", math.NaN()},
		{"total without", "Ana Lima,2026-03-02,1,Total,,25m,41,41,\n", "line 4: a sum or mean of other rows", math.NaN()},
		{"as the first is told", "Ana Lima,2026-03-02,1,,50,25m,41,41,150\n",
			"line 4: the lengths of this repeat have rows of their own; hr of this row stand for them", 150},
	} {
		src := sheetSource(t)
		src.Input.Columns = nil
		f, _, err := Sheet([]byte(header+lengths+c.row), src)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		sheetBalance(t, f, 3)
		if len(f.Entries) != 1 || f.Entries[0].Rule != RuleTotalsRow || f.Entries[0].Detail != c.detail {
			t.Errorf("%s: %+v", c.name, f.Entries)
		}
		if hr := f.Recordings[0].Lengths[1].End.HRBPM; hr != c.hr && !(math.IsNaN(hr) && math.IsNaN(c.hr)) {
			t.Errorf("%s: heart rate %g at the end, want %g", c.name, hr, c.hr)
		}
	}
}
