package analyse

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"lengthwise/schemas"
	"lengthwise/stats/mixed"
)

// Kinds of rows of the table mixed_effects.
const (
	kindFixed       = "fixed"
	kindSpread      = "spread"      // a standard deviation
	kindCorrelation = "correlation" // of two terms over swimmers
	kindRemainder   = "remainder"   // the standard deviation that is left
)

// termEffect is the primary number as a term of the mixed model: the slope on
// ln stroke rate per 10 % more strokes a minute.
const termEffect = "effect_per_10pct"

// squadModel is the mixed model of one family:
//
//	cost = b0 + b1 x + b2 x^2 + g ln(1 + minutes) + d r + c r^2
//	       + session means of x and r + (u0 + u1 x + u2 r of the swimmer)
//	       + intercept of the swimmer's session + error
//
// with x = ln v - ln v_ref and r = ln R - ln R_usual(x) centred within session,
// by REML. Centred terms see differences within a session alone, as the
// two-stage result does; what differs between sessions is left to the means.
type squadModel struct {
	fit      *mixed.Model
	effect   mixed.Coefficient // per 10 %
	predict  mixed.Prediction  // of another swimmer's own effect, per 10 %
	units    []*Answer         // in order of the model's units
	bouts    int32
	sessions int32
	dropped  []string // terms that the rows cannot tell from others
	simpler  string   // what had to be left out of the random effects, "" for nothing
}

var (
	errFewShares = errors.New("fewer than two swimmers have bouts for it")
	errNoRate    = errors.New("stroke rate does not vary within a session")
)

// variantOf says which terms a fit of the mixed model has.
type variantOf struct {
	straightPace bool // without the square of x
	drift        driftTerms
	straightRate bool // without the square of r
}

// fitSquad fits the model to those of the family that have a share, in the
// family's order.
func fitSquad(family []*Answer, v variantOf) (*squadModel, error) {
	all, err := mixed.NewSums(shareLayout())
	if err != nil {
		return nil, err
	}
	m := &squadModel{}
	for _, a := range family {
		if a.share == nil || a.share.sums == nil {
			continue
		}
		if err := all.MergeAs(fmt.Sprintf("%09d", len(m.units)), a.share.sums); err != nil {
			return nil, err
		}
		m.units = append(m.units, a)
		m.bouts += a.share.bouts
		m.sessions += a.share.sessions
	}
	if len(m.units) < 2 {
		return nil, errFewShares
	}
	return m, m.solve(all, v)
}

// solve fits the fullest model that the rows allow: terms that depend on
// others are left out, and correlations and spreads between swimmers where the
// rows cannot tell them apart.
func (m *squadModel) solve(all *mixed.Sums, v variantOf) error {
	fixed := []string{termIntercept, termSpeed}
	if !v.straightPace {
		fixed = append(fixed, termSpeedSquared)
	}
	fixed = append(fixed, v.drift.terms()...)
	fixed = append(fixed, termRate)
	if !v.straightRate {
		fixed = append(fixed, termRateSquared)
	}
	fixed = append(fixed, termMeanSpeed, termMeanRate)
	var err error
	for _, random := range []struct {
		terms       []string
		independent bool
		simpler     string
	}{
		{[]string{termIntercept, termSpeed, termRate}, false, ""},
		{[]string{termIntercept, termSpeed, termRate}, true, "correlations between swimmers' intercepts and slopes are taken for zero"},
		{[]string{termIntercept, termRate}, true, "one slope on pace for all swimmers"},
	} {
		layout := mixed.Layout{Fixed: slices.Clone(fixed), Random: random.terms, Independent: random.independent, GroupIntercept: true}
		m.simpler, m.dropped = random.simpler, nil
		if err = m.attempt(all, layout); err == nil || errors.Is(err, errNoRate) {
			return err
		}
	}
	return err
}

// attempt fits one layout, leaving out the columns that depend on others.
func (m *squadModel) attempt(all *mixed.Sums, layout mixed.Layout) error {
	for {
		sums, err := all.Restrict(layout)
		if err != nil {
			return err
		}
		fit, err := mixed.Fit(sums, mixed.Options{Method: mixed.REML})
		var rank *mixed.RankError
		if errors.As(err, &rank) {
			if slices.Contains(rank.Columns, termRate) {
				return errNoRate
			}
			without := func(term string) bool { return slices.Contains(rank.Columns, term) }
			m.dropped = append(m.dropped, rank.Columns...)
			layout.Fixed = slices.DeleteFunc(slices.Clone(layout.Fixed), without)
			layout.Random = slices.DeleteFunc(slices.Clone(layout.Random), without)
			continue
		}
		if err != nil {
			return err
		}
		m.fit = fit
		return m.read()
	}
}

// read takes the primary number off the fit: Kenward and Roger's standard
// error and degrees of freedom (1997), Satterthwaite's where those cannot be
// had.
func (m *squadModel) read() error {
	columns := m.fit.Layout.Columns()
	row := make([]float64, len(columns))
	row[slices.Index(columns, termRate)] = per10Percent
	weights := row[:len(m.fit.Layout.Fixed)]
	var err error
	if m.effect, err = m.fit.Contrast(weights, mixed.KenwardRoger, level); err != nil {
		if m.effect, err = m.fit.Contrast(weights, mixed.Satterthwaite, level); err != nil {
			return err
		}
	}
	m.effect.Term = termEffect
	m.predict, err = m.fit.PredictNew(row, level)
	return err
}

// spread is the standard deviation of swimmers' effects per 10 %.
func (m *squadModel) spread() float64 {
	sd, err := m.fit.SD(termRate)
	if err != nil {
		return 0
	}
	return sd * per10Percent
}

// setPooled gives every swimmer of the model the partially pooled estimate:
// the squad's effect moved towards the swimmer's own as far as the swimmer's
// bouts carry it. Its standard error takes the variances as known; the
// interval has the degrees of freedom of the squad's effect.
func (m *squadModel) setPooled() error {
	coefficients, err := m.fit.UnitCoefficients(termRate)
	if err != nil {
		return err
	}
	units := m.fit.Units()
	at := slices.Index(m.fit.Layout.Random, termRate)
	between := m.fit.Random.At(at, at)
	reach := studentQuantile(m.effect.DF)
	for i, a := range m.units {
		estimate, stdError := coefficients[i].Estimate*per10Percent, coefficients[i].StdError*per10Percent
		low, high := estimate-reach*stdError, estimate+reach*stdError
		a.Row.EffectPooled, a.Row.EffectPooledLow, a.Row.EffectPooledHigh = &estimate, &low, &high
		own := 0.0
		if between > 0 {
			own = min(1, max(0, 1-units[i].Conditional.At(at, at)/between))
		}
		a.Row.OwnShare = &own
		a.Row.PooledOnly = !a.enough
	}
	return nil
}

// mixedRows fits the family's mixed model, gives its swimmers their partially
// pooled estimates and returns the rows of the tables mixed_effects and
// score_overall. two is the two-stage result of the same family.
func mixedRows(family []*Answer, two schemas.ScoreOverall, unit string) ([]schemas.MixedEffect, schemas.ScoreOverall, error) {
	base := schemas.MixedEffect{Stroke: two.Stroke, Design: two.Design}
	overall := schemas.ScoreOverall{Question: two.Question, Design: two.Design, Stroke: two.Stroke, Measure: "effect_mixed", Score: "score"}
	dropped, keys := map[string]int{}, countKeys(nil)
	for _, a := range family {
		switch {
		case a.share == nil:
			dropped["no usable bouts"]++
		case a.share.missing != "":
			dropped[a.share.missing]++
		default:
			keys.add(a.pooledOver)
		}
	}
	overall.NDropped, overall.DroppedWhy, overall.PooledOver = int32(total(dropped)), tally(dropped), keys.String()
	base.NDropped, base.DroppedWhy = overall.NDropped, overall.DroppedWhy
	var w warnings
	w.design(Design(two.Design))

	m, err := fitSquad(family, variantOf{})
	if err != nil {
		reason := "no mixed model: " + plainMixed(err)
		row := base
		row.Kind, row.Term, row.Reason, row.Warnings = kindFixed, termEffect, &reason, w.String()
		overall.Reason, overall.Warnings = &reason, w.String()
		return []schemas.MixedEffect{row}, overall, nil
	}
	if err := m.setPooled(); err != nil {
		return nil, overall, err
	}
	m.warn(&w, unit)
	base.N, base.Swimmers, base.Sessions = m.bouts, int32(len(m.units)), m.sessions
	base.Warnings = w.String()
	rows, err := m.terms(base)
	if err != nil {
		return nil, overall, err
	}
	first := &rows[0]
	first.TwoStage, first.TwoStageLow, first.TwoStageHigh = two.Estimate, two.ConfLow, two.ConfHigh
	first.Difference, first.Changed = m.difference(family, two)

	e, p, spread := m.effect, m.predict, m.spread()
	variance := spread * spread
	overall.Estimate, overall.StdError, overall.DF, overall.PValue = &e.Estimate, &e.StdError, finite(e.DF), &e.PValue
	overall.ConfLow, overall.ConfHigh = &e.ConfLow, &e.ConfHigh
	overall.PredictLow, overall.PredictHigh, overall.Tau2 = finite(p.UnitLow), finite(p.UnitHigh), &variance
	overall.Swimmers, overall.Bouts, overall.Sessions = base.Swimmers, base.N, base.Sessions
	overall.Warnings = w.String()
	return rows, overall, nil
}

// terms lays out the model's rows: the primary number first, then fixed terms,
// spreads between swimmers and sessions, and correlations.
func (m *squadModel) terms(base schemas.MixedEffect) ([]schemas.MixedEffect, error) {
	add := func(rows []schemas.MixedEffect, c mixed.Coefficient) []schemas.MixedEffect {
		row := base
		row.Kind, row.Term, row.Estimate = kindFixed, c.Term, &c.Estimate
		row.StdError, row.Statistic, row.DF = &c.StdError, &c.Statistic, finite(c.DF)
		row.PValue, row.ConfLow, row.ConfHigh = &c.PValue, &c.ConfLow, &c.ConfHigh
		return append(rows, row)
	}
	rows := add(nil, m.effect)
	rows[0].PredictLow, rows[0].PredictHigh = finite(m.predict.UnitLow), finite(m.predict.UnitHigh)
	coefficients, err := m.fit.Coefficients(mixed.Satterthwaite, level)
	if err != nil {
		return nil, err
	}
	for _, c := range coefficients {
		rows = add(rows, c)
	}
	number := func(kind, term string, value float64) {
		row := base
		row.Kind, row.Term, row.Estimate = kind, term, &value
		rows = append(rows, row)
	}
	number(kindSpread, termEffect, m.spread())
	for i, term := range m.fit.Layout.Random {
		number(kindSpread, term, math.Sqrt(m.fit.Random.At(i, i)))
	}
	number(kindSpread, "session", m.fit.GroupSD)
	number(kindRemainder, "bout", m.fit.ResidualSD)
	if m.fit.Layout.Independent {
		return rows, nil
	}
	for i, a := range m.fit.Layout.Random {
		for _, b := range m.fit.Layout.Random[i+1:] {
			r, ok, err := m.fit.Correlation(a, b)
			if err != nil {
				return nil, err
			}
			if ok {
				number(kindCorrelation, a+" and "+b, r)
			}
		}
	}
	return rows, nil
}

// warn says what to bear in mind with the fit; unit is the cost's.
func (m *squadModel) warn(w *warnings, unit string) {
	const few = 5 // as in the pooled estimate: common practice, no source
	if n := len(m.units); n < few {
		w.add(fmt.Sprintf("only %d swimmers: the spread between them and the prediction interval are poorly known", n))
	}
	if m.simpler != "" {
		w.add(m.simpler)
	}
	if m.spread() == 0 {
		w.add("the spread between swimmers is estimated at zero: every swimmer gets the squad's number")
	}
	if len(m.dropped) > 0 {
		w.add("left out, since the bouts cannot tell them from other terms: " + joinTerms(m.dropped))
	}
	thin := 0
	var scatter []float64
	for _, a := range m.units {
		if !a.enough {
			thin++
		} else if a.Fit.Sigma != nil {
			scatter = append(scatter, *a.Fit.Sigma)
		}
	}
	if thin > 0 {
		w.add(count(thin, "swimmer") + " of too little data for a result of their own among them")
	}
	const uneven = 2 // from which a common scatter says too much of one swimmer and too little of another; our own choice
	if len(scatter) > 1 && slices.Max(scatter) > uneven*slices.Min(scatter) {
		w.add(fmt.Sprintf("bouts scatter by %.1f %s for one swimmer and by %.1f %s for another, and the model takes one scatter for all: single swimmers' intervals are too narrow for the one and too wide for the other",
			slices.Max(scatter), unit, slices.Min(scatter), unit))
	}
}

func plainMixed(err error) string {
	switch {
	case errors.Is(err, errFewShares), errors.Is(err, mixed.ErrOneUnit):
		return errFewShares.Error()
	case errors.Is(err, errNoRate):
		return errNoRate.Error()
	case errors.Is(err, mixed.ErrTooFewRows):
		return "too few bouts for the terms of the model"
	case errors.Is(err, mixed.ErrNoVariance):
		return "cost does not vary, or the terms tell it exactly"
	case errors.Is(err, mixed.ErrNotIdentified):
		return "these bouts cannot tell the spread between swimmers, sessions and bouts apart"
	case errors.Is(err, mixed.ErrNotVerified):
		return "no solution could be verified"
	}
	return "the numbers do not allow one"
}

// finite is a nullable number: nil where it is not finite.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}
