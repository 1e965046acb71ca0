package findings

import (
	"fmt"
	"strings"

	"lengthwise/schemas"
)

// The measures of score_overall.
const (
	MeasureEffect      = "effect_per_10pct"
	MeasureConcordance = "concordance"
	MeasureCorrelation = "correlation"
)

// The two forms of the score.
const (
	ScoreArms     = "score"          // arm strokes plus seconds
	ScoreRecorded = "score_recorded" // as the recorder counts, plus seconds
)

// overall makes the sentence of one row of score_overall; false for a measure
// that has none.
func (m maker) overall(row schemas.ScoreOverall) (schemas.Finding, bool) {
	question, sentence := "", ""
	e, ok := newInterval(row.Estimate, row.ConfLow, row.ConfHigh)
	switch {
	case row.Measure == MeasureEffect && row.Question == MatchedPace:
		question, sentence = MatchedPace, m.pooled(row, e)
	case row.Measure == MeasureConcordance && row.Question == MatchedPace:
		question, sentence = Concordance, concordance(row, e)
	case row.Measure == MeasureCorrelation && row.Question == Raw:
		question, sentence = Raw, raw(row, e)
	case row.Measure == MeasureCorrelation && row.Question == Between:
		question, sentence = Between, between(row, e)
	default:
		return schemas.Finding{}, false
	}
	opening := fmt.Sprintf("%s, %s: ", capital(row.Stroke), setting(row.Design))
	f := squadFinding(question, row, opening+sentence)
	if !ok {
		f.Strength = StrengthNone
		f.Sentence = opening + "no answer " + aboutQuestion(question) + because(row.Reason) + "."
		f.Estimate, f.ConfLow, f.ConfHigh = nil, nil, nil
	}
	f.Finding = id(question, row.Stroke, row.Design)
	if row.Score != ScoreArms {
		f.Finding = id(f.Finding, row.Score)
	}
	f.Caution = pointer(strings.Join(squadCautions(row), " "))
	return f, true
}

// aboutQuestion says what there is no answer about.
func aboutQuestion(question string) string {
	switch question {
	case MatchedPace:
		return "at a matched pace over the squad"
	case Concordance:
		return "from pairs of bouts at a matched pace"
	case Raw:
		return "across paces"
	case Between:
		return "from swimmer to swimmer"
	}
	return "to this question"
}

func because(reason *string) string {
	if reason == nil || strings.TrimSpace(*reason) == "" {
		return ""
	}
	return " (" + strings.TrimSuffix(strings.TrimSpace(*reason), ".") + ")"
}

// pooled is the random-effects mean at a fixed pace, and what another swimmer
// may expect.
func (m maker) pooled(row schemas.ScoreOverall, e interval) string {
	var b strings.Builder
	fmt.Fprintf(&b, "over %s, a stroke rate 10 %% higher at the same pace ", count(row.Swimmers, "swimmer"))
	if row.Design == Designed {
		b.WriteString("costs " + m.scale.change(e.estimate) + " on average")
	} else {
		b.WriteString("goes together with bouts " + m.scale.apart(e.estimate) + " on average")
	}
	b.WriteString(" (95 % interval " + m.scale.span(e.low, e.high) + "). ")
	b.WriteString(capital(m.average(row.Design, e)) + ".")
	if row.Design != Designed && m.standing(e) == within {
		b.WriteString(" That is what went together, and no sign that stroke rate does not matter.")
	}
	p, ok := newInterval(row.Estimate, row.PredictLow, row.PredictHigh)
	if !ok {
		return b.String()
	}
	if v, ok := value(row.Tau2); ok && v == 0 {
		return b.String() + noSpread
	}
	fmt.Fprintf(&b, " Another swimmer of such a squad may lie anywhere %s (95 %% prediction interval)", m.scale.span(p.low, p.high))
	if p.low < 0 && p.high > 0 {
		b.WriteString(", so that the average is no guide to a single swimmer")
	}
	return b.String() + "."
}

// The standings of a pooled effect by its interval alone.
const (
	above    = "above"    // all of it above zero
	below    = "below"    // all of it below zero
	within   = "within"   // all of it inside the smallest effect
	straddle = "straddle" // anything else
)

// standing reads an interval: inside the smallest effect first, as the
// verdicts do.
func (m maker) standing(e interval) string {
	smallest := m.Study.Analysis.SmallestEffect
	switch {
	case smallest > 0 && -smallest <= e.low && e.high <= smallest:
		return within
	case e.low > 0:
		return above
	case e.high < 0:
		return below
	}
	return straddle
}

// average sets the pooled effect against what the score says.
func (m maker) average(design string, e interval) string {
	designed := design == Designed
	switch m.standing(e) {
	case within:
		return fmt.Sprintf("that is within %s %s either way, which this study takes for practically none, while the score calls fewer strokes cheaper",
			m.scale.size(m.Study.Analysis.SmallestEffect), m.scale.unit)
	case above:
		if designed {
			return "on average fewer strokes are cheaper, as the score says"
		}
		return "on average bouts of fewer strokes were the cheaper ones, as the score says"
	case below:
		if designed {
			return "on average fewer strokes are dearer, while the score calls them cheaper"
		}
		return "on average bouts of fewer strokes were the dearer ones, while the score calls them cheaper"
	}
	return "that leaves open whether fewer strokes are cheaper, as the score says, or dearer"
}

// concordance reads the pairs against what shuffled costs give.
func concordance(row schemas.ScoreOverall, e interval) string {
	sentence := fmt.Sprintf("of two bouts of one session at a matched pace, the one of fewer strokes was the cheaper one in %s %% of pairs (95 %% interval from %s to %s %%; %s).",
		share(e.estimate), share(e.low), share(e.high), count(row.Swimmers, "swimmer"))
	null, ok := value(row.Null)
	if !ok {
		return sentence
	}
	sentence += " Costs shuffled within sessions give " + share(null) + " %"
	switch {
	case e.low > null:
		return sentence + ": fewer strokes were the cheaper side more often than by chance."
	case e.high < null:
		return sentence + ": fewer strokes were the dearer side more often than by chance."
	}
	return sentence + ", which lies inside the interval: that leaves open whether fewer strokes are cheaper or dearer."
}

// raw explains the sign that the correlation across paces has by construction.
func raw(row schemas.ScoreOverall, e interval) string {
	sentence := fmt.Sprintf("across paces, %s and cost correlate at %s within a swimmer (95 %% interval from %s to %s; %s). ",
		scoreName(row.Score), correlation(e.estimate), correlation(e.low), correlation(e.high), count(row.Swimmers, "swimmer"))
	why := "The score falls as a swimmer goes faster, while the cost rises, so that this number is mostly about speed"
	if e.estimate < 0 {
		return sentence + why + ": a minus sign here says nothing about economy."
	}
	return sentence + why + " and says nothing about economy."
}

// between warns that it compares people.
func between(row schemas.ScoreOverall, e interval) string {
	sentence := fmt.Sprintf("from swimmer to swimmer at a common pace, %s and cost correlate at %s (95 %% interval from %s to %s; %s). ",
		scoreName(row.Score), correlation(e.estimate), correlation(e.low), correlation(e.high), count(row.Swimmers, "swimmer"))
	switch {
	case e.low > 0:
		sentence += "Swimmers of a higher score tended to have the higher cost."
	case e.high < 0:
		sentence += "Swimmers of a higher score tended to have the lower cost."
	default:
		sentence += "The interval holds zero."
	}
	return sentence + " This compares different people, not ways of swimming: build, age and fitness are in it."
}

func scoreName(score string) string {
	if score == ScoreRecorded {
		return "the score as recorded"
	}
	return "score"
}

func squadCautions(row schemas.ScoreOverall) []string {
	var cautions []string
	for _, w := range strings.Split(row.Warnings, ";") {
		if w = asSentence(w); w != "" {
			cautions = append(cautions, w)
		}
	}
	if row.NDropped > 0 {
		text := count(row.NDropped, "swimmer") + " left out"
		if why := row.DroppedWhy; why != "" {
			// A single reason needs no count of its own.
			text += ": " + strings.TrimSuffix(why, fmt.Sprintf(" %d", row.NDropped))
		}
		cautions = append(cautions, asSentence(text))
	}
	if row.PooledOver != "" {
		cautions = append(cautions, pooledOver(row.PooledOver))
	}
	return cautions
}
