package kinetics

import (
	"math"
	"math/rand/v2"
	"testing"
)

func mustGrid(t testing.TB) *Grid {
	t.Helper()
	g, err := NewGrid(15, 90)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// Between its points a profile must say what a fit at that very tau says.
func TestGridIsExact(t *testing.T) {
	g := mustGrid(t)
	r := rand.New(rand.NewPCG(1, 2))
	for _, length := range []float64{45, 60, 90, 150, 240} {
		var at, y []float64
		for s := 0.3; s <= length; s++ {
			at, y = append(at, s), append(y, 150-50*math.Exp(-s/42)+r.NormFloat64())
		}
		p, rise, err := g.Profile(at, y, length, Noise{})
		if err != nil {
			t.Fatal(err)
		}
		b, err := newBout(0, Bout{at, y})
		if err != nil {
			t.Fatal(err)
		}
		var worstSteady, worstSquares, worstFactor, worstSlope float64
		for u := g.Low(); u <= g.High(); u += 0.013 {
			squares, slope := b.fit(u)
			steady := b.origin + b.start + b.gain
			away := b.meanX - 1
			factor := 1/float64(len(at)) + away*away/b.spread
			v, _ := g.At(&p.Steady, u)
			worstSteady = math.Max(worstSteady, math.Abs(v-steady))
			v, s := g.At(&rise.Squares, u)
			worstSquares = math.Max(worstSquares, math.Abs(v/squares-1))
			worstSlope = math.Max(worstSlope, math.Abs(s-slope)/squares)
			v, _ = g.At(&p.Factor, u)
			worstFactor = math.Max(worstFactor, math.Abs(v/factor-1))
		}
		t.Logf("%3.0f s: steady within %.2g, squares %.2g, their slope %.2g, factor %.2g", length, worstSteady, worstSquares, worstSlope, worstFactor)
	}
}
