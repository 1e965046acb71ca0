package publish

import (
	"strconv"
	"strings"
	"unicode/utf8"
)

// drawing is one SVG picture as a list of shapes, drawn in the order of the
// fields. Sizes are in user units, which are CSS pixels at full width.
type drawing struct {
	ID, Class     string
	Title, Desc   string
	Width, Height string
	Rects         []rect
	Lines         []line
	Shapes        []polygon
	Dots          []dot
	Texts         []text
}

type rect struct{ Class, X, Y, Width, Height string }

type line struct{ Class, X1, Y1, X2, Y2 string }

type polygon struct{ Class, Points string }

type dot struct{ Class, X, Y, R string }

// text may open with a quieter word.
type text struct{ Class, Anchor, X, Y, Quiet, Text string }

// px writes a coordinate to a tenth of a pixel.
func px(v float64) string {
	s := strconv.FormatFloat(v, 'f', 1, 64)
	if n := len(s); s[n-2:] == ".0" {
		s = s[:n-2]
	}
	if s == "-0" {
		return "0"
	}
	return s
}

func (d *drawing) rect(class string, x, y, width, height float64) {
	d.Rects = append(d.Rects, rect{class, px(x), px(y), px(width), px(height)})
}

func (d *drawing) line(class string, x1, y1, x2, y2 float64) {
	d.Lines = append(d.Lines, line{class, px(x1), px(y1), px(x2), px(y2)})
}

// polygon takes x and y in turn.
func (d *drawing) polygon(class string, coordinates ...float64) {
	points := ""
	for i := 0; i+1 < len(coordinates); i += 2 {
		if i > 0 {
			points += " "
		}
		points += px(coordinates[i]) + "," + px(coordinates[i+1])
	}
	d.Shapes = append(d.Shapes, polygon{class, points})
}

func (d *drawing) dot(class string, x, y, r float64) {
	d.Dots = append(d.Dots, dot{class, px(x), px(y), px(r)})
}

// text anchors at start, middle or end.
func (d *drawing) text(class, anchor string, x, y float64, s string) {
	if s != "" {
		d.Texts = append(d.Texts, text{Class: class, Anchor: anchor, X: px(x), Y: px(y), Text: s})
	}
}

// after puts a quieter word before the text that was drawn last.
func (d *drawing) after(quiet string) { d.Texts[len(d.Texts)-1].Quiet = quiet }

// lines writes a text over as many lines of about so many characters as it
// needs, centred, and returns the y below them.
func (d *drawing) lines(class string, x, y float64, most int, s string) float64 {
	for line := range strings.SplitSeq(wrap(s, most), "\n") {
		d.text(class, "middle", x, y, line)
		y += 17
	}
	return y
}

// wrap breaks a text at spaces.
func wrap(s string, most int) string {
	var b strings.Builder
	length := 0
	for _, word := range strings.Fields(s) {
		n := utf8.RuneCountInString(word)
		switch {
		case length == 0:
		case length+1+n > most:
			b.WriteByte('\n')
			length = 0
		default:
			b.WriteByte(' ')
			length++
		}
		b.WriteString(word)
		length += n
	}
	return b.String()
}

// marker draws a verdict's own shape, so that colour is never needed to tell
// verdicts apart: a disc, a square, an upright bar, a ring.
func (d *drawing) marker(verdict string, x, y float64) {
	switch verdict {
	case "tracks":
		d.dot("tracks", x, y, 5)
	case "runs-against":
		d.polygon("against", x-4.6, y-4.6, x+4.6, y-4.6, x+4.6, y+4.6, x-4.6, y+4.6)
	case "practically-none":
		d.polygon("none", x-2.2, y-7, x+2.2, y-7, x+2.2, y+7, x-2.2, y+7)
	case "speck":
		d.dot("speck", x, y, 1.8)
	case "point":
		d.dot("point", x, y, 4.5)
	default:
		d.dot("undecided", x, y, 4.4)
	}
}

// shorten cuts a name to about so many average characters.
func shorten(s string, most int) string {
	width := 0
	for i, r := range s {
		width++
		if r >= 0x1100 { // scripts whose characters are about twice as wide
			width++
		}
		if width > most {
			cut := s[:i]
			_, size := utf8.DecodeLastRuneInString(cut)
			return cut[:len(cut)-size] + "\u2026"
		}
	}
	return s
}
