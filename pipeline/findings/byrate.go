package findings

import (
	"fmt"
	"strings"

	"lengthwise/schemas"
)

// byRate makes the sentences on cost at several rates: one for the squad and one
// for each swimmer, by design. Only rates that were swum are in them.
func (m maker) byRate() []schemas.Finding {
	var out []schemas.Finding
	for _, scope := range []string{scopeSquad, scopeSwimmer} {
		for i := 0; i < len(m.ByRate); {
			end := i + 1
			for end < len(m.ByRate) && sameCurve(m.ByRate[i], m.ByRate[end]) {
				end++
			}
			if m.ByRate[i].Scope == scope {
				if f, ok := m.curve(m.ByRate[i:end]); ok {
					out = append(out, f)
				}
			}
			i = end
		}
	}
	return out
}

func sameCurve(a, b schemas.CostByRate) bool {
	return a.Scope == b.Scope && a.Swimmer == b.Swimmer && a.Stroke == b.Stroke && a.Design == b.Design
}

// curve puts the rates of one swimmer, or of the squad, into one sentence.
func (m maker) curve(rows []schemas.CostByRate) (schemas.Finding, bool) {
	first := rows[0]
	var parts, cautions []string
	var bouts, swimmers int32
	clear := false // some rate's interval leaves out zero
	for _, row := range rows {
		e, ok := newInterval(row.Change, row.ConfLow, row.ConfHigh)
		if !ok {
			continue
		}
		clear = clear || e.low > 0 || e.high < 0
		bouts, swimmers = max(bouts, row.Bouts), max(swimmers, row.Swimmers)
		part := m.againstUsual(row, e)
		if p, ok := value(row.ChangePct); ok {
			part += fmt.Sprintf("; %s %% of the cost", signedPercent(p))
		}
		if first.Scope == scopeSquad {
			part += "; " + over(row)
		}
		parts = append(parts, part+")")
		for _, w := range splitWarnings(row.Warnings) {
			if !strings.Contains(strings.Join(cautions, " "), w) {
				cautions = append(cautions, w)
			}
		}
	}
	if len(parts) == 0 {
		return schemas.Finding{}, false
	}
	f := schemas.Finding{Question: CostByRate, Stroke: pointer(first.Stroke), Design: pointer(first.Design), Strength: strengthOf(first.Design)}
	opening := fmt.Sprintf("%s, %s: ", capital(first.Stroke), setting(first.Design))
	if first.Scope == scopeSquad {
		f.Finding, f.N = id(CostByRate, first.Stroke, first.Design), swimmers
		f.Sentence = opening + "against the usual rate at the same pace and on average: " + strings.Join(parts, "; ") + "."
	} else {
		f.Finding, f.N, f.Swimmer = id(CostByRate, first.Swimmer, first.Stroke, first.Design), bouts, pointer(first.Swimmer)
		f.Sentence = opening + "against this swimmer's usual rate at the same pace: " + strings.Join(parts, "; ") + "."
		if clear && m.verdictOf(first.Swimmer, first.Stroke, first.Design) == Undecided {
			cautions = append(cautions, CautionEachRate)
		}
		if m.medicated(first.Swimmer) {
			cautions = append(cautions, CautionMedication)
		}
	}
	f.Caution = pointer(strings.Join(cautions, " "))
	return f, true
}

// againstUsual says what one rate costs over the usual one, and opens a bracket. An
// interval that holds zero gives no direction.
func (m maker) againstUsual(row schemas.CostByRate, e interval) string {
	rate := percentWhole(row.RatePctOfUsual)
	interval := "95 % interval " + m.scale.span(e.low, e.high)
	switch {
	case e.low <= 0 && e.high >= 0:
		return fmt.Sprintf("whether a rate of %s %% of it is dearer or cheaper is left open (estimate %s, %s", rate, m.scale.apart(e.estimate), interval)
	case row.Design == Designed:
		return fmt.Sprintf("a rate of %s %% of it costs %s (%s", rate, m.scale.change(e.estimate), interval)
	}
	return fmt.Sprintf("a rate of %s %% of it goes together with bouts %s (%s", rate, m.scale.apart(e.estimate), interval)
}

// over says whose bouts a squad's number rests on. A model of all bouts draws on
// swimmers too who hardly swam that rate.
func over(row schemas.CostByRate) string {
	if row.Method == methodOneModel {
		return "from one model of " + count(row.Swimmers, "swimmer") + ", with " + count(row.BoutsNear, "bout") + " near that rate"
	}
	return count(row.Swimmers, "swimmer")
}

func percentWhole(v float64) string { return strings.TrimSuffix(oneDigit(v), ".0") }

// signedPercent writes a percentage with its sign: "+3.9", "\u22121.3".
func signedPercent(v float64) string {
	text := oneDigit(v)
	switch {
	case strings.Trim(text, "-0.") == "":
		return "0.0"
	case v < 0:
		return "\u2212" + strings.TrimPrefix(text, "-")
	}
	return "+" + text
}
