package table

import (
	"errors"
	"fmt"
	"io"

	"github.com/parquet-go/parquet-go"
)

// Value is what a column's values are in Go; timestamps are int64.
type Value interface {
	bool | int32 | int64 | float64 | string
}

// Values is one column over a run of rows. V has one element a row and holds
// the zero value where the row is null. Null is nil when no row is null.
type Values[V Value] struct {
	V    []V
	Null []bool
}

// Len is the number of rows.
func (v Values[V]) Len() int { return len(v.V) }

// IsNull tells whether row i is null.
func (v Values[V]) IsNull(i int) bool { return v.Null != nil && v.Null[i] }

// Nulls counts the rows that are null.
func (v Values[V]) Nulls() int64 {
	n := int64(0)
	for _, null := range v.Null {
		if null {
			n++
		}
	}
	return n
}

// Float64s reads a column of doubles. A column of int32 is widened.
func (g *Group) Float64s(name string) (Values[float64], error) {
	c, err := g.file.Column(name)
	if err != nil {
		return Values[float64]{}, err
	}
	if c.Type == Int32 {
		return widen[float64](readGroup(g, name, plainInt32, Int32))
	}
	return readGroup(g, name, plainDouble, Double)
}

// Int64s reads a column of int64 or of timestamps (milliseconds since 1970
// UTC). A column of int32 is widened.
func (g *Group) Int64s(name string) (Values[int64], error) {
	c, err := g.file.Column(name)
	if err != nil {
		return Values[int64]{}, err
	}
	if c.Type == Int32 {
		return widen[int64](readGroup(g, name, plainInt32, Int32))
	}
	return readGroup(g, name, plainInt64, Int64, Timestamp)
}

// Int32s reads a column of int32.
func (g *Group) Int32s(name string) (Values[int32], error) {
	return readGroup(g, name, plainInt32, Int32)
}

// Bools reads a column of booleans.
func (g *Group) Bools(name string) (Values[bool], error) {
	return readGroup(g, name, plainBoolean, Boolean)
}

// Strings reads a column of text. Equal values of a dictionary-encoded column
// share their memory.
func (g *Group) Strings(name string) (Values[string], error) {
	return readGroup(g, name, plainString, String)
}

// Nulls tells for each row whether the column is null there.
func (g *Group) Nulls(name string) (nulls []bool, err error) {
	defer recoverDamage(&err, g.path)
	at, err := g.file.lookup(name)
	if err != nil {
		return nil, err
	}
	nulls = make([]bool, 0, g.room())
	err = g.eachPage(at, func(page parquet.Page) error {
		if !g.file.columns[at].Nullable {
			nulls = append(nulls, make([]bool, page.NumRows())...)
			return nil
		}
		for _, level := range page.DefinitionLevels() {
			nulls = append(nulls, level == 0)
		}
		return nil
	})
	if err == nil && int64(len(nulls)) != g.Rows() {
		err = fmt.Errorf("%d rows instead of %d", len(nulls), g.Rows())
	}
	if err != nil {
		return nil, g.columnError(name, err)
	}
	return nulls, nil
}

// Float64s reads a whole column, see [Group.Float64s].
func (f *File) Float64s(name string) (Values[float64], error) {
	return readFile(f, name, (*Group).Float64s)
}

// Int64s reads a whole column, see [Group.Int64s].
func (f *File) Int64s(name string) (Values[int64], error) {
	return readFile(f, name, (*Group).Int64s)
}

// Int32s reads a whole column, see [Group.Int32s].
func (f *File) Int32s(name string) (Values[int32], error) {
	return readFile(f, name, (*Group).Int32s)
}

// Bools reads a whole column, see [Group.Bools].
func (f *File) Bools(name string) (Values[bool], error) {
	return readFile(f, name, (*Group).Bools)
}

// Strings reads a whole column, see [Group.Strings].
func (f *File) Strings(name string) (Values[string], error) {
	return readFile(f, name, (*Group).Strings)
}

// Nulls tells for each row of the table whether the column is null there.
func (f *File) Nulls(name string) ([]bool, error) {
	if _, err := f.lookup(name); err != nil {
		return nil, err
	}
	all := make([]bool, 0, f.room())
	for _, g := range f.groups {
		nulls, err := g.Nulls(name)
		if err != nil {
			return nil, err
		}
		all = append(all, nulls...)
	}
	return all, nil
}

func readFile[V Value](f *File, name string, read func(*Group, string) (Values[V], error)) (Values[V], error) {
	if len(f.groups) == 1 {
		return read(f.groups[0], name)
	}
	all := Values[V]{V: make([]V, 0, f.room())}
	if len(f.groups) == 0 { // still refuse an unknown column or another type
		_, err := read(&Group{file: f}, name)
		return all, err
	}
	for _, g := range f.groups {
		part, err := read(g, name)
		if err != nil {
			return Values[V]{}, err
		}
		if part.Null != nil && all.Null == nil {
			all.Null = make([]bool, len(all.V), cap(all.V))
		}
		all.V = append(all.V, part.V...)
		switch {
		case part.Null != nil:
			all.Null = append(all.Null, part.Null...)
		case all.Null != nil:
			all.Null = append(all.Null, make([]bool, len(part.V))...)
		}
	}
	return all, nil
}

func widen[W float64 | int64](v Values[int32], err error) (Values[W], error) {
	if err != nil {
		return Values[W]{}, err
	}
	wide := Values[W]{V: make([]W, len(v.V)), Null: v.Null}
	for i, x := range v.V {
		wide.V[i] = W(x)
	}
	return wide, nil
}

// readGroup reads one column of a row group page by page. plain gives the
// values that are there (nulls left out) of a page without a dictionary.
func readGroup[V Value](g *Group, name string, plain func(parquet.Page) ([]V, error), types ...Type) (values Values[V], err error) {
	defer recoverDamage(&err, g.path)
	at, err := g.file.lookup(name)
	if err != nil {
		return values, err
	}
	column := g.file.columns[at]
	if !hasType(types, column.Type) {
		return values, fmt.Errorf("table %q: the column %q is of type %s and cannot be read as %s", g.file.Name(), name, column.Type, types[0])
	}
	if g.group == nil { // stands for a table without rows
		return values, nil
	}
	values.V = make([]V, 0, g.room())
	var dictionary parquet.Dictionary
	var entries []V
	err = g.eachPage(at, func(page parquet.Page) error {
		var present []V
		var err error
		if d := page.Dictionary(); d == nil {
			present, err = plain(page)
		} else {
			if d != dictionary {
				if entries, err = plain(d.Page()); err != nil {
					return err
				}
				dictionary = d
			}
			present, err = lookUp(entries, page)
		}
		if err != nil {
			return err
		}
		return values.addPage(present, page.DefinitionLevels(), column.Nullable)
	})
	if err == nil && int64(len(values.V)) != g.Rows() {
		err = fmt.Errorf("%d rows instead of %d", len(values.V), g.Rows())
	}
	if err != nil {
		return Values[V]{}, g.columnError(name, err)
	}
	return values, nil
}

// addPage spreads the values of a page over its rows, leaving out the nulls.
func (v *Values[V]) addPage(present []V, levels []byte, nullable bool) error {
	if !nullable || len(present) == len(levels) {
		v.V = append(v.V, present...)
		if v.Null != nil {
			v.Null = append(v.Null, make([]bool, len(present))...)
		}
		return nil
	}
	if v.Null == nil {
		v.Null = make([]bool, len(v.V), cap(v.V))
	}
	next := 0
	for _, level := range levels {
		var x V
		if level != 0 {
			if next == len(present) {
				return errors.New("a page holds fewer values than it says")
			}
			x = present[next]
			next++
		}
		v.V = append(v.V, x)
		v.Null = append(v.Null, level == 0)
	}
	if next != len(present) {
		return errors.New("a page holds more values than it says")
	}
	return nil
}

// eachPage hands over the data pages of a column in order.
func (g *Group) eachPage(column int, do func(parquet.Page) error) (err error) {
	pages := g.group.ColumnChunks()[column].Pages()
	defer func() { err = errors.Join(err, pages.Close()) }()
	for {
		page, err := pages.ReadPage()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		err = do(page)
		parquet.Release(page)
		if err != nil {
			return err
		}
	}
}

// room is how many rows to make room for. A damaged file may claim any number,
// so beyond the size of our own row groups memory follows the pages read.
func (g *Group) room() int64 { return min(g.Rows(), RowsPerGroup) }

func (f *File) room() int64 { return min(f.rows, int64(len(f.groups))*RowsPerGroup) }

func (g *Group) columnError(name string, err error) error {
	return fmt.Errorf("%s: reading the column %q: %w", g.path, name, err)
}

func hasType(types []Type, t Type) bool {
	for _, u := range types {
		if t == u {
			return true
		}
	}
	return false
}

func lookUp[V Value](entries []V, page parquet.Page) ([]V, error) {
	data := page.Data()
	indexes := data.Int32()
	present := make([]V, len(indexes))
	for i, at := range indexes {
		if at < 0 || int(at) >= len(entries) {
			return nil, fmt.Errorf("entry %d of a dictionary of %d", at, len(entries))
		}
		present[i] = entries[at]
	}
	return present, nil
}

// The plain functions give views of a page's memory where the type allows it;
// they hold until the page is released.

func plainDouble(page parquet.Page) ([]float64, error) {
	data := page.Data()
	return data.Double(), nil
}

func plainInt64(page parquet.Page) ([]int64, error) {
	data := page.Data()
	return data.Int64(), nil
}

func plainInt32(page parquet.Page) ([]int32, error) {
	data := page.Data()
	return data.Int32(), nil
}

func plainBoolean(page parquet.Page) ([]bool, error) {
	data := page.Data()
	bits := data.Boolean()
	n := int(page.NumValues() - page.NumNulls())
	if n > 8*len(bits) {
		return nil, errors.New("a page holds fewer values than it says")
	}
	present := make([]bool, n)
	for i := range present {
		present[i] = bits[i/8]>>(i%8)&1 == 1
	}
	return present, nil
}

// plainString copies a page's text once and cuts the values out of the copy.
func plainString(page parquet.Page) ([]string, error) {
	page0 := page.Data()
	data, offsets := page0.ByteArray()
	if len(offsets) == 0 {
		return nil, nil
	}
	all := string(data)
	present := make([]string, len(offsets)-1)
	for i := range present {
		from, to := offsets[i], offsets[i+1]
		if from > to || int(to) > len(all) {
			return nil, errors.New("a page's text is cut short")
		}
		present[i] = all[from:to]
	}
	return present, nil
}
