package resample

import "math"

// JackknifeResult summarises the values of a statistic with each of n
// clusters left out in turn (Efron and Tibshirani 1993, An Introduction to
// the Bootstrap, chapter 11).
type JackknifeResult struct {
	Mean     float64 // mean m of the values
	Bias     float64 // (n-1)(m - estimate)
	StdError float64 // sqrt((n-1)/n sum (value - m)^2)
}

// Jackknife summarises values, which hold the statistic with cluster i left
// out; estimate is the statistic of all data. It fails with a *[TooFewError]
// for fewer than two values, a *[NotFiniteError] for NaN or infinite ones, and a
// *[RangeError] when squares of the deviations leave the range of a float64.
func Jackknife(estimate float64, values []float64) (JackknifeResult, error) {
	if len(values) < 2 {
		return JackknifeResult{}, &TooFewError{What: "jackknife values", Got: len(values), Need: 2}
	}
	if err := finite("jackknife values", values); err != nil {
		return JackknifeResult{}, err
	}
	if err := finite("estimate", []float64{estimate}); err != nil {
		return JackknifeResult{}, err
	}
	n := float64(len(values))
	m := mean(values)
	var ss float64
	for _, v := range values {
		ss += (v - m) * (v - m)
	}
	if math.IsInf(ss, 0) || math.IsNaN(ss) || ss > 0 && ss < smallestSquare {
		return JackknifeResult{}, &RangeError{What: "sum of squares of the jackknife values", Value: ss, Want: "values whose squares are in range: change units"}
	}
	return JackknifeResult{Mean: m, Bias: (n - 1) * (m - estimate), StdError: math.Sqrt((n - 1) / n * ss)}, nil
}

// Acceleration returns the constant a of [BCa] from the jackknife values v_i
// with mean m (Efron 1987, JASA 82:171; Efron and Tibshirani 1993, eq.
// 14.15):
//
//	a = sum (m - v_i)^3 / (6 (sum (m - v_i)^2)^(3/2)).
//
// Deviations are from the mean of the values, not from the estimate. It fails
// as [Jackknife] does, and with a *[NoVariationError] if all values are
// equal.
func Acceleration(values []float64) (float64, error) {
	r, err := Jackknife(0, values)
	if err != nil {
		return 0, err
	}
	var largest float64
	for _, v := range values {
		largest = max(largest, math.Abs(r.Mean-v))
	}
	if largest == 0 {
		return 0, &NoVariationError{What: "jackknife values"}
	}
	// Deviations are scaled by the largest so that no power over- or
	// underflows; a does not depend on the scale.
	var squares, cubes float64
	for _, v := range values {
		d := (r.Mean - v) / largest
		squares += d * d
		cubes += d * d * d
	}
	return cubes / (6 * math.Pow(squares, 1.5)), nil
}

// Influence summarises the empirical influence values l_i of a statistic: n times
// the derivative of the statistic in the weight of cluster i, weights summing to
// one (Davison and Hinkley 1997, section 2.7.2). It returns the standard error of
// the delta method and the acceleration that [BCaWith] takes,
//
//	sqrt(sum l_i^2) / n   and   sum l_i^3 / (6 (sum l_i^2)^(3/2)).
//
// It fails as [Jackknife] does, and with a *[NoVariationError] if all values are
// zero.
func Influence(values []float64) (stdError, acceleration float64, err error) {
	if len(values) < 2 {
		return 0, 0, &TooFewError{What: "influence values", Got: len(values), Need: 2}
	}
	if err := finite("influence values", values); err != nil {
		return 0, 0, err
	}
	var largest float64
	for _, v := range values {
		largest = max(largest, math.Abs(v))
	}
	if largest == 0 {
		return 0, 0, &NoVariationError{What: "influence values"}
	}
	var squares, cubes float64
	for _, v := range values {
		v /= largest
		squares += v * v
		cubes += v * v * v
	}
	return largest * math.Sqrt(squares) / float64(len(values)), cubes / (6 * math.Pow(squares, 1.5)), nil
}
