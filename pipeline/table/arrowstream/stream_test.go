package arrowstream

import (
	"bytes"
	"context"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"

	"lengthwise/pipeline/table"
	"lengthwise/pipeline/table/internal/invent"
	"lengthwise/schemas"
)

// Every table is written, then read back twice by Arrow: from the Parquet
// bytes with Arrow's own Parquet reader, which shares no code with the writer,
// and from the IPC stream. Both must give the rows that were written.
func TestEveryTable(t *testing.T) {
	for _, d := range schemas.Tables() {
		for _, n := range []int{0, 1, 300} {
			if !t.Run(d.Name, func(t *testing.T) { roundAny(t, d, n) }) {
				break
			}
		}
	}
}

// rounders has the round trip of each table's rows, by table.
var rounders = map[string]func(*testing.T, schemas.Description, int){
	"swimmers":            round[schemas.Swimmer],
	"sessions":            round[schemas.Session],
	"lengths":             round[schemas.Length],
	"lineage":             round[schemas.Lineage],
	"bouts":               round[schemas.Bout],
	"heart_rate":          round[schemas.HeartRate],
	"ledger":              round[schemas.LedgerEntry],
	"coefficients":        round[schemas.Coefficient],
	"fits":                round[schemas.Fit],
	"score_by_swimmer":    round[schemas.ScoreBySwimmer],
	"score_overall":       round[schemas.ScoreOverall],
	"score_by_source":     round[schemas.ScoreBySource],
	"mixed_effects":       round[schemas.MixedEffect],
	"sensitivity":         round[schemas.Sensitivity],
	"sensitivity_summary": round[schemas.SensitivitySummary],
	"advice_by_swimmer":   round[schemas.AdviceBySwimmer],
	"advice_overall":      round[schemas.AdviceOverall],
	"contrasts":           round[schemas.Contrast],
	"economical_rate":     round[schemas.EconomicalRate],
	"confounding":         round[schemas.Confounding],
	"changes":             round[schemas.Change],
	"heart_cost":          round[schemas.HeartCost],
	"reliability":         round[schemas.Reliability],
	"cost_by_rate":        round[schemas.CostByRate],
	"rate_length_speed":   round[schemas.RateLengthSpeed],
	"rate_length_curve":   round[schemas.RateLengthCurve],
	"critical_speed":      round[schemas.CriticalSpeed],
	"findings":            round[schemas.Finding],
}

func roundAny(t *testing.T, d schemas.Description, n int) {
	round, ok := rounders[d.Name]
	if !ok {
		t.Fatalf("this test does not know the rows of %s: add them to rounders", d.Name)
	}
	round(t, d, n)
}

func round[T any](t *testing.T, d schemas.Description, n int) {
	if reflect.TypeOf(d.Row) != reflect.TypeFor[T]() {
		t.Fatalf("%s holds %T", d.Name, d.Row)
	}
	rows := invent.Rows[T](n, 31)
	b := encode(t, d, rows)
	columns, err := table.Describe(d)
	if err != nil {
		t.Fatal(err)
	}
	compare(t, "Parquet", columns, rows, byParquet(t, b), false)
	compare(t, "stream", columns, rows, byStream(t, stream(t, b, nil, -1)), true)
}

func encode[T any](t *testing.T, d schemas.Description, rows []T) []byte {
	t.Helper()
	var b bytes.Buffer
	if _, err := table.Write(&b, d, rows, table.WithRowsPerGroup(128)); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func open(t *testing.T, b []byte) *table.File {
	t.Helper()
	f, err := table.OpenReaderAt(bytes.NewReader(b), int64(len(b)), "memory")
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func stream(t *testing.T, b []byte, columns []string, limit int) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := WriteArrowStream(&out, open(t, b), columns, limit); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// byParquet reads Parquet bytes with Arrow's own reader.
func byParquet(t *testing.T, b []byte) arrow.Table {
	t.Helper()
	r, err := file.NewParquetReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	reader, err := pqarrow.NewFileReader(r, pqarrow.ArrowReadProperties{}, memory.DefaultAllocator)
	if err != nil {
		t.Fatal(err)
	}
	all, err := reader.ReadTable(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func byStream(t *testing.T, b []byte) arrow.Table {
	t.Helper()
	r, err := ipc.NewReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Release()
	var batches []arrow.Record
	for r.Next() {
		batches = append(batches, r.Record())
		r.Record().Retain()
	}
	if r.Err() != nil {
		t.Fatal(r.Err())
	}
	return array.NewTableFromRecords(r.Schema(), batches)
}

// compare goes through rows by reflection, so that it relies on nothing of the
// packages under test but the columns' names and types.
func compare[T any](t *testing.T, road string, columns []table.Column, rows []T, got arrow.Table, described bool) {
	t.Helper()
	if got.NumRows() != int64(len(rows)) || got.NumCols() != int64(len(columns)) {
		t.Fatalf("%s: %d rows of %d columns instead of %d of %d", road, got.NumRows(), got.NumCols(), len(rows), len(columns))
	}
	types := map[table.Type]string{
		table.String: "utf8", table.Boolean: "bool", table.Int32: "int32",
		table.Int64: "int64", table.Double: "float64", table.Timestamp: "timestamp[ms, tz=UTC]",
	}
	for j, c := range columns {
		f := got.Schema().Field(j)
		if f.Name != c.Name || f.Type.String() != types[c.Type] || f.Nullable != c.Nullable {
			t.Errorf("%s: column %d is %s, want %+v", road, j, f, c)
			continue
		}
		if unit, _ := f.Metadata.GetValue("unit"); described && unit != c.Unit {
			t.Errorf("%s: column %s: unit %q instead of %q", road, c.Name, unit, c.Unit)
		}
		row := 0
		for _, part := range got.Column(j).Data().Chunks() {
			for i := range part.Len() {
				if want, have := value(rows[row], c.Name), cell(part, i); !reflect.DeepEqual(want, have) {
					t.Fatalf("%s: column %s, row %d: %#v instead of %#v", road, c.Name, row+1, have, want)
				}
				row++
			}
		}
		if row != len(rows) {
			t.Errorf("%s: column %s: %d values", road, c.Name, row)
		}
	}
}

// value gives a field of a row by its column's name, nil for null, doubles by
// their bits.
func value(row any, column string) any {
	v := reflect.ValueOf(row)
	for i := range v.NumField() {
		name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("parquet"), ",")
		if name != column {
			continue
		}
		at := v.Field(i)
		if at.Kind() == reflect.Pointer {
			if at.IsNil() {
				return nil
			}
			at = at.Elem()
		}
		if at.Kind() == reflect.Float64 {
			return math.Float64bits(at.Float())
		}
		return at.Interface()
	}
	return errors.New("no such column")
}

func cell(part arrow.Array, i int) any {
	if part.IsNull(i) {
		return nil
	}
	switch a := part.(type) {
	case *array.String:
		return strings.Clone(a.Value(i))
	case *array.Boolean:
		return a.Value(i)
	case *array.Int32:
		return a.Value(i)
	case *array.Int64:
		return a.Value(i)
	case *array.Timestamp:
		return int64(a.Value(i))
	case *array.Float64:
		return math.Float64bits(a.Value(i))
	}
	return part.DataType().String()
}

func TestSelection(t *testing.T) {
	rows := invent.Rows[schemas.HeartRate](300, 2)
	var d schemas.Description
	for _, d = range schemas.Tables() {
		if d.Name == "heart_rate" {
			break
		}
	}
	b := encode(t, d, rows)
	for _, c := range []struct {
		limit   int
		want    int64
		batches int
	}{{0, 0, 0}, {1, 1, 1}, {128, 128, 1}, {129, 129, 2}, {300, 300, 3}, {999, 300, 3}, {-1, 300, 3}} {
		got := byStream(t, stream(t, b, []string{"hr_bpm", "swimmer"}, c.limit))
		if got.NumRows() != c.want || got.NumCols() != 2 || got.Schema().Field(1).Name != "swimmer" || len(got.Column(0).Data().Chunks()) != max(c.batches, 0) {
			t.Errorf("limit %d: %d rows of %d columns in %d batches", c.limit, got.NumRows(), got.NumCols(), len(got.Column(0).Data().Chunks()))
		}
	}
	if a := stream(t, b, nil, -1); !bytes.Equal(a, stream(t, b, nil, -1)) {
		t.Error("two streams of one table differ")
	}
	f := open(t, b)
	about := byStream(t, stream(t, b, nil, 0)).Schema().Metadata()
	if name, _ := about.GetValue("table"); name != "heart_rate" || f.SchemaID() == "" {
		t.Errorf("metadata %v", about)
	}
	if err := WriteArrowStream(&bytes.Buffer{}, f, []string{"hr"}, -1); err == nil || !strings.Contains(err.Error(), `"hr"`) {
		t.Errorf("an unknown column: %v", err)
	}
	if err := WriteArrowStream(closed{}, f, nil, -1); !errors.Is(err, errClosed) {
		t.Errorf("a closed pipe: %v", err)
	}
}

var errClosed = errors.New("pipe closed")

type closed struct{}

func (closed) Write([]byte) (int, error) { return 0, errClosed }

func BenchmarkWriteArrowStream(b *testing.B) {
	rows := invent.Rows[schemas.HeartRate](200_000, 1)
	var d schemas.Description
	for _, d = range schemas.Tables() {
		if d.Name == "heart_rate" {
			break
		}
	}
	var data bytes.Buffer
	if _, err := table.Write(&data, d, rows); err != nil {
		b.Fatal(err)
	}
	f, err := table.OpenReaderAt(bytes.NewReader(data.Bytes()), int64(data.Len()), "memory")
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		var out bytes.Buffer
		if err := WriteArrowStream(&out, f, nil, -1); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(rows))*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}
