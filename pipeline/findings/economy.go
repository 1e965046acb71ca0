package findings

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"lengthwise/schemas"
)

// The words of economical_rate, as the table spells them.
const (
	roleReference   = "reference"
	setBounded      = "bounded"
	placeSlowest    = "at-or-beyond-slowest"
	placeQuickest   = "at-or-beyond-quickest"
	placeEitherEnd  = "either-end"
	directionQuick  = "quicker"
	directionSlow   = "slower"
	usualFromAll    = "all"
	usualFromSet    = "set"
	correctionNone  = "none"
	scopeSwimmer    = "swimmer"
	scopeSquad      = "squad"
	overSessions    = "within-sessions"
	reliableBounded = "bounded"
	methodOneModel  = "one-model"
)

// economical makes the sentences on the cheapest rate: the squad's count, then
// each swimmer's. Observed bouts have one only where they show a direction.
func (m maker) economical() []schemas.Finding {
	var out []schemas.Finding
	for _, stroke := range m.strokes() {
		if f, ok := m.economicalSquad(stroke); ok {
			out = append(out, f)
		}
	}
	for i, row := range m.Economical {
		if row.PaceRole != roleReference {
			continue
		}
		if row.Design == Designed {
			out = append(out, m.economicalSwimmer(row, m.otherPaces(i)))
		} else if f, ok := m.cheaperSide(row); ok {
			out = append(out, f)
		}
	}
	return out
}

// otherPaces are the rows of the same swimmer, stroke and design that follow the
// reference pace's.
func (m maker) otherPaces(i int) []schemas.EconomicalRate {
	row := m.Economical[i]
	var out []schemas.EconomicalRate
	for _, other := range m.Economical[i+1:] {
		if other.Swimmer != row.Swimmer || other.Stroke != row.Stroke || other.Design != row.Design {
			break
		}
		out = append(out, other)
	}
	return out
}

func economicalFinding(row schemas.EconomicalRate) schemas.Finding {
	return schemas.Finding{
		Finding: id(EconomicalRate, row.Swimmer, row.Stroke, row.Design), Question: EconomicalRate,
		Swimmer: pointer(row.Swimmer), Stroke: pointer(row.Stroke), Design: pointer(row.Design),
		Strength: strengthOf(row.Design), N: row.Bouts,
	}
}

// economicalSwimmer is one swimmer's sentence from designed bouts.
func (m maker) economicalSwimmer(row schemas.EconomicalRate, others []schemas.EconomicalRate) schemas.Finding {
	f := economicalFinding(row)
	opening := fmt.Sprintf("%s, %s: at %s ", capital(row.Stroke), setting(row.Design), Pace(row.PaceSPer100M))
	cautions := splitWarnings(row.Warnings)
	switch e, ok := namesRate(row); {
	case m.medicated(row.Swimmer):
		f.Strength = StrengthNone
		f.Sentence = opening + "no cheapest rate can be named." // why is in the caution, which a page by pseudonym leaves out
		f.Caution = pointer(CautionMedication)
		return f
	case ok:
		f.Sentence = opening + m.named(row, e) + m.scoreWouldSay(row) + elsewhere(others)
		f.Estimate, f.ConfLow, f.ConfHigh = number(row.RatePctOfUsual), number(row.ConfLow), number(row.ConfHigh)
		cautions = append(cautions, CautionSteps)
	case row.Place == placeSlowest || row.Place == placeQuickest:
		f.Sentence = opening + m.atAnEnd(row) + m.scoreWouldSay(row)
		cautions = append(cautions, CautionSteps)
	default:
		f.Strength = StrengthNone
		f.Sentence = opening + "no cheapest rate can be named" + because(row.Reason) + "."
	}
	if f.Strength != StrengthNone {
		switch row.UsualFrom {
		case usualFromSet:
			cautions = append(cautions, "Too few bouts were swum at a rate of the swimmer's own choice: the middle of the rates set stands for the usual rate.")
		case usualFromAll:
			cautions = append(cautions, "Too few bouts were swum at a rate of the swimmer's own choice: the middle of the rates swum stands for the usual rate.")
		}
	}
	cautions = append(cautions, counted(row.Correction, row.ReliabilityFrom, row.Reliability)...)
	if row.PooledOver != "" {
		cautions = append(cautions, pooledOver(row.PooledOver))
	}
	f.Caution = pointer(strings.Join(cautions, " "))
	return f
}

// namesRate reports whether a row names a cheapest rate, and gives it with its
// set. A set that leaves the rates swum at both ends says nothing of any of them.
func namesRate(row schemas.EconomicalRate) (interval, bool) {
	e, ok := newInterval(row.RatePctOfUsual, row.ConfLow, row.ConfHigh)
	below, above := beyondSwum(row, e)
	return e, ok && row.SetType == setBounded && row.Reason == nil && !(below && above)
}

// beyondSwum reports at which ends a set leaves the rates swum.
func beyondSwum(row schemas.EconomicalRate, e interval) (below, above bool) {
	low, okLow := value(row.LowSwum)
	high, okHigh := value(row.HighSwum)
	return okLow && e.low < low, okHigh && e.high > high
}

// setWords writes a set's ends. An end beyond the rates swum is not printed as a
// number, since nothing was measured there.
func setWords(row schemas.EconomicalRate, e interval) string {
	below, above := beyondSwum(row, e)
	from, to := oneDigit(e.low), oneDigit(e.high)+" %"
	if below {
		from = "below the slowest rate swum (" + oneDigit(*row.LowSwum) + " %)"
	}
	if above {
		to = "above the quickest rate swum (" + oneDigit(*row.HighSwum) + " %)"
		if !below {
			from += " %"
		}
	}
	return "from " + from + " to " + to
}

// named is the rate with its set, held against the usual rate and the rates swum.
func (m maker) named(row schemas.EconomicalRate, e interval) string {
	var b strings.Builder
	fmt.Fprintf(&b, "the cheapest stroke rate for this swimmer is %s %% of the usual one (95 %% set %s; %s in %s)",
		oneDigit(e.estimate), setWords(row, e), count(row.Bouts, "bout"), count(row.Sessions, "session"))
	if rate, ok := value(row.RateSPM); ok {
		fmt.Fprintf(&b, ", which is %s strokes a minute over whole lengths", strconv.FormatFloat(rate, 'f', 1, 64))
		if pool, ok := value(row.PoolM); ok {
			fmt.Fprintf(&b, " of %s m", strconv.FormatFloat(math.Round(pool*100)/100, 'f', -1, 64))
		}
	}
	b.WriteString(".")
	if e.low <= 100 && 100 <= e.high {
		b.WriteString(" The usual rate lies within that set: no other rate is shown to be cheaper.")
	}
	switch below, above := beyondSwum(row, e); {
	case below:
		b.WriteString(" On the slower side these bouts set no limit: of rates beyond those swum they say nothing.")
	case above:
		b.WriteString(" On the quicker side these bouts set no limit: of rates beyond those swum they say nothing.")
	}
	return b.String()
}

// atAnEnd is said where cost still falls at the end of the rates swum.
func (m maker) atAnEnd(row schemas.EconomicalRate) string {
	end, at := "slowest", row.LowSwum
	if row.Place == placeQuickest {
		end, at = "quickest", row.HighSwum
	}
	rate := ""
	if v, ok := value(at); ok {
		rate = " (" + oneDigit(v) + " % of the usual one)"
	}
	return fmt.Sprintf("cost still falls at the %s rate swum%s: the cheapest lies at or beyond the %s rate swum, where these bouts end (%s in %s).",
		end, rate, end, count(row.Bouts, "bout"), count(row.Sessions, "session"))
}

// scoreWouldSay sets the score's advice, the fewest strokes, beside it.
func (m maker) scoreWouldSay(row schemas.EconomicalRate) string {
	advice, ok := value(row.ScoreAdvice)
	e, okCost := newInterval(row.ScoreAdviceCost, row.ScoreAdviceLow, row.ScoreAdviceHigh)
	if !ok || !okCost {
		return ""
	}
	said := fmt.Sprintf(" The score calls the fewest strokes cheapest, here %s %% of the usual rate; that costs %s than the usual rate (95 %% interval %s).",
		oneDigit(advice), m.scale.change(e.estimate), m.scale.span(e.low, e.high))
	if e.low <= 0 && e.high >= 0 {
		said = fmt.Sprintf(" The score calls the fewest strokes cheapest, here %s %% of the usual rate; whether that is cheaper or dearer than the usual rate is left open (95 %% interval %s).",
			oneDigit(advice), m.scale.span(e.low, e.high))
	}
	return said
}

// elsewhere names the cheapest rate at the other paces swum.
func elsewhere(others []schemas.EconomicalRate) string {
	var parts []string
	for _, row := range others {
		if e, ok := namesRate(row); ok {
			parts = append(parts, fmt.Sprintf("at %s it is %s %% of the usual rate there (%s)",
				Pace(row.PaceSPer100M), oneDigit(e.estimate), setWords(row, e)))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return " " + capital(strings.Join(parts, "; ")) + "."
}

// cheaperSide is what observed bouts may say: on which side of the usual rate the
// cheaper bouts lay, with no rate and no verb of causing. It goes no further than
// the swimmer's verdict, which allows for how many swimmers were tested.
func (m maker) cheaperSide(row schemas.EconomicalRate) (schemas.Finding, bool) {
	e, ok := newInterval(row.SlopePer10Pct, row.SlopeLow, row.SlopeHigh)
	side := ""
	switch {
	case row.Direction == directionQuick && ok && e.high < 0 && m.verdictOf(row.Swimmer, row.Stroke, row.Design) == RunsAgainst:
		side = "quicker"
	case row.Direction == directionSlow && ok && e.low > 0 && m.verdictOf(row.Swimmer, row.Stroke, row.Design) == Tracks:
		side = "slower"
	}
	if side == "" || m.medicated(row.Swimmer) {
		return schemas.Finding{}, false
	}
	f := economicalFinding(row)
	f.Sentence = fmt.Sprintf("%s, %s: at %s, bouts at rates %s than the usual one were the cheaper ones (a rate 10 %% higher went with bouts %s, 95 %% interval %s). That is a direction and names no rate: for that, rates have to be set beforehand.",
		capital(row.Stroke), setting(row.Design), Pace(row.PaceSPer100M), side, m.scale.apart(e.estimate), m.scale.span(e.low, e.high))
	f.Estimate, f.ConfLow, f.ConfHigh = number(row.SlopePer10Pct), number(row.SlopeLow), number(row.SlopeHigh)
	cautions := append(splitWarnings(row.Warnings), CautionSteps)
	cautions = append(cautions, counted(row.Correction, row.ReliabilityFrom, row.Reliability)...)
	f.Caution = pointer(strings.Join(cautions, " "))
	return f, true
}

// economicalSquad counts what designed bouts could say, swimmer by swimmer.
func (m maker) economicalSquad(stroke string) (schemas.Finding, bool) {
	var swimmers, named, below, above, usual, slowest, quickest int32
	for _, row := range m.Economical {
		if row.Stroke != stroke || row.Design != Designed || row.PaceRole != roleReference || m.medicated(row.Swimmer) {
			continue
		}
		swimmers++
		e, ok := namesRate(row)
		switch {
		case ok:
			named++
			switch {
			case e.high < 100:
				below++
			case e.low > 100:
				above++
			default:
				usual++
			}
		case row.Place == placeSlowest:
			slowest++
		case row.Place == placeQuickest:
			quickest++
		}
	}
	if swimmers == 0 {
		return schemas.Finding{}, false
	}
	sentence := fmt.Sprintf("%s, %s: a cheapest stroke rate can be named for %d of %s", capital(stroke), setting(Designed), named, count(swimmers, "swimmer"))
	if named > 0 {
		sentence += fmt.Sprintf(" (below the usual rate for %d, above it for %d, not told apart from it for %d)", below, above, usual)
	}
	sentence += fmt.Sprintf("; for %d it lies at or beyond the slowest rate swum, for %d at or beyond the quickest, and for %d these bouts leave it open.",
		slowest, quickest, swimmers-named-slowest-quickest)
	f := schemas.Finding{Finding: id(EconomicalRate, stroke, Designed), Question: EconomicalRate, Stroke: pointer(stroke), Design: pointer(Designed),
		Strength: StrengthCosts, Sentence: sentence, N: swimmers}
	if named+slowest+quickest == 0 {
		f.Strength = StrengthNone
	} else {
		f.Caution = pointer(CautionSteps)
	}
	return f, true
}

// counted says what counting error did to a number.
func counted(correction, from string, reliability *float64) []string {
	v, ok := value(reliability)
	switch {
	case !ok:
		return nil
	case correction == "instrument":
		return []string{"The rates set stand in for those counted, so that miscounted strokes do not bend the answer."}
	case correction == "corrected-score":
		return []string{fmt.Sprintf("Corrected for miscounted strokes, which make up %s %% of how the counted rates differ at a fixed pace.", share(1-v))}
	case from == reliableBounded:
		return []string{fmt.Sprintf("At most %s %% of how the counted rates differ at a fixed pace is miscounting.", share(1-v))}
	}
	return nil
}

// oneDigit writes a percentage to one digit.
func oneDigit(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }

// splitWarnings turns a row's warnings into sentences.
func splitWarnings(warnings string) []string {
	var out []string
	for _, w := range strings.Split(warnings, ";") {
		if w = asSentence(w); w != "" {
			out = append(out, w)
		}
	}
	return out
}
