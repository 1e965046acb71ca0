package publish

import (
	"bytes"
	"encoding/base64"
	"encoding/csv"
	"errors"
	"fmt"
	"html/template"
	"regexp"
	"strconv"
	"strings"
)

// takeaway is a file that a page carries in a link, so that it can be saved where
// the page is read from disk, without a network and without scripts.
type takeaway struct {
	Name, Kind, Label string
	URL               template.URL
}

// Takeaways are a figure's picture, as it is in the light view of a wide page, and
// the numbers behind it, for a slide and a spreadsheet.
func (f figure) Takeaways() ([]takeaway, error) {
	var out []takeaway
	add := func(kind, suffix, label string, data []byte) {
		url := "data:" + kind + ";base64," + base64.StdEncoding.EncodeToString(data)
		out = append(out, takeaway{Name: f.ID + suffix, Kind: kind, Label: label, URL: template.URL(url)})
	}
	if len(f.Drawings) > 0 {
		picture, err := alone(f.Drawings[0])
		if err != nil {
			return nil, fmt.Errorf("picture of the figure %s: %w", f.ID, err)
		}
		add("image/svg+xml", ".svg", "picture (SVG)", picture)
	}
	if f.Table != nil {
		data, err := f.Table.csv()
		if err != nil {
			return nil, fmt.Errorf("numbers of the figure %s: %w", f.ID, err)
		}
		add("text/csv", ".csv", "numbers (CSV)", data)
	}
	return out, nil
}

// alone is a drawing as a file of its own. The style sheet goes with it, colours
// written out, since few drawing programs know a sheet's variables.
func alone(d drawing) ([]byte, error) {
	t, err := template.New("parts").Parse(partsText)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, "drawing", d); err != nil {
		return nil, err
	}
	width, errWidth := strconv.ParseFloat(d.Width, 64)
	height, errHeight := strconv.ParseFloat(d.Height, 64)
	if err := errors.Join(errWidth, errHeight); err != nil {
		return nil, err
	}
	size := fmt.Sprintf("width=\"%g\" height=\"%g\"", width+2*margin, height+2*margin)
	box := fmt.Sprintf("viewBox=\"%d %d %g %g\" %s", -margin, -margin, width+2*margin, height+2*margin, size)
	drawn := strings.Replace(b.String(), fmt.Sprintf("viewBox=\"0 0 %s %s\"", d.Width, d.Height), box, 1)
	open := strings.Index(drawn, ">") + 1
	ground := fmt.Sprintf("\n<style>%s</style>\n<rect x=\"%d\" y=\"%[2]d\" %s fill=\"%s\" />", drawnStyle(css), -margin, size, variables(css)["paper"])
	return []byte(drawn[:open] + ground + drawn[open:] + "\n"), nil
}

// margin is the paper around a drawing that stands alone.
const margin = 16

var (
	variable    = regexp.MustCompile(`--([a-z]+):\s*([^;]+);`)
	useVariable = regexp.MustCompile(`var\(--([a-z]+)\)`)
)

// variables are what the style sheet's first rule sets, the light view.
func variables(sheet string) map[string]string {
	out := map[string]string{}
	first, _, _ := strings.Cut(sheet, "}")
	for _, found := range variable.FindAllStringSubmatch(first, -1) {
		out[found[1]] = found[2]
	}
	return out
}

// drawnStyle are the style sheet's rules for what is within a drawing: those from
// "svg text" to "details", with the variables written out.
func drawnStyle(sheet string) string {
	_, rules, _ := strings.Cut(sheet, "\nsvg text")
	rules, _, _ = strings.Cut("svg text"+rules, "\ndetails")
	values := variables(sheet)
	return useVariable.ReplaceAllStringFunc(rules, func(use string) string {
		return values[useVariable.FindStringSubmatch(use)[1]]
	})
}

// csv is a table for a spreadsheet: numbers with a plain minus and without a plus,
// and a text that a spreadsheet would take for a formula behind an apostrophe.
func (t *table) csv() ([]byte, error) {
	var b bytes.Buffer
	b.WriteString("\ufeff") // so that a spreadsheet takes it for UTF-8
	w := csv.NewWriter(&b)
	w.UseCRLF = true // RFC 4180
	line := make([]string, len(t.Head))
	for i, h := range t.Head {
		line[i] = plain(h.Text, false)
	}
	if err := w.Write(line); err != nil {
		return nil, err
	}
	for _, row := range t.Rows {
		line = line[:0]
		for _, c := range row {
			line = append(line, plain(c.Text, c.Number))
		}
		if err := w.Write(line); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// plain is a cell's text as a spreadsheet reads it.
func plain(s string, number bool) string {
	if number {
		s = strings.NewReplacer("\u2212", "-", "+", "").Replace(s)
		if s == none {
			return ""
		}
		return s
	}
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
