package table

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lengthwise/schemas"
)

// compared is a row with one column of every kind that is compared.
type compared struct {
	Name  string   `parquet:"name,dict" about:"key"`
	Value float64  `parquet:"value" about:"a number"`
	Maybe *float64 `parquet:"maybe,optional" about:"a number or nothing"`
	Count int32    `parquet:"count" about:"a count"`
	Long  int64    `parquet:"long" about:"a long count"`
	Flag  bool     `parquet:"flag" about:"a flag"`
}

func TestSameValues(t *testing.T) {
	half := 0.5
	rows := func() []compared {
		return []compared{{"a", 1, &half, 1, 1, true}, {"b", 2000, nil, 2, 2, false}}
	}
	d := schemas.Description{Name: "compared", About: "a table", Keys: []string{"name"}, Row: compared{}}
	write := func(rows []compared) *File {
		t.Helper()
		path := filepath.Join(t.TempDir(), "compared.parquet")
		file, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Write(file, d, rows); err != nil {
			t.Fatal(err)
		}
		if err := file.Close(); err != nil {
			t.Fatal(err)
		}
		f, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { f.Close() })
		return f
	}
	want := write(rows())
	for _, c := range []struct {
		name, says string // "" for the same
		change     func([]compared) []compared
	}{
		{"nothing", "", func(r []compared) []compared { return r }},
		{"a number within the tolerance", "", func(r []compared) []compared { r[0].Value += 0.9e-9; return r }},
		{"a large number within its share", "", func(r []compared) []compared { r[1].Value += 1.9e-6; return r }},
		{"a number beyond it", `column "value", row 1`, func(r []compared) []compared { r[0].Value += 1.1e-9; return r }},
		{"a large number beyond it", `column "value", row 2`, func(r []compared) []compared { r[1].Value += 2.1e-6; return r }},
		{"a null", `column "maybe", row 1: null`, func(r []compared) []compared { r[0].Maybe = nil; return r }},
		{"a count", `column "count", row 2: 3 instead of 2`, func(r []compared) []compared { r[1].Count = 3; return r }},
		{"a long count", `column "long", row 2`, func(r []compared) []compared { r[1].Long = 3; return r }},
		{"a flag", `column "flag", row 1`, func(r []compared) []compared { r[0].Flag = false; return r }},
		{"a text", `column "name", row 1`, func(r []compared) []compared { r[0].Name = "c"; return r }},
		{"a row", "1 rows instead of 2", func(r []compared) []compared { return r[:1] }},
	} {
		err := SameValues(write(c.change(rows())), want, 1e-9)
		switch {
		case c.says == "" && err != nil:
			t.Errorf("%s: %v", c.name, err)
		case c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)):
			t.Errorf("%s: %v, want an error with %q", c.name, err, c.says)
		}
	}
}
