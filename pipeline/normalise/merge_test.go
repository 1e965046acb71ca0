package normalise

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// threeSwims is a watch's 3 x 100 m in 80, 82 and 84 s with 30 s of rest.
func threeSwims(file string, start time.Time) read.Recording {
	r := activity(file, start)
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

// What a sheet and a watch say differently of one swim is listed, with what is
// used.
func TestMergedDisagreements(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*read.Recording)
		rule   string
		says   string
		check  func(Session) bool
	}{
		{"nothing", func(*read.Recording) {}, "", "", func(s Session) bool { return s.Lengths[4].SwimStroke == "freestyle" && s.Lengths[4].Strokes == 18 }},
		{"the stroke", func(r *read.Recording) { r.Lengths[1].Stroke, r.Lengths[1].Strokes = "breaststroke", 34 }, RuleStrokesDisagree,
			"breaststroke by hand, freestyle by the recorder of file watch: what was written down is used",
			func(s Session) bool {
				return s.Lengths[4].SwimStroke == "breaststroke" && s.Lengths[4].Strokes == 8.5 && s.Lengths[0].SwimStroke == "freestyle"
			}},
		{"the stroke, without a count", func(r *read.Recording) { r.Lengths[1].Stroke, r.Lengths[1].Strokes = "breaststroke", nan }, RuleStrokesDisagree, "breaststroke by hand",
			func(s Session) bool { return s.Lengths[4].Strokes == 9 && s.Lengths[0].Strokes == 18 }},
		{"no stroke at all", func(r *read.Recording) { r.Lengths[1].Stroke = "unknown" }, "", "", func(s Session) bool { return s.Lengths[4].SwimStroke == "freestyle" }},
		{"the seconds", func(r *read.Recording) { r.Lengths[1].DurationS = 84.6 }, RuleSecondsDisagree, "84.6 s written down, 82.0 by file watch: the file's are used",
			func(s Session) bool { return s.Lengths[4].DurationS == 20.5 }},
		{"the count", func(r *read.Recording) { r.Lengths[1].Strokes = 50 }, RuleCountsDisagree, "50 strokes by hand, 72 by the recorder",
			func(s Session) bool {
				return s.Lengths[4].Strokes == 12.5 && s.Lengths[4].StrokesRecorded == 9 && s.Lengths[4].CountFileID == "sheet"
			}},
		{"a reading", func(r *read.Recording) { r.Lengths[1].End = read.Reading{HRBPM: 170, Source: "palpated", DelayS: 8} }, RuleReadingsDisagree,
			"170 bpm written down, 140 by file watch", func(s Session) bool { return s.Lengths[7].End.HRBPM != 170 }},
		{"a reading that agrees", func(r *read.Recording) { r.Lengths[1].End = read.Reading{HRBPM: 146, Source: "palpated", DelayS: 8} }, "", "", func(Session) bool { return true }},
	} {
		watch := threeSwims("watch", morning)
		beats(&watch, 0, 340, 1, 140)
		rows := sheet("sheet", morning, 80.3, 82.1, 83.8)
		c.change(&rows)
		got, entries := sessions(t, nil, rows, watch)
		if len(got) != 1 || len(got[0].Merged) != 3 || !c.check(got[0]) {
			t.Errorf("%s: %d sessions, %+v", c.name, len(got), got[0].Lengths[4])
			continue
		}
		var noted []string
		for _, e := range entries {
			noted = append(noted, e.Rule)
			if e.Rule == c.rule && (!strings.Contains(e.Detail, c.says) || e.FileID != "sheet" || e.Record != 2) {
				t.Errorf("%s: %+v", c.name, e)
			}
		}
		if c.rule == "" && len(noted) > 0 || c.rule != "" && !slices.Equal(noted, []string{c.rule}) {
			t.Errorf("%s: noted %v", c.name, noted)
		}
	}
}

// Of two sheets that tell of one swim the first is used.
func TestTwoSheetsOfOneSwim(t *testing.T) {
	second := sheet("second", morning.Add(time.Minute), 80.1, 82.3, 84.2)
	second.Lengths[0].Strokes = 68
	got, entries := sessions(t, nil, threeSwims("watch", morning), sheet("first", morning, 80.3, 82.1, 83.8), second)
	if len(got) != 1 || len(got[0].Merged) != 3 || got[0].Lengths[0].CountFileID != "first" || count(entries, "second", RuleSecondRecording, read.Excluded) != 3 {
		t.Errorf("%d sessions, %v", len(got), brief(entries))
	}
}

// A written start that lies with one session while the swims are another's.
func TestSheetBesideOneSessionAndLikeAnother(t *testing.T) {
	evening := morning.Add(10 * time.Hour)
	other := activity("evening", evening, repeat(24, 24)...) // one swim of 600 m
	got, entries := sessions(t, nil, threeSwims("watch", morning), other, sheet("sheet", evening.Add(time.Minute), 80.3, 82.1, 83.8))
	if len(got) != 2 || count(entries, "sheet", RuleMatchAmbiguous, read.Excluded) != 3 {
		t.Errorf("%d sessions, %v", len(got), brief(entries))
	}
}

// Two swimmers with the same sets at nearly the same pace, each with a watch,
// in one sheet: a row goes with its name.
func TestNearEqualSwimmers(t *testing.T) {
	header := "swimmer,date,start,set,rep,distance_m,pool,stroke,time,strokes,count,rest\n"
	var text strings.Builder
	for rep, total := range []float64{80, 82, 84} {
		for _, name := range []string{"ada", "bea"} {
			fmt.Fprintf(&text, "%s,2026-03-02,,1,%d,100,25m,freestyle,%.1f,72,arms,30\n", name, rep+1, total+0.2)
		}
	}
	f, _, err := read.Sheet([]byte(header+text.String()), read.SheetSource{FileID: "sheet", Content: "sheet", Input: study.Input{StrokeCount: study.Arms},
		Owner: func(name string) identity.Owner { return identity.Owner{Swimmer: name} }})
	if err != nil || len(f.Recordings) != 2 {
		t.Fatal(err, f)
	}
	for i, name := range []string{"ada", "bea"} {
		watch := threeSwims("watch of "+name, morning)
		watch.Swimmer = name
		got, entries := sessions(t, nil, watch, f.Recordings[i])
		var records []int64
		for _, m := range got[0].Merged {
			records = append(records, m.Record)
		}
		if want := []int64{int64(i) + 1, int64(i) + 3, int64(i) + 5}; len(got) != 1 || !slices.Equal(records, want) {
			t.Errorf("%s: rows %v, want %v: %v", name, records, want, brief(entries))
		}
	}
}

// More swims than anybody swims in a day are not compared.
func TestTooManySwimsToCompare(t *testing.T) {
	watch := activity("watch", morning)
	for i := range 1200 {
		watch.Lengths = append(watch.Lengths, length(int64(i+1), float64(60*i), 25, 9))
	}
	got, entries := sessions(t, nil, watch, sheet("sheet", morning, repeat(600, 80)...))
	if len(got) != 1 || count(entries, "sheet", RuleMatchAmbiguous, read.Excluded) != 600 || !strings.Contains(entries[0].Detail, "more swims than can be compared") {
		t.Errorf("%d sessions, %d entries", len(got), len(entries))
	}
}
