package linear

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// plain is a problem of ten rows, the ground for the tables below.
func plain() Problem {
	return Problem{
		Response: []float64{1, 3, 2, 5, 4, 6, 8, 7, 9, 12},
		Terms:    []string{"one", "x"},
		Columns:  [][]float64{ones(10), {1, 2, 3, 4, 5, 6, 7, 8, 9, 10}},
	}
}

func TestFitErrors(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(-1)
	pairs := []int{0, 0, 1, 1, 2, 2, 3, 3, 4, 4}
	for _, c := range []struct {
		name   string
		change func(p *Problem)
		want   error
		says   string // part of the message
	}{
		{"no rows", func(p *Problem) { p.Response = nil; p.Columns = [][]float64{nil, nil} }, ErrTooFewRows, "empty"},
		{"no columns", func(p *Problem) { p.Terms, p.Columns = nil, nil }, ErrNoTerms, "no columns"},
		{"more terms than columns", func(p *Problem) { p.Terms = append(p.Terms, "z") }, ErrShape, "3 terms, 2 columns"},
		{"short column", func(p *Problem) { p.Columns[1] = p.Columns[1][:9] }, ErrShape, `"x" has 9 rows`},
		{"short absorb", func(p *Problem) { p.Absorb = []int{1} }, ErrShape, "absorb has 1"},
		{"short cluster", func(p *Problem) { p.Cluster = []int{} }, ErrShape, "cluster has 0"},
		{"short weights", func(p *Problem) { p.Weights = ones(3) }, ErrShape, "weights has 3"},
		{"unnamed term", func(p *Problem) { p.Terms[0] = "" }, ErrName, "column 0"},
		{"name twice", func(p *Problem) { p.Terms[0] = "x" }, ErrName, `"x"`},
		{"NaN in column", func(p *Problem) { p.Columns[1][4] = nan }, ErrNotFinite, "x row 4 is NaN"},
		{"infinite response", func(p *Problem) { p.Response[9] = inf }, ErrNotFinite, "response row 9 is -Inf"},
		{"NaN weight", func(p *Problem) { p.Weights = ones(10); p.Weights[2] = nan }, ErrNotFinite, "weights row 2"},
		{"zero weight", func(p *Problem) { p.Weights = ones(10); p.Weights[2] = 0 }, ErrWeight, "row 2 has 0"},
		{"weights far apart", func(p *Problem) { p.Weights = ones(10); p.Weights[2] = 1e16 }, ErrWeight, "1e+16"},
		{"as many groups as rows", func(p *Problem) { p.Absorb = []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9} }, ErrTooFewRows, "10 absorbed groups"},
		{"no residual df", func(p *Problem) {
			p.Response, p.Columns = p.Response[:2], [][]float64{ones(2), {1, 2}}
		}, ErrTooFewRows, "2 rows for 2 terms"},
		{"no residual df with groups", func(p *Problem) {
			p.Response, p.Terms, p.Columns, p.Absorb = p.Response[:4], []string{"x", "z"}, [][]float64{{1, 2, 3, 5}, {1, 2, 3, 1}}, pairs[:4]
		}, ErrTooFewRows, "4 rows for 2 terms and 2 absorbed groups"},
		{"constant response", func(p *Problem) { p.Response = ones(10) }, ErrNoVariance, "constant"},
		{"response of thirds", func(p *Problem) {
			p.Response = mapped(ones(10), func(v float64) float64 { return v / 3 })
		}, ErrNoVariance, "constant"},
		{"zero response without intercept", func(p *Problem) {
			p.Terms, p.Columns, p.Response = p.Terms[1:], p.Columns[1:], make([]float64, 10)
		}, ErrNoVariance, "constant"},
		{"response constant within groups", func(p *Problem) {
			p.Absorb = pairs
			for i := range p.Response {
				p.Response[i] = float64(pairs[i]) / 7
			}
		}, ErrNoVariance, "within the absorbed groups"},
		{"columns constant within groups", func(p *Problem) {
			p.Absorb = pairs
			for i := range p.Response {
				p.Columns[1][i] = float64(pairs[i]) / 7
			}
		}, ErrNoTerms, `"one" (constant within the absorbed groups), "x" (constant`},
		{"zero columns", func(p *Problem) { p.Columns = [][]float64{make([]float64, 10), make([]float64, 10)} }, ErrNoTerms, "zero throughout"},
		{"spread too large", func(p *Problem) {
			p.Terms, p.Columns = p.Terms[:1], p.Columns[:1]
			p.Columns[0] = mapped(p.Columns[0], func(v float64) float64 { return v * 1e300 })
			p.Weights = mapped(ones(10), func(v float64) float64 { return v * 1e300 })
			p.Response = []float64{1e308, -1e308, 1e308, -1e308, 1, 1, 1, 1, 1, 1}
		}, ErrNotFinite, "leaves the range"},
		{"units too far apart", func(p *Problem) {
			p.Columns[1] = mapped(p.Columns[1], func(v float64) float64 { return v * 1e-200 })
		}, ErrNotFinite, `"x" lie too far apart`},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := plain()
			c.change(&p)
			m, err := Fit(p)
			if !errors.Is(err, c.want) || m != nil {
				t.Fatalf("got %v, %v; want %v", m, err, c.want)
			}
			if !strings.Contains(err.Error(), c.says) || !strings.HasPrefix(err.Error(), "linear: ") {
				t.Errorf("message %q does not say %q", err, c.says)
			}
		})
	}
	p := plain()
	if s := DropCause(9).String(); s != "DropCause(9)" {
		t.Error(s)
	}
	p.Columns[1][4] = nan
	_, err := Fit(p)
	var at *NotFiniteError
	if !errors.As(err, &at) || at.Row != 4 || at.Column != "x" || !math.IsNaN(at.Value) {
		t.Errorf("place of the NaN: %+v", at)
	}
	// Constant response through the origin is a fair question.
	p = plain()
	p.Terms, p.Columns, p.Response = p.Terms[1:], p.Columns[1:], ones(10)
	if _, err := Fit(p); err != nil {
		t.Errorf("constant response without intercept: %v", err)
	}
}

// TestDropped: later columns go first, each with its cause, and what is left is
// the fit without them.
func TestDropped(t *testing.T) {
	p := plain()
	x := p.Columns[1]
	square := mapped(x, func(v float64) float64 { return v * v })
	p.Terms = []string{"one", "zero", "x", "2x+1", "square", "sum"}
	p.Columns = [][]float64{ones(10), make([]float64, 10), x, nil, square, nil}
	p.Columns[3] = mapped(x, func(v float64) float64 { return 2.1*v + 1.3 })
	p.Columns[5] = mapped(x, func(v float64) float64 { return v*v/3 - v/7 })
	m := mustFit(t, p)
	if want := []string{"one", "x", "square"}; !slices.Equal(m.Terms, want) {
		t.Errorf("kept %v, want %v", m.Terms, want)
	}
	if want := []string{"zero", "2x+1", "sum"}; !slices.Equal(m.Dropped, want) {
		t.Errorf("dropped %v, want %v", m.Dropped, want)
	}
	if want := []DropCause{DroppedZero, DroppedCollinear, DroppedCollinear}; !slices.Equal(m.DropCauses, want) {
		t.Errorf("causes %v, want %v", m.DropCauses, want)
	}
	q := p
	q.Terms = m.Terms
	q.Columns = [][]float64{p.Columns[0], x, square}
	clean := mustFit(t, q)
	for i, v := range clean.Estimates {
		checkClose(t, clean.Terms[i], m.Estimates[i], v, 1e-14)
	}
	if m.DFResidual != clean.DFResidual {
		t.Errorf("df %d, want %d", m.DFResidual, clean.DFResidual)
	}

	p.Absorb = []int{0, 0, 1, 1, 2, 2, 3, 3, 4, 4}
	p.Terms = append(p.Terms, "level")
	p.Columns = append(p.Columns, []float64{.1, .1, .7, .7, .3, .3, 1e6, 1e6, 4, 4})
	m = mustFit(t, p)
	if want := []string{"one", "zero", "2x+1", "sum", "level"}; !slices.Equal(m.Dropped, want) {
		t.Errorf("dropped %v, want %v", m.Dropped, want)
	}
	if m.DropCauses[0] != DroppedConstant || m.DropCauses[4] != DroppedConstant {
		t.Errorf("causes %v", m.DropCauses)
	}
	for term, says := range map[string]string{"level": "constant within", "2x+1": "combination", "zero": "zero", "nobody": "nobody"} {
		_, err := m.Coefficient(term, m.Classical(), 0.95)
		if !errors.Is(err, ErrTerm) || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v", term, err)
		}
		if _, _, err := m.PartialCorrelation(term); !errors.Is(err, ErrTerm) {
			t.Errorf("partial correlation of %s: %v", term, err)
		}
		if _, err := m.VarianceInflation(term); !errors.Is(err, ErrTerm) {
			t.Errorf("variance inflation of %s: %v", term, err)
		}
	}
}

// TestNearlyDependent: a column that differs from another by one part in 1e8 is
// kept, by one in 1e13 dropped, whatever its size and offset within groups.
func TestNearlyDependent(t *testing.T) {
	for _, c := range []struct {
		part float64
		rank int
	}{{1e-8, 3}, {1e-13, 2}} {
		p := plain()
		p.Terms = append(p.Terms, "z")
		z := mapped(p.Columns[1], func(v float64) float64 { return 1e5 * v })
		z[3] += c.part * 1e6
		p.Columns = append(p.Columns, z)
		if m := mustFit(t, p); m.Rank != c.rank {
			t.Errorf("part %v: rank %d, want %d", c.part, m.Rank, c.rank)
		}
	}
}

// TestFarFromZero: within groups, values that sit far from zero give the fit of
// the same values near zero, and dependence is still seen through the rounding
// that the distance costs.
func TestFarFromZero(t *testing.T) {
	p := plain()
	p.Absorb = []int{0, 0, 0, 1, 1, 1, 1, 2, 2, 2}
	p.Terms, p.Columns = []string{"x", "z"}, [][]float64{p.Columns[1], {3, 1, 4, 1, 5, 9, 2, 6, 5, 3}}
	near := mustFit(t, p)
	const far = 1 << 40 // whole numbers: nothing is lost by adding it
	shift := func(v float64) float64 { return v + far }
	q := p
	q.Response = mapped(p.Response, shift)
	q.Columns = [][]float64{mapped(p.Columns[0], shift), mapped(p.Columns[1], shift)}
	m := mustFit(t, q)
	for i, v := range near.Estimates {
		checkClose(t, m.Terms[i], m.Estimates[i], v, 1e-12)
	}
	for i, e := range near.Residuals {
		if math.Abs(m.Residuals[i]-e) > 1e-12 {
			t.Errorf("residual %d: %v, near zero %v", i, m.Residuals[i], e)
		}
	}
	// Thirds are rounded at this distance, by about 1e-4 of their spread.
	q.Terms = append(q.Terms, "third")
	q.Columns = append(q.Columns, mapped(p.Columns[0], func(v float64) float64 { return v/3 + far }))
	if m := mustFit(t, q); len(m.Dropped) != 1 || m.DropCauses[0] != DroppedCollinear {
		t.Errorf("kept %v, dropped %v %v", m.Terms, m.Dropped, m.DropCauses)
	}
}

func TestCovarianceErrors(t *testing.T) {
	p := plain()
	m := mustFit(t, p)
	if _, err := m.Clustered(CR2); !errors.Is(err, ErrNoClusters) {
		t.Errorf("without clusters: %v", err)
	}
	p.Cluster = make([]int, 10)
	m = mustFit(t, p)
	if _, err := m.Clustered(CR2); !errors.Is(err, ErrOneCluster) {
		t.Errorf("one cluster: %v", err)
	}
	if _, err := m.Clustered(CR3 + 1); !errors.Is(err, ErrArgument) || !strings.Contains(err.Error(), "CRKind(4)") {
		t.Errorf("unknown CR: %v", err)
	}
	if _, err := m.Heteroscedastic(-1); !errors.Is(err, ErrArgument) || !strings.Contains(err.Error(), "HCKind(-1)") {
		t.Errorf("unknown HC: %v", err)
	}
	c := m.Classical()
	for _, level := range []float64{0, 1, -1, 95, math.NaN()} {
		if _, err := m.Coefficient("x", c, level); !errors.Is(err, ErrArgument) {
			t.Errorf("level %v: %v", level, err)
		}
	}
	// The plural form has no error to give: limits follow the level instead.
	r := m.Coefficients(c, 0)[1]
	if r.ConfLow != r.Estimate || r.ConfHigh != r.Estimate {
		t.Errorf("level 0: %+v", r)
	}
	r = m.Coefficients(c, 1)[1]
	if !math.IsInf(r.ConfLow, -1) || !math.IsInf(r.ConfHigh, 1) {
		t.Errorf("level 1: %+v", r)
	}
	foreign := Covariance{Kind: "other", Matrix: mat.NewSymDense(1, nil), DF: []float64{1}}
	for _, f := range []Covariance{foreign, {}} {
		if rows := m.Coefficients(f, 0.95); rows != nil {
			t.Errorf("foreign covariance: %v", rows)
		}
		if _, err := m.Coefficient("x", f, 0.95); !errors.Is(err, ErrArgument) {
			t.Errorf("foreign covariance: %v", err)
		}
	}
}

// TestLeverageOne: a row that alone decides a term has no HC2 or HC3; a row
// alone in its absorbed group changes nothing but the count.
func TestLeverageOne(t *testing.T) {
	p := plain()
	p.Terms = append(p.Terms, "only row 6")
	p.Columns = append(p.Columns, make([]float64, 10))
	p.Columns[2][6] = 1
	m := mustFit(t, p)
	for _, kind := range []HCKind{HC2, HC3} {
		if _, err := m.Heteroscedastic(kind); !errors.Is(err, ErrLeverage) || !strings.Contains(err.Error(), "row 6") {
			t.Errorf("%v: %v", kind, err)
		}
	}
	p = plain()
	p.Absorb = []int{0, 0, 0, 0, 0, 1, 1, 1, 1, 1}
	base := mustFit(t, p)
	p.Response = append(p.Response, 77)
	p.Columns[0] = append(p.Columns[0], 1)
	p.Columns[1] = append(p.Columns[1], -3)
	p.Absorb = append(p.Absorb, 2)
	m = mustFit(t, p)
	if m.DFResidual != base.DFResidual || m.AbsorbedGroups != 3 {
		t.Errorf("df %d, groups %d", m.DFResidual, m.AbsorbedGroups)
	}
	for _, kind := range []HCKind{HC0, HC2, HC3} {
		checkCovariance(t, kind.String(), mustHC(t, m, kind), entries(mustHC(t, base, kind)), 1e-12)
	}
}

// TestNoInformation: the mean level of a cluster is decided by that cluster
// alone; CR2 must say that it cannot tell its variance.
func TestNoInformation(t *testing.T) {
	p := plain()
	p.Cluster = []int{0, 0, 0, 1, 1, 1, 2, 2, 2, 2}
	p.Terms = []string{"level 0", "level 1", "level 2"}
	p.Columns = indicators(p.Cluster)
	m := mustFit(t, p)
	for kind := CR0; kind <= CR3; kind++ {
		c := mustCR(t, m, kind)
		if _, err := m.WaldClustered(kind, mustSelect(t, m, "level 0", "level 2")); !errors.Is(err, ErrNoInformation) {
			t.Errorf("%v of two levels at once: %v", kind, err)
		}
		for i, r := range m.Coefficients(c, 0.95) {
			if c.DF[i] != 0 || r.DF != 0 || !math.IsInf(r.StdError, 1) || r.PValue != 1 || r.Statistic != 0 ||
				!math.IsInf(r.ConfLow, -1) || !math.IsInf(r.ConfHigh, 1) {
				t.Errorf("%v: %+v", kind, r)
			}
			if _, err := m.Coefficient(r.Term, c, 0.95); !errors.Is(err, ErrNoInformation) {
				t.Errorf("%v of %s: %v", kind, r.Term, err)
			}
		}
	}
}

// TestExactFit: an exact fit is flagged, single results refuse it, and tables
// hold no NaN even where standard errors are exactly zero.
func TestExactFit(t *testing.T) {
	p := plain()
	p.Terms, p.Columns = []string{"x", "z"}, [][]float64{p.Columns[1], {1, 0, 0, 0, 0, 0, 0, 0, 0, 0}}
	for _, unit := range []float64{1, 0.1, 1e30} {
		p.Response = mapped(p.Columns[0], func(v float64) float64 { return unit * v })
		m := mustFit(t, p)
		if !m.Exact || m.Sigma > 1e-15*unit {
			t.Errorf("unit %v: exact %v, sigma %v", unit, m.Exact, m.Sigma)
		}
		if _, err := m.Coefficient("x", m.Classical(), 0.95); !errors.Is(err, ErrNoVariance) {
			t.Errorf("coefficient: %v", err)
		}
		if _, _, err := m.PartialCorrelation("x"); !errors.Is(err, ErrNoVariance) {
			t.Errorf("partial correlation: %v", err)
		}
		none := Covariance{Kind: "none", Matrix: mat.NewSymDense(2, nil), DF: []float64{8, 8}}
		m.Estimates[1] = 0
		rows := m.Coefficients(none, 0.95)
		if r := rows[0]; !math.IsInf(r.Statistic, 1) || r.PValue != 0 || r.ConfLow != r.Estimate || r.ConfHigh != r.Estimate {
			t.Errorf("%+v", r)
		}
		if r := rows[1]; r.Statistic != 0 || r.PValue != 1 {
			t.Errorf("%+v", r)
		}
	}
	p.Response[2] *= 1 + 1e-13
	if m := mustFit(t, p); m.Exact {
		t.Error("an error of 1e-13 in one row counts as exact")
	}
}

func TestArguments(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, a := range [][2]float64{{nan, 5}, {inf, 5}, {1, 0}, {1, -2}, {1, nan}, {1, inf}} {
		if v, err := RobustnessValue(a[0], a[1]); !errors.Is(err, ErrArgument) {
			t.Errorf("RobustnessValue%v: %v, %v", a, v, err)
		}
	}
	for _, a := range [][6]float64{
		{nan, 1, 9, -1, 1, .05}, {inf, 1, 9, -1, 1, .05},
		{0, 0, 9, -1, 1, .05}, {0, -1, 9, -1, 1, .05}, {0, nan, 9, -1, 1, .05}, {0, inf, 9, -1, 1, .05},
		{0, 1, 0, -1, 1, .05}, {0, 1, nan, -1, 1, .05},
		{0, 1, 9, 1, -1, .05}, {0, 1, 9, 1, 1, .05}, {0, 1, 9, nan, 1, .05}, {0, 1, 9, -1, inf, .05},
		{0, 1, 9, -1, 1, 0}, {0, 1, 9, -1, 1, .5}, {0, 1, 9, -1, 1, nan},
	} {
		if e, err := TwoOneSided(a[0], a[1], a[2], a[3], a[4], a[5]); !errors.Is(err, ErrArgument) {
			t.Errorf("TwoOneSided%v: %+v, %v", a, e, err)
		}
	}
	// With infinite degrees of freedom, the normal: 1.959964 is its 97.5 % point
	// (Abramowitz and Stegun 1964, table 26.1).
	e, err := TwoOneSided(0, 1, inf, -1.959963984540054, 1.959963984540054, 0.025)
	if err != nil {
		t.Fatal(err)
	}
	checkClose(t, "normal tail", e.P, 0.025, 1e-13)
	checkClose(t, "normal limit", e.ConfHigh, 1.959963984540054, 1e-14)
}

// TestEquivalenceInterval: equivalent exactly when the interval at level
// 1 - 2 alpha lies inside the bounds.
func TestEquivalenceInterval(t *testing.T) {
	equivalent := 0
	for i := range 400 {
		estimate := float64(i%20-10) / 4
		e, err := TwoOneSided(estimate, 0.1+float64(i/20)/8, 1.5+float64(i%7)*3, -2, 2.5, 0.01+0.02*float64(i%5))
		if err != nil {
			t.Fatal(err)
		}
		if inside := e.ConfLow > e.Low && e.ConfHigh < e.High; inside != e.Equivalent {
			t.Errorf("%+v", e)
		}
		if e.Equivalent {
			equivalent++
		}
	}
	if equivalent < 40 || equivalent > 360 {
		t.Errorf("%d of 400 equivalent: the table does not test both sides", equivalent)
	}
}
