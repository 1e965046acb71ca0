package linear

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// covariances gives every covariance of a model by name.
func covariances(t testing.TB, m *Model) map[string]Covariance {
	t.Helper()
	all := map[string]Covariance{"classical": m.Classical()}
	for kind := HC0; kind <= HC5; kind++ {
		all[kind.String()] = mustHC(t, m, kind)
	}
	for kind := CR0; kind <= CR3; kind++ {
		all[kind.String()] = mustCR(t, m, kind)
	}
	return all
}

func entries(c Covariance) [][]float64 {
	n := c.Matrix.SymmetricDim()
	out := make([][]float64, n)
	for i := range out {
		for j := range n {
			out[i] = append(out[i], c.Matrix.At(i, j))
		}
	}
	return out
}

func sameCovariances(t *testing.T, got, want *Model, tolerance float64) {
	t.Helper()
	wanted := covariances(t, want)
	for kind, c := range covariances(t, got) {
		checkCovariance(t, kind, c, entries(wanted[kind]), tolerance)
		for i, df := range c.DF {
			checkClose(t, kind+" df", df, wanted[kind].DF[i], tolerance)
		}
	}
}

// TestRowOrder: the order of the rows and the labels of groups do not matter.
func TestRowOrder(t *testing.T) {
	drawn(t, func(t *testing.T, p Problem) {
		order := rand.New(rand.NewPCG(7, 7)).Perm(len(p.Response))
		q := Problem{Terms: p.Terms, Working: p.Working}
		for range p.Columns {
			q.Columns = append(q.Columns, nil)
		}
		for _, i := range order {
			q.Response = append(q.Response, p.Response[i])
			for j, c := range p.Columns {
				q.Columns[j] = append(q.Columns[j], c[i])
			}
			q.Cluster = append(q.Cluster, -5*p.Cluster[i]+1)
			if p.Absorb != nil {
				q.Absorb = append(q.Absorb, 1000-p.Absorb[i])
			}
			if p.Weights != nil {
				q.Weights = append(q.Weights, p.Weights[i])
			}
		}
		a, b := mustFit(t, p), mustFit(t, q)
		for i, v := range b.Estimates {
			checkClose(t, "estimate", v, a.Estimates[i], 1e-11)
		}
		for i, from := range order {
			if math.Abs(b.Residuals[i]-a.Residuals[from]) > 1e-11 {
				t.Errorf("residual of row %d differs", from)
			}
		}
		sameCovariances(t, b, a, 1e-9)
	})
}

// TestUnits: a shift of the response moves the intercept alone; units of the
// response, of a column and of the weights carry through; t and df stay.
func TestUnits(t *testing.T) {
	drawn(t, func(t *testing.T, p Problem) {
		const yUnit, xUnit, wUnit, shift = 1e-3, 4e7, 60.0, -300.0
		q := p
		q.Response = mapped(p.Response, func(v float64) float64 { return yUnit * (v + shift) })
		q.Columns = append([][]float64{}, p.Columns...)
		q.Columns[0] = mapped(p.Columns[0], func(v float64) float64 { return xUnit * v })
		sigmaUnit := yUnit
		if p.Weights != nil {
			q.Weights = mapped(p.Weights, func(v float64) float64 { return wUnit * v })
			sigmaUnit *= math.Sqrt(wUnit)
		}
		a, b := mustFit(t, p), mustFit(t, q)
		checkClose(t, "sigma", b.Sigma, a.Sigma*sigmaUnit, 1e-11)
		checkClose(t, "R squared", b.RSquared, a.RSquared, 1e-10)
		checkClose(t, "R squared within", b.RSquaredWithin, a.RSquaredWithin, 1e-10)
		for i := range a.Estimates[:3] {
			factor := yUnit
			if i == 0 {
				factor /= xUnit
			}
			checkClose(t, a.Terms[i], b.Estimates[i], a.Estimates[i]*factor, 1e-10)
		}
		wanted := covariances(t, a)
		for kind, c := range covariances(t, b) {
			rows, before := b.Coefficients(c, 0.9), a.Coefficients(wanted[kind], 0.9)
			for i := range rows[:3] {
				checkClose(t, kind+" t", rows[i].Statistic, before[i].Statistic, 1e-9)
				checkClose(t, kind+" df", rows[i].DF, before[i].DF, 1e-9)
			}
		}
	})
}

// TestWrittenOut: absorbing equals a fit of the same package with indicators.
func TestWrittenOut(t *testing.T) {
	drawn(t, func(t *testing.T, p Problem) {
		if p.Absorb == nil {
			return
		}
		q := p
		q.Absorb = nil
		q.Terms = append([]string{}, p.Terms...)
		q.Columns = append([][]float64{}, p.Columns...)
		for k, c := range indicators(p.Absorb) {
			q.Terms = append(q.Terms, "group "+string(rune('A'+k)))
			q.Columns = append(q.Columns, c)
		}
		a, b := mustFit(t, p), mustFit(t, q)
		if a.DFResidual != b.DFResidual || a.AbsorbedGroups != b.Rank-a.Rank {
			t.Errorf("df %d and %d, %d groups, ranks %d and %d", a.DFResidual, b.DFResidual, a.AbsorbedGroups, a.Rank, b.Rank)
		}
		checkClose(t, "sigma", a.Sigma, b.Sigma, 1e-11)
		checkClose(t, "R squared", a.RSquared, b.RSquared, 1e-11)
		for i, h := range a.Leverages() {
			checkClose(t, "leverage", h, b.Leverages()[i], 1e-10)
		}
		wanted := covariances(t, b)
		for kind, c := range covariances(t, a) {
			full := entries(wanted[kind])[:a.Rank]
			checkCovariance(t, kind, c, full, 1e-9)
			for i, df := range c.DF {
				checkClose(t, kind+" df", df, wanted[kind].DF[i], 1e-9)
			}
		}
		for _, term := range a.Terms {
			r, df, err := a.PartialCorrelation(term)
			s, dg, err2 := b.PartialCorrelation(term)
			if err != nil || err2 != nil || df != dg {
				t.Errorf("partial correlation: %v, %v, df %d and %d", err, err2, df, dg)
			}
			checkClose(t, "partial correlation", r, s, 1e-10)
		}
	})
}

// TestEqualWeights: weights of one take the general path and must give what no
// weights give.
func TestEqualWeights(t *testing.T) {
	drawn(t, func(t *testing.T, p Problem) {
		if p.Weights != nil {
			return
		}
		q := p
		q.Weights = ones(len(p.Response))
		sameCovariances(t, mustFit(t, q), mustFit(t, p), 1e-9)
	})
}

// TestClustersOfOneRow: CR0 is then HC0, CR2 is HC2 and CR1 is HC0 n/(n-1).
func TestClustersOfOneRow(t *testing.T) {
	drawn(t, func(t *testing.T, p Problem) {
		for i := range p.Cluster {
			p.Cluster[i] = i
		}
		m := mustFit(t, p)
		n := float64(m.N)
		hc0 := mustHC(t, m, HC0)
		checkCovariance(t, "CR0", mustCR(t, m, CR0), entries(hc0), 1e-10)
		hc0.Matrix.ScaleSym(n/(n-1), hc0.Matrix)
		checkCovariance(t, "CR1", mustCR(t, m, CR1), entries(hc0), 1e-10)
		if !m.targeted() { // HC2 takes variances inverse to the weights
			checkCovariance(t, "CR2", mustCR(t, m, CR2), entries(mustHC(t, m, HC2)), 1e-9)
		}
	})
}

// TestUnbiased: CR2 and HC2 are exactly unbiased under the working model. Both
// are quadratic in y, so their expectation over y with independent entries of
// variance theta is the sum over unit vectors e_i sqrt(theta_i), here without
// chance. (With an effect for each cluster only InverseWeights keeps the promise.)
func TestUnbiased(t *testing.T) {
	drawn(t, func(t *testing.T, p Problem) {
		if p.Weights != nil && p.Working != InverseWeights && p.Absorb != nil {
			return
		}
		m := mustFit(t, p)
		want := entries(m.Classical())
		for i := range want {
			for j := range want[i] {
				want[i][j] /= m.Sigma * m.Sigma
			}
		}
		equal := p.Weights != nil && p.Working == EqualVariances
		if equal {
			b := newTextbook(t, p)
			var v mat.Dense
			v.Mul(&b.estimator, b.estimator.T())
			want = leading(&v, m.Rank)
		}
		cr, hc := mustCR(t, m, CR2), mustHC(t, m, HC2)
		cr.Matrix.Zero()
		hc.Matrix.Zero()
		for i := range p.Response {
			q := p
			q.Response = make([]float64, m.N)
			q.Response[i] = 1
			if p.Weights != nil && !equal {
				q.Response[i] /= math.Sqrt(p.Weights[i])
			}
			unit := mustFit(t, q)
			cr.Matrix.AddSym(cr.Matrix, mustCR(t, unit, CR2).Matrix)
			hc.Matrix.AddSym(hc.Matrix, mustHC(t, unit, HC2).Matrix)
		}
		checkCovariance(t, "expected CR2", cr, want, 1e-9)
		if !equal {
			checkCovariance(t, "expected HC2", hc, want, 1e-9)
		}
	})
}

// TestVarianceInflation: 1/(1 - R^2) of the term regressed on the others.
func TestVarianceInflation(t *testing.T) {
	drawn(t, func(t *testing.T, p Problem) {
		m := mustFit(t, p)
		q := p
		q.Response = p.Columns[0]
		q.Terms, q.Columns = p.Terms[1:], p.Columns[1:]
		other := mustFit(t, q)
		got, err := m.VarianceInflation(p.Terms[0])
		if err != nil {
			t.Fatal(err)
		}
		checkClose(t, "variance inflation", got, 1/(1-other.RSquaredWithin), 1e-9)
		if p.Absorb == nil {
			if _, err := m.VarianceInflation("one"); !errors.Is(err, ErrNoVariance) {
				t.Errorf("of the intercept: %v", err)
			}
		}
	})
}

// TestInputsKept: Fit changes nothing it is given and keeps no hold on it, and
// the same input gives the same bits.
func TestInputsKept(t *testing.T) {
	drawn(t, func(t *testing.T, p Problem) {
		q := p
		q.Response = append([]float64{}, p.Response...)
		q.Terms = append([]string{}, p.Terms...)
		q.Columns = nil
		for _, c := range p.Columns {
			q.Columns = append(q.Columns, append([]float64{}, c...))
		}
		q.Absorb = append([]int(nil), p.Absorb...)
		q.Cluster = append([]int(nil), p.Cluster...)
		q.Weights = append([]float64(nil), p.Weights...)
		m := mustFit(t, p)
		before := covariances(t, m)
		if !reflect.DeepEqual(p, q) {
			t.Error("the problem was changed")
		}
		again := mustFit(t, p)
		if !reflect.DeepEqual(m, again) {
			t.Error("a second fit gives other bits")
		}
		// Overwriting the caller's data must not reach the model.
		for i := range p.Response {
			p.Response[i], p.Cluster[i], p.Columns[0][i] = 0, 0, 0
			if p.Weights != nil {
				p.Weights[i] = 9
			}
			if p.Absorb != nil {
				p.Absorb[i] = 0
			}
		}
		p.Terms[0] = "other"
		if after := covariances(t, m); !reflect.DeepEqual(before, after) || m.Terms[0] == "other" {
			t.Error("the model changed with the caller's data")
		}
	})
}

// TestHostile: whatever the numbers, Fit gives an error of a known kind or a
// model without a NaN, and its methods too. No panic.
func TestHostile(t *testing.T) {
	values := []float64{0, 1, -1, 2, 0.1, 1e-8, 1e16, 1e154, -1e200, 1e308, 1e-200, 5e-324, math.Inf(1), math.NaN()}
	known := []error{ErrShape, ErrNotFinite, ErrWeight, ErrName, ErrTerm, ErrTooFewRows, ErrNoTerms, ErrNoVariance,
		ErrNoClusters, ErrOneCluster, ErrLeverage, ErrNoInformation, ErrArgument}
	rapid.Check(t, func(rt *rapid.T) {
		// Mostly tame values, or nothing would get past the checks.
		value := rapid.OneOf(rapid.Float64Range(-3, 3), rapid.Float64Range(-3, 3),
			rapid.Map(rapid.IntRange(0, 3), func(i int) float64 { return float64(i) }),
			rapid.SampledFrom(values[:rapid.IntRange(1, len(values)).Draw(rt, "kinds")]))
		n := rapid.IntRange(0, 9).Draw(rt, "n")
		column := rapid.SliceOfN(value, n, n)
		codes := rapid.SliceOfN(rapid.IntRange(-1, 3), n, n)
		p := Problem{Response: column.Draw(rt, "y")}
		for j := range rapid.IntRange(0, 4).Draw(rt, "p") {
			p.Terms = append(p.Terms, string(rune('a'+j)))
			p.Columns = append(p.Columns, column.Draw(rt, "x"))
		}
		if rapid.Bool().Draw(rt, "absorb") {
			p.Absorb = codes.Draw(rt, "groups")
		}
		if rapid.Bool().Draw(rt, "cluster") {
			p.Cluster = codes.Draw(rt, "clusters")
		}
		if rapid.Bool().Draw(rt, "weighted") {
			p.Weights = mapped(column.Draw(rt, "w"), math.Abs)
		}
		expected := func(err error) bool {
			for _, k := range known {
				if errors.Is(err, k) {
					return true
				}
			}
			return false
		}
		m, err := Fit(p)
		if err != nil {
			if !expected(err) {
				rt.Fatalf("unknown error %v", err)
			}
			return
		}
		tame := func(what string, values ...float64) {
			for _, v := range values {
				if math.IsNaN(v) {
					rt.Fatalf("%s: NaN in %v\n%+v", what, values, p)
				}
			}
		}
		tame("model", append([]float64{m.Sigma, m.RSquared, m.RSquaredWithin}, append(m.Estimates, m.Residuals...)...)...)
		tame("leverages", m.Leverages()...)
		check := func(c Covariance, err error) {
			if err != nil {
				if !expected(err) {
					rt.Fatalf("unknown error %v", err)
				}
				return
			}
			for _, row := range entries(c) {
				tame(c.Kind, row...)
			}
			for _, r := range m.Coefficients(c, 0.95) {
				tame(c.Kind, r.Estimate, r.StdError, r.Statistic, r.DF, r.PValue, r.ConfLow, r.ConfHigh)
				if r.PValue < 0 || r.PValue > 1 || (r.DF != 0 && r.DF < 1) {
					rt.Fatalf("%s: %+v", c.Kind, r)
				}
			}
		}
		check(m.Classical(), nil)
		for kind := HC0; kind <= HC3; kind++ {
			check(m.Heteroscedastic(kind))
		}
		for kind := CR0; kind <= CR2; kind++ {
			check(m.Clustered(kind))
		}
		for _, term := range m.Terms {
			if r, _, err := m.PartialCorrelation(term); err == nil {
				tame("partial correlation", r)
			} else if !expected(err) {
				rt.Fatal(err)
			}
			if v, err := m.VarianceInflation(term); err == nil {
				tame("variance inflation", v)
			} else if !expected(err) {
				rt.Fatal(err)
			}
		}
	})
}
