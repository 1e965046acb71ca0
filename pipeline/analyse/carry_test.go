package analyse

import (
	"math"
	"math/rand/v2"
	"testing"

	"lengthwise/pipeline/derive"
	"lengthwise/schemas"
)

// throughTau makes the costs of bouts rest on a time constant: one unit of its
// logarithm moves each by 40 % of its height above 100, so that an effect moves by
// 40 % too. off is how far ln tau is from the truth, s what is known of it.
func throughTau(bouts []derive.Bout, off, s, df float64) []derive.Bout {
	for i := range bouts {
		b := &bouts[i]
		b.CostByLnTau = 0.4 * (b.Cost - 100)
		b.Cost += off * b.CostByLnTau
		b.LnTauSE, b.LnTauDF = s, df
	}
	return bouts
}

// The standard error grows by what the estimate moves when ln tau does, found here by
// moving it.
func TestTheErrorOfTauIsCarried(t *testing.T) {
	w := usual()
	w.effect = -8
	answer := func(off, s float64) *Answer {
		return only(Swimmer(throughTau(w.swim(), off, s, 12), settings()), Observed)
	}
	plain, carried := answer(0, 0), answer(0, 0.25)
	const h = 0.01
	moves := (*answer(h, 0).Row.EffectPer10Pct - *answer(-h, 0).Row.EffectPer10Pct) / (2 * h)
	own, all := *plain.Row.StdError, *carried.Row.StdError
	if want := math.Hypot(own, 0.25*moves); math.Abs(all-want) > 1e-6 || all < 2*own {
		t.Errorf("standard error %v, want %v; without the time constant's %v", all, want, own)
	}
	if *carried.Row.EffectPer10Pct != *plain.Row.EffectPer10Pct {
		t.Error("the estimate itself has moved")
	}
	added := all*all - own*own
	if want := math.Pow(all, 4) / (math.Pow(own, 4)/(*plain.Row.DF) + added*added/12); math.Abs(*carried.Row.DF-want) > 1e-6 {
		t.Errorf("%v degrees of freedom, want %v", *carried.Row.DF, want)
	}
	for _, c := range carried.Coefficients {
		if c.Term == termSpeed && !(c.ConfHigh-c.ConfLow > 2*c.StdError) {
			t.Errorf("coefficient %+v", c)
		}
	}
}

// With time constants that are off by as much as they are said to be, intervals cover
// 95 %; without the carried error they would not.
func TestIntervalsCoverWithAnUncertainTau(t *testing.T) {
	const swimmers, s = 150, 0.2
	r := rand.New(rand.NewPCG(21, 22))
	s0 := settings()
	s0.Analysis.Resamples, s0.Analysis.Permutations = 100, 20
	covered := func(claimed float64) int {
		n := 0
		for i := range swimmers {
			w := usual()
			w.seed, w.effect, w.bouts = uint64(900+i), -6, 6
			bouts := throughTau(w.swim(), s*r.NormFloat64(), claimed, 1e6)
			row := only(Swimmer(bouts, s0), Observed).Row
			if *row.EffectLow <= -6 && -6 <= *row.EffectHigh {
				n++
			}
		}
		return n
	}
	with, without := covered(s), covered(0)
	t.Logf("the truth is covered for %d of %d swimmers, and for %d where the error is not carried", with, swimmers, without)
	if with < 132 || with > 149 { // 95 % -+ about four standard errors
		t.Errorf("%d of %d covered", with, swimmers)
	}
	if without > 120 {
		t.Errorf("%d covered without: the simulated error does nothing", without)
	}
}

// Every question that reads a cost off one swimmer's bouts says so: no interval gets
// narrower, and those of the cost get wider.
func TestEveryQuestionCarriesTheErrorOfTau(t *testing.T) {
	ask := func(s float64) Result {
		w := usual()
		w.effect, w.valley, w.pace = 0, 6, 0.01
		w.designed = func(int, int) bool { return true }
		bouts := throughTau(w.swim(), 0, s, 12)
		kicks := rand.New(rand.NewPCG(31, 32))
		for i := range bouts {
			b := &bouts[i]
			b.Tags.RateTargetSPM = math.Round(b.StrokeRateSPM)
			b.Tags.Kick = "light"
			if kicks.IntN(2) == 0 {
				b.Tags.Kick, b.Cost = "full", b.Cost+8
				b.CostByLnTau += 0.4 * 8
			}
		}
		r, err := Study([]Part{Ask(Person{}, bouts, settings())}, settings())
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	plain, carried := ask(0), ask(0.5)
	wider := func(question string, a, b []float64, all bool) {
		t.Helper()
		if len(a) == 0 || len(a) != len(b) {
			t.Fatalf("%s: %d rows and %d", question, len(a), len(b))
		}
		for i := range a {
			if b[i] < a[i]*(1-1e-9) || all && b[i] < a[i]*1.001 {
				t.Errorf("%s, row %d: width %v, with the error of tau %v", question, i, a[i], b[i])
			}
		}
	}
	width := func(low, high *float64) float64 {
		if low == nil || high == nil {
			return 0
		}
		return *high - *low
	}
	contrasts := func(rows []schemas.Contrast, cost bool) (out []float64) {
		for _, row := range rows {
			if row.Swimmer != "" && (row.Measure == MeasureCost) == cost && row.StdError != nil {
				out = append(out, *row.StdError)
			}
		}
		return out
	}
	// Rates whose interval both have: the added error, of 12 degrees of freedom, may
	// be what lifts a comparison over the fewest that are asked for.
	var ratesPlain, ratesCarried []float64
	for i, row := range plain.ByRate {
		a, b := width(row.ConfLow, row.ConfHigh), width(carried.ByRate[i].ConfLow, carried.ByRate[i].ConfHigh)
		if row.RatePctOfUsual != carried.ByRate[i].RatePctOfUsual || a > 0 && b == 0 {
			t.Errorf("cost by rate: %+v and %+v", row, carried.ByRate[i])
		}
		if a > 0 && b > 0 {
			ratesPlain, ratesCarried = append(ratesPlain, a), append(ratesCarried, b)
		}
	}
	wider("contrasts of cost", contrasts(plain.Contrasts, true), contrasts(carried.Contrasts, true), true)
	wider("other contrasts", contrasts(plain.Contrasts, false), contrasts(carried.Contrasts, false), false)
	wider("cost by rate", ratesPlain, ratesCarried, true)
	if a, b := plain.Economical[0], carried.Economical[0]; a.ConfLow == nil || b.ConfLow == nil || width(b.ConfLow, b.ConfHigh) < width(a.ConfLow, a.ConfHigh) {
		t.Errorf("cheapest rate: from %+v to %+v", a, b)
	}
}
