package publish

import (
	"fmt"
	"slices"
	"strings"

	"lengthwise/pipeline/findings"
	"lengthwise/schemas"
)

// forest is the picture of one stroke and design: every swimmer with a
// verdict, the squad's average and what another swimmer may expect.
func (b builder) forest(stroke, design string) (figure, bool) {
	var shown, all []schemas.ScoreBySwimmer
	for _, r := range b.BySwimmer {
		if r.Stroke != stroke || r.Design != design {
			continue
		}
		all = append(all, r)
		if findings.Worded(r) != findings.TooLittleData {
			shown = append(shown, r)
		}
	}
	if len(shown) == 0 {
		return figure{}, false
	}
	slices.SortStableFunc(shown, func(x, y schemas.ScoreBySwimmer) int {
		switch {
		case *x.EffectPer10Pct > *y.EffectPer10Pct:
			return -1
		case *x.EffectPer10Pct < *y.EffectPer10Pct:
			return 1
		}
		return strings.Compare(x.Swimmer, y.Swimmer)
	})
	smallest := b.Study.Analysis.SmallestEffect
	f := forest{
		id:    "forest-" + stroke + "-" + design,
		title: capital(stroke) + ", " + designWords(design) + ": swimmer by swimmer",
		band:  smallest, below: "cheaper: score runs against", above: "dearer: score tracks",
		unit: "what a 10 % higher stroke rate costs, " + b.unit,
		tick: signed,
	}
	if design != findings.Designed {
		f.unit = "what goes together with a 10 % higher stroke rate, " + b.unit
	}
	if smallest > 0 {
		f.bandText = "shaded: practically none, within " + fixed(smallest, b.digits) + " " + b.unit + " either way"
	}
	for _, r := range shown {
		e, _ := newInterval(r.EffectPer10Pct, r.EffectLow, r.EffectHigh)
		verdict := findings.Worded(r)
		f.rows = append(f.rows, forestRow{name: b.name(r.Swimmer), e: e, mark: verdict, numbers: b.numbers(e), words: verdictShort(verdict)})
	}
	fig := figure{ID: f.id, Heading: capital(stroke) + ", " + designWords(design)}
	fig.Note = "Nothing was set beforehand in these bouts. They show what goes together, no more: tiredness, mood and pace move along with stroke rate."
	if design == findings.Designed {
		fig.Note = "The stroke rate or the instruction was set beforehand at a fixed pace, so these bouts can show what a rate costs."
	}
	fig.caption(b.sentence(findings.MatchedPace, stroke, design))
	if row, ok := b.overall(findings.MatchedPace, findings.MeasureEffect, stroke, design); ok {
		if e, ok := newInterval(row.Estimate, row.ConfLow, row.ConfHigh); ok {
			f.summary = append(f.summary, forestRow{name: "Average of " + fmt.Sprint(row.Swimmers), e: e, mark: "diamond", numbers: b.numbers(e), words: "95 % interval"})
		}
		if e, ok := newInterval(row.Estimate, row.PredictLow, row.PredictHigh); ok {
			f.summary = append(f.summary, forestRow{name: "Another swimmer", e: e, mark: "bar", numbers: b.span(e), words: "95 % prediction"})
		}
	}
	f.desc = strings.Join(append([]string{fmt.Sprintf("%d swimmers, sorted from dearer to cheaper, each with a 95 %% interval.", len(shown))}, fig.Captions...), " ")
	fig.Drawings = []drawing{f.draw(wide), f.draw(narrow)}
	fig.Table = b.swimmerTable(fig.Heading, shown, all)
	fig.People, fig.Common = b.people(stroke, design)
	return fig, true
}

// averages is the picture beside the answer: what the squad's bouts give on
// average, by how they came about.
func (b builder) averages(stroke string) *drawing {
	f := forest{
		id: "averages-" + stroke, title: capital(stroke) + ": the squad on average",
		band: b.Study.Analysis.SmallestEffect, below: "cheaper: score runs against", above: "dearer: score tracks",
		unit: "10 % higher stroke rate, " + b.unit, tick: signed,
		bandText: "diamond: average and its 95 % interval; bar: where another swimmer may lie",
	}
	for _, design := range b.designs(stroke) {
		row, ok := b.overall(findings.MatchedPace, findings.MeasureEffect, stroke, design)
		e, sound := newInterval(row.Estimate, row.ConfLow, row.ConfHigh)
		if !ok || !sound {
			continue
		}
		r := forestRow{name: capital(designWords(design)), e: e, mark: "diamond", numbers: b.numbers(e)}
		if p, ok := newInterval(row.Estimate, row.PredictLow, row.PredictHigh); ok {
			r.predict = &p
		}
		f.summary = append(f.summary, r)
		f.desc += b.sentence(findings.MatchedPace, stroke, design) + " "
	}
	if len(f.summary) == 0 {
		return nil
	}
	d := f.draw(aside)
	return &d
}

// numbers writes an estimate with its interval: "+2.9 (+1.2 to +4.5)".
func (b builder) numbers(e interval) string {
	return signed(e.estimate, b.digits) + " (" + b.span(e) + ")"
}

func (b builder) span(e interval) string {
	return signed(e.low, b.digits) + " to " + signed(e.high, b.digits)
}

// showable leaves out of a page by pseudonym that a swimmer takes medication:
// somebody who knows the pace would know the health.
func (b builder) showable(cautions []string) []string {
	if b.Name != nil {
		return cautions
	}
	return slices.DeleteFunc(slices.Clone(cautions), func(c string) bool { return c == findings.CautionMedication })
}

// people gives each swimmer's own sentence for a stroke and design, and the
// cautions that need saying once for all of them.
func (b builder) people(stroke, design string) ([]person, []string) {
	var picked []schemas.Finding
	for _, f := range b.Findings {
		if f.Question == findings.BySwimmer && f.Swimmer != nil && *f.Stroke == stroke && *f.Design == design {
			picked = append(picked, f)
		}
	}
	common := findings.Common(picked)
	people := make([]person, len(picked))
	for i, f := range picked {
		people[i] = person{Name: b.name(*f.Swimmer), Sentences: []string{f.Sentence}, Cautions: b.showable(findings.Own(f, common))}
	}
	return people, b.showable(common)
}

// pairs is the concordance at matched pace against what chance gives.
func (b builder) pairs() *figure {
	f := forest{
		id: "pairs", title: "Pairs of bouts at a matched pace",
		zero: 50, below: "fewer strokes dearer", above: "fewer strokes cheaper",
		unit: "pairs in which the bout of fewer strokes was the cheaper one, %",
		tick: fixed,
	}
	fig := figure{ID: "pairs", Heading: "Pairs of bouts at a matched pace"}
	t := table{Caption: "Concordance at matched pace", Head: []head{{"Stroke", false}, {"Bouts", false}, {"Score", false},
		{"Pairs, %", true}, {"95 % interval", true}, {"By chance, %", true}, {"Swimmers", true}, {"Bouts", true}}}
	for _, r := range b.Overall {
		e, ok := newInterval(r.Estimate, r.ConfLow, r.ConfHigh)
		if r.Question != findings.MatchedPace || r.Measure != findings.MeasureConcordance || !ok {
			continue
		}
		e = interval{100 * e.estimate, 100 * e.low, 100 * e.high}
		chance := "not known"
		row := forestRow{name: capital(r.Stroke), e: e, mark: "point", numbers: fixed(e.estimate, 1) + " (" + fixed(e.low, 1) + " to " + fixed(e.high, 1) + ")"}
		if known(r.Null) {
			null := 100 * *r.Null
			row.null, chance = &null, fixed(null, 1)
			row.words = "by chance " + chance
		}
		t.add(word(capital(r.Stroke)), word(designWords(r.Design)), word(scoreWords(r.Score)), num(fixed(e.estimate, 1)),
			num(fixed(e.low, 1)+" to "+fixed(e.high, 1)), num(chance), num(fmt.Sprint(r.Swimmers)), num(findings.Grouped(int64(r.Bouts))))
		if r.Score != findings.ScoreArms || r.Design == findings.All {
			continue
		}
		row.name = pairsName(r, len(b.strokes()) > 1)
		f.rows = append(f.rows, row)
		fig.caption(b.sentence(findings.Concordance, r.Stroke, r.Design))
	}
	if len(f.rows) == 0 {
		return nil
	}
	f.desc = strings.Join(fig.Captions, " ")
	fig.Drawings = []drawing{f.draw(wide), f.draw(narrow)}
	fig.Table = &t
	return &fig
}

// pairsName is short enough for a phone; the stroke goes with it only where
// there are several.
func pairsName(r schemas.ScoreOverall, several bool) string {
	short, alone := "both", "Both together"
	switch r.Design {
	case findings.Designed:
		short, alone = "set", "Set beforehand"
	case findings.Observed:
		short, alone = "liked", "As they liked"
	}
	if several {
		return capital(r.Stroke) + ", " + short
	}
	return alone
}

func scoreWords(score string) string {
	if score == findings.ScoreRecorded {
		return "as the recorder counts"
	}
	return "arms counted"
}

// across sets each swimmer's correlation across paces beside the one at a
// fixed pace.
func (b builder) across(stroke string) (figure, bool) {
	s := strips{
		id: "across-" + stroke, title: capital(stroke) + ": the same bouts across paces and at a fixed pace",
		unit: "correlation with cost: a dot is a swimmer, a diamond the squad's interval",
	}
	fig := figure{ID: s.id, Heading: capital(stroke)}
	t := table{Caption: "Correlation of score and cost across paces, and between swimmers", Head: []head{{"Bouts", false}, {"Question", false},
		{"Score", false}, {"Correlation", true}, {"95 % interval", true}, {"Swimmers", true}}}
	for _, design := range b.designs(stroke) {
		var raw, partial []float64
		for _, r := range b.BySwimmer {
			if r.Stroke != stroke || r.Design != design {
				continue
			}
			if known(r.RawR) {
				raw = append(raw, *r.RawR)
			}
			if known(r.PartialR) {
				partial = append(partial, *r.PartialR)
			}
		}
		over := capital(designWords(design))
		if len(raw) > 0 {
			row := strip{over: over, name: "across paces", values: raw}
			if o, ok := b.overall(findings.Raw, findings.MeasureCorrelation, stroke, design); ok {
				if e, ok := newInterval(o.Estimate, o.ConfLow, o.ConfHigh); ok {
					row.squad = &e
				}
			}
			s.rows = append(s.rows, row)
		}
		if len(partial) > 0 {
			s.rows = append(s.rows, strip{over: over, name: "at a fixed pace", values: partial})
		}
	}
	for _, r := range b.Overall {
		e, ok := newInterval(r.Estimate, r.ConfLow, r.ConfHigh)
		if r.Stroke != stroke || r.Measure != findings.MeasureCorrelation || !ok {
			continue
		}
		question := "across paces"
		if r.Question == findings.Between {
			question = "between swimmers"
		}
		t.add(word(designWords(r.Design)), word(question), word(scoreWords(r.Score)), num(signed(e.estimate, 2)),
			num(signed(e.low, 2)+" to "+signed(e.high, 2)), num(fmt.Sprint(r.Swimmers)))
		if r.Score == findings.ScoreArms && r.Design != findings.All {
			fig.caption(b.short(r.Question, stroke, r.Design))
		}
	}
	if len(s.rows) == 0 {
		return figure{}, false
	}
	s.desc = strings.Join(fig.Captions, " ")
	fig.Drawings = []drawing{s.draw(wide), s.draw(narrow)}
	if len(t.Rows) > 0 {
		fig.Table = &t
	}
	return fig, true
}
