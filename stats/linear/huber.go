package linear

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// ScaleKind is the way the spread of the errors is estimated in [Huber].
type ScaleKind int

const (
	// MedianScale is the median of the absolute residuals over 0.6745.
	MedianScale ScaleKind = iota
	// Proposal2 solves sum min(r^2, (k2 s)^2) = (n - p) gamma s^2 together with
	// the coefficients, gamma being the expectation of min(z^2, k2^2) for normal z
	// (Huber 1964, Ann. Math. Stat. 35:73-101, proposal 2).
	Proposal2
)

// HuberOptions choose the estimator. The zero value is the usual one: the median
// scale and a tuning constant of 1.345, which gives 95 % efficiency at the normal.
type HuberOptions struct {
	Tuning      float64 // residuals beyond Tuning scales lose weight; 0 means 1.345
	Scale       ScaleKind
	ScaleTuning float64 // k2 of Proposal2; 0 means 1.345
}

// RobustModel is a linear model fitted by Huber's M-estimation.
type RobustModel struct {
	Terms      []string // those kept, as in Model
	Dropped    []string
	Estimates  []float64
	Residuals  []float64 // N values
	Weights    []float64 // N values in (0, 1]: 1 for rows taken at face value
	Scale      float64   // spread of the errors, in the unit of y
	DFResidual int
	Iterations int
	// Covariance is stddev^2 (X'X)^-1 (Huber 1981, Robust Statistics, eq. 6.5 of
	// chapter 7), stddev^2 = K^2 sum psi^2/(n-p) / (mean psi')^2, with K = 1 + p
	// var(psi')/(n (mean psi')^2); all degrees of freedom are DFResidual.
	Covariance Covariance
}

const (
	defaultTuning   = 1.345
	huberTolerance  = 1e-12 // relative change of the residuals that ends the iteration
	huberIterations = 5000
	// scaleFloor is the share of the residuals' length below which their scale is
	// on its way to zero.
	scaleFloor = 1e-10
	// medianOfNormal is the constant of common practice; the median of |z| is
	// 0.67449.
	medianOfNormal = 0.6745
)

// Huber fits p by M-estimation with Huber's psi: the coefficients solve
//
//	sum over rows of psi(r_i / s) x_i = 0,   psi(u) = max(-k, min(k, u)),
//
// by least squares with weights psi(u)/u, repeated from the plain fit until the
// residuals change by less than 1e-12 of their length. Wild responses then count
// no more than k scales; wild values of x still lead the line. Absorbed groups
// count as columns written out.
//
// Errors: those of [Fit]; ErrArgument for tuning constants at or below zero, and
// for a problem with weights; ErrNoVariance when more than half of the residuals
// vanish, so that there is no scale; ErrNotConverged.
func Huber(p Problem, o HuberOptions) (*RobustModel, error) {
	o, err := o.resolved()
	if err != nil {
		return nil, err
	}
	if p.Weights != nil {
		return nil, fmt.Errorf("linear: %w: Huber takes no weights of rows", ErrArgument)
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
	weights := make([]float64, plain.N)
	for r.Iterations = 1; ; r.Iterations++ {
		if r.Iterations > huberIterations {
			return nil, fmt.Errorf("linear: %w: Huber's estimate after %d steps", ErrNotConverged, huberIterations)
		}
		if o.Scale == MedianScale {
			r.Scale = medianScale(m.Residuals)
		} else {
			r.Scale = proposal2(m.Residuals, r.Scale, o.ScaleTuning, plain.DFResidual)
		}
		if !(r.Scale > scaleFloor*floats.Norm(m.Residuals, 2)) {
			return nil, fmt.Errorf("linear: %w: half of the residuals are zero, they have no scale", ErrNoVariance)
		}
		for i, e := range m.Residuals {
			weights[i] = math.Min(1, o.Tuning*r.Scale/math.Abs(e))
		}
		p.Weights = weights
		next, err := Fit(p)
		if err != nil {
			return nil, err
		}
		if next.Rank != plain.Rank {
			return nil, fmt.Errorf("linear: %w: a term hangs on rows that have next to no weight", ErrNotConverged)
		}
		change := floats.Distance(next.Residuals, m.Residuals, 2)
		done := change <= huberTolerance*floats.Norm(m.Residuals, 2)
		m = next
		if done {
			break
		}
	}
	r.Estimates, r.Residuals, r.Weights = m.Estimates, m.Residuals, slices.Clone(weights)
	r.Covariance = r.covariance(plain, o.Tuning)
	return r, nil
}

func (o HuberOptions) resolved() (HuberOptions, error) {
	if o.Tuning == 0 {
		o.Tuning = defaultTuning
	}
	if o.ScaleTuning == 0 {
		o.ScaleTuning = defaultTuning
	}
	switch {
	case !(o.Tuning > 0):
		return o, fmt.Errorf("linear: %w: tuning constant %v", ErrArgument, o.Tuning)
	case !(o.ScaleTuning > 0) || math.IsInf(o.ScaleTuning, 0):
		return o, fmt.Errorf("linear: %w: tuning constant of the scale %v", ErrArgument, o.ScaleTuning)
	case o.Scale < MedianScale || o.Scale > Proposal2:
		return o, fmt.Errorf("linear: %w: scale %d", ErrArgument, int(o.Scale))
	}
	return o, nil
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

func (r *RobustModel) covariance(plain *Model, tuning float64) Covariance {
	n := float64(plain.N)
	p := n - float64(plain.DFResidual)
	var squares, inside float64
	for i, e := range r.Residuals {
		squares += (r.Weights[i] * e) * (r.Weights[i] * e)
		if math.Abs(e) <= tuning*r.Scale {
			inside++
		}
	}
	mean := inside / n // of psi', which is 0 or 1
	variance := n / (n - 1) * mean * (1 - mean)
	deviation := math.Sqrt(squares/float64(plain.DFResidual)) * (1 + p*variance/(n*mean*mean)) / mean
	c := plain.Classical()
	v := mat.NewSymDense(plain.Rank, nil)
	v.ScaleSym(deviation/plain.Sigma*(deviation/plain.Sigma), c.Matrix)
	return Covariance{Kind: "Huber", Matrix: v, DF: c.DF}
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
		c.PValue = twoSided(c.Statistic, c.DF)
		c.ConfLow, c.ConfHigh = interval(c.Estimate, c.StdError, c.DF, level)
		rows[l] = c
	}
	return rows
}
