package run

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// numbersHold looks for every number of every page in the study's tables:
//
//   - a sentence is one of the table findings, or has no number that its template lacks;
//   - all the numbers of a row of a page's table are those of one row of the table that
//     it is drawn from, or of one count over its rows, each at the places shown;
//   - a number in a drawing, but for the ticks of its axes, is one of the page's table
//     below it, of the findings, or of the rows of the swimmer and the squad.
//
// Then one digit of every table's number is changed, and nearly all must be missed.
func numbersHold(t *testing.T, s *study.Study) {
	k := newNumberCheck(t, s)
	pages, err := filepath.Glob(filepath.Join(s.Path(s.Output), "pages", "swimmers", "*.html"))
	if err != nil || len(pages) < 20 {
		t.Fatalf("%d pages of swimmers: %v", len(pages), err)
	}
	for _, path := range append([]string{filepath.Join(s.Path(s.Output), "pages", "index.html")}, pages...) {
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		root, err := html.Parse(f)
		if err := errors.Join(err, f.Close()); err != nil {
			t.Fatal(err)
		}
		k.page, k.swimmer = filepath.Base(path), strings.TrimSuffix(filepath.Base(path), ".html")
		k.walk(root)
	}
	t.Logf("%d numbers in sentences, %d in tables, %d in drawings", k.inSentences, k.inTables, k.inDrawings)
	if k.inSentences < 2000 || k.inTables < 3000 || k.inDrawings < 500 {
		t.Error("the pages have fewer numbers than they had: is everything looked at?")
	}
	if share := float64(k.missed) / float64(k.altered); share < 0.94 {
		t.Errorf("of %d numbers with another digit only %.1f %% were missed", k.altered, 100*share)
	} else {
		t.Logf("of %d numbers with another digit %.1f %% were missed", k.altered, 100*share)
	}
}

// numberCheck is what pages are held against.
type numberCheck struct {
	t    *testing.T
	said string // all sentences of the findings, in one form
	told string // the words of the templates

	scores    []schemas.ScoreBySwimmer
	overall   []schemas.ScoreOverall
	rates     []schemas.CostByRate
	economy   []schemas.EconomicalRate
	curve     []schemas.Sensitivity
	paid      []schemas.HeartCost
	steady    []schemas.Reliability
	ledger    []schemas.LedgerEntry
	bouts     []schemas.Bout
	record    Record
	ownWords  string // of the study: its name, smallest effect, seed
	page      string
	swimmer   string
	rng       *rand.Rand
	lastTable []string // numbers of the page's tables

	inSentences, inTables, inDrawings, altered, missed int
}

func rowsFor[T any](t *testing.T, s *study.Study, name string) []T {
	t.Helper()
	rows, err := table.ReadRows[T](filepath.Join(s.Path(s.Output), tablesFolder, table.TableFile(name)))
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func newNumberCheck(t *testing.T, s *study.Study) *numberCheck {
	t.Helper()
	k := &numberCheck{t: t, scores: rowsFor[schemas.ScoreBySwimmer](t, s, "score_by_swimmer"), overall: rowsFor[schemas.ScoreOverall](t, s, "score_overall"),
		rates: rowsFor[schemas.CostByRate](t, s, "cost_by_rate"), economy: rowsFor[schemas.EconomicalRate](t, s, "economical_rate"),
		curve: rowsFor[schemas.Sensitivity](t, s, "sensitivity"), paid: rowsFor[schemas.HeartCost](t, s, "heart_cost"),
		steady: rowsFor[schemas.Reliability](t, s, "reliability"), ledger: rowsFor[schemas.LedgerEntry](t, s, "ledger"),
		bouts: rowsFor[schemas.Bout](t, s, "bouts"), rng: rand.New(rand.NewPCG(8, 8))}
	var err error
	if k.record, err = ReadRecord(s.Path(s.Output)); err != nil {
		t.Fatal(err)
	}
	var said strings.Builder
	for _, f := range rowsFor[schemas.Finding](t, s, "findings") {
		said.WriteString(oneForm(f.Sentence) + "\n")
		if f.Caution != nil {
			said.WriteString(oneForm(*f.Caution) + "\n")
		}
	}
	k.said = said.String()
	var told strings.Builder
	templates, err := filepath.Glob("../publish/assets/*.html")
	if err != nil || len(templates) == 0 {
		t.Fatalf("no templates: %v", err)
	}
	for _, path := range templates {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		told.WriteString(oneForm(html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(string(data), " "))) + "\n")
	}
	for _, c := range findings.Cautions() {
		told.WriteString(oneForm(c) + "\n")
	}
	k.told = told.String()
	k.ownWords = fmt.Sprintf("%s seed %d %s %.1f", s.Name, s.Seed, Version, s.Analysis.SmallestEffect)
	return k
}

// oneForm is a text in the form in which texts are compared.
func oneForm(text string) string {
	return strings.ToLower(strings.Join(strings.Fields(strings.NewReplacer("\u00a0", " ", "\u202f", " ").Replace(text)), " "))
}

// numberIn finds numbers, with their minus sign and the commas between thousands.
var numberIn = regexp.MustCompile(`\x{2212}?\d[\d,]*(?:\.\d+)?`)

// numbersOf are the numbers of a text, without ids of swimmers, sessions and files, and
// without days.
func numbersOf(text string) []string {
	text = regexp.MustCompile(`\b[sf]-[0-9a-z-]+|\b\d{4}-\d\d-\d\d\b|\bCR2\b`).ReplaceAllString(text, " ")
	all := numberIn.FindAllString(text, -1)
	for i := range all {
		all[i] = strings.TrimRight(all[i], ",")
	}
	return all
}

// walk looks at an element and what is in it.
func (k *numberCheck) walk(n *html.Node) {
	if n.Type == html.ElementNode {
		switch n.Data {
		case "style", "script", "nav":
			return
		case "table":
			k.table(n)
			return
		case "figure":
			k.lastTable = nil
			for _, t := range all(n, "table") {
				k.lastTable = append(k.lastTable, numbersOf(textOf(t))...)
			}
		case "svg":
			k.drawing(n)
			return
		case "p", "li", "dt", "dd", "h1", "h2", "h3", "summary", "title":
			if n.Data == "li" || n.Data == "dd" {
				if len(all(n, "p"))+len(all(n, "ul")) > 0 {
					break // its paragraphs are looked at
				}
			}
			k.sentence(n)
			return
		}
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		k.walk(c)
	}
}

func all(n *html.Node, tag string) (out []*html.Node) {
	for c := range n.Descendants() {
		if c.Type == html.ElementNode && c.Data == tag {
			out = append(out, c)
		}
	}
	return out
}

func textOf(n *html.Node) string {
	var b strings.Builder
	for c := range n.Descendants() {
		if c.Type == html.TextNode {
			b.WriteString(c.Data)
			if slices.Contains([]string{"td", "th", "tspan", "bdi"}, c.Parent.Data) {
				b.WriteString(" ")
			}
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

func classOf(n *html.Node) string {
	for _, a := range n.Attr {
		if a.Key == "class" {
			return a.Val
		}
	}
	return ""
}

// sentence holds that a text is of the findings or of the template, part by part.
func (k *numberCheck) sentence(n *html.Node) {
	if n.Parent.Parent != nil && classOf(n.Parent.Parent) == "sources" || classOf(n.Parent) == "tally" {
		k.tally(n)
		return
	}
	text := textOf(n)
	for _, part := range regexp.MustCompile(`([.;:]) `).Split(text, -1) {
		numbers := numbersOf(part)
		if len(numbers) == 0 {
			continue
		}
		k.inSentences += len(numbers)
		form := strings.TrimRight(oneForm(part), ".;:")
		if strings.Contains(k.said, form) || strings.Contains(k.told, form) {
			continue
		}
		for _, number := range numbers { // words around a number of the study
			if !slices.Contains(numbersOf(k.ownWords), number) && !slices.Contains(k.counted(), number) && !slices.Contains(numbersOf(k.told), number) {
				k.t.Errorf("%s: %q says %s, which no finding does", k.page, part, number)
			}
		}
	}
}

// tally holds the counts of verdicts; the sources of the method are citations.
func (k *numberCheck) tally(n *html.Node) {
	if classOf(n.Parent) != "tally" {
		return
	}
	words := map[string]string{"track the cost": findings.Tracks, "run against it": findings.RunsAgainst, "practically none": findings.PracticallyNone,
		"undecided": findings.Undecided, "too little data": findings.TooLittleData}
	number, says, _ := strings.Cut(textOf(n), " ")
	count := 0
	for _, r := range k.scores {
		if r.Design == findings.Designed && r.Stroke == "freestyle" && findings.Worded(r) == words[says] {
			count++
		}
	}
	k.inSentences++
	if words[says] == "" || number != strconv.Itoa(count) {
		k.t.Errorf("%s: %q, and %d rows say so", k.page, textOf(n), count)
	}
}

// counted are how many bouts there are of the squad or the swimmer, and usable ones.
func (k *numberCheck) counted() []string {
	read, usable := 0, 0
	for i := range k.bouts {
		if b := &k.bouts[i]; k.page == "index.html" || b.Swimmer == k.swimmer {
			read++
			if b.Usable {
				usable++
			}
		}
	}
	return []string{findings.Grouped(int64(read)), findings.Grouped(int64(usable))}
}

// table holds the rows of a page's table against those of the study's.
func (k *numberCheck) table(n *html.Node) {
	caption := textOf(all(n, "caption")[0])
	candidates := k.candidates(caption)
	if candidates == nil {
		k.t.Errorf("%s: a table that no check knows: %q", k.page, caption)
		return
	}
	for _, row := range all(n, "tr") {
		if len(all(row, "td")) == 0 {
			continue
		}
		text := textOf(row)
		if strings.HasPrefix(caption, "Records left out") { // a row of the ledger, word for word
			cells := all(row, "td")
			detail := textOf(cells[len(cells)-1])
			numbers := len(numbersOf(detail))
			k.inTables += numbers
			if numbers > 0 && !slices.ContainsFunc(k.ledger, func(e schemas.LedgerEntry) bool { return oneForm(e.Detail) == oneForm(detail) }) {
				k.t.Errorf("%s: no entry of the ledger says %q", k.page, detail)
			}
			continue
		}
		numbers := numbersOf(text)
		k.inTables += len(numbers)
		if !fits(numbers, candidates(text)) {
			k.t.Errorf("%s, %q: no row of the tables has all of %v", k.page, caption, numbers)
			continue
		}
		for i := range numbers {
			if changed, ok := otherDigit(k.rng, numbers[i]); ok {
				altered := slices.Clone(numbers)
				altered[i] = changed
				if k.altered++; !fits(altered, candidates(text)) {
					k.missed++
				}
			}
		}
	}
}

// otherDigit changes the last digit of a number.
func otherDigit(rng *rand.Rand, number string) (string, bool) {
	last := len(number) - 1
	if number[last] < '0' || number[last] > '9' {
		return "", false
	}
	return number[:last] + strconv.Itoa((int(number[last]-'0')+1+rng.IntN(9))%10), true
}

// fits reports whether one of the candidates has all the numbers.
func fits(numbers []string, candidates [][]float64) bool {
	return slices.ContainsFunc(candidates, func(row []float64) bool {
		for _, number := range numbers {
			if !slices.ContainsFunc(row, func(x float64) bool { return shows(number, x) }) {
				return false
			}
		}
		return true
	})
}

// shows reports whether a number is a value at the places that it shows, as it stands or
// in per cent.
func shows(number string, x float64) bool {
	text := strings.ReplaceAll(strings.Replace(number, "\u2212", "-", 1), ",", "")
	shown, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return false
	}
	places := 0
	if cut := strings.IndexByte(text, '.'); cut >= 0 {
		places = len(text) - cut - 1
	}
	half := 0.5*math.Pow(10, -float64(places)) + 1e-9
	return math.Abs(x-shown) <= half || places == 1 && math.Abs(100*x-shown) <= half
}

// numbersIn are the numbers of a row of a table.
func numbersIn(row any) (out []float64) {
	v := reflect.ValueOf(row)
	for i := range v.NumField() {
		f := v.Field(i)
		if f.Kind() == reflect.Pointer {
			if f.IsNil() {
				continue
			}
			f = f.Elem()
		}
		switch f.Kind() {
		case reflect.Float64:
			out = append(out, f.Float())
		case reflect.Int32, reflect.Int64:
			out = append(out, float64(f.Int()))
		}
	}
	return out
}
