package table

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"lengthwise/schemas"
)

// Type is the type of a column, as a user meets it. There are only types that
// every Parquet reader has.
type Type string

// The types of columns.
const (
	String    Type = "string"    // UTF-8 text
	Boolean   Type = "boolean"   //
	Int32     Type = "int32"     // signed, 32 bits
	Int64     Type = "int64"     // signed, 64 bits
	Double    Type = "double"    // IEEE 754, 64 bits
	Timestamp Type = "timestamp" // milliseconds since 1970-01-01T00:00:00Z
)

// Column describes one column of a table.
type Column struct {
	Name     string `json:"name"`
	Type     Type   `json:"type"`
	Unit     string `json:"unit,omitempty"` // UCUM-like code; empty where there is none
	About    string `json:"about"`          // what the column means, one sentence
	Nullable bool   `json:"nullable"`
	Key      bool   `json:"key"` // part of what identifies a row
}

// Describe gives the columns of a table in their order on disk, from the tags
// of its struct. It fails when the struct breaks the contract in the doc
// comment of package schemas: an untagged or unexported field, a type outside
// the allowed ones, a pointer that is not optional or the other way round, a
// column without meaning, or a key that is no column.
func Describe(d schemas.Description) ([]Column, error) {
	if d.Row == nil {
		return nil, fmt.Errorf("table %q: the description has no row struct", d.Name)
	}
	fields, err := fieldsOf(reflect.TypeOf(d.Row))
	if err != nil {
		return nil, fmt.Errorf("table %q: %w", d.Name, err)
	}
	columns := make([]Column, len(fields))
	for i, f := range fields {
		columns[i] = f.Column
		columns[i].Key = slices.Contains(d.Keys, f.Name)
		if f.About == "" {
			return nil, fmt.Errorf("table %q, column %q: no about tag says what it means", d.Name, f.Name)
		}
	}
	for _, key := range d.Keys {
		i := slices.IndexFunc(columns, func(c Column) bool { return c.Name == key })
		if i < 0 {
			return nil, fmt.Errorf("table %q: the key %q is not a column", d.Name, key)
		}
		if columns[i].Nullable {
			return nil, fmt.Errorf("table %q: the key %q can be null", d.Name, key)
		}
	}
	return columns, nil
}

// SchemaID names a table's shape: the table's name and a fingerprint of its
// columns' names, types, null flags and units. It changes when any of them
// does, and not when a meaning is reworded.
func SchemaID(name string, columns []Column) string {
	h := sha256.New()
	for _, c := range columns {
		fmt.Fprintf(h, "%q %s %t %q\n", c.Name, c.Type, c.Nullable, c.Unit)
	}
	return "lengthwise/" + name + "/" + hex.EncodeToString(h.Sum(nil))[:16]
}

// field is a column together with the place of its value in the row struct.
type field struct {
	Column
	index int
}

// fieldsOf reads the tags of a row struct. A missing about tag is left to the
// caller, so that a struct that only reads some columns need not repeat them.
func fieldsOf(t reflect.Type) ([]field, error) {
	if t.Kind() != reflect.Struct {
		return nil, fmt.Errorf("rows are of type %s, not a struct", t)
	}
	if t.NumField() == 0 {
		return nil, fmt.Errorf("%s has no fields", t)
	}
	fields := make([]field, 0, t.NumField())
	seen := make(map[string]bool, t.NumField())
	for i := range t.NumField() {
		f, err := fieldOf(t.Field(i))
		if err != nil {
			return nil, fmt.Errorf("field %s.%s: %w", t.Name(), t.Field(i).Name, err)
		}
		if seen[f.Name] {
			return nil, fmt.Errorf("field %s.%s: the column %q is there twice", t.Name(), t.Field(i).Name, f.Name)
		}
		seen[f.Name] = true
		f.index = i
		fields = append(fields, f)
	}
	return fields, nil
}

func fieldOf(sf reflect.StructField) (field, error) {
	if !sf.IsExported() || sf.Anonymous {
		return field{}, fmt.Errorf("it must be exported and not embedded")
	}
	name, rest, _ := strings.Cut(sf.Tag.Get("parquet"), ",")
	if name == "" || name == "-" {
		return field{}, fmt.Errorf("its parquet tag names no column")
	}
	f := field{Column: Column{Name: name, Unit: sf.Tag.Get("unit"), About: sf.Tag.Get("about")}}
	t := sf.Type
	if t.Kind() == reflect.Pointer {
		t, f.Nullable = t.Elem(), true
	}
	switch t { // exact types: a named type would need a meaning of its own
	case reflect.TypeFor[string]():
		f.Type = String
	case reflect.TypeFor[bool]():
		f.Type = Boolean
	case reflect.TypeFor[int32]():
		f.Type = Int32
	case reflect.TypeFor[int64]():
		f.Type = Int64
	case reflect.TypeFor[float64]():
		f.Type = Double
	default:
		return field{}, fmt.Errorf("type %s is not one of string, bool, int32, int64, float64 or a pointer to one", sf.Type)
	}
	optional := false
	for option := range strings.SplitSeq(rest, ",") {
		switch {
		case option == "":
		case option == "optional":
			optional = true
		case option == "dict" && f.Type != Boolean:
		case option == "delta" && (f.Type == Int32 || f.Type == Int64):
		case option == "timestamp(millisecond)" && f.Type == Int64:
			f.Type = Timestamp
		default:
			return field{}, fmt.Errorf("the parquet option %q is not allowed for %s", option, sf.Type)
		}
	}
	if optional != f.Nullable {
		return field{}, fmt.Errorf("a nullable column is a pointer marked optional, a required one neither (parquet-go writes the zero of an optional value as null)")
	}
	return f, nil
}
