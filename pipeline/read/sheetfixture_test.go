package read

import (
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

var sheetUpdate = flag.Bool("update-sheets", false, "write the golden files of sheets and lists anew")

// sheetSource knows Ana and Ben, and Cy who has not consented.
func sheetSource(t testing.TB) SheetSource {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	return SheetSource{FileID: "f-1", Zone: zone, Content: "c0ffee",
		Input: study.Input{Kind: study.Sheet, StrokeCount: study.Arms, Columns: map[string]string{"time": "Split", "strokes": "SC"}},
		Owner: sheetOwners, FileOwner: identity.Owner{Refused: identity.NoSwimmer}}
}

func sheetOwners(name string) identity.Owner {
	switch identity.Fold(name) {
	case "ana lima":
		return identity.Owner{Swimmer: "s-ana", How: "roster"}
	case "ben ohm":
		return identity.Owner{Swimmer: "s-ben", How: "roster"}
	case "cy":
		return identity.Owner{Swimmer: "s-cy", How: "roster", Refused: identity.NoConsent}
	}
	return identity.Owner{Refused: identity.NoSwimmer}
}

// sheetBalance asserts that every counted record is in a recording or excluded,
// once, and that nothing else is.
func sheetBalance(t testing.TB, f File, rows int) {
	t.Helper()
	fate := map[RecordKind]map[int64]int{KindLength: {}, KindRepeat: {}, KindHeartRate: {}}
	for _, r := range f.Recordings {
		if len(r.Lengths)+len(r.Samples) == 0 {
			t.Error("an empty recording")
		}
		for _, l := range r.Lengths {
			fate[l.Kind][l.Record]++
		}
		for _, s := range r.Samples {
			fate[KindHeartRate][s.Record]++
		}
	}
	for _, e := range f.Entries {
		if e.Action != Excluded || e.Kind == KindFile {
			continue
		}
		for k := range e.Records {
			fate[e.Kind][e.Record+k]++
		}
	}
	total := 0
	for kind, want := range map[RecordKind]int64{KindLength: f.Counts.Lengths, KindRepeat: f.Counts.Repeats, KindHeartRate: f.Counts.HeartRate} {
		if int64(len(fate[kind])) != want {
			t.Errorf("%s: %d records are accounted for, %d were counted", kind, len(fate[kind]), want)
		}
		for record, times := range fate[kind] {
			if times != 1 || record < 1 || record > int64(rows) {
				t.Errorf("%s %d of %d rows is accounted for %d times", kind, record, rows, times)
			}
		}
		total += len(fate[kind])
	}
	if total != rows {
		t.Errorf("%d rows are accounted for, the file has %d", total, rows)
	}
}

// sheetRows counts the records of a sheet by a road of its own: rows that are
// not blank or, where repeats stand side by side, those of them that have
// anything written in them, and one for a row without any.
func sheetRows(t testing.TB, data []byte, kind study.InputKind, columns map[string]string) int {
	t.Helper()
	if kind != study.Sheet {
		table, err := csvOpen(data, "", "", study.ColumnNames(kind), columns)
		if err != nil {
			return 0
		}
		return len(table.rows)
	}
	in := wholeInput(data)
	s, err := newSheetFront(in, SheetSource{Input: study.Input{Columns: columns}})
	if err != nil {
		return 0
	}
	rows, err := s.table.below(in)
	if err != nil {
		t.Fatal(err)
	}
	total := 0
	s.previous = s.table.header
	for row, ok, _ := rows.next(); ok; row, ok, _ = rows.next() {
		if s.isHeader(row) {
			s.newHeader(row)
			s.previous = row.cells
			total++
			continue
		}
		s.previous = row.cells
		reps := 0
		for _, v := range s.section.layout.views {
			filled := false
			for _, k := range v.own {
				filled = filled || k < len(row.cells) && strings.TrimSpace(row.cells[k]) != ""
			}
			if filled {
				reps++
			}
		}
		if !s.table.overflows(row) && (s.isTotals(row) || s.changesConstants(row)) {
			reps = 1
		}
		total += max(1, reps)
	}
	return total
}

// sheetDump writes a file's content for golden comparison.
func sheetDump(f File, seen []identity.Seen) string {
	var out strings.Builder
	fmt.Fprintf(&out, "counts: lengths %d, repeats %d, heart rate %d\n", f.Counts.Lengths, f.Counts.Repeats, f.Counts.HeartRate)
	for _, r := range f.Recordings {
		fmt.Fprintf(&out, "\nrecording %d: %s of %q %s, start %s, day %s, pool %s, basis %s, hr %s, content %s\n", r.Part, r.Kind, r.Swimmer,
			r.Refused, r.Start.Format("2006-01-02T15:04:05.999Z07:00"), r.LocalDate, sheetNumber(r.PoolM), r.Basis, r.HRSource, r.Content)
		for _, l := range r.Lengths {
			fmt.Fprintf(&out, "  %s %d: swim %d, covers %d, start %s, time %s, rest %s", l.Kind, l.Record, l.Swim, l.Covers,
				sheetNumber(l.StartS), sheetNumber(l.DurationS), sheetNumber(l.RestS))
			fmt.Fprintf(&out, ", pool %s, %s drill %v, strokes %s %s, hr %s %s %s, %s rate %s kick %s rpe %s lactate %s\n", sheetNumber(l.PoolM), l.Stroke, l.Drill,
				sheetNumber(l.Strokes), l.Basis, sheetNumber(l.End.HRBPM), l.End.Source, sheetNumber(l.End.DelayS),
				l.Tags.Instruction, sheetNumber(l.Tags.RateTargetSPM), l.Tags.Kick, sheetNumber(l.Tags.RPE), sheetNumber(l.Tags.LactateMMOL))
		}
		for _, s := range r.Samples {
			fmt.Fprintf(&out, "  sample %d: %s s, %s bpm\n", s.Record, sheetNumber(s.TimeS), sheetNumber(s.BPM))
		}
	}
	out.WriteString(sheetDumpEntries(f.Entries))
	for _, s := range seen {
		fmt.Fprintf(&out, "seen %q as %q\n", s.Name, s.Swimmer)
	}
	return out.String()
}

func sheetDumpEntries(entries []Entry) string {
	var out strings.Builder
	for _, e := range entries {
		fmt.Fprintf(&out, "\n%s %d+%d of %q: %s %s\n  %s\n", e.Kind, e.Record, e.Records, e.Swimmer, e.Rule, e.Action, e.Detail)
	}
	return out.String()
}

func sheetNumber(x float64) string {
	if math.IsNaN(x) {
		return "?"
	}
	return fmt.Sprintf("%.6g", x)
}

// sheetGolden compares text with a golden file.
func sheetGolden(t *testing.T, golden, got string) {
	t.Helper()
	if *sheetUpdate {
		if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs; got\n%s", golden, got)
	}
}

// sheetFixtures are the fixtures in a folder of testdata by name.
func sheetFixtures(t testing.TB, folder string) map[string][]byte {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join("testdata", folder, "*.csv"))
	if err != nil || len(paths) == 0 {
		t.Fatalf("no fixtures in %s: %v", folder, err)
	}
	fixtures := map[string][]byte{}
	for _, path := range paths {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		fixtures[path] = data
	}
	return fixtures
}

// sheetNoNames asserts that entries tell no name.
func sheetNoNames(t testing.TB, entries []Entry) {
	t.Helper()
	for _, e := range entries {
		for _, name := range []string{"ana", "lima", "ohm", "stranger"} {
			if strings.Contains(strings.ToLower(e.Detail), name) {
				t.Errorf("an entry's detail tells a name: %q", e.Detail)
			}
		}
	}
}
