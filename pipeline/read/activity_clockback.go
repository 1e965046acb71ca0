package read

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"
)

const (
	// overlapS is how far a length may begin before the one before it ended, by
	// its own seconds: starts are whole seconds and drift by up to 4 s in a lap.
	overlapS = 5.0
	// mostStepsBack is how often a clock may be set back within a session; what
	// goes back more often is not in order of time.
	mostStepsBack = 3
	// stepNearS is how far from a length the samples may show the same step.
	stepNearS = 600.0
)

// stepBack is a length before which the recorder's clock was set back.
type stepBack struct {
	at     int     // position in the order of the lengths
	backS  float64 // how far the length begins before the one before it ended
	start  float64 // of the length, as recorded
	sample int     // index of the first sample behind it, -1 where none shows
}

// orderLengths puts a session's lengths in the order in which they were swum:
// that of their numbers where all have one and times agree, since starts that
// drift within a lap may run ahead of the next one's; else that of their starts.
func (b *activityBuilder) orderLengths(s *activitySwim, alone bool) {
	order, numbered := b.inOrder(s)
	if numbered {
		b.dropLoneStarts(s, order)
	}
	steps := b.stepsBack(order)
	if len(steps) == 0 && numbered {
		s.lengths = order
		return
	}
	if len(steps) > 0 {
		b.unwindClock(s, order, steps, numbered, alone)
	}
	activityByStart(s.lengths, func(at int) (float64, uint32) { return b.c.lengths[at].start, b.c.lengths[at].index })
}

// unwindClock finds where the clock was set back within a session and lays what
// follows behind what was before: from then on times are those of the first
// clock. The lengths' numbers, or the file's order where they have none, tell
// what came after what; samples that go back at the same place by as much tell
// how far. Where none do, those that may have been written on either clock are
// excluded.
func (b *activityBuilder) unwindClock(s *activitySwim, order []int, steps []stepBack, numbered, alone bool) {
	sorted := slices.Clone(order)
	slices.SortStableFunc(sorted, func(x, y int) int { return cmp.Compare(b.c.lengths[x].start, b.c.lengths[y].start) })
	consistent := len(b.stepsBack(sorted)) == 0 // times alone give an order
	if consistent && (!numbered || len(steps) > mostStepsBack || !b.apart(order, steps)) {
		return
	}
	told := alone && len(steps) <= mostStepsBack
	if told {
		b.matchSamples(s, steps)
	}
	for _, step := range steps[:min(len(steps), mostStepsBack)] {
		back := b.startBefore(order, step.at) - step.start
		told = told && (back > overlapS || step.sample >= 0) && (back < nearS || step.at < len(order)-1)
	}
	if !told {
		l := &b.c.lengths[order[steps[0].at]]
		b.noteLength(s, l, "lengths-overlap", fmt.Sprintf("%d lengths begin before the one before them had ended by its own seconds, this one by %.0f s: the clock was set back or the seconds are wrong",
			len(steps), steps[0].backS))
		return
	}
	laps := b.lapStarts(s, order, numbered)
	asWritten := slices.IsSortedFunc(order, func(x, y int) int { return cmp.Compare(b.c.lengths[x].at, b.c.lengths[y].at) })
	began := b.startBefore(order, steps[0].at)
	for _, at := range order[:steps[0].at] {
		began = min(began, orElse(b.c.lengths[at].start, began))
	}
	var shift, samples float64
	for k, step := range steps {
		to := len(order)
		if k+1 < len(steps) {
			to = steps[k+1].at
		}
		shift += step.backS
		words := "heart rate that may be of either clock is not used"
		if step.sample >= 0 {
			words = "so is the heart rate"
			b.shiftSamples(s, step.sample, step.backS)
			samples += step.backS
		} else {
			b.dropEitherClock(s, step.start, samples)
		}
		for _, at := range order[step.at:to] {
			b.c.lengths[at].start += shift
		}
		for lap, first := range laps {
			// A lap without lengths is of this clock when it was written after the
			// length or begins before all of them.
			l := &b.c.laps[lap]
			late := asWritten && l.at > b.c.lengths[order[step.at]].at && (to == len(order) || l.at < b.c.lengths[order[to]].at)
			if first >= step.at && first < to || first < 0 && (late || l.start < began-overlapS) {
				l.start += shift
			}
		}
		b.noteLength(s, &b.c.lengths[order[step.at]], "clock-set-back", fmt.Sprintf("the recorder's clock was set back by about %.0f s before this length: it and all that follows are laid behind what was before, and %s", step.backS, words))
	}
	s.lengths = order
}

// dropLoneStarts takes out the start of a length that begins before the one
// before it ended while the next leaves room for it in between: that start is
// wrong, and the length keeps its place without one.
func (b *activityBuilder) dropLoneStarts(s *activitySwim, order []int) {
	for i := 1; i+1 < len(order); i++ {
		before, l, next := &b.c.lengths[order[i-1]], &b.c.lengths[order[i]], &b.c.lengths[order[i+1]]
		ended := before.start + max(0, orNothing(before.durationS))
		if ended-l.start > overlapS && next.start >= ended+max(0, orNothing(l.durationS))-overlapS {
			b.noteLength(s, l, "lengths-overlap", fmt.Sprintf("it begins %.0f s before the length before it had ended, and the next begins where it should have ended: its start is wrong and is not used", ended-l.start))
			l.start = math.NaN()
		}
	}
}

// inOrder is a session's lengths in the order in which they were swum: by their
// numbers where all have one of their own, else as the file has them.
func (b *activityBuilder) inOrder(s *activitySwim) (order []int, numbered bool) {
	order = slices.Clone(s.lengths)
	numbered = len(order) > 1
	seen := make(map[uint32]bool, len(order))
	for _, at := range order {
		index := b.c.lengths[at].index
		numbered = numbered && index != fitNone && !seen[index]
		seen[index] = true
	}
	if numbered {
		slices.SortFunc(order, func(x, y int) int { return cmp.Compare(b.c.lengths[x].index, b.c.lengths[y].index) })
	}
	return order, numbered
}

// stepsBack lists the lengths that begin well before the one before them ended.
func (b *activityBuilder) stepsBack(order []int) (steps []stepBack) {
	ended := math.NaN()
	for i, at := range order {
		l := &b.c.lengths[at]
		if math.IsNaN(l.start) {
			continue
		}
		if back := ended - l.start; back > overlapS {
			steps = append(steps, stepBack{at: i, backS: back, start: l.start, sample: -1})
		}
		ended = l.start
		if l.durationS > 0 {
			ended += l.durationS
		}
	}
	return steps
}

// startBefore is the start of the length before a position.
func (b *activityBuilder) startBefore(order []int, at int) float64 {
	for i := at - 1; i >= 0; i-- {
		if start := b.c.lengths[order[i]].start; !math.IsNaN(start) {
			return start
		}
	}
	return math.NaN()
}

// apart tells whether the runs of lengths between steps lie apart on the clock,
// and do not simply follow each other in another order.
func (b *activityBuilder) apart(order []int, steps []stepBack) bool {
	type span struct{ from, to float64 }
	var runs []span
	for k := range len(steps) + 1 {
		from, to := 0, len(order)
		if k > 0 {
			from = steps[k-1].at
		}
		if k < len(steps) {
			to = steps[k].at
		}
		run := span{math.Inf(1), math.Inf(-1)}
		for _, at := range order[from:to] {
			if l := &b.c.lengths[at]; !math.IsNaN(l.start) {
				run.from, run.to = min(run.from, l.start), max(run.to, l.start+max(0, orNothing(l.durationS)))
			}
		}
		runs = append(runs, run)
	}
	slices.SortFunc(runs, func(x, y span) int { return cmp.Compare(x.from, y.from) })
	for k := 1; k < len(runs); k++ {
		if runs[k].from-runs[k-1].to <= overlapS {
			return false
		}
	}
	return true
}

// orNothing is x, 0 where it is not known.
func orNothing(x float64) float64 { return orElse(x, 0) }

func orElse(x, other float64) float64 {
	if math.IsNaN(x) {
		return other
	}
	return x
}

// matchSamples finds the samples that go back where the lengths do, by as much
// or by more, since lengths do not show a pause before them. The samples then
// say how far.
func (b *activityBuilder) matchSamples(s *activitySwim, steps []stepBack) {
	const longest = 10 // s between two samples that stand close enough to tell
	var between []float64
	last, from := math.NaN(), 0
	var back []stepBack // of samples; at is the index of the first behind it
	for i := range b.c.beats {
		beat := &b.c.beats[i]
		if int(beat.group) != s.group || beat.strap || math.IsNaN(beat.timeS) {
			continue
		}
		if gap := beat.timeS - last; gap > 0 {
			between = append(between, gap)
		} else if gap < 0 {
			back = append(back, stepBack{at: i, backS: -gap, start: beat.timeS})
		}
		last = beat.timeS
	}
	if len(between) == 0 {
		return
	}
	slices.Sort(between)
	usual := between[len(between)/2]
	if usual > longest {
		return
	}
	for k := range steps {
		step := &steps[k]
		for j := from; j < len(back); j++ {
			if whole := back[j].backS + usual; whole > step.backS-overlapS && math.Abs(back[j].start-step.start) <= stepNearS {
				step.sample, step.backS = back[j].at, whole
				from = j + 1
				break
			}
		}
	}
}

// shiftSamples lays the recorder's own samples from one on behind those before.
func (b *activityBuilder) shiftSamples(s *activitySwim, from int, byS float64) {
	for i := from; i < len(b.c.beats); i++ {
		if beat := &b.c.beats[i]; int(beat.group) == s.group && !beat.strap {
			beat.timeS += byS
		}
	}
}

// dropEitherClock excludes the samples that may have been written on either
// clock: the recorder's own from the first time of the second clock on, and a
// strap's log, whose anchors may be of either. shifted is what samples were
// moved by so far.
func (b *activityBuilder) dropEitherClock(s *activitySwim, start, shifted float64) {
	fate := int32(-1)
	for i := range b.c.beats {
		beat := &b.c.beats[i]
		if int(beat.group) != s.group || beat.fate != activityUndecided || !beat.strap && beat.timeS-shifted < start-overlapS {
			continue
		}
		if fate < 0 {
			fate = b.fate("clock-set-back", "the recorder's clock was set back during the session: whether this was written before or after cannot be said")
		}
		beat.fate = fate
	}
}

// lapStarts gives, for each of a session's laps, the position of its first
// length in their order: by its number or, where lengths have none, the nearest
// before it in the file that starts with it; -1 where there is none.
func (b *activityBuilder) lapStarts(s *activitySwim, order []int, numbered bool) map[int]int {
	const longestLap = 1000 // lengths of a lap, when its first one is looked for
	numbers := make(map[uint32]int, len(order))
	for i := len(order) - 1; i >= 0; i-- {
		numbers[b.c.lengths[order[i]].index] = i
	}
	starts := make(map[int]int, len(s.lapAt))
	for _, lap := range s.lapAt {
		l := &b.c.laps[lap]
		at, found := numbers[l.first]
		if !found || l.first == fitNone {
			at = -1
		}
		if at < 0 && !numbered {
			before := sort.Search(len(order), func(i int) bool { return b.c.lengths[order[i]].at >= l.at }) // in order of the file where there are no numbers
			for i := before - 1; i >= max(0, before-longestLap) && at < 0; i-- {
				if math.Abs(b.c.lengths[order[i]].start-l.start) <= overlapS {
					at = i
				}
			}
		}
		starts[lap] = at
	}
	return starts
}

// noteLength adds an entry on a length or rest.
func (b *activityBuilder) noteLength(s *activitySwim, l *activityLength, rule, detail string) {
	kind := KindLength
	if l.rest {
		kind = KindRest
	}
	b.noted = append(b.noted, Entry{Record: l.record, Records: 1, Kind: kind, Swimmer: b.owners[s.group].Swimmer, Rule: rule, Action: Noted, Detail: detail})
}
