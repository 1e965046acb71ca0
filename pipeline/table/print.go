package table

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
)

// Format is how [Print] writes a table.
type Format string

// The formats of Print.
const (
	// Text is for reading on a terminal of 80 columns: aligned, numbers at six
	// digits, long text cut with an ellipsis, null as an en dash, control
	// characters escaped. Columns that do not fit side by side follow below,
	// with the row's number before them.
	Text Format = "table"
	// CSV follows RFC 4180 with a header line, but for its lines, which end in
	// LF alone, as the tools that read it line by line expect. Null is an
	// empty field and empty text is "" in quotes; where the only column is
	// nullable both are "", because readers skip empty lines. A text cell that
	// begins with = + - @, a tab, a line break or an apostrophe gets an
	// apostrophe before it, so that a spreadsheet does not run it as a
	// formula; taking one leading apostrophe off gives the value back. Numbers
	// are never changed.
	CSV Format = "csv"
	// JSON is one array of objects, one object a line.
	JSON Format = "json"
	// JSONLines is one object a line.
	JSONLines Format = "jsonl"
)

// Formats lists what [Print] can write.
func Formats() []Format { return []Format{Text, CSV, JSON, JSONLines} }

// Print writes the first limit rows of a table, or all for a negative limit:
// the named columns in the order given, or all for none. In CSV and JSON
// doubles are the shortest decimals that read back the same, and timestamps
// are ISO 8601 in UTC with milliseconds. Data only is written, nothing else.
func Print(w io.Writer, f *File, format Format, columns []string, limit int) error {
	return PrintShown(w, f, format, columns, limit, nil)
}

// PrintShown prints as Print does, with what shown gives for each text cell in
// its place: names for pseudonyms, for example. Cells that are null stay so.
func PrintShown(w io.Writer, f *File, format Format, columns []string, limit int, shown func(c Column, text string) string) error {
	chosen, err := f.Select(columns)
	if err != nil {
		return err
	}
	out := bufio.NewWriter(w)
	switch format {
	case Text:
		err = printText(out, f, chosen, limit, shown)
	case CSV:
		err = printCSV(out, f, chosen, limit, shown)
	case JSON, JSONLines:
		err = printJSON(out, f, chosen, limit, shown, format == JSON)
	default:
		err = fmt.Errorf("unknown format %q; there are %v", format, Formats())
	}
	if err != nil {
		return fmt.Errorf("printing: %w", err)
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("printing: %w", err)
	}
	return nil
}

func printCSV(out *bufio.Writer, f *File, columns []Column, limit int, shown func(Column, string) string) error {
	for j, c := range columns {
		if j > 0 {
			out.WriteByte(',')
		}
		writeField(out, c.Name)
	}
	out.WriteString("\n")
	var cell []byte
	return eachRow(f, columns, limit, shown, func(row []cells, i int) error {
		for j, c := range row {
			if j > 0 {
				out.WriteByte(',')
			}
			switch {
			case c.null(i):
				if len(row) == 1 {
					out.WriteString(`""`)
				}
			case c.text != nil:
				writeField(out, neutralise(c.text(i)))
			default:
				cell = c.exact(cell[:0], i)
				out.Write(cell)
			}
		}
		_, err := out.WriteString("\n") // a bufio.Writer keeps its first error
		return err
	})
}

// writeField writes text as a field of RFC 4180. Empty text is quoted to tell
// it from null.
func writeField(out *bufio.Writer, s string) {
	if s != "" && !strings.ContainsAny(s, ",\"\n") && s[0] != ' ' && s[len(s)-1] != ' ' {
		out.WriteString(s)
		return
	}
	out.WriteByte('"')
	out.WriteString(strings.ReplaceAll(s, `"`, `""`))
	out.WriteByte('"')
}

// neutralise keeps a spreadsheet from reading text as a formula. The first
// characters are those of the OWASP page "CSV Injection", and the apostrophe
// itself, so that the step can be undone.
func neutralise(s string) string {
	if s != "" && strings.IndexByte("=+-@\t\r\n'", s[0]) >= 0 {
		return "'" + s
	}
	return s
}

func printJSON(out *bufio.Writer, f *File, columns []Column, limit int, shown func(Column, string) string, array bool) error {
	names := make([][]byte, len(columns))
	for j, c := range columns {
		names[j] = appendJSONString(nil, c.Name)
	}
	if array {
		out.WriteByte('[')
	}
	first := true
	var line []byte
	err := eachRow(f, columns, limit, shown, func(row []cells, i int) error {
		line = line[:0]
		if array && !first {
			line = append(line, ',')
		}
		if array {
			line = append(line, '\n')
		}
		first = false
		line = append(line, '{')
		for j, c := range row {
			if j > 0 {
				line = append(line, ',')
			}
			line = append(append(line, names[j]...), ':')
			switch {
			case c.null(i):
				line = append(line, "null"...)
			case c.text != nil:
				line = appendJSONString(line, c.text(i))
			case c.column.Type == Timestamp:
				line = append(c.exact(append(line, '"'), i), '"')
			case c.double != nil && (math.IsNaN(c.double(i)) || math.IsInf(c.double(i), 0)):
				return fmt.Errorf("column %q: JSON has no word for %v", c.column.Name, c.double(i))
			default:
				line = c.exact(line, i)
			}
		}
		line = append(line, '}')
		if !array {
			line = append(line, '\n')
		}
		_, err := out.Write(line)
		return err
	})
	if err == nil && array {
		if !first {
			out.WriteByte('\n')
		}
		_, err = out.WriteString("]\n")
	}
	return err
}

func appendJSONString(dst []byte, s string) []byte {
	var b strings.Builder
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.Encode(s) // text into memory cannot fail
	return append(dst, strings.TrimSuffix(b.String(), "\n")...)
}
