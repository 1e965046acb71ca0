package findings

import (
	"fmt"
	"math"
	"strings"

	"lengthwise/schemas"
)

// Tests, measures and scores of advice_overall, as the table spells them.
const (
	testAsSwum       = "as-swum"
	testPaceAdjusted = "pace-adjusted"
	testMatchedPace  = "matched-pace"
	testHeldOut      = "held-out"
	testBetween      = "between"

	measureAgreement   = "agreement"
	measureWithCount   = "correlation_with_count"
	measureSkill       = "skill"
	measureEitherWay   = "skill_either_way"
	measureAddedToPace = "skill_added_to_pace"

	speedAdvisor = "speed"
)

// advisorWords says what each score prefers, in the table's order.
func advisorWords() [][2]string {
	return [][2]string{
		{"score", "the score"}, {"score_wrist", "the score as a wrist shows it"}, {"strokes", "fewer strokes"},
		{"distance_per_stroke", "the longer distance per stroke"}, {"stroke_index", "the higher stroke index"}, {"stroke_rate", "the slower stroke rate"},
	}
}

// advice makes the sentences on the scores as advice, by stroke and design.
func (m maker) advice() []schemas.Finding {
	var out []schemas.Finding
	for _, stroke := range m.strokes() {
		for _, design := range []string{Designed, Observed} {
			rows := m.adviceRows(stroke, design)
			if len(rows) == 0 {
				continue
			}
			for _, sentence := range []func(adviceTable) (schemas.Finding, bool){
				m.adviceAsSwum, m.adviceAtPace, m.adviceHeldOut, m.adviceOneVariable, m.adviceBetween,
			} {
				if f, ok := sentence(rows); ok {
					out = append(out, f)
				}
			}
		}
	}
	return out
}

type adviceKey struct{ score, test, measure string }

// adviceTable is the rows of one stroke and design by what they measure.
type adviceTable map[adviceKey]schemas.AdviceOverall

func (m maker) adviceRows(stroke, design string) adviceTable {
	rows := adviceTable{}
	for _, row := range m.Advice {
		if row.Stroke == stroke && row.Design == design {
			rows[adviceKey{row.Score, row.Test, row.Measure}] = row
		}
	}
	return rows
}

// number is a row's estimate with its interval.
func (t adviceTable) number(score, test, measure string) (schemas.AdviceOverall, interval, bool) {
	row := t[adviceKey{score, test, measure}]
	e, ok := newInterval(row.Estimate, row.ConfLow, row.ConfHigh)
	return row, e, ok
}

// adviceFinding is a finding on the score's row, which gives it its numbers.
func adviceFinding(row schemas.AdviceOverall, name, sentence string) schemas.Finding {
	f := schemas.Finding{
		Finding: id(Advice, name, row.Stroke, row.Design), Question: Advice, Stroke: pointer(row.Stroke), Design: pointer(row.Design),
		Strength: StrengthGoesTogether, N: row.Swimmers,
		Sentence: fmt.Sprintf("%s, %s: %s", capital(row.Stroke), setting(row.Design), sentence),
		Estimate: number(row.Estimate), ConfLow: number(row.ConfLow), ConfHigh: number(row.ConfHigh),
	}
	var cautions []string
	for _, w := range strings.Split(row.Warnings, ";") {
		if w = asSentence(w); w != "" {
			cautions = append(cautions, w)
		}
	}
	if row.NDropped > 0 {
		cautions = append(cautions, asSentence(count(row.NDropped, "swimmer")+" left out: "+strings.TrimSuffix(row.DroppedWhy, fmt.Sprintf(" %d", row.NDropped))))
	}
	f.Caution = pointer(strings.Join(cautions, " "))
	return f
}

// noAdvice says that a test gave no number.
func noAdvice(row schemas.AdviceOverall, name, about string) (schemas.Finding, bool) {
	if row.Stroke == "" {
		return schemas.Finding{}, false
	}
	f := adviceFinding(row, name, "no answer "+about+because(row.Reason)+".")
	f.Strength, f.Estimate, f.ConfLow, f.ConfHigh = StrengthNone, nil, nil, nil
	return f, true
}

// agreements lists how often each score's advice was right, with speed at the
// end where the test has it.
func (t adviceTable) agreements(test string) string {
	var parts []string
	for i, w := range advisorWords() {
		row, e, ok := t.number(w[0], test, measureAgreement)
		if !ok {
			continue
		}
		text := fmt.Sprintf("by %s in %s %%", w[1], share(e.estimate))
		switch i {
		case 0:
			text += fmt.Sprintf(" of pairs (95 %% interval from %s to %s %%; %s)", share(e.low), share(e.high), count(row.Swimmers, "swimmer"))
		default:
			text += fmt.Sprintf(" (from %s to %s %%)", share(e.low), share(e.high))
		}
		parts = append(parts, text)
	}
	if _, e, ok := t.number(speedAdvisor, test, measureAgreement); ok {
		parts = append(parts, fmt.Sprintf("and by slower swimming alone in %s %% (from %s to %s %%)", share(e.estimate), share(e.low), share(e.high)))
	}
	return strings.Join(parts, ", ")
}

// coin sets the score's agreement against a coin's.
func coin(e interval) string {
	switch {
	case e.low > 0.5:
		return "The score's advice was right more often than a coin, which is right in 50 %."
	case e.high < 0.5:
		return "The score's advice was right less often than a coin, which is right in 50 %."
	}
	return "That leaves open whether the score's advice is any better than a coin, which is right in 50 %."
}

func (m maker) adviceAsSwum(t adviceTable) (schemas.Finding, bool) {
	row, e, ok := t.number("score", testAsSwum, measureAgreement)
	if !ok {
		return noAdvice(row, testAsSwum, "on the scores as advice")
	}
	sentence := "of two bouts of one session, at whatever pace they were swum, the preferred one was the cheaper one " + t.agreements(testAsSwum) + ". " + coin(e)
	if _, speed, ok := t.number(speedAdvisor, testAsSwum, measureAgreement); ok && speed.low > 0.5 {
		sentence += " Faster bouts were mostly the dearer ones, and the score counts seconds: this is mostly about pace and says little of economy."
	}
	return adviceFinding(row, testAsSwum, sentence), true
}

func (m maker) adviceAtPace(t adviceTable) (schemas.Finding, bool) {
	row, e, ok := t.number("score", testPaceAdjusted, measureAgreement)
	if !ok {
		return noAdvice(row, testPaceAdjusted, "on the scores as advice with pace set aside")
	}
	return adviceFinding(row, testPaceAdjusted, "with what pace and minutes account for taken off the cost, the preferred one of two bouts of a session was the cheaper one "+
		t.agreements(testPaceAdjusted)+". "+coin(e)), true
}

// percent writes a share of squared error as a percentage, with a true minus
// sign.
func percent(v float64) string {
	text := strings.Replace(share(v), "-", "\u2212", 1)
	if text == "\u22120.0" {
		return "0.0"
	}
	return text
}

// turned is from which gain a score that may point either way is worth a word.
const turned = 0.05

func (m maker) adviceHeldOut(t adviceTable) (schemas.Finding, bool) {
	row := t[adviceKey{"score", testHeldOut, measureSkill}]
	skill, ok := value(row.Estimate)
	_, speed, okSpeed := t.number(speedAdvisor, testHeldOut, measureSkill)
	if !ok || !okSpeed {
		return noAdvice(row, testHeldOut, "on sessions left out in turn")
	}
	var b strings.Builder
	fmt.Fprintf(&b, "the cost of each session's bouts was foretold from the swimmer's other sessions (%s). Of the squared error about the session's mean, speed alone takes away %s %% (95 %% interval from %s to %s %%), ",
		count(row.Swimmers, "swimmer"), percent(speed.estimate), percent(speed.low), percent(speed.high))
	fmt.Fprintf(&b, "the score, taken at its claim, %s %%", percent(skill))
	if e, ok := newInterval(row.Estimate, row.ConfLow, row.ConfHigh); ok {
		fmt.Fprintf(&b, " (from %s to %s %%)", percent(e.low), percent(e.high))
	}
	b.WriteString(". ")
	if free, ok := value(t[adviceKey{"score", testHeldOut, measureEitherWay}].Estimate); ok && free > skill+turned {
		fmt.Fprintf(&b, "Free to point against its claim it takes away %s %%: across paces a smaller score goes with faster and dearer bouts. ", percent(free))
	}
	if _, added, ok := t.number("score", testHeldOut, measureAddedToPace); ok {
		fmt.Fprintf(&b, "Added to pace and minutes, its claim takes away %s %% of what those leave (from %s to %s %%)", percent(added.estimate), percent(added.low), percent(added.high))
		switch {
		case added.low > 0:
			b.WriteString(": it tells something of cost that pace does not.")
		case added.high < 0:
			b.WriteString(": it foretells worse than pace without it.")
		default:
			b.WriteString(", which leaves open whether it tells anything that pace does not.")
		}
	}
	return adviceFinding(row, testHeldOut, strings.TrimSpace(b.String())), true
}

// adviceOneVariable says why scores are not set against each other at a fixed
// pace.
func (m maker) adviceOneVariable(t adviceTable) (schemas.Finding, bool) {
	least, swimmers := math.Inf(1), int32(0)
	var first schemas.AdviceOverall
	for _, w := range advisorWords() {
		row := t[adviceKey{w[0], testMatchedPace, measureWithCount}]
		if v, ok := value(row.Estimate); ok {
			if swimmers == 0 {
				first = row
			}
			least, swimmers = math.Min(least, v), max(swimmers, row.Swimmers)
		}
	}
	if swimmers == 0 {
		return schemas.Finding{}, false
	}
	one := "are one variable"
	if least < oneVariable {
		one = "are nearly one variable"
	}
	f := adviceFinding(first, "one-variable", fmt.Sprintf("at a matched pace in one pool, the two forms of the score, the stroke count, the distance per stroke, the stroke index and the stroke rate %s: for %s each correlates with the stroke count by %s or more in size. None of them can be shown better than another there, so that they are set against each other across paces and between swimmers.",
		one, count(swimmers, "swimmer"), digits(least)))
	f.Estimate, f.ConfLow, f.ConfHigh = &least, nil, nil
	return f, true
}

// oneVariable is the correlation from which two scores are called one.
const oneVariable = 0.999

// digits writes a correlation near 1 cut, and not rounded, after four digits.
func digits(v float64) string {
	return fmt.Sprintf("%.4f", math.Floor(v*1e4)/1e4)
}

func (m maker) adviceBetween(t adviceTable) (schemas.Finding, bool) {
	row, e, ok := t.number("score", testBetween, measureAgreement)
	if !ok {
		return noAdvice(row, testBetween, "from swimmer to swimmer on the scores as advice")
	}
	return adviceFinding(row, testBetween, "of two swimmers, each at their usual paces, the preferred one swam at the smaller cost "+t.agreements(testBetween)+". "+coin(e)), true
}
