package findings

import (
	"fmt"
	"strings"

	"lengthwise/schemas"
)

// swimmer makes one swimmer's sentence for one stroke and design. The sentence
// says "this swimmer": who that is stands in the column beside it, so that a
// name can be joined at the last moment.
func (m maker) swimmer(row schemas.ScoreBySwimmer) schemas.Finding {
	e, ok := newInterval(row.EffectPer10Pct, row.EffectLow, row.EffectHigh)
	verdict := Worded(row)
	f := schemas.Finding{
		Finding: id(BySwimmer, row.Swimmer, row.Stroke, row.Design), Question: BySwimmer,
		Swimmer: pointer(row.Swimmer), Stroke: pointer(row.Stroke), Design: pointer(row.Design),
		Strength: strengthOf(row.Design), N: row.Bouts,
	}
	opening := fmt.Sprintf("%s, %s: ", capital(row.Stroke), setting(row.Design))
	if verdict == TooLittleData || !ok {
		f.Strength = StrengthNone
		f.Sentence = opening + tooLittle(row)
	} else {
		f.Sentence = opening + m.size(row, e) + " " + m.meaning(row, e, verdict)
		f.Estimate, f.ConfLow, f.ConfHigh = number(row.EffectPer10Pct), number(row.EffectLow), number(row.EffectHigh)
	}
	f.Caution = pointer(strings.Join(m.swimmerCautions(row, verdict), " "))
	return f
}

// Worded is the verdict that words may give a row: its own, unless its numbers
// do not carry it. Rows from the analysis always carry theirs; the check keeps
// a sentence from ever going beyond its interval.
func Worded(row schemas.ScoreBySwimmer) string {
	e, ok := newInterval(row.EffectPer10Pct, row.EffectLow, row.EffectHigh)
	switch {
	case !ok || row.Verdict == TooLittleData:
		return TooLittleData
	case row.Verdict == Tracks && e.low > 0,
		row.Verdict == RunsAgainst && e.high < 0,
		row.Verdict == PracticallyNone && equivalent(row.PEquivalence):
		return row.Verdict
	}
	return Undecided
}

// verdictOf is the worded verdict of a swimmer, stroke and design, "" where there
// is no row.
func (m maker) verdictOf(swimmer, stroke, design string) string {
	for _, row := range m.BySwimmer {
		if row.Swimmer == swimmer && row.Stroke == stroke && row.Design == design {
			return Worded(row)
		}
	}
	return ""
}

func equivalent(p *float64) bool {
	v, ok := value(p)
	return ok && v < 0.05
}

// size is direction, size, interval and certainty.
func (m maker) size(row schemas.ScoreBySwimmer, e interval) string {
	var b strings.Builder
	b.WriteString("at " + m.pace(row) + ", a stroke rate 10 % higher ")
	if row.Design == Designed {
		b.WriteString("costs this swimmer " + m.scale.change(e.estimate))
	} else {
		b.WriteString("goes together with bouts " + m.scale.apart(e.estimate) + " for this swimmer")
	}
	b.WriteString(" (95 % interval " + m.scale.span(e.low, e.high))
	if q, ok := value(row.QValue); ok {
		b.WriteString("; " + probability("q", q))
	}
	b.WriteString("; " + count(row.Bouts, "bout") + " in " + count(row.Sessions, "session") + ").")
	return b.String()
}

// pace is where the rate's slope was read.
func (m maker) pace(row schemas.ScoreBySwimmer) string {
	for _, fit := range m.Fits {
		if fit.Swimmer != row.Swimmer || fit.Stroke != row.Stroke || fit.Design != row.Design {
			continue
		}
		if pace, ok := value(fit.ReferencePace); ok {
			return Pace(pace)
		}
	}
	return "the reference pace"
}

// meaning sets the number against what the score would have said.
func (m maker) meaning(row schemas.ScoreBySwimmer, e interval, verdict string) string {
	designed := row.Design == Designed
	switch verdict {
	case Tracks:
		if designed {
			return "Fewer strokes are cheaper, as the score says: the score tracks the cost."
		}
		return "Bouts of fewer strokes were the cheaper ones, as the score says: the score tracks the cost."
	case RunsAgainst:
		if designed {
			return "Fewer strokes are dearer, while the score calls them cheaper: the score runs against the cost."
		}
		return "Bouts of fewer strokes were the dearer ones, while the score calls them cheaper: the score runs against the cost."
	case PracticallyNone:
		none := "and they are neither cheaper nor dearer by an amount that matters"
		if !designed {
			none = "and in these bouts it went with neither cheaper nor dearer ones by an amount that matters"
		}
		return fmt.Sprintf("Two one-sided tests%s put it within %s %s either way, which this study takes for practically none: the score calls fewer strokes cheaper, %s.",
			inBrackets("p", row.PEquivalence), m.scale.size(m.Study.Analysis.SmallestEffect), m.scale.unit, none)
	}
	open := "The score calls fewer strokes cheaper; these bouts leave open whether they are cheaper or dearer: undecided."
	if e.low > 0 || e.high < 0 {
		return "The interval by itself leaves out zero, but among as many swimmers as were tested that is not enough. " + open
	}
	return open
}

func inBrackets(letter string, p *float64) string {
	if v, ok := value(p); ok {
		return " (" + probability(letter, v) + ")"
	}
	return ""
}

// tooLittle says why there is no verdict, in the row's own words.
func tooLittle(row schemas.ScoreBySwimmer) string {
	return fmt.Sprintf("too little data to say (%s). The score calls fewer strokes cheaper; these bouts cannot check it.", Why(row))
}

// Why is the reason for having no verdict, in words.
func Why(row schemas.ScoreBySwimmer) string {
	if row.Reason != nil && strings.TrimSpace(*row.Reason) != "" {
		return strings.TrimSuffix(strings.TrimSpace(*row.Reason), ".")
	}
	return count(row.Bouts, "usable bout") + " in " + count(row.Sessions, "session")
}

// swimmerCautions is what must be read with one swimmer's answer.
func (m maker) swimmerCautions(row schemas.ScoreBySwimmer, verdict string) []string {
	var cautions []string
	if verdict == Tracks || verdict == RunsAgainst {
		if text := m.unseen(row); text != "" && row.Design != Designed {
			cautions = append(cautions, text)
		}
	}
	for _, w := range strings.Split(row.Warnings, ";") {
		if w = asSentence(w); w != "" {
			cautions = append(cautions, w)
		}
	}
	if e, ok := newInterval(row.EffectPlain, row.EffectPlainLow, row.EffectPlainHigh); ok && row.Correction != "" && row.Correction != correctionNone && verdict != TooLittleData {
		cautions = append(cautions, fmt.Sprintf("Without the correction the same bouts read %s (95 %% interval %s).", m.scale.apart(e.estimate), m.scale.span(e.low, e.high)))
	}
	if row.PooledOver != "" {
		cautions = append(cautions, pooledOver(row.PooledOver))
	}
	switch {
	case m.medicated(row.Swimmer):
		cautions = append(cautions, CautionMedication)
	case verdict == Tracks || verdict == RunsAgainst:
		cautions = append(cautions, CautionSteps)
	}
	return cautions
}

func (m maker) medicated(swimmer string) bool {
	for _, s := range m.Swimmers {
		if s.Swimmer == swimmer {
			return s.RateAlteringMedication != nil && *s.RateAlteringMedication
		}
	}
	return false
}
