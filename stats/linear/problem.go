package linear

import (
	"fmt"
	"math"
)

// Problem is a least-squares problem of n rows and p columns. Fit reads it and
// keeps no reference to its slices.
type Problem struct {
	// Response is y, n values.
	Response []float64
	// Terms names the columns: p names, none empty, none twice.
	Terms []string
	// Columns is X by column: p slices of n values. An intercept is a column
	// of ones which the caller adds; with Absorb it is not needed.
	Columns [][]float64
	// Absorb is nil, or a group code for each row. The groups' fixed effects
	// are taken out of y and X by (weighted) centring within groups. Codes are
	// labels only: any integers, in any order.
	Absorb []int
	// Cluster is nil, or a cluster code for each row, for Model.Clustered.
	Cluster []int
	// Weights is nil for 1 everywhere, or n values above zero, inversely
	// proportional to the variance of the row (analytic weights). The largest
	// may be 1e15 times the smallest.
	Weights []float64
	// Working is what Model.Clustered and Model.WaldClustered take the variances of
	// the rows to be when there are weights.
	Working Working
}

// validate checks everything about p that does not need arithmetic.
func (p *Problem) validate() error {
	n := len(p.Response)
	if len(p.Terms) != len(p.Columns) {
		return fmt.Errorf("linear: %w: %d terms, %d columns", ErrShape, len(p.Terms), len(p.Columns))
	}
	if len(p.Terms) == 0 {
		return fmt.Errorf("linear: %w: the problem has no columns", ErrNoTerms)
	}
	if n == 0 {
		return fmt.Errorf("linear: %w: the response is empty", ErrTooFewRows)
	}
	seen := make(map[string]struct{}, len(p.Terms))
	for j, term := range p.Terms {
		if term == "" {
			return fmt.Errorf("linear: %w: column %d has no name", ErrName, j)
		}
		if _, twice := seen[term]; twice {
			return fmt.Errorf("linear: %w: two columns are named %q", ErrName, term)
		}
		seen[term] = struct{}{}
		if len(p.Columns[j]) != n {
			return fmt.Errorf("linear: %w: column %q has %d rows, the response %d", ErrShape, term, len(p.Columns[j]), n)
		}
	}
	for _, o := range []struct {
		name   string
		given  bool
		length int
	}{
		{"absorb", p.Absorb != nil, len(p.Absorb)},
		{"cluster", p.Cluster != nil, len(p.Cluster)},
		{"weights", p.Weights != nil, len(p.Weights)},
	} {
		if o.given && o.length != n {
			return fmt.Errorf("linear: %w: %s has %d rows, the response %d", ErrShape, o.name, o.length, n)
		}
	}
	if p.Working < EqualVariances || p.Working > InverseWeightsPublished {
		return fmt.Errorf("linear: %w: %v", ErrArgument, p.Working)
	}
	if err := finite("response", p.Response); err != nil {
		return err
	}
	for j, column := range p.Columns {
		if err := finite(p.Terms[j], column); err != nil {
			return err
		}
	}
	if err := finite("weights", p.Weights); err != nil {
		return err
	}
	return checkWeights(p.Weights)
}

// weightRange is how far weights may lie apart. Beyond it the light rows drown
// in the rounding of the heavy ones.
const weightRange = 1e15

func checkWeights(weights []float64) error {
	if len(weights) == 0 {
		return nil
	}
	least := math.Inf(1)
	for i, w := range weights {
		if w <= 0 {
			return fmt.Errorf("linear: %w: row %d has %v, weights are above zero", ErrWeight, i, w)
		}
		least = math.Min(least, w)
	}
	if top := largest(weights); top/least > weightRange {
		return fmt.Errorf("linear: %w: the largest, %v, is more than %v times the smallest, %v", ErrWeight, top, weightRange, least)
	}
	return nil
}

func finite(name string, values []float64) error {
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return &NotFiniteError{Row: i, Column: name, Value: v}
		}
	}
	return nil
}

// grouping is a partition of the rows. code runs from 0 in order of first
// appearance, so it does not depend on the caller's labels.
type grouping struct {
	code  []int
	count int
}

// group relabels codes; it gives a zero grouping for nil.
func group(codes []int) grouping {
	if codes == nil {
		return grouping{}
	}
	g := grouping{code: make([]int, len(codes))}
	label := make(map[int]int)
	for i, c := range codes {
		k, known := label[c]
		if !known {
			k = g.count
			label[c] = k
			g.count++
		}
		g.code[i] = k
	}
	return g
}

// rows lists the row numbers group by group, ascending within each: those of
// group k are order[start[k]:start[k+1]].
func (g grouping) rows() (order, start []int) {
	start = make([]int, g.count+1)
	for _, k := range g.code {
		start[k+1]++
	}
	for k := range g.count {
		start[k+1] += start[k]
	}
	order = make([]int, len(g.code))
	next := make([]int, g.count)
	copy(next, start)
	for i, k := range g.code {
		order[next[k]] = i
		next[k]++
	}
	return order, start
}

// nestedIn reports whether every group of g lies within one group of outer.
func (g grouping) nestedIn(outer grouping) bool {
	home := make([]int, g.count)
	for k := range home {
		home[k] = -1
	}
	for i, k := range g.code {
		switch home[k] {
		case -1:
			home[k] = outer.code[i]
		case outer.code[i]:
		default:
			return false
		}
	}
	return true
}
