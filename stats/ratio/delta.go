package ratio

import (
	"fmt"
	"math"

	"lengthwise/stats/tail"
)

// Approximation is a quotient with the standard error of the delta method.
type Approximation struct {
	Estimate          float64 // a/b
	StdError          float64
	ConfLow, ConfHigh float64 // Estimate -+ t StdError
	Level, DF         float64
}

// Delta gives the quotient a/b with the standard error of the delta method,
//
//	SE^2 = (v_aa - 2 theta v_ab + theta^2 v_bb) / b^2,  theta = a/b,
//
// and the symmetric interval by Student's t. It is the limit of Fieller's set as
// Set.G goes to zero; a common rule trusts it for G below 0.05 (Finney 1978,
// value from memory). With a denominator that is not clearly different from zero
// it covers too little and always claims a finite range: prefer [Fieller].
//
// Errors: those of Fieller, and ErrZeroDenominator.
func Delta(p Pair, level float64) (Approximation, error) {
	if err := p.check(level); err != nil {
		return Approximation{}, err
	}
	if p.Denominator == 0 {
		return Approximation{}, fmt.Errorf("ratio: %w", ErrZeroDenominator)
	}
	theta := p.Numerator / p.Denominator
	variance := p.NumeratorVariance - 2*theta*p.Covariance + theta*theta*p.DenominatorVariance
	se := math.Sqrt(math.Max(0, variance)) / math.Abs(p.Denominator)
	half := tail.Critical(1-level, p.DF) * se
	if math.IsInf(theta, 0) || math.IsNaN(half) || math.IsInf(half, 0) {
		return Approximation{}, fmt.Errorf("ratio: %w: the quotient overflows; change units", ErrNotFinite)
	}
	return Approximation{
		Estimate: theta, StdError: se, ConfLow: theta - half, ConfHigh: theta + half,
		Level: level, DF: p.DF,
	}, nil
}

// TurningPoint is what is known of the turning point of a quadratic.
type TurningPoint struct {
	Estimate float64 // -b1/(2 b2), in the unit of x
	// Minimum says that the fitted curve turns at a minimum (b2 > 0). The set
	// holds turning points of either kind.
	Minimum bool
	// CurvaturePValue is the two-sided p-value of "b2 is zero". At 1 - Level and
	// above the set is not an interval.
	CurvaturePValue float64
	Set             Set
	StdError        float64 // of the delta method
}

// TurningPointOf gives the turning point of b0 + b1 x + b2 x^2 with its Fieller
// set and, for comparison, the standard error of the delta method. Arguments are
// those of [Quadratic]; errors those of [Delta] (ErrZeroDenominator for a curve
// without curvature), and ErrNoVariance when b2 has no variance.
func TurningPointOf(b1, b2, v11, v12, v22, df, level float64) (TurningPoint, error) {
	p := Quadratic(b1, b2, v11, v12, v22, df)
	d, err := Delta(p, level)
	if err != nil {
		return TurningPoint{}, err
	}
	if v22 == 0 {
		return TurningPoint{}, fmt.Errorf("ratio: %w: the curvature is without error", ErrNoVariance)
	}
	s, err := Fieller(p, level)
	if err != nil {
		return TurningPoint{}, err
	}
	return TurningPoint{
		Estimate: d.Estimate, Minimum: b2 > 0, CurvaturePValue: tail.TwoSided(b2/math.Sqrt(v22), df),
		Set: s, StdError: d.StdError,
	}, nil
}
