package mixed_test

import (
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"lengthwise/stats/mixed"
)

// testdata/lme4.json is output of R 4.2.2, lme4 1.1-31, lmerTest 3.1-3 and
// pbkrtest 0.5.2, with the calls in the file. The data are lme4's own:
// sleepstudy (Belenky et al. 2003), Dyestuff and Dyestuff2 (Davies and Goldsmith
// 1972; Box and Tiao 1973).
type lme4Matrix struct {
	Rows, Cols []string
	Values     [][]float64
}

type lme4Fit struct {
	Formula   string
	N         int
	Theta     map[string]float64
	Sigma     float64
	Criterion float64
	LogLik    float64 `json:"logLik"`
	DFModel   int     `json:"df_model"`
	AIC, BIC  float64
	Fixef, SE map[string]float64
	Vcov      lme4Matrix
	Varcorr   []struct {
		Grp         string
		Var1, Var2  *string
		Vcov, Sdcor float64
	}
	LmerTest struct {
		Coef lme4Matrix `json:"coef_table"`
		CI   lme4Matrix `json:"ci95_t_satterthwaite"`
		F    struct {
			Values [][]float64
		} `json:"anova_type3"`
	} `json:"lmerTest"`
	KR *struct {
		Vcov lme4Matrix `json:"vcov_adj"`
		SE   map[string]float64
		DF   map[string]float64
		T, P map[string]float64
	} `json:"kenward_roger"`
	Ranef   map[string]lme4Matrix `json:"ranef_head"`
	CondVar map[string]any        `json:"ranef_condvar_first"`
}

type lme4Model struct {
	Data     string
	REML, ML *lme4Fit
	Profile  *lme4Matrix `json:"profile_ci95_ML"`
	Closed   *struct {
		SigmaREML float64 `json:"REML_sigma_b2"`
		SigmaML   float64 `json:"ML_sigma_b2"`
		MSW       float64
		ThetaREML float64 `json:"REML_theta"`
		ThetaML   float64 `json:"ML_theta"`
		SE        float64 `json:"se_mean_REML"`
	} `json:"closed_form"`
}

// sums reads the data of an entry and lays them out by its formula.
func (e lme4Model) sums(t testing.TB) *mixed.Sums {
	t.Helper()
	data := readTable(t, "testdata/"+strings.TrimPrefix(e.Data, "data_"))
	formula := e.REML.Formula
	const constant = "(Intercept)"
	l := mixed.Layout{Fixed: []string{constant}, Random: []string{constant}}
	response, unit := "Yield", "Batch"
	var columns [][]float64
	if strings.HasPrefix(formula, "Reaction") {
		response, unit = "Reaction", "Subject"
		l.Fixed = append(l.Fixed, "Days")
		if strings.Contains(formula, "(Days") {
			l.Random = append(l.Random, "Days")
		}
		l.Independent = strings.Contains(formula, "||")
	}
	y := data.numbers(t, response)
	columns = append(columns, ones(len(y)))
	if len(l.Fixed) == 2 {
		columns = append(columns, data.numbers(t, "Days"))
	}
	return summed(t, l, data[unit], nil, columns, y)
}

// Tolerances are those the reference supports: criteria 1e-8 (absolute), theta
// 1e-6, fixed effects and standard errors 1e-7, Satterthwaite df 1e-4 (lmerTest
// differentiates numerically), Kenward-Roger 1e-6 (relative).
func TestMatchesLme4(t *testing.T) {
	var reference struct{ Models map[string]lme4Model }
	readJSON(t, "testdata/lme4.json", &reference)
	checked := 0
	for name, entry := range reference.Models {
		sums := entry.sums(t)
		for _, method := range []mixed.Method{mixed.REML, mixed.ML} {
			want := entry.REML
			if method == mixed.ML {
				want = entry.ML
			}
			t.Run(name+"/"+method.String(), func(t *testing.T) {
				m := fitted(t, sums, method)
				compareLme4(t, m, want)
				checked++
			})
		}
		if entry.Profile == nil {
			continue
		}
		t.Run(name+"/profile", func(t *testing.T) {
			compareProfile(t, fitted(t, sums, mixed.ML), entry.Profile)
			checked++
		})
	}
	if checked != 18 {
		t.Errorf("%d entries checked, the file should hold 18", checked)
	}
}

func compareLme4(t *testing.T, m *mixed.Model, want *lme4Fit) {
	t.Helper()
	near(t, "criterion", m.Criterion-want.Criterion, 0, 1e-8, 1)
	near(t, "log-likelihood", m.LogLik-want.LogLik, 0, 1e-8, 1)
	near(t, "AIC", m.AIC, want.AIC, 1e-10, 1)
	near(t, "BIC", m.BIC, want.BIC, 1e-10, 1)
	near(t, "sigma", m.ResidualSD, want.Sigma, 1e-6, 0)
	if m.Rows != want.N || m.Parameters != want.DFModel {
		t.Errorf("%d rows and %d parameters, want %d and %d", m.Rows, m.Parameters, want.N, want.DFModel)
	}
	if len(m.Theta) != len(want.Theta) {
		t.Fatalf("theta %v, want %v", m.Theta, want.Theta)
	}
	next := 0
	for j, a := range m.Layout.Random {
		for i, b := range m.Layout.Random[j:] {
			key := "." + a
			if i > 0 {
				key = "." + b + "." + a
				if m.Layout.Independent {
					continue
				}
			}
			found := false
			for name, v := range want.Theta {
				if name[strings.Index(name, "."):] == key {
					near(t, "theta"+key, m.Theta[next], v, 1e-6, 1e-12)
					found = true
				}
			}
			if !found {
				t.Errorf("no theta %q in the reference", key)
			}
			next++
		}
	}
	coefficients, err := m.Coefficients(mixed.Satterthwaite, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range coefficients {
		near(t, c.Term, c.Estimate, want.Fixef[c.Term], 1e-7, 0)
		near(t, "se "+c.Term, c.StdError, want.SE[c.Term], 1e-7, 0)
		row := want.LmerTest.Coef.Values[i]
		near(t, "df "+c.Term, c.DF, row[2], 1e-4, 0)
		near(t, "t "+c.Term, c.Statistic, row[3], 1e-6, 0)
		near(t, "p "+c.Term, c.PValue, row[4], 1e-3, 0)
		near(t, "low "+c.Term, c.ConfLow, want.LmerTest.CI.Values[i][0], 1e-5, 0)
		near(t, "high "+c.Term, c.ConfHigh, want.LmerTest.CI.Values[i][1], 1e-5, 0)
		for j := range coefficients {
			near(t, "covariance", m.Covariance.At(i, j), want.Vcov.Values[i][j], 1e-6, 0)
		}
	}
	if f := want.LmerTest.F.Values; len(f) == 1 {
		joint, err := m.Test([][]float64{{0, 1}}, mixed.Satterthwaite)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "F", joint.Statistic, f[0][4], 1e-6, 0)
		near(t, "F df", joint.DF, f[0][3], 1e-4, 0)
		near(t, "F p", joint.PValue, f[0][5], 1e-3, 0)
	}
	for _, v := range want.Varcorr {
		switch {
		case v.Grp == "Residual":
			near(t, "residual variance", m.ResidualSD*m.ResidualSD, v.Vcov, 1e-6, 0)
		case v.Var2 != nil:
			r, ok, err := m.Correlation(*v.Var1, *v.Var2)
			if err != nil || !ok {
				t.Fatal(ok, err)
			}
			near(t, "correlation", r, v.Sdcor, 1e-6, 0)
		default:
			sd, err := m.SD(*v.Var1)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "sd "+*v.Var1, sd, v.Sdcor, 1e-6, 1e-12)
		}
	}
	if want.KR != nil {
		adjusted, err := m.AdjustedCovariance()
		if err != nil {
			t.Fatal(err)
		}
		rows, err := m.Coefficients(mixed.KenwardRoger, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range rows {
			near(t, "KR se "+c.Term, c.StdError, want.KR.SE[c.Term], 1e-6, 0)
			near(t, "KR df "+c.Term, c.DF, want.KR.DF[c.Term], 1e-6, 0)
			near(t, "KR t "+c.Term, c.Statistic, want.KR.T[c.Term], 1e-6, 0)
			near(t, "KR p "+c.Term, c.PValue, want.KR.P[c.Term], 1e-5, 0)
			for j := range rows {
				near(t, "KR covariance", adjusted.At(i, j), want.KR.Vcov.Values[i][j], 1e-6, 0)
			}
		}
	}
	units := m.Units()
	for group, ranef := range want.Ranef {
		for r, label := range ranef.Rows {
			if units[r].Label != label {
				t.Fatalf("unit %q, want %q", units[r].Label, label)
			}
			nearAll(t, "effects of "+label, units[r].Effects, ranef.Values[r], 1e-6, 1e-3)
		}
		switch v := want.CondVar[group].(type) {
		case []any:
			nearMatrix(t, "conditional variance", units[0].Conditional, v)
		case map[string]any: // one matrix for each independent effect
			for i, name := range m.Layout.Random {
				entry := v[name].([]any)[0].([]any)[0].(float64)
				near(t, "conditional variance "+name, units[0].Conditional.At(i, i), entry, 1e-6, 1e-12)
			}
		default:
			t.Errorf("no conditional variance of %q", group)
		}
	}
	if len(want.Ranef) == 0 && m.Method == mixed.REML {
		t.Error("the reference holds no random effects")
	}
}

func nearMatrix(t *testing.T, what string, got *mat.SymDense, want []any) {
	t.Helper()
	for i, row := range want {
		for j, v := range row.([]any) {
			near(t, what, got.At(i, j), v.(float64), 1e-6, 1e-12)
		}
	}
}

// compareProfile checks limits to 1e-3, the accuracy of lme4's interpolation.
func compareProfile(t *testing.T, m *mixed.Model, want *lme4Matrix) {
	t.Helper()
	for i, name := range want.Rows {
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
		near(t, "low "+name, got.Low, want.Values[i][0], 1e-3, 0)
		near(t, "high "+name, got.High, want.Values[i][1], 1e-3, 0)
	}
}

// TestClosedForm: with equal numbers of rows, one-way analysis of variance has
// the estimates in closed form (Searle, Casella and McCulloch 1992, section 4.3).
func TestClosedForm(t *testing.T) {
	var reference struct{ Models map[string]lme4Model }
	readJSON(t, "testdata/lme4.json", &reference)
	entry := reference.Models["dyestuff"]
	want := entry.Closed
	reml, ml := fitted(t, entry.sums(t), mixed.REML), fitted(t, entry.sums(t), mixed.ML)
	near(t, "REML variance", reml.Random.At(0, 0), want.SigmaREML, 1e-10, 0)
	near(t, "ML variance", ml.Random.At(0, 0), want.SigmaML, 1e-10, 0)
	near(t, "REML residual", reml.ResidualSD*reml.ResidualSD, want.MSW, 1e-10, 0)
	near(t, "ML residual", ml.ResidualSD*ml.ResidualSD, want.MSW, 1e-10, 0)
	nearAll(t, "REML theta", reml.Theta, []float64{want.ThetaREML}, 1e-10, 0)
	nearAll(t, "ML theta", ml.Theta, []float64{want.ThetaML}, 1e-10, 0)
	c, err := reml.Coefficients(mixed.Satterthwaite, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "standard error", c[0].StdError, want.SE, 1e-10, 0)
	near(t, "df", c[0].DF, 5, 1e-9, 0)
}
