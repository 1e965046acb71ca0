package analyse

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
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

	content       uint64 // hash of the bouts' numbers: an order free of names
	enough        bool   // enters the family and the pool
	effect        linear.Coefficient
	concordanceSE float64 // NaN when there is none
	raw           rawBouts
	pooledOver    keyCounts
	common        *commonPace
}

// Swimmer answers for one swimmer: every stroke of the study under every
// design that has bouts. bouts are all bouts of the swimmer in order of
// swimming; they are read only.
//
// The model, within session: cost = session + stratum + b1 x + b2 x^2 +
// g ln(1 + minutes) + d ln R + error, x = ln v - ln v_ref; sessions are
// absorbed, errors are CR2 by session with Satterthwaite degrees of freedom
// (Bell and McCaffrey 2002; Pustejovsky and Tipton 2018). The primary number
// is d ln 1.1, cost per 10 % more strokes a minute at the reference pace.
func Swimmer(bouts []derive.Bout, s *study.Study) []Answer {
	var answers []Answer
	for _, stroke := range s.Analysis.Strokes {
		everything, _ := usable(bouts, stroke, All)
		reference := referenceSpeed(everything, s)
		for _, d := range Designs() {
			picked, dropped := usable(bouts, stroke, d)
			if len(picked) == 0 && len(dropped) == 0 {
				continue
			}
			if d == All && (countDesigned(picked) == 0 || countDesigned(picked) == len(picked)) {
				continue // one kind only: the answer stands there already
			}
			answers = append(answers, answer(picked, dropped, bouts[0].Swimmer, stroke, d, reference, s))
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

func answer(bouts []*derive.Bout, dropped map[string]int, swimmer, stroke string, d Design, reference float64, s *study.Study) Answer {
	r := newRows(bouts, reference, s, d)
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
		content:       resample.SeedOf(s.Seed, "content/"+stroke+"/"+string(d), r.cost, r.lnSpeed, r.lnRate, r.lnMinutes),
		concordanceSE: math.NaN(),
		pooledOver:    keys,
	}
	if len(bouts) == 0 {
		a.refuse("no usable bouts: " + tally(dropped))
		return a
	}
	pace := derive.Pace(reference)
	a.Fit.ReferencePace = &pace
	var w warnings
	w.design(d)
	w.sources(bouts, s.Cost.Measure)
	a.raw = newRawBouts(r)
	a.rawCorrelation(r, s, &w)
	if reason := a.fit(r, s, &w); reason != "" {
		a.refuse(reason)
	} else {
		a.enough = true
		a.common = newCommonPace(r)
	}
	a.Row.Warnings, a.Fit.Warnings = w.String(), w.String()
	for i := range a.Coefficients {
		a.Coefficients[i].Warnings = a.Row.Warnings
	}
	return a
}

func (a *Answer) refuse(reason string) {
	a.Row.Verdict = string(TooLittleData)
	a.Row.Reason = &reason
}

// fit fills in the model's numbers and returns why there can be no verdict,
// "" when there can. Numbers that could be had are kept either way.
func (a *Answer) fit(r *rows, s *study.Study, w *warnings) string {
	terms, columns := r.withRate()
	m, err := linear.Fit(linear.Problem{Response: r.cost, Terms: terms, Columns: columns, Absorb: r.session, Cluster: r.session})
	if err != nil {
		return "no fit: " + plain(err)
	}
	n32 := int32(m.DFResidual)
	a.Fit.Sigma, a.Fit.RSquared, a.Fit.DFResidual = &m.Sigma, &m.RSquaredWithin, &n32
	a.Fit.DroppedTerms = joinTerms(m.Dropped)
	spread, err := r.rateSpread()
	if err != nil {
		return "no spread of stroke rate at fixed pace: " + plain(err)
	}
	a.Fit.RateSpread = &spread

	covariance, err := m.Clustered(linear.CR2)
	if err != nil {
		return "no standard error: " + plain(err)
	}
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
			a.effect = per10(c)
			a.setEffect()
		}
	}
	if a.Row.EffectPer10Pct == nil {
		return "stroke rate cannot be told from " + joinTerms(r.terms)
	}
	a.setPartial(m)
	a.concordance(r, s, w)
	w.order(r)
	return a.tooLittle(r, s, spread)
}

// tooLittle says in words why the numbers are not enough for a verdict.
func (a *Answer) tooLittle(r *rows, s *study.Study, spread float64) string {
	switch {
	case r.informative() < s.Analysis.MinSessions:
		return fmt.Sprintf("%s with two bouts or more, fewer than %d", count(r.informative(), "session"), s.Analysis.MinSessions)
	case len(r.bouts) < s.Analysis.MinBouts:
		return fmt.Sprintf("%s, fewer than %d", count(len(r.bouts), "usable bout"), s.Analysis.MinBouts)
	case spread < s.Analysis.MinRateSpread:
		return fmt.Sprintf("stroke rate varies by %.1f %% at fixed pace, less than %.1f %%", 100*spread, 100*s.Analysis.MinRateSpread)
	case r.paceFollowsOrder():
		return "pace and order in the session go together, so that tiredness cannot be told from speed"
	case a.effect.DF < fewestDF:
		return fmt.Sprintf("%.1f degrees of freedom, fewer than %d", a.effect.DF, fewestDF)
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

// informative counts the sessions with two bouts or more: a session of one
// bout says nothing within itself.
func (r *rows) informative() int {
	bouts := make([]int, r.sessions)
	n := 0
	for _, k := range r.session {
		if bouts[k]++; bouts[k] == 2 {
			n++
		}
	}
	return n
}

// inseparable is the correlation of pace and drift within sessions above
// which a model that holds both only guesses which is which: a variance
// inflation of 5 and more (common practice, no source).
const inseparable = 0.9

// paceFollowsOrder reports whether pace rises or falls with order in nearly
// every session (ascending or descending sets), whether tiredness grows with
// the minutes or with their logarithm.
func (r *rows) paceFollowsOrder() bool {
	minutes := make([]float64, len(r.lnMinutes))
	for i, l := range r.lnMinutes {
		minutes[i] = math.Expm1(l)
	}
	return math.Abs(withinCorrelation(r.session, r.sessions, r.lnSpeed, r.lnMinutes)) > inseparable ||
		math.Abs(withinCorrelation(r.session, r.sessions, r.lnSpeed, minutes)) > inseparable
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
