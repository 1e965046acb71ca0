package reliability_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

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

// TestShroutAndFleiss: Table 2 of Shrout and Fleiss (1979), six subjects rated by
// four judges, whose published correlations are .17 .29 .71 .44 .62 .91; digits
// and intervals from R's psych (testdata/icc.json). Closed forms 1e-10.
func TestShroutAndFleiss(t *testing.T) {
	var file struct {
		Matrix [][]float64
		Anova  map[string]float64 `json:"by_anova"`
		Psych  map[string]struct {
			ICC, F, DF1, DF2, P float64
			Low                 float64 `json:"lower bound"`
			High                float64 `json:"upper bound"`
		} `json:"psych_ICC"`
	}
	decode(t, "testdata/icc.json", &file)
	got, err := reliability.Intraclass(file.Matrix, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "B", got.SubjectsMeanSquare, file.Anova["BMS"], 1e-12)
	near(t, "J", got.TrialsMeanSquare, file.Anova["JMS"], 1e-12)
	near(t, "W", got.WithinMeanSquare, file.Anova["WMS"], 1e-12)
	near(t, "E", got.ErrorMeanSquare, file.Anova["EMS"], 1e-12)
	published := []float64{.17, .29, .71, .44, .62, .91}
	for f, name := range []string{
		"Single_raters_absolute", "Single_random_raters", "Single_fixed_raters",
		"Average_raters_absolute", "Average_random_raters", "Average_fixed_raters",
	} {
		c, want := got.Coefficients[f], file.Psych[name]
		if c.Form != reliability.Form(f) || c.DF1 != want.DF1 || c.DF2 != want.DF2 {
			t.Errorf("%s: %+v", name, c)
		}
		near(t, name, c.ICC, want.ICC, 1e-10)
		near(t, name+" F", c.F, want.F, 1e-10)
		near(t, name+" p", c.PValue, want.P, 1e-10)
		near(t, name+" low", c.ConfLow, want.Low, 1e-10)
		near(t, name+" high", c.ConfHigh, want.High, 1e-10)
		if math.Abs(c.ICC-published[f]) > 0.005 {
			t.Errorf("%v: %.4f, published %v", c.Form, c.ICC, published[f])
		}
	}
}

// TestTwoTrials: five subjects twice (testdata/icc.json, after Hopkins 2000).
func TestTwoTrials(t *testing.T) {
	var file struct {
		Want struct {
			Trial1, Trial2 []float64
			MeanChange     float64    `json:"mean_change"`
			ChangeSD       float64    `json:"sd_diff"`
			TypicalError   float64    `json:"typical_error"`
			TypicalLimits  [2]float64 `json:"typical_error_ci95"`
			Mean           float64    `json:"grand_mean"`
			Percent        float64    `json:"cv_percent"`
			PercentLog     float64    `json:"cv_percent_log"`
			Agreement      float64    `json:"LoA95_half_width"`
			AgreementT     float64    `json:"LoA95_half_width_t"`
			Detectable     float64    `json:"mdc95"`
			Worthwhile     float64    `json:"swc_0.2_between_sd"`
			ICC            float64    `json:"icc31"`
		} `json:"hopkins_test_retest"`
	}
	decode(t, "testdata/icc.json", &file)
	w := file.Want
	r, err := reliability.Retest(w.Trial1, w.Trial2, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean change", r.MeanChange, w.MeanChange, 1e-10)
	near(t, "SD of changes", r.ChangeSD, w.ChangeSD, 1e-10)
	near(t, "typical error", r.TypicalError.Value, w.TypicalError, 1e-10)
	near(t, "typical error low", r.TypicalError.ConfLow, w.TypicalLimits[0], 1e-10)
	near(t, "typical error high", r.TypicalError.ConfHigh, w.TypicalLimits[1], 1e-10)
	near(t, "mean", r.TypicalError.Mean, w.Mean, 1e-10)
	near(t, "percent", r.TypicalError.Percent, w.Percent, 1e-10)
	near(t, "limits of agreement", r.LimitsOfAgreement, w.Agreement, 1e-10)
	near(t, "limits of agreement, t", r.LimitsOfAgreementT, w.AgreementT, 1e-10)
	near(t, "detectable", r.MinimalDetectableChange, w.Detectable, 1e-10)
	near(t, "worthwhile", r.SmallestWorthwhileChange, w.Worthwhile, 1e-10)
	near(t, "ICC(3,1)", r.Consistency.ICC, w.ICC, 1e-10)
	// The interval of the mean change: mean -+ t SD/sqrt(n), t(0.975, 4) = 2.776445
	// (from the limits of agreement in the file).
	near(t, "mean change high", r.MeanChangeHigh, w.MeanChange+w.AgreementT/math.Sqrt(5), 1e-10)

	ratings := make([][]float64, len(w.Trial1))
	for i := range ratings {
		ratings[i] = []float64{w.Trial1[i], w.Trial2[i]}
	}
	cv, err := reliability.CoefficientOfVariation(ratings, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "coefficient of variation", cv.Value, w.PercentLog, 1e-10)
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
