package findings

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"lengthwise/schemas"
)

// Brief is a study's answer for a terminal, wrapped at width characters: a
// table of the swimmers by name, what the data cannot say, what was tried, and
// the headline last, where a terminal shows it. findings are those of in. name
// turns a pseudonym into what the reader calls the swimmer. [Summary] is the
// long form.
func Brief(in Input, findings []schemas.Finding, width int, name func(pseudonym string) string) string {
	m := maker{Input: in, scale: scaleOf(in.Study.Cost)}
	w := writer{width: max(width, narrowest)}
	for _, stroke := range m.strokes() {
		m.swimmerLines(&w, stroke, name)
	}
	w.list("What these data cannot say", limitsOf(findings))
	w.list("To be read with it", briefCautions(findings))
	tried := ""
	for _, f := range findings {
		if f.Swimmer != nil || f.Strength == StrengthNone || !besideTheScore(f.Question) && f.Question != EconomicalRate {
			continue
		}
		if f.Design != nil && *f.Design == All {
			continue
		}
		if tried == "" {
			tried = "What was tried, and how far days differ"
			w.heading(tried)
		}
		w.paragraph(f.Sentence, "  - ", "    ")
	}
	w.heading("Does the score track what the swim costs?")
	for _, f := range findings {
		if f.Question == Headline {
			w.paragraph(f.Sentence, "  ", "  ")
		}
	}
	if len(findings) > 0 {
		w.heading(fmt.Sprintf("All %d sentences, each with its numbers, stand on the pages and in the table findings.", len(findings)))
	}
	return w.b.String()
}

// briefCautions are those shared by swimmers of the table above them. One with a
// figure is about one swimmer's bouts, who is not named here: it stands on the
// swimmer's page.
func briefCautions(findings []schemas.Finding) []string {
	apart := slices.DeleteFunc(slices.Clone(findings), func(f schemas.Finding) bool { return f.Design != nil && *f.Design == All })
	return slices.DeleteFunc(shared(apart), func(caution string) bool {
		return strings.HasPrefix(caution, unseenLead) || strings.ContainsAny(caution, "0123456789")
	})
}

// swimmerLines is one line a swimmer and kind of bout.
func (m maker) swimmerLines(w *writer, stroke string, name func(string) string) {
	var rows []schemas.ScoreBySwimmer
	for _, r := range m.BySwimmer {
		if r.Stroke == stroke && r.Design != All {
			rows = append(rows, r)
		}
	}
	if len(rows) == 0 {
		return
	}
	slices.SortStableFunc(rows, func(a, b schemas.ScoreBySwimmer) int {
		return cmp.Or(strings.Compare(name(a.Swimmer), name(b.Swimmer)), strings.Compare(a.Design, b.Design)) // designed before observed
	})
	w.heading(fmt.Sprintf("%s, swimmer by swimmer: what a stroke rate 10 %% higher at the same pace costs (bouts set beforehand) or goes together with (swum as liked), in %s",
		capital(stroke), m.scale.unit))
	longest := 7
	for _, r := range rows {
		longest = max(longest, utf8.RuneCountInString(Printable(name(r.Swimmer))))
	}
	longest = min(longest, max(7, w.width-60))
	before := ""
	for _, r := range rows {
		who := Printable(name(r.Swimmer))
		if who == before {
			who = ""
		} else {
			before = who
		}
		estimate, span, verdict := "", "", Worded(r)
		if e, ok := newInterval(r.EffectPer10Pct, r.EffectLow, r.EffectHigh); ok && verdict != TooLittleData {
			estimate = m.signed(e.estimate)
			span = "(" + m.signed(e.low) + " to " + m.signed(e.high) + ")"
		}
		kind := "liked"
		if r.Design == Designed {
			kind = "set"
		}
		line := fmt.Sprintf("  %s  %-5s  %s  %s  %s", padded(who, longest), kind, flushRight(estimate, 6), padded(span, 18), strings.ReplaceAll(verdict, "-", " "))
		w.b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}

// signed writes a number of the table with its sign.
func (m maker) signed(v float64) string {
	text := strconv.FormatFloat(v, 'f', m.scale.digits, 64)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	if v > 0 {
		return "+" + text
	}
	return strings.Replace(text, "-", "\u2212", 1)
}

// padded fills a text up to so many characters, or cuts it there.
func padded(s string, n int) string {
	if have := utf8.RuneCountInString(s); have <= n {
		return s + strings.Repeat(" ", n-have)
	}
	return string([]rune(s)[:n-1]) + "\u2026"
}

func flushRight(s string, n int) string {
	return strings.Repeat(" ", max(0, n-utf8.RuneCountInString(s))) + s
}
