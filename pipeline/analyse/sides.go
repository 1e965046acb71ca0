package analyse

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/pipeline/derive"
	"lengthwise/stats/linear"
)

// side is what a rate 10 % off the usual one costs over the usual rate.
type side struct{ estimate, stdError float64 }

// sides is both: 10 % more strokes a minute, and 10 % fewer. Their errors hold
// what slope and curvature share; df is the smaller of the two terms'.
type sides struct {
	higher, lower side
	df            float64
}

// newSides reads both sides off a model: d r + c r^2 at r = ln 1.1 and ln 0.9.
// Without a term for the curvature the line alone counts.
func newSides(m *linear.Model, c linear.Covariance) sides {
	slope, curve := -1, -1
	for i, term := range m.Terms {
		switch term {
		case termRate:
			slope = i
		case termRateSquared:
			curve = i
		}
	}
	if slope < 0 {
		return sides{}
	}
	s := sides{df: c.DF[slope]}
	if curve >= 0 && c.DF[curve] > 0 {
		s.df = math.Min(s.df, c.DF[curve])
	} else {
		curve = -1
	}
	at := func(r float64) side {
		estimate, variance := m.Estimates[slope]*r, r*r*c.Matrix.At(slope, slope)
		if curve >= 0 {
			q := r * r
			estimate += m.Estimates[curve] * q
			variance += q*q*c.Matrix.At(curve, curve) + 2*r*q*c.Matrix.At(slope, curve)
		}
		return side{estimate, math.Sqrt(math.Max(0, variance))}
	}
	s.higher, s.lower = at(math.Log(1.1)), at(math.Log(0.9))
	return s
}

// sides reads both off a curve at the reference pace.
func (c rateCurve) sides(df float64) sides {
	at := func(r float64) side {
		estimate, stdError := c.change(r, 0)
		return side{estimate, stdError}
	}
	return sides{higher: at(math.Log(1.1)), lower: at(math.Log(0.9)), df: df}
}

// bothDearer reports whether either side is dearer than the usual rate, each
// tested one-sided.
func (s sides) bothDearer() bool { return s.dearer(s.higher) && s.dearer(s.lower) }

func (s sides) dearer(one side) bool {
	if !(s.df > 0) || !(one.stdError > 0) {
		return false
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: s.df}
	return 1-t.CDF(one.estimate/one.stdError) < alpha
}

// withinBounds is the largest p of the two one-sided tests that the cost at
// either side lies within +-smallest, 1 where they cannot be made.
func (s sides) withinBounds(smallest float64) float64 {
	worst := 0.0
	for _, one := range []side{s.higher, s.lower} {
		e, err := linear.TwoOneSided(one.estimate, one.stdError, s.df, -smallest, smallest, alpha)
		if err != nil {
			return 1
		}
		worst = math.Max(worst, e.P)
	}
	return worst
}

// fewestSteady is the share of steady readings below which no effect is called
// practically none: where heart rate is still rising, effects read too small.
const fewestSteady = 0.5

// steadyShare is the share of bouts whose cost does not lag behind the effort.
func steadyShare(bouts []*derive.Bout) float64 {
	steady := 0
	for _, b := range bouts {
		if derive.SteadyStratum(b.CostStratum) {
			steady++
		}
	}
	return float64(steady) / float64(len(bouts))
}
