package publish

import (
	"cmp"
	"fmt"
	"slices"

	"lengthwise/pipeline/findings"
	"lengthwise/schemas"
)

// choices shows the squad's number under every other defensible choice, sorted
// from the lowest, with the study's own marked.
func (b builder) choices(stroke, design string) (figure, bool) {
	var rows []schemas.Sensitivity
	for _, r := range b.Sensitivity {
		if _, ok := newInterval(r.Estimate, r.ConfLow, r.ConfHigh); ok && r.Stroke == stroke && r.Design == design {
			rows = append(rows, r)
		}
	}
	if len(rows) < 2 {
		return figure{}, false
	}
	slices.SortStableFunc(rows, func(x, y schemas.Sensitivity) int {
		return cmp.Or(cmp.Compare(*x.Estimate, *y.Estimate), cmp.Compare(x.Specification, y.Specification))
	})
	c := chart{
		id: "choices-" + stroke + "-" + design, yTick: signed, xFrom: 0, xTo: float64(len(rows) + 1),
		title: capital(stroke) + ", " + designWords(design) + ": the same number under other choices",
		yUnit: "what a 10 % higher stroke rate costs on average, " + b.unit, above: "dearer",
		xUnit: findings.Grouped(int64(len(rows))) + " ways to analyse the same bouts, from the lowest number to the highest",
		notes: []string{"upright lines: 95 % intervals; the disc is the study\u2019s own way"},
	}
	if design != findings.Designed {
		c.yUnit = "what went together with a 10 % higher stroke rate on average, " + b.unit
	}
	if smallest := b.Study.Analysis.SmallestEffect; smallest > 0 {
		c.band = &interval{low: -smallest, high: smallest}
		c.notes = append(c.notes, "shaded: practically none, within "+fixed(smallest, b.digits)+" "+b.unit+" either way")
	}
	for i, r := range rows {
		e, _ := newInterval(r.Estimate, r.ConfLow, r.ConfHigh)
		mark := "speck"
		if r.Specification == 1 {
			mark = "point"
		}
		c.points = append(c.points, chartPoint{x: float64(i + 1), e: e, mark: mark})
	}
	fig := figure{ID: c.id, Heading: capital(stroke) + ", " + designWords(design)}
	for _, f := range b.Findings {
		if f.Question == findings.Sensitivity && f.Swimmer == nil && f.Stroke != nil && *f.Stroke == stroke && f.Design != nil && *f.Design == design {
			fig.caption(f.Sentence)
		}
	}
	c.desc = fmt.Sprintf("%s estimates with their intervals, from %s to %s %s.", findings.Grouped(int64(len(rows))), signed(*rows[0].Estimate, b.digits), signed(*rows[len(rows)-1].Estimate, b.digits), b.unit)
	fig.Drawings = []drawing{c.draw(wide), c.draw(narrow)}
	fig.Table = b.choicesTable(fig.Heading, rows)
	return fig, true
}

// squadRates shows what other rates cost the squad on average.
func (b builder) squadRates(stroke, design string) (figure, bool) {
	var pooled []schemas.CostByRate
	for _, r := range b.ByRate {
		if r.Scope == "squad" {
			pooled = append(pooled, r)
		}
	}
	fig, ok := b.rateFigure(SwimmerRows{CostByRate: pooled}, stroke, design)
	fig.Heading = capital(stroke) + ", " + designWords(design)
	fig.Captions = nil
	fig.caption(b.sentence(findings.CostByRate, stroke, design))
	return fig, ok
}
