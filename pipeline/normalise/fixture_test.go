package normalise

import (
	"fmt"
	"math"
	"testing"
	"time"

	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

var nan = math.NaN()

var morning = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

// length is a plain freestyle length that starts at start.
func length(record int64, start, seconds, strokes float64) read.Length {
	return read.Length{Record: record, Kind: read.KindLength, Lap: -1, Covers: 1, StartS: start, DurationS: seconds,
		PoolM: nan, Stroke: "freestyle", Strokes: strokes, RestS: nan, WallTimeS: nan,
		End: read.Reading{HRBPM: nan, DelayS: nan}, Tags: blankTags()}
}

// activity is a recording of a watch with lengths swum back to back.
func activity(file string, start time.Time, seconds ...float64) read.Recording {
	r := read.Recording{FileID: file, Part: 1, Kind: read.FromActivity, Swimmer: "ada", Start: start,
		LocalDate: start.Format(time.DateOnly), Zone: time.UTC, PoolM: 25, Basis: study.Cycles,
		HRSource: "optical", Content: "bytes of " + file}
	at := 0.0
	for i, s := range seconds {
		r.Lengths = append(r.Lengths, length(int64(i+1), math.Floor(at), s, 10))
		at += s
	}
	return r
}

// sheet is a lane sheet with one row a repeat of 100 m in a 25 m pool.
func sheet(file string, start time.Time, seconds ...float64) read.Recording {
	r := read.Recording{FileID: file, Part: 1, Kind: read.FromSheet, Swimmer: "ada", Start: start,
		LocalDate: morning.Format(time.DateOnly), Zone: time.UTC, PoolM: 25, Basis: study.Arms, Content: "bytes of " + file}
	for i, s := range seconds {
		l := length(int64(i+1), nan, s, 72)
		l.Kind, l.Covers, l.Swim, l.RestS = read.KindRepeat, 4, i+1, 30
		r.Lengths = append(r.Lengths, l)
	}
	return r
}

func lap(start, seconds float64, lengths int) read.Lap {
	return read.Lap{StartS: start, DurationS: seconds, PoolLengths: lengths}
}

func beats(r *read.Recording, from, to, step float64, bpm float64) {
	for at := from; at < to; at += step {
		r.Samples = append(r.Samples, read.Sample{Record: int64(len(r.Samples) + 1), TimeS: at, BPM: bpm})
	}
}

func sessions(t *testing.T, notes []read.Note, recordings ...read.Recording) ([]Session, []read.Entry) {
	t.Helper()
	got, entries, err := Sessions(recordings, notes, study.Default())
	if err != nil {
		t.Fatal(err)
	}
	return got, entries
}

// brief shows entries as "file kind record+records rule action".
func brief(entries []read.Entry) []string {
	out := []string{}
	for _, e := range entries {
		out = append(out, fmt.Sprintf("%s %s %d+%d %s %s", e.FileID, e.Kind, e.Record, e.Records, e.Rule, e.Action))
	}
	return out
}

func count(entries []read.Entry, file, rule string, action read.Action) (records int64) {
	for _, e := range entries {
		if e.FileID == file && e.Rule == rule && e.Action == action {
			records += e.Records
		}
	}
	return records
}

func swimsOf(s Session) (out []int) {
	for _, l := range s.Lengths {
		out = append(out, l.Swim)
	}
	return out
}

func startsOf(s Session) (out []float64) {
	for _, l := range s.Lengths {
		out = append(out, l.StartS)
	}
	return out
}

func repeat(n int, x float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = x
	}
	return out
}
