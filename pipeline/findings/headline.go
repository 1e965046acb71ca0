package findings

import (
	"fmt"
	"strings"

	"lengthwise/schemas"
)

// enoughSwimmers is how many swimmers a designed answer needs before it is
// preferred to an observed one. Our own choice: an interval over
// fewer than five rests on three degrees of freedom or less.
const enoughSwimmers = 5

// headline is the study's answer for one stroke in one sentence: a lead that
// answers, a colon, and the number behind it.
func (m maker) headline(stroke string) schemas.Finding {
	row, ok := m.best(stroke)
	if !ok {
		a := m.Study.Analysis
		sentence := fmt.Sprintf("No answer yet: in %s no pooled effect could be had; a swimmer enters it with at least %s, %s and a stroke rate that varies at a fixed pace.",
			stroke, count(a.MinSessions, "session"), count(a.MinBouts, "usable bout"))
		return schemas.Finding{Finding: id(Headline, stroke), Question: Headline, Stroke: &stroke,
			Strength: StrengthNone, Sentence: sentence}
	}
	e, _ := newInterval(row.Estimate, row.ConfLow, row.ConfHigh)
	tally := m.Tally(stroke, row.Design)
	f := squadFinding(Headline, row, m.lead(row, e, tally)+": "+m.evidence(row, e, tally)+".")
	f.Finding = id(Headline, stroke)
	f.Caution = pointer(strings.Join(m.headlineCautions(row), " "))
	return f
}

// best is the pooled effect that answers for a stroke: designed where enough
// swimmers stand behind it, else observed, else whatever there is.
func (m maker) best(stroke string) (schemas.ScoreOverall, bool) {
	var found schemas.ScoreOverall
	best := 0
	for _, row := range m.Overall {
		if row.Stroke != stroke || row.Question != MatchedPace || row.Measure != MeasureEffect {
			continue
		}
		if _, ok := newInterval(row.Estimate, row.ConfLow, row.ConfHigh); !ok {
			continue
		}
		rank := 1
		switch {
		case row.Design == Designed && row.Swimmers >= enoughSwimmers:
			rank = 4
		case row.Design == Observed && row.Swimmers >= enoughSwimmers:
			rank = 3
		case row.Design == Designed:
			rank = 2
		}
		if rank > best {
			found, best = row, rank
		}
	}
	return found, best > 0
}

// Tally counts the verdicts of a stroke and design.
func (in Input) Tally(stroke, design string) map[string]int {
	tally := map[string]int{}
	for _, row := range in.BySwimmer {
		if row.Stroke == stroke && row.Design == design {
			tally[Worded(row)]++
		}
	}
	return tally
}

// lead answers the study's question in a few words.
func (m maker) lead(row schemas.ScoreOverall, e interval, tally map[string]int) string {
	with, against := tally[Tracks], tally[RunsAgainst]
	p, predicted := newInterval(row.Estimate, row.PredictLow, row.PredictHigh)
	standing := m.standing(e)
	if row.Design != Designed {
		return observedLead(standing, with, against)
	}
	switch standing {
	case above:
		switch {
		case against > 0:
			return "On average yes, but not for every swimmer"
		case predicted && p.low > 0:
			return "Yes"
		}
		return "On average yes"
	case below:
		switch {
		case with > 0:
			return "On average the other way round, but not for every swimmer"
		case predicted && p.high < 0:
			return "No, the other way round"
		}
		return "On average the other way round"
	case within:
		if with > 0 || against > 0 {
			return "Not on average, though single swimmers differ"
		}
		return "Not on average"
	}
	switch {
	case with > 0 && against > 0:
		return "It depends on the swimmer"
	case with > 0 || against > 0:
		return "Not decided for the squad, only for some swimmers"
	}
	return "Not decided"
}

// observedLead carries the weaker word: nothing was set beforehand.
func observedLead(standing string, with, against int) string {
	switch standing {
	case above:
		if against > 0 {
			return "In bouts as they came, score and cost go together on average, but not for every swimmer"
		}
		return "In bouts as they came, score and cost go together on average"
	case below:
		if with > 0 {
			return "In bouts as they came, score and cost go opposite ways on average, but not for every swimmer"
		}
		return "In bouts as they came, score and cost go opposite ways on average"
	case within:
		return "In bouts as they came, score and cost hardly go together on average"
	}
	if with > 0 && against > 0 {
		return "In bouts as they came, it depends on the swimmer"
	}
	return "Bouts as they came do not decide it"
}

// evidence is the number behind the lead.
func (m maker) evidence(row schemas.ScoreOverall, e interval, tally map[string]int) string {
	var b strings.Builder
	if row.Design == Designed {
		fmt.Fprintf(&b, "in %s, with the rate or the instruction set beforehand, a stroke rate 10 %% higher at the same pace costs %s on average over %s",
			row.Stroke, m.scale.change(e.estimate), count(row.Swimmers, "swimmer"))
	} else {
		fmt.Fprintf(&b, "in %s, a stroke rate 10 %% higher at the same pace goes together with bouts %s on average over %s",
			row.Stroke, m.scale.apart(e.estimate), count(row.Swimmers, "swimmer"))
	}
	b.WriteString(" (95 % interval " + m.scale.span(e.low, e.high) + ")")
	with, against := tally[Tracks], tally[RunsAgainst]
	switch {
	case with > 0 && against > 0:
		fmt.Fprintf(&b, "; the score tracks the cost for %s and runs against it for %d", count(with, "swimmer"), against)
	case with > 0:
		fmt.Fprintf(&b, "; the score tracks the cost for %s and is seen to run against it for none", count(with, "swimmer"))
	case against > 0:
		fmt.Fprintf(&b, "; the score runs against the cost for %s and is seen to track it for none", count(against, "swimmer"))
	default:
		b.WriteString("; for no swimmer alone is a direction clear")
	}
	return b.String()
}

// headlineCautions says what the answer's design leaves open.
func (m maker) headlineCautions(row schemas.ScoreOverall) []string {
	var cautions []string
	if row.Design != Designed {
		cautions = append(cautions, "Nothing was set beforehand in these bouts: the answer says what goes together, not what another stroke rate would bring.")
	}
	if row.Swimmers < enoughSwimmers {
		cautions = append(cautions, fmt.Sprintf("Only %s behind it.", count(row.Swimmers, "swimmer")))
	}
	return append(cautions, squadCautions(row)...)
}
