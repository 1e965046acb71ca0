package normalise

import (
	"math"

	"lengthwise/pipeline/read"
)

// longestFlip is how many lengths in a row a recorder may take for another
// stroke within one swim.
const longestFlip = 2

// findSwims numbers the unbroken swims of a recording from 1 and finds the
// rows whose stroke flipped. A new swim starts
//
//   - after a rest or a pause,
//   - with another pool, another swim number of the sheet, or another tag,
//   - after a reading, and at every row that covers several lengths, where the
//     sheet does not number its swims,
//   - with another stroke, drills aside.
//
// A recorder takes a length for another stroke now and then. A run of at most
// two lengths between runs of one other stroke stays in the swim when the two
// runs together are longer than twice the flip; so a flip among many is not
// mistaken for a change, nor lengths swum in turn for flips. People who write
// a sheet know what was swum: there every change counts.
func findSwims(r *read.Recording, t *timeline) (swims []int, flipped []int) {
	n := len(r.Lengths)
	swims = make([]int, n)
	starts := make([]bool, n)
	for from := 0; from < n; {
		to := from + 1
		stated := r.Lengths[from].Tags
		for to < n && !t.broken[to] && !parted(r, to, stated) {
			stated = filled(stated, r.Lengths[to].Tags)
			to++
		}
		starts[from] = true
		changes, flips := strokeChanges(r, from, to)
		for _, i := range changes {
			starts[i] = true
		}
		flipped = append(flipped, flips...)
		from = to
	}
	number := 0
	for i := range starts {
		if starts[i] {
			number++
		}
		swims[i] = number
	}
	return swims, flipped
}

// parted tells whether the record itself says that row i starts a new swim.
// stated is what the rows of the swim so far state.
func parted(r *read.Recording, i int, stated read.Tags) bool {
	a, b := &r.Lengths[i-1], &r.Lengths[i]
	pa, pb := poolOf(a.PoolM, r.PoolM), poolOf(b.PoolM, r.PoolM)
	switch {
	case a.Swim != b.Swim, !same(pa, pb):
		return true
	case a.Swim > 0:
		return conflict(stated, b.Tags)
	case a.Kind == read.KindRepeat, b.Kind == read.KindRepeat, !math.IsNaN(a.End.HRBPM):
		return true
	}
	return !sameSettings(a.Tags, b.Tags)
}

// sameSettings compares what was set or noted for how to swim; what was
// measured afterwards (exertion, lactate, oxygen) cuts no swim.
func sameSettings(a, b read.Tags) bool {
	return a.Instruction == b.Instruction && same(a.RateTargetSPM, b.RateTargetSPM) &&
		same(a.Breathing, b.Breathing) && a.Kick == b.Kick && a.Equipment == b.Equipment
}

// conflict tells whether the rows of one numbered swim state different
// settings; a blank cell states nothing.
func conflict(a, b read.Tags) bool {
	return !sameSettings(filled(a, b), filled(b, a))
}

// filled is t with its blanks taken from other.
func filled(t, other read.Tags) read.Tags {
	text := func(a *string, b string) {
		if *a == "" {
			*a = b
		}
	}
	number := func(a *float64, b float64) {
		if math.IsNaN(*a) {
			*a = b
		}
	}
	text(&t.Instruction, other.Instruction)
	text(&t.Kick, other.Kick)
	text(&t.Equipment, other.Equipment)
	text(&t.Effort, other.Effort)
	number(&t.RateTargetSPM, other.RateTargetSPM)
	number(&t.Breathing, other.Breathing)
	number(&t.RPE, other.RPE)
	number(&t.LactateMMOL, other.LactateMMOL)
	number(&t.LactateBefore, other.LactateBefore)
	number(&t.VO2, other.VO2)
	return t
}

// strokeChanges finds where rows from <= i < to change stroke for good, and
// the rows that flipped.
func strokeChanges(r *read.Recording, from, to int) (changes, flipped []int) {
	type run struct {
		stroke string
		rows   []int
	}
	var runs []run
	for i := from; i < to; i++ {
		l := &r.Lengths[i]
		if l.Drill {
			continue
		}
		if n := len(runs); n == 0 || runs[n-1].stroke != l.Stroke {
			runs = append(runs, run{stroke: l.Stroke})
		}
		runs[len(runs)-1].rows = append(runs[len(runs)-1].rows, i)
	}
	if r.Kind == read.FromActivity {
		merged := runs[:0]
		for _, right := range runs {
			n := len(merged)
			if n < 2 || merged[n-2].stroke != right.stroke || len(merged[n-1].rows) > longestFlip ||
				len(merged[n-2].rows)+len(right.rows) <= 2*len(merged[n-1].rows) {
				merged = append(merged, right)
				continue
			}
			left, flip := &merged[n-2], merged[n-1].rows
			flipped = append(flipped, flip...)
			left.rows = append(append(left.rows, flip...), right.rows...)
			merged = merged[:n-1]
		}
		runs = merged
	}
	for k := 1; k < len(runs); k++ {
		changes = append(changes, runs[k].rows[0])
	}
	return changes, flipped
}
