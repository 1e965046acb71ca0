package linear

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// TestRobustReference checks estimates, leverages and all covariances against
// R's lm, sandwich and clubSandwich (versions and calls in
// testdata/robust.json). Closed forms to 1e-10, Satterthwaite degrees of freedom
// to 1e-8, p-values to 1e-8.
func TestRobustReference(t *testing.T) {
	var reference struct {
		Sets map[string]struct {
			Terms     []string
			Estimate  []float64
			Sigma     float64
			R2        float64
			T, P      []float64
			Classical [][]float64
			Hat       []float64
			HC        map[string][][]float64
			CR        map[string]struct {
				Vcov     [][]float64
				DF, T, P []float64
			}
		}
	}
	readJSON(t, "robust.json", &reference)
	for _, c := range []struct {
		set, response, cluster string
	}{
		{set: "stackloss", response: "stack.loss"},
		{set: "sleepstudy", response: "Reaction", cluster: "Subject"},
		// Clusters of unequal size: only here do CR1 and CR2 differ.
		{set: "sleepstudy_unbalanced", response: "Reaction", cluster: "Subject"},
	} {
		t.Run(c.set, func(t *testing.T) {
			want := reference.Sets[c.set]
			data := readFrame(t, c.set+".csv")
			p := Problem{
				Response: data[c.response],
				Terms:    want.Terms,
				Columns:  [][]float64{ones(len(data[c.response]))},
			}
			for _, term := range want.Terms[1:] {
				p.Columns = append(p.Columns, data[term])
			}
			if c.cluster != "" {
				p.Cluster = data.codes(c.cluster)
			}
			m := mustFit(t, p)
			classical := m.Classical()
			checkClose(t, "sigma", m.Sigma, want.Sigma, 1e-12)
			checkClose(t, "R squared", m.RSquared, want.R2, 1e-12)
			checkCovariance(t, "classical", classical, want.Classical, 1e-10)
			for i, r := range m.Coefficients(classical, 0.95) {
				checkClose(t, r.Term, r.Estimate, want.Estimate[i], 1e-12)
				checkClose(t, r.Term+" t", r.Statistic, want.T[i], 1e-10)
				checkClose(t, r.Term+" p", r.PValue, want.P[i], 1e-8)
			}
			leverages := m.Leverages()
			for i, h := range want.Hat {
				checkClose(t, fmt.Sprintf("leverage %d", i), leverages[i], h, 1e-10)
			}
			for kind := HC0; kind <= HC3; kind++ {
				checkCovariance(t, kind.String(), mustHC(t, m, kind), want.HC[kind.String()], 1e-10)
			}
			if c.cluster == "" {
				return
			}
			if m.Clusters != 18 {
				t.Errorf("%d clusters, want 18", m.Clusters)
			}
			for kind := CR0; kind <= CR2; kind++ {
				cov := mustCR(t, m, kind)
				w := want.CR[kind.String()]
				checkCovariance(t, kind.String(), cov, w.Vcov, 1e-10)
				for i, r := range m.Coefficients(cov, 0.95) {
					checkClose(t, r.Term+" Satterthwaite df", r.DF, w.DF[i], 1e-8)
					checkClose(t, r.Term+" robust t", r.Statistic, w.T[i], 1e-10)
					checkClose(t, r.Term+" robust p", r.PValue, w.P[i], 1e-8)
				}
			}
		})
	}
}

// absorbedProblem is a problem on testdata/absorbed.csv (invented data, made by
// testdata/absorbed.R) with the groups of the named column absorbed.
func absorbedProblem(data frame, absorb string, weighted bool, extra ...string) Problem {
	p := Problem{
		Response: data["y"],
		Terms:    []string{"x", "z", "log1p(t)"},
		Columns:  [][]float64{data["x"], data["z"], mapped(data["t"], math.Log1p)},
		Absorb:   data.codes(absorb),
		Cluster:  data.codes("session"),
	}
	for _, name := range extra {
		p.Terms = append(p.Terms, name)
		p.Columns = append(p.Columns, data[name])
	}
	if weighted {
		p.Weights = data["w"]
	}
	return p
}

// TestAbsorbedReference checks absorbing against R, where the groups are
// written out as factor(): groups equal to the clusters, nested within them and
// crossed with them, with weights, and with a cluster that alone decides a term
// (a singular block). Calls and versions in testdata/absorbed.json.
func TestAbsorbedReference(t *testing.T) {
	var reference struct {
		Sets map[string]struct {
			Estimate  []float64
			Sigma     float64
			R2        float64
			DF        int
			Classical [][]float64
			HC        map[string][][]float64
			CR        map[string]struct {
				Vcov  [][]float64
				DF, P []float64
			}
		}
	}
	readJSON(t, "absorbed.json", &reference)
	data := readFrame(t, "absorbed.csv")
	for set, p := range map[string]Problem{
		"same":             absorbedProblem(data, "session", false),
		"nested":           absorbedProblem(data, "half", false),
		"crossed":          absorbedProblem(data, "block", false),
		"singular":         absorbedProblem(data, "session", false, "solo"),
		"weighted":         absorbedProblem(data, "session", true),
		"weighted_crossed": absorbedProblem(data, "block", true),
	} {
		t.Run(set, func(t *testing.T) {
			want := reference.Sets[set]
			m := mustFit(t, p)
			if m.DFResidual != want.DF {
				t.Errorf("residual df %d, want %d", m.DFResidual, want.DF)
			}
			checkClose(t, "sigma", m.Sigma, want.Sigma, 1e-10)
			checkClose(t, "R squared", m.RSquared, want.R2, 1e-10)
			const terms = 3 // those the reference names; "solo" comes after
			cut := func(c Covariance) Covariance {
				c.Matrix = c.Matrix.SliceSym(0, terms).(*mat.SymDense)
				return c
			}
			checkCovariance(t, "classical", cut(m.Classical()), want.Classical, 1e-10)
			for i, w := range want.Estimate {
				checkClose(t, m.Terms[i], m.Estimates[i], w, 1e-10)
			}
			for kind := HC0; kind <= HC3; kind++ {
				hc, given := want.HC[kind.String()]
				if !given && set == "nested" && kind >= HC2 {
					continue // a group of one row: R divides zero by zero
				}
				checkCovariance(t, kind.String(), cut(mustHC(t, m, kind)), hc, 1e-10)
			}
			for kind := CR0; kind <= CR2; kind++ {
				cov := mustCR(t, m, kind)
				w := want.CR[kind.String()]
				checkCovariance(t, kind.String(), cut(cov), w.Vcov, 1e-10)
				for i, r := range m.Coefficients(cov, 0.95)[:terms] {
					checkClose(t, r.Term+" Satterthwaite df", r.DF, w.DF[i], 1e-8)
					checkClose(t, r.Term+" p", r.PValue, w.P[i], 1e-8)
				}
			}
		})
	}
}

// TestPartialCorrelationReference: mpg with weight given horsepower in R's
// mtcars, from correlations of residuals (testdata/partial_tost.json).
func TestPartialCorrelationReference(t *testing.T) {
	var reference struct {
		Partial struct {
			R, T, P float64
			DF      int
		}
	}
	readJSON(t, "partial_tost.json", &reference)
	data := readFrame(t, "mtcars.csv")
	m := mustFit(t, Problem{
		Response: data["mpg"],
		Terms:    []string{"intercept", "wt", "hp"},
		Columns:  [][]float64{ones(len(data["mpg"])), data["wt"], data["hp"]},
	})
	r, df, err := m.PartialCorrelation("wt")
	if err != nil {
		t.Fatal(err)
	}
	checkClose(t, "r", r, reference.Partial.R, 1e-12)
	if df != reference.Partial.DF {
		t.Errorf("df %d, want %d", df, reference.Partial.DF)
	}
	c, err := m.Coefficient("wt", m.Classical(), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	checkClose(t, "t", c.Statistic, reference.Partial.T, 1e-10)
	checkClose(t, "p", c.PValue, reference.Partial.P, 1e-9)
}

// TestTwoOneSidedReference: pairs of one-sided t tests of R on the sleep data
// (testdata/partial_tost.json).
func TestTwoOneSidedReference(t *testing.T) {
	var reference struct {
		TOST map[string]struct {
			Low, High, DF, Diff float64
			TLower              float64    `json:"t_lower"`
			PLower              float64    `json:"p_lower"`
			TUpper              float64    `json:"t_upper"`
			PUpper              float64    `json:"p_upper"`
			P                   float64    `json:"p_tost"`
			CI                  [2]float64 `json:"ci90"`
		}
	}
	readJSON(t, "partial_tost.json", &reference)
	for name, equivalent := range map[string]bool{"paired": true, "paired_narrow": false, "welch": true, "student": true} {
		t.Run(name, func(t *testing.T) {
			w := reference.TOST[name]
			stdError := (w.Diff - w.Low) / w.TLower
			e, err := TwoOneSided(w.Diff, stdError, w.DF, w.Low, w.High, 0.05)
			if err != nil {
				t.Fatal(err)
			}
			checkClose(t, "upper statistic", e.StatisticUpper, w.TUpper, 1e-10)
			checkClose(t, "lower p", e.PLower, w.PLower, 1e-10)
			checkClose(t, "upper p", e.PUpper, w.PUpper, 1e-10)
			checkClose(t, "p", e.P, w.P, 1e-10)
			checkClose(t, "low limit", e.ConfLow, w.CI[0], 1e-10)
			checkClose(t, "high limit", e.ConfHigh, w.CI[1], 1e-10)
			if e.Equivalent != equivalent {
				t.Errorf("equivalent %v, want %v", e.Equivalent, equivalent)
			}
		})
	}
}

// TestStudentReference: quantiles and tails of Student's t from R
// (testdata/partial_tost.json).
func TestStudentReference(t *testing.T) {
	var reference struct {
		T  []struct{ P, DF, Q float64 }
		PT []struct{ T, DF, Upper float64 }
	}
	readJSON(t, "partial_tost.json", &reference)
	for _, w := range reference.T {
		checkClose(t, fmt.Sprintf("quantile %v of t(%v)", w.P, w.DF), criticalValue(2*(1-w.P), w.DF), w.Q, 1e-12)
	}
	for _, w := range reference.PT {
		checkClose(t, fmt.Sprintf("P(T > %v), df %v", w.T, w.DF), upperTail(w.T, w.DF), w.Upper, 1e-12)
	}
}

// TestStudentInverse: the quantile is the inverse of the tail over the range of
// levels and degrees of freedom, and the tail is smooth where the method changes.
func TestStudentInverse(t *testing.T) {
	for _, df := range []float64{0.7, 1, 1.3, 2.5, 4, 11.7, 160, 3e4, 2e6, 1e9, math.Inf(1)} {
		for _, alpha := range []float64{1e-12, 1e-6, 0.001, 0.05, 0.1, 0.32, 0.5, 0.9, 0.999} {
			q := criticalValue(alpha, df)
			if got := twoSided(q, df); relative(got, alpha, 0) > 1e-12 {
				t.Errorf("df %v: P(|T| > %v) = %v, want %v", df, q, got, alpha)
			}
		}
	}
	for _, x := range []float64{0.3, 1, 1.96, 4, 7} {
		below, above := twoSided(x, expansionDF), twoSided(x, math.Nextafter(expansionDF, 1e9))
		if relative(below, above, 0) > 1e-11 {
			t.Errorf("P(|T| > %v) jumps from %v to %v at the changeover", x, below, above)
		}
	}
}

// TestRobustnessValue: the Darfur example of Cinelli and Hazlett (2020, section
// 5), as printed by the authors' software: t 4.18445 on 783 degrees of freedom
// gives 0.13878. Its partial R squared, 0.02187, checks the degrees of freedom.
func TestRobustnessValue(t *testing.T) {
	got, err := RobustnessValue(-4.18445, 783)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got-0.13878) > 5e-6 {
		t.Errorf("robustness value %v, published 0.13878", got)
	}
	if r2 := 4.18445 * 4.18445 / (4.18445*4.18445 + 783); math.Abs(r2-0.02187) > 5e-6 {
		t.Errorf("partial R squared %v, published 0.02187", r2)
	}
	// The printed form, where it keeps its digits, and the limits.
	for _, c := range []struct{ t, df float64 }{{0.5, 10}, {2, 30}, {9, 12}} {
		got, err := RobustnessValue(c.t, c.df)
		if err != nil {
			t.Fatal(err)
		}
		f2 := c.t * c.t / c.df
		checkClose(t, "printed form", got, (math.Sqrt(f2*f2+4*f2)-f2)/2, 1e-13)
	}
	if v, err := RobustnessValue(0, 5); err != nil || v != 0 {
		t.Errorf("t = 0 gives %v, %v", v, err)
	}
	// RV tends to 1 - 1/f^2: at f = 1e6 the printed form has lost all digits.
	if v, err := RobustnessValue(1e6, 1); err != nil || !(v < 1) || relative(1-v, 1e-12, 0) > 1e-3 {
		t.Errorf("t = 1e6, df = 1 gives %v, %v", v, err)
	}
}
