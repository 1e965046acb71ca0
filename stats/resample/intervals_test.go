package resample_test

import (
	"errors"
	"math"
	"testing"

	"lengthwise/stats/resample"
)

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
