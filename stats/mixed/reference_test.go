package mixed_test

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/stats/internal/reference"
	"lengthwise/stats/mixed"
)

const constant = "(Intercept)"

// lme4Data are the rows of one entry of testdata/lme4.json, laid out by its
// formula. The data are lme4's own: sleepstudy (Belenky et al. 2003), Dyestuff and
// Dyestuff2 (Davies and Goldsmith 1972; Box and Tiao 1973).
type lme4Data struct {
	layout  mixed.Layout
	unit    string // the name of the column of units
	units   []string
	columns [][]float64
	y       []float64
}

func readLme4(t testing.TB, f *reference.File, at string) lme4Data {
	t.Helper()
	data := readTable(t, "testdata/"+strings.TrimPrefix(f.Text(at+"/data"), "data_"))
	formula := f.Text(at + "/REML/formula")
	d := lme4Data{layout: mixed.Layout{Fixed: []string{constant}, Random: []string{constant}}, unit: "Batch"}
	response := "Yield"
	if strings.HasPrefix(formula, "Reaction") {
		response, d.unit = "Reaction", "Subject"
		d.layout.Fixed = append(d.layout.Fixed, "Days")
		if strings.Contains(formula, "(Days") {
			d.layout.Random = append(d.layout.Random, "Days")
		}
		d.layout.Independent = strings.Contains(formula, "||")
	}
	d.units, d.y = data[d.unit], data.numbers(t, response)
	d.columns = append(d.columns, ones(len(d.y)))
	if len(d.layout.Fixed) == 2 {
		d.columns = append(d.columns, data.numbers(t, "Days"))
	}
	return d
}

// TestEveryEntryOfLme4 compares every number of testdata/lme4.json: R 4.2.2, lme4
// 1.1-31, lmerTest 3.1-3 and pbkrtest 0.5.2 (calls at its head), six models by
// REML and ML. Tolerances are those that the file supports: criteria 1e-8 (absolute),
// theta 1e-6, fixed effects and standard errors 1e-7, Satterthwaite df 1e-4
// (lmerTest differentiates numerically), Kenward-Roger 1e-6, profile limits 1e-3.
func TestEveryEntryOfLme4(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "lme4.json")
	for _, name := range f.Keys("models") {
		at := "models/" + name
		d := readLme4(t, f, at)
		sums := summed(t, d.layout, d.units, nil, d.columns, d.y)
		for _, method := range []mixed.Method{mixed.REML, mixed.ML} {
			compareLme4(t, f, at+"/"+method.String()+"/", fitted(t, sums, method), d)
		}
		if f.Has(at + "/profile_ci95_ML") {
			compareProfile(t, f, at+"/profile_ci95_ML", fitted(t, sums, mixed.ML))
		}
	}
	compareClosedForm(t, f)
	f.Complete(t)
}

func compareLme4(t *testing.T, f *reference.File, at string, m *mixed.Model, d lme4Data) {
	t.Helper()
	f.Counts(t, m.Rows, at+"n")
	f.Counts(t, m.Parameters, at+"df_model")
	f.Within(t, m.Criterion, 1e-8/math.Abs(m.Criterion), 1, at+"criterion")
	f.Within(t, m.LogLik, 1e-8/math.Abs(m.LogLik), 1, at+"logLik")
	f.Near(t, m.AIC, 1e-10, at+"AIC")
	f.Near(t, m.BIC, 1e-10, at+"BIC")
	f.Near(t, m.ResidualSD, 1e-6, at+"sigma")
	f.Near(t, m.ResidualSD*m.ResidualSD, 1e-6, at+"sigma2")
	// lme4's own default optimiser stops before its last digits.
	f.Near(t, m.ResidualSD, 1e-4, at+"default_optimizer_fit/sigma")
	f.Within(t, m.Criterion, 1e-5/math.Abs(m.Criterion), 1, at+"default_optimizer_fit/criterion")
	if excess := m.Criterion - f.Value(t, at+"default_optimizer_fit/criterion"); excess > 1e-8 {
		t.Errorf("%s: criterion %v above that of lme4's optimiser", at, excess)
	}
	f.Within(t, math.Sqrt(m.Check.Decrement), 1e-4, 1, at+"max_abs_gradient")
	next := 0
	for j, a := range m.Layout.Random {
		for i, b := range m.Layout.Random[j:] {
			key := d.unit + "." + a
			if i > 0 {
				if m.Layout.Independent {
					continue
				}
				key = d.unit + "." + b + "." + a
			}
			f.Within(t, m.Theta[next], 1e-6, 1e-6, at+"theta/"+key)
			f.Within(t, m.Theta[next], 1e-3, 0.1, at+"default_optimizer_fit/theta/"+key)
			next++
		}
	}
	if next != len(m.Theta) || next != len(f.Keys(at+"theta")) {
		t.Errorf("%s: %d of theta compared, the model has %d, the file %d", at, next, len(m.Theta), len(f.Keys(at+"theta")))
	}
	compareFixed(t, f, at, m)
	compareVariances(t, f, at, m)
	compareDecomposition(t, f, at, m, d)
	if f.Has(at + "ranef_head") {
		compareRanef(t, f, at, m, d)
	}
}

func compareFixed(t *testing.T, f *reference.File, at string, m *mixed.Model) {
	t.Helper()
	p := len(m.Estimates)
	f.NearMatrix(t, m.Covariance.At, p, 1e-6, at+"vcov/values")
	rows, err := m.Coefficients(mixed.Satterthwaite, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	normal, err := m.Coefficients(mixed.Normal, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	list := func(table string, i int) string {
		// A table of one row is kept as a list of its numbers, or as a list of one row.
		if f.Has(at + table + "/values/" + strconv.Itoa(i) + "/0") {
			return at + table + "/values/" + strconv.Itoa(i)
		}
		return at + table + "/values"
	}
	for i, c := range rows {
		f.Near(t, c.Estimate, 1e-7, at+"fixef/"+c.Term)
		f.Near(t, c.StdError, 1e-7, at+"se/"+c.Term)
		row := list("lmerTest/coef_table", i)
		f.Near(t, c.Estimate, 1e-6, row+"/0") // lmerTest fits again by its default optimiser
		f.Near(t, c.StdError, 1e-5, row+"/1")
		f.Near(t, c.DF, 1e-4, row+"/2")
		f.Near(t, c.Statistic, 1e-5, row+"/3")
		f.Near(t, c.PValue, 1e-3, row+"/4")
		f.NearAll(t, []float64{c.ConfLow, c.ConfHigh}, 1e-5, list("lmerTest/ci95_t_satterthwaite", i))
		f.NearAll(t, []float64{normal[i].ConfLow, normal[i].ConfHigh}, 1e-6, list("wald_z_ci95", i))
	}
	if p == 2 {
		joint, err := m.Test([][]float64{{0, 1}}, mixed.Satterthwaite)
		if err != nil {
			t.Fatal(err)
		}
		row := list("lmerTest/anova_type3", 0)
		// Sum of squares and mean square are F times the residual variance.
		f.Near(t, joint.Statistic*m.ResidualSD*m.ResidualSD, 1e-5, row+"/0")
		f.Near(t, joint.Statistic*m.ResidualSD*m.ResidualSD, 1e-5, row+"/1")
		f.Near(t, joint.Rank, 0, row+"/2")
		f.Near(t, joint.DF, 1e-4, row+"/3")
		f.Near(t, joint.Statistic, 1e-5, row+"/4")
		f.Near(t, joint.PValue, 1e-3, row+"/5")
	}
	if !f.Has(at + "kenward_roger") {
		return
	}
	adjusted, err := m.AdjustedCovariance()
	if err != nil {
		t.Fatal(err)
	}
	f.NearMatrix(t, adjusted.At, p, 1e-6, at+"kenward_roger/vcov_adj/values")
	if rows, err = m.Coefficients(mixed.KenwardRoger, 0.95); err != nil {
		t.Fatal(err)
	}
	for _, c := range rows {
		f.Near(t, c.StdError, 1e-6, at+"kenward_roger/se/"+c.Term)
		f.Near(t, c.DF, 1e-6, at+"kenward_roger/df/"+c.Term)
		f.Near(t, c.Statistic, 1e-6, at+"kenward_roger/t/"+c.Term)
		f.Near(t, c.PValue, 1e-5, at+"kenward_roger/p/"+c.Term)
	}
}

func compareVariances(t *testing.T, f *reference.File, at string, m *mixed.Model) {
	t.Helper()
	for i := 0; f.Has(at + "varcorr/" + strconv.Itoa(i)); i++ {
		row := at + "varcorr/" + strconv.Itoa(i) + "/"
		first, second := f.Text(row+"var1"), f.Text(row+"var2")
		variance, shown := m.ResidualSD*m.ResidualSD, m.ResidualSD
		switch {
		case f.Text(row+"grp") == "Residual":
		case second != "":
			a, b := place(m, first), place(m, second)
			r, ok, err := m.Correlation(first, second)
			if err != nil || !ok {
				t.Fatal(ok, err)
			}
			variance, shown = m.Random.At(a, b), r
		default:
			sd, err := m.SD(first)
			if err != nil {
				t.Fatal(err)
			}
			variance, shown = sd*sd, sd
		}
		f.Within(t, variance, 1e-6, 1e-9, row+"vcov")
		f.Within(t, shown, 1e-6, 1e-9, row+"sdcor")
	}
}

func place(m *mixed.Model, term string) int {
	for i, name := range m.Layout.Random {
		if name == term {
			return i
		}
	}
	return -1
}

// compareDecomposition compares the parts of lme4's profiled criterion (Bates et
// al. 2015, Journal of Statistical Software 67(1), section 3): the penalised sum of
// squares, and the logarithms of the determinants of L and R_X, here from the
// criterion, the covariance and the penalties of the predicted effects.
func compareDecomposition(t *testing.T, f *reference.File, at string, m *mixed.Model, d lme4Data) {
	t.Helper()
	n, p := float64(m.Rows), float64(len(m.Estimates))
	nu := n
	if m.Method == mixed.REML {
		nu -= p
	}
	s2 := m.ResidualSD * m.ResidualSD
	f.Near(t, nu*s2, 1e-6, at+"pwrss")
	var rx float64 // ln |R_X|^2 = -ln |Cov/s2|
	switch len(m.Estimates) {
	case 1:
		rx = -math.Log(m.Covariance.At(0, 0) / s2)
	case 2:
		rx = -math.Log((m.Covariance.At(0, 0)*m.Covariance.At(1, 1) - m.Covariance.At(0, 1)*m.Covariance.At(0, 1)) / (s2 * s2))
	}
	f.Near(t, rx, 1e-6, at+"ldRX2")
	l := m.Criterion - nu*(1+math.Log(2*math.Pi*s2))
	if m.Method == mixed.REML {
		l -= rx
	}
	f.Within(t, l, 1e-6, 1, at+"ldL2")
	if !f.Has(at + "fitted_head") {
		return
	}
	effects := map[string][]float64{}
	for _, u := range m.Units() {
		effects[u.Label] = u.Effects
	}
	var values, residuals []float64
	for i := range 5 {
		v := 0.0
		for j := range d.columns {
			v += d.columns[j][i] * m.Estimates[j]
		}
		for j, e := range effects[d.units[i]] {
			v += d.columns[j][i] * e
		}
		values, residuals = append(values, v), append(residuals, d.y[i]-v)
	}
	f.NearAll(t, values, 1e-6, at+"fitted_head")
	for i, r := range residuals {
		f.Within(t, r, 1e-6, m.ResidualSD, at+"resid_head/"+strconv.Itoa(i))
	}
}

func compareRanef(t *testing.T, f *reference.File, at string, m *mixed.Model, d lme4Data) {
	t.Helper()
	units := m.Units()
	table := at + "ranef_head/" + d.unit
	for r, label := range f.Texts(table + "/rows") {
		if units[r].Label != label {
			t.Fatalf("unit %q, want %q", units[r].Label, label)
		}
		for j, e := range units[r].Effects {
			path := table + "/values/" + strconv.Itoa(r)
			if f.Has(path + "/" + strconv.Itoa(j)) {
				path += "/" + strconv.Itoa(j)
			}
			f.Within(t, e, 1e-6, 1e-2, path)
		}
	}
	conditional := at + "ranef_condvar_first/" + d.unit
	if !m.Layout.Independent {
		f.NearMatrix(t, units[0].Conditional.At, len(m.Layout.Random), 1e-6, conditional)
		return
	}
	for i, name := range m.Layout.Random { // one matrix for each independent effect
		f.Near(t, units[0].Conditional.At(i, i), 1e-6, conditional+"/"+name+"/0/0")
	}
}

// compareProfile checks limits to 1e-3, the accuracy of lme4's interpolation.
func compareProfile(t *testing.T, f *reference.File, at string, m *mixed.Model) {
	t.Helper()
	for i, name := range f.Texts(at + "/rows") {
		name, _, _ = strings.Cut(name, "|")
		var q mixed.Parameter
		switch {
		case name == "sigma":
			q = mixed.Parameter{Kind: mixed.ResidualSD}
		case strings.HasPrefix(name, "sd_"):
			q = mixed.Parameter{Kind: mixed.UnitSD, Term: name[3:]}
		case strings.HasPrefix(name, "cor_"):
			b, a, _ := strings.Cut(name[4:], ".")
			q = mixed.Parameter{Kind: mixed.UnitCorrelation, Term: a, Other: b}
		default:
			q = mixed.Parameter{Kind: mixed.FixedEffect, Term: name}
		}
		got, err := m.Profile(q, 0.95)
		if err != nil {
			t.Fatalf("%v: %v", q, err)
		}
		f.NearAll(t, []float64{got.Low, got.High}, 1e-3, at+"/values/"+strconv.Itoa(i))
	}
}

// compareClosedForm: with equal numbers of rows, one-way analysis of variance has
// the estimates in closed form (Searle, Casella and McCulloch 1992, section 4.3).
func compareClosedForm(t *testing.T, f *reference.File) {
	t.Helper()
	const at = "models/dyestuff/closed_form/"
	d := readLme4(t, f, "models/dyestuff")
	sums := summed(t, d.layout, d.units, nil, d.columns, d.y)
	reml, ml := fitted(t, sums, mixed.REML), fitted(t, sums, mixed.ML)
	f.Near(t, reml.Random.At(0, 0), 1e-10, at+"REML_sigma_b2")
	f.Near(t, ml.Random.At(0, 0), 1e-10, at+"ML_sigma_b2")
	f.Near(t, reml.ResidualSD*reml.ResidualSD, 1e-10, at+"MSW")
	f.Near(t, ml.ResidualSD*ml.ResidualSD, 1e-10, at+"MSW")
	f.Near(t, reml.ResidualSD*reml.ResidualSD+5*reml.Random.At(0, 0), 1e-10, at+"MSB")
	f.Near(t, reml.Theta[0], 1e-10, at+"REML_theta")
	f.Near(t, ml.Theta[0], 1e-10, at+"ML_theta")
	c, err := reml.Coefficients(mixed.Satterthwaite, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	f.Near(t, c[0].StdError, 1e-10, at+"se_mean_REML")
	near(t, "df", c[0].DF, 5, 1e-9, 0)
	// So the interval is that of Student's t on five degrees of freedom.
	near(t, "limit", c[0].ConfHigh, c[0].Estimate+distuv.StudentsT{Sigma: 1, Nu: 5}.Quantile(0.975)*c[0].StdError, 1e-9, 0)
}
