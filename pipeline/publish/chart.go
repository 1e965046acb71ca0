package publish

import (
	"math"
	"strings"
)

// chart is a picture of points with intervals over a number: what a rate
// costs, or how sessions follow each other.
type chart struct {
	id, title, desc string
	points          []chartPoint
	line            bool        // points are joined, in their order
	band            *interval   // shaded across from low to high
	swum            *interval   // shaded upright from low to high: what was swum
	uprights        []chartMark // upright lines with words at their top
	xTicks          []chartMark // what stands below the axis, where
	xUnit, yUnit    string      // in words
	above           string      // what lies to either side of zero
	notes           []string    // what shadings mean, below the picture
	reachY          []float64   // must be in sight beside the points
	xFrom, xTo      float64     // what the axis spans
	yTick           func(v float64, digits int) string
}

// chartPoint is one estimate.
type chartPoint struct {
	x    float64
	e    interval
	mark string // a verdict's shape, or point
	open bool   // drawn without its interval
}

// chartMark is a place on the x axis and what stands there.
type chartMark struct {
	x    float64
	text string
}

// draw makes the picture in a layout: wide or narrow.
func (c chart) draw(l layout) drawing {
	d := drawing{ID: c.id + "-" + l.class, Class: l.class, Title: c.title, Desc: c.desc, Width: px(l.width)}
	height, left, right := 250.0, 52.0, l.width-16
	if !l.stacked {
		height, left, right = 290, 64, 700
	}
	top := 14.0
	for line := range strings.SplitSeq(wrap(c.yUnit, l.unitChars), "\n") {
		d.text("unit", "start", 0, top, line)
		top += 17
	}
	words := 16 * float64(levels(c.uprights, (right-left)/(c.xTo-c.xFrom)))
	top += 22 + words
	x := axis{low: c.xFrom, high: c.xTo, from: left, to: right}
	y := c.yAxis(top+height, top)
	c.drawGround(&d, x, y)
	c.drawPoints(&d, x, y)
	bottom := y.from
	d.line("axis", left, bottom, right, bottom)
	for _, t := range c.xTicks {
		d.line("axis", x.at(t.x), bottom, x.at(t.x), bottom+5)
		d.text("tick", "middle", x.at(t.x), bottom+19, t.text)
	}
	d.text("side", "start", left, top-14-words, c.above) // over the uprights' words
	at := d.lines("unit", (left+right)/2, bottom+40, l.unitChars, c.xUnit)
	for _, note := range c.notes {
		at = d.lines("unit", (left+right)/2, at, l.unitChars, note)
	}
	d.Height = px(at - 9)
	return d
}

// yAxis spans the estimates, zero, the band and most of the intervals.
func (c chart) yAxis(bottom, top float64) axis {
	always := append([]float64{0}, c.reachY...)
	var ends []float64
	for _, p := range c.points {
		always = append(always, p.e.estimate)
		if !p.open {
			ends = append(ends, p.e.low, p.e.high)
		}
	}
	if c.band != nil {
		always = append(always, c.band.low, c.band.high)
	}
	low, high := reach(always, ends)
	return axis{low: low, high: high, from: bottom, to: top}
}

func (c chart) drawGround(d *drawing, x, y axis) {
	if c.swum != nil {
		from, to := x.at(c.swum.low), x.at(c.swum.high)
		d.rect("band", from, y.to, to-from, y.from-y.to)
	}
	if c.band != nil {
		from, to := y.at(c.band.high), y.at(c.band.low)
		d.rect("band", x.from, from, x.to-x.from, to-from)
		d.line("edge", x.from, from, x.to, from)
		d.line("edge", x.from, to, x.to, to)
	}
	values, digits := ticks(y.low, y.high, 5)
	for _, v := range values {
		class := "rule"
		if math.Abs(v) < 1e-9 {
			class = "zero"
		}
		d.line(class, x.from, y.at(v), x.to, y.at(v))
		d.text("tick", "end", x.from-8, y.at(v)+4.5, c.yTick(v, digits))
	}
	scale := (x.to - x.from) / (x.high - x.low)
	level := levelOf(c.uprights, scale)
	for i, u := range c.uprights {
		at := x.at(u.x)
		d.line("edge", at, y.to-4, at, y.from)
		anchor, shift := "start", 4.0
		if at > (x.from+x.to)/2 {
			anchor, shift = "end", -4
		}
		d.text("words", anchor, at+shift, y.to-20-16*float64(level[i])+12, u.text)
	}
}

func (c chart) drawPoints(d *drawing, x, y axis) {
	for i, p := range c.points {
		if c.line && i > 0 {
			q := c.points[i-1]
			d.line("trace", x.at(q.x), y.at(q.e.estimate), x.at(p.x), y.at(p.e.estimate))
		}
	}
	for _, p := range c.points {
		if !p.open {
			d.line("interval", x.at(p.x), y.at(p.e.low), x.at(p.x), y.at(p.e.high))
		}
		d.marker(p.mark, x.at(p.x), y.at(p.e.estimate))
	}
}

// levels is how many lines of words the uprights need above the picture.
func levels(marks []chartMark, scale float64) int {
	most := 0
	for _, l := range levelOf(marks, scale) {
		most = max(most, l+1)
	}
	return most
}

// levelOf gives each upright a line for its words, so that neighbours do not
// write over each other.
func levelOf(marks []chartMark, scale float64) []int {
	out := make([]int, len(marks))
	for i := range marks {
		for j := range i {
			if math.Abs(marks[i].x-marks[j].x)*scale < 7*float64(len(marks[i].text)+len(marks[j].text)) && out[j] >= out[i] {
				out[i] = out[j] + 1
			}
		}
	}
	return out
}
