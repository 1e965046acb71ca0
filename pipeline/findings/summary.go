package findings

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"lengthwise/schemas"
)

// narrowest is the least width, in characters, that a summary is wrapped to.
const narrowest = 30

// Summary is the findings as plain text for a terminal, wrapped at width
// characters (a word longer than a line is left whole): one block a swimmer,
// by name, then what to bear in mind, and the squad's answer last, where a
// terminal shows it. name turns a pseudonym into what the reader calls the
// swimmer. Control characters in names are dropped, so that no name can steer
// the terminal.
//
// It is the short form: what observed and designed bouts together say, the
// score as the recorder counts it, what each single estimate was pooled over,
// all tests of the scores as advice but the one at set-aside pace, and single
// swimmers' contrasts and changes without an answer are left to the tables and
// the page.
func Summary(findings []schemas.Finding, width int, name func(pseudonym string) string) string {
	findings = slices.DeleteFunc(slices.Clone(findings), func(f schemas.Finding) bool {
		both := f.Design != nil && *f.Design == All && f.Question != Headline
		contest := f.Question == Advice && !strings.HasPrefix(f.Finding, id(Advice, testPaceAdjusted))
		contest = contest || f.Question == Sensitivity && strings.Contains(f.Finding, "/lock-rule/")
		return both || contest || leftToTables(f) || strings.HasSuffix(f.Finding, "/"+ScoreRecorded)
	})
	w := writer{width: max(width, narrowest)}
	swimmers := swimmersOf(findings)
	slices.SortStableFunc(swimmers, func(a, b string) int { return strings.Compare(name(a), name(b)) })
	for _, swimmer := range swimmers {
		w.heading(Printable(name(swimmer)))
		for _, f := range findings {
			if f.Swimmer == nil || *f.Swimmer != swimmer {
				continue
			}
			w.paragraph(f.Sentence, "  ", "  ")
			if slices.Contains(cautionsOf(f), CautionMedication) {
				w.paragraph(CautionMedication, "    - ", "      ")
			}
		}
	}
	w.list("What these data cannot say", limitsOf(findings))
	w.list("With several swimmers' answers", shared(findings))
	squad := func(heading string, beside bool) {
		for _, f := range findings {
			if f.Swimmer != nil || f.Question == Limits || besideTheScore(f.Question) != beside {
				continue
			}
			if heading != "" {
				w.heading(heading)
				heading = ""
			}
			w.paragraph(f.Sentence, "  ", "  ")
		}
	}
	squad("The squad: what was tried, and how far days differ", true)
	squad("The squad: does the score track the cost?", false)
	return w.b.String()
}

// leftToTables are findings that the terminal is spared: those on speed and on
// single rates, and where a swimmer has no cheapest rate, contrast or change to
// be named.
func leftToTables(f schemas.Finding) bool {
	switch f.Question {
	case CostByRate, RateLength, CriticalSpeed:
		return true
	case EconomicalRate, Contrast, Change:
		return f.Strength == StrengthNone && f.Swimmer != nil
	}
	return false
}

// besideTheScore reports a question that is not about the score's own claim.
func besideTheScore(question string) bool {
	return question == Contrast || question == Change || question == BetweenDays
}

func (w *writer) list(heading string, lines []string) {
	if len(lines) == 0 {
		return
	}
	w.heading(heading)
	for _, line := range lines {
		w.paragraph(line, "  - ", "    ")
	}
}

func limitsOf(findings []schemas.Finding) []string {
	var limits []string
	for _, f := range findings {
		if f.Question == Limits {
			limits = append(limits, f.Sentence)
		}
	}
	return limits
}

// shared lists the cautions that go with several swimmers' answers word for
// word, and the one on small steps and shoulders as soon as it goes with any.
func shared(findings []schemas.Finding) []string {
	var order []string
	counts := map[string]int{}
	for _, f := range findings {
		if f.Question != BySwimmer {
			continue
		}
		for _, caution := range cautionsOf(f) {
			if counts[caution] == 0 {
				order = append(order, caution)
			}
			counts[caution]++
		}
	}
	return slices.DeleteFunc(order, func(caution string) bool {
		return caution == CautionMedication || counts[caution] < 2 && caution != CautionSteps || strings.HasPrefix(caution, pooledLead)
	})
}

// Common lists the cautions that need saying once: those that every answered
// by-swimmer finding carries, and the one on small steps and shoulders as soon
// as any does.
func Common(findings []schemas.Finding) []string {
	var order []string
	counts, answered := map[string]int{}, 0
	for _, f := range findings {
		if f.Question != BySwimmer || f.Strength == StrengthNone {
			continue
		}
		answered++
		for _, caution := range cautionsOf(f) {
			if counts[caution] == 0 {
				order = append(order, caution)
			}
			counts[caution]++
		}
	}
	var common []string
	for _, caution := range order {
		if counts[caution] == answered && answered > 1 || caution == CautionSteps {
			common = append(common, caution)
		}
	}
	return common
}

// Own lists a finding's cautions without those said once for all.
func Own(f schemas.Finding, common []string) []string {
	var own []string
	for _, caution := range cautionsOf(f) {
		said := false
		for _, c := range common {
			said = said || c == caution
		}
		if !said {
			own = append(own, caution)
		}
	}
	return own
}

// cautionsOf lists a finding's cautions.
func cautionsOf(f schemas.Finding) []string {
	if f.Caution == nil {
		return nil
	}
	return Sentences(*f.Caution)
}

// Sentences splits a text after each full stop that a space and a capital
// follow. An empty text has none.
func Sentences(text string) []string {
	if text == "" {
		return nil
	}
	var parts []string
	for from := 0; ; {
		i := strings.Index(text[from:], ". ")
		if i < 0 {
			return append(parts, text)
		}
		end := from + i + 1
		from = end
		if next, _ := utf8.DecodeRuneInString(text[end+1:]); unicode.IsUpper(next) {
			parts = append(parts, text[:end])
			text, from = text[end+1:], 0
		}
	}
}

func swimmersOf(findings []schemas.Finding) []string {
	seen := map[string]bool{}
	var out []string
	for _, f := range findings {
		if f.Swimmer != nil && !seen[*f.Swimmer] {
			seen[*f.Swimmer] = true
			out = append(out, *f.Swimmer)
		}
	}
	return out
}

// Printable drops control and direction-changing characters from a name and
// keeps everything else.
func Printable(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Cc, r) || unicode.Is(unicode.Bidi_Control, r) || r == utf8.RuneError {
			return -1
		}
		return r
	}, name)
}

// writer wraps text to a width counted in characters.
type writer struct {
	b     strings.Builder
	width int
}

func (w *writer) heading(text string) {
	if w.b.Len() > 0 {
		w.b.WriteByte('\n')
	}
	w.paragraph(text, "", "")
}

// paragraph writes text with one indent before its first line and another
// before the rest.
func (w *writer) paragraph(text, first, rest string) {
	line, empty := first, true
	for _, word := range words(text) {
		switch {
		case empty:
			line += word
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > w.width:
			w.b.WriteString(line + "\n")
			line = rest + word
		default:
			line += " " + word
		}
		empty = false
	}
	w.b.WriteString(strings.TrimRight(line, " ") + "\n")
}

// words splits text at spaces, but keeps a number with its per cent sign.
func words(text string) []string {
	var out []string
	for _, word := range strings.Fields(text) {
		if len(out) > 0 && strings.HasPrefix(word, "%") {
			out[len(out)-1] += " " + word
			continue
		}
		out = append(out, word)
	}
	return out
}
