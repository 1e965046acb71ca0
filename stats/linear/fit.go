package linear

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/floats"
)

// varianceTolerance is the share of the length of the response or of a column
// that must be left after centring for it to count as varying.
const varianceTolerance = 1e-13

// exactTolerance is the share of the response's length below which residuals
// are the rounding of the response itself.
const exactTolerance = 1e-15

// DropCause says why a column carries no information of its own.
type DropCause int

const (
	// DroppedZero: the column is zero throughout.
	DroppedZero DropCause = iota
	// DroppedConstant: the column does not vary within any absorbed group.
	DroppedConstant
	// DroppedCollinear: the column is a linear combination of those before it
	// (and of the absorbed groups).
	DroppedCollinear
)

func (c DropCause) String() string {
	switch c {
	case DroppedZero:
		return "zero throughout"
	case DroppedConstant:
		return "constant within the absorbed groups"
	case DroppedCollinear:
		return "a linear combination of the terms before it"
	}
	return fmt.Sprintf("DropCause(%d)", int(c))
}

// Model is a fitted linear model. Terms, Estimates and every covariance are in
// the order of the Problem's columns, without those dropped.
type Model struct {
	N              int // rows
	Rank           int // columns kept
	AbsorbedGroups int // groups whose effects were absorbed, 0 without Absorb
	Clusters       int // clusters, 0 without Cluster
	DFResidual     int // N - Rank - AbsorbedGroups

	Terms      []string    // Rank names
	Dropped    []string    // names of the columns left out, in input order
	DropCauses []DropCause // why, one for each of Dropped
	Estimates  []float64   // Rank values, unit of y over unit of the column
	Residuals  []float64   // N values y - X b - G a, in the unit of y
	Sigma      float64     // sqrt(sum w e^2 / DFResidual), in the unit of y (at weight 1)

	// Exact is true when the residuals are zero to within the rounding of y.
	// There is then no error to measure: standard errors are zero or noise.
	Exact bool

	// RSquared is 1 - sum w e^2 / sum w (y - c)^2, with c the weighted mean of
	// y when the columns or the absorbed groups span a constant, else 0.
	RSquared float64
	// RSquaredWithin is the same with c the mean of the row's absorbed group;
	// without Absorb it equals RSquared.
	RSquaredWithin float64

	// The rest is in the units of the problem that was solved: y over 2^yExp,
	// each column over a power of two of its own, weights over 4^weightExp.
	q           []float64 // N x Rank by column: orthonormal basis of sqrt(W) X, centred
	rinv        []float64 // Rank x Rank by row: R^-1, so that (X'WX)^-1 = rinv rinv'
	shift       []int     // Rank: an estimate is 2^shift times that of the problem solved
	scaled      []float64 // N: sqrt(w) e
	sigmaScaled float64   // sqrt(sum w e^2 / DFResidual)
	rootWeight  []float64 // N: sqrt(w), nil for 1
	absorb      grouping
	groupWeight []float64 // weight of each absorbed group
	cluster     grouping
	working     Working
	spread      []float64 // Rank: sum of w x^2, x about the mean that VarianceInflation names
}

// Fit gives the weighted least-squares fit of p.
//
// Columns that are zero, constant within the absorbed groups or linear
// combinations of earlier columns are left out and named in Dropped. Errors:
// ErrShape, *NotFiniteError, ErrWeight, ErrName and ErrArgument (an unknown working
// model) for a malformed problem,
// ErrNoVariance when y is constant (within the absorbed groups, or about zero
// when the model spans no constant), ErrNoTerms when no column is left,
// ErrTooFewRows when DFResidual would be below 1, ErrNotFinite when a result
// overflows.
//
// A fit may be exact; Model.Exact says so.
func Fit(p Problem) (*Model, error) {
	if err := p.validate(); err != nil {
		return nil, err
	}
	n := len(p.Response)
	m := &Model{N: n, absorb: group(p.Absorb), cluster: group(p.Cluster), working: p.Working}
	m.AbsorbedGroups, m.Clusters = m.absorb.count, m.cluster.count
	if n-m.AbsorbedGroups < 1 {
		return nil, fmt.Errorf("linear: %w: %d rows in %d absorbed groups", ErrTooFewRows, n, m.AbsorbedGroups)
	}

	t := newTransform(p.Weights, m.absorb, n)
	m.rootWeight, m.groupWeight = t.root, t.groupWeight
	b := make([]float64, n)
	yExp, yRaw := t.apply(b, p.Response)
	withinSS := floats.Dot(b, b)
	if p.Absorb != nil && math.Sqrt(withinSS) <= varianceTolerance*yRaw {
		return nil, fmt.Errorf("linear: %w: the response is constant within the absorbed groups", ErrNoVariance)
	}

	columns, exps, f := m.factorise(p, t)
	if f.k == 0 {
		return nil, fmt.Errorf("linear: %w: dropped %s", ErrNoTerms, m.droppedList())
	}
	m.Rank = f.k
	m.DFResidual = n - m.Rank - m.AbsorbedGroups
	if m.DFResidual < 1 {
		return nil, fmt.Errorf("linear: %w: %d rows for %d terms and %d absorbed groups",
			ErrTooFewRows, n, m.Rank, m.AbsorbedGroups)
	}

	about := t.aboutMean(p.Absorb != nil || spansConstant(f, t))
	totalSS := about.sumOfSquares(p.Response, yExp)
	if p.Absorb == nil {
		withinSS = totalSS
	}
	if math.Sqrt(totalSS) <= varianceTolerance*yRaw {
		return nil, fmt.Errorf("linear: %w: the response is constant", ErrNoVariance)
	}

	x, residual := f.solve(columns, b)
	m.q, m.rinv = f.q, f.inverse()
	m.Terms = make([]string, m.Rank)
	m.Estimates = make([]float64, m.Rank)
	m.spread = make([]float64, m.Rank)
	m.shift = make([]int, m.Rank)
	for l, j := range f.kept {
		m.Terms[l] = p.Terms[j]
		m.shift[l] = yExp - exps[j]
		m.Estimates[l] = math.Ldexp(x[l], m.shift[l])
		if p.Absorb != nil {
			m.spread[l] = floats.Dot(columns[j], columns[j])
		} else {
			m.spread[l] = about.sumOfSquares(p.Columns[j], exps[j])
		}
	}
	m.finishResiduals(residual, yExp, t.exponent)
	residualSS := floats.Dot(residual, residual)
	m.Exact = math.Sqrt(residualSS) <= exactTolerance*yRaw
	m.RSquared = 1 - residualSS/totalSS
	m.RSquaredWithin = 1 - residualSS/withinSS
	if err := m.checkRange(); err != nil {
		return nil, err
	}
	return m, nil
}

// factorise transforms the columns, factorises them and records those dropped.
// exps are the powers of two the columns were divided by.
func (m *Model) factorise(p Problem, t *transform) (columns [][]float64, exps []int, f *factorisation) {
	n, cols := m.N, len(p.Columns)
	columns = make([][]float64, cols)
	exps = make([]int, cols)
	raw := make([]float64, cols)
	cause := make([]DropCause, cols)
	arena := make([]float64, n*cols)
	for j, column := range p.Columns {
		columns[j] = arena[j*n : (j+1)*n]
		exps[j], raw[j] = t.apply(columns[j], column)
		switch {
		case raw[j] == 0:
			cause[j] = DroppedZero
		case m.absorb.count > 0 && math.Sqrt(floats.Dot(columns[j], columns[j])) <= varianceTolerance*raw[j]:
			clear(columns[j])
			cause[j] = DroppedConstant
		default:
			cause[j] = DroppedCollinear
		}
	}
	f = orthogonalise(columns, raw, n)
	next := 0
	for j, term := range p.Terms {
		if next < f.k && f.kept[next] == j {
			next++
			continue
		}
		m.Dropped = append(m.Dropped, term)
		m.DropCauses = append(m.DropCauses, cause[j])
	}
	return columns, exps, f
}

// finishResiduals sets everything that comes from the residuals of the
// problem solved, which it keeps.
func (m *Model) finishResiduals(residual []float64, yExp, weightExp int) {
	m.scaled = residual
	m.Residuals = make([]float64, m.N)
	copy(m.Residuals, residual)
	if m.rootWeight != nil {
		floats.Div(m.Residuals, m.rootWeight)
	}
	scaleByPowerOfTwo(m.Residuals, m.Residuals, yExp)
	m.sigmaScaled = math.Sqrt(floats.Dot(residual, residual) / float64(m.DFResidual))
	m.Sigma = math.Ldexp(m.sigmaScaled, yExp+weightExp)
}

// shiftLimit bounds the powers of two by which estimates are scaled back, so
// that their variances stay well within the range of a float64.
const shiftLimit = 400

// checkRange refuses a model whose numbers leave the range of a float64.
func (m *Model) checkRange() error {
	if math.IsInf(m.Sigma, 0) || !m.Exact && m.Sigma < 1e-300 {
		return fmt.Errorf("linear: %w: the residual standard deviation leaves the range of a float64; rescale the response", ErrNotFinite)
	}
	for l, term := range m.Terms {
		if m.shift[l] > shiftLimit || m.shift[l] < -shiftLimit {
			return fmt.Errorf("linear: %w: units of the response and of %q lie too far apart; rescale one", ErrNotFinite, term)
		}
	}
	return nil
}

func (m *Model) droppedList() string {
	parts := make([]string, len(m.Dropped))
	for i, term := range m.Dropped {
		parts[i] = fmt.Sprintf("%q (%v)", term, m.DropCauses[i])
	}
	return strings.Join(parts, ", ")
}

// index gives the place of term among the kept terms.
func (m *Model) index(term string) (int, error) {
	for l, t := range m.Terms {
		if t == term {
			return l, nil
		}
	}
	for i, t := range m.Dropped {
		if t == term {
			return 0, fmt.Errorf("linear: %w: %q was dropped, it is %v", ErrTerm, term, m.DropCauses[i])
		}
	}
	return 0, fmt.Errorf("linear: %w: %q", ErrTerm, term)
}

// spansConstant reports whether a constant lies in the space of the columns.
func spansConstant(f *factorisation, t *transform) bool {
	one := make([]float64, f.n)
	for i := range one {
		one[i] = 1
		if t.root != nil {
			one[i] = t.root[i]
		}
	}
	before := math.Sqrt(floats.Dot(one, one))
	for range 2 {
		for l := range f.k {
			floats.AddScaled(one, -floats.Dot(f.column(l), one), f.column(l))
		}
	}
	return math.Sqrt(floats.Dot(one, one)) <= rankTolerance*before
}
