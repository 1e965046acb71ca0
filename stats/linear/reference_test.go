package linear

import (
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/stats/internal/reference"
	"lengthwise/stats/tail"
)

// TestEveryEntryOfRobustErrors compares every number of testdata/robust.json: R
// 4.2.2's lm, sandwich 3.0-2 and clubSandwich 0.5.8 on Brownlee's stackloss and on
// sleepstudy, whole and unbalanced (definitions and calls at its head). Closed
// forms, 1e-10; Satterthwaite degrees of freedom and p-values, 1e-8.
func TestEveryEntryOfRobustErrors(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "robust.json")
	for _, c := range []struct {
		set, response, cluster string
		terms                  []string
	}{
		{set: "stackloss", response: "stack.loss", terms: []string{"Air.Flow", "Water.Temp", "Acid.Conc."}},
		{set: "sleepstudy", response: "Reaction", cluster: "Subject", terms: []string{"Days"}},
		// Clusters of unequal size: only here do CR1 and CR2 differ.
		{set: "sleepstudy_unbalanced", response: "Reaction", cluster: "Subject", terms: []string{"Days"}},
	} {
		data := readFrame(t, c.set+".csv")
		p := Problem{
			Response: data[c.response],
			Terms:    append([]string{"(Intercept)"}, c.terms...),
			Columns:  [][]float64{ones(len(data[c.response]))},
		}
		for _, term := range c.terms {
			p.Columns = append(p.Columns, data[term])
		}
		if c.cluster != "" {
			p.Cluster = data.codes(c.cluster)
		}
		m := mustFit(t, p)
		compareLeastSquares(t, f, c.set+"/ols/", m)
		for kind := HC0; kind <= HC5; kind++ {
			at := c.set + "/HC/" + kind.String()
			compareMatrix(t, f, at, mustHC(t, m, kind))
		}
		if f.Has(c.set + "/n") {
			f.Counts(t, m.N, c.set+"/n")
		}
		if f.Has(c.set + "/cluster_sizes") {
			var sizes []float64
			for i, k := range p.Cluster {
				if i == 0 || k != p.Cluster[i-1] {
					sizes = append(sizes, 0)
				}
				sizes[len(sizes)-1]++
			}
			f.NearAll(t, sizes, 0, c.set+"/cluster_sizes")
		}
		if c.cluster == "" {
			continue
		}
		if m.Clusters != 18 {
			t.Errorf("%d clusters, want 18", m.Clusters)
		}
		for kind := CR0; kind <= CR3; kind++ {
			compareClustered(t, f, c.set+"/CR/"+kind.String(), m, kind, 1)
		}
		// CR1S is CR0 times both counts' corrections.
		g, n, k := float64(m.Clusters), float64(m.N), float64(m.Rank)
		compareClustered(t, f, c.set+"/CR/CR1S", m, CR0, g/(g-1)*(n-1)/(n-k))
	}
	f.Complete(t)
}

// compareLeastSquares compares the plain fit, and what follows from it by algebra.
func compareLeastSquares(t *testing.T, f *reference.File, at string, m *Model) {
	t.Helper()
	classical := m.Classical()
	compareMatrix(t, f, strings.TrimSuffix(at, "/"), classical)
	for _, r := range m.Coefficients(classical, 0.95) {
		f.Near(t, r.Estimate, 1e-10, at+"coef/"+r.Term)
		f.Near(t, r.Statistic, 1e-10, at+"t/"+r.Term)
		f.Near(t, r.PValue, 1e-8, at+"p/"+r.Term)
	}
	f.Near(t, m.Sigma, 1e-10, at+"sigma")
	f.Near(t, m.RSquared, 1e-10, at+"r2")
	n, k, df := float64(m.N), float64(m.Rank), float64(m.DFResidual)
	f.Near(t, 1-(1-m.RSquared)*(n-1)/df, 1e-10, at+"adj_r2")
	overall, err := m.Wald(classical, mustSelect(t, m, m.Terms[1:]...))
	if err != nil {
		t.Fatal(err)
	}
	f.Near(t, overall.Statistic, 1e-10, at+"F/value")
	f.Near(t, overall.DF1, 0, at+"F/numdf")
	f.Near(t, overall.DF2, 0, at+"F/dendf")
	rss := m.Sigma * m.Sigma * df
	logLik := -n / 2 * (math.Log(2*math.Pi*rss/n) + 1)
	f.Near(t, logLik, 1e-10, at+"logLik")
	f.Near(t, -2*logLik+2*(k+1), 1e-10, at+"AIC")
	f.Near(t, -2*logLik+math.Log(n)*(k+1), 1e-10, at+"BIC")
	if !f.Has(at + "hat") {
		return
	}
	h := m.Leverages()
	f.NearAll(t, h, 1e-10, at+"hat")
	var cooks, deleted []float64
	for i, e := range m.Residuals {
		cooks = append(cooks, e*e*h[i]/(k*m.Sigma*m.Sigma*(1-h[i])*(1-h[i])))
		without := math.Sqrt((rss - e*e/(1-h[i])) / (df - 1))
		deleted = append(deleted, e/(without*math.Sqrt(1-h[i])))
	}
	f.NearAll(t, cooks, 1e-9, at+"cooks")
	f.NearAll(t, deleted, 1e-9, at+"rstudent")
}

// compareMatrix compares a covariance and its standard errors.
func compareMatrix(t *testing.T, f *reference.File, at string, c Covariance) {
	t.Helper()
	n := c.Matrix.SymmetricDim()
	f.NearMatrix(t, c.Matrix.At, n, 1e-10, at+"/vcov/values")
	for i, term := range f.Texts(at + "/vcov/rows") {
		f.Near(t, math.Sqrt(c.Matrix.At(i, i)), 1e-10, at+"/se/"+term)
	}
}

// compareClustered compares a cluster-robust covariance times a factor, its tests
// and the Wald test of all slopes.
func compareClustered(t *testing.T, f *reference.File, at string, m *Model, kind CRKind, factor float64) {
	t.Helper()
	c := mustCR(t, m, kind)
	c.Matrix.ScaleSym(factor, c.Matrix)
	compareMatrix(t, f, at, c)
	naive := c
	naive.DF = make([]float64, m.Rank)
	for i := range naive.DF {
		naive.DF[i] = float64(m.Clusters - 1)
	}
	plain := m.Coefficients(naive, 0.95)
	f.Near(t, naive.DF[0], 0, at+"/naive_t/df")
	for i, r := range m.Coefficients(c, 0.95) {
		place := "/" + strconv.Itoa(i)
		f.Near(t, r.Statistic, 1e-10, at+"/satterthwaite/t"+place)
		f.Near(t, r.DF, 1e-8, at+"/satterthwaite/df"+place)
		f.Near(t, r.PValue, 1e-8, at+"/satterthwaite/p"+place)
		f.Near(t, plain[i].PValue, 1e-8, at+"/naive_t/p"+place)
	}
	w, err := m.WaldClustered(kind, mustSelect(t, m, m.Terms[1:]...))
	if err != nil {
		t.Fatal(err)
	}
	w = waldTest(w.Kind, w.Statistic/factor, w.DF1, w.DF2)
	at += "/wald_HTZ_all_slopes/"
	f.Near(t, w.Statistic, 1e-9, at+"F")
	f.Near(t, w.DF1, 0, at+"df_num")
	f.Near(t, w.DF2, 1e-8, at+"df_denom")
	f.Near(t, w.PValue, 1e-8, at+"p")
}

// TestEveryEntryOfFits compares every number of testdata/fits.json: R 4.2.2's one-sided
// t tests, MASS 7.3-58.2, pairwise slopes by brute force, and points of the
// distributions.
func TestEveryEntryOfFits(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "fits.json")
	compareEquivalence(t, f)
	compareRobustFits(t, f)
	comparePairwise(t, f)
	compareQuantiles(t, f)
	f.Complete(t)
}

// compareEquivalence: extra sleep under two drugs (R's datasets::sleep).
func compareEquivalence(t *testing.T, f *reference.File) {
	t.Helper()
	first, second := f.Input(t, "TOST/data/group1"), f.Input(t, "TOST/data/group2")
	n := float64(len(first))
	moments := func(v []float64) (mean, variance float64) {
		for _, x := range v {
			mean += x / n
		}
		for _, x := range v {
			variance += (x - mean) * (x - mean) / (n - 1)
		}
		return mean, variance
	}
	m1, v1 := moments(first)
	m2, v2 := moments(second)
	change := make([]float64, len(first))
	for i := range change {
		change[i] = first[i] - second[i]
	}
	_, paired := moments(change)
	a, b := v1/n, v2/n
	for name, c := range map[string]struct {
		variance, df float64
		equivalent   bool
	}{
		"paired":        {paired / n, n - 1, true},
		"paired_narrow": {paired / n, n - 1, false},
		"welch":         {a + b, (a + b) * (a + b) / ((a*a + b*b) / (n - 1)), true},
		"student":       {a + b, 2*n - 2, true},
	} {
		at := "TOST/" + name + "/"
		e, err := TwoOneSided(m1-m2, math.Sqrt(c.variance), c.df, f.Number(t, at+"low"), f.Number(t, at+"high"), 0.05)
		if err != nil {
			t.Fatal(err)
		}
		f.Near(t, m1-m2, 1e-10, at+"diff")
		f.Near(t, e.DF, 1e-10, at+"df")
		f.Near(t, e.StatisticLower, 1e-10, at+"t_lower")
		f.Near(t, e.StatisticUpper, 1e-10, at+"t_upper")
		f.Near(t, e.PLower, 1e-10, at+"p_lower")
		f.Near(t, e.PUpper, 1e-10, at+"p_upper")
		f.Near(t, e.P, 1e-10, at+"p_tost")
		f.NearAll(t, []float64{e.ConfLow, e.ConfHigh}, 1e-10, at+"ci90")
		if e.Equivalent != c.equivalent {
			t.Errorf("%s: equivalent %v", name, e.Equivalent)
		}
	}
}

// compareRobustFits: MASS iterated to 1e-12, so 1e-9; robustbase to its 1e-7.
func compareRobustFits(t *testing.T, f *reference.File) {
	t.Helper()
	stack, cars := readFrame(t, "stackloss.csv"), readFrame(t, "mtcars.csv")
	n := len(stack["stack.loss"])
	names := []string{"(Intercept)", "Air.Flow", "Water.Temp", "Acid.Conc."}
	plant := Problem{Response: stack["stack.loss"], Terms: names, Columns: [][]float64{ones(n), stack[names[1]], stack[names[2]], stack[names[3]]}}
	motor := Problem{
		Response: cars["mpg"], Terms: []string{"(Intercept)", "wt", "hp"},
		Columns: [][]float64{ones(len(cars["mpg"])), cars["wt"], cars["hp"]},
	}
	for name, c := range map[string]struct {
		p Problem
		o RobustOptions
	}{
		"huber_MAD_k1.345": {plant, RobustOptions{}},
		"huber_MAD_k1.5":   {plant, RobustOptions{Tuning: 1.5}},
		"huber_proposal2":  {plant, RobustOptions{Scale: Proposal2}},
		"bisquare":         {plant, RobustOptions{Psi: BisquarePsi}},
		"mtcars_huber":     {motor, RobustOptions{}},
	} {
		at := "robust_regression/" + name + "/"
		got, err := Robust(c.p, c.o)
		if err != nil {
			t.Fatal(name, err)
		}
		for _, r := range got.Coefficients(0.95) {
			f.Near(t, r.Estimate, 1e-9, at+"coef/"+r.Term)
			f.Near(t, r.StdError, 1e-9, at+"se/"+r.Term)
			f.Near(t, r.Statistic, 1e-8, at+"t/"+r.Term)
		}
		f.Near(t, got.Scale, 1e-9, at+"s")
		f.Near(t, got.Scale, 1e-9, at+"sigma_summary")
		plain := mustFit(t, c.p)
		f.Near(t, math.Sqrt(got.Covariance.Matrix.At(0, 0)/plain.Classical().Matrix.At(0, 0))*plain.Sigma, 1e-9, at+"stddev")
		f.NearAll(t, got.Weights, 1e-8, at+"weights")
		for i, e := range got.Residuals {
			f.Within(t, e, 1e-9, got.Scale, at+"resid/"+strconv.Itoa(i))
		}
		f.Outside(t, "how many steps R took", at+"iterations")
	}
	const defaults = "robust_regression/default_tolerance/"
	got, err := Robust(plant, RobustOptions{})
	if err != nil {
		t.Fatal(err)
	}
	f.Near(t, got.Scale, 1e-3, defaults+"s") // R stopped at 1e-4 of the residuals
	for i, term := range got.Terms {
		f.Near(t, got.Estimates[i], 1e-4, defaults+"coef/"+term)
	}

	const mm = "robust_regression/lmrob_MM/"
	got, err = Robust(plant, RobustOptions{Psi: BisquarePsi, Tuning: 4.685061, KnownScale: f.Number(t, mm+"scale")})
	if err != nil {
		t.Fatal(err)
	}
	for i, term := range got.Terms {
		f.Near(t, got.Estimates[i], 1e-6, mm+"coef/"+term)
	}
	f.Outside(t, "lmrob has another formula for the standard error (Croux, Dhaene and Hoorelbeke 2003)", mm+"se")

	chem := f.Input(t, "robust_regression/chem")
	location := Problem{Response: chem, Terms: []string{"mean"}, Columns: [][]float64{ones(len(chem))}}
	const huber, hubers = "robust_regression/huber_location_chem/", "robust_regression/hubers_chem/"
	middle := median(slices.Clone(chem))
	s := medianScale(mapped(chem, func(v float64) float64 { return v - middle })) * medianOfNormal * 1.4826
	f.Near(t, s, 1e-10, huber+"s")
	got, err = Robust(location, RobustOptions{Tuning: 1.5, KnownScale: s})
	if err != nil {
		t.Fatal(err)
	}
	f.Near(t, got.Estimates[0], 1e-6, huber+"mu") // R stopped at 1e-6 of s
	got, err = Robust(location, RobustOptions{Tuning: 1.5, Scale: Proposal2, ScaleTuning: 1.5})
	if err != nil {
		t.Fatal(err)
	}
	f.Near(t, got.Estimates[0], 1e-6, hubers+"mu")
	f.Near(t, got.Scale, 1e-6, hubers+"s")
}

func comparePairwise(t *testing.T, f *reference.File) {
	t.Helper()
	stack, motor, cars := readFrame(t, "stackloss.csv"), readFrame(t, "mtcars.csv"), readFrame(t, "cars.csv")
	for name, c := range map[string][2][]float64{
		"stackloss":     {stack["Air.Flow"], stack["stack.loss"]},
		"cars":          {cars["speed"], cars["dist"]},
		"mtcars_wt_mpg": {motor["wt"], motor["mpg"]},
		"sen_style":     {f.Input(t, "theil_sen/sen_style/x"), f.Input(t, "theil_sen/sen_style/y")},
	} {
		at := "theil_sen/" + name + "/"
		got, err := TheilSen(c[0], c[1], 0.95)
		if err != nil {
			t.Fatal(err)
		}
		f.Counts(t, len(c[0]), at+"n")
		f.Counts(t, got.Pairs, at+"n_slopes")
		f.Near(t, got.Slope, 1e-10, at+"slope")
		f.Near(t, got.Intercept, 1e-10, at+"intercept_median_resid")
		// The other intercept in use, from the medians of both.
		f.Near(t, median(slices.Clone(c[1]))-got.Slope*median(slices.Clone(c[0])), 1e-10, at+"intercept_medians")
	}
	// Sen (1968, section 6, values from memory) gives 3.71 to 4.11 or so at 93 %
	// for the seven rows; the limits must be slopes of that kind.
	got, err := TheilSen(f.Values(t, "theil_sen/sen_style/x"), f.Values(t, "theil_sen/sen_style/y"), 0.93)
	if err != nil {
		t.Fatal(err)
	}
	if got.ConfLow < 3.5 || got.ConfLow > 3.9 || got.ConfHigh < 4.05 || got.ConfHigh > 5.01 {
		t.Errorf("Sen's seven rows: %v to %v", got.ConfLow, got.ConfHigh)
	}
}

// compareQuantiles: Student's t is computed here, the other points come from gonum,
// on which the packages beside this one rest.
func compareQuantiles(t *testing.T, f *reference.File) {
	t.Helper()
	each := func(list string, compare func(at string)) {
		for i := 0; f.Has("quantiles/" + list + "/" + strconv.Itoa(i)); i++ {
			compare("quantiles/" + list + "/" + strconv.Itoa(i) + "/")
		}
	}
	each("t", func(at string) {
		f.Near(t, tail.Critical(2*(1-f.Number(t, at+"p")), f.Number(t, at+"df")), 1e-10, at+"q")
	})
	each("pt", func(at string) {
		f.Near(t, tail.Upper(f.Number(t, at+"t"), f.Number(t, at+"df")), 1e-10, at+"upper")
	})
	each("chisq", func(at string) {
		f.Near(t, distuv.ChiSquared{K: f.Number(t, at+"df")}.Quantile(f.Number(t, at+"p")), 1e-9, at+"q")
	})
	each("f", func(at string) {
		f.Near(t, distuv.F{D1: f.Number(t, at+"df1"), D2: f.Number(t, at+"df2")}.Quantile(f.Number(t, at+"p")), 1e-9, at+"q")
	})
	each("normal", func(at string) {
		f.Within(t, distuv.UnitNormal.Quantile(f.Number(t, at+"p")), 1e-10, 1, at+"q")
	})
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
			p.Working = InverseWeights // R has the scaled rows
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

// TestEveryEntryOfWeighted compares every number of testdata/weighted.json:
// clubSandwich 0.5.8 on weighted fits, by default and with inverse_var = TRUE, groups
// written out in R and absorbed here. Closed forms 1e-10, degrees of freedom 1e-8.
func TestEveryEntryOfWeighted(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "weighted.json")
	data := readFrame(t, "absorbed.csv")
	for set, absorb := range map[string]string{"none": "", "same": "session", "nested": "half", "crossed": "block"} {
		p := absorbedProblem(data, "session", true)
		p.Absorb = nil
		if absorb == "" {
			p.Terms, p.Columns = append(p.Terms, "intercept"), append(p.Columns, ones(len(p.Response)))
		} else {
			p.Absorb = data.codes(absorb)
		}
		for working, name := range map[Working]string{EqualVariances: "equal", InverseWeightsPublished: "inverse"} {
			p.Working = working
			m := mustFit(t, p)
			f.NearAll(t, m.Estimates[:3], 1e-10, "sets/"+set+"/estimate")
			for kind := CR0; kind <= CR3; kind++ {
				at := "sets/" + set + "/" + name + "/" + kind.String() + "/"
				if !f.Has(at + "vcov") {
					continue
				}
				c := mustCR(t, m, kind)
				f.NearMatrix(t, c.Matrix.At, 3, 1e-9, at+"vcov")
				for i, r := range m.Coefficients(c, 0.95)[:3] {
					f.Near(t, r.DF, 1e-8, at+"df/"+strconv.Itoa(i))
					f.Near(t, r.PValue, 1e-8, at+"p/"+strconv.Itoa(i))
				}
				w, err := m.WaldClustered(kind, mustSelect(t, m, "x", "z"))
				if err != nil {
					t.Fatal(err)
				}
				f.Near(t, w.Statistic, 1e-8, at+"wald/f")
				f.Near(t, w.DF1, 0, at+"wald/df1")
				f.Near(t, w.DF2, 1e-8, at+"wald/df2")
				f.Near(t, w.PValue, 1e-7, at+"wald/p")
			}
		}
	}
	f.Complete(t)
}

// TestDistanceOnTime: the line of distance on time of four swims (method of Wakayoshi
// et al. 1992, Int J Sports Med 13:367; times invented, slope by R's lm).
func TestDistanceOnTime(t *testing.T) {
	seconds, metres := []float64{30, 64, 138, 288}, []float64{50, 100, 200, 400}
	m := mustFit(t, Problem{Response: metres, Terms: []string{"intercept", "seconds"}, Columns: [][]float64{ones(4), seconds}})
	checkClose(t, "slope", m.Estimates[1], 1.350802356286817, 1e-13)
}
