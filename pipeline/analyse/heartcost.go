package analyse

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/linear"
	"lengthwise/stats/reliability"
)

// HeartCosts lists every session with what it cost at the reference pace
// against what the swimmer usually pays there.
func HeartCosts(all []Levels, s *study.Study) []schemas.HeartCost {
	var rows []schemas.HeartCost
	for i := range all {
		if all[i].levels.reference > 0 {
			rows = append(rows, all[i].heartCosts(s)...)
		}
	}
	return rows
}

func (l *Levels) heartCosts(s *study.Study) []schemas.HeartCost {
	levels, left := map[string]*sessionLevel{}, map[string]string{}
	for i := range l.levels.sessions {
		levels[l.levels.sessions[i].id] = &l.levels.sessions[i]
	}
	for _, one := range l.levels.left {
		left[one.id] = one.reason
	}
	var rows []schemas.HeartCost
	for _, one := range l.levels.order {
		row := schemas.HeartCost{Swimmer: l.Swimmer, Stroke: l.Stroke, ReferencePace: 100 / l.levels.reference,
			Session: one.id, LocalDate: one.date, Bouts: int32(one.bouts), Changes: l.inForce(one.date, s)}
		reason := left[one.id]
		if at := levels[one.id]; at != nil {
			row.Cost, row.Bouts, row.Conditions = &at.cost, int32(at.bouts), at.conditions
			if isLevel(at.phase) {
				row.Phase = &at.phase
			}
			if math.IsNaN(at.stdError) {
				reason = "no other session of these conditions, or none that tells what is usual"
			} else {
				row.UsualCost, row.HeartCost, row.StdError = &at.usual, &at.apart, &at.stdError
			}
		} else if reason == "" {
			reason = "fewer than two sessions with comparable bouts"
		}
		if reason != "" {
			row.Reason = &reason
		}
		rows = append(rows, row)
	}
	return rows
}

// inForce names the changes in force for the swimmer on a day.
func (l *Levels) inForce(date string, s *study.Study) string {
	var names []string
	for _, c := range changesOf(s) {
		if i := l.entry(c); i >= 0 && s.Changes[i].Active(date) {
			names = append(names, c.name)
		}
	}
	return strings.Join(names, "; ")
}

// typical is a swimmer's typical error: the spread of session costs with
// conditions, trend, changes and phases taken out.
type typical struct {
	value, df float64
	n         int
	reason    string
}

// typicalError is by least squares, so that its square over the true one is
// chi-squared over its degrees of freedom for normal errors.
func (l *Levels) typicalError(s *study.Study) typical {
	var costs, day []float64
	var state []int
	codes := map[string]int{}
	for _, one := range l.levels.sessions {
		key := strings.Join([]string{one.conditions, l.inForce(one.date, s), one.phase}, "\x00")
		if _, ok := codes[key]; !ok {
			codes[key] = len(codes)
		}
		costs, state = append(costs, one.cost), append(state, codes[key])
		day = append(day, one.day)
		if math.IsNaN(one.day) {
			day[len(day)-1] = 0
		}
	}
	t := typical{n: len(costs)}
	if t.n < s.Analysis.MinSessions {
		t.reason = fmt.Sprintf("%s with a comparable cost, fewer than %d", count(t.n, "session"), s.Analysis.MinSessions)
		return t
	}
	m, err := linear.Fit(linear.Problem{Response: costs, Terms: []string{termTrend}, Columns: [][]float64{day}, Absorb: state})
	if err != nil || m.Exact || m.DFResidual < FewestDF {
		t.reason = fmt.Sprintf("fewer than %d degrees of freedom beside conditions, trend and changes", FewestDF)
		return t
	}
	t.value, t.df = m.Sigma, float64(m.DFResidual)
	return t
}

// Reliability says how far two sessions must differ to be more than noise, for
// each swimmer and for the squad, and how well sessions tell swimmers apart at
// a common pace.
func Reliability(all []Levels, s *study.Study) []schemas.Reliability {
	var rows []schemas.Reliability
	for i := range all {
		l := &all[i]
		if !l.ok {
			continue
		}
		row := schemas.Reliability{Scope: OneSwimmer, Swimmer: l.Swimmer, Stroke: l.Stroke, Swimmers: 1}
		left := map[string]int{}
		for _, one := range l.levels.left {
			left[one.reason]++
		}
		row.NDropped, row.DroppedWhy = int32(total(left)), tally(left)
		t := l.typicalError(s)
		row.N = int32(t.n)
		if t.reason != "" {
			row.Reason = &t.reason
		} else {
			fillTypical(&row, t)
		}
		rows = append(rows, row)
	}
	for _, stroke := range s.Analysis.Strokes {
		if squad := inStroke(all, stroke); len(squad) > 1 {
			rows = append(rows, squadReliability(squad, stroke, s))
		}
	}
	return rows
}

// fillTypical fills in the typical error and the detectable change with their
// exact intervals for normal errors.
func fillTypical(row *schemas.Reliability, t typical) {
	chi := distuv.ChiSquared{K: t.df}
	low := t.value * math.Sqrt(t.df/chi.Quantile((1+level)/2))
	high := t.value * math.Sqrt(t.df/chi.Quantile((1-level)/2))
	row.TypicalError, row.TypicalLow, row.TypicalHigh, row.DF = &t.value, &low, &high, &t.df
	for _, end := range []struct {
		of   float64
		into **float64
	}{{t.value, &row.Detectable}, {low, &row.DetectableLow}, {high, &row.DetectableHigh}} {
		if change, err := reliability.MinimalDetectableChange(end.of, level); err == nil {
			*end.into = &change
		}
	}
}

// squadReliability pools the typical errors and compares swimmers at a common
// pace.
func squadReliability(squad []*Levels, stroke string, s *study.Study) schemas.Reliability {
	row := schemas.Reliability{Scope: WholeSquad, Stroke: stroke}
	var w warnings
	var all typical
	left, squares := map[string]int{}, 0.0
	for _, l := range squad {
		for _, one := range l.levels.left {
			left[one.reason]++
		}
		t := l.typicalError(s)
		if t.reason != "" {
			left["of swimmers with too few sessions"] += t.n
			continue
		}
		squares += t.value * t.value * t.df
		all.df += t.df
		all.n += t.n
		row.Swimmers++
	}
	row.N, row.NDropped, row.DroppedWhy = int32(all.n), int32(total(left)), tally(left)
	if row.Swimmers < 2 {
		reason := "fewer than two swimmers have a typical error"
		row.Reason = &reason
	} else {
		all.value = math.Sqrt(squares / all.df)
		fillTypical(&row, all)
		w.add("one typical error for all swimmers: single ones have more or less")
	}
	compare(&row, squad, s, &w)
	row.Warnings = w.String()
	return row
}

// fewestAtCommonPace is how few swimmers an intraclass correlation may rest on
// (our own choice).
const fewestAtCommonPace = 3

// atCommon gives the costs of the swimmer's sessions of some conditions at
// another speed, in m/s; ok is false where the swimmer does not swim at it.
func (l *Levels) atCommon(speed float64, conditions string) (costs []float64, ok bool) {
	x := math.Log(speed / l.levels.reference)
	if x < l.levels.low-0.02 || x > l.levels.high+0.02 {
		return nil, false
	}
	for _, one := range l.levels.sessions {
		if one.conditions == conditions {
			costs = append(costs, one.cost+l.levels.curve[0]*x+l.levels.curve[1]*x*x)
		}
	}
	return costs, len(costs) > 0
}

// compare compares swimmers at a common pace: only there, and only under the
// same conditions, is a cost of one the same thing as a cost of another.
func compare(row *schemas.Reliability, squad []*Levels, s *study.Study, w *warnings) {
	conditions := map[string]int{}
	var speeds []float64
	for _, l := range squad {
		for _, one := range l.levels.sessions {
			conditions[one.conditions]++
		}
		speeds = append(speeds, l.levels.reference)
	}
	speed := median(speeds)
	if s.Analysis.ReferencePace > 0 {
		speed = 100 / s.Analysis.ReferencePace
	}
	commonest := byCount(conditions)[0]
	var subject []int
	var values []float64
	for _, l := range squad {
		costs, ok := l.atCommon(speed, commonest)
		if !ok {
			continue
		}
		for _, v := range costs {
			subject, values = append(subject, int(row.ICCSwimmers)), append(values, v)
		}
		row.ICCSwimmers++
	}
	if row.ICCSwimmers < fewestAtCommonPace {
		return
	}
	c, err := reliability.OneWay(subject, values, level)
	if err != nil {
		return
	}
	pace, sd := 100/speed, math.Sqrt(c.BetweenVariance)
	worthwhile := reliability.SmallShare * sd
	row.CommonPace, row.ICC, row.ICCLow, row.ICCHigh = &pace, &c.ICC, &c.ConfLow, &c.ConfHigh
	row.BetweenSD, row.Worthwhile = &sd, &worthwhile
	if s.Cost.Measure == "bpm" {
		w.add("heart rates differ between people for reasons other than effort, and a fifth of that spread is no goal")
	}
}
