package association_test

import (
	"errors"
	"math"
	"testing"

	"lengthwise/stats/association"
	"lengthwise/stats/resample"
)

func TestDegenerateInput(t *testing.T) {
	nan := math.NaN()
	few, notFinite, same := &association.TooFewError{}, &association.NotFiniteError{}, &association.NoVariationError{}
	length, outside, perfect := &association.LengthError{}, &association.RangeError{}, &association.PerfectError{}
	ramp := []float64{1, 2, 3, 4, 5, 6}
	bumpy := []float64{2, 1, 4, 3, 6, 6}
	flat := []float64{.1, .1, .1, .1, .1, .1}
	noise := []float64{.3, .1 + .2, .3, .1 + .2, .3, .3} // varies by rounding only
	ids := []int{1, 1, 1, 2, 2, 2}
	pearson := func(x, y []float64) error { _, err := association.Pearson(x, y); return err }
	fisher := func(r, n, level float64) error { _, _, err := association.FisherInterval(r, n, level); return err }
	within := func(s []int, x, y []float64) error { _, err := association.RepeatedMeasures(s, x, y); return err }
	sessions := func(s, g []int, x, y []float64, o resample.Options) error {
		_, err := association.RepeatedMeasuresResampled(s, g, x, y, o)
		return err
	}
	tooFewPlan, optionRange := &resample.TooFewError{}, &resample.RangeError{}
	undefined := &association.UndefinedError{}
	cases := []struct {
		name string
		err  error
		want any
	}{
		{"lengths", pearson(ramp, ramp[1:]), &length},
		{"two rows", pearson(ramp[:2], ramp[:2]), &few},
		{"no rows", pearson(nil, nil), &few},
		{"NaN", pearson([]float64{1, nan, 3}, ramp[:3]), &notFinite},
		{"infinite", pearson(ramp[:3], []float64{1, 2, math.Inf(1)}), &notFinite},
		{"flat", pearson(ramp, flat), &same},
		{"rounding only", pearson(noise, ramp), &same},
		{"overflow", pearson([]float64{1e200, -1e200, 3}, ramp[:3]), &outside},
		{"fisher of one", fisher(1, 10, 0.95), &perfect},
		{"fisher of two", fisher(2, 10, 0.95), &outside},
		{"fisher of NaN", fisher(nan, 10, 0.95), &outside},
		{"fisher of three rows", fisher(0, 3, 0.95), &outside},
		{"fisher at level 1", fisher(0, 10, 1), &outside},
		{"subject lengths", within(ids[1:], ramp, bumpy), &length},
		{"one row each", within([]int{1, 2, 3, 4, 5, 6}, ramp, bumpy), &few},
		{"df one", within([]int{1, 1, 2, 2, 3, 4}, ramp, bumpy), &few},
		{"flat within", within([]int{1, 1, 1, 2, 2, 2}, []float64{.1, .1, .1, .7, .7, .7}, bumpy), &same},
		{"parallel lines", within(ids, ramp, []float64{1, 2, 3, 7, 8, 9}), &perfect},
		{"session lengths", sessions(ids, ids[1:], ramp, bumpy, resample.Options{}), &length},
		{"one session each", sessions(ids, ids, ramp, bumpy, resample.Options{}), &few},
		{"options", sessions(ids, ids, ramp, bumpy, resample.Options{Replicates: 1}), &tooFewPlan},
		{"level", sessions(ids, ids, ramp, bumpy, resample.Options{Level: 2}), &optionRange},
		// Two sessions, x constant within each: half of the resamples have no
		// variation of x.
		{"undefined resamples", sessions(make([]int, 6), ids, []float64{1, 1, 1, 2, 2, 2}, bumpy, resample.Options{}), &undefined},
	}
	for _, c := range cases {
		if c.err == nil || !errors.As(c.err, c.want) {
			t.Errorf("%s: got %v, want a %T", c.name, c.err, c.want)
		} else if c.err.Error() == "" {
			t.Errorf("%s: empty message", c.name)
		}
	}
	if _, err := association.MomentsOf(ramp, bumpy, nan, 0); !errors.As(err, &notFinite) {
		t.Errorf("origin NaN: %v", err)
	}
	if _, err := (association.Moments{}).Correlation(); !errors.As(err, &same) {
		t.Errorf("no rows: %v", err)
	}
	far, err := association.MomentsOf(noise, ramp, 1e9, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := far.Correlation(); !errors.As(err, &same) {
		t.Errorf("variation lost to a far origin: %v", err)
	}
}
