package analyse

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/multiplicity"
)

func holm(family []*schemas.Change) ([]float64, error) {
	p := make([]float64, len(family))
	for i, row := range family {
		p[i] = *row.PValue
	}
	adjusted, err := multiplicity.Holm(p)
	if err != nil {
		return nil, fmt.Errorf("changes: %w", err)
	}
	return adjusted, nil
}

// Changes answers every change of the study, and every phase, for each swimmer
// and for the squad.
func Changes(all []Levels, s *study.Study) ([]schemas.Change, error) {
	var rows []schemas.Change
	for i := range all {
		if !all[i].ok {
			continue
		}
		own, err := all[i].changeRows(s)
		if err != nil {
			return nil, err
		}
		rows = append(rows, own...)
	}
	for _, stroke := range s.Analysis.Strokes {
		squad, err := squadChanges(inStroke(all, stroke), stroke, rows, s)
		if err != nil {
			return nil, err
		}
		rows = append(rows, squad...)
	}
	return rows, nil
}

// inStroke picks the levels of a stroke in an order that only the swimmers'
// data fix.
func inStroke(all []Levels, stroke string) []*Levels {
	var picked []*Levels
	for i := range all {
		if all[i].ok && all[i].Stroke == stroke {
			picked = append(picked, &all[i])
		}
	}
	slices.SortStableFunc(picked, func(a, b *Levels) int { return cmp.Compare(a.content, b.content) })
	return picked
}

// squadChanges answers for the squad: one model of all session levels.
func squadChanges(squad []*Levels, stroke string, own []schemas.Change, s *study.Study) ([]schemas.Change, error) {
	if len(squad) < 2 {
		return nil, nil
	}
	base := schemas.Change{Scope: WholeSquad, Stroke: stroke, Design: string(Observed), Direction: tooLittle}
	left := map[string]int{}
	for _, l := range squad {
		for _, one := range l.levels.left {
			left[one.reason]++
		}
	}
	base.NDropped, base.DroppedWhy = int32(total(left)), tally(left)
	var rows []schemas.Change
	for _, c := range changesOf(s) {
		if row, ok := squadDated(squad, c, base, s); ok {
			rows = append(rows, row)
		}
	}
	rows = append(rows, squadPhases(squad, stroke, base, own, s)...)
	return rows, judgeChanges(rows, "the squad's changes in "+stroke)
}

// squadDated answers for one change; ok is false where it reaches fewer than
// two swimmers.
func squadDated(squad []*Levels, c changeOf, base schemas.Change, s *study.Study) (schemas.Change, bool) {
	p := panel{swimmers: len(squad), reached: make([]bool, len(squad))}
	schedule := make([]int, len(squad)) // index into c.entries
	var switches []string
	reached, used := 0, map[string]bool{}
	for k, l := range squad {
		entry := l.entry(c)
		schedule[k] = slices.Index(c.entries, entry)
		if entry >= 0 {
			p.reached[k] = true
			reached++
			used[strings.Join(s.Changes[entry].Switches(), " ")] = true
			switches = append(switches, s.Changes[entry].Switches()...)
		}
		for _, one := range l.levels.sessions {
			p.add(k, one, entry >= 0 && s.Changes[entry].Active(one.date))
		}
	}
	if reached < 2 {
		return schemas.Change{}, false
	}
	p.layPeriods(switches)
	row := base
	row.Kind, row.Change, row.Reference = KindDated, c.name, WithoutIt
	active := func(k int, date string) bool { return k < len(c.entries) && s.Changes[c.entries[k]].Active(date) }
	seed := p.seed(s.Seed, "change/squad")
	first := s.Changes[c.entries[schedule[slices.IndexFunc(schedule, func(k int) bool { return k >= 0 })]]]
	var draw func() lot
	switch plan := planOf(first); {
	case len(used) > 1:
		row.Plan = PlanStaggered
		draw = func() lot { return p.bySwimmers(schedule, len(c.entries), active, seed) }
	case plan == PlanAlternating:
		row.Plan = plan
		draw = func() lot { return p.byPeriods(first.Switches(), func(k int) bool { return p.reached[k] }, seed) }
	case reached < len(squad):
		row.Plan = PlanUnchanged
		draw = func() lot {
			anybody := slices.Clone(schedule)
			for k := range anybody {
				if anybody[k] < 0 {
					anybody[k] = len(c.entries) // never
				}
			}
			return p.bySwimmers(anybody, len(c.entries)+1, active, seed)
		}
	case plan == PlanOneDate:
		row.Plan = plan
		draw = func() lot { return p.byDates(p.fewest(), seed) }
	default:
		row.Plan = plan
		draw = func() lot { return p.byPeriods(first.Switches(), func(k int) bool { return p.reached[k] }, seed) }
	}
	p.answer(&row, s, draw)
	return row, true
}

// squadPhases answers for each pair of phases that two swimmers or more have.
func squadPhases(squad []*Levels, stroke string, base schemas.Change, own []schemas.Change, s *study.Study) []schemas.Change {
	type pair struct{ phase, reference string }
	counts := map[pair]int{}
	for _, r := range own {
		if r.Kind == KindPhase && r.Stroke == stroke {
			counts[pair{r.Change, r.Reference}]++
		}
	}
	var pairs []pair
	for p, n := range counts {
		if n > 1 {
			pairs = append(pairs, p)
		}
	}
	slices.SortFunc(pairs, func(a, b pair) int {
		return cmp.Or(cmp.Compare(a.reference, b.reference), cmp.Compare(a.phase, b.phase))
	})
	var rows []schemas.Change
	for _, one := range pairs {
		p := panel{swimmers: len(squad)}
		for k, l := range squad {
			p.join(l.phasePanel(k, one.phase, one.reference))
		}
		row := base
		row.Kind, row.Change, row.Reference, row.Plan = KindPhase, one.phase, one.reference, PlanPhase
		p.answer(&row, s, func() lot { return p.byDates(p.fewest(), p.seed(s.Seed, "phase/squad")) })
		rows = append(rows, row)
	}
	return rows
}

// fewest is how many sessions of a squad a date must leave on either side to
// count among those on which the change could have begun: 15 % (our own choice).
func (p *panel) fewest() int { return max(fewestSide, len(p.day)*15/100) }

// join adds another panel's sessions.
func (p *panel) join(q panel) {
	p.swimmer, p.alike = append(p.swimmer, q.swimmer...), append(p.alike, q.alike...)
	p.date, p.day = append(p.date, q.date...), append(p.day, q.day...)
	p.cost, p.on, p.bouts = append(p.cost, q.cost...), append(p.on, q.on...), p.bouts+q.bouts
}
