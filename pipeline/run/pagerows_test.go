package run

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"golang.org/x/net/html"

	"lengthwise/pipeline/findings"
	"lengthwise/schemas"
)

// candidates gives, for a page's table by its caption, what rows of the study's tables a
// row of it may show; nil where nobody knows.
func (k *numberCheck) candidates(caption string) func(text string) [][]float64 {
	design := findings.Designed
	if strings.Contains(caption, "swum as they liked") {
		design = findings.Observed
	}
	switch {
	case strings.Contains(caption, "cost of 10 % more strokes a minute"):
		return func(text string) (out [][]float64) {
			for _, r := range k.scores {
				if r.Design == design && strings.HasPrefix(text, r.Swimmer+" ") {
					row := numbersIn(r)
					if r.QValue != nil && *r.QValue < 0.001 {
						row = append(row, 0.001)
					}
					out = append(out, row)
				}
			}
			return out
		}
	case strings.HasPrefix(caption, "Concordance"), strings.HasPrefix(caption, "Correlation"):
		return func(string) (out [][]float64) {
			for _, r := range k.overall {
				out = append(out, []float64{pointed64(r.Estimate), pointed64(r.ConfLow), pointed64(r.ConfHigh), pointed64(r.Null), float64(r.Swimmers), float64(r.Bouts)})
			}
			return out
		}
	case strings.HasPrefix(caption, "Cost at other stroke rates"):
		return func(string) (out [][]float64) {
			for _, r := range k.rates {
				if r.Scope == "squad" && k.page == "index.html" || r.Swimmer == k.swimmer {
					out = append(out, []float64{r.RatePctOfUsual, pointed64(r.Change), pointed64(r.ConfLow), pointed64(r.ConfHigh), pointed64(r.ChangePct), float64(r.BoutsNear), float64(r.Swimmers)})
				}
			}
			return out
		}
	case strings.Contains(caption, "where the numbers lie under each choice"):
		rows := k.waysBySetting(design)
		return func(string) [][]float64 { return rows }
	case strings.HasPrefix(caption, "Records by kind"):
		return func(string) (out [][]float64) {
			for _, a := range k.record.Accounts {
				out = append(out, []float64{float64(a.Read), float64(a.Used), float64(a.Excluded)})
			}
			return out
		}
	case strings.HasPrefix(caption, "Records that met a rule"):
		return func(text string) (out [][]float64) {
			by := map[string]float64{}
			for _, e := range k.ledger {
				by[e.Rule+" "+e.Action] += float64(max(1, e.Records))
			}
			for rule, n := range by {
				name, action, _ := strings.Cut(rule, " ")
				if strings.HasPrefix(text, name+" ") && strings.Contains(text, " "+action+" ") {
					out = append(out, append([]float64{n}, figuresIn(text)...))
				}
			}
			return out
		}
	case strings.HasPrefix(caption, "Bouts that entered no model"):
		return func(text string) (out [][]float64) {
			by := map[string]float64{}
			for i := range k.bouts {
				if b := &k.bouts[i]; !b.Usable && b.Reason != nil && (k.page == "index.html" || b.Swimmer == k.swimmer) {
					by[*b.Reason]++
				}
			}
			for _, n := range by {
				out = append(out, append([]float64{n}, figuresIn(text)...))
			}
			return out
		}
	case strings.HasPrefix(caption, "Pace-adjusted heart cost"):
		return func(text string) (out [][]float64) {
			for _, r := range k.paid {
				if strings.Contains(text, r.Session+" ") {
					out = append(out, numbersIn(r))
				}
			}
			return out
		}
	case strings.HasPrefix(caption, "Records left out"):
		return func(string) [][]float64 { return nil }
	}
	return nil
}

// figuresIn are the numbers in the words of a rule or reason, which are the same in every
// study, but for the last, which counts.
func figuresIn(text string) (out []float64) {
	numbers := numbersOf(text)
	for _, number := range numbers[:max(0, len(numbers)-1)] {
		for x := range 1000 {
			if shows(number, float64(x)) {
				out = append(out, float64(x))
			}
		}
	}
	return out
}

func pointed64(p *float64) float64 {
	if p == nil {
		return math.NaN()
	}
	return *p
}

// waysBySetting counts a design's specifications by every setting of every choice: how
// many, the lowest, middle and highest number, and how many intervals lie beside zero.
func (k *numberCheck) waysBySetting(design string) (out [][]float64) {
	settings := func(r *schemas.Sensitivity) []string {
		return []string{"a" + r.SteadyAfter, "b" + r.ShortestBout, "c" + r.Drift, "d" + r.Window, "e" + r.Reading, "f" + r.LockRule, "g" + r.Repairs, "h" + r.HRSource,
			"i" + r.UnknownCounts, "j" + r.FirstBout, "k" + r.PaceTerms, "l" + r.TagTerms, "m" + r.RateTerms, "n" + r.CountingError, "o" + r.Pooling}
	}
	by := map[string][]*schemas.Sensitivity{}
	for i := range k.curve {
		r := &k.curve[i]
		if r.Design != design || r.Estimate == nil || r.ConfLow == nil || r.ConfHigh == nil {
			continue
		}
		for _, s := range settings(r) {
			by[s] = append(by[s], r)
		}
	}
	for name, rows := range by {
		slices.SortFunc(rows, func(a, b *schemas.Sensitivity) int { return cmp.Compare(*a.Estimate, *b.Estimate) })
		beside, n := 0, len(rows)
		for _, r := range rows {
			if *r.ConfLow > 0 || *r.ConfHigh < 0 {
				beside++
			}
		}
		row := []float64{float64(n), *rows[0].Estimate, (*rows[(n-1)/2].Estimate + *rows[n/2].Estimate) / 2, *rows[n-1].Estimate, float64(beside)}
		for _, number := range numbersOf(name) { // the setting itself is shown
			for x := range 1000 {
				if shows(number, float64(x)) {
					row = append(row, float64(x))
				}
			}
		}
		out = append(out, row)
	}
	return out
}

// drawing holds the numbers in a drawing, but for the ticks of its axes.
func (k *numberCheck) drawing(n *html.Node) {
	var rows []float64
	for _, r := range k.economy {
		if r.Swimmer == k.swimmer {
			rows = append(rows, pointed64(r.LowSwum), pointed64(r.HighSwum))
		}
	}
	for _, r := range k.steady {
		if r.Swimmer == "" || r.Swimmer == k.swimmer {
			rows = append(rows, numbersIn(r)...)
		}
	}
	for _, r := range k.rates {
		if r.Scope == "squad" {
			rows = append(rows, r.RatePctOfUsual, float64(r.Swimmers))
		}
	}
	for _, r := range k.overall {
		rows = append(rows, float64(r.Swimmers), pointed64(r.PredictLow), pointed64(r.PredictHigh), pointed64(r.Estimate), pointed64(r.ConfLow), pointed64(r.ConfHigh), pointed64(r.Null))
	}
	ways := map[string]float64{}
	low, high := map[string]float64{}, map[string]float64{}
	for _, r := range k.curve {
		if r.Estimate != nil {
			ways[r.Design]++
			low[r.Design], high[r.Design] = min(low[r.Design], *r.Estimate), max(high[r.Design], *r.Estimate)
		}
	}
	for design, n := range ways {
		rows = append(rows, n, low[design], high[design])
	}
	days := map[string]float64{}
	for _, r := range k.paid {
		days[r.Swimmer+r.Stroke]++
	}
	for key, n := range days {
		if strings.HasPrefix(key, k.swimmer) {
			rows = append(rows, n)
		}
	}
	fixed := append(numbersOf(k.told), numbersOf(k.ownWords)...) // 10 %, 95 %, the usual rate's 100
	fixed = append(fixed, "100", "95", "10")
	for _, part := range slices.Concat(all(n, "text"), all(n, "title"), all(n, "desc")) {
		if classOf(part) == "tick" {
			continue
		}
		text := textOf(part)
		for _, number := range numbersOf(text) {
			k.inDrawings++
			switch {
			case slices.Contains(fixed, number), slices.Contains(k.lastTable, number), strings.Contains(k.said, strings.TrimRight(oneForm(text), ".")):
			case slices.ContainsFunc(rows, func(x float64) bool { return shows(number, x) }):
			case part.Data == "desc" && slices.Contains(numbersOf(k.said), number):
			default:
				k.t.Errorf("%s: a drawing says %s (%q), which no table does", k.page, number, text)
			}
		}
	}
}
