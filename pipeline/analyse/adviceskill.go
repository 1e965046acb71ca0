package analyse

import (
	"lengthwise/stats/concordance"
	"lengthwise/stats/heldout"
	"lengthwise/stats/resample"
)

// skill leaves each session out in turn and foretells its costs, centred
// among bouts alike, from each score alone. The score's weight is found on the
// other sessions, its direction is not: a weight against the claim is none.
func (r *rows) skill() ([]ratioResult, error) {
	groups, n := r.mixedGroups()
	if n == 0 {
		return nil, nil
	}
	list := advisors()
	// Columns: x, x^2 and ln minutes, then the advisors.
	const pace, paceSquared, minutes, firstAdvisor = 0, 1, 2, 3
	columns := make([][]float64, firstAdvisor+len(list))
	var session []int
	var cost []float64
	for _, group := range groups {
		for _, i := range group {
			session = append(session, r.session[i])
			cost = append(cost, r.cost[i])
			columns[pace] = append(columns[pace], r.lnSpeed[i])
			columns[paceSquared] = append(columns[paceSquared], r.lnSpeed[i]*r.lnSpeed[i])
			columns[minutes] = append(columns[minutes], r.lnMinutes[i])
			for k, adv := range list {
				columns[firstAdvisor+k] = append(columns[firstAdvisor+k], adv.dearness(r.bouts[i]))
			}
		}
	}
	for _, column := range append([][]float64{cost}, columns...) {
		centreGroups(column, groups)
	}
	rows, err := heldout.New(session, columns, cost)
	if err != nil {
		return nil, nil // one session: nothing to leave out
	}
	byPace, err := rows.Predict([]int{pace, paceSquared}, -1)
	if err != nil {
		return nil, err
	}
	base, err := rows.Predict([]int{pace, paceSquared, minutes}, -1)
	if err != nil {
		return nil, err
	}
	across, errAcross := concordance.NewPairs(r.session, r.comparable)
	var out []ratioResult
	for k, adv := range list {
		alone, err := rows.Predict([]int{firstAdvisor + k}, 0)
		if err != nil {
			return nil, err
		}
		free, err := rows.Predict([]int{firstAdvisor + k}, -1)
		if err != nil {
			return nil, err
		}
		added, err := rows.Predict([]int{pace, paceSquared, minutes, firstAdvisor + k}, 3)
		if err != nil {
			return nil, err
		}
		add := func(measure string, num, den []float64) {
			out = append(out, ratioResult{adviceResult: adviceResult{advisor: adv.name, test: testHeldOut, measure: measure},
				ratio: resample.Ratio{Num: padded(num, r.sessions), Den: padded(den, r.sessions)}, complement: true})
		}
		add(measureSkill, alone.Squared, rows.Nothing())
		add(measureEitherWay, free.Squared, rows.Nothing())
		if adv.name != speedAdvisor {
			add(measureOverPace, alone.Squared, byPace.Squared)
			add(measureAddedToPace, added.Squared, base.Squared)
		}
		if errAcross == nil {
			if ratio, ok := r.rank(across, adv, alone.Held); ok {
				out = append(out, ratioResult{adviceResult: adviceResult{advisor: adv.name, test: testHeldOut, measure: measureRank,
					pairs: int32(across.Len())}, ratio: ratio})
			}
		}
	}
	return out, nil
}

// rank is pairs in the right order less those in the wrong one, none in
// sessions for which the other sessions refuse the claimed direction.
func (r *rows) rank(pairs *concordance.Pairs, adv advisor, held []bool) (resample.Ratio, bool) {
	tally, err := pairs.Count(dearnessOf(r, adv), r.cost, tieTolerance)
	if err != nil {
		return resample.Ratio{}, false
	}
	ratio := resample.Ratio{Num: make([]float64, r.sessions), Den: make([]float64, r.sessions)}
	for k, session := range tally.Blocks {
		ratio.Den[session] = tally.Concordant[k] + tally.Discordant[k] + tally.Tied[k]
		if session < len(held) && held[session] {
			ratio.Num[session] = tally.Concordant[k] - tally.Discordant[k]
		}
	}
	return ratio, true
}

// padded gives sessions without a group of bouts alike a place with nothing in
// it.
func padded(values []float64, n int) []float64 {
	out := make([]float64, n)
	copy(out, values)
	return out
}

// centreGroups takes the mean of each group of consecutive values away; the
// values are in the order of the groups.
func centreGroups(values []float64, groups [][]int) {
	from := 0
	for _, group := range groups {
		part := values[from : from+len(group)]
		m := mean(part)
		for i := range part {
			part[i] -= m
		}
		from += len(group)
	}
}
