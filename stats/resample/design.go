package resample

import (
	"fmt"
	"math"
	"slices"
)

// A Design is the set of assignments that a randomisation could have made, all
// equally likely, with the one it made. An assignment is a slice of whole numbers,
// one for each unit: a label of the treatment, or a sign.
type Design struct {
	made []int
	// blocks lists the units whose labels are exchanged among each other; nil for
	// signs and listed assignments.
	blocks [][]int
	signs  bool
	listed [][]int
	count  float64 // assignments, +Inf when above the range of a float64
}

// Exchange is the design that shares the labels in made out anew, each order as
// likely as another: so many units of each treatment, chosen at random. Units of a
// block exchange labels among each other only; block is nil for one block of all
// (a completely randomised design).
//
// It fails with a *[TooFewError] for fewer than two units or when no exchange
// changes anything, and a *[RangeError] for a block of another length.
func Exchange(made, block []int) (Design, error) {
	if len(made) < 2 {
		return Design{}, &TooFewError{What: "units", Got: len(made), Need: 2}
	}
	if block == nil {
		block = make([]int, len(made))
	}
	if len(block) != len(made) {
		return Design{}, &RangeError{What: "number of block labels", Value: float64(len(block)), Want: fmt.Sprintf("%d, one for each unit", len(made))}
	}
	d := Design{made: slices.Clone(made), blocks: members(block), count: 1}
	for _, units := range d.blocks {
		times := make(map[int]int)
		for i, u := range units {
			times[made[u]]++
			// (i+1)! over the product of the labels' factorials, a factor at a time.
			d.count *= float64(i+1) / float64(times[made[u]])
		}
	}
	d.count = math.Round(d.count)
	if d.count < 2 {
		return Design{}, &TooFewError{What: "different assignments", Got: 1, Need: 2}
	}
	return d, nil
}

// Signs is the design in which each of n units had its sign by a throw of a coin:
// the order of a pair's two treatments, say. The assignment made is all +1, so the
// statistic must take the differences as they were. It fails with a
// *[TooFewError] for no unit.
func Signs(n int) (Design, error) {
	if n < 1 {
		return Design{}, &TooFewError{What: "units", Got: n, Need: 1}
	}
	d := Design{made: make([]int, n), signs: true, count: math.Ldexp(1, n)}
	for i := range d.made {
		d.made[i] = 1
	}
	return d, nil
}

// Listed is the design whose assignments are given one by one, such as the few
// dates on which a change could have begun; made is the position of the one that
// was drawn. It fails with a *[TooFewError] for fewer than two, and a
// *[RangeError] for a position outside the list, assignments of different lengths
// or one that is listed twice.
func Listed(assignments [][]int, made int) (Design, error) {
	if len(assignments) < 2 {
		return Design{}, &TooFewError{What: "assignments", Got: len(assignments), Need: 2}
	}
	if made < 0 || made >= len(assignments) {
		return Design{}, &RangeError{What: "assignment made", Value: float64(made), Want: fmt.Sprintf("0 to %d", len(assignments)-1)}
	}
	d := Design{made: slices.Clone(assignments[made]), count: float64(len(assignments))}
	for i, a := range assignments {
		if len(a) != len(d.made) {
			return Design{}, &RangeError{What: fmt.Sprintf("length of assignment %d", i), Value: float64(len(a)), Want: fmt.Sprint(len(d.made))}
		}
		for j := range i {
			if slices.Equal(a, assignments[j]) {
				return Design{}, &RangeError{What: "assignment", Value: float64(i), Want: fmt.Sprintf("one that differs from assignment %d", j)}
			}
		}
		d.listed = append(d.listed, slices.Clone(a))
	}
	return d, nil
}

// Units returns the length of an assignment.
func (d Design) Units() int { return len(d.made) }

// Count returns the number of different assignments, +Inf when beyond a float64;
// above 2^53 it is rounded.
func (d Design) Count() float64 { return d.count }

// Made returns a copy of the assignment that was made.
func (d Design) Made() []int { return slices.Clone(d.made) }

// draw fills assignment with a random one.
func (d Design) draw(s *Stream, assignment []int) {
	switch {
	case d.listed != nil:
		copy(assignment, d.listed[s.Below(len(d.listed))])
	case d.signs:
		for i := range assignment {
			assignment[i] = 2*s.Below(2) - 1
		}
	default:
		copy(assignment, d.made)
		for _, units := range d.blocks {
			for i := len(units) - 1; i > 0; i-- { // as Shuffle does
				a, b := units[i], units[s.Below(i+1)]
				assignment[a], assignment[b] = assignment[b], assignment[a]
			}
		}
	}
}

// each calls yield with every assignment once, in a fixed order, until it returns
// false. The slice is reused.
func (d Design) each(yield func(assignment []int) bool) {
	assignment := slices.Clone(d.made)
	switch {
	case d.listed != nil:
		for _, a := range d.listed {
			copy(assignment, a)
			if !yield(assignment) {
				return
			}
		}
	case d.signs:
		for i := range assignment {
			assignment[i] = -1
		}
		for {
			if !yield(assignment) {
				return
			}
			i := 0
			for i < len(assignment) && assignment[i] == 1 {
				assignment[i] = -1
				i++
			}
			if i == len(assignment) {
				return
			}
			assignment[i] = 1
		}
	default:
		labels := make([][]int, len(d.blocks))
		for b, units := range d.blocks {
			for _, u := range units {
				labels[b] = append(labels[b], d.made[u])
			}
			slices.Sort(labels[b])
		}
		for {
			for b, units := range d.blocks {
				for i, u := range units {
					assignment[u] = labels[b][i]
				}
			}
			if !yield(assignment) {
				return
			}
			b := 0
			for b < len(labels) && !nextOrder(labels[b]) { // wraps to sorted
				b++
			}
			if b == len(labels) {
				return
			}
		}
	}
}

// nextOrder puts v in its next order of a dictionary, equal values counted once,
// and reports whether there was one; after the last it sorts v.
func nextOrder(v []int) bool {
	i := len(v) - 2
	for i >= 0 && v[i] >= v[i+1] {
		i--
	}
	if i < 0 {
		slices.Reverse(v)
		return false
	}
	j := len(v) - 1
	for v[j] <= v[i] {
		j--
	}
	v[i], v[j] = v[j], v[i]
	slices.Reverse(v[i+1:])
	return true
}
