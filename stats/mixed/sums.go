package mixed

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Sums are the sufficient statistics of the rows: for each group (for each
// unit, when the layout has no group intercept) the number of rows and the sums
// and cross-products of all columns and the response. They add, so rows may
// come in batches and shards may be merged.
//
// To keep digits, a group's sums are taken about its first row (Chan, Golub and
// LeVeque 1983, The American Statistician 37:242, the shifted two-sum form).
//
// The order in which groups arrive, and how they are spread over batches and
// merged shards, does not change one bit of a fit; the order of rows within a
// group, or a group split between shards, changes rounding only.
type Sums struct {
	layout  Layout
	columns []string
	width   int // columns and the response
	stride  int // numbers kept for a group
	index   map[groupKey]int
	groups  []groupKey
	counts  []int
	// values holds for each group: the first row (width), sums about it
	// (width), cross-products about it (upper triangle by row).
	values []float64
	rows   int
}

type groupKey struct{ unit, group string }

// NewSums gives empty sums for rows of the layout. It fails with ErrLayout.
func NewSums(l Layout) (*Sums, error) {
	if err := l.validate(); err != nil {
		return nil, err
	}
	l = l.clone()
	columns := l.Columns()
	w := len(columns) + 1
	return &Sums{
		layout: l, columns: columns, width: w, stride: 2*w + w*(w+1)/2,
		index: make(map[groupKey]int),
	}, nil
}

// Layout gives the layout the sums were made for.
func (s *Sums) Layout() Layout { return s.layout.clone() }

// Rows gives the number of rows added so far.
func (s *Sums) Rows() int { return s.rows }

// Add adds one row: the values of Layout.Columns in that order, and the
// response. The group is ignored unless the layout has a group intercept; a
// group's label need only be unique within its unit. The row is not kept and
// not changed. It fails with ErrShape or *[NotFiniteError], the sums unchanged.
func (s *Sums) Add(unit, group string, row []float64, response float64) error {
	if len(row) != len(s.columns) {
		return fmt.Errorf("mixed: %w: a row has %d values, the layout %d columns", ErrShape, len(row), len(s.columns))
	}
	for j, v := range row {
		if v-v != 0 {
			return &NotFiniteError{Row: s.rows, Column: s.columns[j], Value: v}
		}
	}
	if response-response != 0 {
		return &NotFiniteError{Row: s.rows, Column: "response", Value: response}
	}
	var buffer [16]float64
	w := append(append(buffer[:0], row...), response)
	s.accumulate(s.place(unit, group), w)
	return nil
}

// AddColumns adds rows given by column: columns in the order of
// Layout.Columns, n values each, with n units and n responses, and n groups
// (nil will do without a group intercept). Nothing is kept or changed. It fails
// with ErrShape or *[NotFiniteError], the sums unchanged.
func (s *Sums) AddColumns(units, groups []string, columns [][]float64, response []float64) error {
	n := len(response)
	if len(columns) != len(s.columns) {
		return fmt.Errorf("mixed: %w: %d columns given, the layout has %d", ErrShape, len(columns), len(s.columns))
	}
	if len(units) != n || len(groups) != n && (groups != nil || s.layout.GroupIntercept) {
		return fmt.Errorf("mixed: %w: %d units and %d groups for %d responses", ErrShape, len(units), len(groups), n)
	}
	for j, c := range columns {
		if len(c) != n {
			return fmt.Errorf("mixed: %w: column %q has %d rows, the response %d", ErrShape, s.columns[j], len(c), n)
		}
		if i := slices.IndexFunc(c, notFinite); i >= 0 {
			return &NotFiniteError{Row: i, Column: s.columns[j], Value: c[i]}
		}
	}
	if i := slices.IndexFunc(response, notFinite); i >= 0 {
		return &NotFiniteError{Row: i, Column: "response", Value: response[i]}
	}
	w := make([]float64, s.width)
	at := -1
	var unit, group string
	for i := range response {
		var g string
		if s.layout.GroupIntercept {
			g = groups[i]
		}
		// Rows of a group mostly come together: spare the look-up.
		if at < 0 || units[i] != unit || g != group {
			unit, group = units[i], g
			at = s.place(unit, group)
		}
		for j, c := range columns {
			w[j] = c[i]
		}
		w[len(columns)] = response[i]
		s.accumulate(at, w)
	}
	return nil
}

func notFinite(v float64) bool { return v-v != 0 }

// place gives the position of a group, making one when it is new.
func (s *Sums) place(unit, group string) int {
	if !s.layout.GroupIntercept {
		group = ""
	}
	key := groupKey{unit, group}
	at, ok := s.index[key]
	if !ok {
		at = len(s.groups)
		s.index[key] = at
		s.groups = append(s.groups, key)
		s.counts = append(s.counts, 0)
		s.values = slices.Grow(s.values, s.stride)[:len(s.values)+s.stride]
		clear(s.values[at*s.stride:])
	}
	return at
}

// accumulate adds w to the sums of group at; w is overwritten.
func (s *Sums) accumulate(at int, w []float64) {
	v := s.values[at*s.stride : (at+1)*s.stride]
	k := s.width
	first, sum, cross := v[:k], v[k:2*k], v[2*k:]
	s.rows++
	s.counts[at]++
	if s.counts[at] == 1 {
		copy(first, w)
		return
	}
	w = w[:len(first)]
	for i, f := range first {
		w[i] -= f
	}
	sum = sum[:len(w)]
	for i, d := range w {
		sum[i] += d
		rest := w[i:]
		c := cross[:len(rest)]
		for j, e := range rest {
			c[j] += d * e
		}
		cross = cross[len(rest):]
	}
}

// Merge adds the rows of another Sums, which is not changed. It fails with
// ErrShape when the layouts differ.
func (s *Sums) Merge(o *Sums) error {
	return s.merge(o, func(unit string) string { return unit })
}

func (s *Sums) merge(o *Sums, unit func(string) string) error {
	if !s.layout.equal(o.layout) {
		return fmt.Errorf("mixed: %w: sums of two different layouts", ErrShape)
	}
	k := s.width
	moved := make([]float64, s.stride)
	for from := range o.groups {
		copy(moved, o.values[from*o.stride:(from+1)*o.stride])
		n := o.counts[from]
		at := s.place(unit(o.groups[from].unit), o.groups[from].group)
		into := s.values[at*s.stride : (at+1)*s.stride]
		s.rows += n
		s.counts[at] += n
		if s.counts[at] == n {
			copy(into, moved)
			continue
		}
		// About our first row instead of theirs: d + delta for d.
		delta, sum, cross := moved[:k], moved[k:2*k], moved[2*k:]
		for i := range delta {
			delta[i] -= into[i]
		}
		at = 0
		for i := range k {
			for j := i; j < k; j++ {
				into[2*k+at] += cross[at] + (sum[i]*delta[j] + delta[i]*sum[j]) + float64(n)*delta[i]*delta[j]
				at++
			}
		}
		for i := range k {
			into[k+i] += sum[i] + float64(n)*delta[i]
		}
	}
	return nil
}

// order lists the groups by label.
func (s *Sums) order() []int {
	order := make([]int, len(s.groups))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(s.groups[a].unit, s.groups[b].unit), cmp.Compare(s.groups[a].group, s.groups[b].group))
	})
	return order
}

// moments gives the mean of group at and its cross-products about the mean
// (upper triangle by row).
func (s *Sums) moments(at int, mean, cross []float64) {
	v := s.values[at*s.stride : (at+1)*s.stride]
	k, n := s.width, float64(s.counts[at])
	first, sum := v[:k], v[k:2*k]
	copy(cross, v[2*k:])
	c := 0
	for i := range k {
		for j := i; j < k; j++ {
			cross[c] -= sum[i] * (sum[j] / n)
			if i == j {
				cross[c] = math.Max(0, cross[c])
			}
			c++
		}
		mean[i] = first[i] + sum[i]/n
	}
}
