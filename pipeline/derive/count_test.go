package derive

import (
	"testing"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
)

func TestHowABoutWasCounted(t *testing.T) {
	length := func(change func(*screen.Length)) screen.Length {
		l := screen.Length{Length: normalise.Length{SwimStroke: "freestyle", Strokes: 16, StrokesRecorded: 16, Basis: study.Arms}}
		if change != nil {
			change(&l)
		}
		return l
	}
	hand := func(strokes, recorded float64) screen.Length {
		return length(func(l *screen.Length) { l.Strokes, l.StrokesRecorded, l.CountFileID = strokes, recorded, "sheet" })
	}
	cases := []struct {
		name    string
		kind    read.RecordingKind
		lengths []screen.Length
		want    Count
	}{
		{"a watch that counts cycles", read.FromActivity, []screen.Length{
			length(func(l *screen.Length) { l.Basis, l.StrokesRecorded, l.Record = study.Cycles, 8, 1 }),
			length(func(l *screen.Length) { l.Basis, l.StrokesRecorded, l.Record = study.Cycles, 8, 2 }),
		}, Count{By: ByRecorder, Strokes: 32, Wholes: 2, Unit: 2, Recorder: nan}},
		{"a sheet's row for two lengths", read.FromSheet, []screen.Length{
			length(func(l *screen.Length) { l.Record, l.Strokes = 3, 15.5 }), length(func(l *screen.Length) { l.Record, l.Strokes = 3, 15.5 }),
		}, Count{By: ByHand, Strokes: 31, Wholes: 1, Unit: 1, Recorder: nan}},
		{"a sheet's rows for two lengths", read.FromSheet, []screen.Length{
			length(func(l *screen.Length) { l.Record = 3 }), length(func(l *screen.Length) { l.Record = 4 }),
		}, Count{By: ByHand, Strokes: 32, Wholes: 2, Unit: 1, Recorder: nan}},
		{"a hand count of each length beside a watch", read.FromActivity, []screen.Length{hand(16, 8), hand(17, 7)},
			Count{By: ByHand, Strokes: 33, Wholes: 2, Unit: 1, Beside: true, Recorder: 15}},
		{"one hand count of the swim beside a watch", read.FromActivity, []screen.Length{hand(16.5, 8), hand(16.5, 8)},
			Count{By: ByHand, Strokes: 33, Wholes: 1, Unit: 1, Beside: true, Recorder: 16}},
		{"a repaired length", read.FromActivity, []screen.Length{hand(16, 8),
			length(func(l *screen.Length) { l.CountFileID, l.Rule = "sheet", "missed-turn" })},
			Count{By: ByHand, Strokes: 32, Wholes: 2, Unit: 1, Beside: true, Recorder: nan}},
		{"half and half", read.FromActivity, []screen.Length{hand(16, 8), length(nil)},
			Count{By: ByBoth, Strokes: 32, Wholes: 2, Unit: 1, Recorder: nan}},
	}
	for _, c := range cases {
		got := countOf(c.kind, c.lengths)
		if got.Recorder != c.want.Recorder && !(got.Recorder != got.Recorder && c.want.Recorder != c.want.Recorder) {
			t.Errorf("%s: the recorder counted %v, want %v", c.name, got.Recorder, c.want.Recorder)
		}
		got.Recorder, c.want.Recorder = 0, 0
		if got != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
}
