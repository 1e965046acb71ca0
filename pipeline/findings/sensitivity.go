package findings

import (
	"fmt"

	"lengthwise/schemas"
)

// sensitivity makes the sentences on the specification curves: what all
// defensible analyses say together, and what the lock rule makes of it.
func (m maker) sensitivity() []schemas.Finding {
	var out []schemas.Finding
	for _, stroke := range m.strokes() {
		for _, design := range []string{Designed, Observed} {
			for _, row := range m.Sensitivity {
				if row.Stroke != stroke || row.Design != design {
					continue
				}
				out = append(out, m.specificationCurve(row))
				if f, ok := m.lockRule(row); ok {
					out = append(out, f)
				}
			}
		}
	}
	return out
}

func (m maker) specificationCurve(row schemas.SensitivitySummary) schemas.Finding {
	f := schemas.Finding{
		Finding: id(Sensitivity, "curve", row.Stroke, row.Design), Question: Sensitivity,
		Stroke: pointer(row.Stroke), Design: pointer(row.Design), Strength: StrengthNone, N: row.Distinct,
	}
	opening := fmt.Sprintf("%s, %s: ", capital(row.Stroke), setting(row.Design))
	middle, ok := newInterval(row.Median, row.Lowest, row.Highest)
	above, okAbove := value(row.AboveZero)
	if !ok || !okAbove {
		f.Sentence = opening + "no answer from other ways to analyse these bouts" + because(row.Reason) + "."
		return f
	}
	f.Strength = strengthOf(row.Design)
	f.Estimate, f.ConfLow, f.ConfHigh = number(row.Median), number(row.Lowest), number(row.Highest)
	f.Sentence = opening + fmt.Sprintf("these bouts can be analysed in %s that differ (%s planned; %s on the same rows and terms as another). A stroke rate 10 %% higher at the same pace comes out dearer in %s and cheaper in %s; %s. The middle one reads %s, the outermost %s",
		count(row.Distinct, "way"), Grouped(int64(row.Planned)), isAre(row.Planned-row.Distinct, "rests", "rest"),
		portion(above), portion(1-above), m.intervalShares(row), m.scale.apart(middle.estimate), m.outermost(middle))
	if own, ok := value(row.Own); ok {
		f.Sentence += fmt.Sprintf(", the study's own %s", m.scale.apart(own))
	}
	f.Sentence += "."
	if by, ok := value(row.MovesBy); ok && row.MovesMost != "" {
		f.Sentence += fmt.Sprintf(" What moves the number most is %s, by %s %s on average over the other choices.", ChoiceWords(row.MovesMost), m.scale.size(by), m.scale.unit)
	}
	f.Sentence += " " + m.agreement(row, above)
	return f
}

// portion writes a share of the specifications.
func portion(v float64) string {
	switch v {
	case 0:
		return "none"
	case 1:
		return "all"
	}
	return share(v) + " %"
}

// isAre writes a count with the verb that goes with it.
func isAre(n int32, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return Grouped(int64(n)) + " " + many
}

func (m maker) intervalShares(row schemas.SensitivitySummary) string {
	a, _ := value(row.IntervalAbove)
	b, _ := value(row.IntervalBelow)
	inside, _ := value(row.IntervalInside)
	return fmt.Sprintf("the 95 %% interval lies on the dearer side in %s, on the cheaper side in %s, and within %s %s either way in %s",
		portion(a), portion(b), m.scale.size(m.Study.Analysis.SmallestEffect), m.scale.unit, portion(inside))
}

func (m maker) outermost(e interval) string {
	return m.scale.apart(e.low) + " and " + m.scale.apart(e.high)
}

// agreement says what the curve does to the direction.
func (m maker) agreement(row schemas.SensitivitySummary, above float64) string {
	a, _ := value(row.IntervalAbove)
	b, _ := value(row.IntervalBelow)
	const nearlyAll = 0.95
	switch {
	case a >= nearlyAll:
		return "Whatever is chosen, the direction stands."
	case b >= nearlyAll:
		return "Whatever is chosen, the direction stands."
	case above > 0 && above < 1:
		return "The direction hangs on choices that could go either way."
	case a == 0 && b == 0:
		return "The direction is the same in all of them, and none of them can tell it from none."
	}
	return "The direction is the same in all of them, and whether it can be told from none hangs on choices."
}

// ChoiceWords names a choice of the specification curve in words; choice is as the
// table sensitivity_summary spells it.
func ChoiceWords(choice string) string {
	words := map[string]string{
		"steady_after_s": "the time after which heart rate counts as steady", "shortest_bout_s": "the shortest bout in use",
		"drift": "the term for drift through a session", "window_s": "the window that is averaged", "reading": "how steady heart rate is read",
		"lock_rule": "whether heart rates that follow the strokes are left out", "repairs": "whether bouts with repaired lengths are left out",
		"heart_rate_source": "whether straps alone are used", "unknown_counts": "whether bouts of unknown counting basis are left out",
		"first_bout": "whether a session's first bout is left out", "pace_terms": "the terms for pace", "tag_terms": "the terms for kick and equipment",
		"rate_terms": "whether stroke rate may have a curve", "counting_error": "whether slopes are corrected for counting error", "pooling": "how swimmers are pooled",
	}
	if w, ok := words[choice]; ok {
		return w
	}
	return choice
}

// lockRule sets the result with heart rates that follow the strokes left out
// beside the one with them kept: to leave them out selects on stroke rate and
// heart rate both.
func (m maker) lockRule(row schemas.SensitivitySummary) (schemas.Finding, bool) {
	with, ok := newInterval(row.WithLockRule, row.WithLockLow, row.WithLockHigh)
	without, okWithout := newInterval(row.WithoutLockRule, row.WithoutLockLow, row.WithoutLockHigh)
	if !ok || !okWithout || !m.Study.Cost.ReadsHeartRate() {
		return schemas.Finding{}, false
	}
	f := schemas.Finding{
		Finding: id(Sensitivity, "lock-rule", row.Stroke, row.Design), Question: Sensitivity,
		Stroke: pointer(row.Stroke), Design: pointer(row.Design), Strength: strengthOf(row.Design), N: row.Distinct,
		Estimate: number(row.WithLockRule), ConfLow: number(row.WithLockLow), ConfHigh: number(row.WithLockHigh),
	}
	f.Sentence = fmt.Sprintf("%s, %s: with heart rates that follow the strokes left out, a stroke rate 10 %% higher at the same pace reads %s (95 %% interval %s); with them kept, %s (95 %% interval %s).",
		capital(row.Stroke), setting(row.Design), m.scale.apart(with.estimate), m.scale.span(with.low, with.high), m.scale.apart(without.estimate), m.scale.span(without.low, without.high))
	if with == without {
		f.Sentence += " No such heart rate was found in these bouts, or none that matters."
	} else {
		f.Sentence += " Leaving them out picks bouts by stroke rate and heart rate both, so that neither number alone is the whole truth."
	}
	return f, true
}
