package read

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"lengthwise/pipeline/identity"
)

// NotTableError says that bytes are no table of the expected kind.
type NotTableError struct {
	FileID string // "" for the study's own lists
	What   string // lane sheet, heart-rate log, roster, assign file, notes file
	Reason string
}

func (e *NotTableError) Error() string {
	file := ""
	if e.FileID != "" {
		file = "file " + e.FileID + ": "
	}
	return fmt.Sprintf("%sthis is no %s: %s", file, e.What, e.Reason)
}

// headerRows is how many rows are searched for the header: banners and blank
// lines may come first.
const headerRows = 30

// fewestHeaders is how many of our column names make a header.
const fewestHeaders = 2

// csvTable is a table with its header found.
type csvTable struct {
	comma      byte
	header     []string
	headerLine int
	headerRow  int            // how many rows stand above it
	column     map[string]int // our column -> cell
	twice      []string       // our columns that stand more than once; the first is used
	above      []csvRow       // above the header
	rows       []csvRow       // of lists: below the header, blank ones left out; row i is record i+1
}

// csvOpen reads a table. columns are our names; renamed gives the headers that
// stand for some of them, which outrank our own names.
func csvOpen(data []byte, what, fileID string, columns []string, renamed map[string]string) (*csvTable, error) {
	in := wholeInput(data)
	table, err := csvFind(in, what, fileID, columns, func(cells []string) int {
		column, _ := csvColumns(cells, columns, renamed)
		return len(column)
	})
	if err != nil {
		return nil, err
	}
	rows, err := table.below(in)
	if err != nil {
		return nil, err
	}
	for row, ok, _ := rows.next(); ok; row, ok, _ = rows.next() { // a whole text gives no error
		table.rows = append(table.rows, row)
	}
	table.column, table.twice = csvColumns(table.header, columns, renamed)
	return table, nil
}

// csvFind finds a table's header; its columns are still to be told, and its rows to be
// read. The separator (`;`, tab or `,`) and the header are those that show the most of
// our columns, as ours counts them in a row; of equal ones the first.
func csvFind(in *csvInput, what, fileID string, columns []string, ours func(cells []string) int) (*csvTable, error) {
	best, most := (*csvTable)(nil), fewestHeaders-1
	for _, comma := range []byte{';', '\t', ','} {
		scan, err := in.scanner(comma)
		if err != nil {
			return nil, err
		}
		var above []csvRow
		for range headerRows {
			row, ok := scan.next()
			if !ok {
				break
			}
			if n := ours(row.cells); n > most {
				best, most = &csvTable{comma: comma, header: row.cells, headerLine: row.line, headerRow: len(above), above: slices.Clone(above)}, n
			}
			above = append(above, row)
		}
		if err := errors.Join(scan.err, scan.end()); err != nil {
			return nil, err
		}
	}
	if best == nil {
		return nil, &NotTableError{FileID: fileID, What: what,
			Reason: fmt.Sprintf("no header in its first %d rows; expected columns such as %s", headerRows, strings.Join(columns[:min(5, len(columns))], ", "))}
	}
	return best, nil
}

// csvColumns finds our columns among header cells.
func csvColumns(cells, columns []string, renamed map[string]string) (column map[string]int, twice []string) {
	at := make(map[string]int, len(cells))
	again := map[string]bool{}
	for i, cell := range cells {
		key := csvHeader(cell)
		if _, seen := at[key]; seen {
			again[key] = true
			continue
		}
		at[key] = i
	}
	column = make(map[string]int, len(columns))
	for _, name := range columns {
		for _, header := range []string{renamed[name], name} {
			key := csvHeader(header)
			if i, ok := at[key]; ok && key != "" {
				column[name] = i
				if again[key] {
					twice = append(twice, name)
				}
				break
			}
		}
	}
	return column, twice
}

// csvHeader is the form in which headers are compared: case, blanks,
// underscores and hyphens do not count.
func csvHeader(cell string) string {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == '_' || r == '-' {
			return -1
		}
		return r
	}, identity.Fold(cell))
}

func csvBlank(cells []string) bool {
	for _, cell := range cells {
		if strings.TrimSpace(cell) != "" {
			return false
		}
	}
	return true
}

// has reports whether the table has one of our columns.
func (t *csvTable) has(name string) bool { _, ok := t.column[name]; return ok }

// cell gives the trimmed cell of one of our columns, "" where the row is short,
// the column is missing or the cell holds a mark for nothing.
func (t *csvTable) cell(row csvRow, name string) string {
	i, ok := t.column[name]
	if !ok || i >= len(row.cells) {
		return ""
	}
	return csvText(row.cells[i])
}

// csvText is a cell without the blanks around it, "" where it holds a mark for
// nothing. Spreadsheets write faults of their formulas as a mark with #.
func csvText(cell string) string {
	cell = strings.TrimSpace(cell)
	if cell == "" || cell[0] >= '0' && cell[0] <= '9' {
		return cell // no mark begins so
	}
	switch strings.ToLower(cell) {
	case "-", "--", "---", "\u2013", "\u2014", "\u2014\u2014", ".", "..", "...", "\u2026", "/", "n/a", "n.a.", "k.a.",
		"#n/a", "#nv", "#value!", "#wert!", "#div/0!", "#ref!", "#bezug!", "#name?", "#null!", "#num!", "#zahl!":
		return ""
	}
	return cell
}

// overflows reports a row with more cells than the header. With a separating
// comma that is how an unquoted decimal comma shows, which shifts every cell
// after it; otherwise only filled cells count.
func (t *csvTable) overflows(row csvRow) bool {
	if len(row.cells) <= len(t.header) {
		return false
	}
	return t.comma == ',' || !csvBlank(row.cells[len(t.header):])
}

// repeatsHeader reports a row that is the header again, as where sheets were
// pasted together.
func (t *csvTable) repeatsHeader(row csvRow) bool {
	for _, i := range t.column {
		if i >= len(row.cells) || csvHeader(row.cells[i]) != csvHeader(t.header[i]) {
			return false
		}
	}
	return true
}
