package reliability_test

import (
	"errors"
	"math"
	"testing"

	"lengthwise/stats/reliability"
)

func TestDegenerateInput(t *testing.T) {
	nan := math.NaN()
	good := [][]float64{{1, 2}, {3, 5}, {4, 4}}
	table := func(r [][]float64, level float64) error { _, err := reliability.Intraclass(r, level); return err }
	one := func(s []int, v []float64) error { _, err := reliability.OneWay(s, v, 0.95); return err }
	both := func(s, o []int, v []float64) error { _, err := reliability.Agreement(s, o, v, 0.95); return err }
	retest := func(a, b []float64) error { _, err := reliability.Retest(a, b, 0.95); return err }
	detect := func(e, c float64) error { _, err := reliability.MinimalDetectableChange(e, c); return err }
	percent := func(r [][]float64) error { _, err := reliability.CoefficientOfVariation(r, 0.95); return err }
	for _, c := range []struct {
		name string
		err  error
		want error
	}{
		{"one subject", table(good[:1], 0.95), reliability.ErrTooFew},
		{"no subject", table(nil, 0.95), reliability.ErrTooFew},
		{"one trial", table([][]float64{{1}, {2}}, 0.95), reliability.ErrTooFew},
		{"ragged", table([][]float64{{1, 2}, {2}}, 0.95), reliability.ErrShape},
		{"NaN", table([][]float64{{1, 2}, {2, nan}}, 0.95), reliability.ErrNotFinite},
		{"level", table(good, 1), reliability.ErrArgument},
		{"constant change", table([][]float64{{1, 2.5}, {2, 3.5}, {5, 6.5}}, 0.95), reliability.ErrNoVariance},
		{"overflow", table([][]float64{{1e200, -1e200}, {1, 2}}, 0.95), reliability.ErrNotFinite},
		{"lengths of two trials", retest([]float64{1, 2}, []float64{1}), reliability.ErrShape},
		{"typical error zero", detect(0, 0.95), reliability.ErrArgument},
		{"typical error NaN", detect(nan, 0.95), reliability.ErrArgument},
		{"confidence", detect(1, 0), reliability.ErrArgument},
		{"logarithm of zero", percent([][]float64{{1, 0}, {2, 3}}), reliability.ErrNotPositive},
		{"no values", one(nil, nil), reliability.ErrTooFew},
		{"lengths", one([]int{1}, []float64{1, 2}), reliability.ErrShape},
		{"infinite", one([]int{1, 1, 2}, []float64{1, 2, math.Inf(1)}), reliability.ErrNotFinite},
		{"one subject, unbalanced", one([]int{1, 1}, []float64{1, 2}), reliability.ErrTooFew},
		{"one reading each", one([]int{1, 2, 3}, []float64{1, 2, 4}), reliability.ErrTooFew},
		{"readings equal", one([]int{1, 1, 2, 2}, []float64{1, 1, 4, 4}), reliability.ErrNoVariance},
		{"one trial, unbalanced", both([]int{1, 1, 2, 2}, []int{1, 1, 1, 1}, []float64{1, 2, 4, 4}), reliability.ErrTooFew},
		{"trials not shared", both([]int{1, 1, 2, 2}, []int{1, 2, 3, 4}, []float64{1, 2, 4, 4}), reliability.ErrTooFew},
		{"no trial labels", both([]int{1, 1, 2, 2}, nil, []float64{1, 2, 4, 4}), reliability.ErrShape},
	} {
		if !errors.Is(c.err, c.want) {
			t.Errorf("%s: got %v, want %v", c.name, c.err, c.want)
		}
	}
	if reliability.Form(9).String() == "" || reliability.AgreementAverage.String() != "ICC(2,k)" {
		t.Error("names of forms")
	}
}
