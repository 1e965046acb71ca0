package linear

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"os"
	"testing"

	"lengthwise/stats/internal/reference"
)

// TestNIST compares every number of testdata/nist/certified.json: the certified
// values of the eleven linear sets of the NIST Statistical Reference Datasets
// (source in the file). The digits asked for are those a set supports when its
// powers of x are rounded to float64 before the fit. r_check are the fewest digits
// that R's lm has right on the same sets: no set may have fewer here.
func TestNIST(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "nist/certified.json")
	for _, c := range []struct {
		set, file        string
		from, to         int      // powers of x, from a to b
		columns          []string // or an intercept and these columns
		digits, seDigits float64
		exact            bool // certified residual SD of zero
	}{
		{set: "Norris", file: "norris", from: 0, to: 1, digits: 12, seDigits: 12},
		{set: "Pontius", file: "pontius", from: 0, to: 2, digits: 12, seDigits: 12},
		{set: "NoInt1", file: "noint1", from: 1, to: 1, digits: 12, seDigits: 12},
		{set: "NoInt2", file: "noint2", from: 1, to: 1, digits: 12, seDigits: 12},
		{set: "Filip", file: "filip", from: 0, to: 10, digits: 7.5, seDigits: 8}, // see TestFilip
		{set: "Longley", file: "longley", columns: []string{"x1", "x2", "x3", "x4", "x5", "x6"}, digits: 12, seDigits: 12},
		{set: "Wampler1", file: "wampler1", from: 0, to: 5, digits: 12, exact: true},
		{set: "Wampler2", file: "wampler2", from: 0, to: 5, digits: 12, exact: true},
		{set: "Wampler3", file: "wampler3", from: 0, to: 5, digits: 12, seDigits: 12},
		{set: "Wampler4", file: "wampler4", from: 0, to: 5, digits: 12, seDigits: 12},
		{set: "Wampler5", file: "wampler5", from: 0, to: 5, digits: 12, seDigits: 12},
	} {
		at := "sets/" + c.set + "/"
		data := readFrame(t, "nist/"+c.file+".csv")
		p := Problem{Response: data["y"]}
		if c.columns != nil {
			p.Terms = append([]string{"B0"}, c.columns...)
			p.Columns = [][]float64{ones(len(data["y"]))}
			for _, name := range c.columns {
				p.Columns = append(p.Columns, data[name])
			}
		} else {
			for k := c.from; k <= c.to; k++ {
				p.Terms = append(p.Terms, fmt.Sprintf("B%d", k))
				p.Columns = append(p.Columns, mapped(data["x"], func(x float64) float64 { return power(x, k) }))
			}
		}
		m := mustFit(t, p)
		certified := at + "certified/"
		estimates, stdErrors := f.Values(t, certified+"estimate"), f.Values(t, certified+"se")
		if m.Rank != len(estimates) || m.Exact != c.exact {
			t.Fatalf("%s: rank %d, exact %v", c.set, m.Rank, m.Exact)
		}
		f.Counts(t, m.N, at+"n")
		worst, worstSE := 16.0, 16.0
		for i, r := range m.Coefficients(m.Classical(), 0.95) {
			entry := fmt.Sprint("estimate/", i)
			f.Near(t, r.Estimate, math.Pow(10, -c.digits), certified+entry)
			worst = math.Min(worst, digitsRight(r.Estimate, estimates[i]))
			if !c.exact {
				f.Near(t, r.StdError, math.Pow(10, -c.seDigits), certified+fmt.Sprint("se/", i))
				worstSE = math.Min(worstSE, digitsRight(r.StdError, stdErrors[i]))
			}
		}
		t.Logf("%s: fewest digits right: estimates %.1f, standard errors %.1f", c.set, worst, worstSE)
		top := largest(p.Response)
		for name, v := range analysed(t, m) {
			if c.exact {
				// Certified zeros, and R squared of one: to the rounding of the response.
				f.Within(t, v, 1e-12, top*top, certified+name)
				continue
			}
			f.Near(t, v, math.Pow(10, -math.Min(c.seDigits, 10)), certified+name)
		}
		if c.exact {
			for i, r := range m.Coefficients(m.Classical(), 0.95) {
				f.Within(t, r.StdError, 1e-12, top, certified+fmt.Sprint("se/", i))
			}
			if m.Sigma > 1e-14*top {
				t.Errorf("%s: residual SD %v of an exact fit, largest response %v", c.set, m.Sigma, top)
			}
			// Without error there is no F; the sum of squares is that of the response.
			var mean, total float64
			for _, y := range p.Response {
				mean += y / float64(m.N)
			}
			for _, y := range p.Response {
				total += (y - mean) * (y - mean)
			}
			f.Near(t, total*m.RSquared, 1e-11, certified+"regression/ss")
			f.Near(t, total*m.RSquared/float64(m.Rank-1), 1e-11, certified+"regression/ms")
		}
		// R's digits: lm keeps Filip by a tolerance of its own and more of its powers'
		// rounding than an exact solution can (TestFilip).
		lm := "r_check/" + c.set + "/"
		if least := f.Number(t, lm+"min_LRE_estimate"); c.set != "Filip" && worst < math.Min(least, 13) {
			t.Errorf("%s: estimates have %.1f digits right, R's lm %.1f", c.set, worst, least)
		}
		if f.Has(lm + "min_LRE_se") {
			if least := f.Number(t, lm+"min_LRE_se"); !c.exact && worstSE < math.Min(least, 13) {
				t.Errorf("%s: standard errors have %.1f digits right, R's lm %.1f", c.set, worstSE, least)
			}
		}
	}
	f.Complete(t)
}

// analysed gives the analysis of variance as the certificates name it: F from the
// Wald test of all terms but the intercept, sums of squares from F. The ten powers
// of Filip are too near each other for one Wald test (a typed error); there F is
// that of R squared.
func analysed(t *testing.T, m *Model) map[string]float64 {
	t.Helper()
	terms := m.Terms
	if terms[0] == "B0" {
		terms = terms[1:]
	}
	out := map[string]float64{
		"residual_sd": m.Sigma, "r_squared": m.RSquared,
		"residual/df": float64(m.DFResidual), "residual/ms": m.Sigma * m.Sigma,
		"residual/ss":   m.Sigma * m.Sigma * float64(m.DFResidual),
		"regression/df": float64(len(terms)),
	}
	if m.Exact {
		return out
	}
	f, err := m.Wald(m.Classical(), mustSelect(t, m, terms...))
	if errors.Is(err, ErrNoInformation) && len(terms) == 10 {
		f.Statistic = m.RSquared / (1 - m.RSquared) * float64(m.DFResidual) / 10
	} else if err != nil {
		t.Fatal(err)
	}
	out["regression/F"] = f.Statistic
	out["regression/ms"] = f.Statistic * m.Sigma * m.Sigma
	out["regression/ss"] = out["regression/ms"] * float64(len(terms))
	return out
}

// TestFilip takes the hardest NIST set apart. Its raw powers, each rounded to
// float64, determine the certified coefficients to 7.6 digits and no more: the
// exact solution for the rounded columns says so. Against that exact solution
// the fit has thirteen. Powers of a shifted and scaled x are well conditioned and
// give twelve digits of the certified values when multiplied out.
func TestFilip(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "nist/certified.json")
	want := f.Values(t, "sets/Filip/certified/estimate")
	data := readFrame(t, "nist/filip.csv")
	const degree = 10

	polynomial := func(x []float64) Problem {
		p := Problem{Response: data["y"]}
		for k := range degree + 1 {
			p.Terms = append(p.Terms, fmt.Sprintf("B%d", k))
			p.Columns = append(p.Columns, mapped(x, func(x float64) float64 { return power(x, k) }))
		}
		return p
	}

	raw := polynomial(data["x"])
	m := mustFit(t, raw)
	exact := exactSolution(raw)
	worst, limit := 16.0, 16.0
	for i, v := range exact {
		worst = math.Min(worst, digitsRight(m.Estimates[i], v))
		limit = math.Min(limit, digitsRight(v, want[i]))
	}
	t.Logf("raw powers: %.1f digits of the exact solution, which has %.1f certified digits", worst, limit)
	if worst < 13 {
		t.Errorf("raw powers: %.1f digits of the exact solution right, want 13", worst)
	}

	// u = (x + 6)/4 lies within [-1, 1] and is exact but for the last bits.
	m = mustFit(t, polynomial(mapped(data["x"], func(x float64) float64 { return (x + 6) / 4 })))
	expanded := make([]*big.Float, degree+1)
	term := []*big.Float{newBig(1)} // coefficients of u^k in x
	for k := range degree + 1 {
		for i, c := range term {
			if expanded[i] == nil {
				expanded[i] = newBig(0)
			}
			expanded[i].Add(expanded[i], newBig(0).Mul(c, newBig(m.Estimates[k])))
		}
		next := make([]*big.Float, len(term)+1)
		for i := range next {
			next[i] = newBig(0)
		}
		for i, c := range term {
			next[i].Add(next[i], newBig(0).Mul(c, newBig(1.5)))
			next[i+1].Add(next[i+1], newBig(0).Mul(c, newBig(0.25)))
		}
		term = next
	}
	worst = 16
	for i, v := range expanded {
		f, _ := v.Float64()
		worst = math.Min(worst, digitsRight(f, want[i]))
	}
	t.Logf("shifted powers: %.1f certified digits", worst)
	if worst < 12 {
		t.Errorf("shifted powers: %.1f certified digits, want 12", worst)
	}
}

// newBig is a float of 1000 bits.
func newBig(v float64) *big.Float { return big.NewFloat(v).SetPrec(1000) }

// exactSolution solves the normal equations of an unweighted problem in 1000
// bits by elimination.
func exactSolution(p Problem) []float64 {
	k := len(p.Columns)
	a := make([][]*big.Float, k)
	dot := func(x, y []float64) *big.Float {
		s := newBig(0)
		for i := range x {
			s.Add(s, newBig(0).Mul(newBig(x[i]), newBig(y[i])))
		}
		return s
	}
	for i := range a {
		for j := range k {
			a[i] = append(a[i], dot(p.Columns[i], p.Columns[j]))
		}
		a[i] = append(a[i], dot(p.Columns[i], p.Response))
	}
	for i := range a {
		for r := range a {
			if r == i {
				continue
			}
			factor := newBig(0).Quo(a[r][i], a[i][i])
			for c := range a[r] {
				a[r][c].Sub(a[r][c], newBig(0).Mul(factor, a[i][c]))
			}
		}
	}
	x := make([]float64, k)
	for i := range x {
		x[i], _ = newBig(0).Quo(a[i][k], a[i][i]).Float64()
	}
	return x
}

// power is x^k rounded once, as a column of the exact polynomial would be.
func power(x float64, k int) float64 {
	exact := big.NewFloat(1).SetPrec(1000)
	for range k {
		exact.Mul(exact, big.NewFloat(x))
	}
	v, _ := exact.Float64()
	return v
}

// digitsRight is the log relative error, at most 15 (the certified digits).
func digitsRight(got, want float64) float64 {
	d := math.Abs(got - want)
	if want != 0 {
		d /= math.Abs(want)
	}
	return math.Min(15, -math.Log10(d))
}
