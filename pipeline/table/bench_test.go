package table

import (
	"bytes"
	"fmt"
	"io"
	"testing"

	"github.com/parquet-go/parquet-go"

	"lengthwise/schemas"
)

// benchLengths makes rows like those of a study: few swimmers, counts and
// times of three digits.
func benchLengths(n int) []schemas.Length {
	rows := make([]schemas.Length, n)
	for i := range rows {
		seconds, strokes := 18+float64(i*7919%1000)/100, float64(15+i*31%12)
		rows[i] = schemas.Length{
			Swimmer: fmt.Sprintf("s%02d", i*40/n), Session: fmt.Sprintf("s%02d-%d", i*40/n, i/80), Ordinal: int32(i%80) + 1,
			Bout: int32(i % 80 / 4), FileID: fmt.Sprintf("f%05d", i/80), Record: int64(i%80) + 1, RecordedAs: "length",
			StartS: float64(i%80) * 25, PoolM: 25, Stroke: "freestyle", DurationS: seconds, DurationRecordedS: seconds,
			Strokes: ptr(strokes), StrokesRecorded: ptr(strokes / 2), StrokeCountBasis: "arms", SpeedMPS: 25 / seconds,
			PaceSPer100M: 4 * seconds, StrokeRateSPM: ptr(60 * strokes / seconds), DistancePerStrokeM: ptr(25 / strokes),
			Score: ptr(strokes + seconds), ScoreRecorded: ptr(strokes/2 + seconds), Score25: ptr(strokes + seconds),
			Status: "kept",
		}
		if i%5 != 0 {
			rows[i].HRBPM = ptr(float64(120 + i%60))
		}
	}
	return rows
}

const benchRows = 200_000

func perRow(b *testing.B, rows int) {
	b.ReportMetric(float64(rows)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}

func lengthsTable() schemas.Description {
	for _, d := range schemas.Tables() {
		if d.Name == "lengths" {
			return d
		}
	}
	panic("no table lengths")
}

func BenchmarkWrite(b *testing.B) {
	rows, d := benchLengths(benchRows), lengthsTable()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Write(io.Discard, d, rows); err != nil {
			b.Fatal(err)
		}
	}
	perRow(b, len(rows))
}

// BenchmarkWriteBare is the library's writer alone: the difference is what
// checks and hashes cost.
func BenchmarkWriteBare(b *testing.B) {
	rows := benchLengths(benchRows)
	b.ReportAllocs()
	for b.Loop() {
		w := parquet.NewGenericWriter[schemas.Length](io.Discard, parquet.Compression(&parquet.Zstd), parquet.MaxRowsPerRowGroup(RowsPerGroup))
		if _, err := w.Write(rows); err != nil {
			b.Fatal(err)
		}
		if err := w.Close(); err != nil {
			b.Fatal(err)
		}
	}
	perRow(b, len(rows))
}

func BenchmarkContentOf(b *testing.B) {
	rows, d := benchLengths(benchRows), lengthsTable()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ContentOf(d, rows); err != nil {
			b.Fatal(err)
		}
	}
	perRow(b, len(rows))
}

func benchFile(b *testing.B) []byte {
	data, _ := encode(b, lengthsTable(), benchLengths(benchRows))
	b.ReportAllocs()
	b.ResetTimer()
	return data
}

// BenchmarkReadColumns reads every column by its pages.
func BenchmarkReadColumns(b *testing.B) {
	f := openBytes(b, benchFile(b))
	for b.Loop() {
		for _, g := range f.Groups() {
			if _, err := groupCells(g, f.Columns()); err != nil {
				b.Fatal(err)
			}
		}
	}
	perRow(b, benchRows)
}

// BenchmarkReadThree reads three columns, as a page or a chart does.
func BenchmarkReadThree(b *testing.B) {
	f := openBytes(b, benchFile(b))
	for b.Loop() {
		for _, name := range []string{"speed_mps", "stroke_rate_spm", "hr_bpm"} {
			if _, err := f.Float64s(name); err != nil {
				b.Fatal(err)
			}
		}
	}
	perRow(b, benchRows)
}

// BenchmarkReadRows rebuilds rows from column pages.
func BenchmarkReadRows(b *testing.B) {
	f := openBytes(b, benchFile(b))
	for b.Loop() {
		if _, err := RowsOf[schemas.Length](f); err != nil {
			b.Fatal(err)
		}
	}
	perRow(b, benchRows)
}

// BenchmarkGenericReader is the library's reader of rows, for comparison.
func BenchmarkGenericReader(b *testing.B) {
	data := benchFile(b)
	for b.Loop() {
		if _, err := parquet.Read[schemas.Length](bytes.NewReader(data), int64(len(data))); err != nil {
			b.Fatal(err)
		}
	}
	perRow(b, benchRows)
}

func BenchmarkContent(b *testing.B) {
	f := openBytes(b, benchFile(b))
	for b.Loop() {
		if _, err := f.Content(); err != nil {
			b.Fatal(err)
		}
	}
	perRow(b, benchRows)
}

func BenchmarkPrintCSV(b *testing.B) {
	f := openBytes(b, benchFile(b))
	for b.Loop() {
		if err := Print(io.Discard, f, CSV, nil, -1); err != nil {
			b.Fatal(err)
		}
	}
	perRow(b, benchRows)
}
