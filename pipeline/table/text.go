package table

import (
	"bufio"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/width"
)

const (
	screenColumns = 80 // what a terminal is assumed to hold
	cellColumns   = 36 // a wider cell is cut
	columnGap     = "  "
	blockRows     = 25 // rows before the next panel of columns follows
	nullCell      = "–"
)

// textColumn is a column of the printed table: the row number, or one of the
// table's.
type textColumn struct {
	at    int // in the chosen columns, -1 for the row number
	name  string
	unit  string
	right bool
	width int
}

func printText(out *bufio.Writer, f *File, columns []Column, limit int, shown func(Column, string) string) error {
	number := textColumn{at: -1, name: "#", right: true, width: digits(rowLimit(f, limit))}
	texts := make([]textColumn, len(columns))
	for j, c := range columns {
		t := textColumn{at: j, name: c.Name, right: c.Type != String && c.Type != Boolean && c.Type != Timestamp}
		if c.Unit != "" && c.Unit != "1" {
			t.unit = "(" + c.Unit + ")"
		}
		t.width = max(columnsOnScreen(t.name), columnsOnScreen(t.unit))
		texts[j] = t
	}
	err := eachRow(f, columns, limit, shown, func(row []cells, i int) error {
		for j := range texts {
			texts[j].width = max(texts[j].width, columnsOnScreen(textCell(row[j], i)))
		}
		return nil
	})
	if err != nil {
		return err
	}
	panels := panelsOf(number, texts)
	if len(panels) == 1 {
		panels[0] = texts // the row number is only there to tie panels together
	}
	p := textPrinter{out: out, panels: panels}
	if err := eachRow(f, columns, limit, shown, p.add); err != nil {
		return err
	}
	return p.end()
}

// panelsOf cuts the columns into runs that fit on the screen, each behind the
// row number when there are several.
func panelsOf(number textColumn, columns []textColumn) [][]textColumn {
	total := 0
	for j, c := range columns {
		total += c.width
		if j > 0 {
			total += len(columnGap)
		}
	}
	if total <= screenColumns {
		return [][]textColumn{columns}
	}
	var panels [][]textColumn
	used := screenColumns + 1 // the first column starts a panel
	for _, c := range columns {
		if used+len(columnGap)+c.width > screenColumns {
			panels = append(panels, []textColumn{number})
			used = number.width
		}
		last := len(panels) - 1
		panels[last] = append(panels[last], c)
		used += len(columnGap) + c.width
	}
	return panels
}

// textPrinter holds the lines of one block of rows until its panels can be
// written below each other.
type textPrinter struct {
	out    *bufio.Writer
	panels [][]textColumn
	lines  [][]string // a panel's lines of the current block
	row    int64
	blocks int
}

func (p *textPrinter) add(row []cells, i int) error {
	if p.lines == nil {
		p.lines = make([][]string, len(p.panels))
	}
	p.row++
	for k, panel := range p.panels {
		p.lines[k] = append(p.lines[k], lineOf(panel, func(c textColumn) string {
			if c.at < 0 {
				return strconv.FormatInt(p.row, 10)
			}
			return textCell(row[c.at], i)
		}))
	}
	if len(p.lines[0]) == blockRows {
		return p.flush()
	}
	return nil
}

// flush writes the block. A table of one panel has its header once only.
func (p *textPrinter) flush() error {
	for k, panel := range p.panels {
		if k > 0 || p.blocks > 0 && len(p.panels) > 1 {
			p.out.WriteByte('\n')
		}
		if p.blocks == 0 || len(p.panels) > 1 {
			p.out.WriteString(lineOf(panel, func(c textColumn) string { return c.name }))
			if slices.ContainsFunc(panel, func(c textColumn) bool { return c.unit != "" }) {
				p.out.WriteString(lineOf(panel, func(c textColumn) string { return c.unit }))
			}
		}
		if p.lines != nil {
			for _, line := range p.lines[k] {
				p.out.WriteString(line)
			}
			p.lines[k] = p.lines[k][:0]
		}
	}
	p.blocks++
	_, err := p.out.WriteString("") // the writer's first error, if any
	return err
}

func (p *textPrinter) end() error {
	if p.blocks == 0 || len(p.lines[0]) > 0 {
		return p.flush()
	}
	return nil
}

// lineOf aligns the cells of one line, without spaces at its end.
func lineOf(panel []textColumn, cell func(textColumn) string) string {
	var line strings.Builder
	for j, c := range panel {
		if j > 0 {
			line.WriteString(columnGap)
		}
		s := cell(c)
		pad := strings.Repeat(" ", max(0, c.width-columnsOnScreen(s)))
		if c.right {
			line.WriteString(pad + s)
		} else {
			line.WriteString(s + pad)
		}
	}
	return strings.TrimRight(line.String(), " ") + "\n"
}

func textCell(c cells, i int) string {
	switch {
	case c.null(i):
		return nullCell
	case c.double != nil:
		return readable(c.double(i))
	case c.text != nil:
		return cut(visible(c.text(i)))
	}
	return string(c.exact(nil, i))
}

// readable rounds a double to six digits, and to the unit from a million on.
func readable(v float64) string {
	switch a := math.Abs(v); {
	case a >= 1e6 && a < 1e15:
		return strconv.FormatFloat(v, 'f', 0, 64)
	case a >= 1 && a < 1e6:
		digitsBefore := len(strconv.FormatInt(int64(a), 10))
		s := strconv.FormatFloat(v, 'f', 6-digitsBefore, 64)
		if strings.Contains(s, ".") {
			s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
		}
		return s
	}
	return strconv.FormatFloat(v, 'g', 6, 64)
}

// visible escapes what would move the cursor or hide itself: notes are typed
// by people, and a terminal obeys control characters.
func visible(s string) string {
	if !strings.ContainsFunc(s, hidden) {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		if hidden(r) {
			quoted := strconv.QuoteRuneToASCII(r)
			b.WriteString(quoted[1 : len(quoted)-1])
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

func hidden(r rune) bool {
	return r != ' ' && !unicode.IsGraphic(r) || unicode.Is(unicode.Zl, r) || unicode.Is(unicode.Zp, r)
}

// cut shortens text to the widest cell.
func cut(s string) string {
	if columnsOnScreen(s) <= cellColumns {
		return s
	}
	used := 0
	for i, r := range s {
		used += runeColumns(r)
		if used > cellColumns-1 {
			return s[:i] + "…"
		}
	}
	return s
}

func columnsOnScreen(s string) int {
	n := 0
	for _, r := range s {
		n += runeColumns(r)
	}
	return n
}

func runeColumns(r rune) int {
	if unicode.Is(unicode.Mn, r) || unicode.Is(unicode.Me, r) {
		return 0
	}
	switch width.LookupRune(r).Kind() {
	case width.EastAsianWide, width.EastAsianFullwidth:
		return 2
	}
	return 1
}

func digits(n int64) int { return len(strconv.FormatInt(n, 10)) }
