package pooled_test

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/stats/internal/reference"
	"lengthwise/stats/pooled"
)

// studies are the effects and sampling variances of a published set.
type studies struct{ y, v, ablat []float64 }

// readStudies reads dat.bcg (Colditz et al. 1994) and dat.molloy2014 (Molloy et
// al. 2014) as R's metadat 1.2-0 carries them, with effects by metafor's escalc.
func readStudies(t *testing.T, path string) studies {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := func(name string) []float64 {
		var out []float64
		for j, head := range rows[0] {
			if head != name {
				continue
			}
			for _, row := range rows[1:] {
				v, err := strconv.ParseFloat(row[j], 64)
				if err != nil {
					t.Fatal(err)
				}
				out = append(out, v)
			}
		}
		return out
	}
	return studies{column("yi"), column("vi"), column("ablat")}
}

var methodOf = map[string]pooled.Method{
	"REML": pooled.REML, "ML": pooled.ML, "DL": pooled.DerSimonianLaird, "HE": pooled.Hedges, "SJ": pooled.SidikJonkman,
	"PM": pooled.PauleMandel, "EB": pooled.EmpiricalBayes, "FE": pooled.FixedEffect,
}

// TestEveryEntryOfMetafor compares every number of testdata/metafor.json, output of
// R 4.2.2 with metafor 3.8-1 (definitions and calls at its head): 30 fits of two
// sets, meta-regression, leaving one out, and the sandwich. Closed forms are held
// to 1e-10, iterated ones to 1e-9, since metafor stopped at 1e-12 in tau2.
func TestEveryEntryOfMetafor(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "metafor.json")
	bcg, molloy := readStudies(t, "testdata/bcg.csv"), readStudies(t, "testdata/molloy2014.csv")
	for set, s := range map[string]studies{"bcg_logRR": bcg, "molloy2014_fisherz": molloy} {
		for _, fit := range f.Keys(set) {
			compareFit(t, f, set+"/"+fit, s)
		}
	}
	compareRegression(t, f, "bcg_metaregression_ablat", bcg)

	left, err := pooled.LeaveOneOut(bcg.y, bcg.v, pooled.Options{})
	if err != nil {
		t.Fatal(err)
	}
	collect := func(number func(pooled.Result) float64) []float64 {
		var out []float64
		for _, r := range left {
			out = append(out, number(r))
		}
		return out
	}
	const loo = "bcg_leave1out_REML"
	f.NearAll(t, collect(func(r pooled.Result) float64 { return r.Estimate }), 1e-9, loo+"/estimate")
	f.NearAll(t, collect(func(r pooled.Result) float64 { return r.StdError }), 1e-9, loo+"/se")
	f.NearAll(t, collect(func(r pooled.Result) float64 { return r.Tau2 }), 1e-9, loo+"/tau2")
	f.NearAll(t, collect(func(r pooled.Result) float64 { return r.I2 }), 1e-9, loo+"/I2")
	f.NearAll(t, collect(func(r pooled.Result) float64 { return r.Q }), 1e-10, loo+"/Q")

	robust, err := pooled.RobustMean(bcg.y, bcg.v, positions(len(bcg.y)), pooled.Options{})
	if err != nil {
		t.Fatal(err)
	}
	const hc = "bcg_robust_HC"
	c := robust.Coefficients[0]
	f.Near(t, c.Estimate, 1e-9, hc+"/estimate")
	f.Near(t, c.StdError, 1e-9, hc+"/se")
	f.Near(t, c.Statistic, 1e-9, hc+"/t")
	f.Near(t, c.PValue, 1e-8, hc+"/p")
	f.Near(t, robust.DF, 0, hc+"/df")
	f.Complete(t)
}

// compareFit compares one fit, whose name is METHOD_TEST.
func compareFit(t *testing.T, f *reference.File, at string, s studies) {
	t.Helper()
	method := f.Text(at + "/method")
	tolerance := 1e-9
	if method == "FE" || method == "DL" || method == "HE" || method == "SJ" {
		tolerance = 1e-10
	}
	o := pooled.Options{Method: methodOf[method]}
	if f.Text(at+"/test") == "knha" {
		o.Test = pooled.HartungKnapp
	}
	got, err := pooled.Fit(s.y, s.v, o)
	if err != nil {
		t.Fatal(at, err)
	}
	near := func(value float64, name string) { t.Helper(); f.Near(t, value, tolerance, at+"/"+name) }
	f.Counts(t, got.K, at+"/k")
	near(got.Estimate, "estimate")
	near(got.StdError, "se")
	near(got.Statistic, "stat")
	f.Near(t, got.PValue, 1e-8, at+"/p")
	f.NearAll(t, []float64{got.ConfLow, got.ConfHigh}, tolerance, at+"/ci95")
	near(got.Tau2, "tau2")
	near(math.Sqrt(got.Tau2), "tau")
	near(got.I2, "I2")
	near(got.H2, "H2")
	near(got.Q, "Q")
	f.Counts(t, got.K-1, at+"/Q_df")
	f.Near(t, got.QP, 1e-9, at+"/Q_p")
	near(got.LogLik, "logLik")
	percent := make([]float64, got.K)
	for i, w := range got.Weights {
		percent[i] = 100 * w
	}
	f.NearAll(t, percent, tolerance, at+"/weights_percent")
	if f.Has(at + "/df") {
		f.Near(t, got.DF, 0, at+"/df")
	} else if !math.IsInf(got.DF, 1) {
		t.Errorf("%s: df %v, want none", at, got.DF)
	}
	if !got.Converged {
		t.Errorf("%s: not verified", at)
	}

	// Prediction: ours takes the test's own distribution, as metafor does; the other
	// forms take its estimate, standard error and tau2 with other quantiles.
	spread := math.Sqrt(got.StdError*got.StdError + got.Tau2)
	about := func(c float64) []float64 { return []float64{got.Estimate - c*spread, got.Estimate + c*spread} }
	student := func(df float64) float64 { return distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(0.975) }
	k := float64(got.K)
	hts := about(student(k - 2))
	f.NearAll(t, hts, 1e-9, at+"/PI_HTS_t_k_minus_2")
	f.NearAll(t, about(student(k-1)), 1e-9, at+"/PI_t_k_minus_1")
	f.NearAll(t, about(distuv.UnitNormal.Quantile(0.975)), 1e-9, at+"/PI_z")
	predicted := []float64{got.PredictLow, got.PredictHigh}
	if f.Has(at + "/PI_metafor") {
		f.NearAll(t, predicted, tolerance, at+"/PI_metafor")
	}
	if method != "FE" {
		near(got.Tau2StdError, "se_tau2")
		compareProfile(t, f, at+"/confint_random", got, s.v)
	}
	if f.Has(at + "/KH_scale_q") {
		plain, err := pooled.Fit(s.y, s.v, pooled.Options{Method: o.Method})
		if err != nil {
			t.Fatal(err)
		}
		q := got.StdError / plain.StdError
		near(q*q, "KH_scale_q")
		o.Test = pooled.ModifiedHartungKnapp
		modified, err := pooled.Fit(s.y, s.v, o)
		if err != nil {
			t.Fatal(err)
		}
		near(modified.StdError, "modified_KH/se")
		f.NearAll(t, []float64{modified.ConfLow, modified.ConfHigh}, tolerance, at+"/modified_KH/ci95")
	}
	if f.Has(at + "/backtransformed_r") {
		back := func(v ...float64) []float64 {
			for i := range v {
				v[i] = math.Tanh(v[i])
			}
			return v
		}
		f.NearAll(t, back(got.Estimate), tolerance, at+"/backtransformed_r/estimate")
		f.NearAll(t, back(got.ConfLow, got.ConfHigh), tolerance, at+"/backtransformed_r/ci95")
		f.NearAll(t, back(hts...), 1e-9, at+"/backtransformed_r/PI_HTS")
		if f.Has(at + "/backtransformed_r/PI_metafor") {
			f.NearAll(t, back(predicted...), tolerance, at+"/backtransformed_r/PI_metafor")
		}
	}
}

// compareProfile compares tau2, tau, I2 and H2 with their Q-profile limits, the
// last three being maps of tau2 at the typical sampling variance.
func compareProfile(t *testing.T, f *reference.File, at string, got pooled.Result, v []float64) {
	t.Helper()
	var w, w2 float64
	for _, x := range v {
		w += 1 / x
		w2 += 1 / (x * x)
	}
	typical := (float64(len(v)) - 1) * w / (w*w - w2)
	tau2 := []float64{got.Tau2, got.Tau2Low, got.Tau2High}
	rows := make([][]float64, 4)
	for _, x := range tau2 {
		rows[0] = append(rows[0], x)
		rows[1] = append(rows[1], math.Sqrt(x))
		rows[2] = append(rows[2], 100*x/(x+typical))
		rows[3] = append(rows[3], 1+x/typical)
	}
	for i, row := range rows {
		f.NearAll(t, row, 1e-9, at+"/values/"+strconv.Itoa(i))
	}
}

func compareRegression(t *testing.T, f *reference.File, at string, s studies) {
	t.Helper()
	for name, test := range map[string]pooled.Test{"z": pooled.Normal, "knha": pooled.HartungKnapp} {
		got, err := pooled.Regress(s.y, s.v, []string{"ablat"}, [][]float64{s.ablat}, pooled.Options{Test: test})
		if err != nil {
			t.Fatal(err)
		}
		here := at + "/" + name + "/"
		var b, se, statistic, p []float64
		for _, c := range got.Coefficients {
			b, se = append(b, c.Estimate), append(se, c.StdError)
			statistic, p = append(statistic, c.Statistic), append(p, c.PValue)
		}
		f.NearAll(t, se, 1e-9, here+"se")
		f.NearAll(t, p, 1e-8, here+"p")
		f.NearMatrix(t, got.Covariance.At, 2, 1e-8, here+"vcov")
		f.Near(t, got.Tau2, 1e-9, here+"tau2")
		f.Near(t, got.QMP, 1e-8, here+"QMp")
		if test == pooled.HartungKnapp {
			f.NearAll(t, b, 1e-9, here+"beta")
			f.NearAll(t, statistic, 1e-9, here+"t")
			f.Near(t, got.DF, 0, here+"df")
			f.Near(t, got.QM, 1e-9, here+"QM_F")
			continue
		}
		f.Near(t, b[0], 1e-9, here+"beta/intrcpt")
		f.Near(t, b[1], 1e-9, here+"beta/ablat")
		f.NearAll(t, statistic, 1e-9, here+"z")
		f.Near(t, got.I2, 1e-9, here+"I2")
		f.Near(t, got.R2, 1e-9, here+"R2")
		f.Near(t, got.QM, 1e-9, here+"QM")
		f.Near(t, got.QE, 1e-10, here+"QE")
		f.Near(t, got.QEP, 1e-9, here+"QEp")
	}
}

// TestClosedFormsByMatrices: Hedges and Sidik-Jonkman by dense matrices, with and
// without a column (the formulas as in Viechtbauer 2005).
func TestClosedFormsByMatrices(t *testing.T) {
	s := readStudies(t, "testdata/bcg.csv")
	k := len(s.y)
	y := mat.NewVecDense(k, s.y)
	for _, columns := range [][][]float64{nil, {s.ablat}} {
		x := mat.NewDense(k, 1+len(columns), nil)
		for i := range k {
			x.Set(i, 0, 1)
			for j, c := range columns {
				x.Set(i, j+1, c[i])
			}
		}
		df := float64(k - 1 - len(columns))
		projection := func(weight func(i int) float64) *mat.Dense {
			w := mat.NewDiagDense(k, nil)
			for i := range k {
				w.SetDiag(i, weight(i))
			}
			var wx, xwx, inverse, hat, p mat.Dense
			wx.Mul(w, x)
			xwx.Mul(x.T(), &wx)
			if err := inverse.Inverse(&xwx); err != nil {
				t.Fatal(err)
			}
			hat.Product(&wx, &inverse, wx.T())
			p.Sub(w, &hat)
			return &p
		}
		v := mat.NewDiagDense(k, s.v)
		plain := projection(func(int) float64 { return 1 })
		var pv mat.Dense
		pv.Mul(plain, v)
		hedges := max(0, (mat.Inner(y, plain, y)-mat.Trace(&pv))/df)
		var mean, guess float64
		for _, e := range s.y {
			mean += e / float64(k)
		}
		for _, e := range s.y {
			guess += (e - mean) * (e - mean) / float64(k)
		}
		p := projection(func(i int) float64 { return 1 / (s.v[i] + guess) })
		sidik := guess * mat.Inner(y, p, y) / df
		for method, want := range map[pooled.Method]float64{pooled.Hedges: hedges, pooled.SidikJonkman: sidik} {
			var got float64
			if columns == nil {
				r, err := pooled.Fit(s.y, s.v, pooled.Options{Method: method})
				if err != nil {
					t.Fatal(err)
				}
				got = r.Tau2
			} else {
				r, err := pooled.Regress(s.y, s.v, []string{"ablat"}, columns, pooled.Options{Method: method})
				if err != nil {
					t.Fatal(err)
				}
				got = r.Tau2
			}
			near(t, method.String(), got, want, 1e-10)
		}
	}
}

// TestHartungKnappAtPauleMandel: q is 1 there by definition, so the
// Hartung-Knapp standard error equals the plain one.
func TestHartungKnappAtPauleMandel(t *testing.T) {
	for _, name := range []string{"bcg", "molloy2014"} {
		s := readStudies(t, "testdata/"+name+".csv")
		plain, err1 := pooled.Fit(s.y, s.v, pooled.Options{Method: pooled.PauleMandel})
		adjusted, err2 := pooled.Fit(s.y, s.v, pooled.Options{Method: pooled.PauleMandel, Test: pooled.HartungKnapp})
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		near(t, name, adjusted.StdError, plain.StdError, 1e-13)
	}
}

func TestLeaveOneOutErrors(t *testing.T) {
	few := &pooled.TooFewError{}
	if _, err := pooled.LeaveOneOut([]float64{1, 2}, []float64{1, 1}, pooled.Options{}); !errors.As(err, &few) {
		t.Errorf("two estimates: %v", err)
	}
	spread := &pooled.NoSpreadError{}
	_, err := pooled.LeaveOneOut([]float64{1, 1, 2}, []float64{1, 1, 1}, pooled.Options{Test: pooled.HartungKnapp})
	if !errors.As(err, &spread) || !strings.Contains(err.Error(), "without estimate 2") {
		t.Errorf("equal estimates without the last: %v", err)
	}
}

// near compares to a relative tolerance.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: got %.17g, want %.17g (relative difference %.2g)", what, got, want, (got-want)/want)
	}
}
