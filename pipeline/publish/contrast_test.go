package publish

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

var colour = regexp.MustCompile(`--([a-z]+): #([0-9a-f]{3,6});`)

// luminance is the relative luminance of WCAG 2.2 (definition of relative
// luminance, W3C Recommendation of 5 October 2023).
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	if len(hex) == 3 {
		hex = strings.Repeat(hex[:1], 2) + strings.Repeat(hex[1:2], 2) + strings.Repeat(hex[2:], 2)
	}
	n, err := strconv.ParseUint(hex, 16, 32)
	if err != nil || len(hex) != 6 {
		t.Fatalf("colour %q", hex)
	}
	channel := func(shift uint) float64 {
		c := float64(n>>shift&0xff) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*channel(16) + 0.7152*channel(8) + 0.0722*channel(0)
}

func contrast(t *testing.T, a, b string) float64 {
	x, y := luminance(t, a), luminance(t, b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

// TestContrast holds WCAG 2.2 level AA in light, dark and print: 4.5 for text
// (criterion 1.4.3), 3 for what pictures need to be read (1.4.11).
func TestContrast(t *testing.T) {
	if got := contrast(t, "000", "ffffff"); math.Abs(got-21) > 1e-9 { // black on white, by definition
		t.Fatalf("black on white %v, want 21", got)
	}
	roots := strings.Split(css, ":root {")[1:]
	if len(roots) != 3 {
		t.Fatalf("%d palettes, want light, dark and print", len(roots))
	}
	for i, mode := range []string{"light", "dark", "print"} {
		block, _, _ := strings.Cut(roots[i], "}")
		palette := map[string]string{}
		for _, m := range colour.FindAllStringSubmatch(block, -1) {
			palette[m[1]] = m[2]
		}
		check := func(front, back string, least float64) {
			if palette[front] == "" || palette[back] == "" {
				t.Fatalf("%s: no colour %s or %s", mode, front, back)
			}
			if got := contrast(t, palette[front], palette[back]); got < least {
				t.Errorf("%s: %s on %s has contrast %.2f, want %.1f", mode, front, back, got, least)
			}
		}
		for _, front := range []string{"ink", "muted", "link"} {
			check(front, "paper", 4.5)
		}
		for _, front := range []string{"tracks", "against", "none", "undecided", "pooled", "predict", "muted"} {
			check(front, "paper", 3)
			check(front, "band", 3)
		}
	}
}
