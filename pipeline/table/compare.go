package table

import (
	"fmt"
	"math"
)

// SameValues compares two tables value by value. Numbers may differ by the
// tolerance, absolutely below one and relatively above it: |got - want| <=
// tolerance max(1, |want|); everything else must be equal. It returns nil, or
// an error that names the first row count, shape or column (and its row,
// counted from 1) in which got departs from want.
func SameValues(got, want *File, tolerance float64) error {
	if got.Rows() != want.Rows() {
		return fmt.Errorf("%d rows instead of %d", got.Rows(), want.Rows())
	}
	if err := sameColumns(want.columns, got.columns); err != nil {
		return err
	}
	for _, c := range want.columns {
		var err error
		switch c.Type {
		case Double:
			err = sameColumn(c.Name, got.Float64s, want.Float64s, func(a, b float64) bool {
				return a == b || math.Abs(a-b) <= tolerance*math.Max(1, math.Abs(b)) || math.IsNaN(a) && math.IsNaN(b)
			})
		case Int32:
			err = sameColumn(c.Name, got.Int32s, want.Int32s, equal[int32])
		case Int64, Timestamp:
			err = sameColumn(c.Name, got.Int64s, want.Int64s, equal[int64])
		case Boolean:
			err = sameColumn(c.Name, got.Bools, want.Bools, equal[bool])
		case String:
			err = sameColumn(c.Name, got.Strings, want.Strings, equal[string])
		default:
			err = fmt.Errorf("column %q: the type %q cannot be compared", c.Name, c.Type)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func equal[V comparable](a, b V) bool { return a == b }

func sameColumn[V Value](name string, got, want func(string) (Values[V], error), same func(got, want V) bool) error {
	g, err := got(name)
	if err != nil {
		return err
	}
	w, err := want(name)
	if err != nil {
		return err
	}
	for i := range w.V {
		switch {
		case g.IsNull(i) && w.IsNull(i):
		case g.IsNull(i) || w.IsNull(i):
			return fmt.Errorf("column %q, row %d: null in one and not in the other", name, i+1)
		case !same(g.V[i], w.V[i]):
			return fmt.Errorf("column %q, row %d: %v instead of %v", name, i+1, g.V[i], w.V[i])
		}
	}
	return nil
}
