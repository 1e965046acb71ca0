package resample

import (
	"fmt"
	"math"
	"slices"
)

// Ratio is a ratio of two sums over units, which are what is drawn: Num and
// Den hold a value for each unit.
type Ratio struct{ Num, Den []float64 }

// Estimate is the sum of Num over that of Den, NaN where Den sums to zero.
func (r Ratio) Estimate() float64 {
	var num, den float64
	for u := range r.Num {
		num += r.Num[u]
		den += r.Den[u]
	}
	if den == 0 {
		return math.NaN()
	}
	return num / den
}

// RatioInterval is the percentile interval and standard error of one ratio,
// NaN where the resamples give none.
type RatioInterval struct{ Low, High, StdError float64 }

// fewestFinite is the share of resamples that must have a denominator.
const fewestFinite = 0.9

// Ratios resamples all units together, with replacement, and gives each ratio
// its percentile interval: the same resamples for all, so that they compare.
// A ratio whose resamples are all the same, or mostly without a denominator,
// has no interval. It fails with a *[TooFewError] for fewer than two units, a
// *[RangeError] for slices of different lengths, and as [Options.Resolved].
func Ratios(ratios []Ratio, o Options) ([]RatioInterval, error) {
	o, err := o.Resolved()
	if err != nil {
		return nil, err
	}
	if len(ratios) == 0 {
		return nil, nil
	}
	units := len(ratios[0].Num)
	for i, r := range ratios {
		if len(r.Num) != units || len(r.Den) != units {
			return nil, &RangeError{What: fmt.Sprintf("length of ratio %d", i), Value: float64(len(r.Den)), Want: fmt.Sprint(units)}
		}
	}
	plan, err := Clusters(units, o.Replicates, o.Seed)
	if err != nil {
		return nil, err
	}
	replicates := make([][]float64, len(ratios))
	for i := range replicates {
		replicates[i] = make([]float64, 0, o.Replicates)
	}
	weights := make([]float64, units)
	for b := range o.Replicates {
		plan.Weights(b, weights)
		for i, r := range ratios {
			var num, den float64
			for u, w := range weights {
				num += w * r.Num[u]
				den += w * r.Den[u]
			}
			if den != 0 {
				replicates[i] = append(replicates[i], num/den)
			}
		}
	}
	out := make([]RatioInterval, len(ratios))
	for i, values := range replicates {
		out[i] = RatioInterval{math.NaN(), math.NaN(), math.NaN()}
		if float64(len(values)) < fewestFinite*float64(o.Replicates) || slices.Min(values) == slices.Max(values) {
			continue
		}
		interval, err := Percentile(values, o.Level)
		if err != nil {
			continue
		}
		stdError, err := StdError(values)
		if err != nil {
			continue
		}
		out[i] = RatioInterval{interval.Low, interval.High, stdError}
	}
	return out, nil
}
