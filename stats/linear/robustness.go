package linear

import (
	"fmt"
	"math"

	"lengthwise/stats/tail"
)

// RobustnessValue says how strong an unmeasured confounder must be to explain
// an estimate away: the share of the residual variance of both the response
// and the term that it must account for, to bring the estimate to zero (Cinelli
// and Hazlett 2020, J. R. Stat. Soc. B 82:39-67, with q = 1):
//
//	RV = (sqrt(f^4 + 4 f^2) - f^2) / 2,  f = |t| / sqrt(df)
//
// It lies in [0, 1): near 0 a weak confounder suffices. t must be the classical
// statistic and df the residual degrees of freedom of the fit, since f is a
// partial effect size; with a robust t the formula does not hold. It returns
// ErrArgument for a t that is not finite or a df that is not above zero.
func RobustnessValue(t, df float64) (float64, error) {
	if math.IsNaN(t) || math.IsInf(t, 0) {
		return 0, fmt.Errorf("linear: %w: t is %v", ErrArgument, t)
	}
	if !(df > 0) || math.IsInf(df, 0) {
		return 0, fmt.Errorf("linear: %w: df is %v", ErrArgument, df)
	}
	f := math.Abs(t) / math.Sqrt(df)
	if math.IsInf(f, 0) {
		return 0, fmt.Errorf("linear: %w: t is %v with df %v", ErrArgument, t, df)
	}
	// The printed form, multiplied out so that large f keep their digits.
	return 2 * f / (f + math.Hypot(f, 2)), nil
}

// Equivalence is the result of two one-sided tests.
type Equivalence struct {
	Low, High      float64 // the bounds
	StatisticLower float64 // (estimate - Low) / stdError
	StatisticUpper float64 // (estimate - High) / stdError
	DF             float64
	PLower         float64 // of "the effect is at or below Low"
	PUpper         float64 // of "the effect is at or above High"
	P              float64 // the larger of the two
	Alpha          float64
	Equivalent     bool    // P < Alpha
	ConfLow        float64 // limits of the interval at level 1 - 2 Alpha,
	ConfHigh       float64 // inside the bounds exactly when Equivalent
}

// TwoOneSided tests whether an effect lies between low and high (Schuirmann
// 1987, J. Pharmacokinet. Biopharm. 15:657-680): both "at or below low" and "at
// or above high" must be rejected at level alpha by Student's t with df degrees
// of freedom. Pass the standard error and the degrees of freedom of the
// covariance in use; df may be +Inf for the normal. It returns ErrArgument
// unless estimate is finite, stdError finite and above zero, df above zero,
// low < high both finite, and 0 < alpha < 0.5.
func TwoOneSided(estimate, stdError, df, low, high, alpha float64) (Equivalence, error) {
	bad := func(format string, args ...any) (Equivalence, error) {
		return Equivalence{}, fmt.Errorf("linear: %w: "+format, append([]any{ErrArgument}, args...)...)
	}
	isFinite := func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
	switch {
	case !isFinite(estimate):
		return bad("estimate is %v", estimate)
	case !isFinite(stdError) || stdError <= 0:
		return bad("standard error is %v", stdError)
	case !(df > 0):
		return bad("df is %v", df)
	case !isFinite(low) || !isFinite(high) || low >= high:
		return bad("bounds are %v and %v", low, high)
	case !(alpha > 0 && alpha < 0.5):
		return bad("alpha is %v", alpha)
	}
	e := Equivalence{
		Low: low, High: high, DF: df, Alpha: alpha,
		StatisticLower: (estimate - low) / stdError,
		StatisticUpper: (estimate - high) / stdError,
	}
	e.PLower = tail.Upper(e.StatisticLower, df)
	e.PUpper = tail.Upper(-e.StatisticUpper, df)
	e.P = math.Max(e.PLower, e.PUpper)
	e.Equivalent = e.P < alpha
	e.ConfLow, e.ConfHigh = interval(estimate, stdError, df, 1-2*alpha)
	return e, nil
}
