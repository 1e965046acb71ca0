package picture

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"strconv"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// mostPixels bounds a side of a PNG.
const mostPixels = 8192

// raster is a PNG being painted.
type raster struct {
	image *image.RGBA
	scale float64
	faces map[faceKey]font.Face
	fonts [2]*opentype.Font // regular, bold
	err   error             // the first
}

type faceKey struct {
	size float64
	bold bool
}

// PNG paints the picture at so many pixels for each of its own (2 for screens
// and print alike). It fails where the picture is empty or too large.
func (p *Picture) PNG(scale float64) ([]byte, error) {
	width, height := int(math.Ceil(p.Width*scale)), int(math.Ceil(p.Height*scale))
	if width < 1 || height < 1 || width > mostPixels || height > mostPixels {
		return nil, fmt.Errorf("picture: a PNG of %d by %d pixels cannot be", width, height)
	}
	r := &raster{image: image.NewRGBA(image.Rect(0, 0, width, height)), scale: scale, faces: map[faceKey]font.Face{}}
	for i, data := range [][]byte{goregular.TTF, gobold.TTF} {
		parsed, err := opentype.Parse(data)
		if err != nil {
			return nil, fmt.Errorf("picture: %w", err)
		}
		r.fonts[i] = parsed
	}
	draw.Draw(r.image, r.image.Bounds(), image.White, image.Point{}, draw.Src)
	for _, s := range p.shapes {
		s.paint(r)
	}
	if r.err != nil {
		return nil, r.err
	}
	var b bytes.Buffer
	err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, r.image)
	return b.Bytes(), err
}

// fill fills what path outlines inside a box, both in the picture's units. Only
// the box is gone through: pictures have thousands of small shapes.
func (r *raster) fill(colour string, x0, y0, x1, y1 float64, path func(v *vector.Rasterizer, at func(x, y float64) (float32, float32))) {
	box := image.Rect(int(math.Floor(x0*r.scale)), int(math.Floor(y0*r.scale)), int(math.Ceil(x1*r.scale)), int(math.Ceil(y1*r.scale)))
	shown := box.Intersect(r.image.Bounds())
	if shown.Empty() {
		return
	}
	v := vector.NewRasterizer(shown.Dx(), shown.Dy())
	path(v, func(x, y float64) (float32, float32) {
		return float32(x*r.scale - float64(shown.Min.X)), float32(y*r.scale - float64(shown.Min.Y))
	})
	v.ClosePath()
	v.Draw(r.image, shown, image.NewUniform(r.colour(colour)), image.Point{})
}

func (r *raster) colour(hex string) color.Color {
	if len(hex) == 7 && hex[0] == '#' {
		if v, err := strconv.ParseUint(hex[1:], 16, 32); err == nil {
			return color.RGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 0xff}
		}
	}
	if r.err == nil {
		r.err = fmt.Errorf("picture: %q is no colour like #1d2329", hex)
	}
	return color.Black
}

func (l lineShape) paint(r *raster) {
	length := math.Hypot(l.x2-l.x1, l.y2-l.y1)
	if length == 0 {
		return
	}
	dx, dy := (l.x2-l.x1)/length, (l.y2-l.y1)/length
	nx, ny := -dy*l.width/2, dx*l.width/2
	step := length
	if l.dash > 0 {
		step = l.dash
	}
	for from := 0.0; from < length; from += 2 * step {
		to := math.Min(from+step, length)
		ax, ay, bx, by := l.x1+dx*from, l.y1+dy*from, l.x1+dx*to, l.y1+dy*to
		polygonShape{[]float64{ax + nx, ay + ny, bx + nx, by + ny, bx - nx, by - ny, ax - nx, ay - ny}, l.colour}.paint(r)
	}
}

func (g polygonShape) paint(r *raster) {
	if len(g.points) < 6 {
		return
	}
	x0, y0, x1, y1 := g.points[0], g.points[1], g.points[0], g.points[1]
	for i := 0; i+1 < len(g.points); i += 2 {
		x0, x1 = math.Min(x0, g.points[i]), math.Max(x1, g.points[i])
		y0, y1 = math.Min(y0, g.points[i+1]), math.Max(y1, g.points[i+1])
	}
	r.fill(g.colour, x0, y0, x1, y1, func(v *vector.Rasterizer, at func(x, y float64) (float32, float32)) {
		for i := 0; i+1 < len(g.points); i += 2 {
			x, y := at(g.points[i], g.points[i+1])
			if i == 0 {
				v.MoveTo(x, y)
			} else {
				v.LineTo(x, y)
			}
		}
	})
}

func (d discShape) paint(r *raster) {
	// Four cubic arcs; k is 4/3 (sqrt 2 - 1), off a circle by 0.03 % at most.
	const k = 0.5522847498
	c := k * d.r
	r.fill(d.colour, d.x-d.r, d.y-d.r, d.x+d.r, d.y+d.r, func(v *vector.Rasterizer, at func(x, y float64) (float32, float32)) {
		curve := func(bx, by, cx, cy, dx, dy float64) {
			x1, y1 := at(d.x+bx, d.y+by)
			x2, y2 := at(d.x+cx, d.y+cy)
			x3, y3 := at(d.x+dx, d.y+dy)
			v.CubeTo(x1, y1, x2, y2, x3, y3)
		}
		x, y := at(d.x+d.r, d.y)
		v.MoveTo(x, y)
		curve(d.r, c, c, d.r, 0, d.r)
		curve(-c, d.r, -d.r, c, -d.r, 0)
		curve(-d.r, -c, -c, -d.r, 0, -d.r)
		curve(c, -d.r, d.r, -c, d.r, 0)
	})
}

func (t textShape) paint(r *raster) {
	face := r.face(t.style)
	if face == nil {
		return
	}
	d := font.Drawer{Dst: r.image, Src: image.NewUniform(r.colour(t.style.Colour)), Face: face}
	x := t.x * r.scale
	width := float64(d.MeasureString(t.words)) / 64
	switch t.style.Anchor {
	case Middle:
		x -= width / 2
	case End:
		x -= width
	}
	d.Dot = fixed.Point26_6{X: fixed.Int26_6(math.Round(x * 64)), Y: fixed.Int26_6(math.Round(t.y * r.scale * 64))}
	d.DrawString(t.words)
}

// face is the font at a text's size; nil after an error.
func (r *raster) face(s Style) font.Face {
	key := faceKey{s.Size, s.Bold}
	if face, ok := r.faces[key]; ok {
		return face
	}
	of := r.fonts[0]
	if s.Bold {
		of = r.fonts[1]
	}
	face, err := opentype.NewFace(of, &opentype.FaceOptions{Size: s.Size * r.scale, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		if r.err == nil {
			r.err = fmt.Errorf("picture: %w", err)
		}
		return nil
	}
	r.faces[key] = face
	return face
}
