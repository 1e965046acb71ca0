package publish

import (
	"math"
	"slices"
)

// strips is a picture of correlations, one dot a swimmer, one strip a way of
// looking at the same bouts.
type strips struct {
	id, title, desc string
	rows            []strip
	unit            string
}

// strip is one row of dots with, where there is one, the squad's interval.
type strip struct {
	over, name string // the design and the way of looking
	values     []float64
	squad      *interval
}

// draw makes the picture in a layout. Dots that would overlap are stacked in
// columns as wide as a dot, so that a strip reads like a histogram.
func (s strips) draw(l layout) drawing {
	d := drawing{ID: s.id + "-" + l.class, Class: l.class, Title: s.title, Desc: s.desc, Width: px(l.width)}
	a := axis{low: -1, high: 1, from: l.plotFrom + 14, to: l.width - 22}
	const radius, tallest = 4.5, 92.0
	y := 6.0
	for _, row := range s.rows {
		columns := stack(row.values, a, radius)
		most := 1
		for _, c := range columns {
			most = max(most, c.n)
		}
		step := math.Min(2*radius+0.5, tallest/float64(most))
		base := y + 26 + step*float64(most)
		if l.stacked {
			d.text("name", "start", 0, y+14, row.over+": "+row.name)
			base += 4
		} else {
			base = max(base, y+42)
			d.text("name", "start", 0, base-16, row.over)
			d.text("words", "start", 0, base, row.name)
		}
		d.line("axis", a.from, base+3, a.to, base+3)
		d.line("zero", a.at(0), y+20, a.at(0), base+14)
		for _, c := range columns {
			for i := range c.n {
				d.dot("swimmer", c.x, base-radius-step*float64(i), radius)
			}
		}
		if row.squad != nil {
			low, high, x := a.at(row.squad.low), a.at(row.squad.high), a.at(row.squad.estimate)
			d.polygon("pooled", low, base+11, x, base+6, high, base+11, x, base+16)
		}
		y = base + 20
	}
	for _, v := range []float64{-1, -0.5, 0, 0.5, 1} {
		d.text("tick", "middle", a.at(v), y+14, signed(v, 1))
	}
	d.Height = px(d.lines("unit", (a.from+a.to)/2, y+34, l.unitChars, s.unit) - 9)
	return d
}

// column is a stack of dots.
type column struct {
	x float64
	n int
}

// stack sorts values into columns one dot wide, from left to right.
func stack(values []float64, a axis, radius float64) []column {
	width := 2*radius + 1
	counts := map[int]int{}
	var order []int
	for _, v := range values {
		k := int(math.Floor((a.at(v) - a.at(0)) / width))
		if counts[k] == 0 {
			order = append(order, k)
		}
		counts[k]++
	}
	slices.Sort(order)
	columns := make([]column, len(order))
	for i, k := range order {
		columns[i] = column{x: a.at(0) + (float64(k)+0.5)*width, n: counts[k]}
	}
	return columns
}
