package screen

import (
	"testing"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
)

func TestMergedRowsFollowTheirSwim(t *testing.T) {
	lengths := func(swim int, drill bool) []normalise.Length {
		var out []normalise.Length
		for range 4 {
			out = append(out, normalise.Length{FileID: "watch", Record: int64(swim), Kind: read.KindLength, Swim: swim, Covers: 1, Share: 1,
				DurationS: 20, PoolM: 25, Strokes: 16, Drill: drill})
		}
		return out
	}
	n := normalise.Session{ID: "a-1", Lengths: append(lengths(1, false), lengths(2, true)...),
		Merged: []normalise.MergedRecord{{FileID: "sheet", Record: 1, Kind: read.KindRepeat}, {FileID: "sheet", Record: 2, Kind: read.KindRepeat, Length: 4}}}
	for i := range n.Lengths {
		n.Lengths[i].Record = int64(i + 1)
	}
	s, entries := Apply(n, settings())
	var a Account
	a.Read("watch", read.Counts{Lengths: 8})
	a.Read("sheet", read.Counts{Repeats: 2})
	a.Used(&s)
	a.Entries(entries)
	if err := a.Check(); err != nil {
		t.Error(err)
	}
	last := s.Lineage[len(s.Lineage)-1]
	if last.FileID != "sheet" || last.Relation != Merged || last.Ordinal != 1 || last.Record != 1 {
		t.Errorf("link %+v", last)
	}
	found := 0
	for _, e := range entries {
		if e.FileID == "sheet" && e.Rule == RuleMergedAway && e.Record == 2 && e.Action == read.Excluded {
			found++
		}
	}
	if found != 1 {
		t.Errorf("entries %+v", entries)
	}
}
