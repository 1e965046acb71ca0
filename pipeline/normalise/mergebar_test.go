package normalise

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lengthwise/pipeline/read"
)

// deckSwim is a swim as it was: so many lengths of 25 m, after a rest.
type deckSwim struct {
	lengths []float64
	restS   float64
}

// deckSession draws a session: warm-up, then sets of repeats whose lengths
// scatter, at several paces. even leaves sets of one distance and pace.
func deckSession(rng *rand.Rand, even bool) (swims []deckSwim) {
	distance, pace := 4, 0.0
	for k := range 6 + rng.IntN(8) {
		if k == 0 || !even && rng.IntN(2) == 0 {
			distance, pace = []int{2, 4, 8, 12, 16}[rng.IntN(5)], 19+4*rng.Float64()
		}
		s := deckSwim{restS: float64(15 + rng.IntN(50))}
		hurry := 1 + 0.02*rng.NormFloat64()
		for range distance {
			s.lengths = append(s.lengths, pace*hurry+0.3*rng.NormFloat64())
		}
		swims = append(swims, s)
	}
	swims[0].restS = 0
	return swims
}

// watched is a session as a watch records it: starts in whole seconds, seconds
// to the hundredth. Record n is length n; swimOf gives the swim of each.
func watched(file string, start time.Time, swims []deckSwim) (r read.Recording, firstOf []int) {
	r = activity(file, start)
	at := 20.0
	for _, s := range swims {
		at += s.restS
		firstOf = append(firstOf, len(r.Lengths))
		for _, seconds := range s.lengths {
			r.Lengths = append(r.Lengths, length(int64(len(r.Lengths)+1), math.Floor(at), math.Round(100*seconds)/100, 10))
			at += seconds
		}
	}
	return r, firstOf
}

// written is the sheet of a session: the swims that keep tells, by stopwatch
// (0.15 s of scatter), rests to five seconds, rows of repeats or of lengths.
// sameRest writes the rest after a swim that was left out as if it had not been.
func written(rng *rand.Rand, file string, start time.Time, swims []deckSwim, keep func(int) bool, byLength, sameRest bool) (r read.Recording, swimOf map[int64]int) {
	r = sheet(file, start)
	swimOf = map[int64]int{}
	last := -1
	for k, s := range swims {
		if !keep(k) {
			continue
		}
		rest := nan
		if last >= 0 && (last == k-1 || sameRest) {
			rest = 5 * math.Round(s.restS/5)
		}
		last = k
		total := 0.0
		for i, seconds := range s.lengths {
			total += seconds
			if byLength {
				l := length(int64(len(r.Lengths)+1), nan, math.Round(10*(seconds+0.1*rng.NormFloat64()))/10, 20)
				if l.Swim = k + 1; i == 0 {
					l.RestS = rest
				}
				swimOf[l.Record] = k
				r.Lengths = append(r.Lengths, l)
			}
		}
		if !byLength {
			l := length(int64(len(r.Lengths)+1), nan, math.Round(10*(total+0.15*rng.NormFloat64()))/10, 20*float64(len(s.lengths)))
			l.Kind, l.Covers, l.Swim, l.RestS = read.KindRepeat, len(s.lengths), k+1, rest
			swimOf[l.Record] = k
			r.Lengths = append(r.Lengths, l)
		}
	}
	return r, swimOf
}

// A sheet's rows go to the swims that they are of, or are reported: whatever
// start the sheet states, whichever swims the coach wrote down, whichever
// session of the day it was. None may be laid on another swim than its own. This
// is another simulation than mergesim_test.go's, by another hand.
func TestSheetsAreLaidOnTheSwimsTheyAreOf(t *testing.T) {
	all := func(*rand.Rand) func(int) bool { return func(int) bool { return true } }
	fromSecond := func(*rand.Rand) func(int) bool { return func(k int) bool { return k >= 2 } }
	some := func(rng *rand.Rand) func(int) bool {
		var left [32]bool
		for k := range left {
			left[k] = rng.Float64() < 0.25
		}
		return func(k int) bool { return !left[k] }
	}
	type scenario struct {
		name     string
		keep     func(*rand.Rand) func(int) bool
		start    time.Duration // the sheet's start beside the watch's
		noStart  bool
		sessions int     // of the watch on that day
		even     bool    // one distance and pace throughout
		byLength bool    // rows of lengths
		sameRest bool    // rests as if nothing had been left out
		pauseS   float64 // before the fifth swim, that nobody wrote down
		atLeast  float64 // share of rows laid right
	}
	for _, c := range []scenario{
		{name: "all rows, start to the minute", keep: all, start: 20 * time.Second, atLeast: 1},
		{name: "all rows, no start", keep: all, noStart: true, atLeast: 1},
		{name: "all rows of lengths, no start", keep: all, noStart: true, byLength: true, atLeast: 1},
		{name: "all rows, one pace, start to the minute", keep: all, start: 20 * time.Second, even: true, atLeast: 1},
		{name: "all rows, one pace, no start", keep: all, noStart: true, even: true, atLeast: 0.95},
		{name: "all rows, start three minutes off", keep: all, start: 3 * time.Minute, atLeast: 1},
		{name: "all rows, two sessions that day, start to the minute", keep: all, start: 20 * time.Second, sessions: 2, atLeast: 1},
		{name: "all rows, two sessions that day, no start", keep: all, noStart: true, sessions: 2, atLeast: 1},
		{name: "all rows, a pause not written", keep: all, start: 20 * time.Second, pauseS: 240, atLeast: 1},
		{name: "all rows, one pace, a pause not written", keep: all, start: 20 * time.Second, even: true, pauseS: 240, atLeast: 1},
		{name: "warm-up not written, start to the minute", keep: fromSecond, start: 20 * time.Second, atLeast: 0.9},
		{name: "warm-up not written, no start", keep: fromSecond, noStart: true, atLeast: 0.9},
		{name: "one row in four not written, start to the minute", keep: some, start: 20 * time.Second, atLeast: 0.75},
		{name: "one row in four not written, no start", keep: some, noStart: true, atLeast: 0.75},
		{name: "the same, rests as if nothing was", keep: some, start: 20 * time.Second, sameRest: true, atLeast: 0.75},
		{name: "one in four not written, one pace, no start", keep: some, noStart: true, even: true, atLeast: 0.5},
		{name: "the same, rests as if nothing was, and a pause", keep: some, start: 20 * time.Second, even: true, sameRest: true, pauseS: 240, atLeast: 0.5},
	} {
		rng := rand.New(rand.NewPCG(11, 12))
		rows, right, wrong, ambiguous, other := 0, 0, 0, 0, 0
		for range 40 {
			var recordings []read.Recording
			swims := deckSession(rng, c.even)
			watch, firstOf := watched("watch", morning, swims)
			if c.pauseS > 0 {
				for k := firstOf[4]; k < len(watch.Lengths); k++ {
					watch.Lengths[k].StartS += c.pauseS
				}
			}
			recordings = append(recordings, watch)
			if c.sessions == 2 {
				evening, _ := watched("evening", morning.Add(12*time.Hour), deckSession(rng, c.even))
				recordings = append(recordings, evening)
			}
			start := morning.Add(c.start)
			if c.noStart {
				start = time.Time{}
			}
			sheet, swimOf := written(rng, "sheet", start, swims, c.keep(rng), c.byLength, c.sameRest)
			if len(sheet.Lengths) == 0 {
				continue
			}
			got, entries := sessions(t, nil, append(recordings, sheet)...)
			rows += len(sheet.Lengths)
			laid := 0
			for _, s := range got {
				for _, m := range s.Merged {
					laid++
					if s.FileID == "watch" && m.Length == firstOf[swimOf[m.Record]] {
						right++
					} else {
						wrong++
					}
				}
			}
			n := int(count(entries, "sheet", RuleMatchAmbiguous, read.Excluded))
			ambiguous += n
			other += len(sheet.Lengths) - laid - n
		}
		t.Logf("%-62s %4d rows: %5.1f %% laid right, %4.1f %% ambiguous, %4.1f %% otherwise, %d wrong", c.name, rows,
			100*float64(right)/float64(rows), 100*float64(ambiguous)/float64(rows), 100*float64(other)/float64(rows), wrong)
		if wrong > 0 {
			t.Errorf("%s: %d rows are laid on another swim", c.name, wrong)
		}
		if share := float64(right) / float64(rows); share < c.atLeast {
			t.Errorf("%s: %s laid right, at least %g asked for", c.name, fmt.Sprintf("%.3f", share), c.atLeast)
		}
	}
}
