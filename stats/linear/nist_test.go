package linear

import (
	"fmt"
	"math"
	"math/big"
	"testing"
)

// TestNIST checks the certified values of the eleven linear sets of the NIST
// Statistical Reference Datasets (source in testdata/nist/certified.json). The
// digits asked for are those a set supports when its powers of x are rounded
// to float64 before the fit.
func TestNIST(t *testing.T) {
	var certified struct {
		Sets map[string]struct {
			Estimate   []float64
			SE         []float64 `json:"se"`
			ResidualSD float64   `json:"residual_sd"`
			RSquared   float64   `json:"r_squared"`
			DF         int       `json:"df"`
		}
	}
	readJSON(t, "nist/certified.json", &certified)

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
		t.Run(c.set, func(t *testing.T) {
			want := certified.Sets[c.set]
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
			if m.Rank != len(want.Estimate) || m.DFResidual != want.DF {
				t.Fatalf("rank %d, df %d; certified %d, %d", m.Rank, m.DFResidual, len(want.Estimate), want.DF)
			}
			if m.Exact != c.exact {
				t.Errorf("exact %v, want %v", m.Exact, c.exact)
			}
			rows := m.Coefficients(m.Classical(), 0.95)
			worst, worstSE := 16.0, 16.0
			for i, r := range rows {
				worst = math.Min(worst, digitsRight(r.Estimate, want.Estimate[i]))
				if !c.exact {
					worstSE = math.Min(worstSE, digitsRight(r.StdError, want.SE[i]))
				}
			}
			t.Logf("fewest digits right: estimates %.1f, standard errors %.1f, residual SD %.1f, R squared %.1f",
				worst, worstSE, digitsRight(m.Sigma, want.ResidualSD), digitsRight(m.RSquared, want.RSquared))
			if worst < c.digits {
				t.Errorf("estimates have %.1f digits right, want %v", worst, c.digits)
			}
			if c.exact {
				if top := largest(p.Response); m.Sigma > 1e-14*top {
					t.Errorf("residual SD %v of an exact fit, largest response %v", m.Sigma, top)
				}
				return
			}
			if worstSE < c.seDigits {
				t.Errorf("standard errors have %.1f digits right, want %v", worstSE, c.seDigits)
			}
			if d := digitsRight(m.Sigma, want.ResidualSD); d < c.seDigits {
				t.Errorf("residual SD has %.1f digits right, want %v", d, c.seDigits)
			}
			if d := digitsRight(m.RSquared, want.RSquared); d < c.seDigits {
				t.Errorf("R squared has %.1f digits right, want %v", d, c.seDigits)
			}
		})
	}
}

// TestFilip takes the hardest NIST set apart. Its raw powers, each rounded to
// float64, determine the certified coefficients to 7.6 digits and no more: the
// exact solution for the rounded columns says so. Against that exact solution
// the fit has thirteen. Powers of a shifted and scaled x are well conditioned and
// give twelve digits of the certified values when multiplied out.
func TestFilip(t *testing.T) {
	var certified struct {
		Sets map[string]struct{ Estimate []float64 }
	}
	readJSON(t, "nist/certified.json", &certified)
	want := certified.Sets["Filip"].Estimate
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
