package pooled_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"lengthwise/stats/pooled"
)

// TestCoverage simulates sets of k estimates whose variances differ tenfold,
// tau2 = 1, and counts how often each interval holds its target; nominal is
// 0.95. The plain normal interval must do visibly worse for k = 8, or the
// simulation would prove nothing. The prediction interval takes tau2 as known
// and covers 0.876 for k = 8 (120,000 sets); it must come near nominal as
// k grows. Hartung-Knapp covers 0.936 there, the variances being so unequal.
func TestCoverage(t *testing.T) {
	small, large := coverage(t, 8, 3000), coverage(t, 60, 800)
	t.Logf("k = 8: %+v; k = 60: %+v", small, large)
	if small.hartungKnapp < 0.92 || small.hartungKnapp > 0.97 {
		t.Errorf("Hartung-Knapp interval covers %.3f, want 0.92 to 0.97", small.hartungKnapp)
	}
	if small.plain > small.hartungKnapp-0.01 {
		t.Errorf("plain interval covers %.3f, no worse than Hartung-Knapp %.3f", small.plain, small.hartungKnapp)
	}
	if small.profile < 0.93 || small.profile > 0.97 {
		t.Errorf("Q-profile interval covers %.3f, want 0.93 to 0.97", small.profile)
	}
	if small.prediction < 0.82 || small.prediction > 0.92 {
		t.Errorf("prediction interval covers %.3f for k = 8, want 0.82 to 0.92", small.prediction)
	}
	if large.prediction < 0.92 || large.prediction > 0.98 {
		t.Errorf("prediction interval covers %.3f for k = 60, want 0.92 to 0.98", large.prediction)
	}
}

type covered struct{ hartungKnapp, plain, prediction, profile float64 }

func coverage(t *testing.T, k, sets int) covered {
	t.Helper()
	const mu = 2.0
	r := rand.New(rand.NewPCG(3, uint64(k)))
	var sum covered
	for range sets {
		y, v := make([]float64, k), make([]float64, k)
		for i := range y {
			v[i] = 0.2 * math.Pow(10, float64(i)/float64(k-1))
			y[i] = mu + r.NormFloat64() + math.Sqrt(v[i])*r.NormFloat64()
		}
		a, err1 := pooled.Fit(y, v, pooled.Options{Test: pooled.HartungKnapp})
		b, err2 := pooled.Fit(y, v, pooled.Options{})
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		sum.hartungKnapp += within(mu, a.ConfLow, a.ConfHigh) / float64(sets)
		sum.plain += within(mu, b.ConfLow, b.ConfHigh) / float64(sets)
		sum.prediction += within(mu+r.NormFloat64(), a.PredictLow, a.PredictHigh) / float64(sets)
		sum.profile += within(1, a.Tau2Low, a.Tau2High) / float64(sets)
	}
	return sum
}

func within(x, low, high float64) float64 {
	if low <= x && x <= high {
		return 1
	}
	return 0
}
