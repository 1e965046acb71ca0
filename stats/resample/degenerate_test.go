package resample_test

import (
	"errors"
	"math"
	"testing"

	"lengthwise/stats/resample"
)

func TestDegenerateInputGivesTypedErrors(t *testing.T) {
	few, notFinite := &resample.TooFewError{}, &resample.NotFiniteError{}
	same, outside := &resample.NoVariationError{}, &resample.RangeError{}
	oneSided := &resample.OneSidedError{}
	values := []float64{1, 2, 3, 4}
	cases := []struct {
		name string
		run  func() error
		want any
	}{
		{"one cluster", func() error { _, err := resample.Clusters(1, 9, 0); return err }, &few},
		{"no replicates", func() error { _, err := resample.Clusters(5, 0, 0); return err }, &few},
		{"groups of one", func() error { _, err := resample.WithinGroups([]int{1, 2, 3}, 9, 0); return err }, &few},
		{"one group", func() error { _, err := resample.GroupsThenWithin([]int{1, 1, 1}, 9, 0); return err }, &few},
		{"stored unit outside", func() error { _, err := resample.Stored(2, [][]int{{0, 2}}); return err }, &outside},
		{"percentile of one", func() error { _, err := resample.Percentile([]float64{1}, 0.95); return err }, &few},
		{"percentile of NaN", func() error { _, err := resample.Percentile([]float64{1, math.NaN()}, 0.95); return err }, &notFinite},
		{"percentile of equals", func() error { _, err := resample.Percentile([]float64{1, 1}, 0.95); return err }, &same},
		{"level one", func() error { _, err := resample.Percentile(values, 1); return err }, &outside},
		{"level NaN", func() error { _, err := resample.Options{Level: math.NaN()}.Resolved(); return err }, &outside},
		{"one replicate", func() error { _, err := resample.Options{Replicates: 1}.Resolved(); return err }, &few},
		{"SE of one", func() error { _, err := resample.StdError([]float64{1}); return err }, &few},
		{"SE of equals", func() error { _, err := resample.StdError([]float64{.1, .1, .1}); return err }, &same},
		{"BCa NaN estimate", func() error { _, err := resample.BCa(math.NaN(), values, values, 0.9); return err }, &notFinite},
		{"BCa all above", func() error { _, err := resample.BCa(0, values, values, 0.9); return err }, &oneSided},
		{"BCa all below", func() error { _, err := resample.BCa(9, values, values, 0.9); return err }, &oneSided},
		{"BCa flat jackknife", func() error { _, err := resample.BCa(2, values, []float64{.1, .1, .1}, 0.9); return err }, &same},
		{"jackknife of one", func() error { _, err := resample.Jackknife(0, []float64{1}); return err }, &few},
		{"jackknife infinite", func() error { _, err := resample.Jackknife(0, []float64{1, math.Inf(1)}); return err }, &notFinite},
	}
	for _, c := range cases {
		err := c.run()
		if err == nil || !errors.As(err, c.want) {
			t.Errorf("%s: got %v, want a %T", c.name, err, c.want)
		} else if err.Error() == "" {
			t.Errorf("%s: empty message", c.name)
		}
	}
	if !math.IsNaN(resample.Quantile(nil, 0.5)) || !math.IsNaN(resample.Quantile(values, 1)) {
		t.Error("quantile of nothing or at 1 is not NaN")
	}
}
