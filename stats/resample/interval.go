package resample

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Options says how a resampled interval is made. The zero value asks for
// [DefaultReplicates] and a 95 % interval with seed 0.
type Options struct {
	Replicates int     // number of resamples; 0 means DefaultReplicates
	Seed       uint64  // see SeedOf
	Level      float64 // coverage wanted, in (0, 1); 0 means 0.95
}

// DefaultReplicates keeps the Monte-Carlo error of a 95 % limit near 0.06
// standard errors for normal replicates (square root of 0.025 x 0.975 / 1999
// over the density at the limit), and makes (replicates + 1) x 0.025 a whole
// number, so that the limits are order statistics.
const DefaultReplicates = 1999

// Resolved returns o with its defaults filled in. It fails with a
// *[TooFewError] or a *[RangeError] for fewer than two replicates or a level
// outside (0, 1).
func (o Options) Resolved() (Options, error) {
	if o.Replicates == 0 {
		o.Replicates = DefaultReplicates
	}
	if o.Replicates < 2 {
		return o, &TooFewError{What: "replicates", Got: o.Replicates, Need: 2}
	}
	if o.Level == 0 {
		o.Level = 0.95
	}
	if !(o.Level > 0 && o.Level < 1) {
		return o, &RangeError{What: "level", Value: o.Level, Want: "a number between 0 and 1"}
	}
	return o, nil
}

// An Interval is a bootstrap interval and what it rests on.
type Interval struct {
	Low, High  float64
	Level      float64 // coverage asked for
	Replicates int
	// LowAt and HighAt are the probabilities at which the distribution of the
	// replicates was read off: (1-Level)/2 and (1+Level)/2 for a percentile
	// interval, the adjusted ones for BCa.
	LowAt, HighAt float64
	// Extreme says that a limit is the smallest or largest replicate: there
	// were too few replicates for this level.
	Extreme bool
}

// Percentile returns the percentile interval of the replicates (Efron 1979;
// Davison and Hinkley 1997, section 5.3): the quantiles at (1-level)/2 and
// (1+level)/2 as [Quantile] reads them.
//
// It fails with a *[TooFewError] for fewer than two replicates, a
// *[NotFiniteError] for NaN or infinite ones, a *[NoVariationError] if all
// are equal, and a *[RangeError] for a level outside (0, 1).
func Percentile(replicates []float64, level float64) (Interval, error) {
	sorted, err := prepare(replicates, level)
	if err != nil {
		return Interval{}, err
	}
	return read(sorted, level, (1-level)/2, (1+level)/2), nil
}

// BCa returns the bias-corrected and accelerated interval (Efron 1987, JASA
// 82:171). With zb the normal quantile of the share of replicates strictly
// below the estimate and a the [Acceleration] of the jackknife values, the
// quantiles are read off by [Quantile] at
//
//	Phi(zb + (zb + z) / (1 - a (zb + z)))   for z = Phi^-1((1 -+ level)/2).
//
// jackknife holds the statistic with each cluster left out in turn. Errors
// are those of [Percentile] and [Acceleration], and a *[OneSidedError] if no
// or every replicate lies below the estimate.
func BCa(estimate float64, replicates, jackknife []float64, level float64) (Interval, error) {
	if _, err := prepare(replicates, level); err != nil {
		return Interval{}, err
	}
	if err := finite("estimate", []float64{estimate}); err != nil {
		return Interval{}, err
	}
	a, err := Acceleration(jackknife)
	if err != nil {
		return Interval{}, err
	}
	return BCaWith(estimate, replicates, a, level)
}

// BCaWith is [BCa] with the acceleration given, for one that comes from
// elsewhere, such as [Influence]. Errors: those of BCa, and a *[NotFiniteError] for
// the acceleration.
func BCaWith(estimate float64, replicates []float64, acceleration, level float64) (Interval, error) {
	sorted, err := prepare(replicates, level)
	if err != nil {
		return Interval{}, err
	}
	if err := finite("estimate", []float64{estimate}); err != nil {
		return Interval{}, err
	}
	if err := finite("acceleration", []float64{acceleration}); err != nil {
		return Interval{}, err
	}
	below, _ := slices.BinarySearch(sorted, estimate)
	if below == 0 || below == len(sorted) {
		return Interval{}, &OneSidedError{Estimate: estimate, Below: below, Total: len(sorted)}
	}
	bias := distuv.UnitNormal.Quantile(float64(below) / float64(len(sorted)))
	adjusted := func(p float64) (float64, error) {
		shifted := bias + distuv.UnitNormal.Quantile(p)
		denominator := 1 - acceleration*shifted
		if denominator <= 0 {
			return 0, &RangeError{What: "acceleration", Value: acceleration,
				Want: "a value small enough for 1 - a (z0 + z) to stay above zero"}
		}
		return distuv.UnitNormal.CDF(bias + shifted/denominator), nil
	}
	low, err := adjusted((1 - level) / 2)
	if err != nil {
		return Interval{}, err
	}
	high, err := adjusted((1 + level) / 2)
	if err != nil {
		return Interval{}, err
	}
	return read(sorted, level, low, high), nil
}

// Basic returns the basic interval: the percentile limits reflected about the
// estimate, 2 estimate - quantile (Davison and Hinkley 1997, eq. 5.6). It may
// leave the range of the statistic. Errors are those of [Percentile], and a
// *[NotFiniteError] for the estimate.
func Basic(estimate float64, replicates []float64, level float64) (Interval, error) {
	i, err := Percentile(replicates, level)
	if err != nil {
		return Interval{}, err
	}
	if err := finite("estimate", []float64{estimate}); err != nil {
		return Interval{}, err
	}
	i.Low, i.High = 2*estimate-i.High, 2*estimate-i.Low
	if math.IsInf(i.Low, 0) || math.IsInf(i.High, 0) {
		return Interval{}, &RangeError{What: "estimate", Value: estimate, Want: "one whose double is in range: change units"}
	}
	return i, nil
}

// Normal returns the interval of the estimate less its bootstrap bias, -+ z
// standard errors (Davison and Hinkley 1997, eq. 5.5). LowAt and HighAt are the
// probabilities of z. Errors are those of [Basic].
func Normal(estimate float64, replicates []float64, level float64) (Interval, error) {
	if _, err := prepare(replicates, level); err != nil {
		return Interval{}, err
	}
	if err := finite("estimate", []float64{estimate}); err != nil {
		return Interval{}, err
	}
	se, err := StdError(replicates)
	if err != nil {
		return Interval{}, err
	}
	centre := 2*estimate - mean(replicates)
	half := distuv.UnitNormal.Quantile((1+level)/2) * se
	if math.IsInf(centre, 0) || math.IsInf(half, 0) {
		return Interval{}, &RangeError{What: "limit of the interval", Value: centre, Want: "values small enough to square"}
	}
	return Interval{
		Low: centre - half, High: centre + half, Level: level, Replicates: len(replicates),
		LowAt: (1 - level) / 2, HighAt: (1 + level) / 2,
	}, nil
}

// Quantile reads the quantile at p in (0, 1) from values sorted in increasing
// order. With R values and k the whole part of (R+1) p it interpolates
// between the order statistics k and k+1 on the scale of normal quantiles
// (Davison and Hinkley 1997, eq. 5.8), and returns the smallest or largest
// value when k is 0 or R. This is the rule of R's boot package; it is close
// to type 6 of Hyndman and Fan (1996), and differs from type 7 by less than
// the distance of two order statistics.
//
// It returns NaN for no values or a p outside (0, 1).
func Quantile(sorted []float64, p float64) float64 {
	if len(sorted) == 0 || !(p > 0 && p < 1) {
		return math.NaN()
	}
	count := len(sorted)
	rank := float64(count+1) * p
	k := int(rank)
	switch {
	case k == 0:
		return sorted[0]
	case k >= count:
		return sorted[count-1]
	case float64(k) == rank:
		return sorted[k-1]
	}
	at := distuv.UnitNormal.Quantile(p)
	left := distuv.UnitNormal.Quantile(float64(k) / float64(count+1))
	right := distuv.UnitNormal.Quantile(float64(k+1) / float64(count+1))
	return sorted[k-1] + (at-left)/(right-left)*(sorted[k]-sorted[k-1])
}

// StdError returns the standard deviation of the replicates, divisor one less
// than their number. It fails as [Percentile] does, and with a *[RangeError] when
// squares of the deviations leave the range of a float64.
func StdError(replicates []float64) (float64, error) {
	if err := finite("replicates", replicates); err != nil {
		return 0, err
	}
	if len(replicates) < 2 {
		return 0, &TooFewError{What: "replicates", Got: len(replicates), Need: 2}
	}
	m := mean(replicates)
	var ss float64
	for _, v := range replicates {
		ss += (v - m) * (v - m)
	}
	if ss == 0 {
		return 0, &NoVariationError{What: "replicates"}
	}
	if math.IsInf(ss, 0) || math.IsNaN(ss) || ss < smallestSquare {
		return 0, &RangeError{What: "sum of squares of the replicates", Value: ss, Want: "values whose squares are in range: change units"}
	}
	return math.Sqrt(ss / float64(len(replicates)-1)), nil
}

// smallestSquare is the sum of squares below which squares lose their digits.
const smallestSquare = 1e-290

// prepare checks the replicates and returns a sorted copy.
func prepare(replicates []float64, level float64) ([]float64, error) {
	if !(level > 0 && level < 1) {
		return nil, &RangeError{What: "level", Value: level, Want: "a number between 0 and 1"}
	}
	if len(replicates) < 2 {
		return nil, &TooFewError{What: "replicates", Got: len(replicates), Need: 2}
	}
	if err := finite("replicates", replicates); err != nil {
		return nil, err
	}
	sorted := slices.Clone(replicates)
	slices.Sort(sorted)
	if sorted[0] == sorted[len(sorted)-1] {
		return nil, &NoVariationError{What: "replicates"}
	}
	return sorted, nil
}

// read makes the interval between two probabilities.
func read(sorted []float64, level, low, high float64) Interval {
	// A probability that rounds to 0 or 1 asks for an order statistic beyond
	// the last; the nearest there is, is marked extreme.
	smallest := math.Nextafter(0, 1)
	low = min(max(low, smallest), math.Nextafter(1, 0))
	high = min(max(high, smallest), math.Nextafter(1, 0))
	top := float64(len(sorted))
	return Interval{
		Low: Quantile(sorted, low), High: Quantile(sorted, high),
		Level: level, Replicates: len(sorted), LowAt: low, HighAt: high,
		Extreme: (top+1)*low <= 1 || (top+1)*high >= top,
	}
}

func finite(what string, values []float64) error {
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return &NotFiniteError{What: what, Index: i, Value: v}
		}
	}
	return nil
}

// mean is measured from the first value, so that equal values have exactly
// that value as their mean.
func mean(values []float64) float64 {
	var s float64
	for _, v := range values {
		s += v - values[0]
	}
	return values[0] + s/float64(len(values))
}

// String gives the limits and what they rest on, for messages and logs.
func (i Interval) String() string {
	return fmt.Sprintf("%g to %g (%g %%, %d replicates)", i.Low, i.High, 100*i.Level, i.Replicates)
}
