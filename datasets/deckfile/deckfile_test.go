package deckfile

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/encoding/charmap"

	"lengthwise/datasets/squad"
)

func sample(t *testing.T) (*squad.Session, *squad.Swimmer) {
	t.Helper()
	sc := squad.Demo(21)
	sc.Swimmers, sc.SessionsPerSwimmer, sc.BoutsPerSession = 1, 2, 6
	sc.DesignedShare, sc.InstructionShare, sc.KickShare, sc.DrillShare = 1, 0, 1, 1
	sc.Pools = []squad.PoolShare{{Metres: 25, Weight: 1}}
	sw := squad.SimulateSwimmer(sc, 0)
	return &sw.Sessions[0], &sw
}

// read parses a sheet and returns one map a row.
func read(t *testing.T, text string, comma rune) []map[string]string {
	t.Helper()
	r := csv.NewReader(strings.NewReader(text))
	r.Comma = comma
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, rec := range records[1:] {
		row := map[string]string{}
		for i, name := range records[0] {
			row[name] = rec[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func float(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestRepeatRowsRoundTrip(t *testing.T) {
	s, sw := sample(t)
	var buf bytes.Buffer
	rows := RowsFromSession(s, sw, SheetOptions{HeartRate: Strap, RPE: true})
	if err := WriteSheet(&buf, rows, Format{}); err != nil {
		t.Fatal(err)
	}
	got := read(t, buf.String(), ',')
	if len(got) != len(s.Bouts)-1 {
		t.Fatalf("%d rows for %d bouts, one of them a drill", len(got), len(s.Bouts))
	}
	for i, row := range got {
		k, err := strconv.Atoi(row["rep"])
		if err != nil {
			t.Fatal(err)
		}
		b := s.Bouts[k-1]
		if math.Abs(float(t, row["time"])-b.DurationSeconds) > 0.05001 || row["strokes"] != strconv.Itoa(b.CountedArms) ||
			float(t, row["distance_m"]) != b.DistanceMetres || row["pool"] != "25m" || row["count"] != "arms" || row["length"] != "" {
			t.Errorf("row %d: %v", i, row)
		}
		if math.Abs(float(t, row["hr"])-b.ReadingBPM) > 0.5 || row["hr_source"] != "strap" || row["hr_delay"] != "0" {
			t.Errorf("row %d: heart rate %s for %v", i, row["hr"], b.ReadingBPM)
		}
		if b.Designed && (row["rate_target"] == "" || row["kick"] == "") {
			t.Errorf("row %d: tags are missing: %v", i, row)
		}
		if row["date"] != s.Local.Format("2006-01-02") || row["start"] != s.Local.Format("15:04") {
			t.Errorf("row %d: %s %s", i, row["date"], row["start"])
		}
	}
}

func TestLengthRowsWithDecimalComma(t *testing.T) {
	s, sw := sample(t)
	rows := RowsFromSession(s, sw, SheetOptions{Name: "Inês Órfã", PerLength: true, OmitStart: true, HeartRate: Palpated, NoTags: true})
	var buf bytes.Buffer
	f := Format{DecimalComma: true, CP1252: true, Rename: map[Column]string{Time: "Split", Strokes: "SC"}}
	if err := WriteSheet(&buf, rows, f); err != nil {
		t.Fatal(err)
	}
	text, err := charmap.Windows1252.NewDecoder().String(buf.String())
	if err != nil {
		t.Fatal(err)
	}
	if text == buf.String() {
		t.Error("the sheet is not in code page 1252")
	}
	got := read(t, text, ';')
	sum, lengths, readings := 0.0, 0, 0
	for _, row := range got {
		if row["swimmer"] != "Inês Órfã" || row["start"] != "" || row["rate_target"] != "" {
			t.Fatalf("row %v", row)
		}
		if !strings.Contains(row["Split"], ",") {
			t.Fatalf("time %q has no decimal comma", row["Split"])
		}
		sum += float(t, row["Split"])
		lengths++
		if row["hr"] != "" {
			readings++
			if int(float(t, row["hr"]))%6 != 0 {
				t.Errorf("palpated rate %s is not six times a count", row["hr"])
			}
		}
	}
	want, n, bouts := 0.0, 0, 0
	for _, b := range s.Bouts {
		if b.Stroke != squad.Drill {
			want += b.DurationSeconds
			n += b.LengthCount
			bouts++
		}
	}
	if lengths != n || math.Abs(sum-want) > 0.05*float64(n) || readings != bouts {
		t.Errorf("%d lengths of %d, %v s of %v, %d readings of %d", lengths, n, sum, want, readings, bouts)
	}
}

func TestSheetForms(t *testing.T) {
	s, sw := sample(t)
	rows := RowsFromSession(s, sw, SheetOptions{MeanCount: true, Clock: true})
	var buf bytes.Buffer
	if err := WriteSheet(&buf, rows, Format{BOM: true, Tab: true, Banner: "lane 2"}); err != nil {
		t.Fatal(err)
	}
	first, rest, _ := strings.Cut(buf.String(), "\n")
	if first != "\ufefflane 2" {
		t.Errorf("first line %q", first)
	}
	got := read(t, rest, '\t')
	b := s.Bouts[0]
	if mean := float(t, got[0]["strokes"]); math.Abs(mean*float64(b.LengthCount)-float64(b.CountedArms)) > 0.05*float64(b.LengthCount)+1e-9 ||
		got[0]["count"] != "per-length" {
		t.Errorf("mean count %v for %d strokes in %d lengths", mean, b.CountedArms, b.LengthCount)
	}
	minutes, seconds, ok := strings.Cut(got[0]["time"], ":")
	if !ok || math.Abs(60*float(t, minutes)+float(t, seconds)-b.DurationSeconds) > 0.05001 {
		t.Errorf("time %q for %v s", got[0]["time"], b.DurationSeconds)
	}
	if err := WriteSheet(&bytes.Buffer{}, []Row{{Swimmer: "水"}}, Format{CP1252: true}); err == nil {
		t.Error("a name outside code page 1252 was written")
	}
}

func TestWideSheet(t *testing.T) {
	s, sw := sample(t)
	rows := RowsFromSession(s, sw, SheetOptions{HeartRate: Strap, FromRep: 2})
	var buf bytes.Buffer
	if err := WriteWide(&buf, rows, Format{}); err != nil {
		t.Fatal(err)
	}
	got := read(t, buf.String(), ',')
	if len(got) != 1 {
		t.Fatalf("%d lines, want one", len(got))
	}
	for k, r := range rows {
		n := strconv.Itoa(k + 1)
		if got[0]["rep"+n+"_time"] != r[Time] || got[0]["rep"+n+"_strokes"] != r[Strokes] || got[0]["rep"+n+"_hr"] != r[HR] {
			t.Errorf("rep %s: %v", n, got[0])
		}
	}
}

func TestClockTime(t *testing.T) {
	for _, c := range []struct {
		seconds float64
		clock   bool
		want    string
	}{{59.96, true, "1:00.0"}, {167.34, true, "2:47.3"}, {167.34, false, "167.3"}, {8.04, true, "0:08.0"}} {
		if got := clockTime(c.seconds, c.clock); got != c.want {
			t.Errorf("clockTime(%v, %v) = %q, want %q", c.seconds, c.clock, got, c.want)
		}
	}
}

func TestPoolName(t *testing.T) {
	for _, c := range []struct {
		metres float64
		yards  bool
		want   string
	}{{25, false, "25m"}, {50, false, "50m"}, {22.86, true, "25y"}, {100.0 / 3, false, "33.3m"}} {
		if got := PoolName(&squad.Session{PoolMetres: c.metres, PoolYards: c.yards}); got != c.want {
			t.Errorf("%v m: %q, want %q", c.metres, got, c.want)
		}
	}
}

func TestNotesJoinRuns(t *testing.T) {
	s := &squad.Session{Local: time.Date(2026, 2, 3, 18, 0, 0, 0, time.UTC), Bouts: []squad.Bout{
		{}, {RateTargetSPM: 60}, {RateTargetSPM: 60}, {}, {RateTargetSPM: 60}, {Instruction: squad.Usual},
	}}
	want := []Note{
		{"ann", "2026-02-03", 6, 6, "instruction", "usual"},
		{"ann", "2026-02-03", 2, 3, "rate_target", "60"},
		{"ann", "2026-02-03", 5, 5, "rate_target", "60"},
	}
	got := NotesFromSession(s, "ann")
	if len(got) != len(want) {
		t.Fatalf("notes %v", got)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("note %d: %v, want %v", i, got[i], want[i])
		}
	}
}

func TestStudyFiles(t *testing.T) {
	s, sw := sample(t)
	sc := squad.Demo(21)
	sc.Swimmers, sc.SessionsPerSwimmer = 1, 1
	with := squad.SimulateSwimmer(sc, 0)

	var log, roster, assign, notes bytes.Buffer
	if err := WriteHeartRateLog(&log, []Pulse{{"M. Tidewell", &with.Sessions[0], 5}}); err != nil {
		t.Fatal(err)
	}
	lines := read(t, log.String(), ',')
	for i, l := range lines {
		at, err := time.Parse(time.RFC3339, l["timestamp"])
		if err != nil || !at.Equal(with.Sessions[0].StartUTC.Add(time.Duration(5*i)*time.Second)) {
			t.Fatalf("line %d: timestamp %q (%v)", i, l["timestamp"], err)
		}
	}
	if want := (len(with.Sessions[0].HeartRate) + 4) / 5; len(lines) != want {
		t.Errorf("%d lines, want %d", len(lines), want)
	}

	e := RosterEntryOf(sw)
	e.Aliases, e.Device, e.Consent = []string{"A B", "C"}, sw.Device, "yes"
	if err := WriteRoster(&roster, []RosterEntry{e, {Swimmer: "x"}}); err != nil {
		t.Fatal(err)
	}
	got := read(t, roster.String(), ',')
	if got[0]["aliases"] != "A B;C" || float(t, got[0]["hr_max"]) != sw.MaxBPM || got[0]["device"] != strconv.Itoa(int(sw.Device)) {
		t.Errorf("roster line %v", got[0])
	}
	if got[1]["birth_year"] != "" || got[1]["hr_max_measured_in"] != "" || got[1]["device"] != "" {
		t.Errorf("empty roster line %v", got[1])
	}
	if err := WriteAssign(&assign, []Assignment{{"inbox/a.fit", "x"}}); err != nil || assign.String() != "file,swimmer\ninbox/a.fit,x\n" {
		t.Errorf("assign %q (%v)", assign.String(), err)
	}
	if err := WriteNotes(&notes, NotesFromSession(s, "x")); err != nil || len(read(t, notes.String(), ',')) < 6 {
		t.Errorf("notes %q (%v)", notes.String(), err)
	}
}
