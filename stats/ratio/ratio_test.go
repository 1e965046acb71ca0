package ratio_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"lengthwise/stats/linear"
	"lengthwise/stats/ratio"
)

// TestSetIsTheTestTurnedRound goes a second road: theta is in the set exactly
// when the quadratic with its vertex held at theta fits no worse, by the F test
// of the constraint, as computed by least squares of y on 1 and (x - theta)^2.
func TestSetIsTheTestTurnedRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(6, 20).Draw(t, "rows")
		x, y := make([]float64, n), make([]float64, n)
		curvature := rapid.Float64Range(-1, 1).Draw(t, "curvature")
		for i := range x {
			x[i] = float64(i) / float64(n) * 4
			y[i] = curvature*(x[i]-2)*(x[i]-2) + rapid.Float64Range(-1, 1).Draw(t, "error")
		}
		free := fit(t, y, powers(x, 0))
		cov := free.Classical()
		b := free.Estimates
		p := ratio.Quadratic(b[1], b[2], cov.Matrix.At(1, 1), cov.Matrix.At(1, 2), cov.Matrix.At(2, 2), cov.DF[1])
		s, err := ratio.Fieller(p, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		for _, theta := range []float64{-30, -3, 0.5, 1.9, 2.4, 5, 40} {
			held := fit(t, y, [][]float64{powers(x, 0)[0], powers(x, theta)[2]})
			f := (held.Sigma*held.Sigma*float64(held.DFResidual) - free.Sigma*free.Sigma*float64(free.DFResidual)) / (free.Sigma * free.Sigma)
			limit := critical90(p.DF)
			if math.Abs(f-limit) < 1e-6*limit {
				continue // on the edge
			}
			if s.Contains(theta) != (f < limit) {
				t.Fatalf("theta %v: in the %v %v to %v: %v; F %v, limit %v", theta, s.Kind, s.Low, s.High, s.Contains(theta), f, limit)
			}
		}
	})
}

// critical90 is the square of the 95 % point of t, by the package itself at a
// pair whose interval is that of its numerator.
func critical90(df float64) float64 {
	d, err := ratio.Delta(ratio.Pair{Numerator: 0, Denominator: 1, NumeratorVariance: 1, DF: df}, 0.9)
	if err != nil {
		panic(err)
	}
	return d.ConfHigh * d.ConfHigh
}

func powers(x []float64, origin float64) [][]float64 {
	c := [][]float64{make([]float64, len(x)), make([]float64, len(x)), make([]float64, len(x))}
	for i, v := range x {
		c[0][i], c[1][i], c[2][i] = 1, v-origin, (v-origin)*(v-origin)
	}
	return c
}

func fit(t *rapid.T, y []float64, columns [][]float64) *linear.Model {
	m, err := linear.Fit(linear.Problem{Response: y, Terms: []string{"one", "linear", "square"}[:len(columns)], Columns: columns})
	if err != nil {
		t.Skip(err)
	}
	return m
}

// TestProperties: the quotient is in its own set; units scale the set; turning
// the quotient round turns the set round.
func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := func(name string) float64 {
			return rapid.Float64Range(-5, 5).Draw(t, name)
		}
		p := ratio.Pair{Numerator: value("a"), Denominator: value("b"), DF: rapid.Float64Range(1, 60).Draw(t, "df")}
		p.NumeratorVariance = rapid.Float64Range(0.01, 4).Draw(t, "va")
		p.DenominatorVariance = rapid.Float64Range(0.01, 4).Draw(t, "vb")
		p.Covariance = rapid.Float64Range(-0.99, 0.99).Draw(t, "r") * math.Sqrt(p.NumeratorVariance*p.DenominatorVariance)
		s, err := ratio.Fieller(p, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if p.Denominator != 0 && !s.Contains(p.Numerator/p.Denominator) && s.G != 1 {
			t.Fatalf("%+v does not hold %v", s, p.Numerator/p.Denominator)
		}
		if (s.Kind == ratio.Interval) != (s.G < 1) {
			t.Fatalf("%v with G %v", s.Kind, s.G)
		}
		q := p
		q.Numerator, q.NumeratorVariance, q.Covariance = 8*p.Numerator, 64*p.NumeratorVariance, 8*p.Covariance
		scaled, err := ratio.Fieller(q, 0.95)
		if err != nil || scaled.Kind != s.Kind || math.Abs(scaled.Low-8*s.Low) > 1e-9*math.Abs(scaled.Low) {
			t.Fatalf("units: %+v, %+v, %v", s, scaled, err)
		}
		q = ratio.Pair{
			Numerator: p.Denominator, NumeratorVariance: p.DenominatorVariance, DF: p.DF, Covariance: p.Covariance,
			Denominator: p.Numerator, DenominatorVariance: p.NumeratorVariance,
		}
		turned, err := ratio.Fieller(q, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		for _, theta := range []float64{-7.3, -1.1, -0.2, 0.3, 0.9, 6.1} {
			if s.Contains(theta) != turned.Contains(1/theta) {
				t.Fatalf("%v in %+v: %v, 1/%v in %+v: %v", theta, s, s.Contains(theta), theta, turned, turned.Contains(1/theta))
			}
		}
	})
}

func TestWithin(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		set  ratio.Set
		want []ratio.Segment
	}{
		{ratio.Set{Kind: ratio.Interval, Low: 2, High: 20}, []ratio.Segment{{2, 10}}},
		{ratio.Set{Kind: ratio.Interval, Low: 12, High: 20}, nil},
		{ratio.Set{Kind: ratio.TwoRays, Low: 2, High: 8}, []ratio.Segment{{0, 2}, {8, 10}}},
		{ratio.Set{Kind: ratio.TwoRays, Low: -2, High: 8}, []ratio.Segment{{8, 10}}},
		{ratio.Set{Kind: ratio.WholeLine, Low: -inf, High: inf}, []ratio.Segment{{0, 10}}},
		{ratio.Set{Kind: ratio.HalfLine, Low: 3, High: inf}, []ratio.Segment{{3, 10}}},
	} {
		got := c.set.Within(0, 10)
		if len(got) != len(c.want) {
			t.Errorf("%+v: %v, want %v", c.set, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%+v: %v, want %v", c.set, got, c.want)
			}
		}
	}
}

func TestShift(t *testing.T) {
	s := ratio.Set{Kind: ratio.TwoRays, Low: -1, High: 2}.Shift(3)
	if s.Low != 2 || s.High != 5 || s.Contains(3) || !s.Contains(2) {
		t.Errorf("%+v", s)
	}
}

func TestKnownParts(t *testing.T) {
	// A denominator without error: the set is the interval of the numerator.
	p := ratio.Pair{Numerator: 6, Denominator: -2, NumeratorVariance: 1, DF: math.Inf(1)}
	s, err := ratio.Fieller(p, 0.95)
	if err != nil || s.Kind != ratio.Interval || s.G != 0 {
		t.Fatal(s, err)
	}
	near(t, "low", s.Low, -3-1.959963984540054/2, 1e-12)
	near(t, "high", s.High, -3+1.959963984540054/2, 1e-12)
	// On the edge: b^2 = t^2 v_bb exactly, in units where both are 1.
	edge := ratio.Pair{Numerator: 1, NumeratorVariance: 0, DF: math.Inf(1), DenominatorVariance: 1}
	limit, err := ratio.Delta(ratio.Pair{Denominator: 1, NumeratorVariance: 1, DF: math.Inf(1)}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	edge.Denominator = limit.ConfHigh
	if s, err := ratio.Fieller(ratio.Pair{Numerator: 1, NumeratorVariance: 1, DenominatorVariance: 1, DF: 9}, 0.9); err != nil || s.Kind != ratio.WholeLine {
		t.Errorf("a denominator of zero: %+v, %v", s, err)
	}
	s, err = ratio.Fieller(edge, 0.95)
	if err != nil || s.Kind != ratio.HalfLine || !math.IsInf(s.High, 1) {
		t.Errorf("on the edge: %+v, %v", s, err)
	}
	near(t, "edge", s.Low, 1/(2*limit.ConfHigh), 1e-12)
	// Very large and very small units.
	big := ratio.Pair{Numerator: 6e200, Denominator: 2e-150, NumeratorVariance: 1e300, DenominatorVariance: 1e-302, DF: 9}
	if s, err := ratio.Fieller(big, 0.95); !errors.Is(err, ratio.ErrNotFinite) {
		t.Errorf("overflow: %+v, %v", s, err)
	}
	paired, err := ratio.PairedMeans([]float64{2, 4, 7, 9}, []float64{1, 2, 3, 5})
	if err != nil {
		t.Fatal(err)
	}
	// By hand: means 5.5 and 2.75, sums of squares 29 and 8.75, products 15.5.
	want := ratio.Pair{Numerator: 5.5, Denominator: 2.75, NumeratorVariance: 29. / 12, DenominatorVariance: 8.75 / 12, Covariance: 15.5 / 12, DF: 3}
	if paired != want {
		t.Errorf("paired means: %+v, want %+v", paired, want)
	}
}

func TestDegenerateInput(t *testing.T) {
	nan := math.NaN()
	good := ratio.Pair{Numerator: 1, Denominator: 2, NumeratorVariance: 1, DenominatorVariance: 1, DF: 9}
	change := func(f func(*ratio.Pair)) ratio.Pair { p := good; f(&p); return p }
	for name, c := range map[string]struct {
		p     ratio.Pair
		level float64
		want  error
	}{
		"NaN":               {change(func(p *ratio.Pair) { p.Numerator = nan }), 0.95, ratio.ErrNotFinite},
		"infinite variance": {change(func(p *ratio.Pair) { p.DenominatorVariance = math.Inf(1) }), 0.95, ratio.ErrNotFinite},
		"negative variance": {change(func(p *ratio.Pair) { p.NumeratorVariance = -1 }), 0.95, ratio.ErrCovariance},
		"too much":          {change(func(p *ratio.Pair) { p.Covariance = 1.1 }), 0.95, ratio.ErrCovariance},
		"no variance":       {change(func(p *ratio.Pair) { p.NumeratorVariance, p.DenominatorVariance = 0, 0 }), 0.95, ratio.ErrNoVariance},
		"no df":             {change(func(p *ratio.Pair) { p.DF = 0 }), 0.95, ratio.ErrArgument},
		"NaN df":            {change(func(p *ratio.Pair) { p.DF = nan }), 0.95, ratio.ErrArgument},
		"level":             {good, 1, ratio.ErrArgument},
		"denominator zero":  {change(func(p *ratio.Pair) { p.Denominator = 0 }), 0.95, ratio.ErrZeroDenominator},
	} {
		_, err := ratio.Delta(c.p, c.level)
		if !errors.Is(err, c.want) {
			t.Errorf("delta, %s: %v", name, err)
		}
		_, err = ratio.Fieller(c.p, c.level)
		if c.want == ratio.ErrZeroDenominator {
			c.want = nil // Fieller's set exists
		}
		if !errors.Is(err, c.want) {
			t.Errorf("Fieller, %s: %v", name, err)
		}
	}
	far := ratio.Pair{Numerator: math.MaxFloat64, NumeratorVariance: 1e-200, DF: math.Inf(1)}
	if set, err := ratio.Fieller(far, 0.95); !errors.Is(err, ratio.ErrNotFinite) {
		t.Errorf("numerator out of range in its standard errors: %+v, %v", set, err)
	}
	if _, err := ratio.TurningPointOf(1, 0, 1, 0, 1, 9, 0.95); !errors.Is(err, ratio.ErrZeroDenominator) {
		t.Errorf("no curvature: %v", err)
	}
	if _, err := ratio.TurningPointOf(1, 1, 1, 0, 0, 9, 0.95); !errors.Is(err, ratio.ErrNoVariance) {
		t.Errorf("curvature without error: %v", err)
	}
	if _, err := ratio.IndependentMeans([]float64{1}, []float64{2}); !errors.Is(err, ratio.ErrTooFew) {
		t.Errorf("two values: %v", err)
	}
	if _, err := ratio.IndependentMeans([]float64{1, 2}, []float64{2, nan}); !errors.Is(err, ratio.ErrNotFinite) {
		t.Errorf("NaN in a mean: %v", err)
	}
	if _, err := ratio.PairedMeans([]float64{1, 2}, []float64{2}); !errors.Is(err, ratio.ErrShape) {
		t.Errorf("lengths: %v", err)
	}
	if _, err := ratio.PairedMeans([]float64{1}, []float64{2}); !errors.Is(err, ratio.ErrTooFew) {
		t.Errorf("one pair: %v", err)
	}
	if ratio.Kind(9).String() == "" || ratio.TwoRays.String() != "two rays" {
		t.Error("names of kinds")
	}
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: got %.17g, want %.17g", what, got, want)
	}
}
