package mixed

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Method is the criterion that is minimised.
type Method int

const (
	// REML maximises the likelihood of residual contrasts (Patterson and
	// Thompson 1971, Biometrika 58:545): variances are not biased by the fixed
	// effects. Criteria compare only between models with the same fixed effects.
	REML Method = iota
	// ML maximises the likelihood.
	ML
)

// String returns the usual abbreviation.
func (m Method) String() string {
	switch m {
	case REML:
		return "REML"
	case ML:
		return "ML"
	}
	return fmt.Sprintf("Method(%d)", int(m))
}

// Options choose the method. The zero value is REML.
type Options struct {
	Method Method
}

// Check is the evidence that a fit is a minimum of its criterion.
type Check struct {
	Verified bool
	// Decrement is g' H^-1 g in the free coordinates, in units of the
	// criterion: the criterion lies above its minimum by half of it.
	Decrement float64
	// SmallestCurvature is the smallest eigenvalue of the Hessian scaled to
	// unit diagonal; above zero for a minimum.
	SmallestCurvature float64
	// Boundary holds a score for each dimension in which variances are zero.
	Boundary []BoundaryScore
	// Evaluations of the criterion with both derivatives.
	Evaluations int
}

// BoundaryScore is the derivative of the criterion in a variance at zero,
// divided by tr(V^-1 dV), of which it is a difference: not below zero for a
// minimum. With correlated random effects it is an eigenvalue of the derivative
// within the null space of their covariance matrix.
type BoundaryScore struct {
	Component string
	Score     float64
}

// Model is a fitted model, in the units of the data. Slices and matrices are
// the model's own: read them, do not write.
type Model struct {
	Layout Layout
	Method Method
	Rows   int
	Groups int // 0 without a group intercept

	Estimates  []float64     // of the p fixed effects, in the order of Layout.Fixed
	Covariance *mat.SymDense // of Estimates, s^2 (X' V^-1 X)^-1, variance parameters taken as known

	// Random is S, the q x q covariance of the random effects between units,
	// in the order of Layout.Random; nil when q = 0.
	Random     *mat.SymDense
	RandomRank int     // of Random; below q some variance or correlation is at its limit
	GroupSD    float64 // t; 0 without a group intercept
	ResidualSD float64 // s

	// Theta is the lower triangle by column (the diagonal, when Independent)
	// of the Cholesky factor of Random/s^2, and after it t/s when there is a
	// group intercept. (lme4 puts the term with more levels first: there t/s
	// comes before the others.)
	Theta []float64

	// Criterion is -2 log-likelihood, restricted under REML, with all constants.
	Criterion  float64
	LogLik     float64
	Parameters int // fixed effects, variances and covariances, residual variance
	AIC, BIC   float64

	Check Check

	problem *problem
	optimum *optimum
	inner   *inner
}

// inner holds what later questions need, in internal units on the absolute
// scale.
type inner struct {
	point    point
	pieces   *pieces // withResidual
	solved   *solved
	x        []float64 // absolute coordinates on the standard chart with residual
	free     []int     // of x
	variance []float64 // covariance of the free coordinates, 2 H^-1
	back     []float64 // p x p: Estimates = back beta + shift
	shift    []float64
	lift     []float64 // q x q: random effects = lift (internal ones)
}

// Fit estimates the model of the sums. The sums are not changed and may grow
// afterwards without touching the model.
//
// Errors: ErrTooFewRows (no more rows than fixed effects), ErrOneUnit,
// ErrNoVariance (constant response, or one that is fitted exactly),
// *[RankError], *[NotIdentifiedError] (for example one row in every group with a
// group intercept), ErrNotFinite (overflow), ErrArgument (unknown method),
// *[NotVerifiedError].
func Fit(s *Sums, o Options) (*Model, error) {
	if o.Method != REML && o.Method != ML {
		return nil, fmt.Errorf("mixed: %w: method %d", ErrArgument, int(o.Method))
	}
	if s.rows == 0 {
		return nil, fmt.Errorf("mixed: %w: no rows", ErrTooFewRows)
	}
	p, err := newProblem(s)
	if err != nil {
		return nil, err
	}
	return p.fit(o.Method)
}

func (p *problem) fit(method Method) (*Model, error) {
	opt, err := p.newSearch(method == REML).run()
	if err != nil {
		return nil, err
	}
	m := &Model{
		Layout: p.layout.clone(), Method: method, Rows: p.rows,
		RandomRank: opt.rank, Check: opt.check, problem: p, optimum: opt,
	}
	if p.layout.GroupIntercept {
		m.Groups = p.groups
	}
	if err := m.set(); err != nil {
		return nil, err
	}
	return m, nil
}

// Refit fits the same data by a method, which may be the model's own. Errors: those
// of [Fit].
func (m *Model) Refit(method Method) (*Model, error) {
	if method == m.Method {
		return m, nil
	}
	if method != REML && method != ML {
		return nil, fmt.Errorf("mixed: %w: method %d", ErrArgument, int(method))
	}
	return m.problem.fit(method)
}

// set carries the optimum to the units of the data.
func (m *Model) set() error {
	p, opt := m.problem, m.optimum
	w := p.newWorkspace()
	restricted := m.Method == REML
	relative := p.standardChart(false)
	pc, ok := p.evaluate(relative.point(opt.x), w)
	if !ok {
		return fmt.Errorf("mixed: %w: the criterion cannot be computed", ErrNotFinite)
	}
	sv, ok := pc.solve()
	if !ok {
		return fmt.Errorf("mixed: %w: fixed and random effects fit the response exactly", ErrNoVariance)
	}
	nu := float64(p.rows)
	if restricted {
		nu -= float64(p.p)
	}
	sigma := math.Sqrt(sv.quadratic / nu)

	// All over again on the absolute scale, which later questions use.
	in := &inner{x: make([]float64, 0, len(opt.x)+1)}
	for _, v := range opt.x {
		in.x = append(in.x, v*sigma)
	}
	in.x = append(in.x, sigma)
	in.free = append(slices.Clone(opt.active), len(opt.x))
	absolute := p.standardChart(true)
	in.point = absolute.point(in.x)
	if pc, ok = p.evaluate(in.point, w); !ok {
		return fmt.Errorf("mixed: %w: the criterion cannot be computed", ErrNotFinite)
	}
	in.pieces = p.withResidual(pc, in.point)
	cr, ok := p.full(in.pieces, restricted)
	if !ok {
		return fmt.Errorf("mixed: %w: the criterion cannot be computed", ErrNotFinite)
	}
	in.solved = cr.solved
	_, hessian := absolute.pull(in.x, cr)
	if in.variance, ok = freeInverse(hessian, absolute.size(), in.free); !ok {
		return &NotVerifiedError{Evaluations: m.Check.Evaluations, Check: m.Check}
	}
	m.inner = in
	m.setUnits(sigma, opt.value)
	return m.checkRange()
}

// rangeLimit bounds variances from either side: beyond it, products of two of them
// with whatever multiplies them come near the ends of the range of a float64.
const rangeLimit = 1e280

// checkRange refuses a model whose numbers leave the range of a float64.
func (m *Model) checkRange() error {
	values := append(slices.Clone(m.Estimates), m.Criterion, m.GroupSD)
	variances := []float64{m.ResidualSD * m.ResidualSD}
	for i := range m.Estimates {
		variances = append(variances, m.Covariance.At(i, i))
	}
	for i := range m.problem.q {
		values = append(values, m.Random.At(i, i))
	}
	bad := slices.ContainsFunc(values, notFinite) || slices.ContainsFunc(variances, func(v float64) bool {
		return !(v > 1/rangeLimit && v < rangeLimit)
	})
	if bad {
		return fmt.Errorf("mixed: %w: estimates are out of range, rescale the columns", ErrNotFinite)
	}
	return nil
}

// freeInverse gives twice the inverse of the Hessian in the free coordinates:
// the asymptotic covariance of their estimates, the Hessian being that of -2 log L.
func freeInverse(h []float64, size int, free []int) ([]float64, bool) {
	n := len(free)
	l := make([]float64, n*n)
	for i, a := range free {
		for j, b := range free {
			l[i*n+j] = h[a*size+b]
		}
	}
	if !cholesky(l, n) {
		return nil, false
	}
	out := invertCholesky(l, n)
	for i := range out {
		out[i] *= 2
	}
	return out, true
}

// setUnits undoes centring and scaling.
func (m *Model) setUnits(sigma, value float64) {
	p, in := m.problem, m.inner
	y := p.vars[p.m-1]
	in.back, in.shift = p.fixedBack()
	in.lift = p.randomBack()
	m.Estimates = multiply(in.back, in.solved.beta, p.p, p.p, 1)
	for i, v := range in.shift {
		m.Estimates[i] += v
	}
	m.Covariance = symmetrised(congruence(in.back, in.solved.phi, p.p, p.p), p.p)
	m.ResidualSD = sigma * y.scale
	if p.q > 0 {
		f := multiply(in.lift, in.point.factor, p.q, p.q, p.q)
		m.Random = symmetrised(congruence(f, identity(p.q), p.q, p.q), p.q)
		l := triangular(f, p.q, m.RandomRank)
		for _, e := range p.layout.triangle() {
			m.Theta = append(m.Theta, l[e.i*p.q+e.j]/m.ResidualSD)
		}
	}
	if p.layout.GroupIntercept {
		m.GroupSD = math.Sqrt(in.point.between) * y.scale
		m.Theta = append(m.Theta, math.Sqrt(in.point.between)/sigma)
	}
	m.Criterion = value + p.unitsConstant(m.Method == REML)
	m.LogLik = -m.Criterion / 2
	m.Parameters = p.p + len(p.components) + 1
	m.AIC = m.Criterion + 2*float64(m.Parameters)
	m.BIC = m.Criterion + math.Log(float64(p.rows))*float64(m.Parameters)
}

// unitsConstant is what the criterion gains when internal units give way to
// those of the data.
func (p *problem) unitsConstant(restricted bool) float64 {
	logY := 2 * math.Log(p.vars[p.m-1].scale)
	out := float64(p.rows) * logY
	if restricted {
		out -= float64(p.p) * logY
		for _, v := range p.vars[p.q : p.m-1] {
			out += 2 * math.Log(math.Abs(v.scale))
		}
	}
	return out
}

// fixedBack gives B and b of: estimates = B (internal estimates) + b. With
// x_j = scale_j x~_j + centre_j and a constant column of value k,
// b_j = scale_y b~_j / scale_j and k b_0 = scale_y b~_0 + centre_y - sum b_j centre_j.
func (p *problem) fixedBack() (back, shift []float64) {
	n := p.p
	x, y := p.vars[p.q:p.m-1], p.vars[p.m-1]
	back, shift = make([]float64, n*n), make([]float64, n)
	for j, v := range x {
		back[j*n+j] = y.scale / v.scale
	}
	if c := p.constant; c >= 0 {
		shift[c] = y.centre / x[c].scale
		for j, v := range x {
			if j != c {
				back[c*n+j] = -y.scale / v.scale * v.centre / x[c].scale
			}
		}
	}
	return back, shift
}

// randomBack gives T of: random effects = T (internal random effects).
func (p *problem) randomBack() []float64 {
	n := p.q
	z, y := p.vars[:n], p.vars[p.m-1]
	back := make([]float64, n*n)
	for j, v := range z {
		back[j*n+j] = y.scale / v.scale
	}
	if c := p.anchor; c >= 0 {
		for j, v := range z {
			if j != c {
				back[c*n+j] = -y.scale / v.scale * v.centre / z[c].scale
			}
		}
	}
	return back
}

func symmetrised(a []float64, n int) *mat.SymDense {
	out := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			out.SetSym(i, j, (a[i*n+j]+a[j*n+i])/2)
		}
	}
	return out
}
