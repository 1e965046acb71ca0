package table

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"lengthwise/pipeline/table/internal/invent"
	"lengthwise/schemas"
)

var update = flag.Bool("update", false, "write the golden files anew")

// lane is a small table with what printing must cope with.
type lane struct {
	Swimmer string   `parquet:"swimmer,dict" about:"the swimmer"`
	Rep     int32    `parquet:"rep" unit:"1" about:"the repeat"`
	Start   *int64   `parquet:"start_utc,optional,timestamp(millisecond)" about:"when"`
	Speed   float64  `parquet:"speed_mps" unit:"m/s" about:"how fast"`
	HR      *float64 `parquet:"hr_bpm,optional" unit:"/min" about:"heart rate"`
	Used    bool     `parquet:"used" about:"whether it counts"`
	Note    *string  `parquet:"note,optional" about:"words"`
}

var laneTable = schemas.Description{Name: "lane", About: "one row a repeat", Keys: []string{"swimmer", "rep"}, Row: lane{}}

func laneRows() []lane {
	return []lane{
		{"s01", 1, ptr(int64(1764061200123)), 1.25, ptr(142.0), true, ptr("easy")},
		{"s01", 2, nil, 1.0 / 3, nil, false, nil},
		{"s02", 3, ptr(int64(-1)), 1e-9, ptr(0.0), true, ptr("")},
		{"s02", 12, nil, 1234567.25, ptr(181.5), true, ptr("=2+3, \"quoted\"")},
		{"ärmel", 13, nil, -0.00012345678, nil, true, ptr("two\nlines \x1b[31m and a good many more words than fit")},
		{"日本", math.MaxInt32, nil, 123456.789, ptr(99.999999), false, ptr("'t")},
		{"s03", -5, nil, 1e22, nil, false, ptr("@sum <&> \u2028")},
	}
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s: printed\n%s\ninstead of\n%s", name, got, want)
	}
}

func TestPrintGolden(t *testing.T) {
	b, _ := encode(t, laneTable, laneRows(), WithRowsPerGroup(3))
	f := openBytes(t, b)
	for name, c := range map[string]struct {
		format  Format
		columns []string
		limit   int
	}{
		"lane.txt":      {Text, nil, -1},
		"lane.csv":      {CSV, nil, -1},
		"lane.json":     {JSON, nil, -1},
		"lane.jsonl":    {JSONLines, nil, -1},
		"narrow.txt":    {Text, []string{"rep", "speed_mps", "swimmer"}, 4},
		"none.txt":      {Text, nil, 0},
		"none.json":     {JSON, nil, 0},
		"one-null.csv":  {CSV, []string{"note"}, 3},
		"some-rows.csv": {CSV, []string{"hr_bpm", "rep"}, 2},
	} {
		var out bytes.Buffer
		if err := Print(&out, f, c.format, c.columns, c.limit); err != nil {
			t.Fatal(err)
		}
		golden(t, name, out.Bytes())
	}
}

// TestPrintShown prints names for pseudonyms in every format; nothing else
// changes, null included.
func TestPrintShown(t *testing.T) {
	b, _ := encode(t, laneTable, laneRows())
	f := openBytes(t, b)
	shown := func(c Column, text string) string {
		if c.Name == "swimmer" && text == "s01" {
			return "Ada, Quayle"
		}
		return text
	}
	for format, want := range map[Format]string{
		CSV:       "swimmer,rep,note\n\"Ada, Quayle\",1,easy\n\"Ada, Quayle\",2,\ns02,3,\"\"\n",
		JSONLines: "{\"swimmer\":\"Ada, Quayle\",\"rep\":1,\"note\":\"easy\"}\n{\"swimmer\":\"Ada, Quayle\",\"rep\":2,\"note\":null}\n{\"swimmer\":\"s02\",\"rep\":3,\"note\":\"\"}\n",
		Text:      "swimmer      rep  note\nAda, Quayle    1  easy\nAda, Quayle    2  –\ns02            3\n",
	} {
		var out bytes.Buffer
		if err := PrintShown(&out, f, format, []string{"swimmer", "rep", "note"}, 3, shown); err != nil {
			t.Fatal(err)
		}
		if out.String() != want {
			t.Errorf("%s: printed\n%s\ninstead of\n%s", format, out.String(), want)
		}
	}
}

// TestPrintWide prints a table of many columns and rows: nothing is wider than
// the screen, and every row number comes once a panel.
func TestPrintWide(t *testing.T) {
	rows := invent.Rows[schemas.Bout](60, 3)
	b, _ := encode(t, tableNamed(t, "bouts"), rows)
	var out bytes.Buffer
	if err := Print(&out, openBytes(t, b), Text, nil, -1); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(out.String(), "\n")
	panels, last := 0, 0
	for _, line := range lines {
		if w := columnsOnScreen(line); w > screenColumns {
			t.Errorf("%d columns: %s", w, line)
		}
		if strings.HasPrefix(strings.TrimLeft(line, " "), "# ") {
			panels++
		}
		if strings.HasPrefix(line, "60 ") {
			last++
		}
	}
	if panels%3 != 0 || panels < 6 || last != panels/3 { // 60 rows are three blocks
		t.Errorf("%d panels, the last row in %d", panels, last)
	}
}

// TestPanels fills the screen to its last column, and one further.
func TestPanels(t *testing.T) {
	number := textColumn{at: -1, width: 3}
	wide := func(widths ...int) []textColumn {
		columns := make([]textColumn, len(widths))
		for i, w := range widths {
			columns[i] = textColumn{at: i, width: w}
		}
		return columns
	}
	for _, c := range []struct {
		widths []int
		want   []int // columns of each panel, the row number counted
	}{
		{[]int{80}, []int{1}}, {[]int{39, 39}, []int{2}}, {[]int{39, 40}, []int{2, 2}},
		{[]int{36, 37, 10}, []int{3, 2}}, {[]int{36, 38, 10}, []int{2, 3}}, {[]int{90, 1}, []int{2, 2}},
	} {
		var got []int
		for _, panel := range panelsOf(number, wide(c.widths...)) {
			got = append(got, len(panel))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("widths %v: panels of %v columns, want %v", c.widths, got, c.want)
		}
	}
}

func tableNamed(t *testing.T, name string) schemas.Description {
	t.Helper()
	for _, d := range schemas.Tables() {
		if d.Name == name {
			return d
		}
	}
	t.Fatalf("no table %q", name)
	return schemas.Description{}
}

// TestPrintReadsBack takes CSV and JSON apart again with the standard library.
func TestPrintReadsBack(t *testing.T) {
	rows := invent.Rows[kinds](400, 21)
	b, _ := encode(t, kindsTable, rows, WithRowsPerGroup(150))
	f := openBytes(t, b)
	columns := []string{"number", "number_p", "text", "plain_p", "large", "flag_p"}
	var out bytes.Buffer
	if err := Print(&out, f, JSONLines, columns, -1); err != nil {
		t.Fatal(err)
	}
	decoder := json.NewDecoder(&out)
	for i, r := range rows {
		var got struct {
			Number  float64  `json:"number"`
			NumberP *float64 `json:"number_p"`
			Text    string   `json:"text"`
			PlainP  *string  `json:"plain_p"`
			Large   int64    `json:"large"`
			FlagP   *bool    `json:"flag_p"`
		}
		if err := decoder.Decode(&got); err != nil {
			t.Fatalf("line %d: %v", i+1, err)
		}
		if math.Float64bits(got.Number) != math.Float64bits(r.Number) || !same(got.NumberP, r.NumberP) ||
			got.Text != r.Text || !same(got.PlainP, r.PlainP) || got.Large != r.Large || !same(got.FlagP, r.FlagP) {
			t.Fatalf("line %d: %+v from %+v", i+1, got, r)
		}
	}
	var array []map[string]any
	out.Reset()
	if err := Print(&out, f, JSON, nil, -1); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(out.Bytes(), &array); err != nil || len(array) != 400 || len(array[0]) != 14 {
		t.Errorf("array of %d: %v", len(array), err)
	}

	out.Reset()
	if err := Print(&out, f, CSV, columns, -1); err != nil {
		t.Fatal(err)
	}
	records, err := csv.NewReader(&out).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(records) != 401 || strings.Join(records[0], ",") != strings.Join(columns, ",") {
		t.Fatalf("%d records, header %v", len(records), records[0])
	}
	for i, r := range rows {
		got := records[i+1]
		number, err := strconv.ParseFloat(got[0], 64)
		if err != nil || math.Float64bits(number) != math.Float64bits(r.Number) {
			t.Fatalf("row %d: number %q from %v", i+1, got[0], r.Number)
		}
		// encoding/csv reads CR LF within quotes as LF.
		text := strings.ReplaceAll(strings.TrimPrefix(got[2], "'"), "\n", "\r\n")
		if text != r.Text || got[4] != fmt.Sprint(r.Large) || (got[5] == "") != (r.FlagP == nil) {
			t.Fatalf("row %d: %q from %+v", i+1, got, r)
		}
	}
}

func same[V comparable](a, b *V) bool {
	return a == nil && b == nil || a != nil && b != nil && *a == *b
}

func TestNeutralise(t *testing.T) {
	for _, s := range []string{"=1", "+1", "-1", "@x", "\tx", "\rx", "\nx", "'x"} {
		if got := neutralise(s); got != "'"+s {
			t.Errorf("%q became %q", s, got)
		}
	}
	for _, s := range []string{"", "a=1", "1-2", " =1", "x'"} {
		if got := neutralise(s); got != s {
			t.Errorf("%q became %q", s, got)
		}
	}
}

func TestReadable(t *testing.T) {
	for v, want := range map[float64]string{
		0: "0", 1.5: "1.5", 1.0 / 3: "0.333333", 123456.789: "123457", 999999.9: "1000000", 62.50000001: "62.5",
		1234567.25: "1234567", -2: "-2", 1e-9: "1e-09", 1e22: "1e+22", 100: "100", -33.333333: "-33.3333", 0.5: "0.5",
	} {
		if got := readable(v); got != want {
			t.Errorf("%v: %q, want %q", v, got, want)
		}
	}
}

func TestPrintErrors(t *testing.T) {
	b, _ := encode(t, laneTable, laneRows())
	f := openBytes(t, b)
	var out bytes.Buffer
	wantError(t, Print(&out, f, "xml", nil, -1), `"xml"`, "csv")
	wantError(t, Print(&out, f, CSV, []string{"sped"}, -1), `no column "sped"`, "speed_mps")
	if out.Len() != 0 {
		t.Errorf("printed %q all the same", out.String())
	}
	for _, format := range Formats() {
		if err := Print(&fullDisk{room: 10}, f, format, nil, -1); err == nil {
			t.Errorf("%s: a full disk went unnoticed", format)
		}
	}
}
