package read

import (
	"math"
	"slices"
)

const (
	startCutS = 1.0 // a start is cut to whole seconds
	// recoveryS is how long after a session its samples are kept: heart rate
	// that comes down is read within the first minute.
	recoveryS = 60.0
	// nearS is how far from a session a time may lie and still be of its
	// day: half a day, as a choice of ours.
	nearS = 12 * 3600.0
)

// dropCounts takes out starts that count from power-on where the same group
// also holds times of day: they were written before the clock was set, and say
// nothing beside the others. Those of samples fall outside by themselves.
func (b *activityBuilder) dropCounts() {
	set := make([]bool, len(b.c.groups))
	each := func(do func(group int, start *float64)) {
		for i := range b.c.sessions {
			do(b.c.sessions[i].group, &b.c.sessions[i].start)
		}
		for i := range b.c.laps {
			do(b.c.laps[i].group, &b.c.laps[i].start)
		}
		for i := range b.c.lengths {
			do(b.c.lengths[i].group, &b.c.lengths[i].start)
		}
	}
	each(func(group int, start *float64) { set[group] = set[group] || *start >= fitClockFrom })
	each(func(group int, start *float64) {
		if set[group] && *start < fitClockFrom {
			*start = math.NaN()
		}
	})
}

// span sets when a session began and ended, and how far around it samples
// are its own. A session message can leave out its first or last lengths, so
// they widen it. What it does not tell comes from laps and lengths, and from
// samples only where those have no time.
func (b *activityBuilder) span(s *activitySwim) {
	first, last := math.Inf(1), math.Inf(-1)
	near := b.nearTo(s)
	see := func(from, to float64) {
		if !near(from) {
			return
		}
		first, last = min(first, from), max(last, from)
		if near(to) {
			last = max(last, to)
		}
	}
	for _, at := range s.lengths {
		l := &b.c.lengths[at]
		see(l.start, l.start+l.durationS)
	}
	noStart, noEnd := math.IsNaN(s.start), math.IsNaN(s.start+s.elapsedS)
	if noEnd {
		for _, at := range s.lapAt {
			l := &b.c.laps[at]
			see(l.start, l.start+l.durationS)
		}
	}
	s.before, s.after = 0, recoveryS
	if noEnd { // nobody says how long it went on, nor perhaps when it began
		s.after = nearS
		if noStart {
			s.before = nearS
		}
		if math.IsInf(last, 0) {
			first, last = b.sampleSpan(s)
			s.before, s.after = 0, 0
		}
	}
	s.origin, s.until = first, last+startCutS // infinite when nothing has a time: then no row has one
	if !noStart {
		s.origin = min(s.start, first)
	}
	if !noEnd {
		s.until = max(s.until, s.start+s.elapsedS+startCutS)
	}
	s.clock = s.origin >= fitClockFrom && !math.IsInf(s.origin, 0)
}

// nearTo tells times of a session's day from others. What is near is judged
// from the stated start, else from the middle one of the lengths, else of the
// laps.
func (b *activityBuilder) nearTo(s *activitySwim) func(timeS float64) bool {
	around := s.start
	middle := func(at []int, start func(int) float64) {
		if !math.IsNaN(around) {
			return
		}
		var starts []float64
		for _, i := range at {
			if t := start(i); !math.IsNaN(t) {
				starts = append(starts, t)
			}
		}
		if len(starts) > 0 {
			slices.Sort(starts)
			around = starts[len(starts)/2]
		}
	}
	middle(s.lengths, func(i int) float64 { return b.c.lengths[i].start })
	middle(s.lapAt, func(i int) float64 { return b.c.laps[i].start })
	return func(timeS float64) bool { return math.Abs(timeS-around) <= nearS }
}

// sampleSpan is when the recorder's own samples of a session's group begin and
// end, infinite when there are none after its start. Times of day go before
// counts from power-on.
func (b *activityBuilder) sampleSpan(s *activitySwim) (first, last float64) {
	first, last = math.Inf(1), math.Inf(-1)
	for i := range b.c.beats {
		beat := &b.c.beats[i]
		switch {
		case int(beat.group) != s.group || beat.strap || math.IsNaN(beat.timeS) || beat.timeS < s.start:
		case last < fitClockFrom && beat.timeS >= fitClockFrom:
			first, last = beat.timeS, beat.timeS
		case beat.timeS >= fitClockFrom || last < fitClockFrom:
			first, last = min(first, beat.timeS), max(last, beat.timeS)
		}
	}
	return first, last
}

// swimAt is the session that a sample's time falls in, those of its own group
// first; else the nearest around which it still belongs; -1 when there is
// none.
func (b *activityBuilder) swimAt(group int, timeS float64) int {
	other, around, closest := -1, -1, math.Inf(1)
	for i := range b.sessions {
		s := &b.sessions[i]
		own := s.group == group
		switch {
		case timeS >= s.origin && timeS <= s.until:
			if own {
				return i
			}
			if other < 0 {
				other = i
			}
			continue
		case own && timeS >= s.origin-s.before && timeS <= s.until+s.after:
		case timeS > s.until && timeS <= s.until+min(s.after, recoveryS): // a strap's log after a later activity
		default:
			continue
		}
		if apart := max(s.origin-timeS, timeS-s.until); apart < closest {
			around, closest = i, apart
		}
	}
	if other >= 0 {
		return other
	}
	return around
}
