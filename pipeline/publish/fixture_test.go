package publish

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

func f64(v float64) *float64 { return &v }

func str(s string) *string { return &s }

// invented is a made-up study of n swimmers with observed and designed bouts.
// Its numbers look like results; no analysis stands behind them.
func invented(n int) PageInput {
	rng := rand.New(rand.NewPCG(7, uint64(n)))
	s := &study.Study{Name: "harbour-squad", Seed: 20261125, Cost: study.Cost{Measure: "bpm"},
		Analysis: study.Analysis{Strokes: []string{"freestyle"}, SmallestEffect: 2, MinSessions: 6, MinBouts: 24}}
	in := PageInput{Study: s, Version: "0.0.0-test"}
	var fits []schemas.Fit
	for i := range n {
		who := fmt.Sprintf("s%03d", i+1)
		medicated := i == 4
		in.Swimmers = append(in.Swimmers, schemas.Swimmer{Swimmer: who, RateAlteringMedication: &medicated})
		truth := []float64{3.1, 3.4, -3.2, 0.1, 0.6, -2.8}[i%6] + 0.4*rng.NormFloat64()
		for _, design := range []string{findings.Designed, findings.Observed} {
			r := inventedRow(rng, who, design, truth)
			if i%8 == 7 && design == findings.Designed {
				r = schemas.ScoreBySwimmer{Swimmer: who, Stroke: "freestyle", Design: design, Verdict: findings.TooLittleData,
					Bouts: 14, Sessions: 3, Reason: str("3 sessions, fewer than 6")}
			}
			in.BySwimmer = append(in.BySwimmer, r)
			fits = append(fits, schemas.Fit{Swimmer: who, Stroke: "freestyle", Design: design, ReferencePace: f64(85 + 30*rng.Float64())})
		}
	}
	swimmers := int32(n)
	in.Overall = []schemas.ScoreOverall{
		inventedOverall(findings.MatchedPace, findings.Designed, findings.MeasureEffect, 0.62, -0.66, 1.9, swimmers-swimmers/8),
		inventedOverall(findings.MatchedPace, findings.Observed, findings.MeasureEffect, 2.31, 1.02, 3.6, swimmers),
		inventedOverall(findings.MatchedPace, findings.Designed, findings.MeasureConcordance, 0.538, 0.482, 0.594, swimmers-swimmers/8),
		inventedOverall(findings.MatchedPace, findings.Observed, findings.MeasureConcordance, 0.581, 0.544, 0.618, swimmers),
		inventedOverall(findings.Raw, findings.Designed, findings.MeasureCorrelation, -0.21, -0.3, -0.12, swimmers-swimmers/8),
		inventedOverall(findings.Raw, findings.Observed, findings.MeasureCorrelation, -0.58, -0.64, -0.52, swimmers),
		inventedOverall(findings.Between, findings.Observed, findings.MeasureCorrelation, 0.14, -0.29, 0.52, swimmers),
	}
	in.Overall[0].PredictLow, in.Overall[0].PredictHigh = f64(-5.2), f64(6.44)
	in.Overall[1].PredictLow, in.Overall[1].PredictHigh = f64(-3.4), f64(8.02)
	in.Overall[2].Null, in.Overall[3].Null = f64(0.5004), f64(0.4991)
	in.Bouts = findings.BoutCounts{Bouts: 140 * n, Usable: 121 * n, Designed: 36 * n, Strap: 90 * n, Optical: 27 * n, Palpated: 4 * n, Reported: 4 * n,
		Unusable: []findings.ReasonCount{
			{Reason: "no-heart-rate-at-end", About: "no heart rate at its end", Bouts: 11 * n},
			{Reason: "too-short", About: "too short for heart rate to say anything of its cost", Bouts: 8 * n},
		}}
	in.Accounts = []Account{{"length", 14512, 13990, 522}, {"rest", 3120, 3120, 0}, {"heart-rate", 1204555, 1198210, 6345}}
	in.Ledger = []LedgerCount{
		{"duplicate", "the same recording twice", "excluded", 120},
		{"missed-turn", "one recorded length that is two", "repaired", 61},
		{"false-turn", "two recorded lengths that are one", "repaired", 44},
		{"dropout", "heart rate of 0 or 255, or outside what a heart does", "excluded", 6225},
	}
	for i, pct := range []float64{90, 110} {
		e := []float64{1.9, 0.7}[i]
		in.ByRate = append(in.ByRate, schemas.CostByRate{Scope: "squad", Stroke: "freestyle", Design: findings.Designed, RatePctOfUsual: pct,
			Change: f64(e), ConfLow: f64(e - 1.1), ConfHigh: f64(e + 1.1), ChangePct: f64(e / 1.5), BoutsNear: int32(70 + i), Swimmers: swimmers})
	}
	for i := range 40 {
		e := 0.62 + 0.5*rng.NormFloat64()
		in.Sensitivity = append(in.Sensitivity, schemas.Sensitivity{Stroke: "freestyle", Design: findings.Designed, Specification: int32(i + 1),
			Estimate: f64(e), ConfLow: f64(e - 1.3), ConfHigh: f64(e + 1.3), Swimmers: swimmers})
	}
	in.Findings = findings.Make(findings.Input{Study: s, BySwimmer: in.BySwimmer, Overall: in.Overall, Fits: fits, Swimmers: in.Swimmers, Bouts: in.Bouts})
	return in
}

func inventedRow(rng *rand.Rand, who, design string, truth float64) schemas.ScoreBySwimmer {
	se := 0.5 + 0.5*rng.Float64()
	if rng.Float64() < 0.06 {
		se = 5
	}
	e := truth + se*rng.NormFloat64()
	if design == findings.Observed {
		e += 1.6
	}
	r := schemas.ScoreBySwimmer{Swimmer: who, Stroke: "freestyle", Design: design, Bouts: 36 + int32(rng.IntN(60)), Sessions: 6 + int32(rng.IntN(9)),
		EffectPer10Pct: f64(e), EffectLow: f64(e - 2.2*se), EffectHigh: f64(e + 2.2*se),
		QValue: f64(math.Exp(-math.Abs(e/se) * 1.5)), PEquivalence: f64(0.3), RobustnessValue: f64(0.1 + 0.3*rng.Float64()),
		RawR: f64(-0.55 + 0.2*rng.NormFloat64()), PartialR: f64(math.Tanh(e / 8)),
		Concordance: f64(0.5 + e/40), ConcordanceNull: f64(0.5), Pairs: 80}
	if design == findings.Observed {
		r.Warnings = "swum as the swimmer liked: tiredness and mood move rate and heart rate together"
	}
	switch {
	case math.Abs(e)+1.7*se < 2:
		r.Verdict, r.PEquivalence = findings.PracticallyNone, f64(0.021)
	case *r.EffectLow > 0:
		r.Verdict = findings.Tracks
	case *r.EffectHigh < 0:
		r.Verdict = findings.RunsAgainst
	default:
		r.Verdict = findings.Undecided
	}
	return r
}

func inventedOverall(question, design, measure string, e, low, high float64, swimmers int32) schemas.ScoreOverall {
	return schemas.ScoreOverall{Question: question, Design: design, Stroke: "freestyle", Measure: measure, Score: findings.ScoreArms,
		Estimate: f64(e), ConfLow: f64(low), ConfHigh: f64(high), Swimmers: swimmers, Bouts: 60 * swimmers, Sessions: 10 * swimmers,
		PooledOver: "pool: 25 m 1904, 50 m 1000; heart-rate source: strap 2160, optical 648, palpated 96"}
}

// again makes the findings anew after rows were changed.
func again(in PageInput) PageInput {
	in.Findings = findings.Make(findings.Input{Study: in.Study, BySwimmer: in.BySwimmer, Overall: in.Overall, Swimmers: in.Swimmers, Bouts: in.Bouts})
	return in
}

// twoStrokes is an invented study of two strokes whose cost is energy.
func twoStrokes() PageInput {
	in, other := invented(8), invented(6)
	in.Study.Cost.Measure, in.Study.Analysis.SmallestEffect = "lab", 0.05
	in.Study.Analysis.Strokes = []string{"freestyle", "breaststroke"}
	for _, r := range other.BySwimmer {
		r.Stroke = "breaststroke"
		in.BySwimmer = append(in.BySwimmer, r)
	}
	for _, r := range other.Overall {
		r.Stroke = "breaststroke"
		in.Overall = append(in.Overall, r)
	}
	return again(in)
}

// observedOnly is an invented study in which nothing was set beforehand.
func observedOnly() PageInput {
	in := invented(12)
	in.BySwimmer = slices.DeleteFunc(in.BySwimmer, func(r schemas.ScoreBySwimmer) bool { return r.Design == findings.Designed })
	in.Overall = slices.DeleteFunc(in.Overall, func(r schemas.ScoreOverall) bool { return r.Design == findings.Designed })
	in.Bouts.Designed, in.Bouts.Strap = 0, 0
	return again(in)
}
