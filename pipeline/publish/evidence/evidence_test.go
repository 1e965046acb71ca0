package evidence

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

func ptr[T any](v T) *T { return &v }

// invented is a study of twelve swimmers with one claim of each kind, one of
// nine swimmers, and the squad's own words in places where they must not leave.
func invented() Input {
	in := Input{Title: `What <it> costs & "more"`, Licence: "For the room.", Version: "test", Cost: study.Cost{Measure: "bpm"},
		Strokes: []string{"freestyle"}, Seed: 7, SmallestGroup: 10}
	overall := func(question, measure, design string, estimate float64, swimmers int32) {
		in.Overall = append(in.Overall, schemas.ScoreOverall{Question: question, Measure: measure, Design: design, Stroke: "freestyle", Score: "score",
			Estimate: ptr(estimate), ConfLow: ptr(estimate - 0.1), ConfHigh: ptr(estimate + 0.1), PredictLow: ptr(estimate - 0.3), PredictHigh: ptr(estimate + 0.3),
			Swimmers: swimmers, Bouts: 400, Sessions: 80})
	}
	finding := func(id, question, design, sentence string, estimate float64, n int32, caution string) {
		f := schemas.Finding{Finding: id, Question: question, Stroke: ptr("freestyle"), Strength: findings.StrengthCosts, Sentence: sentence, Estimate: ptr(estimate), N: n}
		if design != "" {
			f.Design = ptr(design)
		}
		if caution != "" {
			f.Caution = ptr(caution)
		}
		in.Findings = append(in.Findings, f)
	}
	overall("matched-pace", "effect_per_10pct", "designed", -1.5, 12)
	finding("matched-pace/freestyle/designed", "matched-pace", "designed", "Over 12 swimmers it costs 1.5 bpm less.", -1.5, 12,
		"Read it with care. 3 swimmers left out: too little data. Bouts scatter by 9.9 for one swimmer and by 2.7 for another.")
	overall("matched-pace", "effect_per_10pct", "observed", -0.4, 9)
	finding("matched-pace/freestyle/observed", "matched-pace", "observed", "Over 9 swimmers it goes together with 0.4 bpm less.", -0.4, 9, "")
	overall("matched-pace", "effect_per_10pct", "all", -0.9, 12)
	finding("matched-pace/freestyle/all", "matched-pace", "all", "Over 12 swimmers both kinds.", -0.9, 12, "")
	overall("raw", "correlation", "designed", -0.36, 12)
	finding("raw/freestyle/designed", "raw", "designed", "The score tracks it for 2 swimmers.", -0.36, 12, "")
	overall("matched-pace", "concordance", "designed", 0.41, 12)
	finding("concordance/freestyle/designed", "concordance", "designed", "In 41 % of pairs (12 swimmers).", 0.41, 12, "")
	contrast := func(tag, level string) {
		in.Contrasts = append(in.Contrasts, schemas.Contrast{Scope: "squad", Stroke: "freestyle", Design: "designed", Tag: tag, Level: level, Reference: "usual", Measure: "cost",
			Unit: "bpm", Estimate: ptr(4.5), ConfLow: ptr(0.7), ConfHigh: ptr(8.3), N: 280, Sessions: 29, Swimmers: 12})
		finding("contrast/"+tag+"/"+level+"/usual/freestyle/designed", "contrast", "designed", "Told "+level+", it cost 4.5 bpm more.", 4.5, 12, "")
	}
	contrast("instruction", "fewest-strokes")
	contrast("lane", "next to Quayle")
	in.Changes = []schemas.Change{{Scope: "squad", Stroke: "freestyle", Kind: "dated", Change: "Quayle's camp", Estimate: ptr(-1.5), ConfLow: ptr(-4.5), ConfHigh: ptr(1.5), N: 90, Bouts: 400, Swimmers: 12}}
	finding("change/dated/Quayle's camp/without it/freestyle", "change", "observed", "Freestyle, Quayle's camp: 1.5 bpm cheaper.", -1.5, 12, "Quayle's camp came with warm water. So read on.")
	finding("limits/a", "limits", "", "For 3 swimmers it stays open. That is no sign.", 0, 3, "")
	finding("limits/b", "limits", "", "Quayle's camp cannot be told from the season.", 0, 12, "")
	finding("limits/c", "limits", "", "Counts may be off.", 0, 12, "")
	in.Findings = append(in.Findings, schemas.Finding{Finding: "by-swimmer/s-1", Question: "by-swimmer", Swimmer: ptr("s-1"), Sentence: "One swimmer's own."})
	in.Choices = []schemas.Sensitivity{}
	for i := range 5 {
		in.Choices = append(in.Choices, schemas.Sensitivity{Stroke: "freestyle", Design: "designed", Departures: int32(i), Estimate: ptr(-1.5 + float64(i)/10), ConfLow: ptr(-3.0), ConfHigh: ptr(0.5), Swimmers: 12})
	}
	for k := range 12 {
		s := analyse.SwimmerPairs{Swimmer: fmt.Sprint("s-", k), Stroke: "freestyle", Design: analyse.Designed}
		for i := range 60 {
			s.Pairs = append(s.Pairs, analyse.Pair{StrokesPct: float64(i%9-4) + float64(k)/100 + 0.3, Cost: float64((i*7+k)%11-5) + 0.1})
		}
		in.Pairs = append(in.Pairs, s)
		if k < 9 {
			s.Design = analyse.Observed
			in.Pairs = append(in.Pairs, s)
		}
	}
	return in
}

func made(t *testing.T, in Input) map[string][]byte {
	t.Helper()
	files, err := Files(in)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, f := range files {
		out[f.Name] = f.Data
	}
	return out
}

func TestWhatIsInIt(t *testing.T) {
	files := made(t, invented())
	for _, name := range []string{"README.md", "LICENCE.md", "SOURCES.md", "manifest.json", "claims.csv", "claims.json", "pairs.csv", "handout.html", "slides.html", "explorer.html"} {
		if len(files[name]) == 0 {
			t.Errorf("%s is missing", name)
		}
	}
	figures := 0
	for name := range files {
		base, ok := strings.CutSuffix(name, ".svg")
		if !ok {
			continue
		}
		figures++
		if len(files[base+".png"]) == 0 || bytes.Count(files[base+".csv"], []byte("\n")) < 2 {
			t.Errorf("%s lacks its PNG or its data", name)
		}
	}
	if figures < 4 {
		t.Errorf("%d figures", figures)
	}
	var claims []Claim
	if err := json.Unmarshal(files["claims.json"], &claims); err != nil {
		t.Fatal(err)
	}
	var ids []string
	for _, c := range claims {
		ids = append(ids, c.ID)
		if c.Swimmers < 10 || c.Interval == "" || c.IntervalLow > c.Estimate || c.IntervalTop < c.Estimate || c.Table == "" || c.Design == "all" {
			t.Errorf("claim %+v", c)
		}
	}
	if want := []string{"matched-pace-1", "contrast-1", "concordance-1", "change-1"}; !slices.Equal(ids, want) {
		t.Errorf("claims %v, want %v", ids, want)
	}
	if got := claims[0].Limits; !slices.Equal(got, []string{"Read it with care."}) {
		t.Errorf("limits %q", got)
	}
	rows, err := csv.NewReader(bytes.NewReader(files["claims.csv"])).ReadAll()
	if err != nil || len(rows) != len(claims)+1 {
		t.Errorf("%d rows in claims.csv (%v) for %d claims", len(rows), err, len(claims))
	}
	var manifest struct {
		Files []struct{ Path, SHA256 string }
	}
	if err := json.Unmarshal(files["manifest.json"], &manifest); err != nil || len(manifest.Files) != len(files)-1 {
		t.Errorf("the manifest lists %d of %d files (%v)", len(manifest.Files), len(files)-1, err)
	}
	for _, f := range manifest.Files {
		if hashHex(files[f.Path]) != f.SHA256 {
			t.Errorf("%s has another hash than the manifest says", f.Path)
		}
	}
}

// Nothing of fewer swimmers than ten, nobody's own rows and none of the squad's
// own words leave.
func TestWhatStaysBack(t *testing.T) {
	for name, data := range made(t, invented()) {
		if strings.HasSuffix(name, ".png") {
			continue
		}
		for _, bad := range []string{`Quayle`, `\b9 swimmers`, `\b2 swimmers`, `\b3 swimmers`, `by 9\.9 for`, `\blane\b`, `\bs-[0-9]`, `both kinds\.`, `One swimmer's own`} {
			if found := regexp.MustCompile(bad).Find(data); found != nil {
				t.Errorf("%s holds %q", name, found)
			}
		}
	}
	in := invented()
	for i := range in.Findings {
		in.Findings[i].N = 3
	}
	in.SmallestGroup = 13
	if _, err := Files(in); !errors.Is(err, ErrNothing) {
		t.Errorf("thirteen asked of twelve: %v", err)
	}
}

// The explorer has as many pairs of everybody, only where enough swimmers are.
func TestPairsOfAll(t *testing.T) {
	p := &pack{Input: invented()}
	shown := p.choosePairs()
	if len(shown) != 1 || shown[0].Design != "designed" || shown[0].Swimmers != 12 || len(shown[0].Pairs) != 12*mostPairs {
		t.Fatalf("%d sets; %+v", len(shown), shown)
	}
	in := invented()
	slices.Reverse(in.Pairs)
	for i := range in.Pairs {
		in.Pairs[i].Swimmer = fmt.Sprint("other-", i)
	}
	again := (&pack{Input: in}).choosePairs()
	if !slices.Equal(again[0].Pairs, shown[0].Pairs) {
		t.Error("other pseudonyms, or another order of swimmers, give other pairs")
	}
}

func TestSameBytes(t *testing.T) {
	var zips [][]byte
	for range 2 {
		files, err := Files(invented())
		if err != nil {
			t.Fatal(err)
		}
		z, err := Zip(files)
		if err != nil {
			t.Fatal(err)
		}
		zips = append(zips, z)
	}
	if !bytes.Equal(zips[0], zips[1]) {
		t.Error("two packs of one study differ")
	}
	r, err := zip.NewReader(bytes.NewReader(zips[0]), int64(len(zips[0])))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range r.File {
		if f.Modified.Year() != 1980 {
			t.Errorf("%s carries a clock: %v", f.Name, f.Modified)
		}
	}
}

// A number that the table does not hold is no claim.
func TestNumbersStandInTables(t *testing.T) {
	in := invented()
	in.Overall[0].Estimate = ptr(-1.6)
	if _, err := Files(in); err == nil || !strings.Contains(err.Error(), "score_overall") {
		t.Errorf("a finding that differs from its table: %v", err)
	}
}

func TestSearch(t *testing.T) {
	for text, found := range map[string]bool{
		"nothing here": false, "x s-abc-1": true, "on 2026-03-02": true, "on 1999-12-31": true, "-2026-03-021": true, "3-2-1": false, "": false, "a 2026-13-x": false,
	} {
		if err := Search([]File{{"a.txt", []byte(text)}}, []string{"s-abc", "2026-03-02", ""}); (err != nil) != found {
			t.Errorf("%q: %v", text, err)
		}
	}
	for _, c := range []struct {
		text, name string
		want       bool
	}{{"at the camp.", "camp", true}, {"camping", "camp", false}, {"scamp camp", "camp", true}, {"x", "", false}, {"", "x", false}, {"über x", "x", true}} {
		if got := holdsWord(c.text, c.name); got != c.want {
			t.Errorf("%q in %q: %v", c.name, c.text, got)
		}
	}
}

// TestPages reads the pages as a browser would: tags that match, ids once, a
// name for every picture and control, and nothing loaded or run but the page's
// own.
func TestPages(t *testing.T) {
	files := made(t, invented())
	for _, name := range []string{"handout.html", "slides.html", "explorer.html"} {
		page := string(files[name])
		if strings.Contains(page, "ZgotmplZ") || strings.Contains(page, "<it>") {
			t.Errorf("%s: a value was refused, or a title became markup", name)
		}
		checkPage(t, name, page)
	}
}

func checkPage(t *testing.T, name, page string) {
	t.Helper()
	void := []string{"meta", "img", "br", "input", "link", "hr"}
	ids := map[string]bool{}
	var stack, refers []string
	z := html.NewTokenizer(strings.NewReader(page))
	for {
		kind := z.Next()
		if kind == html.ErrorToken {
			if !errors.Is(z.Err(), io.EOF) {
				t.Errorf("%s: %v", name, z.Err())
			}
			break
		}
		token := z.Token()
		switch kind {
		case html.StartTagToken, html.SelfClosingTagToken:
			attrs := map[string]string{}
			for _, a := range token.Attr {
				attrs[a.Key] = a.Val
				if a.Key == "style" || strings.HasPrefix(a.Key, "on") || strings.Contains(a.Val, "//") && a.Key != "xmlns" {
					t.Errorf("%s: %s=%q on <%s>", name, a.Key, a.Val, token.Data)
				}
			}
			if id, ok := attrs["id"]; ok {
				if ids[id] {
					t.Errorf("%s: id %q occurs twice", name, id)
				}
				ids[id] = true
			}
			for _, key := range []string{"aria-labelledby", "for"} {
				refers = append(refers, strings.Fields(attrs[key])...)
			}
			if token.Data == "img" && (attrs["alt"] == "" || !strings.HasPrefix(attrs["src"], "data:image/svg+xml;base64,")) {
				t.Errorf("%s: a picture without words, or loaded from elsewhere", name)
			}
			if kind == html.StartTagToken && !slices.Contains(void, token.Data) {
				stack = append(stack, token.Data)
			}
		case html.EndTagToken:
			if len(stack) == 0 || stack[len(stack)-1] != token.Data {
				t.Fatalf("%s: </%s> closes %v", name, token.Data, stack)
			}
			stack = stack[:len(stack)-1]
		}
	}
	if len(stack) > 0 {
		t.Errorf("%s: never closed: %v", name, stack)
	}
	for _, id := range refers {
		if !ids[id] {
			t.Errorf("%s: nothing has the id %q", name, id)
		}
	}
	if !strings.Contains(page, "default-src &#39;none&#39;") {
		t.Errorf("%s has no policy that lets nothing in", name)
	}
}

func TestNoFormulas(t *testing.T) {
	data, err := table([]string{"a"}, [][]string{{"=1+1"}, {"-2.5"}, {"+x"}, {"@y"}, {"plain"}})
	if err != nil || string(data) != "a\n'=1+1\n-2.5\n'+x\n'@y\nplain\n" {
		t.Errorf("%q, %v", data, err)
	}
}
