package publish

// interval is an estimate with its interval.
type interval struct{ estimate, low, high float64 }

// newInterval reports whether all three numbers are there.
func newInterval(estimate, low, high *float64) (interval, bool) {
	if !known(estimate) || !known(low) || !known(high) {
		return interval{}, false
	}
	return interval{*estimate, *low, *high}, true
}

// forest is a picture of estimates with their intervals, one a row.
type forest struct {
	id, title, desc string
	rows            []forestRow
	summary         []forestRow // below a rule: drawn as diamonds and thin bars
	zero            float64     // where nothing is there
	band            float64     // half the width of the band around zero, 0 for none
	bandText        string
	below, above    string // what lies to either side of zero
	unit            string // of the axis, in words
	tick            func(v float64, digits int) string
}

// forestRow is one estimate.
type forestRow struct {
	name    string
	e       interval
	mark    string   // a verdict, "diamond", "bar" (the interval alone) or "point"
	numbers string   // estimate and interval, as text
	words   string   // the verdict, as text
	null    *float64 // the value by chance, where it has one of its own

	predict *interval // drawn as a thin bar behind a diamond
}

// layout says where a forest puts things. A stacked one writes above each
// interval and is made for a phone.
type layout struct {
	class            string
	width            float64
	plotFrom, plotTo float64
	stacked          bool
	verdicts         bool    // with a line of its own for the verdict
	row              float64 // height of a row
	nameChars        int
	unitChars        int
	ticks            int
}

// The layouts. Style rules show wide or narrow; aside stands beside the answer.
var (
	wide   = layout{class: "wide", width: 820, plotFrom: 158, plotTo: 510, row: 25, nameChars: 20, unitChars: 70, ticks: 7}
	narrow = layout{class: "narrow", width: 340, plotFrom: 8, plotTo: 332, stacked: true, verdicts: true, row: 60, nameChars: 22, unitChars: 46, ticks: 6}
	aside  = layout{class: "aside", width: 340, plotFrom: 8, plotTo: 332, stacked: true, row: 52, nameChars: 20, unitChars: 46, ticks: 6}
)

// draw makes the picture in a layout.
func (f forest) draw(l layout) drawing {
	d := drawing{ID: f.id + "-" + l.class, Class: l.class, Title: f.title, Desc: f.desc, Width: px(l.width)}
	a := f.axis(l)
	top := 30.0
	if l.stacked {
		top = 46
	}
	rowsEnd := top + float64(len(f.rows))*l.row
	y, gap := rowsEnd, 0.0
	if len(f.summary) > 0 && len(f.rows) > 0 {
		gap = 12
	}
	end := rowsEnd + gap + float64(len(f.summary))*l.row + 4

	f.drawGround(&d, l, a, top, end)
	for i, r := range f.rows {
		f.drawRow(&d, l, a, r, top+float64(i)*l.row)
	}
	if gap > 0 {
		d.line("rule", 0, y+gap/2, l.width, y+gap/2)
	}
	for i, r := range f.summary {
		f.drawRow(&d, l, a, r, rowsEnd+gap+float64(i)*l.row)
	}
	d.Height = px(f.drawAxis(&d, l, a, end))
	return d
}

// axis spans all estimates, the summary and the band.
func (f forest) axis(l layout) axis {
	always := []float64{f.zero, f.zero - f.band, f.zero + f.band}
	var ends []float64
	for _, r := range f.rows {
		always = append(always, r.e.estimate)
		ends = append(ends, r.e.low, r.e.high)
		if r.null != nil {
			always = append(always, *r.null)
		}
	}
	for _, r := range f.summary {
		always = append(always, r.e.low, r.e.high)
		if r.predict != nil {
			always = append(always, r.predict.low, r.predict.high)
		}
	}
	low, high := reach(always, ends)
	return axis{low: low, high: high, from: l.plotFrom, to: l.plotTo}
}

// drawGround draws the band, the zero line and what the sides mean. A stacked
// layout draws band and line row by row, so that they keep clear of its text.
func (f forest) drawGround(d *drawing, l layout, a axis, top, end float64) {
	if l.stacked {
		d.text("side", "start", l.plotFrom, 14, f.below)
		d.text("side", "end", l.plotTo, 32, f.above)
		return
	}
	f.drawBand(d, a, top-6, end)
	// Both stand beside the zero line; the left one needs room for itself.
	x := max(a.at(f.zero), 205)
	d.text("side", "end", x-12, 14, f.below)
	d.text("side", "start", x+12, 14, f.above)
}

// drawBand draws what lies behind the intervals from y to end.
func (f forest) drawBand(d *drawing, a axis, y, end float64) {
	if f.band > 0 {
		from, to := a.at(f.zero-f.band), a.at(f.zero+f.band)
		d.rect("band", from, y, to-from, end-y)
		d.line("edge", from, y, from, end)
		d.line("edge", to, y, to, end)
	}
	d.line("zero", a.at(f.zero), y, a.at(f.zero), end)
}

// drawRow draws one estimate with its text.
func (f forest) drawRow(d *drawing, l layout, a axis, r forestRow, top float64) {
	y := top + l.row/2
	if l.stacked {
		y = top + 30
		d.text("name", "start", 0, top+14, shorten(r.name, l.nameChars))
		if r.numbers != "" {
			d.text("number", "end", l.width, top+14, r.numbers)
		}
		if l.verdicts {
			y = top + 45
			d.text("words", "start", 0, top+29, r.words)
		} else if r.numbers != "" {
			d.after(r.words)
		}
		f.drawBand(d, a, y-11, y+11)
	} else {
		d.text("name", "start", 0, y+4.5, shorten(r.name, l.nameChars))
		d.text("number", "end", 676, y+4.5, r.numbers)
		d.text("words", "start", 694, y+4.5, r.words)
	}
	if r.predict != nil {
		from, to := a.at(r.predict.low), a.at(r.predict.high)
		d.rect("predict", from, y-1.5, to-from, 3)
	}
	low, high := a.at(r.e.low), a.at(r.e.high)
	if r.mark == "diamond" {
		x := a.at(r.e.estimate)
		d.polygon("pooled", low, y, x, y-7, high, y, x, y+7)
		return
	}
	if r.mark == "bar" {
		d.rect("predict", low, y-2, high-low, 4)
		return
	}
	d.line("interval", low, y, high, y)
	if !a.inside(r.e.low) {
		d.polygon("arrow", low-5, y, low+3, y-4, low+3, y+4)
	}
	if !a.inside(r.e.high) {
		d.polygon("arrow", high+5, y, high-3, y-4, high-3, y+4)
	}
	if r.null != nil {
		x := a.at(*r.null)
		d.line("chance", x, y-9, x, y+9)
	}
	d.marker(r.mark, a.at(r.e.estimate), y)
}

// drawAxis draws ticks and the unit below y and returns the picture's height.
func (f forest) drawAxis(d *drawing, l layout, a axis, y float64) float64 {
	d.line("axis", l.plotFrom, y, l.plotTo, y)
	values, digits := ticks(a.low, a.high, l.ticks)
	for _, v := range values {
		x := a.at(v)
		d.line("axis", x, y, x, y+5)
		d.text("tick", "middle", x, y+19, f.tick(v, digits))
	}
	middle := (l.plotFrom + l.plotTo) / 2
	y = d.lines("unit", middle, y+39, l.unitChars, f.unit)
	return d.lines("unit", middle, y, l.unitChars, f.bandText) - 9
}
