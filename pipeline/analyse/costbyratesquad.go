package analyse

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/linear"
	"lengthwise/stats/multiplicity"
	"lengthwise/stats/pooled"
)

// How a squad's difference was had.
const (
	twoStage = "two-stage" // pooled from swimmers' own
	oneModel = "one-model" // from all bouts of all swimmers at once
)

const (
	// fewestTwoStage is how few swimmers' own differences a squad's may rest on,
	// where all bouts together could answer instead; as few clusters make a model.
	fewestTwoStage = 5
	// keptForSquad is up to how many bouts a swimmer's are kept for the squad's
	// model: more of them have an answer of their own.
	keptForSquad = 200
)

// rateRows is what the squad's model needs of one swimmer's bouts.
type rateRows struct {
	session                  []int
	sessions                 int
	cost, lnSpeed, minutes   []float64
	rate                     []float64
	stratum, kick, equipment []string
	bouts                    int
}

func newRateRows(r *rows, rate []float64) *rateRows {
	if len(r.bouts) > keptForSquad {
		return nil
	}
	k := &rateRows{session: r.session, sessions: r.sessions, cost: r.cost, lnSpeed: r.lnSpeed, minutes: r.lnMinutes, rate: rate, bouts: len(r.bouts)}
	for _, b := range r.bouts {
		k.stratum, k.kick, k.equipment = append(k.stratum, b.CostStratum), append(k.kick, b.Tags.Kick), append(k.equipment, b.Tags.Equipment)
	}
	return k
}

// squadRates is one model of all swimmers' few bouts: cost on pace, minutes, what
// was noted and the rates compared, sessions absorbed, errors CR2 by swimmer.
type squadRates struct {
	model, share       *linear.Model // of the cost; of the cost in % of the swimmer's mean
	covariance, shares linear.Covariance
	compared           []float64
	near, who          map[float64]int32 // bouts near a rate and their swimmers
	swimmers, sessions int32
	bouts              int32
}

// newOneModel fits it, or gives nil where it cannot be had.
func newOneModel(family []CostByRate) *squadRates {
	var all rows
	var rate, percent []float64
	var swimmer []int
	m := &squadRates{near: map[float64]int32{}, who: map[float64]int32{}}
	var stand []derive.Bout // bouts that only carry what was noted
	for _, c := range family {
		k := c.small
		if k == nil {
			continue
		}
		level := mean(k.cost)
		for i := range k.cost {
			all.session = append(all.session, int(m.sessions)+k.session[i])
			percent, swimmer = append(percent, 100*k.cost[i]/level), append(swimmer, int(m.swimmers))
			b := derive.Bout{CostStratum: k.stratum[i]}
			b.Tags.Kick, b.Tags.Equipment = k.kick[i], k.equipment[i]
			stand = append(stand, b)
		}
		all.cost, all.lnSpeed = append(all.cost, k.cost...), append(all.lnSpeed, k.lnSpeed...)
		all.lnMinutes, rate = append(all.lnMinutes, k.minutes...), append(rate, k.rate...)
		for _, p := range comparedRates() {
			near := int32(0)
			for _, v := range k.rate {
				if math.Abs(100*math.Exp(v)-p) <= nearRate {
					near++
				}
			}
			m.near[p] += near
			if near > 0 {
				m.who[p]++
			}
		}
		m.swimmers, m.sessions, m.bouts = m.swimmers+1, m.sessions+int32(k.sessions), m.bouts+int32(k.bouts)
	}
	if m.swimmers < fewestTwoStage {
		return nil
	}
	for _, p := range comparedRates() {
		if m.who[p] >= fewestTwoStage && reaches(rate, p) {
			m.compared = append(m.compared, p)
		}
	}
	if len(m.compared) == 0 {
		return nil
	}
	for i := range stand {
		all.bouts = append(all.bouts, &stand[i])
	}
	all.layTerms(Designed) // one design, whichever it is
	terms, columns := slices.Clone(all.terms), slices.Clone(all.columns)
	for k, column := range hats(rate, knotsOf(m.compared)) {
		terms, columns = append(terms, rateTerm(m.compared[k])), append(columns, column)
	}
	fit := func(response []float64) (*linear.Model, linear.Covariance, error) {
		model, err := linear.Fit(linear.Problem{Response: response, Terms: terms, Columns: columns, Absorb: all.session, Cluster: swimmer})
		if err != nil {
			return nil, linear.Covariance{}, err
		}
		covariance, err := model.Clustered(linear.CR2)
		return model, covariance, err
	}
	var err error
	if m.model, m.covariance, err = fit(all.cost); err != nil {
		return nil
	}
	if m.share, m.shares, err = fit(percent); err != nil {
		m.share = nil
	}
	return m
}

// fillIn fills in the squad's row at a rate; false where the model has nothing of
// it.
func (m *squadRates) fillIn(row *schemas.CostByRate, percent float64) bool {
	if m == nil || !slices.Contains(m.compared, percent) {
		return false
	}
	c, err := m.model.Coefficient(rateTerm(percent), m.covariance, level)
	if err != nil || !(c.StdError > 0) || c.DF < FewestDF {
		return false
	}
	row.Method, row.Swimmers, row.Bouts, row.BoutsNear, row.Sessions = oneModel, m.swimmers, m.bouts, m.near[percent], m.sessions
	row.Change, row.StdError, row.DF, row.PValue, row.ConfLow, row.ConfHigh = &c.Estimate, &c.StdError, &c.DF, &c.PValue, &c.ConfLow, &c.ConfHigh
	if m.share == nil {
		return true
	}
	if s, err := m.share.Coefficient(rateTerm(percent), m.shares, level); err == nil && s.StdError > 0 {
		row.ChangePct, row.ChangePctLow, row.ChangePctHigh = &s.Estimate, &s.ConfLow, &s.ConfHigh
	}
	return true
}

// costByRateTable joins the swimmers' rows and pools them over the squad, rate by
// rate, in an order that only the swimmers' data fix.
func costByRateTable(swimmers []CostByRate, s *study.Study) []schemas.CostByRate {
	var out []schemas.CostByRate
	for _, c := range swimmers {
		out = append(out, c.Rows...)
	}
	for _, stroke := range s.Analysis.Strokes {
		for _, d := range []Design{Observed, Designed} {
			var family []CostByRate
			for _, c := range swimmers {
				if c.Rows[0].Stroke == stroke && c.Rows[0].Design == string(d) {
					family = append(family, c)
				}
			}
			if len(family) == 0 {
				continue
			}
			slices.SortStableFunc(family, func(a, b CostByRate) int { return cmp.Compare(a.content, b.content) })
			out = append(out, poolRates(family, stroke, d)...)
		}
	}
	return out
}

// poolRates pools a family's differences rate by rate: random effects by REML
// with bias-reduced intervals, and the percentages by themselves. Where fewer
// than fewestTwoStage swimmers have a difference of their own, all bouts of all
// swimmers together answer for the squad.
func poolRates(family []CostByRate, stroke string, d Design) []schemas.CostByRate {
	single := newOneModel(family)
	var rows []schemas.CostByRate
	var done []int
	var p []float64
	for k, percent := range comparedRates() {
		row := schemas.CostByRate{Scope: WholeSquad, Stroke: stroke, Design: string(d), RatePctOfUsual: percent}
		var w warnings
		w.design(d)
		var changes, variances, shares, shareVariances []float64
		for _, c := range family {
			own := c.Rows[k]
			if own.Change == nil {
				continue
			}
			changes, variances = append(changes, *own.Change), append(variances, *own.StdError**own.StdError)
			if own.ChangePct != nil {
				e := 100 * *own.StdError / *own.CostAtUsual
				shares, shareVariances = append(shares, *own.ChangePct), append(shareVariances, e*e)
			}
			row.Bouts, row.BoutsNear, row.Sessions = row.Bouts+own.Bouts, row.BoutsNear+own.BoutsNear, row.Sessions+own.Sessions
			if row.RatesFrom != ratesCounted {
				row.RatesFrom = own.RatesFrom
			}
			for _, text := range strings.Split(own.Warnings, "; ") {
				if strings.HasPrefix(text, "counting error") {
					w.add(text)
				}
			}
		}
		if len(changes) < fewestTwoStage && single.fillIn(&row, percent) {
			row.Warnings = w.String()
			done, p = append(done, k), append(p, *row.PValue)
			rows = append(rows, row)
			continue
		}
		row.Swimmers = int32(len(changes))
		options := squadAverage()
		fit, err := pooled.Fit(changes, variances, options)
		if len(changes) < 2 || err != nil {
			reason := "fewer than two swimmers swam that rate often enough"
			row.Reason, row.Warnings = &reason, w.String()
			rows = append(rows, row)
			continue
		}
		for _, text := range fit.Warnings {
			w.add(text)
		}
		row.Warnings, row.Method = w.String(), twoStage
		row.Change, row.StdError, row.PValue, row.DF = &fit.Estimate, &fit.StdError, &fit.PValue, &fit.DF
		row.ConfLow, row.ConfHigh, row.PredictLow, row.PredictHigh = &fit.ConfLow, &fit.ConfHigh, finite(fit.PredictLow), finite(fit.PredictHigh)
		row.Tau2, row.I2 = &fit.Tau2, &fit.I2
		if part, err := pooled.Fit(shares, shareVariances, options); err == nil {
			row.ChangePct, row.ChangePctLow, row.ChangePctHigh = &part.Estimate, &part.ConfLow, &part.ConfHigh
		}
		done, p = append(done, k), append(p, fit.PValue)
		rows = append(rows, row)
	}
	if adjusted, err := multiplicity.Holm(p); err == nil {
		for i, k := range done {
			rows[k].PHolm = &adjusted[i]
		}
	}
	return rows
}
