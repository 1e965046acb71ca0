package table

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"unicode/utf8"

	"lengthwise/schemas"
)

// ValueError says that a row carries a value that no table may hold.
type ValueError struct {
	Table   string
	Column  string
	Row     int64  // counted from 1
	Key     string // the row's key columns with their values
	Problem string
}

func (e *ValueError) Error() string {
	where := fmt.Sprintf("table %s, column %s, row %d", e.Table, e.Column, e.Row)
	if e.Key != "" {
		where += " (" + e.Key + ")"
	}
	return where + ": " + e.Problem
}

// rowHash checks rows and feeds the hashes of their columns.
type rowHash struct {
	table  string
	fields []field
	keys   []string
	hashes []*columnHash
	rows   int64

	perGroup int64 // most rows of a row group
	groups   []int64
}

func newRowHash(d schemas.Description, t reflect.Type, perGroup int64) (*rowHash, []Column, error) {
	columns, err := Describe(d)
	if err != nil {
		return nil, nil, err
	}
	if want := reflect.TypeOf(d.Row); want != t {
		return nil, nil, fmt.Errorf("table %q holds rows of %s, not of %s", d.Name, want, t)
	}
	fields, err := fieldsOf(t)
	if err != nil {
		return nil, nil, err
	}
	r := &rowHash{table: d.Name, fields: fields, keys: d.Keys, perGroup: perGroup}
	for _, c := range columns {
		r.hashes = append(r.hashes, newColumnHash(c))
	}
	return r, columns, nil
}

// add takes a slice of rows. After an error the hashes are of no use.
func (r *rowHash) add(rows reflect.Value) error {
	for n := rows.Len(); n > 0; n = rows.Len() {
		if len(r.groups) == 0 || r.groups[len(r.groups)-1] == r.perGroup {
			for _, h := range r.hashes {
				h.endGroup()
			}
			r.groups = append(r.groups, 0)
		}
		last := &r.groups[len(r.groups)-1]
		here := int(min(int64(n), r.perGroup-*last))
		if err := r.addColumns(rows.Slice(0, here)); err != nil {
			return err
		}
		*last += int64(here)
		rows = rows.Slice(here, n)
	}
	return nil
}

// addColumns takes rows of one row group, column by column.
func (r *rowHash) addColumns(rows reflect.Value) error {
	n := rows.Len()
	for j, f := range r.fields {
		h := r.hashes[j]
		for i := range n {
			v := rows.Index(i).Field(f.index)
			if f.Nullable {
				if v.IsNil() {
					h.null()
					continue
				}
				v = v.Elem()
			}
			switch f.Type {
			case Double:
				x := v.Float()
				if math.IsNaN(x) || math.IsInf(x, 0) {
					return r.refuse(f, rows, i, fmt.Sprintf("%v is not a number a table may hold; a missing value is null", x))
				}
				h.double(x)
			case Int32:
				h.int32(int32(v.Int()))
			case Int64, Timestamp:
				h.int64(v.Int())
			case Boolean:
				h.boolean(v.Bool())
			case String:
				s := v.String()
				if !utf8.ValidString(s) {
					return r.refuse(f, rows, i, fmt.Sprintf("the text %q is not UTF-8", s))
				}
				h.text(s)
			}
		}
	}
	r.rows += int64(n)
	return nil
}

func (r *rowHash) refuse(f field, rows reflect.Value, i int, problem string) error {
	var key strings.Builder
	for _, g := range r.fields {
		for _, k := range r.keys {
			if g.Name == k {
				if key.Len() > 0 {
					key.WriteString(", ")
				}
				fmt.Fprintf(&key, "%s %v", k, rows.Index(i).Field(g.index))
			}
		}
	}
	return &ValueError{Table: r.table, Column: f.Name, Row: r.rows + int64(i) + 1, Key: key.String(), Problem: problem}
}

func (r *rowHash) digest() Digest {
	columns := make([]ColumnDigest, len(r.hashes))
	for i, h := range r.hashes {
		columns[i] = h.finish()
	}
	return contentDigest(r.rows, r.groups, columns)
}

// ContentOf gives the digest of rows without writing them, as [Write] with
// the same options would cut them into row groups: Bytes and SHA256 are empty. It refuses what [Write] refuses.
func ContentOf[T any](d schemas.Description, rows []T, options ...WriterOption) (Digest, error) {
	r, _, err := newRowHash(d, reflect.TypeFor[T](), configOf(options).rowsPerGroup)
	if err != nil {
		return Digest{}, err
	}
	for start := 0; start < len(rows); start += batchRows {
		end := min(start+batchRows, len(rows))
		if err := r.add(reflect.ValueOf(rows[start:end])); err != nil {
			return Digest{}, err
		}
	}
	return r.digest(), nil
}
