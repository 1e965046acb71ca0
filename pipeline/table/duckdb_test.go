package table

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"testing"

	"lengthwise/pipeline/table/internal/invent"
	"lengthwise/schemas"
)

//go:embed testdata/read_duckdb.py
var readDuckDB string

// TestDuckDB lets an independent reader (duckdb.org, through Python) read a
// table of every kind of column back and compares types, nulls and values to the
// bit; the tables of a study are read by it in package run. It needs an
// interpreter with the package duckdb, named by LENGTHWISE_PYTHON.
func TestDuckDB(t *testing.T) {
	python := os.Getenv("LENGTHWISE_PYTHON")
	if python == "" {
		t.Skip("LENGTHWISE_PYTHON names no Python interpreter; set it to one that has the package duckdb")
	}
	dir := t.TempDir()
	var want []foreignTable
	stage(t, dir, kindsTable, kinds{}, 300, &want)
	stage(t, dir, kindsTable, kinds{}, 0, nil)
	script := filepath.Join(dir, "read.py")
	if err := os.WriteFile(script, []byte(readDuckDB), 0o644); err != nil {
		t.Fatal(err)
	}
	args := []string{script}
	for _, w := range want {
		args = append(args, w.path)
	}
	cmd := exec.Command(python, args...)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s (is the package duckdb installed for it?): %v", python, err)
	}
	var got []struct {
		Types   map[string]string `json:"types"`
		Meta    map[string]string `json:"meta"`
		Columns map[string][]any  `json:"columns"`
	}
	if err := json.Unmarshal(out, &got); err != nil || len(got) != len(want) {
		t.Fatalf("%d tables: %v", len(got), err)
	}
	duck := map[Type]string{String: "VARCHAR", Boolean: "BOOLEAN", Int32: "INTEGER", Int64: "BIGINT", Double: "DOUBLE", Timestamp: "TIMESTAMP WITH TIME ZONE"}
	for i, w := range want {
		if got[i].Meta[metaTable] != w.name || got[i].Meta[metaSchema] == "" {
			t.Errorf("table %s: metadata %v", w.name, got[i].Meta)
		}
		for _, c := range w.columns {
			if got[i].Types[c.Name] != duck[c.Type] {
				t.Errorf("table %s, column %s: %s read as %s", w.name, c.Name, c.Type, got[i].Types[c.Name])
			}
			if !reflect.DeepEqual(got[i].Columns[c.Name], w.cells[c.Name]) {
				t.Errorf("table %s, column %s: other values", w.name, c.Name)
			}
		}
	}
}

type foreignTable struct {
	path, name string
	columns    []Column
	cells      map[string][]any // nil, bool, or text
}

// stage writes invented rows of T, joined from pieces, and notes what a reader must
// find.
func stage[T any](t *testing.T, dir string, d schemas.Description, _ T, n int, want *[]foreignTable) {
	t.Helper()
	rows := invent.Rows[T](n, uint64(n)+5)
	b, _ := encode(t, d, rows, WithRowsPerGroup(128))
	if n > 0 {
		b, _ = joined(t, pieces(t, d, rows, 128, n/3, n/3, n/2, n))
	}
	path := filepath.Join(dir, fmt.Sprintf("%s-%d.parquet", d.Name, n))
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
	if want == nil {
		return
	}
	fields, err := fieldsOf(reflect.TypeFor[T]())
	if err != nil {
		t.Fatal(err)
	}
	f := foreignTable{path: path, name: d.Name, cells: make(map[string][]any)}
	for _, field := range fields {
		f.columns = append(f.columns, field.Column)
		cells := make([]any, n)
		for i := range rows {
			v := reflect.ValueOf(rows[i]).Field(field.index)
			if field.Nullable {
				if v.IsNil() {
					continue
				}
				v = v.Elem()
			}
			switch field.Type {
			case Double:
				cells[i] = fmt.Sprintf("%016x", math.Float64bits(v.Float()))
			case Boolean:
				cells[i] = v.Bool()
			case String:
				cells[i] = v.String()
			default:
				cells[i] = fmt.Sprint(v.Int())
			}
		}
		f.cells[field.Name] = cells
	}
	*want = append(*want, f)
}
