package analyse

import (
	"math"
	"slices"
	"strconv"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/linear"
	"lengthwise/stats/multiplicity"
	"lengthwise/stats/resample"
)

// comparedRates are the rates that cost is compared at, in % of the usual one.
func comparedRates() []float64 { return []float64{80, 90, 110, 120} }

// CostByRate is one swimmer's costs at several rates, under one stroke and
// design, with what the squad's need of them.
type CostByRate struct {
	Rows []schemas.CostByRate // one for each of comparedRates

	content uint64    // hash of the bouts' numbers: an order free of names
	small   *rateRows // the bouts themselves, where they are few; else nil
}

// Where the rates of a comparison come from.
const (
	ratesSet     = "set"
	ratesCounted = "counted"
)

const (
	// nearRate is how far, in % of the usual rate, a bout's rate may be from one
	// that is compared to count as swum there; nearest bouts in nearSessions
	// sessions make a rate that was swum.
	nearRate     = 5.0
	nearest      = 3
	nearSessions = 2
)

// costByRate compares what a swimmer pays at 80, 90, 110 and 120 % of the usual
// rate with what the usual rate costs, at the same pace and within sessions. It
// takes no form for granted: cost runs in straight lines from one of these rates
// to the next, so that what holds below the usual rate says nothing of what
// holds above it. Only rates that were swum are compared.
//
// Where rates were set, each bout is taken at the rate that what was set for it
// led to on average: no counting error enters.
func costByRate(bouts []derive.Bout, s *study.Study) []CostByRate {
	var out []CostByRate
	for _, stroke := range s.Analysis.Strokes {
		everything, _ := usable(bouts, stroke, All)
		usual := newUsualRate(everything, referenceSpeed(everything, s))
		recorder := newRecorderError(bouts, stroke)
		for _, d := range []Design{Observed, Designed} {
			picked, _ := usable(bouts, stroke, d)
			counted, _ := knownBasis(picked)
			kept, _ := informative(counted)
			if len(kept) == 0 {
				continue
			}
			r := newRows(kept, usual, s, d)
			c := CostByRate{content: resample.SeedOf(s.Seed, "cost-by-rate/"+stroke+"/"+string(d), r.cost, r.lnSpeed, r.lnRate)}
			base := schemas.CostByRate{Scope: OneSwimmer, Swimmer: bouts[0].Swimmer, Stroke: stroke, Design: string(d),
				RatesFrom: ratesCounted, Bouts: int32(len(kept)), Sessions: int32(r.sessions), Swimmers: 1}
			c.Rows, c.small = r.compare(base, usual, newCountError(r, recorder, s.Analysis), s)
			out = append(out, c)
		}
	}
	return out
}

// compare makes the rows of one swimmer, stroke and design, and keeps the bouts
// where they are few.
func (r *rows) compare(base schemas.CostByRate, usual usualRate, counts countError, s *study.Study) ([]schemas.CostByRate, *rateRows) {
	var w warnings
	w.design(Design(base.Design))
	w.sources(r.bouts, s.Cost.Measure)
	rate := r.rate
	if set := r.ledTo(Design(base.Design)); set != nil {
		rate, base.RatesFrom = set, ratesSet
	} else if reliability := counts.reliability(r); !(reliability >= slopeReliability) {
		w.add("counting error hides part of how the rates differ: differences read too small")
	}
	base.Warnings = w.String()
	rows := make([]schemas.CostByRate, 0, len(comparedRates()))
	var compared []float64
	for _, percent := range comparedRates() {
		row := base
		row.RatePctOfUsual = percent
		near, sessions := r.swumNear(rate, percent)
		row.BoutsNear = int32(near)
		if near >= nearest && sessions >= nearSessions && reaches(rate, percent) {
			compared = append(compared, percent)
		} else {
			reason := "too few bouts at that rate"
			row.Reason = &reason
		}
		rows = append(rows, row)
	}
	r.fillIn(rows, rate, compared, usual, s)
	return rows, newRateRows(r, rate)
}

// ledTo is the rate that what was set led to on average, for each row: the
// counted rate regressed on what was set, or what was set itself where the bouts
// are too few to tell. It is nil where nothing was set, or where the rates swum
// hardly follow it.
func (r *rows) ledTo(d Design) []float64 {
	set := r.settings()
	if d != Designed || set == nil {
		return nil
	}
	switch bound := r.boundedReliability(set); {
	case math.IsNaN(bound):
		return set
	case bound < leastReliability:
		return nil
	}
	one, squared := make([]float64, len(set)), make([]float64, len(set))
	for i, z := range set {
		one[i], squared[i] = 1, z*z
	}
	m, err := linear.Fit(linear.Problem{Response: r.rate, Terms: []string{"level", "set", "set_squared"}, Columns: [][]float64{one, set, squared}})
	if err != nil {
		return nil
	}
	led := make([]float64, len(set))
	for i, residual := range m.Residuals {
		led[i] = r.rate[i] - residual
	}
	return led
}

// swumNear counts the bouts near a rate, and their sessions.
func (r *rows) swumNear(rate []float64, percent float64) (bouts, sessions int) {
	seen := map[int]struct{}{}
	for i, v := range rate {
		if math.Abs(100*math.Exp(v)-percent) <= nearRate {
			bouts++
			seen[r.session[i]] = struct{}{}
		}
	}
	return bouts, len(seen)
}

// reaches reports whether the rates swum come within half of nearRate of a rate,
// on the far side of the usual one.
func reaches(rate []float64, percent float64) bool {
	low, high := 100*math.Exp(quantile(rate, 0.02)), 100*math.Exp(quantile(rate, 0.98))
	return low <= percent+nearRate/2 && high >= percent-nearRate/2
}

// hats are the columns of a curve that runs straight from knot to knot, and on
// beyond the last: the column of a knot is 1 there and 0 at all others. knots
// ascend; the usual rate, 0, is one of them without a column.
func hats(rate, knots []float64) [][]float64 {
	all := append(slices.Clone(knots), 0)
	slices.Sort(all)
	columns := make([][]float64, len(all))
	for k := range columns {
		columns[k] = make([]float64, len(rate))
	}
	for i, v := range rate {
		right := 1
		for right < len(all)-1 && v > all[right] {
			right++
		}
		share := (v - all[right-1]) / (all[right] - all[right-1])
		columns[right-1][i], columns[right][i] = 1-share, share
	}
	usual := slices.Index(all, 0)
	return slices.Delete(columns, usual, usual+1)
}

// knotsOf is ln of rates in % over the usual one.
func knotsOf(compared []float64) []float64 {
	knots := make([]float64, len(compared))
	for k, percent := range compared {
		knots[k] = math.Log(percent / 100)
	}
	return knots
}

// fillIn fits the curve and fills in the rows of its knots.
func (r *rows) fillIn(rows []schemas.CostByRate, rate, compared []float64, usual usualRate, s *study.Study) {
	refuse := func(reason string) {
		for k := range rows {
			if rows[k].Reason == nil {
				rows[k].Reason = &reason
			}
		}
	}
	if len(compared) == 0 {
		return
	}
	if r.sessions < s.Analysis.MinSessions || len(r.bouts) < s.Analysis.MinBouts {
		refuse("too few sessions or bouts: " + count(len(r.bouts), "bout") + " in " + count(r.sessions, "session"))
		return
	}
	terms, columns := slices.Clone(r.terms), slices.Clone(r.columns)
	for k, column := range hats(rate, knotsOf(compared)) {
		terms = append(terms, rateTerm(compared[k]))
		columns = append(columns, column)
	}
	m, covariance, err := r.fitCost(terms, columns)
	if err != nil {
		refuse("no fit: " + plain(err))
		return
	}
	atUsual := mean(r.cost)
	for k, term := range m.Terms {
		if j := slices.Index(terms, term); j >= len(r.terms) || term == termSpeed || term == termSpeedSquared {
			atUsual -= m.Estimates[k] * mean(columns[j]) // read at the usual rate and the reference pace
		}
	}
	var done []int
	var p []float64
	for k := range rows {
		row := &rows[k]
		if row.Reason != nil {
			continue
		}
		c, err := m.Coefficient(rateTerm(row.RatePctOfUsual), covariance, level)
		if err != nil || !(c.StdError > 0) || c.DF < FewestDF {
			reason := "too few sessions tell this rate from the usual one"
			row.Reason = &reason
			continue
		}
		// Were the usual rate another, so would be the place where both costs are read.
		steeper := steepness(m, row.RatePctOfUsual, compared) - steepness(m, 100, compared)
		variance, usualDF := usual.variance(0)
		added := variance * steeper * steeper
		c.DF = summedDF(c.StdError*c.StdError, c.DF, added, usualDF)
		c.StdError = math.Sqrt(c.StdError*c.StdError + added)
		c = tested(c)
		row.Change, row.StdError, row.DF, row.PValue = &c.Estimate, &c.StdError, &c.DF, &c.PValue
		row.ConfLow, row.ConfHigh, row.CostAtUsual = &c.ConfLow, &c.ConfHigh, &atUsual
		if atUsual > 0 && s.Cost.Measure != "rpe" {
			row.ChangePct, row.ChangePctLow, row.ChangePctHigh = percentOf(c.Estimate, atUsual), percentOf(c.ConfLow, atUsual), percentOf(c.ConfHigh, atUsual)
		}
		done, p = append(done, k), append(p, c.PValue)
	}
	if adjusted, err := multiplicity.Holm(p); err == nil {
		for i, k := range done {
			rows[k].PHolm = &adjusted[i]
		}
	}
}

// steepness is the slope of the curve at a rate: the mean of the stretches to
// either side, or that of the only one.
func steepness(m *linear.Model, percent float64, compared []float64) float64 {
	knots := append(slices.Clone(compared), 100)
	slices.Sort(knots)
	value := func(k int) float64 {
		if at := slices.Index(m.Terms, rateTerm(knots[k])); at >= 0 {
			return m.Estimates[at]
		}
		return 0 // the usual rate
	}
	at := slices.Index(knots, percent)
	var sum, n float64
	for k := max(0, at-1); k < min(at+1, len(knots)-1); k++ {
		sum += (value(k+1) - value(k)) / math.Log(knots[k+1]/knots[k])
		n++
	}
	return sum / n
}

// rateTerm names the column of a rate that is compared.
func rateTerm(percent float64) string {
	return "rate " + strconv.FormatFloat(percent, 'f', -1, 64) + " %"
}

// percentOf is v in % of whole.
func percentOf(v, whole float64) *float64 { return finite(100 * v / whole) }
