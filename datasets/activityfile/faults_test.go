package activityfile

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// totals are what no fault on lengths may change, bar an added stop.
func totals(a *Activity) (seconds float64, strokes int) {
	for _, l := range a.Lengths {
		if !l.Idle {
			seconds += l.DurationSeconds
			strokes += max(0, l.Strokes)
		}
	}
	return seconds, strokes
}

// lapsTile fails unless laps own all lengths in order, each once.
func lapsTile(t *rapid.T, a *Activity) {
	at := 0
	for k, l := range a.Laps {
		if l.FirstLength != at {
			t.Fatalf("lap %d begins at length %d, expected %d", k, l.FirstLength, at)
		}
		at += l.Lengths
	}
	if at != len(a.Lengths) {
		t.Fatalf("laps own %d of %d lengths", at, len(a.Lengths))
	}
}

func TestFaultsKeepTheSums(t *testing.T) {
	s, sw := sample(t)
	rapid.Check(t, func(t *rapid.T) {
		a := FromSession(s, sw, Options{NoRecords: true, Rests: RestStyle(rapid.IntRange(0, 2).Draw(t, "rests"))})
		seconds, strokes := totals(&a)
		for range 6 {
			i := rapid.IntRange(-1, len(a.Lengths)).Draw(t, "length")
			share := rapid.Float64Range(0.1, 0.9).Draw(t, "share")
			n := len(a.Lengths)
			switch rapid.IntRange(0, 3).Draw(t, "fault") {
			case 0:
				if MissedTurn(&a, i) {
					n--
				}
			case 1:
				if FalseTurn(&a, i, share) {
					n++
				}
			case 2:
				EarlyTurn(&a, i, share)
			case 3:
				if StopInside(&a, i, 10) {
					seconds += 10
				}
			}
			if len(a.Lengths) != n {
				t.Fatalf("%d lengths, want %d", len(a.Lengths), n)
			}
			lapsTile(t, &a)
		}
		gotSeconds, gotStrokes := totals(&a)
		if math.Abs(gotSeconds-seconds) > 1e-6 || gotStrokes != strokes {
			t.Fatalf("%v s and %d strokes, were %v and %d", gotSeconds, gotStrokes, seconds, strokes)
		}
	})
}

func TestSetHeartRate(t *testing.T) {
	s, sw := sample(t)
	a := FromSession(s, sw, Options{})
	before := a.Records[50].BPM
	SetHeartRate(&a, 100, 130, 255)
	for _, r := range a.Records {
		if in := r.Seconds >= 100 && r.Seconds < 130; in != (r.BPM == 255) {
			t.Fatalf("%v s: %d bpm", r.Seconds, r.BPM)
		}
	}
	if a.Records[50].BPM != before {
		t.Error("a record outside the span changed")
	}
}

func TestRecordStyles(t *testing.T) {
	s, sw := sample(t)
	a := FromSession(s, sw, Options{RecordPerLength: true, Rests: RestOwnLap})
	active, _ := a.active(0, len(a.Lengths))
	if len(a.Records) != active {
		t.Errorf("%d records for %d lengths", len(a.Records), active)
	}
	if last := a.Records[len(a.Records)-1]; last.DistanceMetres != 25*float64(active) || last.BPM <= 0 {
		t.Errorf("last record %+v", last)
	}
	for _, r := range FromSession(s, sw, Options{Strap: true}).Records {
		if r.BPM != -1 {
			t.Fatal("a strap's records carry heart rate under water")
		}
	}
}
