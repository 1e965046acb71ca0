package findings

import (
	"regexp"
	"strings"
	"testing"

	"lengthwise/schemas"

	"pgregory.net/rapid"
)

func mixedRow(design, difference string, estimate, low, high, two, twoLow, twoHigh float64) schemas.MixedEffect {
	return schemas.MixedEffect{Stroke: "freestyle", Design: design, Kind: kindFixed, Term: termEffect,
		Estimate: f64(estimate), ConfLow: f64(low), ConfHigh: f64(high), TwoStage: f64(two), TwoStageLow: f64(twoLow), TwoStageHigh: f64(twoHigh),
		Difference: difference, N: 1204, Swimmers: 9, Warnings: "2 swimmers of too little data for a result of their own among them"}
}

// thin is a swimmer without a verdict who has a number from the squad's model.
func thinSwimmer(design string, estimate, low, high, own float64) schemas.ScoreBySwimmer {
	return schemas.ScoreBySwimmer{Swimmer: "s6", Stroke: "freestyle", Design: design, Verdict: TooLittleData, Bouts: 9, Sessions: 1,
		Reason: str("1 session, fewer than 6"), EffectPooled: f64(estimate), EffectPooledLow: f64(low), EffectPooledHigh: f64(high),
		OwnShare: f64(own), PooledOnly: true}
}

func TestMixedModelSentences(t *testing.T) {
	changed := func(r schemas.MixedEffect, v float64) schemas.MixedEffect { r.Changed = &v; return r }
	none := schemas.MixedEffect{Stroke: "freestyle", Design: Designed, Kind: kindFixed, Term: termEffect, Reason: str("no mixed model: fewer than two swimmers have bouts for it")}
	bare := mixedRow(Observed, "", 1, 0.2, 1.8, 0, 0, 0)
	bare.TwoStage, bare.TwoStageLow, bare.TwoStageHigh = nil, nil, nil
	var b strings.Builder
	for _, row := range []schemas.MixedEffect{
		mixedRow(Designed, "", -1.59, -2.94, -0.24, -1.47, -3.4, 0.47),
		mixedRow(Observed, differsWidth, -0.07, -1.63, 1.48, -0.05, -3.4, 3.3),
		changed(mixedRow(Designed, differsSwimmers, 1.2, 0.3, 2.1, -0.4, -1.3, 0.5), -0.31),
		changed(mixedRow(Observed, differsCounts, 1.2, 0.3, 2.1, 1.9, 0.7, 3.1), 1.31),
		changed(mixedRow(Observed, differsCurve, 1.2, 0.3, 2.1, -0.4, -1.3, 0.5), 1.02),
		changed(mixedRow(Observed, differsWeights, 1.2, 0.3, 2.1, -0.4, -1.3, 0.5), 1.02),
		mixedRow(All, differsSeveral, 1.2, 0.3, 2.1, -0.4, -1.3, 0.5),
		none, bare,
	} {
		in := Input{Study: smallStudy(), Mixed: []schemas.MixedEffect{row}, Overall: []schemas.ScoreOverall{pooled(row.Design, -0.4, -1.3, 0.5, -2, 2, 7)}}
		for _, f := range Make(in) {
			if f.Question != MixedModel {
				continue
			}
			b.WriteString("[" + f.Strength + "] " + f.Sentence + "\n")
			if f.Caution != nil {
				b.WriteString("  ! " + *f.Caution + "\n")
			}
			if f.Strength != StrengthCosts && causal.MatchString(f.Sentence) {
				t.Errorf("causal word %q in %q", causal.FindString(f.Sentence), f.Sentence)
			}
		}
	}
	for _, row := range []schemas.ScoreBySwimmer{thinSwimmer(Designed, -2.09, -4.16, -0.02, 0.9), thinSwimmer(Observed, 1.5, -0.3, 3.3, 0.004), thinSwimmer(Observed, 1.5, -0.3, 3.3, 0.996)} {
		for _, f := range Make(Input{Study: smallStudy(), BySwimmer: []schemas.ScoreBySwimmer{row}}) {
			if f.Question == PartlyPooled {
				b.WriteString("[" + f.Strength + "] " + f.Sentence + "\n  ! " + *f.Caution + "\n")
			}
		}
	}
	golden(t, "mixed.txt", b.String())
}

var (
	mixedCosts    = regexp.MustCompile(`higher at the same pace costs (under )?([0-9.]+) bpm (more|less) `)
	mixedTogether = regexp.MustCompile(`higher at the same pace goes together with bouts (under )?([0-9.]+) bpm (dearer|cheaper) `)
	mixedTwo      = regexp.MustCompile(`own results it is (under )?([0-9.]+) bpm (dearer|cheaper) `)
)

// TestMixedSentencesSayTheirRows reads the numbers back out of the sentences.
func TestMixedSentencesSayTheirRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.Float64Range(-12, 12)
		e, two := number.Draw(t, "estimate"), number.Draw(t, "two")
		low, high := e-rapid.Float64Range(0, 5).Draw(t, "down"), e+rapid.Float64Range(0, 5).Draw(t, "up")
		design := rapid.SampledFrom([]string{Observed, Designed, All}).Draw(t, "design")
		difference := rapid.SampledFrom([]string{"", differsSwimmers, differsCounts, differsCurve, differsWeights, differsSeveral, differsWidth}).Draw(t, "difference")
		row := mixedRow(design, difference, e, low, high, two, two-1, two+1)
		row.Changed = f64(number.Draw(t, "changed"))
		row.Swimmers = int32(rapid.IntRange(2, 5).Draw(t, "swimmers"))
		thin := thinSwimmer(design, e, low, high, rapid.Float64Range(0, 1).Draw(t, "own"))
		found := 0
		for _, f := range Make(Input{Study: smallStudy(), Mixed: []schemas.MixedEffect{row}, BySwimmer: []schemas.ScoreBySwimmer{thin}}) {
			if f.Question != MixedModel && f.Question != PartlyPooled {
				continue
			}
			found++
			if blemish.MatchString(f.Sentence) || f.Strength != StrengthCosts && causal.MatchString(f.Sentence) {
				t.Fatalf("%s: %q", f.Strength, f.Sentence)
			}
			size := mixedTogether
			if design == Designed {
				size = mixedCosts
			}
			m := size.FindStringSubmatch(f.Sentence)
			if m == nil {
				t.Fatalf("no size in %q", f.Sentence)
			}
			said(t, "estimate", m[1], m[2], e)
			direction(t, "estimate", m[3], e)
			if *f.Estimate != e || *f.ConfLow != low || *f.ConfHigh != high {
				t.Fatalf("the finding's numbers are not the row's: %+v", f)
			}
			if f.Question == MixedModel {
				m := mixedTwo.FindStringSubmatch(f.Sentence)
				if m == nil {
					t.Fatalf("no two-stage result in %q", f.Sentence)
				}
				said(t, "two-stage", m[1], m[2], two)
				direction(t, "two-stage", m[3], two)
				if strings.Contains(f.Sentence, "the two agree") != (difference == "") {
					t.Fatalf("agreement: %q for difference %q", f.Sentence, difference)
				}
			}
		}
		if want := 2; found != want && !(design == All && found == 1) {
			t.Fatalf("%d findings, want %d", found, want)
		}
	})
}

func TestPartlyPooledKeepsTheMedicationCaution(t *testing.T) {
	in := Input{Study: smallStudy(), BySwimmer: []schemas.ScoreBySwimmer{thinSwimmer(Designed, -2, -3, -1, 0.8)},
		Swimmers: []schemas.Swimmer{{Swimmer: "s6", RateAlteringMedication: yes()}}}
	for _, f := range Make(in) {
		if f.Question == PartlyPooled && (!strings.Contains(*f.Caution, CautionMedication) || strings.Contains(*f.Caution, CautionSteps)) {
			t.Errorf("caution %q", *f.Caution)
		}
	}
}
