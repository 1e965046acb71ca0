package mixed

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
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
	exact       bool // the residual variance ran to zero
}

const (
	// startSD is the relative standard deviation the search starts from, in
	// units of columns scaled to about 1.
	startSD = 0.7
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
	x := s.start()
	if err := s.identify(x); err != nil {
		return nil, err
	}
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

func (s *search) start() []float64 {
	x := make([]float64, s.chart.size())
	for a, e := range s.chart.entries {
		if e.i == e.j {
			x[a] = startSD
		}
	}
	if s.chart.withGroup {
		x[len(x)-1] = startSD
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

func (s *search) residualGone(x []float64) bool {
	pc, ok := s.p.evaluate(s.chart.point(x), s.w)
	if !ok {
		return true
	}
	total := s.p.total()
	sv, ok := pc.solve()
	return !ok || sv.quadratic < exactTolerance*total[len(total)-1]
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

// boundary is the score in one direction that leaves the boundary.
type boundary struct {
	BoundaryScore
	direction []float64 // eigenvector of the null space, or nil for the group
	index     int       // of the component when independent
}

// scores gives the derivative of the criterion in each direction that leaves
// the boundary at x, relative to the size of the terms it is the difference of.
func (s *search) scores(x []float64) []boundary {
	q := s.p.q
	pt := s.chart.point(x)
	pc, _ := s.p.evaluate(pt, s.w)
	cr, ok := s.p.profiled(pc, s.restricted)
	if !ok {
		return nil
	}
	var out []boundary
	n := len(s.p.components)
	if s.chart.withGroup && x[len(x)-1] == 0 {
		out = append(out, boundary{BoundaryScore: BoundaryScore{
			Component: s.p.layout.describe(groupComponent), Score: cr.gradient[n-1] / pc.trace[n-1],
		}})
	}
	if q == 0 {
		return out
	}
	// gradient and scale as matrices: d criterion = tr(G dS)
	gm, sm := make([]float64, q*q), make([]float64, q*q)
	for a, c := range s.p.components {
		switch {
		case c == groupComponent:
		case c.i == c.j:
			gm[c.i*q+c.i], sm[c.i*q+c.i] = cr.gradient[a], pc.trace[a]
		default:
			gm[c.i*q+c.j], gm[c.j*q+c.i] = cr.gradient[a]/2, cr.gradient[a]/2
			sm[c.i*q+c.j], sm[c.j*q+c.i] = pc.trace[a]/2, pc.trace[a]/2
		}
	}
	if s.p.layout.Independent {
		for a, c := range s.p.components {
			if c != groupComponent && x[a] == 0 {
				v := make([]float64, q)
				v[c.i] = 1
				out = append(out, boundary{BoundaryScore{s.p.layout.describe(c), gm[c.i*q+c.i] / sm[c.i*q+c.i]}, v, a})
			}
		}
		return out
	}
	values, vectors := eigenSymmetric(congruence(pt.factor, identity(q), q, q), q)
	null := 0
	for j := range q {
		if s.zeroColumn(x, j) {
			null++
		}
	}
	if null == 0 {
		return out
	}
	// Eigenvalues ascend: the first `null` vectors span the null space.
	_ = values
	basis := make([]float64, null*q)
	for k := range null {
		for i := range q {
			basis[k*q+i] = vectors[i*q+k]
		}
	}
	low, turn := eigenSymmetric(congruence(basis, gm, null, q), null)
	for k := range null {
		v := make([]float64, q)
		for r := range null {
			for i := range q {
				v[i] += turn[r*null+k] * basis[r*q+i]
			}
		}
		name := "covariance matrix of the random effects"
		if q == 1 {
			name = s.p.layout.describe(s.p.components[0])
		}
		out = append(out, boundary{BoundaryScore{name, low[k] / quadratic(v, sm, v)}, v, -1})
	}
	return out
}

// enter leaves the boundary along the direction of b.
func (s *search) enter(x []float64, b boundary) []float64 {
	out := append([]float64(nil), x...)
	switch q := s.p.q; {
	case b.direction == nil:
		out[len(out)-1] = reentrySD
	case s.p.layout.Independent:
		out[b.index] = reentrySD
	default:
		f := s.chart.point(x).factor
		g := congruence(f, identity(q), q, q)
		for i := range q {
			for j := range q {
				g[i*q+j] += reentrySD * reentrySD * b.direction[i] * b.direction[j]
			}
		}
		s.setCovariance(out, g)
	}
	return out
}

// eigenSymmetric gives eigenvalues, ascending, and eigenvectors by column.
func eigenSymmetric(a []float64, n int) (values, vectors []float64) {
	var e mat.EigenSym
	if !e.Factorize(mat.NewSymDense(n, a), true) {
		// LAPACK's QR iteration does not fail on finite input.
		return make([]float64, n), identity(n)
	}
	var v mat.Dense
	e.VectorsTo(&v)
	return e.Values(nil), v.RawMatrix().Data
}

// recompose gives V diag(values) V'.
func recompose(values, vectors []float64, n int) []float64 {
	out := make([]float64, n*n)
	for k, v := range values {
		if v == 0 {
			continue
		}
		for i := range n {
			for j := range n {
				out[i*n+j] += v * vectors[i*n+k] * vectors[j*n+k]
			}
		}
	}
	return out
}
