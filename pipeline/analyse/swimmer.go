package analyse

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/concordance"
	"lengthwise/stats/linear"
	"lengthwise/stats/resample"
)

// modelScore is the id of the within-session model of cost on pace, drift and
// rate.
const modelScore = "cost-on-rate"

// per10Percent turns a slope on ln R into cost per 10 % more strokes a minute.
var per10Percent = math.Log(1.1)

// Answer is what one swimmer's bouts say for one stroke and design, with what
// the squad's answer needs of them. Row has no q value and no verdict yet:
// both depend on the whole study's family (Squad).
type Answer struct {
	Row          schemas.ScoreBySwimmer
	Coefficients []schemas.Coefficient
	Fit          schemas.Fit

	content     uint64 // hash of the bouts' numbers: an order free of names
	enough      bool   // enters the family and the pool
	effect      linear.Coefficient
	sides       sides
	blunt       bool              // counting error may hide an effect: nothing is called practically none
	steady      float64           // share of bouts whose heart rate was steady when read
	matched     concordance.Tally // pairs at matched pace by session; empty without
	raw         rawBouts
	pooledOver  keyCounts
	common      *commonPace
	share       *share                // in the squad's mixed model; nil without usable bouts
	confounding []schemas.Confounding // of observed bouts
}

// Swimmer answers for one swimmer: every stroke of the study under every
// design that has bouts. bouts are all bouts of the swimmer in order of
// swimming; they are read only.
//
// The model, within session: cost = session + stratum + kick + equipment +
// b1 x + b2 x^2 + g ln(1 + minutes) + d r (+ c r^2 + m x r) + error, with
// x = ln v - ln v_ref and r = ln R - ln R_usual(x), the terms in brackets where
// the curvature shows (fitRate); sessions are absorbed,
// errors are CR2 by session with Satterthwaite degrees of freedom (Bell and
// McCaffrey 2002; Pustejovsky and Tipton 2018), widened by what is not known of the
// time constant behind steady heart rates (carry.go). The primary number is d ln 1.1,
// cost per 10 % more strokes a minute at the usual rate and the reference pace.
func Swimmer(bouts []derive.Bout, s *study.Study) []Answer {
	var answers []Answer
	for _, stroke := range s.Analysis.Strokes {
		everything, _ := usable(bouts, stroke, All)
		usual := newUsualRate(everything, referenceSpeed(everything, s))
		recorder := newRecorderError(bouts, stroke)
		for _, d := range Designs() {
			picked, dropped := usable(bouts, stroke, d)
			if len(picked) == 0 && len(dropped) == 0 {
				continue
			}
			if d == All && (countDesigned(picked) == 0 || countDesigned(picked) == len(picked)) {
				continue // one kind only: the answer stands there already
			}
			answers = append(answers, answer(picked, dropped, bouts[0].Swimmer, stroke, d, usual, recorder, s))
		}
	}
	return answers
}

// referenceSpeed is the study's reference pace, or the swimmer's own median
// speed at this stroke over observed and designed bouts alike.
func referenceSpeed(bouts []*derive.Bout, s *study.Study) float64 {
	if s.Analysis.ReferencePace > 0 {
		return derive.Pace(s.Analysis.ReferencePace) // 100 over seconds per 100 m is m/s, as the other way round
	}
	speeds := make([]float64, len(bouts))
	for i, b := range bouts {
		speeds[i] = b.SpeedMPS
	}
	return median(speeds)
}

func answer(picked []*derive.Bout, dropped map[string]int, swimmer, stroke string, d Design, usual usualRate, recorder recorderError, s *study.Study) Answer {
	bouts, alone := informative(picked)
	if alone > 0 {
		dropped["alone-in-session"] += alone
	}
	r := newRows(bouts, usual, s, d)
	keys := countKeys(bouts)
	a := Answer{
		Row: schemas.ScoreBySwimmer{
			Swimmer: swimmer, Stroke: stroke, Design: string(d), Verdict: string(TooLittleData),
			Bouts: int32(len(bouts)), Sessions: int32(r.sessions), PooledOver: keys.String(),
		},
		Fit: schemas.Fit{
			Swimmer: swimmer, Stroke: stroke, Design: string(d), Model: modelScore,
			N: int32(len(bouts)), Sessions: int32(r.sessions), PooledOver: keys.String(),
			NDropped: int32(total(dropped)), DroppedWhy: tally(dropped),
		},
		content:    resample.SeedOf(s.Seed, "content/"+stroke+"/"+string(d), r.cost, r.lnSpeed, r.lnRate, r.lnMinutes),
		pooledOver: keys,
	}
	var w warnings
	w.design(d)
	if len(picked) > 0 {
		across := newRows(picked, usual, s, d)
		a.raw = newRawBouts(across, s)
		a.rawCorrelation(s, &w)
	}
	if len(bouts) == 0 {
		a.refuse("no usable bouts: " + tally(dropped))
		a.Row.Warnings, a.Fit.Warnings = w.String(), w.String()
		return a
	}
	pace := derive.Pace(usual.referenceMPS)
	a.Fit.ReferencePace = &pace
	w.sources(bouts, s.Cost.Measure)
	w.setAlike(bouts, d)
	if reason := a.fit(r, newCountError(r, recorder, s.Analysis), s, &w); reason != "" {
		a.refuse(reason)
	} else {
		a.enough = true
		a.common = newCommonPace(bouts, usual, s, d)
	}
	a.share = newShare(r, s)
	a.Row.Warnings, a.Fit.Warnings = w.String(), w.String()
	for i := range a.Coefficients {
		a.Coefficients[i].Warnings = a.Row.Warnings
	}
	return a
}

// informative leaves out the bouts that are alone in their session: they say
// nothing within it.
func informative(bouts []*derive.Bout) (kept []*derive.Bout, alone int) {
	n := map[string]int{}
	for _, b := range bouts {
		n[b.Session]++
	}
	for _, b := range bouts {
		if n[b.Session] > 1 {
			kept = append(kept, b)
		}
	}
	return kept, len(bouts) - len(kept)
}

func (a *Answer) refuse(reason string) {
	a.Row.Verdict = string(TooLittleData)
	a.Row.Reason = &reason
}

// fit fills in the model's numbers and returns why there can be no verdict,
// "" when there can. Numbers that could be had are kept either way.
func (a *Answer) fit(r *rows, counts countError, s *study.Study, w *warnings) string {
	m, covariance, err := r.fitRate(&a.sides)
	if err != nil {
		return "no fit: " + plain(err)
	}
	n32 := int32(m.DFResidual)
	sigma, rSquared := m.Sigma, m.RSquaredWithin // copied: a pointer into the model would keep all of it
	a.Fit.Sigma, a.Fit.RSquared, a.Fit.DFResidual = &sigma, &rSquared, &n32
	a.Fit.DroppedTerms = joinTerms(m.Dropped)
	spread, err := r.rateSpread()
	if err != nil {
		return "no spread of stroke rate at fixed pace: " + plain(err)
	}
	a.Fit.RateSpread = &spread

	for _, c := range m.Coefficients(covariance, level) {
		if !(c.DF > 0) || c.StdError == 0 {
			continue // no contrast between sessions bears on it, or an exact fit
		}
		a.Coefficients = append(a.Coefficients, schemas.Coefficient{
			Swimmer: a.Row.Swimmer, Stroke: a.Row.Stroke, Design: a.Row.Design, Model: modelScore,
			Term: c.Term, Estimate: c.Estimate, StdError: c.StdError, Statistic: c.Statistic, DF: c.DF,
			PValue: c.PValue, ConfLow: c.ConfLow, ConfHigh: c.ConfHigh, N: int32(m.N),
		})
		if c.Term == termRate {
			a.effect = per10(r.carryUsual(c, curvatureOf(m)))
			a.setEffect()
		}
	}
	if a.Row.EffectPer10Pct == nil {
		return "stroke rate moves with pace and minutes, so that its part in the cost cannot be told"
	}
	a.free(r, m, counts, w)
	both := false
	a.steady = steadyShare(r.bouts)
	if a.sides.bothDearer() {
		both = true
	}
	a.setPartial(m)
	a.confounders(r, m)
	a.concordance(r, s, w)
	w.order(r)
	reason := a.tooLittle(r, s, spread)
	if both && reason == "" {
		w.add("cost rises on both sides of the usual rate, so that the slope alone would mislead")
	}
	return reason
}

// curvatureP is the p of the curvature below which the slope is read from the
// curved model. It is generous: a valley that is missed bends the slope, while
// a curve too many only widens its interval. The trial holds coverage under
// straight truths and valleys alike.
const curvatureP = 0.2

// fitRate fits the model, straight or curved, with its covariance. The sides
// are those of the curved model where it can be had, whichever is chosen: that
// nothing matters is only said where a valley would have been seen.
func (r *rows) fitRate(both *sides) (*linear.Model, linear.Covariance, error) {
	straight, covariance, err := r.fitCost(r.straight())
	if err != nil {
		return nil, covariance, err
	}
	*both = newSides(straight, covariance)
	curved, curvedCovariance, err := r.fitCost(r.curved())
	if err != nil {
		return straight, covariance, nil // too few bouts for a curve: the line stands
	}
	c, err := curved.Coefficient(termRateSquared, curvedCovariance, level)
	if err != nil {
		return straight, covariance, nil
	}
	*both = newSides(curved, curvedCovariance)
	if c.PValue < curvatureP {
		return curved, curvedCovariance, nil
	}
	return straight, covariance, nil
}

// tooLittle says in words why the numbers are not enough for a verdict.
func (a *Answer) tooLittle(r *rows, s *study.Study, spread float64) string {
	switch {
	case r.sessions < s.Analysis.MinSessions:
		return fmt.Sprintf("%s with two bouts or more, fewer than %d", count(r.sessions, "session"), s.Analysis.MinSessions)
	case len(r.bouts) < s.Analysis.MinBouts:
		return fmt.Sprintf("%s, fewer than %d", count(len(r.bouts), "usable bout"), s.Analysis.MinBouts)
	case spread < s.Analysis.MinRateSpread:
		return fmt.Sprintf("stroke rate varies by %.1f %% at fixed pace, less than %.1f %%", 100*spread, 100*s.Analysis.MinRateSpread)
	case s.Analysis.ReferencePace > 0 && !r.swimsReference():
		return "the study's reference pace lies outside the paces of these bouts"
	case r.paceFollowsOrder():
		return "pace and order in the session go together, so that tiredness cannot be told from speed"
	case r.followsOrder(r.rate) > inseparableRate:
		return "stroke rate and order in the session go together, so that tiredness cannot be told from it: shuffle the rates"
	case a.effect.DF < FewestDF:
		return tooFewSessions(a.effect.DF)
	}
	return ""
}

func per10(c linear.Coefficient) linear.Coefficient {
	c.Estimate *= per10Percent
	c.StdError *= per10Percent
	c.ConfLow *= per10Percent
	c.ConfHigh *= per10Percent
	return c
}

func (a *Answer) setEffect() {
	c := a.effect
	a.Row.EffectPer10Pct, a.Row.StdError = &c.Estimate, &c.StdError
	a.Row.EffectLow, a.Row.EffectHigh = &c.ConfLow, &c.ConfHigh
	a.Row.DF, a.Row.PValue = &c.DF, &c.PValue
}

// setPartial fills in the correlation at fixed pace and the robustness value,
// which is read from the ordinary t statistic as its authors define it.
func (a *Answer) setPartial(m *linear.Model) {
	if partial, _, err := m.PartialCorrelation(termRate); err == nil {
		a.Row.PartialR = &partial
	}
	ordinary, err := m.Coefficient(termRate, m.Classical(), level)
	if err != nil {
		return
	}
	if value, err := linear.RobustnessValue(ordinary.Statistic, float64(m.DFResidual)); err == nil {
		a.Row.RobustnessValue = &value
	}
}

// rateSpread is the standard deviation of ln R that is left within a session
// at fixed pace, drift and stratum.
func (r *rows) rateSpread() (float64, error) {
	m, err := linear.Fit(linear.Problem{Response: r.lnRate, Terms: r.terms, Columns: r.columns, Absorb: r.session})
	if errors.Is(err, linear.ErrNoVariance) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	return m.Sigma, nil
}

// swimsReference reports whether the reference pace lies within the paces of
// the bouts, or within a matched pair's 2 % of them.
func (r *rows) swimsReference() bool {
	return slices.Min(r.lnSpeed) <= 0.02 && slices.Max(r.lnSpeed) >= -0.02
}

// inseparable is the correlation of pace and drift within sessions above
// which a model that holds both only guesses which is which: a variance
// inflation of 5 and more (common practice, no source).
const inseparable = 0.9

// inseparableRate is the same for rate and order. It is stricter: tiredness
// that no term catches goes straight into the rate's effect.
const inseparableRate = 0.8

// paceFollowsOrder reports whether pace rises or falls with order in nearly
// every session (ascending or descending sets).
func (r *rows) paceFollowsOrder() bool { return r.followsOrder(r.lnSpeed) > inseparable }

// followsOrder is how strongly a column rises or falls with order within
// sessions, whether tiredness grows with the minutes or with their logarithm.
func (r *rows) followsOrder(column []float64) float64 {
	minutes := make([]float64, len(r.lnMinutes))
	for i, l := range r.lnMinutes {
		minutes[i] = math.Expm1(l)
	}
	return math.Max(math.Abs(withinCorrelation(r.session, r.sessions, column, r.lnMinutes)),
		math.Abs(withinCorrelation(r.session, r.sessions, column, minutes)))
}

// withinCorrelation is the correlation of x and y about their session means,
// 0 where one of them does not vary.
func withinCorrelation(session []int, sessions int, x, y []float64) float64 {
	cx, cy := centred(session, sessions, x), centred(session, sessions, y)
	var xx, yy, xy float64
	for i := range cx {
		xx += cx[i] * cx[i]
		yy += cy[i] * cy[i]
		xy += cx[i] * cy[i]
	}
	if xx == 0 || yy == 0 {
		return 0
	}
	return xy / math.Sqrt(xx*yy)
}

func centred(session []int, sessions int, x []float64) []float64 {
	sum, n := make([]float64, sessions), make([]float64, sessions)
	for i, k := range session {
		sum[k] += x[i]
		n[k]++
	}
	c := make([]float64, len(x))
	for i, k := range session {
		c[i] = x[i] - sum[k]/n[k]
	}
	return c
}

func countDesigned(bouts []*derive.Bout) int {
	n := 0
	for _, b := range bouts {
		if b.Designed {
			n++
		}
	}
	return n
}

func median(values []float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	sorted := append([]float64{}, values...)
	sort.Float64s(sorted)
	middle := len(sorted) / 2
	if len(sorted)%2 == 1 {
		return sorted[middle]
	}
	return (sorted[middle-1] + sorted[middle]) / 2
}
