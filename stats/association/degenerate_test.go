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

func TestSignificanceOfDegenerateInput(t *testing.T) {
	ramp, bent, flat := []float64{1, 2, 3, 4, 5}, []float64{1, 3, 2, 5, 4}, []float64{4, 4, 4, 4, 4}
	nan := []float64{1, 2, math.NaN(), 4, 5}
	few, same, notFinite := &association.TooFewError{}, &association.NoVariationError{}, &association.NotFiniteError{}
	length, out, perfect := &association.LengthError{}, &association.RangeError{}, &association.PerfectError{}
	partial := func(x, y []float64, c ...[]float64) error { _, err := association.Partial(x, y, c, 0.95); return err }
	pearson := func(x, y []float64, level float64) error { _, err := association.PearsonTest(x, y, level); return err }
	spearman := func(x, y []float64) error { _, err := association.SpearmanTest(x, y, 0.95); return err }
	kendall := func(x, y []float64) error { _, err := association.KendallTest(x, y); return err }
	index := func(x, y []float64) error { _, err := association.ConcordanceIndex(x, y); return err }
	matrix := func(c ...[]float64) error { _, err := association.PartialMatrix(c); return err }
	williams := func(a, b, c float64, n int) error { _, err := association.WilliamsTest(a, b, c, n); return err }
	independent := func(a, n, b, m float64) error { _, err := association.CompareIndependent(a, n, b, m); return err }
	equivalent := func(r, n, b float64) error { _, _, err := association.EquivalentCorrelation(r, n, b); return err }
	_, tauA := association.RankCounts{}.TauA()
	_, gamma := association.RankCounts{TiedX: 3}.Gamma()
	sum := []float64{2, 5, 5, 9, 9}
	for _, c := range []struct {
		name string
		err  error
		want any
	}{
		{"line", pearson(ramp, ramp, 0.95), &perfect},
		{"level", pearson(ramp, bent, 1), &out},
		{"NaN", pearson(ramp, nan, 0.95), &notFinite},
		{"flat ranks", spearman(flat, ramp), &same},
		{"same order", spearman(ramp, []float64{1, 2, 3, 4, 50}), &perfect},
		{"NaN in ranks", spearman(nan, ramp), &notFinite},
		{"flat tau", kendall(ramp, flat), &same},
		{"flat y of the index", index(ramp, flat), &same},
		{"one row of the index", index(ramp[:1], ramp[:1]), &few},
		{"no pairs", tauA, &few},
		{"all tied", gamma, &few},
		{"control of another length", partial(ramp, bent, ramp[:2]), &length},
		{"NaN in a control", partial(ramp, bent, nan), &notFinite},
		{"flat y", partial(ramp, flat), &same},
		{"flat x", partial(flat, ramp), &same},
		{"x is a control", partial(ramp, bent, ramp), &same},
		{"y is a control", partial(ramp, bent, bent), &same},
		{"y is x and a control", partial(ramp, sum, bent), &perfect},
		{"too many controls", partial(ramp, bent, []float64{1, 0, 0, 0, 0}, []float64{0, 1, 0, 0, 0}, []float64{0, 0, 1, 0, 0}), &few},
		{"one column", matrix(ramp), &few},
		{"as many rows as columns", matrix([]float64{1, 2}, []float64{2, 1}), &few},
		{"column twice", matrix(ramp, bent, ramp), &same},
		{"flat column", matrix(ramp, flat), &same},
		{"no such three", williams(0.9, 0.9, -0.9, 20), &out},
		{"one", williams(1, 0.5, 0.5, 20), &out},
		{"NaN correlation", williams(math.NaN(), 0.5, 0.5, 20), &out},
		{"three rows", williams(0.1, 0.5, 0.5, 3), &few},
		{"too few in one", independent(0.1, 30, 0.2, 3), &out},
		{"perfect in one", independent(1, 30, 0.2, 13), &perfect},
		{"bound", equivalent(0.1, 30, 0), &out},
		{"rows of equivalence", equivalent(0.1, 3, 0.3), &out},
	} {
		if c.err == nil || !errors.As(c.err, c.want) {
			t.Errorf("%s: got %v, want a %T", c.name, c.err, c.want)
		}
	}
}
