package analyse

import (
	"fmt"

	"lengthwise/pipeline/study"
	"lengthwise/stats/linear"
	"lengthwise/stats/mixed"
)

// Terms of the mixed model beside those of the within-session model. All but
// the means and the intercept are centred within the group.
const (
	termIntercept = "intercept"
	termClock     = "minutes" // minutes since the session's start; for the sensitivity curve alone
	termMeanSpeed = "session_mean_ln_speed"
	termMeanRate  = "session_mean_ln_stroke_rate"
)

// shareLayout is the columns of which every swimmer's cross-products are
// summed: those of the mixed model and those that its variants need.
func shareLayout() mixed.Layout {
	return mixed.Layout{
		Fixed: []string{termIntercept, termSpeed, termSpeedSquared, termMinutes, termClock, termRate, termRateSquared,
			termMeanSpeed, termMeanRate},
		Random: []string{termIntercept, termSpeed, termRate}, GroupIntercept: true,
	}
}

// share is what the mixed model needs of one swimmer: the sums and
// cross-products of the bouts by group, a group being the bouts of a session
// that are read, kicked, equipped and set alike. Nothing else of the bouts
// travels to the squad's fit.
type share struct {
	sums            *mixed.Sums
	bouts, sessions int32
	missing         string // why the swimmer has no part in the model, "" when they have

	// The two-stage slope without curve, and by ordinary standard errors: with
	// them the two ways of pooling can be compared step by step.
	straight, ordinary linear.Coefficient
	hasStraight        bool
}

// groupKey is what bouts of one group of the mixed model share. A condition
// that varies within a session makes groups of its own, so that no term for it
// has to hold for all swimmers alike.
type groupKey struct {
	session, stratum, kick, equipment string
	designed                          bool
}

func (r *rows) groupOf(i int) groupKey {
	b := r.bouts[i]
	return groupKey{session: b.Session, stratum: b.CostStratum, kick: b.Tags.Kick, equipment: b.Tags.Equipment, designed: b.Designed}
}

// newShare sums one swimmer's bouts. Swimmers whose rate or pace rises or
// falls with the order of bouts are left out, as they are of the two-stage
// result: what is wrong with their slopes is no want of data, and no other
// swimmer's bouts mend it.
func newShare(r *rows, s *study.Study) *share {
	p := &share{}
	switch {
	case s.Analysis.ReferencePace > 0 && !r.swimsReference():
		p.missing = "does not swim at the reference pace"
	case r.paceFollowsOrder():
		p.missing = "pace follows the order in the session"
	case r.followsOrder(r.rate) > inseparableRate:
		p.missing = "stroke rate follows the order in the session"
	}
	if p.missing != "" {
		return p
	}
	groups, rows := r.mixedGroups()
	if rows == 0 {
		p.missing = "no two bouts of a session are alike in how they were read, kicked and equipped"
		return p
	}
	sums, err := r.sumsOf(groups)
	if err != nil { // a cost or a rate beyond all bounds
		p.missing = "numbers that cannot be summed"
		return p
	}
	p.sums = sums
	p.bouts = int32(rows)
	sessions := map[int]bool{}
	for _, group := range groups {
		sessions[r.session[group[0]]] = true
	}
	p.sessions = int32(len(sessions))
	p.setStraight(r)
	return p
}

// mixedGroups lists the rows of each group of two bouts or more, in order of
// appearance, and counts them.
func (r *rows) mixedGroups() (groups [][]int, rows int) {
	place := map[groupKey]int{}
	var all [][]int
	for i := range r.bouts {
		key := r.groupOf(i)
		at, ok := place[key]
		if !ok {
			at = len(all)
			place[key] = at
			all = append(all, nil)
		}
		all[at] = append(all[at], i)
	}
	for _, group := range all {
		if len(group) > 1 {
			groups = append(groups, group)
			rows += len(group)
		}
	}
	return groups, rows
}

// sumsOf adds the groups' rows to sums of one unit, which gets its name when
// the squad is put together.
func (r *rows) sumsOf(groups [][]int) (*mixed.Sums, error) {
	sums, err := mixed.NewSums(shareLayout())
	if err != nil {
		return nil, err
	}
	const centredColumns = 6
	var centre [centredColumns]float64
	values := func(i int) [centredColumns]float64 {
		x, rate := r.lnSpeed[i], r.rate[i]
		return [centredColumns]float64{x, x * x, r.lnMinutes[i], max(0, r.bouts[i].MinutesIn), rate, rate * rate}
	}
	row := make([]float64, 1+centredColumns+2)
	for g, group := range groups {
		label := fmt.Sprintf("%06d", g)
		clear(centre[:])
		for _, i := range group {
			for k, v := range values(i) {
				centre[k] += v / float64(len(group))
			}
		}
		for _, i := range group {
			row[0] = 1
			for k, v := range values(i) {
				row[1+k] = v - centre[k]
			}
			row[1+centredColumns], row[2+centredColumns] = centre[0], centre[4]
			if err := sums.Add("", label, row, r.cost[i]); err != nil {
				return nil, err
			}
		}
	}
	return sums, nil
}

// setStraight fits the within-session model without curve.
func (p *share) setStraight(r *rows) {
	terms, columns := r.straight()
	m, clustered, err := r.fitCost(terms, columns)
	if err != nil {
		return
	}
	straight, err := m.Coefficient(termRate, clustered, level)
	if err != nil {
		return
	}
	ordinary, err := m.Coefficient(termRate, m.Classical(), level)
	if err != nil {
		return
	}
	p.straight, p.ordinary = per10(straight), per10(ordinary)
	p.hasStraight = p.straight.StdError > 0 && p.ordinary.StdError > 0
}
