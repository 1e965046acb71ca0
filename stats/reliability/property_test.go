package reliability_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"lengthwise/stats/reliability"
)

// draw makes a complete table with known components.
func draw(r *rand.Rand, n, k int, between, trial, within float64) [][]float64 {
	effect := make([]float64, k)
	for j := range effect {
		effect[j] = trial * r.NormFloat64()
	}
	out := make([][]float64, n)
	for i := range out {
		level := 150 + between*r.NormFloat64()
		for j := range k {
			out[i] = append(out[i], level+effect[j]+within*r.NormFloat64())
		}
	}
	return out
}

// long lists a table by subject and trial.
func long(table [][]float64) (subject, trial []int, value []float64) {
	for i, row := range table {
		for j, v := range row {
			subject, trial, value = append(subject, 7*i), append(trial, 3-j), append(value, v)
		}
	}
	return subject, trial, value
}

// TestBalancedTablesAgree: on a complete table the components give the same
// coefficients as the mean squares, and Wald's interval the F interval.
func TestBalancedTablesAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, k := rapid.IntRange(3, 9).Draw(t, "subjects"), rapid.IntRange(2, 5).Draw(t, "trials")
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		table := draw(r, n, k, rapid.SampledFrom([]float64{0, 1, 4}).Draw(t, "between"), 1, 2)
		want, err := reliability.Intraclass(table, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		subject, trial, value := long(table)
		one, err1 := reliability.OneWay(subject, value, 0.9)
		two, err2 := reliability.Consistency(subject, trial, value, 0.9)
		both, err3 := reliability.Agreement(subject, trial, value, 0.9)
		if err := errors.Join(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		same := func(what string, got, want, tolerance float64) {
			if math.Abs(got-want) > tolerance*(1+math.Abs(want)) {
				t.Fatalf("%s: %.15g, by mean squares %.15g", what, got, want)
			}
		}
		c := want.Coefficients
		same("ICC(1,1)", one.ICC, max(0, c[reliability.OneWaySingle].ICC), 1e-9)
		same("ICC(1,1) low", one.ConfLow, c[reliability.OneWaySingle].ConfLow, 1e-9)
		same("ICC(1,1) high", one.ConfHigh, c[reliability.OneWaySingle].ConfHigh, 1e-9)
		same("ICC(3,1)", two.ICC, max(0, c[reliability.ConsistencySingle].ICC), 1e-9)
		same("ICC(3,1) low", two.ConfLow, c[reliability.ConsistencySingle].ConfLow, 1e-9)
		same("ICC(3,1) high", two.ConfHigh, c[reliability.ConsistencySingle].ConfHigh, 1e-9)
		typical, err := reliability.TypicalErrorOf(table, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		same("typical error", two.TypicalError.Value, typical.Value, 1e-10)
		same("typical error high", two.TypicalError.ConfHigh, typical.ConfHigh, 1e-10)
		if want.SubjectsMeanSquare > want.ErrorMeanSquare && want.TrialsMeanSquare > want.ErrorMeanSquare {
			same("ICC(2,1)", both.ICC, c[reliability.AgreementSingle].ICC, 1e-8)
			same("error", both.ErrorVariance, want.ErrorMeanSquare, 1e-8)
		}
		for _, v := range []float64{both.BetweenVariance, both.TrialVariance, one.BetweenVariance} {
			if v < 0 {
				t.Fatalf("negative variance: %+v", both)
			}
		}
	})
}

// TestLeastDeviance goes a second road: the restricted likelihood by dense
// matrices, over a grid of ratios, is nowhere below that of the estimates.
func TestLeastDeviance(t *testing.T) {
	for seed := range uint64(12) {
		r := rand.New(rand.NewPCG(seed, 4))
		subject, trial, value := long(draw(r, 6, 4, float64(seed%3), float64(seed%2)*2, 2))
		var s, o []int
		var v []float64
		for i := range value {
			if r.Float64() < 0.75 {
				s, o, v = append(s, subject[i]), append(o, trial[i]), append(v, value[i])
			}
		}
		one, err1 := reliability.OneWay(s, v, 0.95)
		two, err2 := reliability.Agreement(s, o, v, 0.95)
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(seed, err)
		}
		at1 := denseDeviance(s, o, v, one.BetweenVariance/one.ErrorVariance, 0)
		at2 := denseDeviance(s, o, v, two.BetweenVariance/two.ErrorVariance, two.TrialVariance/two.ErrorVariance)
		for _, a := range []float64{0, 0.03, 0.1, 0.3, 0.8, 1.5, 3, 8, 20} {
			if d := denseDeviance(s, o, v, a, 0); d < at1-1e-9 {
				t.Errorf("seed %d: deviance %v at %v, %v at the estimate", seed, d, a, at1)
			}
			for _, b := range []float64{0, 0.03, 0.1, 0.3, 0.8, 1.5, 3, 8} {
				if d := denseDeviance(s, o, v, a, b); d < at2-1e-9 {
					t.Errorf("seed %d: deviance %v at %v, %v; %v at the estimate %+v", seed, d, a, b, at2, two)
				}
			}
		}
	}
}

// denseDeviance is ln|V| + ln|1'V^-1 1| + (n-1) ln(r'V^-1 r).
func denseDeviance(subject, trial []int, value []float64, a, b float64) float64 {
	n := len(value)
	v := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			var c float64
			if i == j {
				c = 1
			}
			if subject[i] == subject[j] {
				c += a
			}
			if trial[i] == trial[j] {
				c += b
			}
			v.SetSym(i, j, c)
		}
	}
	var chol mat.Cholesky
	chol.Factorize(v)
	one, y := mat.NewVecDense(n, nil), mat.NewVecDense(n, slices.Clone(value))
	for i := range n {
		one.SetVec(i, 1)
	}
	var v1, vy mat.VecDense
	_ = chol.SolveVecTo(&v1, one)
	information := mat.Dot(one, &v1)
	mean := mat.Dot(y, &v1) / information
	y.AddScaledVec(y, -mean, one)
	_ = chol.SolveVecTo(&vy, y)
	return chol.LogDet() + math.Log(information) + float64(n-1)*math.Log(mat.Dot(y, &vy))
}

// TestOrderAndUnits: neither the order of readings nor the labels matter, and
// variances scale with the square of the unit.
func TestOrderAndUnits(t *testing.T) {
	subject, trial, value := unbalanced(t)
	want, err := reliability.Agreement(subject, trial, value, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	n := len(value)
	s, o, v := make([]int, n), make([]int, n), make([]float64, n)
	for i := range value {
		s[i], o[i], v[i] = -subject[n-1-i], 100*trial[n-1-i], 60*value[n-1-i]
	}
	before := slices.Clone(v)
	got, err := reliability.Agreement(s, o, v, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "between", got.BetweenVariance, 3600*want.BetweenVariance, 1e-8)
	near(t, "trial", got.TrialVariance, 3600*want.TrialVariance, 1e-8)
	near(t, "ICC", got.ICC, want.ICC, 1e-9)
	near(t, "typical error", got.TypicalError.Value, 60*want.TypicalError.Value, 1e-10)
	if !slices.Equal(v, before) {
		t.Error("input changed")
	}
}
