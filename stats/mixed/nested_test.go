package mixed_test

import (
	"slices"
	"strings"
	"testing"

	"lengthwise/stats/mixed"
)

// testdata/nested.json is output of lme4 with lmerTest and pbkrtest for
// correlated random effects by unit with groups nested in units; script, data
// and versions are beside it.
type nestedFit struct {
	Theta        []float64
	Gradient     []float64 `json:"max_abs_gradient"`
	AtZero       []float64 `json:"at_zero"`
	Criterion    []float64
	Beta, SE     []float64
	Vcov         [][]float64
	Sigma        []float64
	DF           []float64   `json:"satterthwaite_df"`
	Joint        []float64   `json:"satterthwaite_joint"`
	Effects      [][]float64 `json:"unit_effects"`
	CondVar      [][]float64 `json:"unit_condvar_first"`
	GroupNames   []string    `json:"group_names"`
	GroupEffects []float64   `json:"group_effects"`
	GroupCondVar []float64   `json:"group_condvar"`
	KRVcov       [][]float64 `json:"kenward_roger_vcov"`
	KRDF         []float64   `json:"kenward_roger_df"`
	KRJoint      []float64   `json:"kenward_roger_joint"`
	ProfileNames []string    `json:"profile_names"`
	Profile      [][]float64
	LRT          []float64 `json:"lrt_without_square"`
	AIC, BIC     []float64
}

type nestedCase struct {
	Formula  string
	REML, ML nestedFit
}

func nestedSums(t testing.TB, name, formula string, fixed []string) *mixed.Sums {
	t.Helper()
	data := readTable(t, "testdata/nested_"+name+".csv")
	x1, x2 := data.numbers(t, "x1"), data.numbers(t, "x2")
	square := make([]float64, len(x2))
	for i, v := range x2 {
		square[i] = v * v
	}
	if name == "shifted" {
		for i := range x2 {
			x2[i] -= 40
			square[i] = x2[i] * x2[i]
		}
	}
	available := map[string][]float64{"1": ones(len(x1)), "x1": x1, "x2": x2, "x2^2": square}
	l := mixed.Layout{Fixed: fixed, GroupIntercept: true, Independent: strings.Contains(formula, "||")}
	switch {
	case strings.Contains(formula, "(1 | unit)"):
		l.Random = []string{"1"}
	case strings.Contains(formula, "(0 + x1 + x2"):
		l.Random = []string{"x1", "x2"}
	default:
		l.Random = []string{"1", "x1", "x2"}
	}
	var columns [][]float64
	for _, c := range l.Columns() {
		columns = append(columns, available[c])
	}
	return summed(t, l, data["unit"], data["group"], columns, data.numbers(t, "y"))
}

var square = []string{"1", "x1", "x2", "x2^2"}

func TestNestedMatchesLme4(t *testing.T) {
	var reference struct{ Cases map[string]nestedCase }
	readJSON(t, "testdata/nested.json", &reference)
	boundary := 0
	for name, c := range reference.Cases {
		sums := nestedSums(t, name, c.Formula, square)
		for _, method := range []mixed.Method{mixed.REML, mixed.ML} {
			want := c.REML
			if method == mixed.ML {
				want = c.ML
			}
			t.Run(name+"/"+method.String(), func(t *testing.T) {
				compareNested(t, fitted(t, sums, method), want, name)
			})
			if want.AtZero[0] > 0 {
				boundary++
			}
		}
		t.Run(name+"/likelihood ratio", func(t *testing.T) {
			small := fitted(t, nestedSums(t, name, c.Formula, square[:3]), mixed.ML)
			got, err := mixed.LikelihoodRatio(small, fitted(t, sums, mixed.ML))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "statistic", got.Statistic, c.ML.LRT[0], 1e-5, 1)
			near(t, "p", got.PValue, c.ML.LRT[2], 1e-5, 1e-3)
			if got.DF != int(c.ML.LRT[1]) || got.Mixture {
				t.Errorf("df %d, mixture %v", got.DF, got.Mixture)
			}
		})
	}
	if len(reference.Cases) != 8 || boundary < 3 {
		t.Errorf("%d cases, %d at a boundary: the file should hold 8 and at least 3", len(reference.Cases), boundary)
	}
}

func compareNested(t *testing.T, m *mixed.Model, want nestedFit, name string) {
	t.Helper()
	near(t, "criterion", m.Criterion-want.Criterion[0], 0, 1e-8, 1)
	last := len(m.Theta) - 1
	theta := append([]float64{m.Theta[last]}, m.Theta[:last]...)
	if m.Layout.Independent {
		// lme4 has terms of as many levels in reverse.
		slices.Reverse(theta[1:])
		for _, e := range want.Effects {
			slices.Reverse(e)
		}
	}
	nearAll(t, "theta", theta, want.Theta, 1e-6, 0.5) // absolute below 0.5
	nearAll(t, "sigma", []float64{m.ResidualSD}, want.Sigma, 1e-6, 0)
	near(t, "AIC", m.AIC, want.AIC[0], 1e-9, 0)
	near(t, "BIC", m.BIC, want.BIC[0], 1e-9, 0)
	rows, err := m.Coefficients(mixed.Satterthwaite, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range rows {
		near(t, c.Term, c.Estimate, want.Beta[i], 1e-7, 0)
		near(t, "se "+c.Term, c.StdError, want.SE[i], 1e-7, 0)
		near(t, "df "+c.Term, c.DF, want.DF[i], 1e-4, 0)
		for j := range rows {
			near(t, "covariance", m.Covariance.At(i, j), want.Vcov[i][j], 1e-6, want.SE[i]*want.SE[j])
		}
	}
	hypotheses := [][]float64{{0, 1, 0, 0}, {0, 0, 1, 0}}
	if want.Joint != nil {
		joint, err := m.Test(hypotheses, mixed.Satterthwaite)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "joint F", joint.Statistic, want.Joint[0], 1e-5, 0)
		near(t, "joint df", joint.DF, want.Joint[2], 1e-4, 0)
	}
	units := m.Units()
	if len(units) != len(want.Effects) {
		t.Fatalf("%d units, want %d", len(units), len(want.Effects))
	}
	for i, u := range units {
		nearAll(t, "effects of "+u.Label, u.Effects, want.Effects[i], 1e-5, 1)
		for _, g := range u.Groups {
			at := slices.Index(want.GroupNames, u.Label+":"+g.Label)
			if at < 0 {
				t.Fatalf("group %s:%s is not in the reference", u.Label, g.Label)
			}
			near(t, "effect of group", g.Effect, want.GroupEffects[at], 1e-5, 1)
			near(t, "conditional variance of group", g.Conditional, want.GroupCondVar[at], 1e-5, 0)
		}
	}
	for i := range want.CondVar {
		for j, v := range want.CondVar[i] {
			near(t, "conditional variance", units[0].Conditional.At(i, j), v, 1e-5, 1e-3)
		}
	}
	if want.KRDF != nil {
		rows, err := m.Coefficients(mixed.KenwardRoger, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		adjusted, err := m.AdjustedCovariance()
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range rows {
			near(t, "KR df "+c.Term, c.DF, want.KRDF[i], 1e-6, 0)
			for j := range rows {
				near(t, "KR covariance", adjusted.At(i, j), want.KRVcov[i][j], 1e-6, rows[i].StdError*rows[j].StdError)
			}
		}
		joint, err := m.Test(hypotheses, mixed.KenwardRoger)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "KR joint F", joint.Statistic, want.KRJoint[0], 1e-5, 0)
		near(t, "KR joint df", joint.DF, want.KRJoint[2], 1e-5, 0)
		near(t, "KR scale", joint.Scale, want.KRJoint[3], 1e-5, 0)
	}
	var direct map[string][]float64
	if want.ProfileNames != nil && name == "unbalanced" {
		// Where lme4's own profile gives up (see nested_profile.R).
		readJSON(t, "testdata/nested_profile.json", &direct)
		if len(direct) != 4 {
			t.Fatalf("%d direct limits, want 4", len(direct))
		}
	}
	for i, p := range want.ProfileNames {
		got, err := m.Profile(parameter(p), 0.95)
		if err != nil {
			t.Fatalf("%s: %v", p, err)
		}
		if limits := direct[p]; limits != nil {
			nearAll(t, p, []float64{got.Low, got.High}, limits, 1e-6, 0)
			continue
		}
		near(t, "low "+p, got.Low, want.Profile[i][0], 1e-3, 0.1)
		near(t, "high "+p, got.High, want.Profile[i][1], 1e-3, 0.1)
	}
}

// TestFarFromZero: the rows of the shifted case with x2 about 40, where the
// intercept is an extrapolation over fifty standard deviations, give the fit of
// the centred rows.
func TestFarFromZero(t *testing.T) {
	data := readTable(t, "testdata/nested_shifted.csv")
	x1, x2 := data.numbers(t, "x1"), data.numbers(t, "x2")
	l := mixed.Layout{Fixed: square, Random: square[:3], GroupIntercept: true}
	x22 := make([]float64, len(x2))
	for i, v := range x2 {
		x22[i] = v * v
	}
	far := fitted(t, summed(t, l, data["unit"], data["group"], [][]float64{ones(len(x1)), x1, x2, x22}, data.numbers(t, "y")), mixed.REML)
	centred := fitted(t, nestedSums(t, "shifted", "", square), mixed.REML)
	near(t, "criterion", far.Criterion-centred.Criterion, 0, 1e-8, 1)
	near(t, "sigma", far.ResidualSD, centred.ResidualSD, 1e-8, 0)
	near(t, "group sd", far.GroupSD, centred.GroupSD, 1e-7, 0)
	a, err := far.Coefficients(mixed.Satterthwaite, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	b, err := centred.Coefficients(mixed.Satterthwaite, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range []int{1, 3} {
		near(t, "estimate of "+a[i].Term, a[i].Estimate, b[i].Estimate, 1e-8, 0)
		near(t, "error of "+a[i].Term, a[i].StdError, b[i].StdError, 1e-8, 0)
		near(t, "df of "+a[i].Term, a[i].DF, b[i].DF, 1e-6, 0)
	}
}

// parameter translates lme4's names of profiled parameters.
func parameter(name string) mixed.Parameter {
	column := func(s string) string {
		return strings.NewReplacer("(Intercept)", "1", "I(x2^2)", "x2^2").Replace(s)
	}
	head, of, _ := strings.Cut(name, "|")
	switch {
	case name == "sigma":
		return mixed.Parameter{Kind: mixed.ResidualSD}
	case of == "unit:group":
		return mixed.Parameter{Kind: mixed.GroupSD}
	case strings.HasPrefix(head, "sd_"):
		return mixed.Parameter{Kind: mixed.UnitSD, Term: column(head[3:])}
	case strings.HasPrefix(head, "cor_"):
		b, a, _ := strings.Cut(head[4:], ".")
		return mixed.Parameter{Kind: mixed.UnitCorrelation, Term: column(a), Other: column(b)}
	}
	return mixed.Parameter{Kind: mixed.FixedEffect, Term: column(name)}
}
