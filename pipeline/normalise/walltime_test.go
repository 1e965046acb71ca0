package normalise

import (
	"fmt"
	"math"
	"testing"
	"time"

	"lengthwise/datasets/activityfile"
	"lengthwise/datasets/faults"
	"lengthwise/datasets/squad"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// faultsRecording is a simulated session of a watch as a reader hands it on.
func faultsRecording(s *faults.Session) read.Recording {
	r := read.Recording{FileID: "f", Part: 1, Kind: read.FromActivity, Swimmer: "ada", PoolM: s.PoolM, HRSource: "optical",
		Basis: study.Cycles, Zone: time.UTC, Start: morning}
	lap := -1
	for i, l := range s.Lengths {
		if i == 0 || l.Lap != s.Lengths[i-1].Lap {
			lap++
			r.Laps = append(r.Laps, read.Lap{StartS: l.StartS})
			if l.RestBeforeS > 0 && i > 0 && s.Seed%2 == 0 {
				r.Rests = append(r.Rests, read.Rest{Record: int64(len(r.Rests) + 1), StartS: l.StartS - l.RestBeforeS, DurationS: l.RestBeforeS})
			}
		}
		r.Laps[lap].DurationS += l.Truth.DurationS
		r.Laps[lap].PoolLengths++
		row := length(int64(i+1), l.StartS, l.DurationS, l.Strokes)
		row.Lap, row.Stroke, row.Drill = lap, l.Stroke, l.Drill
		r.Lengths = append(r.Lengths, row)
	}
	return r
}

// wallTally counts sessions of recorders that leave out wall time and of those
// that do not.
type wallTally struct {
	with, found, without, wrong int
	errors                      []float64
}

func (w *wallTally) add(out float64, got Session, told bool) {
	if out == 0 {
		w.without++
		if told {
			w.wrong++
		}
		return
	}
	w.with++
	if told {
		w.found++
		w.errors = append(w.errors, math.Abs(got.WallTimeS-out))
	}
}

// Recorders that leave out 1 to 1.8 s at each wall are found in simulated
// sessions of about 70 lengths, clean or with faults, whether they take the time
// out of the length before the turn or the one after it, and no others are. The
// first simulator takes it out of the length after the turn.
func TestWallTimeFound(t *testing.T) {
	for _, c := range []struct {
		kind faults.Kind
		size float64
	}{{faults.Clean, 0}, {faults.MissedTurn, 2}, {faults.FalseTurn, 0.5}, {faults.EarlyTurn, 0.27}, {faults.StopInside, 20}, {faults.Drill, 0}} {
		var w wallTally
		for seed := range uint64(400) {
			if s := faults.Simulate(seed, c.kind, c.size, 3); !s.CountsArms {
				got, entries := sessions(t, nil, faultsRecording(&s))
				w.add(s.WallTimeOutS, got[0], count(entries, "f", RuleWallTime, read.Noted) > 0)
			}
		}
		t.Logf("%q: found in %d of %d, wrongly in %d of %d; median error %.3f s", c.kind, w.found, w.with, w.wrong, w.without, median(w.errors))
		if w.with < 60 || w.without < 200 || w.found < w.with-2 || w.wrong > 0 || median(w.errors) > 0.06 {
			t.Errorf("%q: %+v", c.kind, w)
		}
	}
}

// Files of the simulated recorder, which takes the time out of the length before
// the turn: sessions of 2 and 10 repeats of 100 m in pools of 25, 50 and other
// metres, alone and with others of the same recorder; and starts that drift by
// 4 s in each lap, which is all that starts show of 1.3 s at each wall.
func TestWallTimeOfFiles(t *testing.T) {
	sc := squad.Demo(3)
	sc.Swimmers, sc.SessionsPerSwimmer, sc.LengthDetail = 1, 12, true
	sc.Distances, sc.SetDistances = []float64{100}, []float64{100}
	for _, c := range []struct {
		bouts      int
		rests      activityfile.RestStyle
		drift, out float64
		alone      float64 // share found by the session itself
	}{
		{2, activityfile.RestGap, 0, 0, 0}, {2, activityfile.RestOwnLap, 0, 1, 0.7}, {2, activityfile.RestGap, 0, 1.8, 0.7}, {2, activityfile.RestGap, 4, 0, 0},
		{10, activityfile.RestInInterval, 0, 0, 0}, {10, activityfile.RestGap, 0, 1, 1}, {10, activityfile.RestInInterval, 0, 1.8, 1},
		{10, activityfile.RestOwnLap, 4, 0, 0}, {10, activityfile.RestGap, 4, 0, 0},
	} {
		sc.BoutsPerSession = c.bouts
		var alone, pooled wallTally
		drifts := int64(0)
		for n := range uint64(3) {
			sc.Seed = 100 + n
			sw := squad.SimulateSwimmer(sc, 0)
			var all []read.Recording
			for i := range sw.Sessions {
				a := activityfile.FromSession(&sw.Sessions[i], &sw, activityfile.Options{NoRecords: true, Rests: c.rests})
				r := recorded(t, fmt.Sprintf("f%02d", i), a, activityfile.Quirks{WallSecondsOut: c.out, StartDriftSeconds: c.drift})
				all = append(all, r)
				got, entries := sessions(t, nil, r)
				alone.add(c.out, got[0], count(entries, r.FileID, RuleWallTime, read.Noted) > 0)
				drifts += count(entries, r.FileID, RuleStartsDrift, read.Noted)
			}
			got, entries := sessions(t, nil, all...)
			for _, s := range got {
				pooled.add(c.out, s, count(entries, s.FileID, RuleWallTime, read.Noted) > 0)
			}
		}
		t.Logf("%+v: alone %d of %d, pooled %d of %d, drift told of in %d", c, alone.found, alone.with, pooled.found, pooled.with, drifts)
		if alone.wrong+pooled.wrong > 0 || float64(alone.found) < c.alone*float64(alone.with) || pooled.found < pooled.with || (drifts > 0) != (c.drift > 0) {
			t.Errorf("%+v: alone %+v, pooled %+v, %d drifts", c, alone, pooled, drifts)
		}
	}
}

// recorded is a file of the simulated recorder as it is read.
func recorded(t *testing.T, file string, a activityfile.Activity, q activityfile.Quirks) read.Recording {
	t.Helper()
	data, err := activityfile.Encode(a, q)
	if err != nil {
		t.Fatal(err)
	}
	f, err := read.Activity(data, read.ActivitySource{FileID: file, Content: file, Input: study.Input{StrokeCount: study.Cycles},
		Owner: func(string) identity.Owner { return identity.Owner{Swimmer: "ada"} }, DeviceHash: func(s string) string { return s }})
	if err != nil || len(f.Recordings) != 1 {
		t.Fatal(err, f.Entries)
	}
	return f.Recordings[0]
}
