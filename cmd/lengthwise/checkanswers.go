package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// prospect is what one swimmer's bouts of a stroke and a design can answer.
type prospect struct {
	Swimmer    string         `json:"swimmer"` // the name
	Stroke     string         `json:"stroke"`
	Design     string         `json:"design"`
	Bouts      int            `json:"bouts"` // usable
	Sessions   int            `json:"sessions"`
	RateSpread *float64       `json:"rate_spread"` // at fixed pace, within sessions, as a share
	PaceSpread *float64       `json:"pace_spread"` // within sessions, as a share
	Sources    map[string]int `json:"heart_rate_sources"`
	Unusable   map[string]int `json:"unusable_bouts"` // by reason
	Answerable bool           `json:"answerable"`
	Reason     string         `json:"reason"`
	Takes      []string       `json:"it_would_take"`
}

// prospects says for each swimmer, stroke and design whether there is enough, and
// what it would take. Observed and designed bouts together are told only where
// neither kind alone can answer.
func prospects(s *study.Study, r *run.Result) []prospect {
	spread := map[[3]string]*float64{}
	for _, f := range r.Answers.Fits {
		spread[[3]string{f.Swimmer, f.Stroke, f.Design}] = f.RateSpread
	}
	alone := map[[2]string]bool{}
	for _, row := range r.Answers.BySwimmer {
		if row.Design != "all" && row.Verdict != findings.TooLittleData {
			alone[[2]string{row.Swimmer, row.Stroke}] = true
		}
	}
	own := map[string][]schemas.Bout{}
	for _, b := range r.Bouts {
		own[b.Swimmer] = append(own[b.Swimmer], b)
	}
	var out []prospect
	for _, row := range r.Answers.BySwimmer {
		if row.Design == "all" && (row.Verdict == findings.TooLittleData || alone[[2]string{row.Swimmer, row.Stroke}]) {
			continue
		}
		p := prospect{Swimmer: r.Name(row.Swimmer), Stroke: row.Stroke, Design: row.Design, Bouts: int(row.Bouts), Sessions: int(row.Sessions),
			RateSpread: spread[[3]string{row.Swimmer, row.Stroke, row.Design}], Answerable: row.Verdict != findings.TooLittleData,
			Reason: wordOr(row.Reason, ""), Sources: map[string]int{}, Unusable: map[string]int{}}
		p.look(own[row.Swimmer])
		if !p.Answerable {
			p.Takes = p.takes(&row, s.Analysis)
		}
		out = append(out, p)
	}
	slices.SortStableFunc(out, func(a, b prospect) int {
		return cmp.Or(strings.Compare(a.Swimmer, b.Swimmer), strings.Compare(a.Stroke, b.Stroke))
	})
	return out
}

// look reads from the swimmer's bouts what their heart rate comes from, why some
// are not usable, and how pace varies within sessions.
func (p *prospect) look(bouts []schemas.Bout) {
	sums := map[string][3]float64{} // by session: n, sum and sum of squares of ln speed
	sources := map[string][]string{}
	var order []string
	var mine []schemas.Bout
	for _, b := range bouts {
		if b.Stroke != p.Stroke || p.Design != "all" && b.Designed != (p.Design == "designed") {
			continue
		}
		mine = append(mine, b)
		if !b.Usable {
			continue
		}
		sources[b.Session] = append(sources[b.Session], wordOr(b.HRSource, "none"))
		x := math.Log(b.SpeedMPS)
		t, ok := sums[b.Session]
		if !ok {
			order = append(order, b.Session)
		}
		sums[b.Session] = [3]float64{t[0] + 1, t[1] + x, t[2] + x*x}
	}
	for _, u := range findings.CountBouts(mine).Unusable {
		p.Unusable[cmp.Or(u.About, u.Reason)] = u.Bouts
	}
	var squares, df float64
	for _, session := range order {
		t := sums[session]
		if t[0] > 1 { // one alone is compared with nothing
			for _, source := range sources[session] {
				p.Sources[source]++
			}
		}
		squares, df = squares+math.Max(0, t[2]-t[1]*t[1]/t[0]), df+t[0]-1
	}
	p.PaceSpread = finite(math.Sqrt(squares / df))
}

// takes says what would make an answer possible, by the study's own limits.
func (p *prospect) takes(row *schemas.ScoreBySwimmer, a study.Analysis) (takes []string) {
	if n := a.MinSessions - p.Sessions; n > 0 {
		takes = append(takes, count(n, "more session")+" with two usable bouts or more each")
	}
	if n := a.MinBouts - p.Bouts; n > 0 {
		takes = append(takes, count(n, "more usable bout"))
	}
	if p.RateSpread != nil && *p.RateSpread < a.MinRateSpread {
		takes = append(takes, "stroke rates that differ more at one pace: set them from about 15 % under to 15 % over the usual")
	}
	if len(takes) == 0 && row.DF != nil && *row.DF < analyse.FewestDF && *row.DF > 0 {
		more := max(1, int(math.Ceil(analyse.FewestDF / *row.DF * float64(p.Sessions-1)))+1-p.Sessions)
		takes = append(takes, fmt.Sprintf("about %s (%.1f degrees of freedom, where %d are needed)", count(more, "more session"), *row.DF, analyse.FewestDF))
	}
	return takes
}

// words is one line for a swimmer's stroke and design.
func (p *prospect) words() string {
	var b strings.Builder
	kind := map[string]string{"observed": "as liked", "designed": "set beforehand", "all": "as liked and set beforehand together"}[p.Design]
	fmt.Fprintf(&b, "%s, %s: ", p.Stroke, kind)
	if p.Answerable {
		b.WriteString("yes")
	} else {
		b.WriteString("not yet")
		if p.Reason != "" {
			b.WriteString(", " + p.Reason)
		}
	}
	fmt.Fprintf(&b, ". %s in %s", count(p.Bouts, "usable bout"), count(p.Sessions, "session"))
	if p.RateSpread != nil {
		fmt.Fprintf(&b, "; at fixed pace the rate varies by %.1f %%", 100**p.RateSpread)
	}
	if p.PaceSpread != nil {
		fmt.Fprintf(&b, "; pace by %.1f %%", 100**p.PaceSpread)
	}
	if len(p.Sources) > 0 {
		fmt.Fprintf(&b, "; heart rate %s", countsInWords(p.Sources, map[string]string{"strap": "by strap", "optical": "from the wrist",
			"palpated": "felt by hand", "unknown": "of unstated source"}, false))
	}
	if n := total(p.Unusable); n > 0 && (!p.Answerable || 3*n > p.Bouts) {
		fmt.Fprintf(&b, "; not usable: %s", countsInWords(p.Unusable, nil, true))
	}
	b.WriteString(".")
	if len(p.Takes) > 0 {
		fmt.Fprintf(&b, " It would take %s.", strings.Join(p.Takes, ", and "))
	}
	return b.String()
}

// countsInWords lists counted words, the most first, each as said spells it; a word
// alone goes without its number unless always.
func countsInWords(counts map[string]int, said map[string]string, always bool) string {
	var words []string
	for word := range counts {
		words = append(words, word)
	}
	slices.SortFunc(words, func(a, b string) int { return cmp.Or(cmp.Compare(counts[b], counts[a]), strings.Compare(a, b)) })
	for i, word := range words {
		words[i] = cmp.Or(said[word], word)
		if len(counts) > 1 || always {
			words[i] += fmt.Sprintf(" (%d)", counts[word])
		}
	}
	return strings.Join(words, ", ")
}

func total(counts map[string]int) (n int) {
	for _, k := range counts {
		n += k
	}
	return n
}

// answerLine sums up for how many swimmers the question can be answered.
func answerLine(all []prospect) string {
	swimmers, set, liked, both := map[string]bool{}, map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, p := range all {
		swimmers[p.Swimmer] = true
		if p.Answerable {
			map[string]map[string]bool{"designed": set, "observed": liked, "all": both}[p.Design][p.Swimmer] = true
		}
	}
	for name := range both {
		if set[name] || liked[name] {
			delete(both, name)
		}
	}
	if len(set)+len(liked)+len(both) == 0 {
		return "The study's question cannot be answered for anybody yet: what each swimmer lacks is at the end."
	}
	text := fmt.Sprintf("Of %s the question can be answered for %d from bouts whose rate or instruction was set beforehand (what a rate costs), and for %d from bouts swum as they liked (what goes together with it)",
		count(len(swimmers), "swimmer"), len(set), len(liked))
	if len(both) > 0 {
		text += fmt.Sprintf("; for %d more from both kinds together", len(both))
	}
	return text + "."
}
