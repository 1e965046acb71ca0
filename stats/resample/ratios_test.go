package resample_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"lengthwise/stats/resample"
)

// TestRatiosAgainstTheDeltaMethod: for many units the standard error of a
// ratio of sums is that of its linear form (Cochran 1977, Sampling Techniques,
// equation 6.13, without the finite-population factor).
func TestRatiosAgainstTheDeltaMethod(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	const units = 400
	one := resample.Ratio{Num: make([]float64, units), Den: make([]float64, units)}
	for u := range units {
		one.Den[u] = 5 + r.Float64()
		one.Num[u] = 0.4*one.Den[u] + 0.5*r.NormFloat64()
	}
	estimate := one.Estimate()
	var squares, den float64
	for u := range units {
		e := one.Num[u] - estimate*one.Den[u]
		squares += e * e
		den += one.Den[u]
	}
	want := math.Sqrt(squares) / den
	got, err := resample.Ratios([]resample.Ratio{one}, resample.Options{Replicates: 4000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got[0].StdError-want) > 0.04*want {
		t.Errorf("standard error %v, by the delta method %v", got[0].StdError, want)
	}
	if !(got[0].Low < estimate && estimate < got[0].High) || math.Abs(got[0].High-got[0].Low-2*1.96*want) > 0.1*want*4 {
		t.Errorf("interval %v to %v about %v", got[0].Low, got[0].High, estimate)
	}
}

func TestRatiosWithoutAnInterval(t *testing.T) {
	same := resample.Ratio{Num: []float64{1, 2, 3}, Den: []float64{2, 4, 6}}
	empty := resample.Ratio{Num: []float64{1, 0, 0}, Den: []float64{2, 0, 0}}
	got, err := resample.Ratios([]resample.Ratio{same, empty}, resample.Options{Replicates: 500, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range got {
		if !math.IsNaN(r.Low) || !math.IsNaN(r.StdError) {
			t.Errorf("ratio %d has an interval: %+v", i, r)
		}
	}
	if v := (resample.Ratio{Num: []float64{0}, Den: []float64{0}}).Estimate(); !math.IsNaN(v) {
		t.Errorf("nothing over nothing is %v", v)
	}
	if _, err := resample.Ratios([]resample.Ratio{{Num: []float64{1, 2}, Den: []float64{1}}}, resample.Options{}); err == nil {
		t.Error("lengths that differ were taken")
	}
	if _, err := resample.Ratios([]resample.Ratio{{Num: []float64{1}, Den: []float64{1}}}, resample.Options{}); err == nil {
		t.Error("one unit was resampled")
	}
}
