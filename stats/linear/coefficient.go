package linear

import (
	"fmt"
	"math"

	"lengthwise/stats/tail"
)

// Coefficient is one row of a table of estimates.
type Coefficient struct {
	Term      string
	Estimate  float64
	StdError  float64
	Statistic float64 // Estimate / StdError
	DF        float64
	PValue    float64 // two-sided, Student's t with DF
	ConfLow   float64
	ConfHigh  float64
}

// Coefficients gives one row for each term of m, in order, under the covariance
// c (which must come from m) with intervals at the given level, such as 0.95.
// A level of 0 or below shrinks the intervals to the estimate, one of 1 or
// above widens them to the whole line. It returns nil when c does not fit m.
//
// No row holds a NaN. Two cases need reading:
//   - c knows nothing of the coefficient (DF 0): StdError is +Inf, Statistic 0,
//     PValue 1, the interval the whole line.
//   - the fit is exact (Model.Exact): standard errors are rounding noise and
//     so is all that follows from them. Where one is zero, Statistic is +Inf or
//     -Inf and PValue 0, or 0 and 1 when the estimate is zero too.
func (m *Model) Coefficients(c Covariance, level float64) []Coefficient {
	if !m.owns(c) {
		return nil
	}
	rows := make([]Coefficient, m.Rank)
	for l := range rows {
		rows[l] = m.coefficient(l, c, level)
	}
	return rows
}

// Coefficient gives the row of one term. It returns ErrTerm when the term is
// unknown or was dropped (and why), ErrArgument when level is not within (0, 1)
// or c does not fit m, ErrNoInformation when c has DF 0 for the term,
// ErrNoVariance when the fit is exact.
func (m *Model) Coefficient(term string, c Covariance, level float64) (Coefficient, error) {
	l, err := m.index(term)
	if err != nil {
		return Coefficient{}, err
	}
	if !(level > 0 && level < 1) {
		return Coefficient{}, fmt.Errorf("linear: %w: level %v is not between 0 and 1", ErrArgument, level)
	}
	if !m.owns(c) {
		return Coefficient{}, fmt.Errorf("linear: %w: the covariance is not of this model's %d terms", ErrArgument, m.Rank)
	}
	if m.Exact {
		return Coefficient{}, fmt.Errorf("linear: %w: the fit is exact, there is no error to measure", ErrNoVariance)
	}
	if !(c.DF[l] > 0) {
		return Coefficient{}, fmt.Errorf("linear: %w: %s of %q; no contrast between clusters bears on it", ErrNoInformation, c.Kind, term)
	}
	return m.coefficient(l, c, level), nil
}

func (m *Model) owns(c Covariance) bool {
	return c.Matrix != nil && c.Matrix.SymmetricDim() == m.Rank && len(c.DF) == m.Rank
}

func (m *Model) coefficient(l int, c Covariance, level float64) Coefficient {
	r := Coefficient{Term: m.Terms[l], Estimate: m.Estimates[l], DF: c.DF[l]}
	if !(r.DF > 0) {
		r.StdError, r.PValue = math.Inf(1), 1
		r.ConfLow, r.ConfHigh = math.Inf(-1), math.Inf(1)
		return r
	}
	r.StdError = math.Sqrt(math.Max(0, c.Matrix.At(l, l)))
	switch {
	case r.StdError > 0:
		r.Statistic = r.Estimate / r.StdError
	case r.Estimate != 0:
		r.Statistic = math.Copysign(math.Inf(1), r.Estimate)
	}
	r.PValue = tail.TwoSided(r.Statistic, r.DF)
	r.ConfLow, r.ConfHigh = interval(r.Estimate, r.StdError, r.DF, level)
	return r
}

// interval is estimate -+ t stdError with t at the two-sided level.
func interval(estimate, stdError, df, level float64) (low, high float64) {
	switch {
	case level <= 0:
		return estimate, estimate
	case !(level < 1):
		return math.Inf(-1), math.Inf(1)
	}
	half := tail.Critical(1-level, df) * stdError
	return estimate - half, estimate + half
}

// PartialCorrelation gives the correlation of the response with a term when
// both are freed of all other terms and of the absorbed groups,
//
//	r = t / sqrt(t^2 + df)
//
// with t the classical statistic and df = DFResidual, the degrees of freedom of
// the t test of r (Fisher 1924). It depends on the fit alone, not on a choice
// of covariance. Errors: ErrTerm; ErrNoVariance when the fit is exact.
func (m *Model) PartialCorrelation(term string) (r float64, df int, err error) {
	l, err := m.index(term)
	if err != nil {
		return 0, 0, err
	}
	if m.Exact {
		return 0, 0, fmt.Errorf("linear: %w: the fit is exact, nothing of the response is left for %q to correlate with", ErrNoVariance, term)
	}
	// t^2/df = estimate^2 / (RSS v)
	root := math.Sqrt(m.unscaledVariance(l)*float64(m.DFResidual)) * m.sigmaScaled
	estimate := math.Ldexp(m.Estimates[l], -m.shift[l])
	return estimate / math.Hypot(estimate, root), m.DFResidual, nil
}

// VarianceInflation gives the factor by which the classical variance of a
// term's estimate exceeds what it would be if the term were uncorrelated with
// all others: 1/(1 - R^2) of the term regressed on the others (Marquardt 1970).
// The variation is counted within the absorbed groups, else about the mean when
// the model spans a constant, else about zero. Errors: ErrTerm; ErrNoVariance
// for a term that is itself constant.
func (m *Model) VarianceInflation(term string) (float64, error) {
	l, err := m.index(term)
	if err != nil {
		return 0, err
	}
	vif := m.spread[l] * m.unscaledVariance(l)
	// Rounding aside the factor is at least 1; the intercept gives about 0.
	if vif < 0.5 {
		return 0, fmt.Errorf("linear: %w: %q is constant", ErrNoVariance, term)
	}
	return math.Max(1, vif), nil
}

// unscaledVariance is the l-th diagonal entry of (X'WX)^-1 of the problem solved.
func (m *Model) unscaledVariance(l int) float64 {
	var v float64
	for _, a := range m.rinv[l*m.Rank : (l+1)*m.Rank] {
		v += a * a
	}
	return v
}
