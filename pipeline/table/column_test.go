package table

import (
	"slices"
	"strings"
	"testing"

	"lengthwise/schemas"
)

// TestDescribeTables holds for every table that a study publishes.
func TestDescribeTables(t *testing.T) {
	seen := make(map[string]string)
	for _, d := range schemas.Tables() {
		columns, err := Describe(d)
		if err != nil {
			t.Error(err)
			continue
		}
		keys := 0
		for _, c := range columns {
			if c.Key {
				keys++
			}
		}
		if keys != len(d.Keys) || keys == 0 {
			t.Errorf("table %s: %d of the keys %v are marked", d.Name, keys, d.Keys)
		}
		id := SchemaID(d.Name, columns)
		if other, ok := seen[id]; ok {
			t.Errorf("tables %s and %s share the schema id %s", d.Name, other, id)
		}
		seen[id] = d.Name
	}
}

func TestDescribe(t *testing.T) {
	columns, err := Describe(kindsTable)
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]Column{
		"text":     {Name: "text", Type: String, About: "text with a dictionary", Key: true},
		"stamp":    {Name: "stamp", Type: Timestamp, About: "a time"},
		"large_p":  {Name: "large_p", Type: Int64, About: "a large whole number, or none", Nullable: true},
		"number_p": {Name: "number_p", Type: Double, Unit: "s", About: "a number, or none", Nullable: true},
		"flag":     {Name: "flag", Type: Boolean, About: "a truth value"},
		"small":    {Name: "small", Type: Int32, Unit: "1", About: "a small whole number", Key: true},
	}
	for name, w := range want {
		if !slices.Contains(columns, w) {
			t.Errorf("no %+v among the columns (%s)", w, name)
		}
	}
	if len(columns) != 14 || columns[0].Name != "text" || columns[13].Name != "number_p" {
		t.Errorf("columns out of order: %+v", columns)
	}
}

func TestSchemaID(t *testing.T) {
	columns, err := Describe(kindsTable)
	if err != nil {
		t.Fatal(err)
	}
	id := SchemaID("kinds", columns)
	for name, change := range map[string]func(*Column){
		"name": func(c *Column) { c.Name = "other" }, "type": func(c *Column) { c.Type = Int64 },
		"null": func(c *Column) { c.Nullable = true }, "unit": func(c *Column) { c.Unit = "kg" },
	} {
		changed := slices.Clone(columns)
		change(&changed[0])
		if SchemaID("kinds", changed) == id {
			t.Errorf("another %s leaves the id as it is", name)
		}
	}
	columns[0].About = "reworded"
	if SchemaID("kinds", columns) != id {
		t.Error("a reworded meaning changes the id")
	}
}

func TestBadStructs(t *testing.T) {
	type named string
	for name, c := range map[string]struct {
		row   any
		keys  []string
		words string
	}{
		"no struct": {1, nil, "not a struct"},
		"nothing":   {nil, nil, "no row struct"},
		"no fields": {struct{}{}, nil, "no fields"},
		"no tag":    {struct{ A string }{}, nil, "names no column"},
		"skipped": {struct {
			A string `parquet:"-" about:"x"`
		}{}, nil, "names no column"},
		"unexported": {struct {
			a string `parquet:"a" about:"x"`
		}{}, nil, "exported"},
		"embedded": {struct {
			kinds `parquet:"a" about:"x"`
		}{}, nil, "embedded"},
		"no meaning": {struct {
			A string `parquet:"a"`
		}{}, nil, "about"},
		"optional value": {struct {
			A int32 `parquet:"a,optional" about:"x"`
		}{}, nil, "pointer marked optional"},
		"required pointer": {struct {
			A *int32 `parquet:"a" about:"x"`
		}{}, nil, "pointer marked optional"},
		"int": {struct {
			A int `parquet:"a" about:"x"`
		}{}, nil, "type int is not one of"},
		"uint32": {struct {
			A uint32 `parquet:"a" about:"x"`
		}{}, nil, "type uint32"},
		"float32": {struct {
			A float32 `parquet:"a" about:"x"`
		}{}, nil, "type float32"},
		"list": {struct {
			A []float64 `parquet:"a" about:"x"`
		}{}, nil, "type []float64"},
		"named type": {struct {
			A named `parquet:"a" about:"x"`
		}{}, nil, "named"},
		"pointer to pointer": {struct {
			A **int32 `parquet:"a,optional" about:"x"`
		}{}, nil, "type **int32"},
		"odd option": {struct {
			A string `parquet:"a,snappy" about:"x"`
		}{}, nil, `"snappy"`},
		"microseconds": {struct {
			A int64 `parquet:"a,timestamp(microsecond)" about:"x"`
		}{}, nil, "microsecond"},
		"text as time": {struct {
			A string `parquet:"a,timestamp(millisecond)" about:"x"`
		}{}, nil, "not allowed"},
		"twice": {struct {
			A string `parquet:"a" about:"x"`
			B string `parquet:"a" about:"x"`
		}{}, nil, "twice"},
		"key without column": {struct {
			A string `parquet:"a" about:"x"`
		}{}, []string{"b"}, `"b" is not a column`},
		"key that is null": {struct {
			A *string `parquet:"a,optional" about:"x"`
		}{}, []string{"a"}, "can be null"},
	} {
		_, err := Describe(schemas.Description{Name: "bad", Keys: c.keys, Row: c.row})
		if err == nil || !strings.Contains(err.Error(), c.words) || !strings.Contains(err.Error(), `"bad"`) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
