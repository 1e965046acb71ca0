package findings

import (
	"fmt"
	"math"
	"strings"

	"lengthwise/schemas"
)

// reliability says which difference between two days is noise: the squad's
// sentences first.
func (m maker) reliability() []schemas.Finding {
	var squad, own []schemas.Finding
	for _, row := range m.Reliability {
		f, ok := m.noise(row)
		switch {
		case !ok:
		case row.Scope == scopeSquad:
			squad = append(squad, f)
		default:
			own = append(own, f)
		}
	}
	return append(squad, own...)
}

func (m maker) noise(row schemas.Reliability) (schemas.Finding, bool) {
	change, okChange := newInterval(row.Detectable, row.DetectableLow, row.DetectableHigh)
	typical, okTypical := newInterval(row.TypicalError, row.TypicalLow, row.TypicalHigh)
	if row.Reason != nil || !okChange || !okTypical {
		return schemas.Finding{}, false
	}
	f := schemas.Finding{
		Finding: id(BetweenDays, row.Stroke), Question: BetweenDays, Stroke: pointer(row.Stroke), Strength: StrengthGoesTogether, N: row.N,
		Estimate: number(row.Detectable), ConfLow: number(row.DetectableLow), ConfHigh: number(row.DetectableHigh),
	}
	whom := "this swimmer"
	if row.Scope == scopeSquad {
		f.N, whom = row.Swimmers, "one swimmer"
	} else {
		f.Finding, f.Swimmer = id(BetweenDays, row.Swimmer, row.Stroke), pointer(row.Swimmer)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s: two days of %s must differ by %s or more at the same pace to be more than noise", capital(row.Stroke), whom, m.scale.atLeast(change.estimate))
	fmt.Fprintf(&b, " (typical error %s %s, 95 %% interval from %s to %s; %s", m.scale.size(typical.estimate), m.scale.unit,
		m.scale.size(typical.low), m.scale.size(typical.high), count(row.N, "session"))
	if row.Scope == scopeSquad {
		b.WriteString(" of " + count(row.Swimmers, "swimmer"))
	}
	b.WriteString(").")
	b.WriteString(m.worthwhile(row, change))
	f.Sentence = b.String()
	f.Caution = pointer(strings.Join(reliabilityCautions(row), " "))
	return f, true
}

// atLeast rounds up, so that a printed bar is never lower than the number.
func (s scale) atLeast(v float64) string {
	step := math.Pow10(-s.digits)
	return s.size(math.Ceil(v/step-1e-9)*step) + " " + s.unit
}

// worthwhile is what the squad's row says between swimmers.
func (m maker) worthwhile(row schemas.Reliability, change interval) string {
	var b strings.Builder
	if v, ok := value(row.Worthwhile); ok && v > 0 {
		fmt.Fprintf(&b, " A fifth of the spread between swimmers, often taken for the smallest change worth having, is %s %s: ", m.scale.size(v), m.scale.unit)
		if v < change.estimate {
			b.WriteString("less than two single days can show.")
		} else {
			b.WriteString("two single days can show as much.")
		}
	}
	if r, ok := newInterval(row.ICC, row.ICCLow, row.ICCHigh); ok {
		pace := "the common pace"
		if v, ok := value(row.CommonPace); ok {
			pace = Pace(v)
		}
		fmt.Fprintf(&b, " At %s sessions tell %s apart with an intraclass correlation of %s (95 %% interval from %s to %s).",
			pace, count(row.ICCSwimmers, "swimmer"), correlation(r.estimate), correlation(r.low), correlation(r.high))
	}
	return b.String()
}

func reliabilityCautions(row schemas.Reliability) []string {
	var cautions []string
	for _, w := range strings.Split(row.Warnings, ";") {
		if w = asSentence(w); w != "" {
			cautions = append(cautions, w)
		}
	}
	if row.NDropped > 0 {
		cautions = append(cautions, asSentence(count(row.NDropped, "session")+" left out: "+row.DroppedWhy))
	}
	return cautions
}
