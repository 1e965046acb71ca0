package pooled_test

import (
	"errors"
	"math"
	"testing"

	"lengthwise/stats/pooled"
)

func TestDegenerateInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	length, few, value := &pooled.LengthError{}, &pooled.TooFewError{}, &pooled.ValueError{}
	spread, option, numerical := &pooled.NoSpreadError{}, &pooled.OptionError{}, &pooled.NumericalError{}
	cases := []struct {
		name string
		y, v []float64
		o    pooled.Options
		want any
	}{
		{"lengths", []float64{1, 2}, []float64{1}, pooled.Options{}, &length},
		{"none", nil, nil, pooled.Options{}, &few},
		{"one", []float64{1}, []float64{1}, pooled.Options{}, &few},
		{"NaN", []float64{1, nan}, []float64{1, 1}, pooled.Options{}, &value},
		{"infinite", []float64{1, inf}, []float64{1, 1}, pooled.Options{}, &value},
		{"zero variance", []float64{1, 2}, []float64{1, 0}, pooled.Options{}, &value},
		{"negative variance", []float64{1, 2}, []float64{1, -1}, pooled.Options{}, &value},
		{"NaN variance", []float64{1, 2}, []float64{1, nan}, pooled.Options{}, &value},
		{"infinite variance", []float64{1, 2}, []float64{1, inf}, pooled.Options{}, &value},
		{"no spread", []float64{.1, .1, .1}, []float64{1, 2, 3}, pooled.Options{Test: pooled.HartungKnapp}, &spread},
		{"level", []float64{1, 2}, []float64{1, 1}, pooled.Options{Level: 1}, &option},
		{"NaN level", []float64{1, 2}, []float64{1, 1}, pooled.Options{Level: nan}, &option},
		{"method", []float64{1, 2}, []float64{1, 1}, pooled.Options{Method: 8}, &option},
		{"test", []float64{1, 2}, []float64{1, 1}, pooled.Options{Test: -1}, &option},
		{"overflow", []float64{1e200, -1e200}, []float64{1, 1}, pooled.Options{}, &numerical},
		{"underflow", []float64{1, 2}, []float64{1e-310, 1}, pooled.Options{}, &numerical},
		{"huge variances", []float64{1, 2}, []float64{1e308, 1.7e308}, pooled.Options{}, &numerical},
	}
	for _, c := range cases {
		_, err := pooled.Fit(c.y, c.v, c.o)
		if err == nil || !errors.As(err, c.want) {
			t.Errorf("%s: got %v, want a %T", c.name, err, c.want)
		} else if err.Error() == "" {
			t.Errorf("%s: empty message", c.name)
		}
	}
	equal, err := pooled.Fit([]float64{.1, .1, .1}, []float64{1, 2, 3}, pooled.Options{Test: pooled.ModifiedHartungKnapp})
	if err != nil {
		t.Fatal(err)
	}
	if equal.Tau2 != 0 || equal.Estimate != .1 || equal.Q != 0 || !equal.Boundary || len(equal.Warnings) != 2 {
		t.Errorf("equal estimates: %+v", equal)
	}
	if pooled.Method(9).String() == "" || pooled.Test(9).String() == "" || pooled.PauleMandel.String() != "PM" {
		t.Error("names of methods and tests")
	}
}
