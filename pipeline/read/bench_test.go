package read

import (
	"bytes"
	"fmt"
	"testing"

	"lengthwise/datasets/activityfile"
	"lengthwise/datasets/deckfile"
	"lengthwise/datasets/squad"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// benchSquad is a small squad whose sessions fill the inputs of benchmarks.
func benchSquad(swimmers, sessions int) []squad.Swimmer {
	sc := squad.Demo(7)
	sc.Swimmers, sc.SessionsPerSwimmer = swimmers, sessions
	sc.LengthDetail = true
	var all []squad.Swimmer
	for i := range swimmers {
		all = append(all, squad.SimulateSwimmer(sc, i))
	}
	return all
}

// BenchmarkSheetOfLengths reads one sheet with a row a length; ns/row and MB/s.
func BenchmarkSheetOfLengths(b *testing.B) {
	var rows []deckfile.Row
	for _, sw := range benchSquad(8, 20) {
		for k := range sw.Sessions {
			rows = append(rows, deckfile.RowsFromSession(&sw.Sessions[k], &sw, deckfile.SheetOptions{PerLength: true, HeartRate: deckfile.Strap, RPE: true})...)
		}
	}
	var sheet bytes.Buffer
	if err := deckfile.WriteSheet(&sheet, rows, deckfile.Format{}); err != nil {
		b.Fatal(err)
	}
	src := SheetSource{FileID: "f-bench", Input: study.Input{Kind: study.Sheet},
		Owner: func(name string) identity.Owner { return identity.Owner{Swimmer: "s-" + name, How: "sheet"} }}
	b.SetBytes(int64(sheet.Len()))
	b.ReportAllocs()
	for b.Loop() {
		f, _, err := Sheet(sheet.Bytes(), src)
		if err != nil || f.Counts.Lengths != int64(len(rows)) || len(f.Recordings) != 160 {
			b.Fatal(fmt.Sprint(f.Counts, len(f.Recordings), len(rows)), err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(rows)), "ns/row")
}

// BenchmarkActivities reads activity files of one session each; ns/op is CPU a
// file, as one goroutine reads.
func BenchmarkActivities(b *testing.B) {
	var files [][]byte
	size := 0
	for _, sw := range benchSquad(2, 10) {
		for k := range sw.Sessions {
			data, err := activityfile.Encode(activityfile.FromSession(&sw.Sessions[k], &sw, activityfile.Options{}), activityfile.Quirks{})
			if err != nil {
				b.Fatal(err)
			}
			files, size = append(files, data), size+len(data)
		}
	}
	b.SetBytes(int64(size / len(files)))
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		f, err := Activity(files[i%len(files)], ActivitySource{FileID: "f-bench"})
		if err != nil || f.Counts.Lengths == 0 {
			b.Fatal(f.Counts, err)
		}
		i++
	}
}
