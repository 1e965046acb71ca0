// Package picture draws a picture once and writes it twice: as SVG, and as PNG
// for slides and documents that take no SVG. It knows shapes and words, nothing
// of what they mean. The same picture gives the same bytes.
package picture

import (
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"
)

// Picture is a list of shapes in the order in which they are drawn, on white.
// Sizes are in CSS pixels, y counts downwards.
type Picture struct {
	Width, Height float64
	Title, Desc   string // for those who do not see it
	shapes        []shape
}

// shape can be written into either form.
type shape interface {
	svg(b *strings.Builder)
	paint(r *raster)
}

// Anchor says which end of a text stands at its x.
type Anchor string

// The anchors, in SVG's words.
const (
	Start  Anchor = "start"
	Middle Anchor = "middle"
	End    Anchor = "end"
)

// Style is how a text is set.
type Style struct {
	Size   float64 // px
	Colour string  // #rrggbb
	Bold   bool
	Anchor Anchor // Start where empty
}

type lineShape struct {
	x1, y1, x2, y2, width float64
	colour                string
	dash                  float64
}

type polygonShape struct {
	points []float64 // x and y in turn
	colour string
}

type discShape struct {
	x, y, r float64
	colour  string
}

type textShape struct {
	x, y  float64
	words string
	style Style
}

// Line draws a line of a width; dash is the length of its dashes and of the gaps
// between them, 0 for a whole line.
func (p *Picture) Line(x1, y1, x2, y2, width float64, colour string, dash float64) {
	p.shapes = append(p.shapes, lineShape{x1, y1, x2, y2, width, colour, dash})
}

// Rect fills a rectangle.
func (p *Picture) Rect(x, y, width, height float64, colour string) {
	p.Polygon(colour, x, y, x+width, y, x+width, y+height, x, y+height)
}

// Polygon fills a polygon, given by x and y in turn.
func (p *Picture) Polygon(colour string, points ...float64) {
	p.shapes = append(p.shapes, polygonShape{points, colour})
}

// Disc fills a circle.
func (p *Picture) Disc(x, y, r float64, colour string) {
	p.shapes = append(p.shapes, discShape{x, y, r, colour})
}

// Ring draws a circle of which the inside is white.
func (p *Picture) Ring(x, y, r, width float64, colour string) {
	p.Disc(x, y, r+width/2, colour)
	p.Disc(x, y, r-width/2, "#ffffff")
}

// Text sets words with their base line at y.
func (p *Picture) Text(x, y float64, words string, s Style) {
	if words != "" {
		p.shapes = append(p.shapes, textShape{x, y, words, s})
	}
}

// sans is what the words are set in where the picture is shown as SVG.
const sans = "'Helvetica Neue', Helvetica, Arial, 'Liberation Sans', sans-serif"

// SVG writes the picture as a document of its own: no style sheet, no script,
// nothing to load.
func (p *Picture) SVG() []byte {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%s" height="%s" viewBox="0 0 %s %s" role="img" font-family="%s">`+"\n",
		px(p.Width), px(p.Height), px(p.Width), px(p.Height), sans)
	fmt.Fprintf(&b, "<title>%s</title>\n<desc>%s</desc>\n", escape(p.Title), escape(p.Desc))
	fmt.Fprintf(&b, `<rect width="%s" height="%s" fill="#ffffff"/>`+"\n", px(p.Width), px(p.Height))
	for _, s := range p.shapes {
		s.svg(&b)
	}
	b.WriteString("</svg>\n")
	return []byte(b.String())
}

func (l lineShape) svg(b *strings.Builder) {
	dash := ""
	if l.dash > 0 {
		dash = ` stroke-dasharray="` + px(l.dash) + `"`
	}
	fmt.Fprintf(b, `<line x1="%s" y1="%s" x2="%s" y2="%s" stroke="%s" stroke-width="%s"%s/>`+"\n",
		px(l.x1), px(l.y1), px(l.x2), px(l.y2), l.colour, px(l.width), dash)
}

func (g polygonShape) svg(b *strings.Builder) {
	pairs := make([]string, 0, len(g.points)/2)
	for i := 0; i+1 < len(g.points); i += 2 {
		pairs = append(pairs, px(g.points[i])+","+px(g.points[i+1]))
	}
	fmt.Fprintf(b, `<polygon points="%s" fill="%s"/>`+"\n", strings.Join(pairs, " "), g.colour)
}

func (d discShape) svg(b *strings.Builder) {
	fmt.Fprintf(b, `<circle cx="%s" cy="%s" r="%s" fill="%s"/>`+"\n", px(d.x), px(d.y), px(d.r), d.colour)
}

func (t textShape) svg(b *strings.Builder) {
	more := ""
	if t.style.Anchor != "" && t.style.Anchor != Start {
		more += ` text-anchor="` + string(t.style.Anchor) + `"`
	}
	if t.style.Bold {
		more += ` font-weight="bold"`
	}
	fmt.Fprintf(b, `<text x="%s" y="%s" font-size="%s" fill="%s"%s>%s</text>`+"\n",
		px(t.x), px(t.y), px(t.style.Size), t.style.Colour, more, escape(t.words))
}

// px writes a length to a hundredth.
func px(v float64) string {
	s := strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
	if s == "-0" {
		return "0"
	}
	return s
}

// escape keeps markup out, and what XML cannot hold.
func escape(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == 0xfffe || r == 0xffff {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))
	return html.EscapeString(s)
}
