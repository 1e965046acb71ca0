package mixed

import (
	"fmt"
	"slices"
)

// MergeAs adds the rows of another Sums, all as rows of one unit, whatever
// units they had there; groups keep their labels. So the sums of a unit can be
// made before its place among the others is known. It fails with ErrShape when
// the layouts differ.
func (s *Sums) MergeAs(unit string, o *Sums) error {
	return s.merge(o, func(string) string { return unit })
}

// Restrict gives the sums of the same rows for a layout of fewer columns. The
// groups must be those that the sums were made for. It fails with ErrLayout for
// a layout that cannot be fitted, and with ErrShape when it asks for a column
// that the sums do not hold or for other groups.
func (s *Sums) Restrict(l Layout) (*Sums, error) {
	if l.GroupIntercept && !s.layout.GroupIntercept {
		return nil, fmt.Errorf("mixed: %w: the sums were made without groups", ErrShape)
	}
	if !l.GroupIntercept && s.layout.GroupIntercept {
		return nil, fmt.Errorf("mixed: %w: the sums were made by group", ErrShape)
	}
	out, err := NewSums(l)
	if err != nil {
		return nil, err
	}
	from := make([]int, out.width)
	for j, name := range out.columns {
		if from[j] = slices.Index(s.columns, name); from[j] < 0 {
			return nil, fmt.Errorf("mixed: %w: the sums hold no column %q", ErrShape, name)
		}
	}
	from[out.width-1] = s.width - 1
	out.rows, out.counts, out.groups = s.rows, slices.Clone(s.counts), slices.Clone(s.groups)
	out.values = make([]float64, 0, len(s.groups)*out.stride)
	for at, key := range s.groups {
		out.index[key] = at
		v := s.values[at*s.stride : (at+1)*s.stride]
		for _, part := range [][]float64{v[:s.width], v[s.width : 2*s.width]} {
			for _, j := range from {
				out.values = append(out.values, part[j])
			}
		}
		cross := v[2*s.width:]
		for a, i := range from {
			for _, j := range from[a:] {
				low, high := min(i, j), max(i, j)
				out.values = append(out.values, cross[diagonal(low, s.width)+high-low])
			}
		}
	}
	return out, nil
}
