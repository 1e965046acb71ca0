package evidence

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/publish/picture"
)

// figure is a picture, what it shows in words, and the data behind it.
type figure struct {
	name, heading string
	says          []string // the findings, as in the claims
	note          string   // how to read it
	picture       *picture.Picture
	header        []string
	rows          [][]string
	questions     []string // of the claims that it goes with
}

// datum is one row of a figure of estimates with intervals.
type datum struct {
	group, label, detail    string
	design                  string
	estimate, low, high     float64
	predictLow, predictHigh *float64
	swimmers                int32
	unit, table             string
}

// rowsFigure is a figure whose rows are estimates on one axis.
type rowsFigure struct {
	figure
	data        []datum
	zero        float64 // where nothing is
	digits      int
	percent     bool // shares, shown in per cent
	left, right string
	axis        string
}

// drawFigures makes the figures that enough swimmers stand behind.
func (p *pack) drawFigures() []figure {
	var out []figure
	for _, f := range []rowsFigure{p.averageFigure(), p.toldFigure(), p.acrossFigure(), p.pairsFigure(), p.adviceFigure(), p.byRateFigure()} {
		if len(f.data) == 0 {
			continue
		}
		f.says = p.sentences(f.questions)
		f.header = []string{"group", "label", "design", "estimate", "interval_low", "interval_high", "predict_low", "predict_high", "swimmers", "unit", "table"}
		for _, d := range f.data {
			f.rows = append(f.rows, []string{d.group, d.label, d.design, number(&d.estimate), number(&d.low), number(&d.high),
				number(d.predictLow), number(d.predictHigh), strconv.Itoa(int(d.swimmers)), d.unit, d.table})
		}
		f.picture = f.draw()
		out = append(out, f.figure)
	}
	if f, ok := p.choicesFigure(); ok {
		out = append(out, f)
	}
	return out
}

// sentences are those of the claims on questions.
func (p *pack) sentences(questions []string) []string {
	var out []string
	for _, c := range p.claims {
		if slices.Contains(questions, c.Question) {
			out = append(out, c.Sentence)
		}
	}
	return out
}

// claimed turns claims into rows.
func (p *pack) claimed(question, group string, label func(Claim) string) []datum {
	var out []datum
	for _, c := range p.claims {
		if c.Question == question {
			out = append(out, datum{group: group, label: label(c), detail: detail(c.Design, c.Swimmers), design: c.Design,
				estimate: c.Estimate, low: c.IntervalLow, high: c.IntervalTop, predictLow: c.PredictLow, predictHigh: c.PredictHigh,
				swimmers: c.Swimmers, unit: c.Unit, table: c.Table})
		}
	}
	return out
}

// strokeOf names the stroke where the study asks about several.
func (p *pack) strokeOf(stroke, text string) string {
	if len(p.Strokes) > 1 {
		return capital(stroke) + ": " + text
	}
	return capital(text)
}

func detail(design string, swimmers int32) string {
	words := fmt.Sprintf("%d swimmers", swimmers)
	if d := designWords(design); d != "" {
		return d + ", " + words
	}
	return words
}

func designWords(design string) string {
	switch design {
	case findings.Designed:
		return "set beforehand"
	case findings.Observed:
		return "swum as liked"
	}
	return ""
}

func (p *pack) averageFigure() rowsFigure {
	f := rowsFigure{digits: p.digits, left: "cheaper", right: "dearer", axis: p.unit + " for a stroke rate 10 % higher at the same pace"}
	f.name, f.heading, f.questions = "average", "A stroke rate 10 % higher at the same pace", []string{findings.MatchedPace}
	f.note = "Thick line: 95 % interval of the average. Thin line: where another swimmer of such a squad may lie. Full discs: rate or instruction set beforehand, which earns \u201ccosts\u201d. Rings: swum as liked, which earns \u201cgoes together with\u201d. Right of zero the score\u2019s advice, fewer strokes, is the cheaper one."
	f.data = append(p.claimed(findings.MatchedPace, "swimmers\u2019 own results pooled", func(c Claim) string { return p.strokeOf(c.Stroke, "each swimmer\u2019s result, pooled") }),
		p.claimed(findings.MixedModel, "one model of all bouts", func(c Claim) string { return p.strokeOf(c.Stroke, "one model of all bouts") })...)
	return f
}

func (p *pack) toldFigure() rowsFigure {
	f := rowsFigure{digits: p.digits, left: "cheaper", right: "dearer", axis: p.unit + " at the same pace"}
	f.name, f.heading, f.questions = "told", "What swimmers were told, or did, at the same pace", []string{findings.Contrast}
	f.note = "Each row compares bouts of the same sessions at the same pace. The line is the 95 % interval, the thin line where another swimmer may lie. In brackets what happened to the score meanwhile: lower is \u201cbetter\u201d by its own claim."
	for _, r := range p.Contrasts {
		if r.Scope != squadScope || r.Measure != "cost" || r.AdjustedFor != "" || !slices.Contains(knownTags, r.Tag) || r.Design == findings.All ||
			int(r.Swimmers) < p.SmallestGroup || r.Estimate == nil || r.ConfLow == nil || r.ConfHigh == nil {
			continue
		}
		label := p.strokeOf(r.Stroke, tagWords(r.Tag, r.Level, r.Reference))
		for _, s := range p.Contrasts {
			if s.Scope == squadScope && s.Measure == "score_25" && s.AdjustedFor == "" && s.Tag == r.Tag && s.Level == r.Level && s.Reference == r.Reference &&
				s.Stroke == r.Stroke && s.Design == r.Design && s.Estimate != nil && int(s.Swimmers) >= p.SmallestGroup {
				label += fmt.Sprintf(" (score %s)", signed(*s.Estimate, 1))
			}
		}
		f.data = append(f.data, datum{group: r.Tag, label: label, detail: detail(r.Design, r.Swimmers), design: r.Design,
			estimate: *r.Estimate, low: *r.ConfLow, high: *r.ConfHigh, predictLow: r.PredictLow, predictHigh: r.PredictHigh,
			swimmers: r.Swimmers, unit: r.Unit, table: "contrasts"})
	}
	return f
}

func tagWords(tag, level, reference string) string {
	switch level {
	case "fewest-strokes":
		return "told to take fewer strokes"
	case "quicker-rate":
		return "told to take quicker strokes"
	}
	none := func(level string) string {
		if level == "none" {
			return "no"
		}
		return level
	}
	return fmt.Sprintf("%s %s rather than %s %s", none(level), tag, none(reference), tag)
}

func (p *pack) acrossFigure() rowsFigure {
	f := rowsFigure{digits: 2, left: "higher score, lower cost", right: "higher score, higher cost", axis: "correlation of score and cost"}
	f.name, f.heading, f.questions = "across-paces", "The score and the cost, pace left in", []string{findings.Raw, findings.Between}
	f.note = "Across paces the score falls as a swimmer goes faster, while the cost rises: the sign says nothing of the stroke. Between swimmers it compares people."
	f.data = append(p.claimed(findings.Raw, "within swimmers, across paces", func(c Claim) string { return p.strokeOf(c.Stroke, "within swimmers, across paces") }),
		p.claimed(findings.Between, "between swimmers", func(c Claim) string { return p.strokeOf(c.Stroke, "between swimmers, one pace") })...)
	return f
}

func (p *pack) pairsFigure() rowsFigure {
	f := rowsFigure{zero: 0.5, percent: true, left: "fewer strokes dearer", right: "fewer strokes cheaper", axis: "% of pairs at one pace in which the bout of fewer strokes was the cheaper one"}
	f.name, f.heading, f.questions = "pairs", "Two bouts at one pace: are fewer strokes cheaper?", []string{findings.Concordance}
	f.note = "Pairs of bouts of one session whose paces differ by little. The broken line is a coin. Thick line: 95 % interval; thin line: another swimmer."
	f.data = p.claimed(findings.Concordance, "matched pairs", func(c Claim) string { return p.strokeOf(c.Stroke, "bouts of one session, matched pace") })
	return f
}

// advisors in the order of the figure, in words.
var advisors = []struct{ score, words string }{
	{findings.ScoreArms, "strokes + seconds"}, {"score_wrist", "as a wrist shows it"}, {"strokes", "fewer strokes"},
	{"distance_per_stroke", "longer strokes"}, {"stroke_index", "higher stroke index"}, {"stroke_rate", "slower stroke rate"}, {"speed", "slower swimming alone"},
}

func (p *pack) adviceFigure() rowsFigure {
	f := rowsFigure{zero: 0.5, percent: true, left: "right less often than a coin", right: "right more often", axis: "% of pairs in which the advised bout was the cheaper one"}
	f.name, f.heading, f.questions = "advice", "Scores taken at their word", []string{findings.Advice}
	f.note = "Of two bouts of one session, the one that a score prefers: how often was it the cheaper one? As swum, pace decides; with pace and minutes set aside, what is left is economy."
	design := ""
	for _, c := range p.claims {
		if c.Question == findings.Advice && (design == "" || c.Design == findings.Designed) {
			design = c.Design
		}
	}
	for _, test := range []struct{ id, words string }{{"as-swum", "as swum"}, {"pace-adjusted", "pace set aside"}} {
		for _, a := range advisors {
			for _, r := range p.Advice {
				if r.Score != a.score || r.Test != test.id || r.Measure != "agreement" || r.Design != design || r.Estimate == nil || r.ConfLow == nil || r.ConfHigh == nil || int(r.Swimmers) < p.SmallestGroup {
					continue
				}
				f.data = append(f.data, datum{group: test.words, label: p.strokeOf(r.Stroke, test.words+": "+a.words), detail: detail(r.Design, r.Swimmers), design: r.Design,
					estimate: *r.Estimate, low: *r.ConfLow, high: *r.ConfHigh, swimmers: r.Swimmers, unit: "1", table: "advice_overall"})
			}
		}
	}
	return f
}

func (p *pack) byRateFigure() rowsFigure {
	f := rowsFigure{digits: p.digits, left: "cheaper than the usual rate", right: "dearer", axis: p.unit + " over the usual rate at the same pace"}
	f.name, f.heading = "by-rate", "Slower and quicker than the usual rate"
	f.note = "What a stroke rate of so many per cent of the swimmer\u2019s usual one costs, or goes together with, at the same pace. It is no instruction: rates are tried in small steps, with an eye on the shoulders."
	for _, r := range p.ByRate {
		if r.Scope != squadScope || int(r.Swimmers) < p.SmallestGroup || r.Change == nil || r.ConfLow == nil || r.ConfHigh == nil || r.Design == findings.All {
			continue
		}
		f.data = append(f.data, datum{group: r.Design, label: p.strokeOf(r.Stroke, strconv.FormatFloat(r.RatePctOfUsual, 'f', -1, 64)+" % of the usual rate"),
			detail: detail(r.Design, r.Swimmers), design: r.Design, estimate: *r.Change, low: *r.ConfLow, high: *r.ConfHigh,
			predictLow: r.PredictLow, predictHigh: r.PredictHigh, swimmers: r.Swimmers, unit: p.unit, table: "cost_by_rate"})
	}
	slices.SortStableFunc(f.data, func(a, b datum) int { return strings.Compare(a.design, b.design) })
	return f
}

// csv is the data behind the figure.
func (f figure) csv() ([]byte, error) { return table(f.header, f.rows) }

// table writes CSV in which no text can be taken for a formula by a spreadsheet.
func table(header []string, rows [][]string) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if err := w.Write(header); err != nil {
		return nil, err
	}
	for _, row := range rows {
		safe := make([]string, len(row))
		for i, cell := range row {
			if _, err := strconv.ParseFloat(cell, 64); err != nil && cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
				cell = "'" + cell
			}
			safe[i] = cell
		}
		if err := w.Write(safe); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// number is a number as tables write it; "" where there is none.
func number(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'g', -1, 64)
}
