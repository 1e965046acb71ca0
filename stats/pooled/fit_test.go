package pooled_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"lengthwise/stats/pooled"
)

var methods = []pooled.Method{pooled.REML, pooled.ML, pooled.DerSimonianLaird, pooled.PauleMandel, pooled.EmpiricalBayes, pooled.Hedges, pooled.SidikJonkman, pooled.FixedEffect}

// TestEqualVariancesHaveClosedForms: with one variance v for all and s2 the
// sample variance of the estimates, tau2 is max(0, s2 - v) for all methods
// but ML, where it is max(0, g - v) with g = s2 (k-1)/k, and Sidik-Jonkman, where
// it is s2 g/(v + g); the mean is the plain mean and
// the Hartung-Knapp interval the t interval of a sample.
func TestEqualVariancesHaveClosedForms(t *testing.T) {
	y := []float64{1.2, 3.4, -0.7, 2.9, 5.1, 0.3, 2.2}
	k := float64(len(y))
	var mean, s2 float64
	for _, x := range y {
		mean += x / k
	}
	for _, x := range y {
		s2 += (x - mean) * (x - mean) / (k - 1)
	}
	for _, v := range []float64{0.1, 1, 3, 50} {
		for _, m := range methods {
			got, err := pooled.Fit(y, repeat(v, len(y)), pooled.Options{Method: m, Test: pooled.HartungKnapp})
			if err != nil {
				t.Fatal(err)
			}
			want := max(0, s2-v)
			switch m {
			case pooled.ML:
				want = max(0, s2*(k-1)/k-v)
			case pooled.SidikJonkman:
				g := s2 * (k - 1) / k
				want = s2 * g / (v + g)
			case pooled.FixedEffect:
				want = 0
			}
			if math.Abs(got.Tau2-want) > 1e-13*(v+want) {
				t.Errorf("%v, v = %v: tau2 %v, want %v", m, v, got.Tau2, want)
			}
			near(t, "mean", got.Estimate, mean, 1e-13)
			near(t, "SE", got.StdError, math.Sqrt(s2/k), 1e-13)
			c := distuv.StudentsT{Sigma: 1, Nu: k - 1}.Quantile(0.975)
			near(t, "high", got.ConfHigh, mean+c*math.Sqrt(s2/k), 1e-12)
			if m != pooled.FixedEffect && got.Boundary != (want == 0) {
				t.Errorf("%v, v = %v: boundary %v with tau2 %v", m, v, got.Boundary, want)
			}
			if !got.Converged {
				t.Errorf("%v, v = %v: not verified", m, v)
			}
		}
	}
}

// TestLikelihoodIsHighest goes a second road: the likelihood by dense matrix
// algebra, on a fine grid, must nowhere exceed the reported maximum, and must
// equal the reported value at the estimate.
func TestLikelihoodIsHighest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y, v := drawStudies(t)
		for _, m := range []pooled.Method{pooled.REML, pooled.ML} {
			got, err := pooled.Fit(y, v, pooled.Options{Method: m})
			if err != nil {
				t.Fatal(err)
			}
			if !got.Converged {
				t.Fatalf("%v: not verified: %+v", m, got)
			}
			restricted := m == pooled.REML
			at := denseLogLik(y, v, got.Tau2, restricted)
			if math.Abs(at-got.LogLik) > 1e-8*(1+math.Abs(at)) {
				t.Fatalf("%v: log-likelihood %v, by matrices %v", m, got.LogLik, at)
			}
			for tau2 := 0.0; tau2 < 1e3; tau2 = tau2*1.15 + 1e-3 {
				if higher := denseLogLik(y, v, tau2, restricted); higher > at+1e-8*(1+math.Abs(at)) {
					t.Fatalf("%v: log-likelihood %v at %v, above %v at the estimate %v", m, higher, tau2, at, got.Tau2)
				}
			}
			// The score is zero, or the boundary condition holds.
			scale := 1 / (slices.Min(v) + got.Tau2)
			if got.Tau2 == 0 && got.Score > 0 || got.Tau2 > 0 && math.Abs(got.Score) > 1e-10*scale*float64(len(y)) {
				t.Fatalf("%v: score %v at tau2 %v", m, got.Score, got.Tau2)
			}
		}
	})
}

// denseLogLik is the textbook likelihood with V = diag(v) + tau2 I.
func denseLogLik(y, v []float64, tau2 float64, restricted bool) float64 {
	k := len(y)
	inverse := mat.NewDense(k, k, nil)
	logDet := 0.0
	for i := range v {
		inverse.Set(i, i, 1/(v[i]+tau2))
		logDet += math.Log(v[i] + tau2)
	}
	x := mat.NewDense(k, 1, repeat(1, k))
	var xv, xvx, xvy mat.Dense
	xv.Mul(x.T(), inverse)
	xvx.Mul(&xv, x)
	xvy.Mul(&xv, mat.NewDense(k, 1, slices.Clone(y)))
	mu := xvy.At(0, 0) / xvx.At(0, 0)
	r := make([]float64, k)
	for i := range r {
		r[i] = y[i] - mu
	}
	rv := mat.NewVecDense(k, r)
	ll := -0.5 * (float64(k)*math.Log(2*math.Pi) + logDet + mat.Inner(rv, inverse, rv))
	if restricted {
		ll += 0.5 * (math.Log(2*math.Pi) + math.Log(float64(k)) - math.Log(xvx.At(0, 0)))
	}
	return ll
}

// TestTwoMaxima uses estimates whose likelihood has two maxima, once with the
// higher one at zero and twice above it, so that climbing from either end
// would go wrong somewhere.
func TestTwoMaxima(t *testing.T) {
	cases := []struct {
		y, v   []float64
		atZero bool
	}{
		{[]float64{-3.09, -1.36, -1.41}, []float64{0.067, 625.207, 0.593}, true},
		{[]float64{-2.15, -1.23, 5.46}, []float64{7.858, 35.704, 0.072}, false},
		{[]float64{5.23, 9.71, -3.57, 4.18}, []float64{0.515, 13.042, 3.243, 0.024}, false},
	}
	for _, c := range cases {
		got, err := pooled.Fit(c.y, c.v, pooled.Options{Method: pooled.ML})
		if err != nil {
			t.Fatal(err)
		}
		best := denseLogLik(c.y, c.v, 0, false)
		for tau2 := 1e-6; tau2 < 1e4; tau2 *= 1.01 {
			best = max(best, denseLogLik(c.y, c.v, tau2, false))
		}
		if got.LogLik < best-1e-9 || (got.Tau2 == 0) != c.atZero || !got.Converged {
			t.Errorf("log-likelihood %v at tau2 %v, the grid reaches %v", got.LogLik, got.Tau2, best)
		}
		if !slices.ContainsFunc(got.Warnings, func(w string) bool { return strings.Contains(w, "2 local maxima") }) {
			t.Errorf("no warning about two maxima: %q", got.Warnings)
		}
	}
}

func TestWarnings(t *testing.T) {
	cases := []struct {
		y, v []float64
		o    pooled.Options
		want string
	}{
		{[]float64{1, 2}, []float64{1, 1}, pooled.Options{}, "only 2 estimates"},
		{[]float64{1, 2, 3, 4, 5}, []float64{9, 9, 9, 9, 9}, pooled.Options{}, "lower limit of zero"},
		{[]float64{1, 2, 3, 4, 5}, []float64{1e-4, 1, 1e4, 2, 3}, pooled.Options{}, "factor of 1e+08"},
		{[]float64{1, 2, 3, 4, 5}, []float64{9, 9, 9, 9, 9}, pooled.Options{Test: pooled.HartungKnapp}, "narrower than the plain one"},
	}
	for _, c := range cases {
		got, err := pooled.Fit(c.y, c.v, c.o)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.ContainsFunc(got.Warnings, func(w string) bool { return strings.Contains(w, c.want) }) {
			t.Errorf("%v %v: warnings %q lack %q", c.y, c.v, got.Warnings, c.want)
		}
	}
	clean, err := pooled.Fit([]float64{1, 3, 5, 8, 2}, []float64{1, 1, 2, 1, 1}, pooled.Options{Test: pooled.HartungKnapp})
	if err != nil || len(clean.Warnings) != 0 {
		t.Errorf("clean data warn: %q, %v", clean.Warnings, err)
	}
}

func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y, v := drawStudies(t)
		o := pooled.Options{
			Method: rapid.SampledFrom(methods).Draw(t, "method"),
			Test:   rapid.SampledFrom([]pooled.Test{pooled.Normal, pooled.HartungKnapp, pooled.ModifiedHartungKnapp}).Draw(t, "test"),
			Level:  rapid.Float64Range(0.5, 0.99).Draw(t, "level"),
		}
		want, err := pooled.Fit(y, v, o)
		if err != nil {
			t.Fatal(err)
		}
		order := rapid.Permutation(positions(len(y))).Draw(t, "order")
		py, pv := make([]float64, len(y)), make([]float64, len(y))
		weights := make([]float64, len(y))
		for i, p := range order {
			py[i], pv[i], weights[i] = y[p], v[p], want.Weights[p]
		}
		got, err := pooled.Fit(py, pv, o)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(got.Weights, weights) {
			t.Fatal("weights do not follow the order of the input")
		}
		got.Weights = want.Weights
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("order changes the result:\n%+v\n%+v", got, want)
		}
		if !slices.IsSorted([]float64{got.PredictLow, got.ConfLow, got.Estimate, got.ConfHigh, got.PredictHigh}) {
			t.Fatalf("prediction interval does not hold the confidence interval: %+v", got)
		}
		if got.Tau2Low > got.Tau2High || got.I2 < 0 || got.I2 > 100 {
			t.Fatalf("tau2 %v to %v, I2 %v", got.Tau2Low, got.Tau2High, got.I2)
		}
	})
}

// TestUnits: estimates times 4 and variances times 16 are exact in binary, so
// every number must scale exactly; a shift moves the estimate alone.
func TestUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y, v := drawStudies(t)
		o := pooled.Options{Method: rapid.SampledFrom(methods).Draw(t, "method"), Test: pooled.ModifiedHartungKnapp}
		base, err := pooled.Fit(y, v, o)
		if err != nil {
			t.Fatal(err)
		}
		y4, v16 := make([]float64, len(y)), make([]float64, len(y))
		for i := range y {
			y4[i], v16[i] = 4*y[i], 16*v[i]
		}
		scaled, err := pooled.Fit(y4, v16, o)
		if err != nil {
			t.Fatal(err)
		}
		if scaled.Estimate != 4*base.Estimate || scaled.StdError != 4*base.StdError || scaled.Tau2 != 16*base.Tau2 ||
			scaled.PValue != base.PValue || scaled.I2 != base.I2 || scaled.Tau2High != 16*base.Tau2High {
			t.Fatalf("scaled by 4:\n%+v\n%+v", base, scaled)
		}
	})
}

func TestInputIsNotChanged(t *testing.T) {
	y, v := []float64{3, 1, 2}, []float64{0.3, 0.1, 0.2}
	if _, err := pooled.Fit(y, v, pooled.Options{}); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(y, []float64{3, 1, 2}) || !slices.Equal(v, []float64{0.3, 0.1, 0.2}) {
		t.Errorf("input changed: %v, %v", y, v)
	}
}

func drawStudies(t *rapid.T) (y, v []float64) {
	k := rapid.IntRange(2, 12).Draw(t, "k")
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
	spread := rapid.SampledFrom([]float64{0, 0.3, 1, 3}).Draw(t, "spread")
	for range k {
		variance := math.Exp(1.5 * r.NormFloat64())
		v = append(v, variance)
		y = append(y, 1+spread*r.NormFloat64()+math.Sqrt(variance)*r.NormFloat64())
	}
	return y, v
}

func repeat(x float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = x
	}
	return out
}

func positions(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

func ExampleFit() {
	effects := []float64{1.8, 3.1, 0.4, 2.6, 2.2, -0.3}
	variances := []float64{0.40, 0.90, 0.35, 0.60, 1.20, 0.80}
	r, err := pooled.Fit(effects, variances, pooled.Options{Test: pooled.HartungKnapp})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f (%.2f to %.2f), one more unit %.2f to %.2f, tau2 %.2f\n",
		r.Estimate, r.ConfLow, r.ConfHigh, r.PredictLow, r.PredictHigh, r.Tau2)
	// Output: 1.57 (0.21 to 2.93), one more unit -1.34 to 4.48, tau2 1.00
}
