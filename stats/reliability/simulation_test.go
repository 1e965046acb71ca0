package reliability_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"lengthwise/stats/reliability"
)

// TestCoverage counts how often 95 % intervals hold the truth: 12 subjects, 2 to
// 6 readings each, between-subject and error variance equal (ICC 0.5), 2000 sets;
// and the six coefficients of 10 subjects by 4 trials.
func TestCoverage(t *testing.T) {
	const sets = 2000
	r := rand.New(rand.NewPCG(5, 26))
	var icc, typical, consistency, agreement float64
	for range sets {
		var subject []int
		var value []float64
		for s := range 12 {
			level := r.NormFloat64()
			for range 2 + r.IntN(5) {
				subject, value = append(subject, s), append(value, level+r.NormFloat64())
			}
		}
		c, err := reliability.OneWay(subject, value, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		icc += hit(c.ConfLow, 0.5, c.ConfHigh) / sets
		typical += hit(c.TypicalError.ConfLow, 1, c.TypicalError.ConfHigh) / sets
		table, err := reliability.Intraclass(draw(r, 10, 4, 2, 1, 1), 0.95)
		if err != nil {
			t.Fatal(err)
		}
		three, two := table.Coefficients[reliability.ConsistencySingle], table.Coefficients[reliability.AgreementSingle]
		consistency += hit(three.ConfLow, 4./5, three.ConfHigh) / sets
		agreement += hit(two.ConfLow, 4./6, two.ConfHigh) / sets
	}
	t.Logf("ICC unbalanced %.3f, typical error %.3f, ICC(3,1) %.3f, ICC(2,1) %.3f", icc, typical, consistency, agreement)
	for name, got := range map[string]float64{"ICC": icc, "typical error": typical, "ICC(3,1)": consistency, "ICC(2,1)": agreement} {
		if math.Abs(got-0.95) > 0.015 {
			t.Errorf("%s: coverage %.3f, want 0.935 to 0.965", name, got)
		}
	}
}

// TestRecovery: the means of 300 estimates lie near the truth, subjects and
// trials random and a third of the cells missing.
func TestRecovery(t *testing.T) {
	const sets = 300
	r := rand.New(rand.NewPCG(8, 26))
	var between, trials, within float64
	for range sets {
		subject, trial, value := long(draw(r, 12, 6, 2, 1, 1))
		var s, o []int
		var v []float64
		for i := range value {
			if r.Float64() < 0.67 {
				s, o, v = append(s, subject[i]), append(o, trial[i]), append(v, value[i])
			}
		}
		c, err := reliability.Agreement(s, o, v, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		between += c.BetweenVariance / sets
		trials += c.TrialVariance / sets
		within += c.ErrorVariance / sets
	}
	t.Logf("variances %.3f, %.3f, %.3f; true 4, 1, 1", between, trials, within)
	if math.Abs(between-4) > 0.25 || math.Abs(trials-1) > 0.1 || math.Abs(within-1) > 0.04 {
		t.Errorf("mean variances %.3f, %.3f, %.3f; want 4, 1, 1", between, trials, within)
	}
}

func hit(low, truth, high float64) float64 {
	if low <= truth && truth <= high {
		return 1
	}
	return 0
}
