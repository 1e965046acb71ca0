package analyse

import (
	"math"
	"testing"

	"lengthwise/pipeline/derive"
	"lengthwise/stats/linear"
)

// TestConfoundersAsStrongAsMinutes: leaving the minutes' twin out of the data
// moves the slope by no more than the bound, and by much of it.
func TestConfoundersAsStrongAsMinutes(t *testing.T) {
	w := usual()
	w.effect, w.sessions, w.noise = 2, 30, 1
	bouts := w.swim()
	// A tiredness that rises with the minutes in a shuffled twin: it moves rate
	// and cost as the minutes do.
	for i := range bouts {
		k := float64(i % w.bouts)
		moved := 0.02 * math.Log1p(4*k)
		bouts[i].StrokeRateSPM *= math.Exp(moved)
		twin := float64(dealt(i/w.bouts, i%w.bouts, 12) % w.bouts)
		bouts[i].StrokeRateSPM *= math.Exp(0.02 * math.Log1p(4*twin))
		bouts[i].Cost += 2 * math.Log1p(4*twin)
		bouts[i].Strokes25 = bouts[i].StrokeRateSPM * 25 / bouts[i].SpeedMPS / 60
		bouts[i].Score25 = bouts[i].Strokes25 + 25/bouts[i].SpeedMPS
	}
	a := only(Swimmer(bouts, settings()), Observed)
	if a == nil || len(a.confounding) != 2 {
		t.Fatalf("%+v", a)
	}
	for _, c := range a.confounding {
		if c.RobustnessValue != *a.Row.RobustnessValue || math.Abs(c.EffectPer10Pct-*a.Row.EffectPer10Pct) > 1e-9 {
			t.Errorf("%s: value %v for %v, effect %v for %v", c.Benchmark, c.RobustnessValue, *a.Row.RobustnessValue, c.EffectPer10Pct, *a.Row.EffectPer10Pct)
		}
		if c.EffectLeft >= c.EffectPer10Pct || c.BoundRate < c.BenchmarkRate || c.BenchmarkRate <= 0 {
			t.Errorf("%+v", c)
		}
	}
	minutes := a.confounding[0]
	if minutes.Benchmark != BenchmarkMinutes || minutes.EffectLeft > 2.15 {
		t.Errorf("the slope is %.2f for a true 2; as strong a cause as the minutes leaves %.2f", minutes.EffectPer10Pct, minutes.EffectLeft)
	}
	if minutes.EffectPer10Pct < 2.25 {
		t.Fatalf("the unseen cause does nothing: %.2f", minutes.EffectPer10Pct)
	}
}

// TestConfoundingByHand: the shares are those of sums of squares with and
// without the minutes.
func TestConfoundingByHand(t *testing.T) {
	w := usual()
	straight := func(a *Answer) bool {
		for _, c := range a.Coefficients {
			if c.Term == termRateSquared {
				return false
			}
		}
		return true
	}
	bouts := w.swim()
	a := only(Swimmer(bouts, settings()), Observed)
	for ; !straight(a); w.seed++ {
		bouts = w.swim()
		a = only(Swimmer(bouts, settings()), Observed)
	}
	picked, _ := usable(bouts, "freestyle", Observed)
	u := newUsualRate(picked, referenceSpeed(picked, settings()))
	r := newRows(picked, u, settings(), Observed)
	squares := func(y []float64, columns ...[]float64) float64 {
		names := []string{"a", "b", "c", "d", "e", "f"}[:len(columns)]
		m, err := linear.Fit(linear.Problem{Response: y, Terms: names, Columns: columns, Absorb: r.session})
		if err != nil {
			t.Fatal(err)
		}
		return dot(m.Residuals, m.Residuals)
	}
	squared := make([]float64, len(r.lnSpeed))
	for i, x := range r.lnSpeed {
		squared[i] = x * x
	}
	c := a.confounding[0]
	rate := 1 - squares(r.rate, r.lnSpeed, squared, r.lnMinutes)/squares(r.rate, r.lnSpeed, squared)
	cost := 1 - squares(r.cost, r.lnSpeed, squared, r.rate, r.lnMinutes)/squares(r.cost, r.lnSpeed, squared, r.rate)
	if math.Abs(c.BenchmarkRate-rate) > 1e-9 || math.Abs(c.BenchmarkCost-cost) > 1e-9 {
		t.Errorf("shares %v and %v, want %v and %v", c.BenchmarkRate, c.BenchmarkCost, rate, cost)
	}
	designed := func(b *derive.Bout, session, bout int) { b.Designed = true }
	if d := only(Swimmer(tagged(usual(), designed), settings()), Designed); len(d.confounding) > 0 {
		t.Error("designed bouts have confounders")
	}
}
