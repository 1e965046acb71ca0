package analyse

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"lengthwise/pipeline/derive"
)

// setBouts are bouts at paces about the reference of 1.3 m/s with rates set in five
// steps from -20 to +20 % of a usual rate that rises with pace; what was swum is a
// share lost of what was set.
func setBouts(seed uint64, n int, usual, slope, lost float64, whole bool) []*derive.Bout {
	r := rand.New(rand.NewPCG(seed, 7))
	out := make([]*derive.Bout, n)
	for i := range out {
		x := 0.1 * (r.Float64() - 0.5)
		set := usual * math.Exp(slope*x) * (0.8 + 0.1*float64(i%5))
		if whole {
			set = math.Round(set)
		}
		b := &derive.Bout{PoolM: 25, SpeedMPS: 1.3 * math.Exp(x), StrokeRateSPM: set * (1 - lost)}
		b.Tags.RateTargetSPM = set
		out[i] = b
	}
	return out
}

func TestUsualFromRatesSet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		usual, slope := rapid.Float64Range(40, 80).Draw(t, "usual"), rapid.Float64Range(-0.5, 2).Draw(t, "slope")
		lost := rapid.Float64Range(0, 0.2).Draw(t, "lost")
		seed, n := rapid.Uint64().Draw(t, "seed"), rapid.IntRange(40, 200).Draw(t, "bouts")
		level := math.Log(usual * (1 - lost))
		exact, ok := usualFromSet(setBouts(seed, n, usual, slope, lost, false), usualRate{referenceMPS: 1.3})
		if !ok || math.Abs(exact.level-level) > 1e-9 || math.Abs(exact.slope-slope) > 1e-9 {
			t.Errorf("level %.6f and slope %.5f, want %.6f and %.5f", exact.level, exact.slope, level, slope)
		}
		bouts := setBouts(seed, n, usual, slope, lost, true)
		whole, ok := usualFromSet(bouts, usualRate{referenceMPS: 1.3})
		if !ok || math.Abs(whole.level-level) > 0.6/(0.8*usual) {
			t.Errorf("whole numbers: level %.4f, want %.4f within half a stroke of the lowest rate", whole.level, level)
		}
		bouts[n/2].Tags.RateTargetSPM *= 3 // a slip of the pen; what was swum stands
		slipped, ok := usualFromSet(bouts, usualRate{referenceMPS: 1.3})
		if !ok || math.Abs(slipped.slope-whole.slope) > 0.15 || math.Abs(slipped.level-whole.level) > math.Log(3)/float64(n)+0.6/(0.8*usual) {
			t.Errorf("a slip moved level %.4f to %.4f and slope %.4f to %.4f", whole.level, slipped.level, whole.slope, slipped.slope)
		}
	})
}

// A paceless or small set has a level without slope; one rate unset has none.
func TestUsualFromRatesSetWithoutSlope(t *testing.T) {
	few := setBouts(1, 20, 50, 1, 0, false)
	u, ok := usualFromSet(few, usualRate{referenceMPS: 1.3})
	if v, df := u.variance(0.1); !ok || u.slope != 0 || v != u.setVariance || !math.IsInf(df, 1) {
		t.Errorf("slope %v, variance %v, want %v", u.slope, v, u.setVariance)
	}
	many := setBouts(1, 60, 50, 1, 0, false)
	u, _ = usualFromSet(many, usualRate{referenceMPS: 1.3})
	near, _ := u.variance(u.middlePace)
	if far, _ := u.variance(u.middlePace + 0.1); near != u.setVariance || math.Abs(far-near-0.01*u.slopeVariance) > 1e-15 {
		t.Errorf("variance %v in the middle and %v off it, of %v and %v", near, far, u.setVariance, u.slopeVariance)
	}
	many[3].Tags.RateTargetSPM = math.NaN()
	if _, ok := usualFromSet(many, usualRate{referenceMPS: 1.3}); ok {
		t.Error("a rate is not set, and all were said to be")
	}
}
