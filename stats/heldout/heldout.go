package heldout

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

var (
	// ErrShape: lengths of the inputs do not agree, or there is no row.
	ErrShape = errors.New("heldout: lengths do not agree")
	// ErrNotFinite: an input is NaN or infinite, or its squares leave the range of a
	// float64.
	ErrNotFinite = errors.New("heldout: value is not finite")
	// ErrTooFewGroups: leaving one out needs two groups.
	ErrTooFewGroups = errors.New("heldout: fewer than two groups")
)

// Rows are a response and the columns that may foretell it, with the group of
// each row. The sums of each group are taken once, for any number of
// predictions. It is immutable.
type Rows struct {
	columns int
	groups  int
	// sums holds for each group the upper triangle, by row, of the
	// cross-products of (columns, response).
	sums  [][]float64
	total []float64
}

// New sums up rows: columns and response have the length of group, whose codes
// run from 0 and stay below the number of rows. It fails with ErrShape, ErrNotFinite or ErrTooFewGroups.
func New(group []int, columns [][]float64, response []float64) (*Rows, error) {
	n := len(group)
	if n == 0 || len(response) != n {
		return nil, fmt.Errorf("%w: %d groups for %d responses", ErrShape, n, len(response))
	}
	r := &Rows{columns: len(columns)}
	for i, g := range group {
		if g < 0 || g >= n {
			return nil, fmt.Errorf("%w: row %d of %d has group %d", ErrShape, i, n, g)
		}
		r.groups = max(r.groups, g+1)
	}
	if r.groups < 2 {
		return nil, ErrTooFewGroups
	}
	all := append(slices.Clone(columns), response)
	for j, c := range all {
		if len(c) != n {
			return nil, fmt.Errorf("%w: column %d has %d rows of %d", ErrShape, j, len(c), n)
		}
		for i, v := range c {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, fmt.Errorf("%w: column %d, row %d is %v", ErrNotFinite, j, i, v)
			}
		}
	}
	width := len(all) * (len(all) + 1) / 2
	r.total = make([]float64, width)
	r.sums = make([][]float64, r.groups)
	arena := make([]float64, width*r.groups)
	for g := range r.sums {
		r.sums[g] = arena[g*width : (g+1)*width]
	}
	for i, g := range group {
		at := 0
		for j, c := range all {
			for _, d := range all[j:] {
				r.sums[g][at] += c[i] * d[i]
				at++
			}
		}
	}
	for _, sum := range r.sums {
		for at, v := range sum {
			r.total[at] += v
		}
	}
	for at, v := range r.total {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("%w: cross-product %d is %v; change units", ErrNotFinite, at, v)
		}
	}
	// Squares so small that they have lost their digits say nothing.
	for j := range all {
		if v := r.total[r.at(j, j)]; v > 0 && v < smallestSquare {
			return nil, fmt.Errorf("%w: the sum of squares of column %d is %v; change units", ErrNotFinite, j, v)
		}
	}
	return r, nil
}

// smallestSquare is where squares begin to lose their digits.
const smallestSquare = 1e-290

// Groups is the number of groups.
func (r *Rows) Groups() int { return r.groups }

// at is the place of the cross-product of columns i and j; the response is
// column r.columns.
func (r *Rows) at(i, j int) int {
	i, j = min(i, j), max(i, j)
	return i*(r.columns+1) - i*(i-1)/2 + j - i
}

// Nothing is the sum of squares of the response by group: the error of a
// prediction of zero, which is the group's own mean where the caller centred.
func (r *Rows) Nothing() []float64 {
	out := make([]float64, r.groups)
	for g := range out {
		out[g] = r.sums[g][r.at(r.columns, r.columns)]
	}
	return out
}

// Prediction is what came of leaving each group out.
type Prediction struct {
	Squared []float64 // sum of squared errors by group left out
	// Held says of each group whether the weights found without it have the
	// sign that was asked for; where they have not, the signed column took no
	// part. Always true without a signed column.
	Held []bool
}

// Predict leaves each group out in turn and foretells it from the columns
// named by their places. signed is the place among them of the column whose
// weight must be above zero, -1 for none: where the other groups would have it
// otherwise, the column is left out of that prediction. Columns that depend on
// those before them, or do not vary, are left out. It fails with ErrShape for
// a column that is not there.
func (r *Rows) Predict(columns []int, signed int) (Prediction, error) {
	for _, j := range columns {
		if j < 0 || j >= r.columns {
			return Prediction{}, fmt.Errorf("%w: there is no column %d", ErrShape, j)
		}
	}
	if signed < -1 || signed >= len(columns) {
		return Prediction{}, fmt.Errorf("%w: there is no signed column %d", ErrShape, signed)
	}
	var others []int
	for i, j := range columns {
		if i != signed {
			others = append(others, j)
		}
	}
	p := Prediction{Squared: make([]float64, r.groups), Held: make([]bool, r.groups)}
	rest := make([]float64, len(r.total))
	for g, own := range r.sums {
		for at, v := range r.total {
			rest[at] = v - own[at]
		}
		used, weights := columns, r.solve(rest, columns)
		p.Held[g] = signed < 0 || weights[signed] > 0
		if !p.Held[g] {
			used, weights = others, r.solve(rest, others)
		}
		p.Squared[g] = r.squared(own, used, weights)
	}
	return p, nil
}

// squared is the sum of (y - X b)^2 over a group's rows.
func (r *Rows) squared(sums []float64, columns []int, weights []float64) float64 {
	y := r.columns
	total := sums[r.at(y, y)]
	for i, a := range columns {
		total -= 2 * weights[i] * sums[r.at(a, y)]
		for k, b := range columns {
			total += weights[i] * weights[k] * sums[r.at(a, b)]
		}
	}
	return math.Max(0, total) // rounding aside
}

// dependent is the share of a column's sum of squares that must be its own.
const dependent = 1e-9

// solve gives the least-squares weights of the columns by Gauss and Jordan's
// elimination, zero for columns that depend on those before them.
func (r *Rows) solve(sums []float64, columns []int) []float64 {
	k := len(columns)
	m := make([]float64, k*(k+1))
	row := func(i int) []float64 { return m[i*(k+1) : (i+1)*(k+1)] }
	for i, a := range columns {
		for j, b := range columns {
			row(i)[j] = sums[r.at(a, b)]
		}
		row(i)[k] = sums[r.at(a, r.columns)]
	}
	used := make([]bool, k)
	for i := range k {
		pivot := row(i)[i]
		if !(pivot > dependent*sums[r.at(columns[i], columns[i])]) || pivot <= 0 {
			continue
		}
		used[i] = true
		for j := range row(i) {
			row(i)[j] /= pivot
		}
		for other := range k {
			if f := row(other)[i]; other != i && f != 0 {
				for j := range row(other) {
					row(other)[j] -= f * row(i)[j]
				}
			}
		}
	}
	weights := make([]float64, k)
	for i := range k {
		if used[i] {
			weights[i] = row(i)[k]
		}
	}
	return weights
}
