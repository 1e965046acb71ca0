package analyse

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/association"
	"lengthwise/stats/concordance"
	"lengthwise/stats/linear"
	"lengthwise/stats/multiplicity"
	"lengthwise/stats/pooled"
	"lengthwise/stats/resample"
)

// Squad gives each answer its q value and verdict, and answers for the squad:
// raw, at matched pace and between swimmers, by stroke and design. The answers
// are changed in place: their verdicts are the study's to give.
func Squad(answers []Answer, s *study.Study) (Result, error) {
	var r Result
	for _, stroke := range s.Analysis.Strokes {
		for _, d := range Designs() {
			family := familyOf(answers, stroke, d)
			if len(family) == 0 {
				continue
			}
			if err := judge(family, s.Analysis.SmallestEffect); err != nil {
				return Result{}, fmt.Errorf("verdicts of %s bouts, %s: %w", d, stroke, err)
			}
			base := schemas.ScoreOverall{Stroke: stroke, Design: string(d), PooledOver: pooledOverSwimmers(family)}
			two := effectOverall(family, base)
			rows, one, err := mixedRows(family, two, s.Cost.Unit())
			if err != nil {
				return Result{}, fmt.Errorf("mixed model of %s bouts, %s: %w", d, stroke, err)
			}
			r.Mixed = append(r.Mixed, rows...)
			r.Overall = append(r.Overall, rawOverall(family, base, s)...)
			r.Overall = append(r.Overall, two, one, concordanceOverall(family, base), between(family, base, s))
		}
	}
	for i := range answers {
		a := &answers[i]
		r.BySwimmer = append(r.BySwimmer, a.Row)
		r.Coefficients = append(r.Coefficients, a.Coefficients...)
		r.Fits = append(r.Fits, a.Fit)
	}
	return r, nil
}

// familyOf picks the answers for a stroke and design in an order that only
// the swimmers' data fix.
func familyOf(answers []Answer, stroke string, d Design) []*Answer {
	var family []*Answer
	for i := range answers {
		if answers[i].Row.Stroke == stroke && answers[i].Row.Design == string(d) {
			family = append(family, &answers[i])
		}
	}
	slices.SortStableFunc(family, func(a, b *Answer) int { return cmp.Compare(a.content, b.content) })
	return family
}

// judge gives the verdicts of one family: q values by Benjamini and Hochberg
// over its swimmers, and two one-sided tests inside the smallest effect, which
// win where both speak. The tests hold for the slope at the usual rate and for
// a rate 10 % to either side of it; a valley, dearer on both sides, has no
// direction and stays undecided.
func judge(family []*Answer, smallest float64) error {
	var tested []*Answer
	var p []float64
	for _, a := range family {
		if a.enough {
			tested, p = append(tested, a), append(p, a.effect.PValue)
		}
	}
	if len(tested) == 0 {
		return nil
	}
	q, err := multiplicity.BenjaminiHochberg(p)
	if err != nil {
		return err
	}
	for i, a := range tested {
		a.Row.QValue = &q[i]
		e, err := linear.TwoOneSided(a.effect.Estimate, a.effect.StdError, a.effect.DF, -smallest, smallest, alpha)
		if err != nil {
			return err
		}
		within := math.Max(e.P, a.sides.withinBounds(smallest))
		a.Row.PEquivalence = &within
		verdict := Undecided
		switch {
		case within < alpha && a.blunt: // how small it is without the counting error, nobody knows
		case within < alpha && a.steady >= fewestSteady:
			verdict = PracticallyNone
		case a.sides.bothDearer():
		case q[i] < alpha && a.effect.Estimate > 0:
			verdict = Tracks
		case q[i] < alpha && a.effect.Estimate < 0:
			verdict = RunsAgainst
		}
		a.Row.Verdict = string(verdict)
	}
	return nil
}

// effectOverall pools the primary number over swimmers: random effects by
// REML with bias-reduced intervals, and a prediction interval for another
// swimmer.
func effectOverall(family []*Answer, base schemas.ScoreOverall) schemas.ScoreOverall {
	base.Question, base.Measure, base.Score = "matched-pace", "effect_per_10pct", "score"
	return pool(family, base, 0, func(a *Answer) (float64, float64, string) {
		if !a.enough {
			return 0, 0, "too little data"
		}
		return a.effect.Estimate, a.effect.StdError, ""
	})
}

// concordanceOverall pools the matched-pace concordance over swimmers, under one
// variance of a pair: swimmers of few sessions do not know their own.
func concordanceOverall(family []*Answer, base schemas.ScoreOverall) schemas.ScoreOverall {
	base.Question, base.Measure, base.Score = "matched-pace", "concordance", "score"
	var nulls []float64
	standardErrors := concordanceErrors(family)
	row := pool(family, base, 0.5, func(a *Answer) (float64, float64, string) {
		switch {
		case !a.enough:
			return 0, 0, "too little data"
		case a.Row.Concordance == nil:
			return 0, 0, "no matched pairs"
		case standardErrors[a] == 0:
			return 0, 0, "no interval"
		}
		if a.Row.ConcordanceNull != nil {
			nulls = append(nulls, *a.Row.ConcordanceNull)
		}
		return *a.Row.Concordance, standardErrors[a], ""
	})
	if row.Estimate != nil {
		if len(nulls) > 0 {
			null := mean(nulls)
			row.Null = &null
		}
		clampShare(row.ConfLow, row.ConfHigh, row.PredictLow, row.PredictHigh)
	}
	return row
}

// concordanceErrors gives the standard error of each concordance that is pooled;
// none when no swimmer's sessions say anything about it.
func concordanceErrors(family []*Answer) map[*Answer]float64 {
	var with []*Answer
	var tallies []concordance.Tally
	for _, a := range family {
		if a.enough && a.Row.Concordance != nil {
			with, tallies = append(with, a), append(tallies, a.matched)
		}
	}
	variances, err := concordance.CommonVariances(tallies)
	if err != nil {
		return nil
	}
	out := make(map[*Answer]float64, len(with))
	for i, a := range with {
		out[a] = math.Sqrt(variances[i])
	}
	return out
}

// clampShare keeps limits of a share within 0 and 1.
func clampShare(limits ...*float64) {
	for _, l := range limits {
		if l != nil {
			*l = math.Min(1, math.Max(0, *l))
		}
	}
}

// squadAverage is how swimmers' numbers are pooled throughout: random effects by
// REML, the interval bias-reduced. Their variances are estimated from few sessions,
// so that the weights are noisy, and the interval of Hartung and Knapp is then too
// narrow: over squads of six in which the rate costs nobody anything it found
// something in 7.8 % of 1,200 (trial.TestPowerOfNothing).
func squadAverage() pooled.Options {
	return pooled.Options{Method: pooled.REML, Test: pooled.BiasReduced, Level: level}
}

// pool pools one number over the swimmers that have it and tests it against
// nothing, the number's value where there is no relation. number returns why a
// swimmer has none.
func pool(family []*Answer, row schemas.ScoreOverall, nothing float64, number func(*Answer) (estimate, stdError float64, missing string)) schemas.ScoreOverall {
	dropped, keys := map[string]int{}, countKeys(nil)
	var estimates, variances []float64
	var w warnings
	for _, a := range family {
		estimate, stdError, missing := number(a)
		if missing != "" {
			dropped[missing]++
			continue
		}
		estimates = append(estimates, estimate-nothing)
		keys.add(a.pooledOver)
		variances = append(variances, stdError*stdError)
		row.Bouts += a.Row.Bouts
		row.Sessions += a.Row.Sessions
	}
	row.Swimmers, row.PooledOver = int32(len(estimates)), keys.String()
	row.NDropped, row.DroppedWhy = int32(total(dropped)), tally(dropped)
	w.design(Design(row.Design))
	if len(estimates) < 2 {
		reason := "fewer than two swimmers have enough data"
		row.Reason, row.Warnings = &reason, w.String()
		return row
	}
	fit, err := pooled.Fit(estimates, variances, squadAverage())
	if err != nil {
		reason := "no pooled estimate: the swimmers' numbers do not allow one"
		row.Reason, row.Warnings = &reason, w.String()
		return row
	}
	for _, text := range fit.Warnings {
		w.add(text)
	}
	for _, v := range []*float64{&fit.Estimate, &fit.ConfLow, &fit.ConfHigh, &fit.PredictLow, &fit.PredictHigh} {
		*v += nothing
	}
	row.Estimate, row.StdError, row.DF, row.PValue = &fit.Estimate, &fit.StdError, &fit.DF, &fit.PValue
	row.ConfLow, row.ConfHigh = &fit.ConfLow, &fit.ConfHigh
	row.PredictLow, row.PredictHigh = &fit.PredictLow, &fit.PredictHigh
	row.Tau2, row.I2 = &fit.Tau2, &fit.I2
	row.Warnings = w.String()
	return row
}

// fewestRaw is how few swimmers a squad's raw correlation may rest on: fewer
// are single swimmers, and stand in score_by_swimmer.
const fewestRaw = 3

// rawOverall is the correlation of score and cost within swimmers across
// paces (Bland and Altman 1995), for the score with arms counted and for the
// one that the recorder shows; sessions are resampled within swimmers.
func rawOverall(family []*Answer, base schemas.ScoreOverall, s *study.Study) []schemas.ScoreOverall {
	base.Question, base.Measure = "raw", "correlation"
	var subject, session []int
	var score, recorded, cost []float64
	var w warnings
	w.design(Design(base.Design))
	w.add("across paces the score falls and heart rate rises with speed, whatever the stroke costs")
	dropped := map[string]int{}
	for _, a := range family {
		if len(a.raw.score) < 3 {
			dropped["fewer than three bouts with a score"]++
			continue
		}
		offset := len(session)
		for i := range a.raw.score {
			subject = append(subject, int(base.Swimmers))
			session = append(session, offset+a.raw.session[i])
		}
		score = append(score, a.raw.score...)
		recorded = append(recorded, a.raw.recordedScore...)
		cost = append(cost, a.raw.cost...)
		base.Swimmers++
		base.Sessions += distinct(a.raw.session)
	}
	base.Bouts = int32(len(score))
	base.NDropped, base.DroppedWhy, base.Warnings = int32(total(dropped)), tally(dropped), w.String()
	rows := make([]schemas.ScoreOverall, 0, 2)
	for _, variant := range []struct {
		name   string
		values []float64
	}{{"score", score}, {"score_recorded", recorded}} {
		row := base
		row.Score = variant.name
		if s.Cost.Measure == "net-beats" {
			reason := "net beats per 100 m and the score both hold the seconds: their correlation across paces says nothing"
			row.Reason = &reason
			rows = append(rows, row)
			continue
		}
		if base.Swimmers < fewestRaw {
			reason := fmt.Sprintf("fewer than %d swimmers have bouts with a score", fewestRaw)
			row.Reason = &reason
			rows = append(rows, row)
			continue
		}
		seed := resample.SeedOf(s.Seed, "raw", cost) // the same resamples for both scores
		result, err := association.RepeatedMeasuresResampled(subject, session, variant.values, cost,
			resample.Options{Replicates: s.Analysis.Resamples, Level: level, Seed: seed})
		if err != nil {
			reason := "no correlation: too few bouts, or score or cost does not vary"
			row.Reason = &reason
		} else {
			row.Estimate, row.ConfLow, row.ConfHigh = &result.R, &result.ConfLow, &result.ConfHigh
		}
		rows = append(rows, row)
	}
	return rows
}

// between asks whether swimmers with a lower score at a common pace swim it
// at a lower cost: the correlation over swimmers, with Fisher's interval.
func between(family []*Answer, row schemas.ScoreOverall, s *study.Study) schemas.ScoreOverall {
	row.Question, row.Measure, row.Score = "between", "correlation", "score"
	var w warnings
	w.design(Design(row.Design))
	if s.Cost.Measure == "bpm" {
		w.add("heart rates differ between people for reasons other than effort, so that heart-rate reserve is the safer cost here")
	}
	row.Warnings = w.String()
	speed := commonSpeed(family, s)
	dropped, keys := map[string]int{}, countKeys(nil)
	var scores, costs []float64
	for _, a := range family {
		if a.common == nil {
			dropped["too little data"]++
			continue
		}
		score, cost, ok := a.common.at(speed)
		if !ok {
			dropped["does not swim at the common pace"]++
			continue
		}
		scores, costs = append(scores, score), append(costs, cost)
		keys.add(a.pooledOver)
		row.Bouts += a.Row.Bouts
		row.Sessions += a.Row.Sessions
	}
	row.Swimmers, row.PooledOver = int32(len(scores)), keys.String()
	row.NDropped, row.DroppedWhy = int32(total(dropped)), tally(dropped)
	const fewest = 5 // Fisher's interval of four points spans nearly everything
	if len(scores) < fewest {
		reason := fmt.Sprintf("fewer than %d swimmers share a pace", fewest)
		row.Reason = &reason
		return row
	}
	r, err := association.Pearson(scores, costs)
	if err == nil {
		var low, high float64
		if low, high, err = association.FisherInterval(r, float64(len(scores)), level); err == nil {
			row.Estimate, row.ConfLow, row.ConfHigh = &r, &low, &high
			return row
		}
	}
	reason := "no correlation: score or cost does not vary between swimmers"
	row.Reason = &reason
	return row
}

// commonSpeed is the study's reference pace, or the median of the swimmers'
// own reference speeds.
func commonSpeed(family []*Answer, s *study.Study) float64 {
	if s.Analysis.ReferencePace > 0 {
		return 100 / s.Analysis.ReferencePace
	}
	var speeds []float64
	for _, a := range family {
		if a.common != nil {
			speeds = append(speeds, a.common.reference)
		}
	}
	return median(speeds)
}

// pooledOverSwimmers names the keys that differ among the bouts of a family.
func pooledOverSwimmers(family []*Answer) string {
	sum := countKeys(nil)
	for _, a := range family {
		sum.add(a.pooledOver)
	}
	return sum.String()
}

func distinct(codes []int) int32 {
	seen := map[int]struct{}{}
	for _, c := range codes {
		seen[c] = struct{}{}
	}
	return int32(len(seen))
}
