package linear

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"lengthwise/stats/tail"
)

// PsiKind names the function that bounds what a row may say in [Robust].
type PsiKind int

const (
	// HuberPsi is psi(u) = max(-k, min(k, u)) (Huber 1964): residuals beyond k
	// scales count as k.
	HuberPsi PsiKind = iota
	// BisquarePsi is psi(u) = u (1 - (u/k)^2)^2 within k scales and zero beyond
	// (Beaton and Tukey 1974, Technometrics 16:147): wild rows count nothing. The
	// equations can have several solutions; the one reached from the plain
	// least-squares fit is given.
	BisquarePsi
)

// ScaleKind is the way the spread of the errors is estimated in [Robust].
type ScaleKind int

const (
	// MedianScale is the median of the absolute residuals over 0.6745.
	MedianScale ScaleKind = iota
	// Proposal2 solves sum min(r^2, (k2 s)^2) = (n - p) gamma s^2 together with
	// the coefficients, gamma being the expectation of min(z^2, k2^2) for normal z
	// (Huber 1964, Ann. Math. Stat. 35:73-101, proposal 2).
	Proposal2
)

// RobustOptions choose the estimator. The zero value is the usual one: Huber's
// psi with the median scale and a tuning constant of 1.345.
type RobustOptions struct {
	Psi PsiKind
	// Tuning is k; 0 means 1.345 for HuberPsi and 4.685 for BisquarePsi, which
	// give 95 % efficiency at the normal.
	Tuning      float64
	Scale       ScaleKind
	ScaleTuning float64 // k2 of Proposal2; 0 means 1.345
	// KnownScale, when above zero, is the spread of the errors known from
	// elsewhere, in the unit of y; Scale then plays no part.
	KnownScale float64
}

// RobustModel is a linear model fitted by M-estimation.
type RobustModel struct {
	Terms      []string // those kept, as in Model
	Dropped    []string
	Estimates  []float64
	Residuals  []float64 // N values
	Weights    []float64 // N values in [0, 1]: 1 for rows taken at face value
	Scale      float64   // spread of the errors, in the unit of y
	DFResidual int
	Iterations int
	// Covariance is stddev^2 (X'X)^-1 (Huber 1981, Robust Statistics, eq. 6.5 of
	// chapter 7), stddev^2 = K^2 sum psi^2/(n-p) / (mean psi')^2, with K = 1 + p
	// var(psi')/(n (mean psi')^2); all degrees of freedom are DFResidual.
	Covariance Covariance
}

const (
	huberTuning     = 1.345
	bisquareTuning  = 4.685
	robustTolerance = 1e-12 // relative change of the residuals that ends the iteration
	robustSteps     = 5000
	// leastWeight stands for zero, which the least-squares fit does not take.
	leastWeight = 1e-14
	// scaleFloor is the share of the residuals' length below which their scale is
	// on its way to zero.
	scaleFloor = 1e-10
	// medianOfNormal is the constant of common practice; the median of |z| is
	// 0.67449.
	medianOfNormal = 0.6745
)

// Robust fits p by M-estimation: the coefficients solve
//
//	sum over rows of psi(r_i / s) x_i = 0
//
// by least squares with weights psi(u)/u, repeated from the plain fit until the
// residuals change by less than 1e-12 of their length. Wild responses then count
// little or nothing; wild values of x still lead the line. Absorbed groups
// count as columns written out.
//
// Errors: those of [Fit]; ErrArgument for tuning constants at or below zero, a
// scale below zero or not finite, and for a problem with weights; ErrNoVariance
// when more than half of the residuals vanish, so that there is no scale;
// ErrNotConverged, also when a bisquare leaves no standard error.
func Robust(p Problem, o RobustOptions) (*RobustModel, error) {
	o, err := o.resolved()
	if err != nil {
		return nil, err
	}
	if p.Weights != nil {
		return nil, fmt.Errorf("linear: %w: Robust takes no weights of rows", ErrArgument)
	}
	plain, err := Fit(p)
	if err != nil {
		return nil, err
	}
	if plain.Exact {
		return nil, fmt.Errorf("linear: %w: the fit is exact, the residuals have no scale", ErrNoVariance)
	}
	r := &RobustModel{Terms: plain.Terms, Dropped: plain.Dropped, DFResidual: plain.DFResidual}
	m := plain
	r.Scale = medianScale(plain.Residuals)
	weights, floored := make([]float64, plain.N), make([]float64, plain.N)
	for r.Iterations = 1; ; r.Iterations++ {
		if r.Iterations > robustSteps {
			return nil, fmt.Errorf("linear: %w: the robust estimate after %d steps", ErrNotConverged, robustSteps)
		}
		r.Scale = o.scale(m.Residuals, r.Scale, plain.DFResidual)
		if !(r.Scale > scaleFloor*floats.Norm(m.Residuals, 2)) {
			return nil, fmt.Errorf("linear: %w: half of the residuals are zero, they have no scale", ErrNoVariance)
		}
		for i, e := range m.Residuals {
			weights[i] = o.weight(e / r.Scale)
			floored[i] = math.Max(leastWeight, weights[i])
		}
		p.Weights = floored
		next, err := Fit(p)
		if err != nil {
			return nil, err
		}
		if next.Rank != plain.Rank {
			return nil, fmt.Errorf("linear: %w: a term hangs on rows that have next to no weight", ErrNotConverged)
		}
		change := floats.Distance(next.Residuals, m.Residuals, 2)
		done := change <= robustTolerance*floats.Norm(m.Residuals, 2)
		m = next
		if done {
			break
		}
	}
	r.Estimates, r.Residuals, r.Weights = m.Estimates, m.Residuals, weights
	if r.Covariance, err = r.covariance(plain, o); err != nil {
		return nil, err
	}
	return r, nil
}

func (o RobustOptions) resolved() (RobustOptions, error) {
	if o.Tuning == 0 {
		o.Tuning = huberTuning
		if o.Psi == BisquarePsi {
			o.Tuning = bisquareTuning
		}
	}
	if o.ScaleTuning == 0 {
		o.ScaleTuning = huberTuning
	}
	switch {
	case o.Psi < HuberPsi || o.Psi > BisquarePsi:
		return o, fmt.Errorf("linear: %w: psi %d", ErrArgument, int(o.Psi))
	case !(o.Tuning > 0):
		return o, fmt.Errorf("linear: %w: tuning constant %v", ErrArgument, o.Tuning)
	case !(o.ScaleTuning > 0) || math.IsInf(o.ScaleTuning, 0):
		return o, fmt.Errorf("linear: %w: tuning constant of the scale %v", ErrArgument, o.ScaleTuning)
	case o.Scale < MedianScale || o.Scale > Proposal2:
		return o, fmt.Errorf("linear: %w: scale %d", ErrArgument, int(o.Scale))
	case !(o.KnownScale >= 0) || math.IsInf(o.KnownScale, 0):
		return o, fmt.Errorf("linear: %w: known scale %v", ErrArgument, o.KnownScale)
	}
	return o, nil
}

// weight is psi(u)/u.
func (o RobustOptions) weight(u float64) float64 {
	if o.Psi == BisquarePsi {
		t := math.Min(1, math.Abs(u/o.Tuning))
		return (1 - t*t) * (1 - t*t)
	}
	return math.Min(1, o.Tuning/math.Abs(u))
}

// slope is the derivative of psi at u.
func (o RobustOptions) slope(u float64) float64 {
	t := u / o.Tuning * (u / o.Tuning)
	switch {
	case t > 1:
		return 0
	case o.Psi == BisquarePsi:
		return (1 - t) * (1 - 5*t)
	}
	return 1
}

// scale is one step of the scale from the one before.
func (o RobustOptions) scale(residuals []float64, last float64, df int) float64 {
	switch {
	case o.KnownScale > 0:
		return o.KnownScale
	case o.Scale == Proposal2:
		return proposal2(residuals, last, o.ScaleTuning, df)
	}
	return medianScale(residuals)
}

func medianScale(residuals []float64) float64 {
	sizes := make([]float64, len(residuals))
	for i, e := range residuals {
		sizes[i] = math.Abs(e)
	}
	return median(sizes) / medianOfNormal
}

// median sorts v.
func median(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return v[n/2-1]/2 + v[n/2]/2
}

// proposal2 is one step of the fixed-point iteration for the scale.
func proposal2(residuals []float64, scale, k float64, df int) float64 {
	inside := math.Erf(k / math.Sqrt2) // P(|z| < k)
	gamma := inside + k*k*(1-inside) - 2*k*math.Exp(-k*k/2)/math.Sqrt(2*math.Pi)
	var sum float64
	for _, e := range residuals {
		u := math.Min(math.Abs(e)/scale, k)
		sum += u * u
	}
	return scale * math.Sqrt(sum/(float64(df)*gamma))
}

func (r *RobustModel) covariance(plain *Model, o RobustOptions) (Covariance, error) {
	n := float64(plain.N)
	p := n - float64(plain.DFResidual)
	slopes := make([]float64, plain.N)
	var squares, mean, variance float64
	for i, e := range r.Residuals {
		u := r.Weights[i] * (e / r.Scale)
		squares += u * u
		slopes[i] = o.slope(e / r.Scale)
		mean += slopes[i] / n
	}
	if !(mean > 0) {
		return Covariance{}, fmt.Errorf("linear: %w: most rows lie where the bisquare falls, the estimate has no standard error", ErrNotConverged)
	}
	for _, s := range slopes {
		variance += (s - mean) * (s - mean) / (n - 1)
	}
	deviation := math.Sqrt(squares/float64(plain.DFResidual)) * (1 + p*variance/(n*mean*mean)) / mean // in scales
	factor := deviation * (r.Scale / plain.Sigma)
	c := plain.Classical()
	v := mat.NewSymDense(plain.Rank, nil)
	v.ScaleSym(factor*factor, c.Matrix)
	return Covariance{Kind: "M-estimation", Matrix: v, DF: c.DF}, nil
}

// Coefficients gives one row for each term with intervals at the level by
// Student's t with DFResidual degrees of freedom, an approximation of common
// practice. Level is as in [Model.Coefficients].
func (r *RobustModel) Coefficients(level float64) []Coefficient {
	rows := make([]Coefficient, len(r.Terms))
	for l, term := range r.Terms {
		c := Coefficient{Term: term, Estimate: r.Estimates[l], DF: float64(r.DFResidual)}
		c.StdError = math.Sqrt(r.Covariance.Matrix.At(l, l))
		c.Statistic = c.Estimate / c.StdError
		c.PValue = tail.TwoSided(c.Statistic, c.DF)
		c.ConfLow, c.ConfHigh = interval(c.Estimate, c.StdError, c.DF, level)
		rows[l] = c
	}
	return rows
}
