package analyse

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// squadOf makes a squad of swimmers with the effects given; change alters the
// world of the swimmer of that number.
func squadOf(t *testing.T, effects []float64, s *study.Study, change func(i int, w *world)) Result {
	t.Helper()
	var answers []Answer
	for i, effect := range effects {
		w := usual()
		w.seed, w.swimmer, w.effect = uint64(300+i), fmt.Sprint("m", i), effect
		if change != nil {
			change(i, &w)
		}
		answers = append(answers, Swimmer(w.swim(), s)...)
	}
	r, err := Squad(answers, s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// term finds a row of the mixed model.
func term(t *testing.T, rows []schemas.MixedEffect, kind, name string) schemas.MixedEffect {
	t.Helper()
	for _, row := range rows {
		if row.Kind == kind && row.Term == name {
			return row
		}
	}
	t.Fatalf("no row %s %s", kind, name)
	return schemas.MixedEffect{}
}

func TestMixedModelFindsItsTermsWithoutNoise(t *testing.T) {
	// All swimmers alike and next to no noise: every term is the truth.
	s := settings()
	s.Analysis.ReferencePace = 100 / referenceMPS
	r := squadOf(t, []float64{-2.5, -2.5, -2.5, -2.5}, s, func(_ int, w *world) { w.noise, w.dayNoise, w.rateOnPace = 1e-4, 0, 0 })
	for name, want := range map[string]float64{
		termSpeedSquared: curveOfPace, termMinutes: 2, termRate: -2.5 / per10Percent, termEffect: -2.5, termRateSquared: 0,
	} {
		row := term(t, r.Mixed, kindFixed, name)
		if math.Abs(*row.Estimate-want) > 0.02 {
			t.Errorf("%s: %v, want %v", name, *row.Estimate, want)
		}
	}
	if got := term(t, r.Mixed, kindRemainder, "bout"); math.Abs(*got.Estimate-1e-4) > 2e-5 {
		t.Errorf("remainder %v, want 0.0001", *got.Estimate)
	}
}

func TestMixedModelStandsBesideTheTwoStageResult(t *testing.T) {
	r := squadOf(t, []float64{-4, -3, -2, -1, 0, 1, -2.5, -1.5}, settings(), nil)
	effect := term(t, r.Mixed, kindFixed, termEffect)
	two := overallRow(t, r.Overall, "effect_per_10pct")
	one := overallRow(t, r.Overall, "effect_mixed")
	if *effect.TwoStage != *two.Estimate || *effect.TwoStageLow != *two.ConfLow || *one.Estimate != *effect.Estimate {
		t.Errorf("the rows do not stand beside each other: %+v", effect)
	}
	if math.Abs(*effect.Estimate-*two.Estimate) > 0.2 || effect.Difference != "" {
		t.Errorf("mixed %v, two-stage %v, difference %q", *effect.Estimate, *two.Estimate, effect.Difference)
	}
	slope := term(t, r.Mixed, kindFixed, termRate)
	if math.Abs(*slope.Estimate*per10Percent-*effect.Estimate) > 1e-9 {
		t.Errorf("slope %v is not the effect %v", *slope.Estimate, *effect.Estimate)
	}
	spread := term(t, r.Mixed, kindSpread, termEffect)
	// The eight effects have a standard deviation of 1.60.
	if *spread.Estimate < 1 || *spread.Estimate > 2.4 || math.Abs(*spread.Estimate**spread.Estimate-*one.Tau2) > 1e-9 {
		t.Errorf("spread between swimmers %v, tau2 %v", *spread.Estimate, *one.Tau2)
	}
	if !(*effect.PredictLow < *effect.ConfLow && *effect.PredictHigh > *effect.ConfHigh) {
		t.Errorf("another swimmer's interval %v to %v inside the mean's", *effect.PredictLow, *effect.PredictHigh)
	}
}

func overallRow(t *testing.T, rows []schemas.ScoreOverall, measure string) schemas.ScoreOverall {
	t.Helper()
	for _, row := range rows {
		if row.Measure == measure {
			return row
		}
	}
	t.Fatalf("no row %s", measure)
	return schemas.ScoreOverall{}
}

// A swimmer of two sessions has no verdict, and gets the squad's number moved
// as far as those sessions carry; the others keep nearly their own.
func TestTooLittleDataGetsThePartiallyPooledEstimate(t *testing.T) {
	effects := []float64{-3, -2.6, -2.2, -2.8, -2.4, -2, 1}
	r := squadOf(t, effects, settings(), func(i int, w *world) {
		if i == 6 {
			w.sessions, w.bouts = 2, 5
		}
	})
	squad := *overallRow(t, r.Overall, "effect_mixed").Estimate
	for i, row := range r.BySwimmer {
		if row.EffectPooled == nil || *row.EffectPooledLow > *row.EffectPooled || *row.EffectPooledHigh < *row.EffectPooled {
			t.Fatalf("swimmer %d: no partially pooled estimate with its interval: %+v", i, row)
		}
		if row.PooledOnly != (row.Verdict == string(TooLittleData)) {
			t.Errorf("swimmer %d: marked %v with verdict %s", i, row.PooledOnly, row.Verdict)
		}
		if i < 6 && (*row.OwnShare < 0.5 || math.Abs(*row.EffectPooled-*row.EffectPer10Pct) > 0.7) {
			t.Errorf("swimmer %d: own %v, pooled %v, own share %v", i, *row.EffectPer10Pct, *row.EffectPooled, *row.OwnShare)
		}
	}
	thin := r.BySwimmer[6]
	if !thin.PooledOnly || *thin.OwnShare > *r.BySwimmer[0].OwnShare {
		t.Errorf("own share of the thin swimmer %v, of a full one %v", *thin.OwnShare, *r.BySwimmer[0].OwnShare)
	}
	if own := *thin.EffectPer10Pct; !(*thin.EffectPooled > squad && *thin.EffectPooled < own) {
		t.Errorf("pooled %v does not lie between the squad's %v and the swimmer's own %v", *thin.EffectPooled, squad, own)
	}
}

// What sets the two results apart is measured and named.
func TestDifferencesAreNamed(t *testing.T) {
	r := squadOf(t, []float64{-3, -2.6, -2.2, -2.8, -2.4, 6, 6.5, 7, 6}, settings(), func(i int, w *world) {
		if i > 4 {
			w.sessions = 4
		}
	})
	row := term(t, r.Mixed, kindFixed, termEffect)
	if row.Difference != differsSwimmers || row.Changed == nil || math.Abs(*row.Changed-*row.TwoStage) > 0.3 {
		t.Errorf("difference %q, changed %v, two-stage %v", row.Difference, row.Changed, *row.TwoStage)
	}
	if row.Swimmers != 9 || !strings.Contains(row.Warnings, "4 swimmers of too little data") {
		t.Errorf("%d swimmers, warnings %q", row.Swimmers, row.Warnings)
	}
}

func TestMixedModelSaysWhyThereIsNone(t *testing.T) {
	for _, c := range []struct {
		name, want string
		effects    []float64
		change     func(i int, w *world)
	}{
		{"one swimmer", "fewer than two swimmers", []float64{-2}, nil},
		{"one rate", "stroke rate does not vary", []float64{-2, -2, -2}, func(_ int, w *world) { w.rate, w.rateOnPace = 0, 0 }},
		{"rising rates", "fewer than two swimmers", []float64{-2, -2, -2}, func(_ int, w *world) { w.rising = true }},
	} {
		r := squadOf(t, c.effects, settings(), c.change)
		if len(r.Mixed) != 1 || r.Mixed[0].Reason == nil || !strings.Contains(*r.Mixed[0].Reason, c.want) || r.Mixed[0].Estimate != nil {
			t.Errorf("%s: %+v", c.name, r.Mixed)
		}
		for _, row := range r.BySwimmer {
			if row.EffectPooled != nil || row.PooledOnly {
				t.Errorf("%s: a partially pooled estimate without a model", c.name)
			}
		}
	}
}

// One pace throughout: its terms are left out, and the rate is still judged.
func TestMixedModelAtOnePace(t *testing.T) {
	r := squadOf(t, []float64{-3, -2, -2.5, -1}, settings(), func(_ int, w *world) { w.pace = 0 })
	row := term(t, r.Mixed, kindFixed, termEffect)
	if row.Estimate == nil || math.Abs(*row.Estimate+2.1) > 0.6 || !strings.Contains(row.Warnings, termSpeed) {
		t.Errorf("estimate %v, warnings %q", row.Estimate, row.Warnings)
	}
}
