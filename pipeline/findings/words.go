package findings

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// scale writes differences of cost in the study's unit.
type scale struct {
	unit   string
	digits int // after the point
}

func scaleOf(c study.Cost) scale { return scale{unit: c.Unit(), digits: Digits(c)} }

// Digits is how many digits after the point a difference of cost is shown
// with: a tenth of the unit, and a hundredth where effects are small numbers
// by nature.
func Digits(c study.Cost) int {
	if c.Measure == "lab" || c.Measure == "rpe" {
		return 2
	}
	return 1
}

// size writes |v|: "3.4", or "under 0.1" for what would round to nothing.
func (s scale) size(v float64) string {
	text := strconv.FormatFloat(math.Abs(v), 'f', s.digits, 64)
	if v != 0 && strings.Trim(text, "0.") == "" {
		return "under " + strconv.FormatFloat(math.Pow10(-s.digits), 'f', s.digits, 64)
	}
	return text
}

// change writes v after a verb of costing: "3.4 bpm more".
func (s scale) change(v float64) string {
	return s.size(v) + " " + s.unit + " " + sign(v, "more", "less")
}

// apart writes v as a difference between bouts: "3.4 bpm dearer".
func (s scale) apart(v float64) string {
	return s.size(v) + " " + s.unit + " " + sign(v, "dearer", "cheaper")
}

// span writes an interval with its directions: "from 1.2 to 5.6 bpm dearer",
// or "from 0.4 bpm cheaper to 2.0 bpm dearer". One that lies below zero is
// read from its smaller size to its larger.
func (s scale) span(low, high float64) string {
	switch {
	case low >= 0:
		return "from " + s.size(low) + " to " + s.apart(high)
	case high <= 0:
		return "from " + s.size(high) + " to " + s.apart(low)
	}
	return "from " + s.apart(low) + " to " + s.apart(high)
}

func sign(v float64, above, below string) string {
	if v < 0 {
		return below
	}
	return above
}

// interval is an estimate with its interval, all finite and in order.
type interval struct{ estimate, low, high float64 }

// newInterval reports whether there is an estimate with an interval at all.
func newInterval(estimate, low, high *float64) (interval, bool) {
	e, ok := value(estimate)
	l, okLow := value(low)
	h, okHigh := value(high)
	return interval{e, l, h}, ok && okLow && okHigh && l <= e && e <= h
}

// value reads a nullable number; what is not finite counts as missing.
func value(p *float64) (float64, bool) {
	if p == nil || math.IsNaN(*p) || math.IsInf(*p, 0) {
		return 0, false
	}
	return *p, true
}

// correlation writes a correlation to two digits with a true minus sign.
func correlation(r float64) string {
	text := strconv.FormatFloat(math.Abs(r), 'f', 2, 64)
	if r < 0 && text != "0.00" {
		return "\u2212" + text
	}
	return text
}

// share writes a share as a percentage without its sign: 0.531 is "53.1".
func share(v float64) string { return strconv.FormatFloat(100*v, 'f', 1, 64) }

// probability writes a p or q value with its sign, "q = 0.004". It never
// rounds across 0.05, which is the line the verdicts are drawn at.
func probability(letter string, p float64) string {
	switch text := strconv.FormatFloat(p, 'f', 3, 64); {
	case p < 0.001:
		return letter + " below 0.001"
	case text == "0.050" && p < 0.05:
		return letter + " just below 0.05"
	case text == "0.050" && p > 0.05:
		return letter + " just above 0.05"
	case p >= 0.1:
		return letter + " = " + strconv.FormatFloat(p, 'f', 2, 64)
	default:
		return letter + " = " + text
	}
}

// Pace writes seconds per 100 m as swimmers do: "1:40 per 100 m".
func Pace(seconds float64) string {
	whole := int(math.Round(seconds))
	if whole < 60 {
		return fmt.Sprintf("%d s per 100 m", whole)
	}
	return fmt.Sprintf("%d:%02d per 100 m", whole/60, whole%60)
}

// count writes a number with its noun: "1 bout", "2,400 bouts".
func count[N int | int32](n N, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return Grouped(int64(n)) + " " + noun + "s"
}

// Grouped writes a count with commas between thousands.
func Grouped(n int64) string {
	s := strconv.FormatInt(n, 10)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// asSentence gives a fragment a capital and a full stop.
func asSentence(text string) string {
	text = strings.TrimSpace(text)
	if text == "" {
		return ""
	}
	first, size := utf8.DecodeRuneInString(text)
	text = string(unicode.ToUpper(first)) + text[size:]
	if strings.HasSuffix(text, ".") || strings.HasSuffix(text, "?") {
		return text
	}
	return text + "."
}

// capital gives a word its capital.
func capital(text string) string { return strings.TrimSuffix(asSentence(text), ".") }

// strengthOf is how far a design lets a sentence go. All bouts together hold
// observed ones, so they earn no more than those.
func strengthOf(design string) string {
	if design == Designed {
		return StrengthCosts
	}
	return StrengthGoesTogether
}

// setting says how the bouts of a design came about.
func setting(design string) string {
	switch design {
	case Designed:
		return "rate or instruction set beforehand"
	case Observed:
		return "swum as the swimmer liked"
	}
	return "set beforehand and as liked together"
}

// id joins the parts of a finding's key.
func id(parts ...string) string { return strings.Join(parts, "/") }

// pointer returns a pointer to a copy, nil for "".
func pointer(text string) *string {
	if text == "" {
		return nil
	}
	return &text
}

// number copies a nullable number so that a finding shares nothing with its
// row.
func number(p *float64) *float64 {
	if v, ok := value(p); ok {
		return &v
	}
	return nil
}

// squadFinding is a finding about the squad with its numbers.
func squadFinding(question string, row schemas.ScoreOverall, sentence string) schemas.Finding {
	stroke, design := row.Stroke, row.Design
	return schemas.Finding{
		Question: question, Stroke: &stroke, Design: &design, Sentence: sentence,
		Strength: squadStrength(question, row.Design), N: row.Swimmers,
		Estimate: number(row.Estimate), ConfLow: number(row.ConfLow), ConfHigh: number(row.ConfHigh),
	}
}

// squadStrength is how far a squad's sentence may go. A correlation across
// paces, or between people, is never what a rate costs, however the bouts were
// set.
func squadStrength(question, design string) string {
	if question == Raw || question == Between {
		return StrengthGoesTogether
	}
	return strengthOf(design)
}
