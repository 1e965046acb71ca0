package publish

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"lengthwise/pipeline/findings"
)

// rateFigure shows what rates below and above the usual one cost at the same
// pace, with the range that was swum and, where one may be named, the cheapest.
func (b builder) rateFigure(rows SwimmerRows, stroke, design string) (figure, bool) {
	costs := design == findings.Designed
	c := chart{
		id: "rate-" + stroke + "-" + design, line: true, yTick: signed, xFrom: 76, xTo: 124,
		title: capital(stroke) + ", " + designWords(design) + ": cost against stroke rate at the same pace",
		xUnit: "stroke rate, % of the usual one at that pace", above: "dearer than the usual rate",
		yUnit: "what a rate costs over the usual one, " + b.unit,
	}
	if !costs {
		c.yUnit = "what went together with a rate, over the usual one, " + b.unit
		c.above = "bouts dearer than at the usual rate"
	}
	fig := figure{ID: c.id, Heading: "Cost against stroke rate, " + designWords(design)}
	if len(b.strokes()) > 1 {
		fig.Heading = capital(stroke) + ": cost against stroke rate, " + designWords(design)
	}
	fig.Note = "Nothing was set beforehand in these bouts: they show what went together, no more."
	if costs {
		fig.Note = "The rate or the instruction was set beforehand at a fixed pace, so these bouts can show what a rate costs."
	}
	t := table{Caption: "Cost at other stroke rates, over the usual rate, " + b.unit, Head: []head{{"Rate, % of usual", false}, {"Difference", true}, {"95 % interval", true}, {"In %", true}, {"Bouts near it", true}}}
	usual := chartPoint{x: 100, mark: "point", open: true}
	for _, r := range rows.CostByRate {
		e, ok := newInterval(r.Change, r.ConfLow, r.ConfHigh)
		if r.Stroke != stroke || r.Design != design || !ok {
			continue
		}
		if r.RatePctOfUsual > 100 && len(c.points) > 0 && c.points[len(c.points)-1].x < 100 || len(c.points) == 0 && r.RatePctOfUsual > 100 {
			c.points = append(c.points, usual)
		}
		mark := findings.Undecided // a ring
		if e.low > 0 || e.high < 0 {
			mark = "point"
		}
		c.points = append(c.points, chartPoint{x: r.RatePctOfUsual, e: e, mark: mark})
		t.add(word(fixed(r.RatePctOfUsual, 0)), num(signed(e.estimate, b.digits)), num(b.span(e)), num(maybe(r.ChangePct, 1, 1, signed)), num(fmt.Sprint(r.BoutsNear)))
	}
	if len(c.points) == 0 {
		return figure{}, false
	}
	if c.points[len(c.points)-1].x < 100 {
		c.points = append(c.points, usual)
	}
	for _, v := range []float64{80, 90, 100, 110, 120} {
		c.xTicks = append(c.xTicks, chartMark{v, fixed(v, 0)})
	}
	c.notes = append(c.notes, "discs: the interval leaves out zero; rings: it does not; the point at 100 is the usual rate itself")
	b.cheapest(&c, &fig, rows, stroke, design)
	if s := b.swimmerSentence(findings.CostByRate, rows.Swimmer, stroke, design); s != "" {
		fig.caption(s)
	}
	c.desc = "1 rate with its 95 % interval."
	if n := len(c.points) - 1; n != 1 {
		c.desc = fmt.Sprintf("%d rates with their 95 %% intervals.", n)
	}
	fig.Drawings = []drawing{c.draw(wide), c.draw(narrow)}
	fig.Table = &t
	return fig, true
}

// cheapest draws the range swum and the cheapest rate, at the reference pace.
func (b builder) cheapest(c *chart, fig *figure, rows SwimmerRows, stroke, design string) {
	for _, r := range rows.Economical {
		if r.Stroke != stroke || r.Design != design || r.PaceRole != "reference" {
			continue
		}
		if known(r.LowSwum) && known(r.HighSwum) {
			c.swum = &interval{low: *r.LowSwum, high: *r.HighSwum}
			c.notes = append(c.notes, fmt.Sprintf("shaded: the rates swum near that pace, %s to %s %% of the usual one", fixed(*r.LowSwum, 0), fixed(*r.HighSwum, 0)))
			c.xFrom, c.xTo = math.Min(c.xFrom, *r.LowSwum-2), math.Max(c.xTo, *r.HighSwum+2)
		}
		if known(r.RatePctOfUsual) {
			c.uprights = append(c.uprights, chartMark{*r.RatePctOfUsual, "cheapest " + fixed(*r.RatePctOfUsual, 0) + " %"})
		}
	}
}

// daysFigure shows what each session cost at the reference pace against what
// the swimmer usually pays there, with the noise between days.
func (b builder) daysFigure(rows SwimmerRows, stroke string) (figure, bool) {
	c := chart{
		id: "days-" + stroke, yTick: signed,
		title: capital(stroke) + ": pace-adjusted heart cost by session",
		above: "dearer than usual", xUnit: "day of the session",
		yUnit: "the session's cost at the reference pace less the usual cost there, " + b.unit,
	}
	fig := figure{ID: c.id, Heading: "From day to day"}
	if len(b.strokes()) > 1 {
		fig.Heading = capital(stroke) + ": from day to day"
	}
	fig.Note = "What each session cost at the same pace against what the swimmer\u2019s other sessions cost there. Days differ for many reasons: sleep, heat, illness, training. Most differences are noise."
	t := table{Caption: "Pace-adjusted heart cost by session, " + b.unit, Head: []head{{"Day", false}, {"Session", false}, {"Over the usual cost", true}, {"Standard error", true}, {"Bouts", true}, {"Changes in force", false}, {"Left out because", false}}}
	var first, last time.Time
	changes := ""
	for _, r := range rows.HeartCost {
		if r.Stroke != stroke {
			continue
		}
		day, err := time.Parse(time.DateOnly, r.LocalDate)
		if err != nil {
			continue
		}
		why := ""
		if r.Reason != nil {
			why = *r.Reason
		}
		t.add(whole(r.LocalDate), whole(r.Session), num(maybe(r.HeartCost, 1, b.digits, signed)), num(maybe(r.StdError, 1, b.digits, fixed)), num(fmt.Sprint(r.Bouts)), word(r.Changes), word(why))
		if !known(r.HeartCost) {
			continue
		}
		if first.IsZero() {
			first = day
		}
		last = day
		at := day.Sub(first).Hours() / 24
		if len(c.points) > 0 && r.Changes != changes {
			text := r.Changes
			if text == "" {
				text = "without"
			}
			c.uprights = append(c.uprights, chartMark{at, shorten(findings.Printable(text), 24)})
		}
		changes = r.Changes
		c.points = append(c.points, chartPoint{x: at, e: interval{estimate: *r.HeartCost}, mark: "point", open: true})
	}
	if len(c.points) < 2 {
		return figure{}, false
	}
	span := math.Max(1, last.Sub(first).Hours()/24)
	c.xFrom, c.xTo = -0.03*span, 1.03*span
	c.xTicks = dayTicks(first, span)
	for _, r := range rows.Reliability {
		if r.Stroke == stroke && known(r.TypicalError) {
			c.band = &interval{low: -*r.TypicalError, high: *r.TypicalError}
			c.notes = append(c.notes, "shaded: the typical error, "+fixed(*r.TypicalError, b.digits)+" "+b.unit+" to either side")
		}
	}
	for _, f := range b.ofSwimmer(rows.Swimmer) {
		if f.Question == "between-days" && (f.Stroke == nil || *f.Stroke == stroke) {
			fig.caption(f.Sentence)
		}
	}
	c.desc = "1 session."
	if n := len(c.points); n != 1 {
		c.desc = strconv.Itoa(n) + " sessions in order of their days."
	}
	fig.Drawings = []drawing{c.draw(wide), c.draw(narrow)}
	fig.Table = &t
	return fig, true
}

// dayTicks are at most five days on the axis, the first and last among them.
func dayTicks(first time.Time, span float64) []chartMark {
	var ticks []chartMark
	const parts = 3
	for i := range parts + 1 {
		days := math.Round(span * float64(i) / parts)
		text := first.AddDate(0, 0, int(days)).Format("2 Jan 06")
		if len(ticks) > 0 && ticks[len(ticks)-1].text == text {
			continue
		}
		ticks = append(ticks, chartMark{days, text})
	}
	return ticks
}

// swimmerSentence is the finding of a question about a swimmer, stroke and
// design, "" when there is none.
func (b builder) swimmerSentence(question, swimmer, stroke, design string) string {
	for _, f := range b.ofSwimmer(swimmer) {
		if f.Question == question && f.Stroke != nil && *f.Stroke == stroke && f.Design != nil && *f.Design == design {
			return f.Sentence
		}
	}
	return ""
}
