package pooled_test

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"lengthwise/stats/pooled"
)

// fitted is one fit by metafor; the source is named in testdata/metafor.json.
type fitted struct {
	Method, Test string
	Estimate, SE float64
	Stat         float64
	DF           *float64
	P            float64
	CI95         [2]float64
	Tau2         float64
	SETau2       *float64 `json:"se_tau2"`
	I2, H2       float64
	Q            float64
	QP           float64     `json:"Q_p"`
	LogLik       float64     `json:"logLik"`
	Prediction   *[2]float64 `json:"PI_metafor"`
	Weights      []float64   `json:"weights_percent"`
	Tau2CI       *[2]float64 `json:"tau2_ci"`
	Modified     *struct {
		SE   float64
		CI95 [2]float64
	}
}

type reference struct {
	Sets map[string]struct {
		Yi, Vi []float64
		Fits   []fitted
	}
	LeaveOneOut struct{ Estimate, SE, Tau2, I2, Q []float64 } `json:"leave_one_out"`
}

func load(t *testing.T) reference {
	t.Helper()
	raw, err := os.ReadFile("testdata/metafor.json")
	if err != nil {
		t.Fatal(err)
	}
	var r reference
	if err := json.Unmarshal(raw, &r); err != nil {
		t.Fatal(err)
	}
	return r
}

var methodOf = map[string]pooled.Method{
	"REML": pooled.REML, "ML": pooled.ML, "DL": pooled.DerSimonianLaird,
	"PM": pooled.PauleMandel, "EB": pooled.EmpiricalBayes, "FE": pooled.FixedEffect,
}

// Tolerances: closed forms 1e-10 relative; iterated methods 1e-9, since
// metafor itself stopped at 1e-12 in tau2; Q-profile limits 1e-9 (the
// reference was made with tol = 1e-12).
func TestMatchesMetafor(t *testing.T) {
	checked := 0
	for name, set := range load(t).Sets {
		for _, want := range set.Fits {
			t.Run(name+"/"+want.Method+"_"+want.Test, func(t *testing.T) {
				tolerance := 1e-9
				if want.Method == "FE" || want.Method == "DL" {
					tolerance = 1e-10
				}
				o := pooled.Options{Method: methodOf[want.Method]}
				if want.Test == "knha" {
					o.Test = pooled.HartungKnapp
				}
				got, err := pooled.Fit(set.Yi, set.Vi, o)
				if err != nil {
					t.Fatal(err)
				}
				near(t, "estimate", got.Estimate, want.Estimate, tolerance)
				near(t, "standard error", got.StdError, want.SE, tolerance)
				near(t, "statistic", got.Statistic, want.Stat, tolerance)
				near(t, "p", got.PValue, want.P, 1e-8)
				near(t, "low", got.ConfLow, want.CI95[0], tolerance)
				near(t, "high", got.ConfHigh, want.CI95[1], tolerance)
				near(t, "tau2", got.Tau2, want.Tau2, tolerance)
				near(t, "I2", got.I2, want.I2, tolerance)
				near(t, "H2", got.H2, want.H2, tolerance)
				near(t, "Q", got.Q, want.Q, 1e-10)
				near(t, "Q p", got.QP, want.QP, 1e-10)
				near(t, "log-likelihood", got.LogLik, want.LogLik, tolerance)
				for i, w := range want.Weights {
					near(t, "weight", 100*got.Weights[i], w, tolerance)
				}
				if want.DF != nil && got.DF != *want.DF || want.DF == nil && !math.IsInf(got.DF, 1) {
					t.Errorf("df %v, want %v", got.DF, want.DF)
				}
				if !got.Converged || got.Boundary || got.K != len(set.Yi) {
					t.Errorf("converged %v, boundary %v, k %d", got.Converged, got.Boundary, got.K)
				}
				if want.Method == "FE" {
					// No spread between units: prediction is the confidence interval.
					near(t, "prediction", got.PredictLow, want.CI95[0], tolerance)
					near(t, "prediction", got.PredictHigh, want.CI95[1], tolerance)
				} else {
					near(t, "SE of tau2", got.Tau2StdError, *want.SETau2, tolerance)
					near(t, "prediction low", got.PredictLow, want.Prediction[0], tolerance)
					near(t, "prediction high", got.PredictHigh, want.Prediction[1], tolerance)
					near(t, "tau2 low", got.Tau2Low, want.Tau2CI[0], 1e-9)
					near(t, "tau2 high", got.Tau2High, want.Tau2CI[1], 1e-9)
				}
				if want.Modified != nil {
					o.Test = pooled.ModifiedHartungKnapp
					got, err := pooled.Fit(set.Yi, set.Vi, o)
					if err != nil {
						t.Fatal(err)
					}
					near(t, "modified SE", got.StdError, want.Modified.SE, tolerance)
					near(t, "modified low", got.ConfLow, want.Modified.CI95[0], tolerance)
					near(t, "modified high", got.ConfHigh, want.Modified.CI95[1], tolerance)
				}
				checked++
			})
		}
	}
	if checked != 22 {
		t.Errorf("%d fits checked, the file should hold 22", checked)
	}
}

func TestLeaveOneOutMatchesMetafor(t *testing.T) {
	r := load(t)
	set, want := r.Sets["bcg"], r.LeaveOneOut
	if len(want.Estimate) != len(set.Yi) {
		t.Fatal("the reference has no leave-one-out fits")
	}
	for i := range set.Yi {
		y := slices.Delete(slices.Clone(set.Yi), i, i+1)
		v := slices.Delete(slices.Clone(set.Vi), i, i+1)
		got, err := pooled.Fit(y, v, pooled.Options{})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "estimate", got.Estimate, want.Estimate[i], 1e-9)
		near(t, "standard error", got.StdError, want.SE[i], 1e-9)
		near(t, "tau2", got.Tau2, want.Tau2[i], 1e-9)
		near(t, "I2", got.I2, want.I2[i], 1e-9)
		near(t, "Q", got.Q, want.Q[i], 1e-10)
	}
}

// TestHartungKnappAtPauleMandel: q is 1 there by definition, so the
// Hartung-Knapp standard error equals the plain one.
func TestHartungKnappAtPauleMandel(t *testing.T) {
	for name, set := range load(t).Sets {
		plain, err := pooled.Fit(set.Yi, set.Vi, pooled.Options{Method: pooled.PauleMandel})
		if err != nil {
			t.Fatal(err)
		}
		adjusted, err := pooled.Fit(set.Yi, set.Vi, pooled.Options{Method: pooled.PauleMandel, Test: pooled.HartungKnapp})
		if err != nil {
			t.Fatal(err)
		}
		near(t, name, adjusted.StdError, plain.StdError, 1e-13)
	}
}

// near compares to a relative tolerance.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: got %.17g, want %.17g (relative difference %.2g)", what, got, want, (got-want)/want)
	}
}
