package findings

import (
	"strings"

	"lengthwise/schemas"
)

// instruction sets heart rate, score and kick of an instruction beside one
// another: the trade's claim, put to the test.
func (m maker) instruction(c contrastSet, e interval) string {
	row := *c.cost
	var b strings.Builder
	b.WriteString(told(row.Level) + " at the same pace")
	if row.Reference != "usual" {
		b.WriteString(", compared with bouts " + told(row.Reference))
	}
	b.WriteString(", " + whose(row) + " " + moved(c.score, scale{"points per 25 m", 1}))
	if row.Scope == scopeSquad {
		b.WriteString(" " + who(row))
	}
	b.WriteString(" while " + m.costNoun() + " ")
	if decided(c.cost) {
		b.WriteString(moved(c.cost, m.scale) + " (" + behind(row, m.scale.offSpan(e.low, e.high)) + ").")
	} else {
		b.WriteString("went neither way clearly: " + m.scale.off(e.estimate) + " (" + behind(row, m.scale.offSpan(e.low, e.high)) + ").")
	}
	if claim := m.claim(c); claim != "" {
		b.WriteString(" " + claim)
	}
	if decided(c.rate) {
		b.WriteString(" The stroke rate " + moved(c.rate, scale{"%", 1}) + ".")
	}
	b.WriteString(" " + m.kickPath(c))
	b.WriteString(m.another(row))
	return b.String()
}

// told says in words what swimmers were told.
func told(level string) string {
	switch level {
	case "fewest-strokes":
		return "told to take fewer strokes"
	case "quicker-rate":
		return "told to take quicker strokes"
	case "usual":
		return "told to swim as usual"
	}
	return "of which nothing was said"
}

// whose score it is.
func whose(row schemas.Contrast) string {
	if row.Scope == scopeSquad {
		return "the score"
	}
	return "this swimmer's score"
}

// moved writes a claimed difference as "fell by 3.1 points per 25 m".
func moved(row *schemas.Contrast, in scale) string {
	if !decided(row) {
		return "did not clearly move"
	}
	return sign(*row.Estimate, "rose", "fell") + " by " + in.size(*row.Estimate) + " " + in.unit
}

// claim sets the score's word against the cost.
func (m maker) claim(c contrastSet) string {
	if !decided(c.score) {
		return "The score did not clearly move, so that its claim was not put to the test."
	}
	says := "The score calls that cheaper"
	if *c.score.Estimate > 0 {
		says = "The score calls that dearer"
	}
	if !decided(c.cost) {
		return says + "; whether it costs less or more stays open."
	}
	cheaper := *c.cost.Estimate < 0
	switch {
	case cheaper == (*c.score.Estimate < 0):
		return says + ", and so it was."
	case cheaper:
		return says + "; it cost less."
	}
	return says + "; it cost more."
}

// kickPath says what the legs did, and what is left with kick held.
func (m maker) kickPath(c contrastSet) string {
	if c.kick == nil {
		return "Kick was not noted, so that what the legs did is in these numbers."
	}
	e, ok := newInterval(c.kick.Estimate, c.kick.ConfLow, c.kick.ConfHigh)
	if !ok {
		return "What the legs did cannot be told from these bouts."
	}
	points := scale{"percentage points", 1}
	text := "Full kick was not clearly more or less frequent in these bouts"
	if decided(c.kick) {
		text = "Full kick was noted in " + points.size(e.estimate) + " " + points.unit + sign(e.estimate, " more of these bouts", " fewer of these bouts")
	}
	text += " (95 % interval " + points.offSpan(e.low, e.high) + ")"
	if c.held == nil {
		return text + "."
	}
	left, ok := newInterval(c.held.Estimate, c.held.ConfLow, c.held.ConfHigh)
	if !ok || c.held.Reason != nil {
		return text + "."
	}
	return text + "; with kick held fixed too, " + m.costNoun() + " is " + m.scale.off(left.estimate) +
		" (95 % interval " + m.scale.offSpan(left.low, left.high) + ")."
}
