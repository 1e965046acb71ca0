package mixed_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"lengthwise/stats/mixed"
)

func TestLayoutErrors(t *testing.T) {
	for name, l := range map[string]mixed.Layout{
		"nothing":         {},
		"nothing random":  {Fixed: []string{"1"}},
		"nothing fixed":   {Random: []string{"1"}},
		"twice":           {Fixed: []string{"1", "1"}, Random: []string{"1"}},
		"twice random":    {Fixed: []string{"1"}, Random: []string{"x", "x"}},
		"without a name":  {Fixed: []string{"1", ""}, Random: []string{"1"}},
		"nameless random": {Fixed: []string{"1"}, Random: []string{""}},
	} {
		if _, err := mixed.NewSums(l); !errors.Is(err, mixed.ErrLayout) {
			t.Errorf("%s: %v, want ErrLayout", name, err)
		}
	}
}

func TestRowErrors(t *testing.T) {
	l := layouts["nested"]
	s, err := mixed.NewSums(l)
	if err != nil {
		t.Fatal(err)
	}
	var bad *mixed.NotFiniteError
	if err := s.Add("u", "g", []float64{1, math.NaN()}, 0); !errors.As(err, &bad) || bad.Column != "a" || !errors.Is(err, mixed.ErrNotFinite) {
		t.Errorf("NaN: %v", err)
	}
	if err := s.Add("u", "g", []float64{1, 2}, math.Inf(1)); !errors.As(err, &bad) || bad.Column != "response" {
		t.Errorf("infinite response: %v", err)
	}
	if err := s.Add("u", "g", []float64{1}, 0); !errors.Is(err, mixed.ErrShape) {
		t.Errorf("short row: %v", err)
	}
	units, groups, y := []string{"u", "u"}, []string{"g", "g"}, []float64{1, 2}
	for name, try := range map[string]func() error{
		"columns": func() error { return s.AddColumns(units, groups, [][]float64{y}, y) },
		"lengths": func() error { return s.AddColumns(units, groups, [][]float64{y, {1}}, y) },
		"groups":  func() error { return s.AddColumns(units, nil, [][]float64{y, y}, y) },
		"units":   func() error { return s.AddColumns(units[:1], groups, [][]float64{y, y}, y) },
	} {
		if err := try(); !errors.Is(err, mixed.ErrShape) {
			t.Errorf("%s: %v, want ErrShape", name, err)
		}
	}
	if err := s.AddColumns(units, groups, [][]float64{y, {0, math.Inf(-1)}}, y); !errors.As(err, &bad) || bad.Row != 1 || bad.Column != "a" {
		t.Errorf("column with an infinity: %v", err)
	}
	if err := s.AddColumns(units, groups, [][]float64{y, y}, []float64{math.NaN(), 1}); !errors.As(err, &bad) || bad.Row != 0 {
		t.Errorf("response with NaN: %v", err)
	}
	other, err := mixed.NewSums(layouts["intercept"])
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Merge(other); !errors.Is(err, mixed.ErrShape) {
		t.Errorf("merge of another layout: %v", err)
	}
	if s.Rows() != 0 {
		t.Errorf("%d rows after failures, want none", s.Rows())
	}
	if _, err := mixed.Fit(s, mixed.Options{}); !errors.Is(err, mixed.ErrTooFewRows) {
		t.Errorf("no rows: %v", err)
	}
}

func TestDegenerateFits(t *testing.T) {
	correlated := layouts["correlated"]
	nested := layouts["nested, correlated"]
	change := func(l mixed.Layout, f func(r *rowsOf)) rowsOf {
		r := invent(rand.New(rand.NewPCG(3, 3)), l, 6, 1, 1, 1)
		f(&r)
		return r
	}
	for name, c := range map[string]struct {
		rows rowsOf
		want error
	}{
		"one unit": {change(correlated, func(r *rowsOf) {
			for i := range r.units {
				r.units[i] = "one"
			}
		}), mixed.ErrOneUnit},
		"constant response": {change(correlated, func(r *rowsOf) {
			for i := range r.y {
				r.y[i] = 7.1
			}
		}), mixed.ErrNoVariance},
		"exact by fixed effects": {change(correlated, func(r *rowsOf) {
			for i := range r.y {
				r.y[i] = 2 - 3*r.columns[1][i] + 0.1*r.columns[2][i]
			}
		}), mixed.ErrNoVariance},
		"exact by random effects": {change(nested, func(r *rowsOf) {
			for i := range r.y {
				r.y[i] = 2 + float64(r.units[i][1]*r.groups[i][1]%7) + float64(r.units[i][1]%3)*r.columns[1][i]
			}
		}), mixed.ErrNoVariance},
		"a row for each group": {change(nested, func(r *rowsOf) {
			for i := range r.groups {
				r.groups[i] = string(rune('a' + i))
			}
		}), mixed.ErrNotIdentified},
		"a group for each unit": {change(layouts["nested"], func(r *rowsOf) {
			for i := range r.groups {
				r.groups[i] = "all"
			}
		}), mixed.ErrNotIdentified},
		"random column of zeros": {change(layouts["random column apart"], func(r *rowsOf) {
			clear(r.columns[2])
		}), mixed.ErrNotIdentified},
		"two rows": {change(correlated, func(r *rowsOf) {
			r.units, r.groups, r.y = []string{"u", "v"}, []string{"g", "g"}, []float64{1, 2}
			r.columns = [][]float64{{1, 1}, {0, 1}, {1, 0}}
		}), mixed.ErrTooFewRows},
		"out of range": {change(correlated, func(r *rowsOf) {
			for i := range r.y {
				r.y[i] *= 1e200
			}
		}), mixed.ErrNotFinite},
	} {
		_, err := mixed.Fit(c.rows.sums(t), mixed.Options{})
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	if _, err := mixed.Fit(change(correlated, func(*rowsOf) {}).sums(t), mixed.Options{Method: 7}); !errors.Is(err, mixed.ErrArgument) {
		t.Errorf("unknown method: %v", err)
	}
}

func TestRankByName(t *testing.T) {
	l := mixed.Layout{Fixed: []string{"1", "a", "twice a", "b", "a less b"}, Random: []string{"1"}}
	r := rand.New(rand.NewPCG(4, 4))
	s, err := mixed.NewSums(l)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 60 {
		a, b := r.NormFloat64()+100, r.NormFloat64()
		if err := s.Add(string(rune('a'+i%6)), "", []float64{1, a, 2*a + 5, b, a - b}, r.NormFloat64()); err != nil {
			t.Fatal(err)
		}
	}
	_, err = mixed.Fit(s, mixed.Options{})
	var rank *mixed.RankError
	if !errors.As(err, &rank) || !errors.Is(err, mixed.ErrRank) || !slices.Equal(rank.Columns, []string{"twice a", "a less b"}) {
		t.Errorf("got %v, want the second and the last column named", err)
	}
}

func TestQuestionErrors(t *testing.T) {
	data := invent(rand.New(rand.NewPCG(6, 6)), layouts["correlated"], 8, 1, 1, 1)
	m := fitted(t, data.sums(t), mixed.REML)
	ml := fitted(t, data.sums(t), mixed.ML)
	fails := func(name string, want error, got error) {
		t.Helper()
		if !errors.Is(got, want) {
			t.Errorf("%s: %v, want %v", name, got, want)
		}
	}
	_, err := m.Coefficients(mixed.Satterthwaite, 1)
	fails("level", mixed.ErrArgument, err)
	_, err = m.Coefficients(mixed.Approximation(9), 0.9)
	fails("approximation", mixed.ErrArgument, err)
	_, err = ml.Coefficients(mixed.KenwardRoger, 0.9)
	fails("Kenward-Roger by ML", mixed.ErrMethod, err)
	_, err = ml.AdjustedCovariance()
	fails("adjusted covariance by ML", mixed.ErrMethod, err)
	_, err = m.Contrast([]float64{1}, mixed.Normal, 0.9)
	fails("weights", mixed.ErrShape, err)
	_, err = m.Contrast(make([]float64, 3), mixed.Normal, 0.9)
	fails("zero weights", mixed.ErrArgument, err)
	_, err = m.Contrast([]float64{1, math.NaN(), 0}, mixed.Normal, 0.9)
	fails("NaN weights", mixed.ErrArgument, err)
	for _, a := range []mixed.Approximation{mixed.Satterthwaite, mixed.KenwardRoger} {
		_, err = m.Test([][]float64{{0, 1, 0}, {0, 2, 0}}, a)
		fails("dependent hypotheses", mixed.ErrRank, err)
	}
	_, err = m.Test(nil, mixed.Normal)
	fails("no hypotheses", mixed.ErrShape, err)
	_, err = m.PredictNew([]float64{1, 2}, 0.9)
	fails("short row", mixed.ErrShape, err)
	_, err = m.PredictNew([]float64{1, 2, math.NaN()}, 0.9)
	fails("NaN", mixed.ErrNotFinite, err)
	_, err = m.Profile(mixed.Parameter{Kind: mixed.GroupSD}, 0.9)
	fails("no group", mixed.ErrTerm, err)
	_, err = m.Profile(mixed.Parameter{Kind: mixed.UnitSD, Term: "zz"}, 0.9)
	fails("no such term", mixed.ErrTerm, err)
	_, err = m.Profile(mixed.Parameter{Kind: mixed.ResidualSD}, 0)
	fails("profile level", mixed.ErrArgument, err)
	_, err = m.UnitCoefficients("b")
	fails("not random", mixed.ErrTerm, err)
	_, err = m.Bootstrap(0, 1)
	fails("no samples", mixed.ErrArgument, err)
	_, err = mixed.LikelihoodRatio(m, ml)
	fails("two methods", mixed.ErrMethod, err)
	_, err = mixed.LikelihoodRatio(m, m)
	fails("one model", mixed.ErrNotNested, err)
	other := data
	other.layout = layouts["intercept"]
	other.columns = data.columns[:2]
	small := fitted(t, other.sums(t), mixed.REML)
	_, err = mixed.LikelihoodRatio(small, m)
	fails("fixed effects under REML", mixed.ErrMethod, err)
	other.y = slices.Clone(data.y)
	other.y[0]++
	_, err = mixed.LikelihoodRatio(fitted(t, other.sums(t), mixed.ML), ml)
	fails("other rows", mixed.ErrNotNested, err)
}
