package table

import (
	"fmt"
	"reflect"
	"sync"
)

// ReadRows reads the table in the given files into rows of T, built from
// column pages. The columns of T must be in the table with the same types and
// null flags; columns that T does not have are not read, so that a small
// struct reads a few columns of a wide table.
func ReadRows[T any](paths ...string) ([]T, error) {
	f, err := Open(paths...)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return RowsOf[T](f)
}

// RowsOf is [ReadRows] on a table that is already open. Pointers in the rows
// share memory column by column within a row group.
func RowsOf[T any](f *File) ([]T, error) {
	fields, err := matchFields[T](f)
	if err != nil {
		return nil, err
	}
	rows := make([]T, 0, f.room())
	for _, g := range f.groups {
		// Room is made once a column has shown that the rows are there.
		part := sync.OnceValue(func() reflect.Value {
			rows = append(rows, make([]T, g.Rows())...)
			return reflect.ValueOf(rows[g.first:])
		})
		for _, field := range fields {
			if err := fillField(part, g, field); err != nil {
				return nil, err
			}
		}
	}
	return rows, nil
}

// matchFields pairs the fields of T with the columns of the table.
func matchFields[T any](f *File) ([]field, error) {
	fields, err := fieldsOf(reflect.TypeFor[T]())
	if err != nil {
		return nil, err
	}
	for _, want := range fields {
		got, err := f.Column(want.Name)
		if err != nil {
			return nil, err
		}
		if got.Type != want.Type || got.Nullable != want.Nullable {
			return nil, fmt.Errorf("table %q: the column %q is %s (nullable %t), and the rows want %s (nullable %t)",
				f.Name(), want.Name, got.Type, got.Nullable, want.Type, want.Nullable)
		}
	}
	return fields, nil
}

func fillField(rows func() reflect.Value, g *Group, f field) error {
	switch f.Type {
	case Double:
		return fill(rows, f, reflect.Value.SetFloat)(g.Float64s(f.Name))
	case Int32:
		values, err := g.Int32s(f.Name)
		return fill(rows, f, func(at reflect.Value, v int32) { at.SetInt(int64(v)) })(values, err)
	case Int64, Timestamp:
		return fill(rows, f, reflect.Value.SetInt)(g.Int64s(f.Name))
	case Boolean:
		return fill(rows, f, reflect.Value.SetBool)(g.Bools(f.Name))
	case String:
		return fill(rows, f, reflect.Value.SetString)(g.Strings(f.Name))
	}
	return fmt.Errorf("column %q: cannot be read as %q", f.Name, f.Type)
}

// fill sets one field of every row. Fields of nullable columns point into the
// column's own slice, so that a column costs one allocation and not one a row.
func fill[V Value](part func() reflect.Value, f field, set func(reflect.Value, V)) func(Values[V], error) error {
	return func(values Values[V], err error) error {
		if err != nil {
			return err
		}
		rows := part()
		for i := range values.V {
			at := rows.Index(i).Field(f.index)
			switch {
			case !f.Nullable:
				set(at, values.V[i])
			case !values.IsNull(i):
				at.Set(reflect.ValueOf(&values.V[i]))
			}
		}
		return nil
	}
}
