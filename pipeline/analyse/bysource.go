package analyse

import (
	"cmp"
	"math"
	"slices"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/linear"
	"lengthwise/stats/pooled"
	"lengthwise/stats/resample"
)

// sourceEffect is the primary number of one swimmer, stroke and design from the
// bouts of one source of heart rate.
type sourceEffect struct {
	row     schemas.ScoreBySource
	content uint64 // hash of the bouts' numbers: an order free of names
	enough  bool   // enters the squad's average
	alone   bool   // the swimmer has no other source: the number stands in score_by_swimmer
	effect  linear.Coefficient
}

// bySource asks for the effect of stroke rate source by source: the error of a wrist
// moves with the stroke rate itself, so that its effect may be the error's. Where a
// swimmer has one source only, the number is that of the answer given already.
func bySource(bouts []derive.Bout, answers []Answer, s *study.Study) []sourceEffect {
	if !s.Cost.ReadsHeartRate() {
		return nil
	}
	var out []sourceEffect
	for i := range answers {
		a := &answers[i]
		d := Design(a.Row.Design)
		if d == All {
			continue
		}
		picked, _ := usable(bouts, a.Row.Stroke, d)
		sources := valuesOf(picked, sourceOf)
		base := schemas.ScoreBySource{Scope: OneSwimmer, Swimmer: a.Row.Swimmer, Stroke: a.Row.Stroke, Design: a.Row.Design, Swimmers: 1}
		if len(sources) == 0 {
			continue
		}
		if len(sources) == 1 {
			base.Source, base.Bouts, base.Sessions = sources[0], a.Row.Bouts, a.Row.Sessions
			out = append(out, sourceEffect{row: base, content: a.content, enough: a.enough, alone: true, effect: a.effect})
			continue
		}
		everything, _ := usable(bouts, a.Row.Stroke, All)
		usual := newUsualRate(everything, referenceSpeed(everything, s))
		for _, source := range sources {
			base.Source = source
			only := slices.DeleteFunc(slices.Clone(picked), func(b *derive.Bout) bool { return sourceOf(b) != source })
			out = append(out, newSourceEffect(only, base, usual, s))
		}
	}
	return out
}

func sourceOf(b *derive.Bout) string { return b.HRSource }

func newSourceEffect(bouts []*derive.Bout, base schemas.ScoreBySource, usual usualRate, s *study.Study) sourceEffect {
	kept, _ := informative(bouts)
	d := Design(base.Design)
	r := newRows(kept, usual, s, d)
	base.Bouts, base.Sessions = int32(len(kept)), int32(r.sessions)
	e := sourceEffect{row: base, content: resample.SeedOf(s.Seed, "source/"+base.Source+"/"+base.Stroke+"/"+base.Design, r.cost, r.lnSpeed, r.lnRate)}
	var w warnings
	w.design(d)
	w.sources(kept, s.Cost.Measure)
	reason := e.fit(r, s)
	if e.enough = reason == ""; !e.enough {
		e.row.Reason = &reason
	}
	e.row.Warnings = w.String()
	return e
}

// fit fills in the numbers and returns why they are not enough, "" when they are.
func (e *sourceEffect) fit(r *rows, s *study.Study) string {
	if len(r.bouts) == 0 {
		return "no session with two bouts or more"
	}
	var both sides
	m, covariance, err := r.fitRate(&both)
	if err != nil {
		return "no fit: " + plain(err)
	}
	c, err := m.Coefficient(termRate, covariance, level)
	if err != nil {
		return "stroke rate moves with pace and minutes, so that its part in the cost cannot be told"
	}
	spread, err := r.rateSpread()
	if err != nil {
		return "no spread of stroke rate at fixed pace: " + plain(err)
	}
	e.effect = per10(c)
	showEffect(&e.row, e.effect)
	return (&Answer{effect: e.effect}).tooLittle(r, s, spread)
}

// bySourceTable gives the rows of swimmers with more than one source, and the squad's
// average source by source where it has more than one.
func bySourceTable(effects []sourceEffect, s *study.Study) []schemas.ScoreBySource {
	var out []schemas.ScoreBySource
	for _, e := range effects {
		if !e.alone {
			out = append(out, e.row)
		}
	}
	for _, stroke := range s.Analysis.Strokes {
		for _, d := range []Design{Observed, Designed} {
			var family []sourceEffect
			for _, e := range effects {
				if e.row.Stroke == stroke && e.row.Design == string(d) {
					family = append(family, e)
				}
			}
			slices.SortStableFunc(family, func(a, b sourceEffect) int { return cmp.Compare(a.content, b.content) })
			out = append(out, poolSources(family, stroke, d)...)
		}
	}
	return out
}

// referenceSource is the source that others are compared with.
const referenceSource = "strap"

// poolSources averages the effects of a family source by source, and the differences
// of each source from straps within the swimmers who have both.
func poolSources(family []sourceEffect, stroke string, d Design) []schemas.ScoreBySource {
	counts := map[string]int{}
	straps := map[string]sourceEffect{} // by swimmer
	for _, e := range family {
		counts[e.row.Source]++
		if e.row.Source == referenceSource && e.enough {
			straps[e.row.Swimmer] = e
		}
	}
	sources := byCount(counts)
	if len(sources) < 2 {
		return nil
	}
	var out []schemas.ScoreBySource
	for _, source := range sources {
		row := schemas.ScoreBySource{Scope: WholeSquad, Stroke: stroke, Design: string(d), Source: source}
		apart := row
		apart.Against = referenceSource
		var all, differences []linear.Coefficient
		for _, e := range family {
			if e.row.Source != source || !e.enough {
				continue
			}
			all = append(all, e.effect)
			row.Bouts, row.Sessions = row.Bouts+e.row.Bouts, row.Sessions+e.row.Sessions
			strap, ok := straps[e.row.Swimmer]
			if !ok || source == referenceSource {
				continue
			}
			differences = append(differences, linear.Coefficient{Estimate: e.effect.Estimate - strap.effect.Estimate,
				StdError: math.Hypot(e.effect.StdError, strap.effect.StdError)})
			apart.Bouts, apart.Sessions = apart.Bouts+e.row.Bouts, apart.Sessions+e.row.Sessions
		}
		averageSource(&row, all, d)
		out = append(out, row)
		if len(differences) > 0 {
			averageSource(&apart, differences, d)
			out = append(out, apart)
		}
	}
	return out
}

// averageSource fills a row of the squad: random effects by REML with bias-reduced
// intervals.
func averageSource(row *schemas.ScoreBySource, effects []linear.Coefficient, d Design) {
	var w warnings
	w.design(d)
	row.Swimmers = int32(len(effects))
	estimates, variances := make([]float64, len(effects)), make([]float64, len(effects))
	for i, e := range effects {
		estimates[i], variances[i] = e.Estimate, e.StdError*e.StdError
	}
	reason := ""
	if len(effects) < 2 {
		reason = "fewer than two swimmers have enough data"
	} else if fit, err := pooled.Fit(estimates, variances, squadAverage()); err != nil {
		reason = "no pooled estimate: the swimmers' numbers do not allow one"
	} else {
		for _, text := range fit.Warnings {
			w.add(text)
		}
		showEffect(row, linear.Coefficient{Estimate: fit.Estimate, StdError: fit.StdError, DF: fit.DF, PValue: fit.PValue,
			ConfLow: fit.ConfLow, ConfHigh: fit.ConfHigh})
		row.Tau2 = &fit.Tau2
	}
	if reason != "" {
		row.Reason = &reason
	}
	row.Warnings = w.String()
}

func showEffect(row *schemas.ScoreBySource, c linear.Coefficient) {
	row.EffectPer10Pct, row.StdError, row.DF, row.PValue = &c.Estimate, &c.StdError, &c.DF, &c.PValue
	row.EffectLow, row.EffectHigh = &c.ConfLow, &c.ConfHigh
}
