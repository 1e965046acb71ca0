package normalise

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

func TestDuplicates(t *testing.T) {
	base := func(file string) read.Recording {
		r := activity(file, morning, 30, 31, 32, 33)
		r.Device, r.Created = "device", 1000
		return r
	}
	for _, c := range []struct {
		name string
		b    func(r *read.Recording)
		kept []string
	}{
		{"the same bytes", func(r *read.Recording) { r.Content, r.Device, r.Start = "bytes of a", "", morning.Add(time.Hour) }, []string{"a"}},
		{"the same part of one file twice", func(r *read.Recording) { r.FileID, r.Part = "a", 2; r.Content = "bytes of a" }, []string{"a"}},
		{"another part of the same bytes", func(r *read.Recording) {
			*r = activity("b", morning.Add(time.Hour), 40, 41)
			r.Content, r.Part = "bytes of a", 2
		}, []string{"a", "b"}},
		{"recorder and creation time", func(r *read.Recording) { r.Lengths[0].DurationS = 39 }, []string{"a"}},
		{"a cut copy", func(r *read.Recording) { r.Lengths = r.Lengths[:2] }, []string{"a"}},
		{"a recorder that repeats its creation time", func(r *read.Recording) {
			r.Start = morning.Add(48 * time.Hour)
			r.Lengths = r.Lengths[:2]
		}, []string{"a", "b"}},
		{"start within 2 s and equal totals", func(r *read.Recording) {
			r.Device = ""
			r.Start = morning.Add(2 * time.Second)
		}, []string{"a"}},
		{"start 3 s later, so both at once", func(r *read.Recording) {
			r.Device = ""
			r.Start = morning.Add(3 * time.Second)
		}, []string{"a"}}, // second-recording, not duplicate
		{"another day", func(r *read.Recording) {
			r.Device = ""
			r.Start = morning.Add(24 * time.Hour)
		}, []string{"a", "b"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			a, b := base("a"), base("b")
			c.b(&b)
			got, entries := sessions(t, nil, b, a)
			var kept []string
			for _, s := range got {
				kept = append(kept, s.FileID)
			}
			if !slices.Equal(kept, c.kept) {
				t.Fatalf("kept %v, want %v", kept, c.kept)
			}
			if len(kept) == 1 {
				var excluded int64
				for _, e := range entries {
					if e.Action == read.Excluded && strings.Contains(e.Detail, "file a") {
						excluded += e.Records
					}
				}
				if excluded != int64(len(b.Lengths)) {
					t.Errorf("%d records excluded, want %d: %v", excluded, len(b.Lengths), entries)
				}
			}
		})
	}
}

func TestTheFullerCopyIsKept(t *testing.T) {
	whole, cut := activity("whole", morning, 30, 31, 32), activity("cut", morning, 30, 31)
	for _, r := range []*read.Recording{&whole, &cut} {
		r.Device, r.Created = "device", 1000
	}
	cut.Content = "a" // would be first by content
	got, entries := sessions(t, nil, cut, whole)
	if len(got) != 1 || got[0].FileID != "whole" || count(entries, "cut", RuleDuplicate, read.Excluded) != 2 {
		t.Errorf("kept %v; %v", got[0].FileID, brief(entries))
	}
}

func TestDuplicateSheetsWithoutClock(t *testing.T) {
	a, b := sheet("a", time.Time{}, 80, 81, 82, 83), sheet("b", time.Time{}, 80, 81, 82, 83)
	other := sheet("c", time.Time{}, 80, 81, 82, 84)
	short1, short2 := sheet("d", time.Time{}, 90), sheet("e", time.Time{}, 90)
	got, entries := sessions(t, nil, a, b, other, short1, short2)
	if len(got) != 4 || count(entries, "b", RuleDuplicate, read.Excluded) != 4 {
		t.Errorf("%d sessions; %v", len(got), brief(entries))
	}
}

// A sheet that was written on under another name is one session; a copy that was
// changed stays, and is named.
func TestCopiesOfSheets(t *testing.T) {
	none := time.Time{}
	for _, c := range []struct {
		name         string
		a, b         read.Recording
		kept         int
		rule, action string // of the entries of file b
		entries      int64
	}{
		{"written on", sheet("a", none, 80, 81, 82, 83, 84), sheet("b", none, 80, 81, 82, 83), 1, RuleDuplicate, "excluded", 4},
		{"written on, even times", sheet("a", none, 80, 80, 80, 80, 80), sheet("b", none, 80, 80, 80, 80), 2, RuleSameDay, "noted", 0},
		{"written on, even times and the same start", sheet("a", morning, 80, 80, 80, 80, 80), sheet("b", morning, 80, 80, 80, 80), 1, RuleDuplicate, "excluded", 4},
		{"the same rows at another hour", sheet("a", morning, 80, 81, 82, 83, 84), sheet("b", morning.Add(5*time.Hour), 80, 81, 82, 84), 2, RuleSameDay, "noted", 1},
		{"one cell corrected", sheet("a", none, 80, 81, 82, 83), sheet("b", none, 80, 81, 82, 93), 2, RuleSameDay, "noted", 1},
		{"another set", sheet("a", none, 80, 81, 82, 83), sheet("b", none, 85, 86, 87, 83), 2, RuleSameDay, "noted", 0},
		{"another set at the same time", sheet("a", morning, 80, 81, 82, 83), sheet("b", morning.Add(time.Minute), 85, 86, 87, 83), 2, RuleSameDay, "noted", 1},
	} {
		got, entries := sessions(t, nil, c.b, c.a)
		if n := count(entries, "b", c.rule, read.Action(c.action)); len(got) != c.kept || n != c.entries {
			t.Errorf("%s: %d sessions, %d entries; %v", c.name, len(got), n, brief(entries))
		}
	}
}

func TestDuplicateLogs(t *testing.T) {
	logOf := func(file string) read.Recording {
		r := read.Recording{FileID: file, Part: 1, Kind: read.FromHeartRateLog, Swimmer: "ada", Start: morning, Content: file, PoolM: nan}
		beats(&r, 0, 50, 1, 140)
		return r
	}
	_, entries := sessions(t, nil, activity("f", morning, 30, 30), logOf("p"), logOf("q"))
	if n := count(entries, "q", RuleDuplicate, read.Excluded); n != 50 {
		t.Errorf("%d samples of the second log excluded, want 50: %v", n, brief(entries))
	}
}

func TestDuplicateSwitchedOff(t *testing.T) {
	s := study.Default()
	s.Screen.Off = map[string]bool{RuleDuplicate: true, RuleSecondRecording: true}
	got, _, err := Sessions([]read.Recording{activity("a", morning, 30), activity("b", morning, 30)}, nil, s)
	if err != nil || len(got) != 2 {
		t.Errorf("%d sessions, %v", len(got), err)
	}
}

func TestAcrossSwimmers(t *testing.T) {
	in := []Holding{
		{FileID: "1", Part: 1, Content: "x", Swimmer: "ada"},
		{FileID: "2", Part: 1, Content: "x", Swimmer: "bea"},
		{FileID: "3", Part: 1, Content: "x"}, // nobody's: casts no doubt, is refused anyway
		{FileID: "4", Part: 1, Content: "sheet", Swimmer: "ada"},
		{FileID: "4", Part: 2, Content: "sheet", Swimmer: "bea"}, // one sheet, two swimmers
		{FileID: "5", Part: 1, Content: "sheet", Swimmer: "ada"}, // its copy
		{FileID: "5", Part: 2, Content: "sheet", Swimmer: "bea"},
		{FileID: "6", Part: 1, Content: "y", Device: "d", Created: 9, Swimmer: "ada"},
		{FileID: "7", Part: 1, Content: "z", Device: "d", Created: 9, Swimmer: "cyd"}, // exported again
		{FileID: "8", Part: 1, Content: "v", Device: "d", Swimmer: "cyd"},
	}
	var got []string
	for _, h := range AcrossSwimmers(in) {
		got = append(got, h.FileID)
	}
	if want := []string{"1", "2", "6", "7"}; !slices.Equal(got, want) {
		t.Errorf("in doubt: %v, want %v", got, want)
	}
}

func TestSecondRecording(t *testing.T) {
	watch := func() read.Recording { // 3 x 100 m in 80, 82 and 84 s with 30 s of rest
		r := activity("watch", morning)
		at := 0.0
		for rep, total := range []float64{80, 82, 84} {
			for range 4 {
				r.Lengths = append(r.Lengths, length(int64(len(r.Lengths)+1), math0(at), total/4, 9))
				at += total / 4
			}
			r.Rests = append(r.Rests, read.Rest{Record: int64(rep + 1), StartS: math0(at), DurationS: 30})
			at += 30
		}
		return r
	}
	for _, c := range []struct {
		name   string
		sheet  read.Recording
		merged []int  // the length that each merged row begins at
		rule   string // of the other rows
		action read.Action
		kept   int
	}{
		{"the clocks overlap, the swims do not match", sheet("sheet", morning.Add(time.Minute), 95, 95, 95), nil, RuleSecondRecording, read.Excluded, 1},
		{"the clocks overlap", sheet("sheet", morning.Add(time.Minute), 80.6, 81.5, 84.9), []int{0, 4, 8}, "", "", 1},
		{"the same swims on that day", sheet("sheet", time.Time{}, 80.6, 81.5, 84.9), []int{0, 4, 8}, "", "", 1},
		{"one swim is not like any", sheet("sheet", morning, 80.6, 60, 81.5, 84.9), []int{0, 4, 8}, RuleSecondRecording, read.Excluded, 1},
		{"a part of the swims, which fits twice", sheet("sheet", time.Time{}, 81, 83), nil, RuleMatchAmbiguous, read.Excluded, 1},
		{"other swims on that day", sheet("sheet", time.Time{}, 90, 91, 92), nil, "", "", 2},
		{"the swims in another order", sheet("sheet", time.Time{}, 84, 80), nil, "", "", 2},
		{"the same swims, clocks apart", sheet("sheet", morning.Add(10*time.Hour), 80, 82, 84), nil, RuleSameDay, read.Noted, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, entries := sessions(t, nil, c.sheet, watch())
			if len(got) != c.kept || got[0].FileID != "watch" {
				t.Fatalf("%d sessions: %v", len(got), brief(entries))
			}
			var merged []int
			for _, m := range got[0].Merged {
				merged = append(merged, m.Length)
			}
			if !slices.Equal(merged, c.merged) {
				t.Errorf("merged at %v, want %v: %v", merged, c.merged, brief(entries))
			}
			want := int64(len(c.sheet.Lengths) - len(c.merged))
			if c.action == read.Noted {
				want = 1
			}
			if n := count(entries, "sheet", c.rule, c.action); c.rule != "" && n != want {
				t.Errorf("%d rows under %s, want %d: %v", n, c.rule, want, brief(entries))
			}
		})
	}
}

func TestMergedSwim(t *testing.T) {
	watch := activity("watch", morning, 20, 20, 20, 20) // 4 x 10 cycles
	rows := sheet("sheet", morning, 80)                 // 72 arm strokes for 100 m
	rows.Lengths[0].Tags.Instruction = "fewest-strokes"
	rows.Lengths[0].Tags.LactateMMOL = 3.1
	rows.Lengths[0].End = read.Reading{HRBPM: 151, Source: "palpated", DelayS: 8}
	got, entries := sessions(t, nil, watch, rows)
	if len(got) != 1 || len(got[0].Merged) != 1 {
		t.Fatalf("%d sessions, entries %v", len(got), brief(entries))
	}
	for i, l := range got[0].Lengths {
		if l.Strokes != 18 || l.StrokesRecorded != 10 || l.Basis != study.Arms || l.RecorderBasis != study.Cycles || l.CountFileID != "sheet" || l.FileID != "watch" {
			t.Errorf("length %d: %v strokes (recorded %v), basis %s, counted in %q", i, l.Strokes, l.StrokesRecorded, l.Basis, l.CountFileID)
		}
		if l.Tags.Instruction != "fewest-strokes" || l.Tags.LactateMMOL != 3.1 || l.DurationS != 20 {
			t.Errorf("length %d: tags %+v, %v s", i, l.Tags, l.DurationS)
		}
	}
	if end := got[0].Lengths[3].End; end.HRBPM != 151 {
		t.Errorf("without heart rate of its own the watch takes the sheet's reading, not %v", end.HRBPM)
	}
	if len(entries) != 0 {
		t.Errorf("72 by hand and 80 by the watch need no note: %v", brief(entries))
	}

	beats(&watch, 0, 80, 1, 140)
	rows.Lengths[0].Strokes = 50
	got, entries = sessions(t, nil, watch, rows)
	if end := got[0].Lengths[3].End; !math.IsNaN(end.HRBPM) {
		t.Errorf("the watch's own heart rate wins, not the reading %v", end.HRBPM)
	}
	if n := count(entries, "sheet", RuleCountsDisagree, read.Noted); n != 1 {
		t.Errorf("50 by hand and 80 by the watch: %v", brief(entries))
	}
}

// Two sessions of one day with like swims and a sheet without a start: nothing
// is guessed.
func TestASheetThatFitsTwoSessions(t *testing.T) {
	early, late := activity("early", morning, 20, 20, 20, 20), activity("late", morning.Add(8*time.Hour), 20, 20, 20, 20)
	got, entries := sessions(t, nil, early, late, sheet("sheet", time.Time{}, 80))
	if n := count(entries, "sheet", RuleMatchAmbiguous, read.Excluded); n != 1 || len(got) != 2 || len(got[0].Merged)+len(got[1].Merged) != 0 {
		t.Errorf("%d sessions, %v", len(got), brief(entries))
	}
}

func math0(x float64) float64 { return float64(int(x)) }
