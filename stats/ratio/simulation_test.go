package ratio_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"lengthwise/stats/linear"
	"lengthwise/stats/ratio"
)

// TestCoverage fits a quadratic to 30 rows many times and counts how often each
// 95 % region holds the true turning point, over all sets whatever their kind.
func TestCoverage(t *testing.T) {
	const sets, n = 3000, 30
	x := make([]float64, n)
	for i := range x {
		x[i] = -1 + 2*float64(i)/(n-1)
	}
	columns := powers(x, 0)
	y := make([]float64, n)
	for _, c := range []struct {
		curvature, turn float64
		deltaLow        float64 // the delta method covers at least this,
		deltaHigh       float64 // and at most this
	}{
		{curvature: 4, turn: 0.3, deltaLow: 0.93, deltaHigh: 0.97},
		{curvature: 0.8, turn: 0.3, deltaLow: 0.90, deltaHigh: 0.97},
		{curvature: 0.4, turn: 1.5, deltaLow: 0.70, deltaHigh: 0.93},
		{curvature: 0.1, turn: 1.5, deltaLow: 0.30, deltaHigh: 0.93},
	} {
		r := rand.New(rand.NewPCG(11, 7))
		var fieller, delta, bounded, boundedHit int
		for range sets {
			for i, v := range x {
				y[i] = c.curvature*(v-c.turn)*(v-c.turn) + r.NormFloat64()
			}
			m, err := linear.Fit(linear.Problem{Response: y, Terms: []string{"one", "linear", "square"}, Columns: columns})
			if err != nil {
				t.Fatal(err)
			}
			cov := m.Classical()
			p := ratio.Quadratic(m.Estimates[1], m.Estimates[2], cov.Matrix.At(1, 1), cov.Matrix.At(1, 2), cov.Matrix.At(2, 2), cov.DF[1])
			s, err := ratio.Fieller(p, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			d, err := ratio.Delta(p, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			hit := s.Contains(c.turn)
			fieller += count(hit)
			delta += count(d.ConfLow <= c.turn && c.turn <= d.ConfHigh)
			if s.Kind == ratio.Interval {
				bounded++
				boundedHit += count(hit)
			}
		}
		f, d := float64(fieller)/sets, float64(delta)/sets
		t.Logf("curvature %v: Fieller %.3f, delta %.3f, intervals %.2f of sets, of those %.3f hold the truth",
			c.curvature, f, d, float64(bounded)/sets, float64(boundedHit)/math.Max(1, float64(bounded)))
		if math.Abs(f-0.95) > 0.013 {
			t.Errorf("curvature %v: Fieller's set covers %.3f, want 0.937 to 0.963", c.curvature, f)
		}
		if d < c.deltaLow || d > c.deltaHigh {
			t.Errorf("curvature %v: the delta method covers %.3f, want %v to %v", c.curvature, d, c.deltaLow, c.deltaHigh)
		}
	}
}

func count(b bool) int {
	if b {
		return 1
	}
	return 0
}
