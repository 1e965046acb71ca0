package analyse

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/association"
	"lengthwise/stats/pooled"
)

// nullOf is what advice that is worth nothing would show, NaN for measures
// without one.
func nullOf(measure string) float64 {
	switch measure {
	case measureAgreement:
		return 0.5
	case measureWithCount:
		return math.NaN()
	}
	return 0
}

// AdviceRows lays out what every swimmer's bouts say of each score as advice,
// in the order given, and pools it over the squad.
func AdviceRows(all []advice, s *study.Study) ([]schemas.AdviceBySwimmer, []schemas.AdviceOverall) {
	var rows []schemas.AdviceBySwimmer
	for i := range all {
		rows = append(rows, all[i].rows()...)
	}
	var overall []schemas.AdviceOverall
	for _, stroke := range s.Analysis.Strokes {
		for _, d := range []Design{Observed, Designed} {
			var family []*advice
			for i := range all {
				if all[i].stroke == stroke && all[i].design == d {
					family = append(family, &all[i])
				}
			}
			if len(family) == 0 {
				continue
			}
			slices.SortStableFunc(family, func(a, b *advice) int { return cmp.Compare(a.content, b.content) })
			overall = append(overall, adviceOverall(family, s)...)
		}
	}
	return rows, overall
}

func (a *advice) rows() []schemas.AdviceBySwimmer {
	base := schemas.AdviceBySwimmer{Swimmer: a.swimmer, Stroke: a.stroke, Design: string(a.design), Bouts: a.bouts, Sessions: a.sessions,
		PooledOver: a.pooledOver.String(), Warnings: a.warnings}
	if a.missing != "" {
		adv := advisors()[0]
		base.Score, base.Direction, base.Test, base.Measure = adv.name, adv.direction, testAsSwum, measureAgreement
		base.Reason = &a.missing
		return []schemas.AdviceBySwimmer{base}
	}
	var rows []schemas.AdviceBySwimmer
	for _, adv := range advisors() {
		for _, r := range a.results {
			if r.advisor != adv.name {
				continue
			}
			row := base
			row.Score, row.Direction, row.Test, row.Measure, row.Pairs = adv.name, adv.direction, r.test, r.measure, r.pairs
			row.Estimate, row.StdError = finite(r.estimate), finite(r.interval.StdError)
			row.ConfLow, row.ConfHigh, row.Null = finite(r.interval.Low), finite(r.interval.High), finite(nullOf(r.measure))
			rows = append(rows, row)
		}
	}
	return rows
}

// adviceOverall pools each advisor's tests over the swimmers of one family.
func adviceOverall(family []*advice, s *study.Study) []schemas.AdviceOverall {
	base := schemas.AdviceOverall{Stroke: family[0].stroke, Design: string(family[0].design)}
	var rows []schemas.AdviceOverall
	for _, adv := range advisors() {
		for _, t := range []struct{ test, measure string }{
			{testAsSwum, measureAgreement}, {testPaceAdjusted, measureAgreement}, {testMatchedPace, measureAgreement},
			{testHeldOut, measureSkill}, {testHeldOut, measureEitherWay}, {testHeldOut, measureOverPace}, {testHeldOut, measureAddedToPace}, {testHeldOut, measureRank},
		} {
			if adv.name == speedAdvisor && (t.test == testMatchedPace || t.measure == measureOverPace || t.measure == measureAddedToPace) {
				continue
			}
			row := base
			row.Score, row.Direction, row.Test, row.Measure = adv.name, adv.direction, t.test, t.measure
			rows = append(rows, poolAdvice(family, row))
		}
		if adv.name != speedAdvisor {
			rows = append(rows, leastWithCount(family, base, adv))
		}
		rows = append(rows, betweenAdvice(family, base, adv, s)...)
	}
	return rows
}

func (a *advice) result(advisor, test, measure string) (adviceResult, bool) {
	for _, r := range a.results {
		if r.advisor == advisor && r.test == test && r.measure == measure {
			return r, true
		}
	}
	return adviceResult{}, false
}

// poolAdvice pools one number over the swimmers that have it and tests it
// against that of advice worth nothing: agreements by random effects (REML,
// bias-reduced), skills by their mean with Student's interval. A skill is
// exactly nothing, without any error, for a swimmer whose sessions all refuse
// the claimed direction; weights by error would leave just those out.
func poolAdvice(family []*advice, row schemas.AdviceOverall) schemas.AdviceOverall {
	null := nullOf(row.Measure)
	row.Null = &null
	dropped, keys := map[string]int{}, countKeys(nil)
	var estimates, variances []float64
	var w warnings
	w.design(Design(row.Design))
	for _, a := range family {
		r, ok := a.result(row.Score, row.Test, row.Measure)
		switch {
		case a.missing != "":
			dropped[a.missing]++
			continue
		case !ok:
			dropped["nothing to compare"]++
			continue
		case row.Measure == measureAgreement && !(r.interval.StdError > 0):
			dropped["no interval"]++
			continue
		}
		estimates = append(estimates, r.estimate-null)
		variances = append(variances, r.interval.StdError*r.interval.StdError)
		keys.add(a.pooledOver)
		row.Bouts += a.bouts
		row.Sessions += a.sessions
	}
	row.Swimmers, row.PooledOver = int32(len(estimates)), keys.String()
	row.NDropped, row.DroppedWhy = int32(total(dropped)), tally(dropped)
	if len(estimates) < 2 {
		reason := "fewer than two swimmers have enough data"
		row.Reason, row.Warnings = &reason, w.String()
		return row
	}
	if row.Measure != measureAgreement {
		row.Warnings = w.String()
		return meanAdvice(row, estimates)
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
		*v += null
	}
	row.Estimate, row.StdError, row.PValue = &fit.Estimate, &fit.StdError, &fit.PValue
	row.ConfLow, row.ConfHigh, row.PredictLow, row.PredictHigh = &fit.ConfLow, &fit.ConfHigh, &fit.PredictLow, &fit.PredictHigh
	row.Tau2, row.I2, row.Warnings = &fit.Tau2, &fit.I2, w.String()
	if row.Measure == measureAgreement {
		clampShare(row.ConfLow, row.ConfHigh, row.PredictLow, row.PredictHigh)
	}
	return row
}

// meanAdvice fills in the mean over swimmers with Student's interval.
func meanAdvice(row schemas.AdviceOverall, values []float64) schemas.AdviceOverall {
	n := float64(len(values))
	m := mean(values)
	var squares float64
	for _, v := range values {
		squares += (v - m) * (v - m)
	}
	row.Estimate = &m
	stdError := math.Sqrt(squares / (n - 1) / n)
	if !(stdError > 0) {
		return row // the same for all, as when every swimmer refuses the direction
	}
	reach := studentQuantile(n-1) * stdError
	low, high := m-reach, m+reach
	p := 2 * distuv.StudentsT{Sigma: 1, Nu: n - 1}.CDF(-math.Abs(m)/stdError)
	row.StdError, row.ConfLow, row.ConfHigh, row.PValue = &stdError, &low, &high, &p
	return row
}

// leastWithCount is the smallest size, over swimmers, of the correlation of a
// score with the stroke count at fixed pace: how nearly they are one variable.
func leastWithCount(family []*advice, row schemas.AdviceOverall, adv advisor) schemas.AdviceOverall {
	row.Score, row.Direction, row.Test, row.Measure = adv.name, adv.direction, testMatchedPace, measureWithCount
	least := math.Inf(1)
	dropped := map[string]int{}
	for _, a := range family {
		r, ok := a.result(adv.name, testMatchedPace, measureWithCount)
		if !ok {
			dropped[orNotStated(a.missing)]++
			continue
		}
		least = math.Min(least, math.Abs(r.estimate))
		row.Swimmers++
		row.Bouts += a.bouts
		row.Sessions += a.sessions
	}
	row.NDropped, row.DroppedWhy = int32(total(dropped)), tally(dropped)
	if row.Swimmers == 0 {
		reason := "no swimmer has enough data"
		row.Reason = &reason
		return row
	}
	row.Estimate = &least
	return row
}

// fewestBetween is how few swimmers a comparison of people may rest on.
const fewestBetween = 5

// betweenAdvice asks whether the swimmers whom a score calls the better ones
// swim at the lower cost, each at their usual paces: the correlation of their
// means, and the share of pairs of swimmers in which the advised one has the
// lower cost. Paces differ between swimmers, so that the scores are not one
// variable here.
func betweenAdvice(family []*advice, row schemas.AdviceOverall, adv advisor, s *study.Study) []schemas.AdviceOverall {
	row.Score, row.Direction, row.Test = adv.name, adv.direction, testBetween
	k := slices.IndexFunc(advisors(), func(a advisor) bool { return a.name == adv.name })
	var w warnings
	w.design(Design(row.Design))
	w.add("compares people, who differ in build, age, fitness and in the paces that they swim")
	if s.Cost.Measure == "bpm" {
		w.add("heart rates differ between people for reasons other than effort, so that heart-rate reserve is the safer cost here")
	}
	var dear, costs []float64
	dropped, keys := map[string]int{}, countKeys(nil)
	for _, a := range family {
		if a.usual == nil || math.IsNaN(a.usual[k]) {
			dropped["no bouts of steady heart rate and known counting basis"]++
			continue
		}
		dear, costs = append(dear, a.usual[k]), append(costs, a.usualCost)
		keys.add(a.pooledOver)
		row.Bouts += a.bouts
		row.Sessions += a.sessions
	}
	row.Swimmers, row.PooledOver, row.Warnings = int32(len(dear)), keys.String(), w.String()
	row.NDropped, row.DroppedWhy = int32(total(dropped)), tally(dropped)
	correlation, agreement := row, row
	correlation.Measure, agreement.Measure = measureCorrelations, measureAgreement
	correlation.Null, agreement.Null = finite(0), finite(0.5)
	refuse := func(reason string) []schemas.AdviceOverall {
		correlation.Reason, agreement.Reason = &reason, &reason
		return []schemas.AdviceOverall{correlation, agreement}
	}
	if len(dear) < fewestBetween {
		return refuse(fmt.Sprintf("fewer than %d swimmers", fewestBetween))
	}
	r, err := association.Pearson(dear, costs)
	if err != nil {
		return refuse("score or cost does not vary between swimmers")
	}
	correlation.Estimate = &r
	if low, high, err := association.FisherInterval(r, float64(len(dear)), level); err == nil {
		correlation.ConfLow, correlation.ConfHigh = &low, &high
	}
	if index, err := association.ConcordanceIndex(dear, costs); err == nil {
		agreement.Estimate = &index.C
		if index.StdError > 0 {
			reach := studentQuantile(float64(len(dear)-1)) * index.StdError
			low, high := index.C-reach, index.C+reach
			agreement.StdError, agreement.ConfLow, agreement.ConfHigh = &index.StdError, &low, &high
			clampShare(&low, &high)
		}
	}
	return []schemas.AdviceOverall{correlation, agreement}
}
