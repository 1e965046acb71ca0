package findings

import (
	"fmt"
	"math"
	"strings"

	"lengthwise/schemas"
)

// The plans of the table changes.
const (
	planOneDate     = "one-date"
	planOnAndOff    = "on-and-off"
	planAlternating = "alternating"
	planStaggered   = "staggered"
	planUnchanged   = "unchanged-group"
)

// changes makes the sentences on dated changes and phases: the squad's first.
func (m maker) changes() []schemas.Finding {
	var squad, own []schemas.Finding
	for _, row := range m.Changes {
		f := m.change(row)
		if row.Scope == scopeSquad {
			squad = append(squad, f)
		} else {
			own = append(own, f)
		}
	}
	return append(squad, own...)
}

func (m maker) change(row schemas.Change) schemas.Finding {
	f := schemas.Finding{
		Finding: id(Change, row.Kind, Printable(row.Change), row.Reference, row.Stroke), Question: Change,
		Stroke: pointer(row.Stroke), Design: pointer(row.Design), Strength: strengthOf(row.Design), N: row.N,
	}
	if row.Scope == scopeSquad {
		f.N = row.Swimmers
	} else {
		f.Finding, f.Swimmer = id(Change, row.Swimmer, row.Kind, Printable(row.Change), row.Reference, row.Stroke), pointer(row.Swimmer)
	}
	opening := fmt.Sprintf("%s, %s: ", capital(row.Stroke), changeName(row))
	e, ok := newInterval(row.Estimate, row.ConfLow, row.ConfHigh)
	if !ok || row.Reason != nil {
		f.Strength = StrengthNone
		why := ""
		if row.Reason != nil {
			why = " (" + strings.TrimSuffix(strings.TrimSpace(*row.Reason), ".") + ")"
		}
		f.Sentence = opening + "too little data to say" + why + "."
		return f
	}
	f.Estimate, f.ConfLow, f.ConfHigh = number(row.Estimate), number(row.ConfLow), number(row.ConfHigh)
	if cannotShow(row) {
		f.Strength, row.Design = StrengthNone, Observed // no word beyond what its lots carry
	}
	f.Sentence = opening + m.difference(row, e) + " " + lots(row) + m.trend(row)
	f.Caution = pointer(strings.Join(changeCautions(row), " "))
	return f
}

// changeName names a change with what it is compared with.
func changeName(row schemas.Change) string {
	if row.Kind == "phase" {
		return "phase " + Printable(row.Change) + " after " + Printable(row.Reference)
	}
	return Printable(row.Change)
}

// claimed reports whether a change's direction is.
func claimed(row schemas.Change, e interval) bool {
	return row.Direction == directionHigher && e.low > 0 || row.Direction == directionLower && e.high < 0
}

// difference is size, interval and what stands behind it.
func (m maker) difference(row schemas.Change, e interval) string {
	var b strings.Builder
	whom := "for this swimmer"
	if row.Scope == scopeSquad {
		whom = "on average over " + count(row.Swimmers, "swimmer")
		if row.Unchanged > 0 {
			whom += " (beside " + count(row.Unchanged, "swimmer") + " whom it did not reach)"
		}
	}
	switch {
	case row.Design == Designed:
		b.WriteString("with it, the same pace costs " + m.scale.change(e.estimate) + " " + whom)
	case row.Kind == "phase":
		b.WriteString("sessions of the later phase were " + m.scale.apart(e.estimate) + " at the same pace " + whom)
	default:
		b.WriteString("it goes together with sessions " + m.scale.apart(e.estimate) + " at the same pace " + whom)
	}
	b.WriteString(", the time trend set aside (95 % interval " + m.scale.span(e.low, e.high))
	if p, ok := value(row.PHolm); ok {
		b.WriteString("; " + probability(adjusted(row.FamilySize), p))
	}
	fmt.Fprintf(&b, "; %s with it, %s without).", count(row.NWith, "session"), Grouped(int64(row.NWithout)))
	if !claimed(row, e) {
		b.WriteString(" That leaves open whether such sessions are cheaper or dearer.")
	}
	return b.String()
}

// cannotShow reports a change whose dates or lots could not have given a p
// below 0.05.
func cannotShow(row schemas.Change) bool {
	p, ok := value(row.SmallestP)
	return !ok || p > 0.05
}

// lots says among how many dates or lots the change stands, and what they
// could have shown.
func lots(row schemas.Change) string {
	ways, ok := value(row.Ways)
	smallest, okSmallest := value(row.SmallestP)
	p, okP := value(row.RandomisationP)
	if !ok || !okSmallest || !okP {
		return "There are no other dates to set it against, so that nothing is claimed."
	}
	of := "dates on which it could have begun"
	switch row.Plan {
	case planAlternating, planOnAndOff:
		of = "ways to deal it out over the periods"
	case planStaggered:
		of = "ways to deal its dates out over the swimmers"
	case planUnchanged:
		of = "ways to choose whom it reaches"
	}
	among := "Among the " + waysWords(ways) + " " + of + " "
	if cannotShow(row) {
		// Rounded down, so that the sentence holds.
		return fmt.Sprintf("%snone could have given a p below %.3f: they are too few to show it, whatever was measured.", among, math.Floor(1000*smallest)/1000)
	}
	return among + "it stands at " + probability("p", p) + "."
}

// waysWords writes a number of lots; beyond a million only its size matters.
func waysWords(ways float64) string {
	if ways > 1e6 {
		return "more than a million"
	}
	return Grouped(int64(ways))
}

// trend is the time trend that stands beside the squad's change.
func (m maker) trend(row schemas.Change) string {
	t, ok := newInterval(row.Trend, row.TrendLow, row.TrendHigh)
	if !ok || row.Scope != scopeSquad {
		return ""
	}
	return fmt.Sprintf(" The trend beside it: sessions get %s in 30 days (95 %% interval %s).", m.scale.apart(t.estimate), m.scale.span(t.low, t.high))
}

func changeCautions(row schemas.Change) []string {
	var cautions []string
	for _, w := range strings.Split(row.Warnings, ";") {
		if w = asSentence(w); w != "" {
			cautions = append(cautions, w)
		}
	}
	if row.Scope == scopeSquad && row.NDropped > 0 {
		cautions = append(cautions, asSentence(count(row.NDropped, "session")+" left out: "+row.DroppedWhy))
	}
	return cautions
}
