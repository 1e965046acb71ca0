package read

import (
	"math"
	"sort"

	"github.com/muktihari/fit/profile/typedef"
)

// laps are a session's laps as recorded.
func (b *activityBuilder) laps(s *activitySwim) []Lap {
	laps := make([]Lap, 0, len(s.lapAt))
	for _, at := range s.lapAt {
		l := &b.c.laps[at]
		laps = append(laps, Lap{StartS: l.start - s.origin, DurationS: l.durationS})
	}
	return laps
}

// lapOwners is the lap of each of a session's lengths, an index into its
// laps; -1 where no lap owns it, as after the last lap of a cut file. The
// indices in the lap messages are used where they agree with the lengths and
// the clock, else time decides.
func (b *activityBuilder) lapOwners(s *activitySwim, laps []Lap) []int {
	owners := make([]int, len(s.lengths))
	if len(laps) == 0 {
		for i := range owners {
			owners[i] = -1
		}
		return owners
	}
	if !b.lapOwnersByIndex(s, owners) {
		b.lapOwnersByTime(s, laps, owners)
	}
	return owners
}

// lapOwnersByIndex reads the lap messages' first_length_index and
// num_lengths. It is false where they do not fit: overlapping runs, a number
// that is neither the lengths nor the active lengths of its run, a length that
// no run owns or that starts away from its lap.
func (b *activityBuilder) lapOwnersByIndex(s *activitySwim, owners []int) bool {
	const apart = 5 // s; starts are whole seconds and drift by up to 4 s within a lap
	type run struct{ lap, all, active int }
	var (
		runs   []run
		firsts []int
	)
	for i, at := range s.lapAt {
		l := &b.c.laps[at]
		if l.num == 0 || l.num == fitNone && l.first == fitNone { // a lap of no lengths
			continue
		}
		if l.num == fitNone || l.first == fitNone {
			return false
		}
		if n := len(firsts); n > 0 && int(l.first) <= firsts[n-1] {
			return false
		}
		runs, firsts = append(runs, run{lap: i}), append(firsts, int(l.first))
	}
	indices := b.lengthIndices(s)
	for i, at := range s.lengths {
		r := sort.SearchInts(firsts, indices[i]+1) - 1
		if r < 0 {
			return false
		}
		length, lap := &b.c.lengths[at], &b.c.laps[s.lapAt[runs[r].lap]]
		if length.start < lap.start-apart || length.start > lap.start+lap.durationS+apart {
			return false
		}
		runs[r].all++
		if !length.rest {
			runs[r].active++
		}
		owners[i] = runs[r].lap
	}
	for _, r := range runs {
		l := &b.c.laps[s.lapAt[r.lap]]
		if int(l.num) != r.all && int(l.num) != r.active || l.active != fitNone && int(l.active) != r.active {
			return false
		}
	}
	return true
}

// lengthIndices is the message index of each of a session's lengths, or
// their order in the file's group where the indices are not all different.
func (b *activityBuilder) lengthIndices(s *activitySwim) []int {
	indices := make([]int, len(s.lengths))
	seen := make(map[uint32]bool, len(s.lengths))
	for i, at := range s.lengths {
		index := b.c.lengths[at].index
		if index == fitNone || seen[index] {
			return b.lengthOrder(s, indices)
		}
		seen[index] = true
		indices[i] = int(index)
	}
	return indices
}

func (b *activityBuilder) lengthOrder(s *activitySwim, indices []int) []int {
	first := sort.Search(len(b.c.lengths), func(i int) bool { return b.c.lengths[i].group >= s.group })
	for i, at := range s.lengths {
		indices[i] = at - first
	}
	return indices
}

// lapOwnersByTime gives a length to the lap it shares most time with, and a
// length without a start to the lap of the length before it.
func (b *activityBuilder) lapOwnersByTime(s *activitySwim, laps []Lap, owners []int) {
	const further = 8 // laps, before and after, that one length may reach into; recorders write laps of half a second
	starts := make([]float64, len(laps))
	latest := math.Inf(-1)
	for i, l := range laps {
		if !math.IsNaN(l.StartS) {
			latest = l.StartS
		}
		starts[i] = latest
	}
	before := -1
	for i, at := range s.lengths {
		l := &b.c.lengths[at]
		owners[i] = before
		if !math.IsNaN(l.start) {
			start := l.start - s.origin
			owners[i] = -1
			last := max(sort.Search(len(starts), func(k int) bool { return starts[k] > start })-1, 0)
			most := 0.0
			for k := max(last-further, 0); k < min(last+further, len(laps)); k++ {
				if shared := activityShared(start, l.durationS, laps[k].StartS, laps[k].DurationS); shared > most {
					owners[i], most = k, shared
				}
			}
		}
		before = owners[i]
	}
}

// activityLengthRow is a pool length as recorded.
func activityLengthRow(l *activityLength, lap int, s *activitySwim) Length {
	nan := math.NaN()
	row := Length{
		Record: l.record, Kind: KindLength, Lap: lap, Covers: 1,
		StartS: l.start - s.origin, DurationS: l.durationS, PoolM: nan,
		Strokes: nan, RestS: nan, WallTimeS: nan,
		End: Reading{HRBPM: nan, DelayS: nan},
		Tags: Tags{RateTargetSPM: nan, Breathing: nan, RPE: nan,
			LactateMMOL: nan, LactateBefore: nan, VO2: nan},
	}
	row.Stroke, row.Drill = activityStroke(l.stroke)
	if l.strokes != fitNone && !(row.Drill && l.strokes == 0) { // 0 on a drill: not measured
		row.Strokes = float64(l.strokes)
	}
	return row
}

// activityStroke is the stroke in our terms.
func activityStroke(stroke uint32) (name string, drill bool) {
	switch stroke {
	case uint32(typedef.SwimStrokeFreestyle):
		return "freestyle", false
	case uint32(typedef.SwimStrokeBackstroke):
		return "backstroke", false
	case uint32(typedef.SwimStrokeBreaststroke):
		return "breaststroke", false
	case uint32(typedef.SwimStrokeButterfly):
		return "butterfly", false
	case uint32(typedef.SwimStrokeDrill):
		return "unknown", true
	case uint32(typedef.SwimStrokeMixed):
		return "mixed", false
	case uint32(typedef.SwimStrokeIm), uint32(typedef.SwimStrokeImByRound), uint32(typedef.SwimStrokeRimo):
		return "medley", false
	}
	return "unknown", false
}
