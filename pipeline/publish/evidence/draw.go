package evidence

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/publish/picture"
)

const (
	ink   = "#1d2329"
	muted = "#555e66"
	faint = "#d9d5ca"
	set   = "#155a86" // set beforehand
	liked = "#a4420d" // swum as liked
	plain = "#3d444b"
)

// Sizes of a figure of rows, in CSS pixels.
const (
	width     = 800.0
	rowHeight = 38.0
	labelEnd  = 292.0
	axisFrom  = 308.0
	axisTo    = 660.0
	numberAt  = 676.0
)

func colour(design string) string {
	switch design {
	case findings.Designed:
		return set
	case findings.Observed:
		return liked
	}
	return plain
}

// draw lays the rows out, one below another, on one axis.
func (f *rowsFigure) draw() *picture.Picture {
	top := 58.0
	bottom := top + rowHeight*float64(len(f.data))
	pic := &picture.Picture{Width: width, Height: bottom + 58, Title: f.heading, Desc: f.described()}
	low, high := f.reach()
	at := func(v float64) float64 {
		return axisFrom + (math.Min(math.Max(v, low), high)-low)/(high-low)*(axisTo-axisFrom)
	}
	pic.Text(at(f.zero)-8, 24, "\u2190 "+f.left, picture.Style{Size: 13, Colour: muted, Anchor: picture.End})
	pic.Text(at(f.zero)+8, 24, f.right+" \u2192", picture.Style{Size: 13, Colour: muted})
	for _, v := range ticks(low, high, 6) {
		pic.Line(at(v), top-16, at(v), bottom+4, 1, "#eeeae0", 0)
		pic.Text(at(v), bottom+20, f.tick(v, low, high), picture.Style{Size: 12, Colour: muted, Anchor: picture.Middle})
	}
	pic.Line(at(f.zero), top-24, at(f.zero), bottom+4, 1.2, muted, 4)
	pic.Text((axisFrom+axisTo)/2, bottom+42, f.axis, picture.Style{Size: 13, Colour: muted, Anchor: picture.Middle})
	for i, d := range f.data {
		y := top + rowHeight*(float64(i)+0.5) - 6
		c := colour(d.design)
		if i > 0 && f.data[i-1].group != d.group {
			pic.Line(16, y-rowHeight/2, width-16, y-rowHeight/2, 1, faint, 0)
		}
		pic.Text(labelEnd, y, d.label, picture.Style{Size: labelSize(d.label), Colour: ink, Anchor: picture.End})
		pic.Text(labelEnd, y+15, d.detail, picture.Style{Size: 11.5, Colour: muted, Anchor: picture.End})
		if d.predictLow != nil && d.predictHigh != nil {
			pic.Line(at(*d.predictLow), y+1, at(*d.predictHigh), y+1, 1, c, 0)
			f.arrows(pic, *d.predictLow, *d.predictHigh, low, high, y+1, c)
		}
		pic.Line(at(d.low), y+1, at(d.high), y+1, 3.4, c, 0)
		f.arrows(pic, d.low, d.high, low, high, y+1, c)
		if d.design == findings.Observed {
			pic.Ring(at(d.estimate), y+1, 5, 2.2, c)
		} else {
			pic.Disc(at(d.estimate), y+1, 6, c)
		}
		pic.Text(numberAt, y, f.written(d.estimate), picture.Style{Size: 13.5, Colour: ink, Bold: true})
		pic.Text(numberAt, y+15, f.written(d.low)+" to "+f.written(d.high), picture.Style{Size: 11.5, Colour: muted})
	}
	return pic
}

// labelSize lets a long label keep to its place.
func labelSize(label string) float64 {
	const size, fits = 13.5, 40 // characters of that size
	return size * math.Min(1, fits/float64(utf8.RuneCountInString(label)+1))
}

// arrows mark lines that go on beyond the axis.
func (f *rowsFigure) arrows(pic *picture.Picture, from, to, low, high, y float64, c string) {
	if from < low {
		pic.Polygon(c, axisFrom-7, y, axisFrom, y-4, axisFrom, y+4)
	}
	if to > high {
		pic.Polygon(c, axisTo+7, y, axisTo, y-4, axisTo, y+4)
	}
}

// reach is the part of the number line in sight: all intervals, and as much of
// the prediction intervals as does not squeeze them.
func (f *rowsFigure) reach() (low, high float64) {
	low, high = f.zero, f.zero
	for _, d := range f.data {
		low, high = math.Min(low, d.low), math.Max(high, d.high)
	}
	span := high - low
	for _, d := range f.data {
		if d.predictLow != nil && d.predictHigh != nil {
			low, high = math.Min(low, math.Max(*d.predictLow, low-span)), math.Max(high, math.Min(*d.predictHigh, high+span))
		}
	}
	if high == low {
		low, high = low-1, high+1
	}
	margin := 0.04 * (high - low)
	return low - margin, high + margin
}

func (f *rowsFigure) written(v float64) string {
	if f.percent {
		return strconv.FormatFloat(100*v, 'f', 1, 64) + " %"
	}
	return signed(v, f.digits)
}

func (f *rowsFigure) tick(v, low, high float64) string {
	if f.percent {
		return strconv.FormatFloat(math.Round(100*v), 'f', 0, 64)
	}
	digits := 0
	if high-low < 4 {
		digits = 1
	}
	return signed(v, digits)
}

// described is the figure in words, for those who do not see it.
func (f *rowsFigure) described() string {
	var parts []string
	for _, d := range f.data {
		parts = append(parts, fmt.Sprintf("%s, %s: %s (%s to %s)", d.label, d.detail, f.written(d.estimate), f.written(d.low), f.written(d.high)))
	}
	return f.axis + ". " + strings.Join(parts, "; ") + "."
}

// choicesFigure shows the same number under every other choice, in order.
func (p *pack) choicesFigure() (figure, bool) {
	f := figure{name: "choices", heading: "The same number under other choices", questions: []string{findings.Sensitivity},
		header: []string{"stroke", "design", "place", "estimate", "interval_low", "interval_high", "departures", "swimmers", "unit", "table"},
		note:   "Along the line every defensible way to analyse the same bouts, from the lowest result to the highest, with its 95 % interval in grey. The diamond is the study\u2019s own."}
	type curve struct {
		stroke, design string
		rows           []place
	}
	var curves []curve
	for _, s := range p.Strokes {
		for _, d := range []string{findings.Designed, findings.Observed} {
			c := curve{stroke: s, design: d}
			for _, r := range p.Choices {
				if r.Stroke == s && r.Design == d && r.Estimate != nil && r.ConfLow != nil && r.ConfHigh != nil && int(r.Swimmers) >= p.SmallestGroup {
					c.rows = append(c.rows, place{*r.Estimate, *r.ConfLow, *r.ConfHigh, r.Departures == 0, r.Departures, r.Swimmers})
				}
			}
			if len(c.rows) > 1 {
				slices.SortStableFunc(c.rows, func(a, b place) int {
					switch {
					case a.estimate < b.estimate:
						return -1
					case a.estimate > b.estimate:
						return 1
					}
					return 0
				})
				curves = append(curves, c)
			}
		}
	}
	if len(curves) == 0 {
		return f, false
	}
	const panel, gap = 190.0, 62.0
	pic := &picture.Picture{Width: width, Height: 40 + float64(len(curves))*(panel+gap), Title: f.heading}
	var described []string
	for k, c := range curves {
		low, high := 0.0, 0.0
		for _, r := range c.rows {
			low, high = math.Min(low, r.low), math.Max(high, r.high)
		}
		top := 46 + float64(k)*(panel+gap)
		y := func(v float64) float64 { return top + panel - (v-low)/(high-low)*panel }
		x := func(i int) float64 { return 90 + float64(i)/float64(len(c.rows)-1)*(width-120) }
		pic.Text(16, top-18, p.strokeOf(c.stroke, designWords(c.design)), picture.Style{Size: 14, Colour: ink, Bold: true})
		for _, v := range ticks(low, high, 5) {
			pic.Line(80, y(v), width-24, y(v), 1, "#eeeae0", 0)
			pic.Text(72, y(v)+4, signed(v, 0), picture.Style{Size: 12, Colour: muted, Anchor: picture.End})
		}
		var band, line []float64 // there along the upper edge, and back along the lower
		for i, r := range c.rows {
			band, line = append(band, x(i), y(r.high)), append(line, x(i), y(r.estimate)-1.6)
			f.rows = append(f.rows, []string{c.stroke, c.design, strconv.Itoa(i + 1), number(&r.estimate), number(&r.low), number(&r.high),
				strconv.Itoa(int(r.departures)), strconv.Itoa(int(r.swimmers)), p.unit, "sensitivity"})
		}
		for i := len(c.rows) - 1; i >= 0; i-- {
			band, line = append(band, x(i), y(c.rows[i].low)), append(line, x(i), y(c.rows[i].estimate)+1.6)
		}
		pic.Polygon("#e3ded2", band...)
		pic.Line(80, y(0), width-24, y(0), 1.2, muted, 4)
		pic.Polygon(colour(c.design), line...)
		for i, r := range c.rows {
			if r.own {
				cx, cy := x(i), y(r.estimate)
				pic.Polygon("#ffffff", cx, cy-9, cx+9, cy, cx, cy+9, cx-9, cy)
				pic.Polygon(ink, cx, cy-6.5, cx+6.5, cy, cx, cy+6.5, cx-6.5, cy)
			}
		}
		pic.Text((80+width-24)/2, top+panel+22, fmt.Sprintf("%d specifications, from the lowest to the highest (%s for a stroke rate 10 %% higher)", len(c.rows), p.unit),
			picture.Style{Size: 12.5, Colour: muted, Anchor: picture.Middle})
		described = append(described, fmt.Sprintf("%s: %d specifications from %s to %s %s", p.strokeOf(c.stroke, designWords(c.design)), len(c.rows),
			signed(c.rows[0].estimate, p.digits), signed(c.rows[len(c.rows)-1].estimate, p.digits), p.unit))
	}
	pic.Desc = strings.Join(described, "; ") + "."
	f.picture, f.says = pic, p.sentences(f.questions)
	return f, true
}

// place is one specification of the curve.
type place struct {
	estimate, low, high  float64
	own                  bool
	departures, swimmers int32
}

// ticks are round numbers inside low..high, at most about so many.
func ticks(low, high float64, most int) []float64 {
	raw := (high - low) / float64(most)
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	step := 10 * power
	for _, m := range []float64{1, 2, 5} {
		if m*power >= raw {
			step = m * power
			break
		}
	}
	var out []float64
	for i := math.Ceil(low/step - 1e-9); i*step <= high+1e-9*step; i++ {
		out = append(out, i*step)
	}
	return out
}

// signed writes a number with its sign, plus too.
func signed(v float64, digits int) string {
	s := strconv.FormatFloat(math.Abs(v), 'f', digits, 64)
	switch {
	case strings.Trim(s, "0.") == "":
		return s
	case v < 0:
		return "\u2212" + s
	}
	return "+" + s
}

func capital(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
