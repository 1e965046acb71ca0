package findings

import (
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

func f64(v float64) *float64 { return &v }

func str(s string) *string { return &s }

func yes() *bool { b := true; return &b }

// smallStudy is an invented study of bpm with 2 bpm for practically none.
func smallStudy() *study.Study {
	return &study.Study{
		Name: "invented", Seed: 1, Cost: study.Cost{Measure: "bpm"},
		Analysis: study.Analysis{Strokes: []string{"freestyle"}, SmallestEffect: 2, MinSessions: 6, MinBouts: 24},
	}
}

func row(swimmer, design, verdict string, estimate, low, high, q float64) schemas.ScoreBySwimmer {
	return schemas.ScoreBySwimmer{
		Swimmer: swimmer, Stroke: "freestyle", Design: design, Verdict: verdict, Bouts: 96, Sessions: 12,
		EffectPer10Pct: f64(estimate), EffectLow: f64(low), EffectHigh: f64(high), QValue: f64(q), PValue: f64(q / 2),
		PEquivalence: f64(0.02), RobustnessValue: f64(0.24),
	}
}

func pooled(design string, estimate, low, high, predictLow, predictHigh float64, swimmers int32) schemas.ScoreOverall {
	return schemas.ScoreOverall{
		Question: MatchedPace, Design: design, Stroke: "freestyle", Measure: MeasureEffect, Score: ScoreArms,
		Estimate: f64(estimate), ConfLow: f64(low), ConfHigh: f64(high),
		PredictLow: f64(predictLow), PredictHigh: f64(predictHigh), Swimmers: swimmers, Bouts: 96 * swimmers, Sessions: 12 * swimmers,
	}
}

func correlationRow(question, measure string, estimate, low, high float64) schemas.ScoreOverall {
	return schemas.ScoreOverall{
		Question: question, Design: Observed, Stroke: "freestyle", Measure: measure, Score: ScoreArms,
		Estimate: f64(estimate), ConfLow: f64(low), ConfHigh: f64(high), Swimmers: 6, Bouts: 576, Sessions: 72,
	}
}

// everyKind is an invented study in which each kind of sentence occurs.
func everyKind() Input {
	thin := schemas.ScoreBySwimmer{Swimmer: "s6", Stroke: "freestyle", Design: Designed, Verdict: TooLittleData,
		Bouts: 1, Sessions: 1, Reason: str("1 session, fewer than 6")}
	warned := row("s1", Observed, Tracks, 3.4, 1.2, 5.6, 0.004)
	warned.Warnings = "heart rate from the wrist in 40 of 96 bouts: its error moves with the stroke rate itself; end readings in 3 of 96 bouts, compared at equal distance and rest only"
	warned.PooledOver = "pool: 25 m 60, 50 m 36; heart-rate source: strap 56, optical 40"
	shuffled := correlationRow(MatchedPace, MeasureConcordance, 0.531, 0.502, 0.56)
	shuffled.Null = f64(0.501)
	return Input{
		Study: smallStudy(),
		BySwimmer: []schemas.ScoreBySwimmer{
			warned,
			row("s1", Designed, Tracks, 2.86, 1.24, 4.48, 0.0004),
			row("s2", Designed, RunsAgainst, -3.21, -5.03, -1.39, 0.012),
			row("s2", Observed, RunsAgainst, -0.98, -1.93, -0.03, 0.0496),
			row("s3", Designed, PracticallyNone, 0.03, -0.94, 1.0, 0.93),
			row("s4", Designed, Undecided, 1.21, -1.52, 3.94, 0.41),
			row("s5", Observed, Undecided, 2.2, 0.1, 4.3, 0.0502),
			thin,
		},
		Overall: []schemas.ScoreOverall{
			pooled(Designed, 0.42, -0.51, 1.35, -4.1, 4.94, 5),
			pooled(Observed, 1.9, 0.7, 3.1, -1.2, 5.0, 6),
			shuffled,
			correlationRow(Raw, MeasureCorrelation, -0.45, -0.52, -0.38),
			correlationRow(Between, MeasureCorrelation, 0.12, -0.4, 0.58),
		},
		Fits: []schemas.Fit{
			{Swimmer: "s1", Stroke: "freestyle", Design: Observed, Model: "m", ReferencePace: f64(99.7)},
			{Swimmer: "s1", Stroke: "freestyle", Design: Designed, Model: "m", ReferencePace: f64(99.7)},
			{Swimmer: "s2", Stroke: "freestyle", Design: Designed, Model: "m", ReferencePace: f64(57.6)},
		},
		Swimmers: []schemas.Swimmer{{Swimmer: "s1"}, {Swimmer: "s2", RateAlteringMedication: yes()}},
		Bouts:    BoutCounts{Bouts: 700, Usable: 576, Designed: 400, Strap: 500, Optical: 75, SourceUnknown: 1, Kinetics: 570, Reported: 3, BasisUnknown: 1},
	}
}
