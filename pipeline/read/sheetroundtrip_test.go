package read

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"lengthwise/datasets/deckfile"
	"lengthwise/datasets/squad"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// headersOf are the headers of sheets in languages, for a random dialect.
var headersOf = []map[deckfile.Column]string{
	nil,
	{deckfile.Swimmer: "Name", deckfile.Time: "Time (s)", deckfile.Strokes: "Stroke count", deckfile.DistanceM: "Distance (m)", deckfile.HR: "Heart rate", deckfile.Rest: "Rest [s]"},
	{deckfile.Swimmer: "Schwimmer", deckfile.Date: "Datum", deckfile.Time: "Zeit", deckfile.Strokes: "Züge", deckfile.DistanceM: "Strecke", deckfile.HR: "Puls", deckfile.Pool: "Becken", deckfile.Stroke: "Lage", deckfile.Rest: "Pause", deckfile.Rep: "Wdh"},
	{deckfile.Swimmer: "Nom", deckfile.Time: "Temps", deckfile.Strokes: "Coups", deckfile.DistanceM: "Distance", deckfile.HR: "FC", deckfile.Pool: "Bassin", deckfile.Stroke: "Nage", deckfile.Rest: "Repos"},
	{deckfile.Swimmer: "Nome", deckfile.Date: "Data", deckfile.Time: "Tempo", deckfile.Strokes: "Braçadas", deckfile.DistanceM: "Distância", deckfile.HR: "Pulso", deckfile.Pool: "Piscina", deckfile.Stroke: "Estilo", deckfile.Rest: "Descanso"},
	{deckfile.Swimmer: "Naam", deckfile.Date: "Datum", deckfile.Time: "Tijd", deckfile.Strokes: "Slagen", deckfile.DistanceM: "Afstand", deckfile.HR: "Hartslag", deckfile.Pool: "Zwembad", deckfile.Stroke: "Zwemslag", deckfile.Rest: "Rust"},
}

// dialect draws a way to write a sheet.
func dialect(rng *rand.Rand) (f deckfile.Format, o deckfile.SheetOptions, wide bool) {
	f.Rename = map[deckfile.Column]string{}
	for c, header := range headersOf[rng.IntN(len(headersOf))] {
		f.Rename[c] = header
	}
	f.DecimalComma, f.Tab = rng.IntN(2) == 0, rng.IntN(4) == 0
	switch rng.IntN(4) {
	case 0:
		f.BOM = true
	case 1:
		f.CP1252 = true
	case 2:
		f.UTF16 = true
	}
	if rng.IntN(3) == 0 {
		f.Banner = "Lane 3; winter, block 2"
	}
	f.Date = []string{"", "2.1.2006", "02.01.06", "2 Jan 2006", "2006/01/02", "Monday 2 January 2006", "02/01/2006"}[rng.IntN(7)]
	f.Times = deckfile.TimeForm(rng.IntN(5))
	wide = rng.IntN(3) == 0
	f.Wide = deckfile.WideHeaders(rng.IntN(5))
	if !wide {
		f.Merged = rng.IntN(3) == 0
		f.Total = []string{"", "Total", "Summe:", "Moyenne"}[rng.IntN(4)]
	}
	o = deckfile.SheetOptions{Name: "Zo\u00eb \u00d6hl", PerLength: !wide && rng.IntN(3) == 0, OmitStart: rng.IntN(2) == 0,
		HeartRate: []deckfile.HeartRateSource{deckfile.NoHeartRate, deckfile.Strap, deckfile.Palpated}[rng.IntN(3)]}
	if !o.PerLength {
		o.MeanCount = rng.IntN(3) == 0
	}
	if o.HeartRate == deckfile.Palpated && rng.IntN(2) == 0 {
		o.Beats = []int{10, 15}[rng.IntN(2)]
		f.Rename[deckfile.HR] = fmt.Sprintf([]string{"hr_%ds", "Pulse %d s", "Puls (%d s)"}[rng.IntN(3)], o.Beats)
	}
	return f, o, wide
}

// A session written down in 150 dialects reads back as written:
// every row in its order, seconds, strokes, rests, heart rates and day.
func TestSheetReadsBackWhatWasWritten(t *testing.T) {
	sc := squad.Demo(7)
	sc.Swimmers, sc.SessionsPerSwimmer, sc.BoutsPerSession = 1, 3, 6
	sc.DesignedShare, sc.DrillShare = 0.5, 0
	swimmer := squad.SimulateSwimmer(sc, 0)
	rng := rand.New(rand.NewPCG(20261125, 3))
	for trial := range 150 {
		f, o, wide := dialect(rng)
		session := &swimmer.Sessions[rng.IntN(len(swimmer.Sessions))]
		if f.Date == "02/01/2006" && session.Local.Day() <= 12 {
			f.Date = "" // of two meanings
		}
		rows := deckfile.RowsFromSession(session, &swimmer, o)
		var buf bytes.Buffer
		write := deckfile.WriteSheet
		if wide {
			write = deckfile.WriteWide
		}
		if err := write(&buf, rows, f); err != nil {
			t.Fatal(err)
		}
		zone, _ := time.LoadLocation("Europe/Lisbon")
		src := SheetSource{FileID: "f-1", Zone: zone, Input: study.Input{Kind: study.Sheet, StrokeCount: study.Arms},
			FileOwner: identity.Owner{Refused: identity.NoSwimmer},
			Owner:     func(name string) identity.Owner { return identity.Owner{Swimmer: identity.Fold(name), How: "roster"} }}
		got, _, err := Sheet(buf.Bytes(), src)
		if err != nil {
			t.Fatalf("trial %d: %v in\n%s", trial, err, buf.String())
		}
		sheetBalance(t, got, sheetRows(t, buf.Bytes(), study.Sheet, nil))
		if problem := readsBack(got, rows, wide, o); problem != "" {
			t.Fatalf("trial %d, %+v, %+v, wide %v: %s\n%s\n%s", trial, f, o, wide, problem, buf.String(), sheetDump(got, nil))
		}
	}
}

// readsBack compares what was read with the rows written, "" when it is the
// same.
func readsBack(got File, rows []deckfile.Row, wide bool, o deckfile.SheetOptions) string {
	var lengths []Length
	for _, r := range got.Recordings {
		if r.Swimmer != identity.Fold(o.Name) || r.LocalDate != rows[0][deckfile.Date] {
			return fmt.Sprintf("swimmer %q, day %s", r.Swimmer, r.LocalDate)
		}
		if hasStart := !o.OmitStart && !wide; hasStart == r.Start.IsZero() || hasStart && r.Start.In(r.Zone).Format("15:04") != rows[0][deckfile.Start] {
			return fmt.Sprintf("start %v", r.Start)
		}
		lengths = append(lengths, r.Lengths...)
	}
	slices.SortFunc(lengths, func(a, b Length) int { return int(a.Record - b.Record) })
	if len(lengths) != len(rows) || len(got.Recordings) != 1 {
		return fmt.Sprintf("%d rows of %d in %d recordings", len(lengths), len(rows), len(got.Recordings))
	}
	number := func(cell string) float64 {
		if cell == "" {
			return math.NaN()
		}
		x, _ := strconv.ParseFloat(cell, 64)
		return x
	}
	same := func(a, b, by float64) bool { return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) <= by }
	for i, l := range lengths {
		row := rows[i]
		strokes := number(row[deckfile.Strokes])
		if o.MeanCount {
			strokes *= float64(l.Covers)
		}
		rest := number(row[deckfile.Rest])
		if i == 0 && rest > 0 || wide {
			rest = math.NaN() // before the first swim a rest is noted and left out
		}
		bpm, delay := number(row[deckfile.HR]), number(row[deckfile.HRDelay])
		if o.Beats > 0 {
			bpm, delay = bpm*60/float64(o.Beats), delay+float64(o.Beats)/2
		}
		if wide && o.Beats > 0 {
			delay = float64(o.Beats) / 2 // not on the sheet: counted from the touch on
		} else if wide {
			delay = math.NaN()
		}
		pool := l.PoolM
		if math.IsNaN(pool) {
			pool = got.Recordings[0].PoolM
		}
		switch {
		case !same(l.DurationS, number(row[deckfile.Time]), 1e-9):
			return fmt.Sprintf("row %d: time %v, written %s", i, l.DurationS, row[deckfile.Time])
		case !same(l.Strokes, strokes, 1e-9):
			return fmt.Sprintf("row %d: strokes %v, written %s", i, l.Strokes, row[deckfile.Strokes])
		case !same(l.RestS, rest, 1e-9):
			return fmt.Sprintf("row %d: rest %v, written %q", i, l.RestS, row[deckfile.Rest])
		case !same(l.End.HRBPM, bpm, 1e-9) || !math.IsNaN(bpm) && !same(l.End.DelayS, delay, 1e-9):
			return fmt.Sprintf("row %d: heart rate %+v, written %q %q", i, l.End, row[deckfile.HR], row[deckfile.HRDelay])
		case l.Stroke != row[deckfile.Stroke]:
			return fmt.Sprintf("row %d: stroke %s, written %s", i, l.Stroke, row[deckfile.Stroke])
		case l.Kind == KindRepeat && !same(float64(l.Covers)*pool, number(row[deckfile.DistanceM]), 0.01):
			return fmt.Sprintf("row %d: %d lengths, written %s m", i, l.Covers, row[deckfile.DistanceM])
		case (l.Kind == KindLength) != (row[deckfile.Length] != ""):
			return fmt.Sprintf("row %d: %s", i, l.Kind)
		}
	}
	for _, e := range got.Entries {
		if e.Action == Excluded && e.Rule != RuleTotalsRow || e.Rule == RuleUnreadable || strings.Contains(e.Rule, "doubtful") {
			return fmt.Sprintf("entry %+v", e)
		}
	}
	return ""
}
