package mixed

import (
	"fmt"
	"math"
)

// optimum is a verified minimum of the profiled criterion.
type optimum struct {
	x      []float64 // on the standard chart, relative to s^2
	active []int     // coordinates free at the optimum; the others are zero
	value  float64   // internal units
	check  Check
	group  bool // t^2 is zero
	rank   int  // of S
}

// search is the state of one fit.
type search struct {
	p           *problem
	restricted  bool
	chart       *chart
	w           *workspace
	evaluations int
}

const (
	// reentrySD is where it starts again when zero proves wrong.
	reentrySD = 0.1
	// negligible is the share that a variance adds to the variance of a unit's
	// (or a group's) mean below which zero is tried in its place.
	negligible = 1e-6
	// scoreTolerance is how far below zero the derivative at a boundary may
	// be, relative to the terms whose difference it is.
	scoreTolerance = 1e-8
	maxRounds      = 12
)

func (p *problem) newSearch(restricted bool) *search {
	return &search{p: p, restricted: restricted, chart: p.standardChart(false), w: p.newWorkspace()}
}

// identify fails when the expected information on the variance components,
// taken at the point x, is singular.
func (s *search) identify(x []float64) error {
	pt := s.chart.point(x)
	pc, ok := s.p.evaluate(pt, s.w)
	if !ok {
		return fmt.Errorf("mixed: %w: cross-products are out of range", ErrNotFinite)
	}
	full := s.p.withResidual(pc, pt)
	sv, ok := full.solve()
	if !ok {
		return fmt.Errorf("mixed: %w: nothing of the response is left over", ErrNoVariance)
	}
	n := full.n
	cross := full.products(sv).cross
	// The residual first, then the components in their order, unit diagonal.
	order := append([]int{n - 1}, make([]int, n-1)...)
	for a := range n - 1 {
		order[a+1] = a
	}
	l := make([]float64, n*n)
	for i, a := range order {
		for j, b := range order[:i+1] {
			l[i*n+j] = cross[a*n+b] / math.Sqrt(cross[a*n+a]) / math.Sqrt(cross[b*n+b])
			if !(cross[a*n+a] > 1e-12*full.cross[a*n+a]) {
				l[i*n+j] = 0 // the fixed effects take it all
			}
		}
	}
	semidefinite(l, n, pivotTolerance)
	for i, a := range order {
		if l[i*n+i] == 0 {
			if a == n-1 {
				return &NotIdentifiedError{Component: "residual variance"}
			}
			return &NotIdentifiedError{Component: s.p.layout.describe(s.p.components[a])}
		}
	}
	return nil
}

// on gives the criterion as a function of the active coordinates.
func (s *search) on(active []int) smooth {
	size := s.chart.size()
	return func(free []float64) (float64, []float64, []float64, bool) {
		s.evaluations++
		value, g, h, ok := s.chart.at(s.spread(active, free), s.restricted, s.w)
		if !ok {
			return 0, nil, nil, false
		}
		n := len(active)
		gradient, hessian := make([]float64, n), make([]float64, n*n)
		for i, a := range active {
			gradient[i] = g[a]
			for j, b := range active {
				hessian[i*n+j] = h[a*size+b]
			}
		}
		return value, gradient, hessian, true
	}
}

func (s *search) spread(active []int, free []float64) []float64 {
	x := make([]float64, s.chart.size())
	for i, a := range active {
		x[a] = free[i]
	}
	return x
}

func gathered(x []float64, active []int) []float64 {
	out := make([]float64, len(active))
	for i, a := range active {
		out[i] = x[a]
	}
	return out
}

// run finds and verifies the optimum.
func (s *search) run() (*optimum, error) {
	if err := s.identify(s.start(starts[0])); err != nil {
		return nil, err
	}
	x := s.best()
	active := s.nonzero(x)
	kept := false // boundary proved wrong: keep small variances
	for range maxRounds {
		m := newton(s.on(active), gathered(x, active))
		if !m.ok {
			return nil, fmt.Errorf("mixed: %w: the criterion cannot be computed", ErrNotFinite)
		}
		x = s.spread(active, m.x)
		if s.residualGone(x) {
			return nil, fmt.Errorf("mixed: %w: fixed and random effects fit the response exactly", ErrNoVariance)
		}
		if !kept {
			if reduced, changed := s.reduce(x); changed {
				x, active = reduced, s.nonzero(reduced)
				continue
			}
		}
		scores := s.scores(x)
		check := Check{Decrement: m.decrement, SmallestCurvature: m.curvature, Evaluations: s.evaluations}
		wrong := -1
		for i, b := range scores {
			check.Boundary = append(check.Boundary, b.BoundaryScore)
			if b.Score < -scoreTolerance && (wrong < 0 || b.Score < scores[wrong].Score) {
				wrong = i
			}
		}
		if wrong >= 0 {
			x = s.enter(x, scores[wrong])
			active = s.nonzero(x)
			kept = true
			continue
		}
		check.Verified = m.decrement < settled && m.curvature > 0
		if !check.Verified {
			return nil, &NotVerifiedError{Evaluations: s.evaluations, Check: check}
		}
		o := &optimum{x: x, active: active, value: m.value, check: check}
		o.group = s.chart.withGroup && x[len(x)-1] == 0
		for _, b := range scores {
			if b.direction != nil {
				o.rank--
			}
		}
		o.rank += s.p.q
		return o, nil
	}
	return nil, &NotVerifiedError{Evaluations: s.evaluations}
}

// starts are relative standard deviations (between units, between groups) the
// search begins from. With few units the criterion can have more than one
// minimum; manyUnits have shown but one (see the package's comment) and get the
// first start only.
var starts = [...][2]float64{{0.7, 0.7}, {0.1, 0.1}, {3, 0.3}, {0.3, 3}, {10, 10}}

const manyUnits = 20

func (s *search) start(sd [2]float64) []float64 {
	x := make([]float64, s.chart.size())
	for a, e := range s.chart.entries {
		if e.i == e.j {
			x[a] = sd[0]
		}
	}
	if s.chart.withGroup {
		x[len(x)-1] = sd[1]
	}
	return x
}

// best gives the first start, or the lowest of the minima reached from several.
func (s *search) best() []float64 {
	x := s.start(starts[0])
	if len(s.p.units) >= manyUnits {
		return x
	}
	active := s.nonzero(x)
	lowest := math.Inf(1)
	for _, sd := range starts {
		m := newton(s.on(active), s.start(sd))
		// The same minimum from two starts differs by rounding: keep the first.
		if m.ok && m.value < lowest-1e-8 {
			lowest, x = m.value, m.x
		}
	}
	return x
}

// nonzero lists the coordinates that are free: those of columns of L that are not
// zero, and the group's when it is not.
func (s *search) nonzero(x []float64) []int {
	q := s.p.q
	used := make([]bool, q)
	for a, e := range s.chart.entries {
		used[e.j] = used[e.j] || x[a] != 0
	}
	var out []int
	for a, e := range s.chart.entries {
		if used[e.j] {
			out = append(out, a)
		}
	}
	if s.chart.withGroup && x[len(x)-1] != 0 {
		out = append(out, len(x)-1)
	}
	return out
}

// residualGone tells whether x is at the end of the road to a residual variance
// of zero, where the criterion has no minimum.
func (s *search) residualGone(x []float64) bool {
	pc, ok := s.p.evaluate(s.chart.point(x), s.w)
	if !ok {
		return true
	}
	sv, ok := pc.solve()
	return !ok || sv.quadratic < 1e3*exactTolerance*s.p.square
}

// reduce sets to zero what is negligible.
func (s *search) reduce(x []float64) (reduced []float64, changed bool) {
	out := append([]float64(nil), x...)
	q := s.p.q
	unitRows, groupRows := 0.0, 0.0
	for _, u := range s.p.units {
		unitRows = math.Max(unitRows, float64(u.rows))
		for _, g := range u.groups {
			groupRows = math.Max(groupRows, g.rows)
		}
	}
	if s.chart.withGroup {
		at := len(x) - 1
		if x[at] != 0 && x[at]*x[at]*groupRows < negligible {
			out[at] = 0
			changed = true
		}
	}
	if s.p.layout.Independent || q == 0 {
		for a := range s.chart.entries {
			if x[a] != 0 && x[a]*x[a]*unitRows < negligible {
				out[a] = 0
				changed = true
			}
		}
		return out, changed
	}
	f := s.chart.point(x).factor
	values, vectors := eigenSymmetric(congruence(f, identity(q), q, q), q)
	zero := 0
	for k, v := range values {
		if v*unitRows < negligible {
			values[k] = 0
			zero++
		}
	}
	had := 0
	for j := range q {
		if s.zeroColumn(x, j) {
			had++
		}
	}
	if zero <= had {
		return out, changed
	}
	s.setCovariance(out, recompose(values, vectors, q))
	return out, true
}

func (s *search) zeroColumn(x []float64, j int) bool {
	for a, e := range s.chart.entries {
		if e.j == j && x[a] != 0 {
			return false
		}
	}
	return true
}

// setCovariance writes the canonical factor of the relative covariance g.
func (s *search) setCovariance(x, g []float64) {
	q := s.p.q
	l := append([]float64(nil), g...)
	semidefinite(l, q, 1e-10)
	for a, e := range s.chart.entries {
		x[a] = l[e.i*q+e.j]
	}
}
