package publish

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"html/template"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"lengthwise/pipeline/simulated"
	"lengthwise/pipeline/study"
)

var (
	update = flag.Bool("update", false, "write the golden files anew")
	look   = flag.String("look", "", "write invented pages to this folder, to look at in a browser")
)

func render(t testing.TB, in PageInput) []byte {
	t.Helper()
	page, err := Page(in)
	if err != nil {
		t.Fatal(err)
	}
	return page
}

func TestGoldenPage(t *testing.T) {
	got := render(t, invented(9))
	path := filepath.Join("testdata", "page.html")
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Error("the page differs from testdata/page.html; run with -update and look at it in a browser")
	}
}

func TestLook(t *testing.T) {
	if *look == "" {
		t.Skip("no -look folder given")
	}
	for name, in := range map[string]PageInput{"two": twoStrokes(), "observed": observedOnly()} {
		if err := os.WriteFile(filepath.Join(*look, "page-"+name+".html"), render(t, in), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, n := range []int{24, 200} {
		in := invented(n)
		names := []string{"Ada Brook", "Cléo Marchetti-Vandenberghe", "ליאור כהן", "Bo", "Imre Szabó", "梅子"}
		in.Name = func(p string) string {
			var i int
			fmt.Sscanf(p, "s%d", &i)
			return names[i%len(names)]
		}
		if err := os.WriteFile(filepath.Join(*look, fmt.Sprintf("page-%d.html", n)), render(t, in), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	empty := PageInput{Study: &study.Study{Name: "empty"}}
	if err := os.WriteFile(filepath.Join(*look, "page-0.html"), render(t, empty), 0o644); err != nil {
		t.Fatal(err)
	}
}

// element is what walk hands on of one element.
type element struct {
	name  string
	attrs map[string]string
}

// walk parses the page strictly, hands on each start tag, and returns all
// character data and the style sheet.
func walk(t *testing.T, page []byte, visit func(element)) (words, style string) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(page))
	var stack []string
	var w, s strings.Builder
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			e := element{token.Name.Local, map[string]string{}}
			for _, a := range token.Attr {
				e.attrs[a.Name.Local] = a.Value
			}
			stack = append(stack, e.name)
			visit(e)
		case xml.EndElement:
			stack = stack[:len(stack)-1]
		case xml.CharData:
			if len(stack) > 0 && stack[len(stack)-1] == "style" {
				s.Write(token)
			} else {
				w.Write(token)
			}
		}
	}
	return w.String(), s.String()
}

// TestPageLoadsNothing checks every element and attribute, and that the policy
// names the style sheet that is on the page.
func TestPageLoadsNothing(t *testing.T) {
	loadsNothing(t, render(t, invented(24)))
	with := invented(24)
	with.SwimmerPages = true
	loadsNothing(t, render(t, with))
	loadsNothing(t, renderSwimmer(t, with, inventedSwimmer()))
	method, err := MethodPage(with)
	if err != nil {
		t.Fatal(err)
	}
	loadsNothing(t, method)
	simulated, err := SimulationPage(nil, "None.", "0")
	if err != nil {
		t.Fatal(err)
	}
	loadsNothing(t, simulated)
}

// The page of the method names the study's own choices, and its numbers are those of the
// kept simulation.
func TestMethodPage(t *testing.T) {
	in := invented(3)
	in.Study.Cost.Measure, in.Study.Analysis.SmallestEffect = "rpe", 0.3
	page, err := MethodPage(in)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := simulated.Rows()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{template.HTMLEscapeString(costName("rpe")), "within 0.30 ", "Swum as the swimmers liked", fixed(*rows[0].CoveragePct, 1)} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(string(page), "time constant") {
		t.Error("the page of a study by effort tells of heart rates that rise")
	}
}

func loadsNothing(t *testing.T, page []byte) {
	t.Helper()
	var policy string
	ids := map[string]bool{}
	var links []string
	words, style := walk(t, page, func(e element) {
		switch e.name {
		case "script", "link", "iframe", "object", "embed", "img", "image", "use", "form", "base", "video", "audio", "source":
			t.Errorf("element <%s>", e.name)
		}
		for name, value := range e.attrs {
			switch {
			case name == "style" || strings.HasPrefix(name, "on"):
				t.Errorf("attribute %s on <%s>", name, e.name)
			case name == "href" && strings.HasPrefix(value, "data:"):
				if e.attrs["download"] == "" {
					t.Errorf("%.60s would be opened, not saved", value)
				}
			case name == "href":
				links = append(links, value)
			case name == "id":
				if ids[value] {
					t.Errorf("id %q occurs twice", value)
				}
				ids[value] = true
			case name == "src" || name == "srcset" || name == "action":
				t.Errorf("%s on <%s>", name, e.name)
			case name == "type" && e.attrs["download"] != "":
			case name != "xmlns" && strings.Contains(value, "//"):
				t.Errorf("%s=%q on <%s>", name, value, e.name)
			}
		}
		if e.attrs["http-equiv"] == "Content-Security-Policy" {
			policy = e.attrs["content"]
		}
		for _, ref := range strings.Fields(e.attrs["aria-labelledby"]) {
			links = append(links, "#"+ref)
		}
	})
	for _, link := range links {
		if slices.Contains([]string{"index.html", MethodPath, "../index.html", "../index.html#method"}, link) || strings.HasPrefix(link, "swimmers/s") {
			continue // the set's own pages
		}
		if !strings.HasPrefix(link, "#") || !ids[link[1:]] {
			t.Errorf("link or label %q leads nowhere on the page", link)
		}
	}
	sum := sha256.Sum256([]byte(style))
	if want := "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"; !strings.Contains(policy, want) || !strings.Contains(policy, "default-src 'none'") {
		t.Errorf("policy %q does not hold %s", policy, want)
	}
	for _, bad := range []string{"url(", "@import", "http"} {
		if strings.Contains(style, bad) {
			t.Errorf("the style sheet holds %q", bad)
		}
	}
	if strings.Contains(words, "http") || strings.Contains(words, "ZgotmplZ") {
		t.Error("an address, or a value that the template refused, is in the text")
	}
}

// TestNamesStayText puts hostile and right-to-left names everywhere a name can
// go.
func TestNamesStayText(t *testing.T) {
	hostile := []string{`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `' onload='x`, "ליאור\u202e כהן", `]]>&amp;{{.}}</svg></text>`, "a\x00b\x1b[31m"}
	in := invented(12)
	in.Study.Name = hostile[0]
	in.Name = func(p string) string { return hostile[int(p[len(p)-1]-'0')%len(hostile)] }
	in.Ledger = append(in.Ledger, LedgerCount{Rule: hostile[1], About: hostile[0], Action: hostile[2]})
	in.BySwimmer[0].Reason = str(hostile[0])
	words, _ := walk(t, render(t, in), func(e element) {
		switch e.name {
		case "script", "img":
			t.Errorf("a name became <%s>", e.name)
		}
		for name := range e.attrs {
			if strings.HasPrefix(name, "on") {
				t.Errorf("a name became the attribute %s", name)
			}
		}
	})
	for _, want := range []string{hostile[0], hostile[1], hostile[2], "ליאור כהן", hostile[4], "ab[31m"} {
		if !strings.Contains(words, want) {
			t.Errorf("%q is not on the page as text", want)
		}
	}
	if strings.ContainsAny(words, "\x00\x1b\u202e") {
		t.Error("a control character reached the page")
	}
}

func TestPageIsTheSameEveryTime(t *testing.T) {
	first := render(t, invented(24))
	for range 3 {
		if !bytes.Equal(first, render(t, invented(24))) {
			t.Fatal("two renderings differ")
		}
	}
}

// TestPageOfEverySize goes from nothing at all to a big squad under 3 MB.
func TestPageOfEverySize(t *testing.T) {
	walk(t, render(t, PageInput{Study: &study.Study{}}), func(element) {})
	for _, n := range []int{1, 2, 200} {
		page := render(t, invented(n))
		walk(t, page, func(element) {})
		if len(page) > 3<<20 {
			t.Errorf("%d swimmers: %d bytes", n, len(page))
		}
	}
}

// TestForestNumbersAreTheRows looks for each swimmer's numbers in both layouts.
func TestForestNumbersAreTheRows(t *testing.T) {
	in := invented(24)
	words, _ := walk(t, render(t, in), func(element) {})
	for _, r := range in.BySwimmer {
		e, ok := newInterval(r.EffectPer10Pct, r.EffectLow, r.EffectHigh)
		if !ok {
			continue
		}
		want := fmt.Sprintf("%s (%s to %s)", signed(e.estimate, 1), signed(e.low, 1), signed(e.high, 1))
		if n := strings.Count(words, want); n < 2 {
			t.Errorf("%s: %q stands %d times in the figures, want one in each layout", r.Swimmer, want, n)
		}
	}
}

// TestTwoStrokesAndAnotherUnit checks what only shows with several strokes and
// a cost that is not a heart rate.
func TestTwoStrokesAndAnotherUnit(t *testing.T) {
	words, _ := walk(t, render(t, twoStrokes()), func(element) {})
	for _, want := range []string{"Freestyle, set beforehand", "Breaststroke, set beforehand", "J/kg/m", "Breaststroke, liked", "In breaststroke, "} {
		if !strings.Contains(words, want) {
			t.Errorf("the page does not hold %q", want)
		}
	}
	if strings.Contains(words, "bpm") {
		t.Error("the page speaks of bpm where cost is energy")
	}
}

// TestObservedPageClaimsNoCost looks for verbs of costing on a page without a
// designed bout.
func TestObservedPageClaimsNoCost(t *testing.T) {
	words, _ := walk(t, render(t, observedOnly()), func(element) {})
	if !strings.Contains(words, "No usable bout had its rate or instruction set beforehand") {
		t.Error("the page does not say that nothing was set beforehand")
	}
	for _, bad := range []string{"costs this swimmer", "higher stroke rate costs", "at the same pace costs"} {
		if strings.Contains(words, bad) {
			t.Errorf("the page says %q", bad)
		}
	}
}

// TestAxis checks that a number's place in a picture is its place on the axis.
func TestAxis(t *testing.T) {
	a := axis{low: -4, high: 6, from: 100, to: 300}
	for v, want := range map[float64]float64{-4: 100, 6: 300, 1: 200, 0: 180, 99: 300, -99: 100} {
		if got := a.at(v); math.Abs(got-want) > 1e-9 {
			t.Errorf("%v lies at %v, want %v", v, got, want)
		}
	}
	for _, c := range []struct {
		low, high float64
		want      string
	}{{-4.2, 6.4, "\u22124 \u22122 0 +2 +4 +6"}, {-0.11, 0.32, "\u22120.1 0.0 +0.1 +0.2 +0.3"}, {-900, 1000, "\u2212500 0 +500 +1000"}} {
		values, digits := ticks(c.low, c.high, 6)
		var got []string
		for _, v := range values {
			got = append(got, signed(v, digits))
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("ticks of %v to %v: %v, want %s", c.low, c.high, got, c.want)
		}
	}
	ends := make([]float64, 40)
	for i := range ends {
		ends[i] = float64(i%2*2-1) * 3
	}
	ends[0], ends[1] = -500, 500
	if low, high := reach([]float64{0, 2}, ends); low < -4 || high > 4 {
		t.Errorf("two wild ends of forty stretch the axis to %v..%v", low, high)
	}
	if low, high := reach([]float64{0, 200}, ends); low > 0 || high < 200 {
		t.Errorf("an estimate is off the axis %v..%v", low, high)
	}
}

func TestSmallWords(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{shorten("Ada Brook", 20), "Ada Brook"},
		{shorten("Maximiliane Brook", 8), "Maximil\u2026"},
		{shorten("\u6885\u5b50\u6885\u5b50", 5), "\u6885\u2026"},
		{wrap("one two three four", 9), "one two\nthree\nfour"},
		{wrap("", 9), ""},
		{fixed(-0.04, 1), "0.0"},
		{fixed(-1.26, 1), "\u22121.3"},
		{signed(0.04, 1), "0.0"},
		{signed(2, 1), "+2.0"},
		{px(-0.04), "0"},
		{px(12.34), "12.3"},
		{px(7), "7"},
		{probability(0.0004, 3), "<0.001"},
		{probability(0.0499, 3), "<0.05"},
		{probability(0.0501, 3), ">0.05"},
		{probability(0.2, 3), "0.200"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// TestStacksHoldEverybody: no dot is lost, and dots of one column do not touch
// those of the next.
func TestStacksHoldEverybody(t *testing.T) {
	values := []float64{-1, -0.999, -0.5, 0, 0, 0.001, 0.73, 1}
	a := axis{low: -1, high: 1, from: 0, to: 400}
	total, last := 0, math.Inf(-1)
	for _, c := range stack(values, a, 4.5) {
		total += c.n
		if c.x-last < 9 {
			t.Errorf("columns at %v and %v overlap", last, c.x)
		}
		last = c.x
	}
	if total != len(values) {
		t.Errorf("%d dots for %d values", total, len(values))
	}
}

func BenchmarkPage200(b *testing.B) {
	in := invented(200)
	for b.Loop() {
		render(b, in)
	}
}
