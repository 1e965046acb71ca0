package normalise

import (
	"cmp"
	"math"
	"slices"

	"lengthwise/pipeline/read"
)

const (
	// agreeS is how far a recorded start may lie from the one rebuilt from
	// durations before the recorded one is believed: starts are written in
	// whole seconds and drift by up to 4 s within a lap.
	agreeS = 5.0
	// pauseS is the longest gap between two lengths that is still a turn.
	pauseS = 5.0
	// restS is the shortest recorded rest that ends a swim; a rest that has a
	// lap of its own was set by hand and ends it from restLapS on.
	restS    = 3.0
	restLapS = 1.0
)

// timeline is a recording's rows and rests on one clock.
type timeline struct {
	starts []float64 // of each row, never decreasing
	broken []bool    // a rest or a pause lies before the row
	rest   []float64 // its seconds, 0 where there is none; NaN when not known
	stated []bool    // the row's start follows from what was recorded, not from a guess
	before []int     // for each rest, the row that it precedes
}

// orZero is x, 0 when it is no number.
func orZero(x float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	return x
}

// rowDuration is a row's seconds, 0 when they are missing or below zero.
func rowDuration(l *read.Length) float64 { return math.Max(0, orZero(l.DurationS)) }

// lapOf is the lap that owns a row, nil when none does.
func lapOf(r *read.Recording, l *read.Length) *read.Lap {
	if k := l.Lap; k >= 0 && k < len(r.Laps) {
		return &r.Laps[k]
	}
	return nil
}

// newTimeline rebuilds the clock of a recording whose recorder leaves out wall
// seconds at each wall.
func newTimeline(r *read.Recording, wall float64) *timeline {
	n := len(r.Lengths)
	t := &timeline{
		starts: make([]float64, n), broken: make([]bool, n),
		rest: make([]float64, n), stated: make([]bool, n),
	}
	t.before = placeRests(r)
	if r.Kind == read.FromSheet {
		t.fromSheet(r)
	} else {
		t.fromActivity(r, wall)
	}
	return t
}

// placeRests finds the row that each rest precedes: the first that does not
// start before it. Rows stay in their order, so a start below an earlier one
// counts as that one; a rest without a start comes after the last row.
func placeRests(r *read.Recording) []int {
	startOf := func(k int) float64 {
		if s := r.Rests[k].StartS; !math.IsNaN(s) {
			return s
		}
		return math.Inf(1)
	}
	order := make([]int, len(r.Rests))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(startOf(a), startOf(b)), cmp.Compare(r.Rests[a].Record, r.Rests[b].Record))
	})
	before := make([]int, len(r.Rests))
	row, latest, end := 0, math.Inf(-1), 0.0
	for _, k := range order {
		for row < len(r.Lengths) {
			start := r.Lengths[row].StartS
			if math.IsNaN(start) {
				start = end
			}
			start = math.Max(start, latest)
			if start >= startOf(k) {
				break
			}
			latest, end = start, start+rowDuration(&r.Lengths[row])
			row++
		}
		before[k] = row
	}
	return before
}

// fromSheet takes a row's start where it is stated; else rows follow each
// other by time and rest.
func (t *timeline) fromSheet(r *read.Recording) {
	var end float64 // of the row before
	for i := range r.Lengths {
		l := &r.Lengths[i]
		hasStart, hasRest := !math.IsNaN(l.StartS), !math.IsNaN(l.RestS)
		switch {
		case hasStart && i > 0: // nobody starts before the row before has ended
			t.starts[i] = math.Max(l.StartS, end)
		case hasStart:
			t.starts[i] = l.StartS
		default:
			t.starts[i] = end + math.Max(0, orZero(l.RestS))
		}
		t.stated[i] = i == 0 || hasStart || hasRest
		if i > 0 {
			gap := math.Max(0, t.starts[i]-end)
			t.rest[i] = gap
			if hasRest {
				t.rest[i] = math.Max(0, l.RestS)
			} else if !hasStart || math.IsNaN(r.Lengths[i-1].StartS) && !t.stated[i-1] {
				t.rest[i] = math.NaN()
			}
			t.broken[i] = t.rest[i] >= restS
		}
		end = t.starts[i] + rowDuration(l)
	}
	// A sheet that states starts leaves out those it could not know (a row
	// before was unreadable): there a rest alone tells no time.
	if slices.ContainsFunc(r.Lengths, func(l read.Length) bool { return !math.IsNaN(l.StartS) }) {
		for i := 1; i < len(t.stated); i++ {
			t.stated[i] = !math.IsNaN(r.Lengths[i].StartS)
		}
	}
}

// fromActivity rebuilds starts from durations. A row's recorded start is in
// whole seconds, its own timestamp is when it was written; so within swimming
// that no rest or pause breaks, the start of the lap (or of the swimming) plus
// the durations since is closer. Where the recorded starts disagree with that
// by more than a few seconds for most rows, they are believed instead.
func (t *timeline) fromActivity(r *read.Recording, wall float64) {
	n := len(r.Lengths)
	rested := make([]float64, n) // seconds of recorded rest before each row
	latest := make([]float64, n) // start of the last of them, NaN when there is none
	for i := range latest {
		latest[i] = math.NaN()
	}
	ownLap := restLaps(r.Laps)
	for k, i := range t.before {
		if i == n {
			continue
		}
		rest := &r.Rests[k]
		seconds := math.Max(0, orZero(rest.DurationS))
		rested[i] += seconds
		if !(rest.StartS <= latest[i]) {
			latest[i] = rest.StartS
		}
		if seconds >= restLapS && inside(ownLap, rest.StartS) {
			t.broken[i] = i > 0
		}
	}
	from := 0 // first row of the unbroken swimming
	for i := range r.Lengths {
		recorded, lap := r.Lengths[i].StartS, lapOf(r, &r.Lengths[i])
		opensLap := lap != nil && !math.IsNaN(lap.StartS) && (i == 0 || r.Lengths[i-1].Lap != r.Lengths[i].Lap) &&
			!(latest[i] >= lap.StartS-0.5)
		t.stated[i] = !math.IsNaN(recorded) || opensLap || i > 0 && t.stated[i-1]
		if i == 0 {
			t.starts[i] = anchor(recorded, lap, opensLap, 0, math.Inf(-1))
			continue
		}
		ended := t.starts[i-1] + rowDuration(&r.Lengths[i-1])
		next := ended + rested[i]
		if rested[i] == 0 {
			next += wall
		}
		gap := recorded - next
		if before := r.Lengths[i-1].StartS; !math.IsNaN(before) {
			gap = recorded - (before + rowDuration(&r.Lengths[i-1]) + rested[i])
		}
		pause := gap > pauseS && recorded-next > pauseS/2
		if math.IsNaN(r.Lengths[i-1].DurationS) && recorded >= next {
			next, pause = recorded, false // the row before took what its seconds do not say
		}
		t.broken[i] = t.broken[i] || rested[i] >= restS || pause
		if t.broken[i] {
			t.believeRecorded(r, from, i)
			from = i
			t.starts[i] = anchor(recorded, lap, opensLap, next, t.starts[i-1])
			continue
		}
		t.starts[i] = next
		if opensLap && math.Abs(lap.StartS-next) <= agreeS {
			t.starts[i] = math.Max(lap.StartS, t.starts[i-1])
		}
	}
	t.believeRecorded(r, from, n)
	for i := 1; i < n; i++ {
		if t.broken[i] {
			t.rest[i] = restOf(t.starts[i]-t.starts[i-1]-rowDuration(&r.Lengths[i-1]), rested[i])
		}
	}
}

// anchor is where unbroken swimming starts: where its lap does when the
// recorded start agrees, else the recorded start, else what follows from the
// rows before; never below floor.
func anchor(recorded float64, lap *read.Lap, opensLap bool, next, floor float64) float64 {
	at := recorded
	switch {
	case opensLap && (math.IsNaN(recorded) || math.Abs(lap.StartS-recorded) <= agreeS):
		at = lap.StartS
	case math.IsNaN(recorded):
		at = next
	}
	return math.Max(at, floor)
}

// believeRecorded puts rows from <= i < to back on their recorded starts when
// most of these lie too far from the rebuilt ones.
func (t *timeline) believeRecorded(r *read.Recording, from, to int) {
	var off []float64
	for i := from; i < to; i++ {
		if d := math.Abs(r.Lengths[i].StartS - t.starts[i]); !math.IsNaN(d) {
			off = append(off, d)
		}
	}
	if len(off) == 0 || median(off) <= agreeS {
		return
	}
	for i := from; i < to; i++ {
		at := t.starts[i]
		if s := r.Lengths[i].StartS; !math.IsNaN(s) {
			at = s
		}
		if i > 0 {
			at = math.Max(at, t.starts[i-1])
		}
		t.starts[i] = at
	}
}

// restOf is the rest before a swim: the recorded one while the clock agrees
// within its whole seconds, else what the clock shows, which holds pauses of
// the recorder too.
func restOf(clock, recorded float64) float64 {
	if recorded > 0 && clock-recorded <= 2 {
		return recorded
	}
	return math.Max(0, math.Max(clock, recorded))
}

// restLaps are the laps that own no active length, by start.
func restLaps(laps []read.Lap) []read.Lap {
	var own []read.Lap
	for _, l := range laps {
		if l.PoolLengths == 0 && !math.IsNaN(l.StartS) && !math.IsNaN(l.DurationS) {
			own = append(own, l)
		}
	}
	slices.SortStableFunc(own, func(a, b read.Lap) int { return cmp.Compare(a.StartS, b.StartS) })
	return own
}

// inside tells whether a time lies in one of the laps, give or take the
// second that starts are rounded to.
func inside(laps []read.Lap, at float64) bool {
	after, _ := slices.BinarySearchFunc(laps, at+1, func(l read.Lap, t float64) int {
		if l.StartS <= t {
			return -1
		}
		return 1
	})
	return after > 0 && at <= laps[after-1].StartS+laps[after-1].DurationS+1
}

// median is the median of xs, which it may reorder; xs is not empty.
func median(xs []float64) float64 {
	slices.Sort(xs)
	m := len(xs) / 2
	if len(xs)%2 == 1 {
		return xs[m]
	}
	return (xs[m-1] + xs[m]) / 2
}
