package analyse

import (
	"fmt"
	"math"
	"slices"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/linear"
	"lengthwise/stats/ratio"
)

// Shapes of a set of turning points, in the words of the table.
const (
	setBounded   = "bounded"
	setTwoRays   = "two-rays"
	setWholeLine = "whole-line"
	setNone      = "none"
)

// Places of the cheapest rate.
const (
	placeWithin    = "within"
	placeSlowest   = "at-or-beyond-slowest"
	placeQuickest  = "at-or-beyond-quickest"
	placeEitherEnd = "either-end"
	placeOpen      = "open"
)

// What a curve does where it turns, and on which side of the usual rate bouts
// were cheaper.
const (
	turnMinimum      = "minimum"
	turnMaximum      = "maximum"
	turnNone         = "none"
	directionQuicker = "quicker"
	directionSlower  = "slower"
	directionOpen    = "open"
)

// economicalRate asks at which stroke rate each pace is cheapest. The curve is
// that of the score's model (rows.curved): cost along r = ln R - ln R_usual, its
// square, and its product with pace, with which the cheapest rate moves. It
// turns at r = -(d + m x)/(2 c) at pace x, known by its Fieller set (Fieller
// 1954) under CR2 errors by session.
//
// From designed bouts a rate may be named; from observed ones comes a direction
// at most. Swimmers on medication that alters heart rate get neither.
func economicalRate(p Person, bouts []derive.Bout, s *study.Study) []schemas.EconomicalRate {
	var out []schemas.EconomicalRate
	for _, stroke := range s.Analysis.Strokes {
		everything, _ := usable(bouts, stroke, All)
		usual := newUsualRate(everything, referenceSpeed(everything, s))
		recorder := newRecorderError(bouts, stroke)
		for _, d := range []Design{Observed, Designed} {
			picked, _ := usable(bouts, stroke, d)
			counted, unknown := knownBasis(picked)
			if len(counted) > 0 {
				picked = counted
			}
			kept, _ := informative(picked)
			if len(kept) == 0 {
				continue
			}
			e := economy{person: p, study: s, design: d, usual: usual, rows: newRows(kept, usual, s, d),
				freed: freed{correction: correctedNone, reliability: math.NaN(), from: errorUnknown}}
			switch {
			case len(counted) == 0:
				e.noFit = unknownCounts
			default:
				e.fit(recorder)
				if unknown > 0 {
					e.warnings.add(count(unknown, "bout") + " left out, since it is not known whether arms or cycles were counted")
				}
			}
			for _, pace := range e.paces() {
				row := e.row(pace)
				row.Swimmer, row.Stroke = bouts[0].Swimmer, stroke
				out = append(out, row)
			}
		}
	}
	return out
}

// unknownCounts is why bouts of which nobody knows what was counted have no usual
// rate that theirs could be compared with.
const unknownCounts = "it is not known whether arms or cycles were counted: say so in the study file (stroke_count) or the sheet (count)"

// economy is one curve with what is needed to read it.
type economy struct {
	person Person
	study  *study.Study
	design Design
	usual  usualRate
	rows   *rows

	noFit       string // why there is no curve
	plain, best rateCurve
	freed       freed
	withheld    string // why nothing is named although there is a curve
	warnings    warnings
}

// fit fits the curve, plain and corrected for counting error, and chooses the
// one that the row's numbers come from.
func (e *economy) fit(recorder recorderError) {
	r := e.rows
	e.warnings.design(e.design)
	e.warnings.sources(r.bouts, e.study.Cost.Measure)
	m, covariance, err := r.fitCost(r.curved())
	if err != nil {
		e.noFit = "no curve: " + plain(err)
		return
	}
	if e.plain, err = newRateCurve(m, covariance); err != nil {
		e.noFit = "no curve: stroke rate takes too few values at a fixed pace"
		return
	}
	e.best = e.plain
	e.freed = r.free(m, newCountError(r, recorder, e.study.Analysis), e.design)
	switch {
	case e.freed.correction != correctedNone:
		e.best = e.freed.curve
	case math.IsNaN(e.freed.reliability):
		e.withheld = "how far the recorder miscounts is not known: count some swims by hand on a lane sheet beside it, or state count_error_length in the study file"
	case e.freed.reliability <= enoughReliability:
		e.withheld = fmt.Sprintf("the reliability of the stroke rate at a fixed pace is %.2f, and counting error could not be corrected", e.freed.reliability)
	}
}

// economyPace is a pace that is reported.
type economyPace struct {
	role string
	x    float64 // ln v - ln v_ref
}

// leastPaceStep is how far, in ln speed, a further pace must lie from the
// reference to be told apart from it: 2 %, as for matched pairs.
const leastPaceStep = 0.02

// paces are the reference pace, or the middle of those swum where it is not
// among them, and the slow and quick ends of those swum (one bout in ten lies
// beyond), where they are another pace.
func (e *economy) paces() []economyPace {
	x := e.rows.lnSpeed
	middle := economyPace{role: "reference"}
	if !e.rows.swimsReference() {
		middle.x = median(x)
	}
	out := []economyPace{middle}
	if slow := quantile(x, 0.1); slow < middle.x-leastPaceStep {
		out = append(out, economyPace{"slower", slow})
	}
	if quick := quantile(x, 0.9); quick > middle.x+leastPaceStep {
		out = append(out, economyPace{"quicker", quick})
	}
	return out
}

// nearPace is how far, in ln speed, a bout may be from a pace to count among the
// rates swum there; with fewer than nearBouts of them all bouts count.
const (
	nearPace  = 0.03
	nearBouts = 10
)

// swum is the range of rates swum near pace x, as r: without the outermost 5 %
// of bouts at either end, which a miscount may have put there.
func (e *economy) swum(x float64) (low, high float64) {
	var near []float64
	for i, pace := range e.rows.lnSpeed {
		if math.Abs(pace-x) <= nearPace {
			near = append(near, e.rows.rate[i])
		}
	}
	if len(near) < nearBouts {
		near = e.rows.rate
	}
	return quantile(near, 0.05), quantile(near, 0.95)
}

// row reads the curve at one pace.
func (e *economy) row(pace economyPace) schemas.EconomicalRate {
	r := e.rows
	row := schemas.EconomicalRate{
		Design: string(e.design), PaceRole: pace.role, PaceSPer100M: derive.Pace(e.usual.referenceMPS * math.Exp(pace.x)),
		UsualFrom: "all", SetType: setNone, PlainSetType: setNone, Turn: turnNone, Place: placeOpen, Direction: directionOpen,
		Correction: e.freed.correction, ReliabilityFrom: e.freed.from, Reliability: finite(e.freed.reliability),
		Bouts: int32(len(r.bouts)), Sessions: int32(r.sessions), PooledOver: countKeys(r.bouts).String(),
	}
	switch {
	case e.usual.own:
		row.UsualFrom = "own"
	case e.usual.set:
		row.UsualFrom = "set"
	}
	reason := ""
	if e.noFit != "" {
		reason = e.noFit
	} else {
		reason = e.read(&row, pace.x)
	}
	if e.design != Designed {
		withholdTurn(&row)
	}
	if e.medicated() {
		withhold(&row)
		reason = "the roster notes medication that alters heart rate: no rate is named"
	}
	if reason != "" {
		row.RatePctOfUsual, row.RateSPM, row.CostAtBest, row.StdError = nil, nil, nil, nil
		row.Reason = &reason
	}
	row.Warnings = e.warnings.String()
	return row
}

func (e *economy) medicated() bool {
	return e.person.RateAlteringMedication != nil && *e.person.RateAlteringMedication
}

// withholdTurn takes off a row what says at which rate cost turns: observed bouts
// show a direction at most.
func withholdTurn(row *schemas.EconomicalRate) {
	for _, p := range []**float64{&row.ConfLow, &row.ConfHigh, &row.PlainPctOfUsual, &row.PlainLow, &row.PlainHigh} {
		*p = nil
	}
	row.SetType, row.PlainSetType, row.Turn, row.Place = setNone, setNone, turnNone, placeOpen
}

// withhold takes everything off a row that could be taken for advice.
func withhold(row *schemas.EconomicalRate) {
	withholdTurn(row)
	for _, p := range []**float64{&row.SlopePer10Pct, &row.SlopeLow, &row.SlopeHigh, &row.CostAtUsual,
		&row.ScoreAdviceCost, &row.ScoreAdviceLow, &row.ScoreAdviceHigh} {
		*p = nil
	}
	row.Direction = directionOpen
}

// read fills in what the curve says at pace x and returns why no rate is named.
func (e *economy) read(row *schemas.EconomicalRate, x float64) string {
	r := e.rows
	low, high := e.swum(x)
	row.LowSwum, row.HighSwum, row.ScoreAdvice = percent(low), percent(high), percent(low)
	pool := r.bouts[0].PoolM
	if name := valuesOf(r.bouts, poolName)[0]; name != poolName(r.bouts[0]) {
		pool = r.bouts[slices.IndexFunc(r.bouts, func(b *derive.Bout) bool { return poolName(b) == name })].PoolM
	}
	usual := math.Exp(e.usual.at(x, pool))
	row.UsualRateSPM, row.PoolM = &usual, &pool

	b1, b2, _, _, _ := e.best.at(x)
	turn := -b1 / (2 * b2)
	df := r.degrees(math.Min(high, math.Max(low, turn)), x)
	if !(df > 0) {
		return "no curve: the sessions tell nothing of it together"
	}
	row.DF = &df
	e.slopes(row, x, low, df)
	place := e.place(x, low, high, df)
	point, err := e.best.turning(x, df, e.usual)
	if err != nil {
		return "no turning point: the curve has none"
	}
	row.ConfLow, row.ConfHigh, row.SetType = setOf(point.Set)
	row.Turn = turnMaximum
	if point.Minimum {
		row.Turn = turnMinimum
	}
	if plain, err := e.plain.turning(x, df, e.usual); err == nil {
		row.PlainLow, row.PlainHigh, row.PlainSetType = setOf(plain.Set)
		if plain.Minimum {
			row.PlainPctOfUsual = percent(plain.Estimate)
		}
	}
	level := e.levelAtUsual(x)
	row.CostAtUsual = &level
	if place == placeOpen && within(point, low, high) {
		place = placeWithin
	}
	row.Place = place
	if reason := e.tooLittle(df); reason != "" {
		row.Place = placeOpen
		return reason
	}
	switch {
	case e.design != Designed:
		row.Place = placeOpen
		return "swum as the swimmer liked: such bouts show a direction at most"
	case e.withheld != "":
		row.Place = placeOpen
		return e.withheld
	case place != placeWithin:
		return e.unnamed(place, point, low, high)
	}
	row.RatePctOfUsual = percent(point.Estimate)
	rate, best := usual*math.Exp(point.Estimate), level+b1*point.Estimate+b2*point.Estimate*point.Estimate
	row.RateSPM, row.CostAtBest = &rate, &best
	stdError := 100 * math.Exp(point.Estimate) * point.StdError
	row.StdError = &stdError
	return ""
}

// within reports whether a turning point is a cheapest rate among those swum: a
// minimum, from low to high, and known well enough that its set leaves out one end
// of them at least. A set wider than the rates swum tells none of them from another.
func within(point ratio.TurningPoint, low, high float64) bool {
	return point.Minimum && point.Set.Kind == ratio.Interval && low <= point.Estimate && point.Estimate <= high && !widerThan(point.Set, low, high)
}

func widerThan(set ratio.Set, low, high float64) bool { return set.Low < low && set.High > high }

// unnamed says why the turning point is not named, though all else allows it.
func (e *economy) unnamed(place string, point ratio.TurningPoint, low, high float64) string {
	switch {
	case place == placeSlowest:
		return "cost still falls at the slowest rate swum: the cheapest lies at or beyond it"
	case place == placeQuickest:
		return "cost still falls at the quickest rate swum: the cheapest lies at or beyond it"
	case place == placeEitherEnd:
		return "cost is highest between the rates swum: the cheapest lies at one of their ends or beyond"
	case point.Set.Kind != ratio.Interval:
		return "the curve is too flat for its errors: these bouts leave open at which rate it turns"
	case !point.Minimum:
		return "the curve turns at its dearest rate, not its cheapest"
	case widerThan(point.Set, low, high):
		return "the cheapest may lie anywhere among the rates swum, or beyond them"
	}
	return "the curve turns outside the rates swum, but not clearly so"
}

// place reads the slopes at the ends of the rates swum: cost that still falls
// there has its least at that end or beyond.
func (e *economy) place(x, low, high, df float64) string {
	_, lowest := limitsOf(e.best.slopeAt(high, x))(df)
	least, _ := limitsOf(e.best.slopeAt(low, x))(df)
	switch falls, rises := lowest < 0, least > 0; {
	case falls && rises:
		return placeEitherEnd
	case falls:
		return placeQuickest
	case rises:
		return placeSlowest
	}
	return placeOpen
}

func limitsOf(estimate, stdError float64) func(df float64) (low, high float64) {
	return func(df float64) (float64, float64) { return limits(estimate, stdError, df) }
}

// slopes fills in the slope at the usual rate, and what the score's advice costs.
func (e *economy) slopes(row *schemas.EconomicalRate, x, low, df float64) {
	slope, stdError := e.best.slopeAt(0, x)
	slope, stdError = slope*per10Percent, stdError*per10Percent
	slopeLow, slopeHigh := limits(slope, stdError, df)
	row.SlopePer10Pct, row.SlopeLow, row.SlopeHigh = &slope, &slopeLow, &slopeHigh
	switch {
	case slopeLow > 0:
		row.Direction = directionSlower
	case slopeHigh < 0:
		row.Direction = directionQuicker
	}
	if low < 0 {
		cost, stdError := e.best.change(low, x)
		costLow, costHigh := limits(cost, stdError, df)
		row.ScoreAdviceCost, row.ScoreAdviceLow, row.ScoreAdviceHigh = &cost, &costLow, &costHigh
	}
}

// tooLittle is why the curve is not enough for a rate to be named.
func (e *economy) tooLittle(df float64) string {
	a := e.study.Analysis
	r := e.rows
	spread, err := r.rateSpread()
	switch {
	case r.sessions < a.MinSessions:
		return fmt.Sprintf("%s with two bouts or more, fewer than %d", count(r.sessions, "session"), a.MinSessions)
	case len(r.bouts) < a.MinBouts:
		return fmt.Sprintf("%s, fewer than %d", count(len(r.bouts), "usable bout"), a.MinBouts)
	case err != nil || spread < a.MinRateSpread:
		return fmt.Sprintf("stroke rate varies by less than %.1f %% at fixed pace", 100*a.MinRateSpread)
	case r.followsOrder(r.rate) > inseparableRate:
		return "stroke rate and order in the session go together, so that tiredness cannot be told from it: shuffle the rates"
	case df < FewestDF:
		return tooFewSessions(df)
	}
	return ""
}

// levelAtUsual is the cost at the usual rate and pace x in an average session:
// the rate's part is taken off each bout's cost, and the rest fitted to the other
// terms, which are read at their means.
func (e *economy) levelAtUsual(x float64) float64 {
	r := e.rows
	adjusted := make([]float64, len(r.cost))
	for i, cost := range r.cost {
		b1, b2, _, _, _ := e.best.at(r.lnSpeed[i])
		adjusted[i] = cost - b1*r.rate[i] - b2*r.rate[i]*r.rate[i]
	}
	level := mean(adjusted)
	m, err := linear.Fit(linear.Problem{Response: adjusted, Terms: r.terms, Columns: r.columns, Absorb: r.session})
	if err != nil {
		return level // pace does not vary: the mean is at the only pace there is
	}
	for k, term := range m.Terms {
		column := r.columns[slices.Index(r.terms, term)]
		switch term {
		case termSpeed:
			level += m.Estimates[k] * (x - mean(column))
		case termSpeedSquared:
			level += m.Estimates[k] * (x*x - mean(column))
		}
	}
	return level
}

// setOf gives a set's ends in % of the usual rate, nil where it has none, and its
// shape. A half line, which only rounding tells from two rays, is one of those.
func setOf(s ratio.Set) (low, high *float64, shape string) {
	switch s.Kind {
	case ratio.Interval:
		return percent(s.Low), percent(s.High), setBounded
	case ratio.WholeLine:
		return nil, nil, setWholeLine
	}
	return percent(s.Low), percent(s.High), setTwoRays
}

// percent writes r as % of the usual rate, nil when that is no finite number.
func percent(r float64) *float64 { return finite(100 * math.Exp(r)) }

// quantile is the p-quantile of values by linear interpolation (type 7 of
// Hyndman and Fan 1996).
func quantile(values []float64, p float64) float64 {
	sorted := slices.Sorted(slices.Values(values))
	at := p * float64(len(sorted)-1)
	i := int(at)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}
