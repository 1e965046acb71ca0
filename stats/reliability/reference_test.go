package reliability_test

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"os"
	"strconv"
	"testing"

	"lengthwise/stats/association"
	"lengthwise/stats/internal/reference"
	"lengthwise/stats/reliability"
)

func decode(t *testing.T, path string, into any) {
	t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, into); err != nil {
		t.Fatal(err)
	}
}

// TestEveryEntryOfAgreement compares every number of testdata/icc.json: Table 2 of
// Shrout and Fleiss (1979), six subjects by four judges, with R 4.2.2's psych 2.2.9,
// and five subjects tested twice (after Hopkins 2000). Closed forms, 1e-10;
// published correlations to their two digits.
func TestEveryEntryOfAgreement(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "icc.json")
	ratings := make([][]float64, 6)
	for i := range ratings {
		ratings[i] = f.Input(t, "matrix/"+strconv.Itoa(i))
	}
	got, err := reliability.Intraclass(ratings, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near := func(v float64, path string) { t.Helper(); f.Near(t, v, 1e-10, path) }
	near(got.SubjectsMeanSquare, "by_anova/BMS")
	near(got.TrialsMeanSquare, "by_anova/JMS")
	near(got.WithinMeanSquare, "by_anova/WMS")
	near(got.ErrorMeanSquare, "by_anova/EMS")
	n, k := float64(got.Subjects), float64(got.Trials)
	for i, source := range []struct{ df, ms float64 }{
		{n - 1, got.SubjectsMeanSquare}, {k - 1, got.TrialsMeanSquare}, {(n - 1) * (k - 1), got.ErrorMeanSquare},
	} {
		row := "/" + strconv.Itoa(i)
		near(source.df, "anova/df"+row)
		near(source.ms, "anova/MS"+row)
		near(source.ms*source.df, "anova/SS"+row)
	}
	for form, name := range [...]struct{ anova, psych, published string }{
		{"ICC1_1", "Single_raters_absolute", "ICC1"}, {"ICC2_1", "Single_random_raters", "ICC2"}, {"ICC3_1", "Single_fixed_raters", "ICC3"},
		{"ICC1_k", "Average_raters_absolute", "ICC1k"}, {"ICC2_k", "Average_random_raters", "ICC2k"}, {"ICC3_k", "Average_fixed_raters", "ICC3k"},
	} {
		c := got.Coefficients[form]
		if c.Form != reliability.Form(form) {
			t.Errorf("%s stands at %v", name.anova, c.Form)
		}
		at := "psych_ICC/" + name.psych + "/"
		near(c.ICC, "by_anova/"+name.anova)
		near(c.ICC, at+"ICC")
		near(c.F, at+"F")
		near(c.DF1, at+"df1")
		near(c.DF2, at+"df2")
		near(c.PValue, at+"p")
		near(c.ConfLow, at+"lower bound")
		near(c.ConfHigh, at+"upper bound")
		f.Near(t, math.Round(100*c.ICC)/100, 1e-10, "provenance/published/"+name.published)
	}

	const at = "hopkins_test_retest/"
	first, second := f.Input(t, at+"trial1"), f.Input(t, at+"trial2")
	r, err := reliability.Retest(first, second, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(r.MeanChange, at+"mean_change")
	near(r.ChangeSD, at+"sd_diff")
	near(r.TypicalError.Value, at+"typical_error")
	f.NearAll(t, []float64{r.TypicalError.ConfLow, r.TypicalError.ConfHigh}, 1e-10, at+"typical_error_ci95")
	near(r.TypicalError.Mean, at+"grand_mean")
	near(r.TypicalError.Percent, at+"cv_percent")
	near(r.LimitsOfAgreement, at+"LoA95_half_width")
	near(r.LimitsOfAgreementT, at+"LoA95_half_width_t")
	near(r.MinimalDetectableChange, at+"mdc95")
	near(r.SmallestWorthwhileChange, at+"swc_0.2_between_sd")
	near(r.Consistency.ICC, at+"icc31")
	pearson, err := association.Pearson(first, second)
	if err != nil {
		t.Fatal(err)
	}
	near(pearson, at+"retest_pearson")
	// The interval of the mean change is mean -+ t SD/sqrt(n), t as in the limits of
	// agreement.
	if want := r.MeanChange + f.Value(t, at+"LoA95_half_width_t")/math.Sqrt(5); math.Abs(r.MeanChangeHigh-want) > 1e-10 {
		t.Errorf("mean change up to %v, want %v", r.MeanChangeHigh, want)
	}
	pairs := make([][]float64, len(first))
	for i := range pairs {
		pairs[i] = []float64{first[i], second[i]}
	}
	cv, err1 := reliability.CoefficientOfVariation(pairs, 0.95)
	typical, err2 := reliability.TypicalErrorOf(pairs, 0.95)
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	near(cv.Value, at+"cv_percent_log")
	near(typical.Value, at+"typical_error")
	f.Complete(t)
}

// TestComponentsMatchLme4: REML of lme4 on unbalanced data (testdata/unbalanced.R).
// Variances to 1e-6 relative, which is what lme4 supports.
func TestComponentsMatchLme4(t *testing.T) {
	type reference struct {
		Value    []float64
		Variance map[string]float64
		Mean     float64
	}
	var file struct {
		OneWay reference `json:"one_way"`
		TwoWay reference `json:"two_way"`
		Zero   reference
	}
	decode(t, "testdata/unbalanced.json", &file)
	subject, trial, value := unbalanced(t)
	one, err := reliability.OneWay(subject, value, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "one way, between", one.BetweenVariance, file.OneWay.Variance["subject"], 1e-6)
	near(t, "one way, error", one.ErrorVariance, file.OneWay.Variance["Residual"], 1e-6)
	two, err := reliability.Agreement(subject, trial, value, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "two way, between", two.BetweenVariance, file.TwoWay.Variance["subject"], 1e-6)
	near(t, "two way, trial", two.TrialVariance, file.TwoWay.Variance["trial"], 1e-6)
	near(t, "two way, error", two.ErrorVariance, file.TwoWay.Variance["Residual"], 1e-6)
	near(t, "two way, mean", two.Mean, file.TwoWay.Mean, 1e-7)
	zero, err := reliability.OneWay(subject, file.Zero.Value, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if zero.BetweenVariance != 0 || !zero.Boundary || zero.ICC != 0 || !(zero.ConfLow < 0) {
		t.Errorf("no difference between subjects: %+v", zero)
	}
	near(t, "zero, error", zero.ErrorVariance, file.Zero.Variance["Residual"], 1e-9)
}

func unbalanced(t testing.TB) (subject, trial []int, value []float64) {
	t.Helper()
	f, err := os.Open("testdata/unbalanced.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		var v [3]float64
		for i, field := range row {
			if v[i], err = strconv.ParseFloat(field, 64); err != nil {
				t.Fatal(err)
			}
		}
		subject, trial, value = append(subject, int(v[0])), append(trial, int(v[1])), append(value, v[2])
	}
	return subject, trial, value
}

// near compares to a relative tolerance.
func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: got %.17g, want %.17g", what, got, want)
	}
}
