package mixed

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"lengthwise/stats/tail"
)

// Approximation chooses the standard errors and degrees of freedom of fixed
// effects.
type Approximation int

const (
	// Satterthwaite matches the variance of the estimated variance:
	// df = 2 v^2 / Var(v), v = l' Cov(b) l, Var(v) by the delta method from the
	// Hessian of the criterion (Giesbrecht and Burns 1985, Biometrics 41:477;
	// Kuznetsova et al. 2017, Journal of Statistical Software 82(13)).
	Satterthwaite Approximation = iota
	// KenwardRoger also enlarges the covariance for the variance parameters
	// being estimates, and uses their expected information (Kenward and Roger
	// 1997, Biometrics 53:983). It needs a fit by REML.
	KenwardRoger
	// Normal takes the covariance as known: too narrow for few units.
	Normal
)

// String returns the usual name.
func (a Approximation) String() string {
	names := [...]string{"Satterthwaite", "Kenward-Roger", "normal"}
	if a < 0 || int(a) >= len(names) {
		return fmt.Sprintf("Approximation(%d)", int(a))
	}
	return names[a]
}

// Coefficient is one row of a table of fixed effects.
type Coefficient struct {
	Term              string
	Estimate          float64
	StdError          float64
	Statistic         float64 // Estimate / StdError
	DF                float64 // +Inf for Normal
	PValue            float64 // two-sided, Student's t with DF
	ConfLow, ConfHigh float64
}

// Coefficients gives a row for each fixed effect in the order of Layout.Fixed.
// Errors: ErrArgument (level not within (0, 1), unknown approximation),
// ErrMethod (Kenward-Roger of an ML fit).
//
// Coverage of the 95 % interval of a slope with Satterthwaite's df is in the
// doc comment of [Model.Profile].
func (m *Model) Coefficients(a Approximation, level float64) ([]Coefficient, error) {
	out := make([]Coefficient, m.problem.p)
	for i := range out {
		weights := make([]float64, m.problem.p)
		weights[i] = 1
		c, err := m.Contrast(weights, a, level)
		if err != nil {
			return nil, err
		}
		c.Term = m.Layout.Fixed[i]
		out[i] = c
	}
	return out, nil
}

// Contrast gives the row of the linear combination weights' b, p weights in the
// order of Layout.Fixed. Errors: those of Coefficients, ErrShape, ErrArgument
// also for weights that are all zero or not finite.
func (m *Model) Contrast(weights []float64, a Approximation, level float64) (Coefficient, error) {
	if err := checkLevel(level); err != nil {
		return Coefficient{}, err
	}
	if len(weights) != m.problem.p {
		return Coefficient{}, fmt.Errorf("mixed: %w: %d weights for %d fixed effects", ErrShape, len(weights), m.problem.p)
	}
	if slices.ContainsFunc(weights, notFinite) || !slices.ContainsFunc(weights, func(v float64) bool { return v != 0 }) {
		return Coefficient{}, fmt.Errorf("mixed: %w: weights must be finite and not all zero", ErrArgument)
	}
	c := Coefficient{Estimate: dot(weights, m.Estimates)}
	inner := multiply(transpose(m.inner.back, m.problem.p, m.problem.p), weights, m.problem.p, m.problem.p, 1)
	phi := m.inner.solved.phi
	variance := quadratic(inner, phi, inner)
	switch a {
	case Satterthwaite:
		c.DF = m.satterthwaite(variance, m.slopes(func(t []float64) float64 { return m.sandwiched(inner, t) }))
	case KenwardRoger:
		kr, err := m.kenwardRoger()
		if err != nil {
			return Coefficient{}, err
		}
		c.DF = kr.df(inner, variance)
		variance = quadratic(inner, kr.adjusted, inner)
	case Normal:
		c.DF = math.Inf(1)
	default:
		return Coefficient{}, fmt.Errorf("mixed: %w: %v", ErrArgument, a)
	}
	c.StdError = math.Sqrt(variance)
	c.Statistic = c.Estimate / c.StdError
	c.PValue, c.ConfLow, c.ConfHigh = student(c.Estimate, c.StdError, c.DF, level)
	return c, nil
}

func checkLevel(level float64) error {
	if !(level > 0 && level < 1) {
		return fmt.Errorf("mixed: %w: level %v is not between 0 and 1", ErrArgument, level)
	}
	return nil
}

// student gives the two-sided p-value and interval of an estimate.
func student(estimate, stdError, df, level float64) (p, low, high float64) {
	c := tail.Critical(1-level, df)
	return tail.TwoSided(estimate/stdError, df), estimate - c*stdError, estimate + c*stdError
}

// sandwiched gives x' Phi T_xx Phi x: the derivative of the variance of x'b in
// the component with T = w' V^-1 V_a V^-1 w.
func (m *Model) sandwiched(x, t []float64) float64 {
	p := m.problem.p
	v := multiply(m.inner.solved.phi, x, p, p, 1)
	var sum float64
	for i, vi := range v {
		sum += vi * dot(t[i*(p+1):i*(p+1)+p], v)
	}
	return sum
}

// slopes gives the derivative in the free coordinates of a quantity whose
// derivative in a component is f(T).
func (m *Model) slopes(f func(t []float64) float64) []float64 {
	g := make([]float64, m.inner.pieces.n)
	for a, t := range m.inner.pieces.t {
		g[a] = f(t)
	}
	return m.toFree(g)
}

// toFree carries a derivative in the components (and s^2) to the free coordinates.
func (m *Model) toFree(g []float64) []float64 {
	c := m.problem.standardChart(true)
	size := c.size()
	all := multiply(g, c.jacobian(m.inner.x), 1, len(g), size)
	return gathered(all, m.inner.free)
}

// satterthwaite gives 2 v^2 / (g' A g); g over v first, since squares of variances
// leave the range long before the variances do.
func (m *Model) satterthwaite(v float64, g []float64) float64 {
	relative := make([]float64, len(g))
	for i, s := range g {
		relative[i] = s / v
	}
	spread := quadratic(relative, m.inner.variance, relative)
	if !(spread > 0) {
		return math.Inf(1)
	}
	return 2 / spread
}

// Joint is a test of several linear hypotheses together.
type Joint struct {
	Statistic float64 // F, scaled as the approximation has it
	Rank      float64 // numerator degrees of freedom
	DF        float64 // denominator degrees of freedom, +Inf for Normal
	Scale     float64 // the factor on F of Kenward and Roger, else 1
	PValue    float64
}

// Test tests rows b = 0 jointly, rows being r sets of p weights, linearly
// independent. Satterthwaite: F on the eigenvectors of the covariance with the
// df of Fai and Cornelius (1996, Journal of Statistical Computation and
// Simulation 54:363); KenwardRoger: their scaled F. Errors: those of Contrast;
// ErrRank when the rows depend on one another.
func (m *Model) Test(rows [][]float64, a Approximation) (Joint, error) {
	p, r := m.problem.p, len(rows)
	if r == 0 || r > p {
		return Joint{}, fmt.Errorf("mixed: %w: %d hypotheses on %d fixed effects", ErrShape, r, p)
	}
	l := make([]float64, 0, r*p)
	estimate := make([]float64, r)
	for i, row := range rows {
		if _, err := m.Contrast(row, Normal, 0.5); err != nil {
			return Joint{}, err
		}
		l = append(l, multiply(row, m.inner.back, 1, p, p)...)
		estimate[i] = dot(row, m.Estimates)
	}
	phi := m.inner.solved.phi
	switch a {
	case Satterthwaite, Normal:
	case KenwardRoger:
		kr, err := m.kenwardRoger()
		if err != nil {
			return Joint{}, err
		}
		return kr.test(l, r, estimate)
	default:
		return Joint{}, fmt.Errorf("mixed: %w: %v", ErrArgument, a)
	}
	covariance := congruence(l, phi, r, p)
	scaled, ok := rankChecked(covariance, r)
	if !ok {
		return Joint{}, fmt.Errorf("mixed: %w: the hypotheses depend on one another", ErrRank)
	}
	out := Joint{Rank: float64(r), Scale: 1, DF: math.Inf(1)}
	inverse := invertCholesky(scaled, r)
	out.Statistic = quadratic(estimate, inverse, estimate) / float64(r)
	if a == Satterthwaite {
		values, vectors := eigenSymmetric(covariance, r)
		var e float64
		small := false
		df := make([]float64, r)
		for k := range r {
			x := make([]float64, p)
			for i := range r {
				for j := range p {
					x[j] += vectors[i*r+k] * l[i*p+j]
				}
			}
			df[k] = m.satterthwaite(values[k], m.slopes(func(t []float64) float64 { return m.sandwiched(x, t) }))
			small = small || df[k] <= 2
			if math.IsInf(df[k], 1) {
				e++
			} else if df[k] > 2 {
				e += df[k] / (df[k] - 2)
			}
		}
		out.DF = combine(df, e, small)
	}
	out.PValue = tail.F(out.Statistic, out.Rank, out.DF)
	return out, nil
}

// combine gives the denominator df of a sum of squared t values (Fai and
// Cornelius 1996): 2E/(E-r), E the sum of df/(df-2); equal df stay what they are,
// and with a df of 2 or less the test has 2.
func combine(df []float64, e float64, small bool) float64 {
	if spread := slices.Max(df) - slices.Min(df); !(spread >= 1e-8) {
		return df[0]
	}
	if small {
		return 2
	}
	return 2 * e / (e - float64(len(df)))
}

// rankChecked gives the Cholesky factor of a covariance unless it is singular.
func rankChecked(a []float64, n int) ([]float64, bool) {
	tested := slices.Clone(a)
	if semidefinite(tested, n, pivotTolerance) < n {
		return nil, false
	}
	return tested, true
}

// AdjustedCovariance gives the covariance of Estimates enlarged after Kenward
// and Roger (1997). Errors: ErrMethod for an ML fit, *[NotIdentifiedError].
func (m *Model) AdjustedCovariance() (*mat.SymDense, error) {
	kr, err := m.kenwardRoger()
	if err != nil {
		return nil, err
	}
	return symmetrised(congruence(m.inner.back, kr.adjusted, m.problem.p, m.problem.p), m.problem.p), nil
}
