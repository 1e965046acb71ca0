package normalise

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// drawRecordings draws recordings of one swimmer, with copies, refusals,
// overlaps, logs, missing numbers and odd clocks among them.
func drawRecordings(t *rapid.T) []read.Recording {
	number := func(low, high float64) *rapid.Generator[float64] {
		return rapid.Custom(func(t *rapid.T) float64 {
			if rapid.IntRange(0, 7).Draw(t, "missing") == 0 {
				return nan
			}
			return math.Round(rapid.Float64Range(low, high).Draw(t, "x")*10) / 10
		})
	}
	n := rapid.IntRange(0, 5).Draw(t, "recordings")
	var all []read.Recording
	for f := range n {
		r := read.Recording{
			FileID: fmt.Sprintf("f%d", f), Part: 1, Swimmer: "ada", Zone: time.UTC, LocalDate: "2026-03-02",
			Kind:    rapid.SampledFrom([]read.RecordingKind{read.FromActivity, read.FromSheet, read.FromHeartRateLog}).Draw(t, "kind"),
			Refused: rapid.SampledFrom([]string{"", "", "", "", RuleNoConsent}).Draw(t, "refused"),
			PoolM:   rapid.SampledFrom([]float64{25, 25, 50, 22.86, nan}).Draw(t, "pool"),
			Basis:   rapid.SampledFrom([]study.CountBasis{"", study.Arms, study.Cycles, study.UnknownBasis}).Draw(t, "basis"),
			Content: rapid.SampledFrom([]string{"x", "y", "z", ""}).Draw(t, "content"),
		}
		if rapid.Bool().Draw(t, "clock") {
			r.Start = morning.Add(time.Duration(rapid.IntRange(0, 600).Draw(t, "start")) * time.Second)
		}
		at := 0.0
		if r.Kind != read.FromHeartRateLog {
			r.Laps = make([]read.Lap, rapid.IntRange(0, 3).Draw(t, "laps"))
			for i := range r.Laps {
				r.Laps[i] = read.Lap{StartS: number(0, 300).Draw(t, "lap"), DurationS: number(0, 100).Draw(t, "lap s"), PoolLengths: i % 2}
			}
			for i := range rapid.IntRange(0, 12).Draw(t, "lengths") {
				l := length(int64(i+1), math.Floor(at), number(0, 70).Draw(t, "seconds"), number(0, 40).Draw(t, "strokes"))
				if rapid.IntRange(0, 4).Draw(t, "odd") == 0 {
					l.StartS = number(-50, 500).Draw(t, "odd start")
				}
				l.Stroke = rapid.SampledFrom([]string{"freestyle", "freestyle", "backstroke", "breaststroke"}).Draw(t, "stroke")
				l.Drill = rapid.IntRange(0, 9).Draw(t, "drill") == 0
				l.Lap = rapid.IntRange(-1, 3).Draw(t, "lap")
				if r.Kind == read.FromSheet { // rows of several lengths come from sheets alone
					l.Covers = rapid.IntRange(0, 4).Draw(t, "covers")
					if l.Covers != 1 {
						l.Kind = read.KindRepeat
					}
					l.RestS = number(0, 30).Draw(t, "rest")
					l.Swim = rapid.IntRange(0, 4).Draw(t, "swim")
					l.End.HRBPM = number(0, 255).Draw(t, "hr")
				}
				r.Lengths = append(r.Lengths, l)
				at += orZero(l.DurationS) + float64(rapid.IntRange(0, 8).Draw(t, "gap"))
			}
			for i := range rapid.IntRange(0, 4).Draw(t, "rests") {
				r.Rests = append(r.Rests, read.Rest{Record: int64(i + 1), StartS: number(0, 400).Draw(t, "rest at"), DurationS: number(0, 60).Draw(t, "rest s")})
			}
		}
		for i := range rapid.IntRange(0, 30).Draw(t, "samples") {
			r.Samples = append(r.Samples, read.Sample{Record: int64(i + 1), TimeS: number(-30, 700).Draw(t, "at"), BPM: number(0, 255).Draw(t, "bpm"), First: i == 0})
		}
		all = append(all, r)
	}
	return all
}

// shown writes a value out in full, so that values with NaN can be compared.
func shown(v any) string { return fmt.Sprintf("%+v", v) }

func TestSessionsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		recordings := drawRecordings(t)
		notes := []read.Note{note(1, 1, 2, "kick", "none"), note(2, 0, 0, "lane", "4"), note(3, 0, 0, "rpe", "5")}
		before := shown(recordings)
		got, entries, err := Sessions(recordings, notes, study.Default())
		if err != nil {
			t.Fatal(err)
		}
		if before != shown(recordings) {
			t.Fatal("the recordings were changed")
		}

		shuffled := rapid.Permutation(recordings).Draw(t, "order")
		again, entriesAgain, err := Sessions(shuffled, notes, study.Default())
		if err != nil {
			t.Fatal(err)
		}
		if shown(got) != shown(again) || !slices.Equal(entries, entriesAgain) {
			t.Fatal("the result hangs on the order of the recordings")
		}

		type id struct {
			file   string
			kind   read.RecordKind
			record int64
		}
		became := map[id]int{}
		for _, s := range got {
			last := math.Inf(-1)
			for i, l := range s.Lengths {
				if l.Share == 1 {
					became[id{l.FileID, l.Kind, l.Record}]++
				}
				if !(l.StartS >= last) {
					t.Fatalf("starts decrease: %v after %v", l.StartS, last)
				}
				last = l.StartS
				if i > 0 && l.Swim != s.Lengths[i-1].Swim && l.Swim != s.Lengths[i-1].Swim+1 {
					t.Fatal("swims are not numbered in order")
				}
				if l.RestBeforeS < 0 {
					t.Fatalf("rest of %v s", l.RestBeforeS)
				}
			}
			for _, m := range s.Merged {
				became[id{m.FileID, m.Kind, m.Record}]++
				if m.Length < 0 || m.Length >= len(s.Lengths) {
					t.Fatalf("a row is merged into length %d of %d", m.Length, len(s.Lengths))
				}
			}
			for _, r := range s.Rests {
				became[id{r.FileID, read.KindRest, r.Record}]++
				if r.Before < 0 || r.Before > len(s.Lengths) {
					t.Fatalf("a rest precedes length %d of %d", r.Before, len(s.Lengths))
				}
			}
			for _, x := range s.Samples {
				became[id{x.FileID, read.KindHeartRate, x.Record}]++
			}
		}
		for _, e := range entries {
			for k := int64(0); e.Action == read.Excluded && k < e.Records; k++ {
				became[id{e.FileID, e.Kind, e.Record + k}]++
			}
		}
		total := 0
		check := func(file string, kind read.RecordKind, record int64) {
			total++
			if n := became[id{file, kind, record}]; n != 1 {
				t.Fatalf("%s %s %d is in sessions and ledger %d times", file, kind, record, n)
			}
		}
		for _, r := range recordings {
			for _, l := range r.Lengths {
				check(r.FileID, l.Kind, l.Record)
			}
			for _, x := range r.Rests {
				check(r.FileID, read.KindRest, x.Record)
			}
			for _, x := range r.Samples {
				check(r.FileID, read.KindHeartRate, x.Record)
			}
		}
		if total > len(became) {
			t.Fatalf("%d records read, %d accounted for", total, len(became))
		}
	})
}

func BenchmarkSessions(b *testing.B) {
	// 1,000 sessions of 100 lengths and 3,600 samples.
	var recordings []read.Recording
	for i := range 1000 {
		r := activity(fmt.Sprintf("f%04d", i), morning.Add(time.Duration(i)*24*time.Hour), repeat(100, 31.3)...)
		beats(&r, 0, 3600, 1, 140)
		recordings = append(recordings, r)
	}
	s := study.Default()
	b.ResetTimer()
	for b.Loop() {
		if _, _, err := Sessions(recordings, nil, s); err != nil {
			b.Fatal(err)
		}
	}
}
