package table

import (
	"fmt"
	"math"
	"strconv"
	"time"
)

// cells is one column of a row group, ready to be printed.
type cells struct {
	column Column
	null   func(i int) bool
	double func(i int) float64 // set for doubles only
	text   func(i int) string  // set for text only
	exact  func(dst []byte, i int) []byte
}

// cellsOf reads a column of a row group for printing.
func cellsOf(g *Group, c Column) (cells, error) {
	out := cells{column: c}
	switch c.Type {
	case Double:
		values, err := g.Float64s(c.Name)
		out.double = func(i int) float64 { return values.V[i] }
		out.exact = func(dst []byte, i int) []byte { return appendDouble(dst, values.V[i]) }
		out.null = values.IsNull
		return out, err
	case Int32, Int64:
		values, err := g.Int64s(c.Name)
		out.exact = func(dst []byte, i int) []byte { return strconv.AppendInt(dst, values.V[i], 10) }
		out.null = values.IsNull
		return out, err
	case Timestamp:
		values, err := g.Int64s(c.Name)
		out.exact = func(dst []byte, i int) []byte {
			return time.UnixMilli(values.V[i]).UTC().AppendFormat(dst, timestampLayout)
		}
		out.null = values.IsNull
		return out, err
	case Boolean:
		values, err := g.Bools(c.Name)
		out.exact = func(dst []byte, i int) []byte { return strconv.AppendBool(dst, values.V[i]) }
		out.null = values.IsNull
		return out, err
	case String:
		values, err := g.Strings(c.Name)
		out.text = func(i int) string { return values.V[i] }
		out.exact = func(dst []byte, i int) []byte { return append(dst, values.V[i]...) }
		out.null = values.IsNull
		return out, err
	}
	return cells{}, fmt.Errorf("column %q: the type %q cannot be printed", c.Name, c.Type)
}

// show puts other text in place of a text column's.
func (c *cells) show(shown func(Column, string) string) {
	stored, column := c.text, c.column
	if stored == nil {
		return
	}
	c.text = func(i int) string { return shown(column, stored(i)) }
	c.exact = func(dst []byte, i int) []byte { return append(dst, c.text(i)...) }
}

// groupCells reads the chosen columns of a row group.
func groupCells(g *Group, columns []Column) ([]cells, error) {
	all := make([]cells, len(columns))
	for j, c := range columns {
		var err error
		if all[j], err = cellsOf(g, c); err != nil {
			return nil, err
		}
	}
	return all, nil
}

const timestampLayout = "2006-01-02T15:04:05.000Z"

// appendDouble writes the shortest decimal that reads back as the same double,
// without an exponent where the number is of a usual size.
func appendDouble(dst []byte, v float64) []byte {
	format := byte('f')
	if a := math.Abs(v); a != 0 && (a < 1e-6 || a >= 1e21) {
		format = 'e'
	}
	return strconv.AppendFloat(dst, v, format, -1, 64)
}

// eachRow walks the first limit rows of a table (all for a negative limit)
// with the chosen columns at hand. shown, unless nil, gives the text to show
// in place of a text cell.
func eachRow(f *File, columns []Column, limit int, shown func(Column, string) string, do func(row []cells, i int) error) error {
	left := rowLimit(f, limit)
	for _, g := range f.groups {
		if left <= 0 {
			return nil
		}
		row, err := groupCells(g, columns)
		if err != nil {
			return err
		}
		if shown != nil {
			for j := range row {
				row[j].show(shown)
			}
		}
		n := min(g.Rows(), left)
		for i := range int(n) {
			if err := do(row, i); err != nil {
				return err
			}
		}
		left -= n
	}
	return nil
}

func rowLimit(f *File, limit int) int64 {
	if limit < 0 {
		return f.rows
	}
	return min(int64(limit), f.rows)
}
