package picture

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/color"
	"image/png"
	"io"
	"strings"
	"testing"
)

func sample() *Picture {
	p := &Picture{Width: 200, Height: 100, Title: `a "title" <b>`, Desc: "what & what\x00"}
	p.Rect(10, 10, 30, 20, "#155a86")
	p.Line(0, 50, 200, 50, 2, "#a4420d", 0)
	p.Line(100, 0, 100, 100, 1, "#555e66", 4)
	p.Disc(150, 25, 8, "#1d2329")
	p.Ring(180, 25, 8, 3, "#a4420d")
	p.Text(100, 90, `<script>"−3.5" & ü</script>`, Style{Size: 14, Colour: "#1d2329", Bold: true, Anchor: Middle})
	return p
}

// Both forms show the same shapes in the same places.
func TestBothForms(t *testing.T) {
	p := sample()
	data, err := p.PNG(2)
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if b := img.Bounds(); b.Dx() != 400 || b.Dy() != 200 {
		t.Fatalf("the PNG is %v", b)
	}
	for _, c := range []struct {
		x, y float64
		want color.RGBA
	}{
		{25, 20, color.RGBA{0x15, 0x5a, 0x86, 0xff}}, {50, 20, color.RGBA{0xff, 0xff, 0xff, 0xff}},
		{30, 50, color.RGBA{0xa4, 0x42, 0x0d, 0xff}}, {150, 25, color.RGBA{0x1d, 0x23, 0x29, 0xff}},
		{180, 25, color.RGBA{0xff, 0xff, 0xff, 0xff}}, {180, 17.2, color.RGBA{0xa4, 0x42, 0x0d, 0xff}},
		{100, 2, color.RGBA{0x55, 0x5e, 0x66, 0xff}}, {100, 6, color.RGBA{0xff, 0xff, 0xff, 0xff}},
	} {
		if got := color.RGBAModel.Convert(img.At(int(c.x*2), int(c.y*2))); got != c.want {
			t.Errorf("at %v, %v: %v, want %v", c.x, c.y, got, c.want)
		}
	}
	dark := 0
	for x := 100; x < 300; x++ {
		for y := 150; y < 190; y++ {
			if r, _, _, _ := img.At(x, y).RGBA(); r < 0x8000 {
				dark++
			}
		}
	}
	if dark < 200 {
		t.Errorf("%d dark pixels where the words are", dark)
	}
	svg := p.SVG()
	var words strings.Builder
	d := xml.NewDecoder(bytes.NewReader(svg))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%v\n%s", err, svg)
		}
		switch token := token.(type) {
		case xml.StartElement:
			if token.Name.Local == "script" || token.Name.Local == "b" {
				t.Errorf("words became <%s>", token.Name.Local)
			}
		case xml.CharData:
			words.Write(token)
		}
	}
	if !strings.Contains(words.String(), `<script>"−3.5" & ü</script>`) || !strings.Contains(words.String(), `a "title" <b>`) {
		t.Errorf("the words read %q", words.String())
	}
}

func TestSameBytes(t *testing.T) {
	first, err := sample().PNG(2)
	if err != nil {
		t.Fatal(err)
	}
	second, err := sample().PNG(2)
	if err != nil || !bytes.Equal(first, second) || !bytes.Equal(sample().SVG(), sample().SVG()) {
		t.Errorf("two pictures differ (%v)", err)
	}
}

func TestWhatCannotBe(t *testing.T) {
	for what, p := range map[string]*Picture{"empty": {}, "huge": {Width: 1e6, Height: 10}} {
		if _, err := p.PNG(2); err == nil {
			t.Errorf("%s: no error", what)
		}
	}
	p := &Picture{Width: 10, Height: 10}
	p.Rect(0, 0, 5, 5, "red")
	if _, err := p.PNG(1); err == nil {
		t.Error("a colour without numbers: no error")
	}
	p = &Picture{Width: 10, Height: 10}
	p.Polygon("#155a86", 1, 1)
	p.Line(3, 3, 3, 3, 1, "#155a86", 0)
	p.Disc(-50, -50, 3, "#155a86")
	if _, err := p.PNG(1); err != nil {
		t.Errorf("shapes of no size, or out of sight: %v", err)
	}
}
