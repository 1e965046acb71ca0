package analyse

import (
	"fmt"
	"math"
	"slices"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/resample"
)

// The kinds and plans of a change.
const (
	KindDated = "dated"
	KindPhase = "phase"

	PlanOneDate     = "one-date"
	PlanOnAndOff    = "on-and-off"
	PlanAlternating = "alternating"
	PlanStaggered   = "staggered"
	PlanUnchanged   = "unchanged-group"
	PlanPhase       = "phase"
)

// WithoutIt is the reference of a dated change.
const WithoutIt = "without it"

// Our own choices: fewestSide is how many sessions a change needs on either
// side, and alternations how often it must go on or off to alternate (on, off
// and on again, so that what it does is seen three times).
const (
	fewestSide   = 3
	alternations = 3
)

// Levels is one swimmer's sessions in one stroke, for every question about
// sessions: changes, heart cost, reliability.
type Levels struct {
	Swimmer, Stroke string

	content uint64
	levels  *sessionLevels
	ok      bool
	reached []bool // of the study's changes
}

// SessionLevels fits the levels of every stroke of the study.
func SessionLevels(who Person, bouts []derive.Bout, s *study.Study) []Levels {
	var out []Levels
	for _, stroke := range s.Analysis.Strokes {
		picked, _ := usable(bouts, stroke, All)
		if len(picked) == 0 {
			continue
		}
		l := Levels{Swimmer: bouts[0].Swimmer, Stroke: stroke, reached: who.Reached}
		l.levels, l.ok = newSessionLevels(picked, s)
		cost, speed := make([]float64, len(picked)), make([]float64, len(picked))
		for i, b := range picked {
			cost[i], speed[i] = b.Cost, b.SpeedMPS
		}
		l.content = resample.SeedOf(s.Seed, "content/levels/"+stroke, cost, speed)
		out = append(out, l)
	}
	return out
}

// changeOf is a change by name, with the entries of the study file that make it
// up.
type changeOf struct {
	name    string
	entries []int
}

// changesOf groups the study's entries by name, in their order.
func changesOf(s *study.Study) []changeOf {
	var out []changeOf
	for i, c := range s.Changes {
		k := slices.IndexFunc(out, func(o changeOf) bool { return o.name == c.Name })
		if k < 0 {
			out, k = append(out, changeOf{name: c.Name}), len(out)
		}
		out[k].entries = append(out[k].entries, i)
	}
	return out
}

// entry is the entry of a change that reaches the swimmer, -1 for none.
func (l *Levels) entry(c changeOf) int {
	for _, i := range c.entries {
		if i < len(l.reached) && l.reached[i] {
			return i
		}
	}
	return -1
}

// changeRows answers for one swimmer: every change that reaches them, and every
// phase against their first.
func (l *Levels) changeRows(s *study.Study) ([]schemas.Change, error) {
	var rows []schemas.Change
	for _, c := range changesOf(s) {
		if i := l.entry(c); i >= 0 {
			rows = append(rows, l.dated(c.name, s.Changes[i], s))
		}
	}
	rows = append(rows, l.phases(s)...)
	err := judgeChanges(rows, "the swimmer's changes in "+l.Stroke)
	return rows, err
}

// row is what all of a swimmer's rows share.
func (l *Levels) row(kind, change, reference, plan string) schemas.Change {
	row := schemas.Change{Scope: OneSwimmer, Swimmer: l.Swimmer, Stroke: l.Stroke, Kind: kind, Change: change,
		Reference: reference, Plan: plan, Design: string(Observed), Direction: tooLittle}
	left := map[string]int{}
	for _, one := range l.levels.left {
		left[one.reason]++
	}
	row.NDropped, row.DroppedWhy = int32(total(left)), tally(left)
	return row
}

// dated answers for one change of one swimmer.
func (l *Levels) dated(name string, c study.Change, s *study.Study) schemas.Change {
	p := panel{swimmers: 1}
	for _, one := range l.levels.sessions {
		p.add(0, one, c.Active(one.date))
	}
	plan := planOf(c)
	row := l.row(KindDated, name, WithoutIt, plan)
	seed := p.seed(s.Seed, "change")
	switch plan {
	case PlanOneDate:
		p.answer(&row, s, func() lot { return p.byDates(fewestSide, seed) })
	default:
		p.answer(&row, s, func() lot { return p.byPeriods(c.Switches(), func(int) bool { return true }, seed) })
	}
	return row
}

// planOf is how one entry's dates lie.
func planOf(c study.Change) string {
	switch n := len(c.Switches()); {
	case n >= alternations:
		return PlanAlternating
	case n == 2:
		return PlanOnAndOff
	}
	return PlanOneDate
}

// phases compares each phase with the swimmer's first.
func (l *Levels) phases(s *study.Study) []schemas.Change {
	var order []string
	for _, one := range l.levels.sessions {
		if isLevel(one.phase) && !aboutBreath(one.phase) && !slices.Contains(order, one.phase) {
			order = append(order, one.phase)
		}
	}
	if len(order) < 2 || len(order) > mostLevels {
		return nil
	}
	var rows []schemas.Change
	for _, phase := range order[1:] {
		p := l.phasePanel(0, phase, order[0])
		p.swimmers = 1
		row := l.row(KindPhase, phase, order[0], PlanPhase)
		p.answer(&row, s, func() lot { return p.byDates(fewestSide, p.seed(s.Seed, "phase")) })
		rows = append(rows, row)
	}
	return rows
}

// phasePanel is the sessions of two phases.
func (l *Levels) phasePanel(swimmer int, phase, reference string) panel {
	var p panel
	for _, one := range l.levels.sessions {
		if one.phase == phase || one.phase == reference {
			p.add(swimmer, one, one.phase == phase)
		}
	}
	return p
}

// answer fills the row in from the panel; draw makes the lots.
func (p *panel) answer(row *schemas.Change, s *study.Study, draw func() lot) {
	with, without, both, unchanged := p.sides()
	row.N, row.NWith, row.NWithout, row.Bouts = int32(len(p.day)), int32(with), int32(without), int32(p.bouts)
	row.Swimmers, row.Unchanged = int32(both), int32(unchanged)
	var w warnings
	defer func() { row.Warnings = w.String() }()
	refuse := func(reason string) { row.Reason = &reason }
	if with < fewestSide || without < fewestSide {
		refuse(fmt.Sprintf("%s with it and %s without it, fewer than %d of either", count(with, "session"), count(without, "session"), fewestSide))
		return
	}
	if both == 0 {
		refuse("no swimmer has sessions both with it and without it")
		return
	}
	fit := p.fit()
	if fit.reason != "" {
		refuse(fit.reason)
		return
	}
	on := fit.on
	row.Estimate, row.StdError, row.Statistic = &on.Estimate, &on.StdError, &on.Statistic
	row.DF, row.PValue, row.ConfLow, row.ConfHigh = &on.DF, &on.PValue, &on.ConfLow, &on.ConfHigh
	if t := fit.trend; !math.IsNaN(t.Estimate) {
		row.Trend, row.TrendLow, row.TrendHigh = &t.Estimate, &t.ConfLow, &t.ConfHigh
	}
	if drawn := draw(); drawn.ok {
		row.RandomisationP, row.SmallestP, row.Ways = &drawn.p, &drawn.smallest, &drawn.ways
	}
	if (row.Plan == PlanAlternating || row.Plan == PlanStaggered) && row.SmallestP != nil && *row.SmallestP <= alpha {
		row.Design = string(Designed)
	}
	p.warn(row, fit, &w)
	switch {
	case p.swimmers == 1 && len(p.day) < s.Analysis.MinSessions:
		refuse(fmt.Sprintf("%s, fewer than %d", count(len(p.day), "session"), s.Analysis.MinSessions))
	case p.swimmers > 1 && both < 2:
		refuse("fewer than two swimmers have sessions both with it and without it")
	case on.DF < FewestDF:
		refuse(tooFewSessions(on.DF))
	default:
		row.Direction = open
	}
}

// sessionsAlike is the correlation of a session's residual with the last one's
// from which a warning goes with the change (our own choice).
const sessionsAlike = 0.25

// warn says what else may be in the difference.
func (p *panel) warn(row *schemas.Change, fit step, w *warnings) {
	switch {
	case row.Plan == PlanUnchanged:
		w.add("unless lots were drawn, those whom the change reached may differ from the others in more than the change")
	case row.Plan == PlanStaggered:
		w.add("taken to do the same at once and later")
	case row.Plan == PlanAlternating:
		w.add("taken to do the same in every period, and to leave nothing behind")
	default:
		w.add("whatever else came with it is in the difference")
	}
	if alike := p.neighbours(fit.residuals); alike > sessionsAlike {
		w.add(fmt.Sprintf("sessions near in time are alike (correlation %.2f), so that the interval is too narrow", alike))
	}
	if row.Unchanged > 0 && !p.contemporary() {
		w.add("swimmers without the change swim in no period with it, and only help to find the trend")
	}
}

// judgeChanges adjusts the p values of one family and gives directions. A claim
// needs more than its p: at most one in twenty of the dates or lots that the
// change could have had may fit as well. The p of a model counts sessions near
// in time as independent, which they seldom are: with a correlation of 0.3
// between neighbours its intervals miss the truth for 9 to 10 % of swimmers
// (trial/testdata/changes.md).
func judgeChanges(rows []schemas.Change, about string) error {
	var family []*schemas.Change
	for i := range rows {
		if rows[i].Direction == open {
			family = append(family, &rows[i])
		}
	}
	adjusted, err := holm(family)
	if err != nil {
		return err
	}
	for i, row := range family {
		row.PHolm, row.Family, row.FamilySize = &adjusted[i], about, int32(len(family))
		if row.RandomisationP != nil && *row.RandomisationP < alpha {
			row.Direction = directionOf(*row.Estimate, adjusted[i])
		}
	}
	return nil
}
