package resample_test

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"testing"

	"lengthwise/stats/resample"
)

// TestOtherIntervalsReproduceBoot: the normal, basic and BCa intervals of R's boot
// package from the stored draws, with its two kinds of acceleration, and the delta
// method on influence values (testdata/intervals.json).
func TestOtherIntervalsReproduceBoot(t *testing.T) {
	type limits struct {
		Normal, Basic, Percentile [2]float64
		Jackknife                 [2]float64 `json:"bca_jackknife"`
		Default                   [2]float64 `json:"bca_default"`
	}
	type set struct {
		Jackknife  float64 `json:"a_jackknife"`
		Regression float64 `json:"a_regression"`
		CI90, CI95 limits
		Delta      *struct {
			L     []float64
			VL    float64 `json:"vL"`
			SE, A float64
			SEL   float64 `json:"seL"`
		} `json:"nonparametric_delta"`
	}
	raw, err := os.ReadFile("testdata/intervals.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct{ Law, City set }
	if err := json.Unmarshal(raw, &file); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name      string
		want      set
		statistic func(x, y, w []float64) float64
	}{{"law", file.Law, weightedCorrelation}, {"city", file.City, weightedRatio}} {
		x, y := columns(t, "testdata/"+c.name+".csv")
		plan, err := resample.Stored(len(x), draws(t, "testdata/"+c.name+"_draws.csv"))
		if err != nil {
			t.Fatal(err)
		}
		w := make([]float64, len(x))
		replicates := make([]float64, plan.Replicates())
		for b := range replicates {
			plan.Weights(b, w)
			replicates[b] = c.statistic(x, y, w)
		}
		for i := range w {
			w[i] = 1
		}
		estimate := c.statistic(x, y, w)
		for level, want := range map[float64]limits{0.9: c.want.CI90, 0.95: c.want.CI95} {
			normal, err1 := resample.Normal(estimate, replicates, level)
			basic, err2 := resample.Basic(estimate, replicates, level)
			jack, err3 := resample.BCaWith(estimate, replicates, c.want.Jackknife, level)
			regression, err4 := resample.BCaWith(estimate, replicates, c.want.Regression, level)
			if err := errors.Join(err1, err2, err3, err4); err != nil {
				t.Fatal(err)
			}
			for name, pair := range map[string]struct {
				got  resample.Interval
				want [2]float64
			}{
				"normal": {normal, want.Normal}, "basic": {basic, want.Basic},
				"BCa, jackknife": {jack, want.Jackknife}, "BCa, default": {regression, want.Default},
			} {
				near(t, c.name+" "+name+" low", pair.got.Low, pair.want[0], 1e-10)
				near(t, c.name+" "+name+" high", pair.got.High, pair.want[1], 1e-10)
			}
		}
		if d := c.want.Delta; d != nil {
			se, a, err := resample.Influence(d.L)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "delta variance", se*se, d.VL, 1e-12)
			near(t, "delta SE", se, d.SEL, 1e-12)
			near(t, "acceleration", a, d.A, 1e-12)
			// The influence values of a ratio of means, in closed form.
			var mx float64
			for _, v := range x {
				mx += v / float64(len(x))
			}
			for i, l := range d.L {
				near(t, "influence", (y[i]-estimate*x[i])/mx, l, 1e-9)
			}
		}
	}
}

func TestOtherIntervalsOfDegenerateInput(t *testing.T) {
	nan := math.NaN()
	good := []float64{1, 2, 3, 4}
	few, notFinite, same := &resample.TooFewError{}, &resample.NotFiniteError{}, &resample.NoVariationError{}
	out, side := &resample.RangeError{}, &resample.OneSidedError{}
	basic := func(e float64, r []float64, level float64) error { _, err := resample.Basic(e, r, level); return err }
	normal := func(e float64, r []float64, level float64) error { _, err := resample.Normal(e, r, level); return err }
	bca := func(e, a float64) error { _, err := resample.BCaWith(e, good, a, 0.95); return err }
	influence := func(v ...float64) error { _, _, err := resample.Influence(v); return err }
	for _, c := range []struct {
		name string
		err  error
		want any
	}{
		{"estimate of basic", basic(nan, good, 0.9), &notFinite},
		{"level of basic", basic(2, good, 1), &out},
		{"replicates of basic", basic(2, good[:1], 0.9), &few},
		{"estimate of normal", normal(nan, good, 0.9), &notFinite},
		{"equal replicates", normal(2, []float64{3, 3}, 0.9), &same},
		{"level of normal", normal(2, good, 0), &out},
		{"acceleration", bca(2.5, nan), &notFinite},
		{"acceleration too large", bca(2.5, 10), &out},
		{"estimate of BCa", bca(nan, 0), &notFinite},
		{"one side", bca(9, 0), &side},
		{"one influence value", influence(1), &few},
		{"NaN influence", influence(1, nan), &notFinite},
		{"no influence", influence(0, 0), &same},
	} {
		if c.err == nil || !errors.As(c.err, c.want) {
			t.Errorf("%s: got %v, want a %T", c.name, c.err, c.want)
		}
	}
}
