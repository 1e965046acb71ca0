package run

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lengthwise/datasets/deckfile"
	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// measuredSquad writes a study of swimmers whose heart rate rises by 6 bpm for each
// 10 % fewer strokes a minute: sheets with heart rate, exertion, oxygen and lactate.
func measuredSquad(t *testing.T, change func(i int, e *deckfile.RosterEntry)) (folder string, sq squad.Squad) {
	t.Helper()
	sc := squad.DesignedBar(-6, 61, 6)
	sc.SessionsPerSwimmer, sc.BoutsPerSession, sc.BoutNoiseBPM = 8, 10, 2
	sc.PaceLevels = []float64{0}
	sq = squad.Simulate(sc)
	folder = t.TempDir()
	write := func(name string, data []byte) {
		if err := os.WriteFile(filepath.Join(folder, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	var rows []deckfile.Row
	var roster []deckfile.RosterEntry
	for i := range sq.Swimmers {
		sw := &sq.Swimmers[i]
		for k := range sw.Sessions {
			rows = append(rows, deckfile.RowsFromSession(&sw.Sessions[k], sw, deckfile.SheetOptions{HeartRate: deckfile.Strap, RPE: true, Lab: true})...)
		}
		entry := deckfile.RosterEntryOf(sw)
		entry.Consent, entry.VO2Rest = "yes", 3.5
		if change != nil {
			change(i, &entry)
		}
		roster = append(roster, entry)
	}
	var sheet, list bytes.Buffer
	if err := deckfile.WriteSheet(&sheet, rows, deckfile.Format{}); err != nil {
		t.Fatal(err)
	}
	if err := deckfile.WriteRoster(&list, roster); err != nil {
		t.Fatal(err)
	}
	write("sheet.csv", sheet.Bytes())
	write("roster.csv", list.Bytes())
	return folder, sq
}

// assessAs runs the study in a folder with a cost measure.
func assessAs(t *testing.T, folder, cost string, smallest float64) (*Result, *study.Study) {
	t.Helper()
	path := filepath.Join(folder, "study.yaml")
	text := fmt.Sprintf("study: measures\ninputs: [{path: sheet.csv, kind: sheet}]\nroster: roster.csv\nprivacy: {identify: as-given}\ncost: %s\nanalysis: {smallest_effect: %g, resamples: 200, permutations: 50}\n", cost, smallest)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := study.Load(path)
	if err != nil {
		t.Fatal(err)
	}
	r, err := Assess(context.Background(), s, Options{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	return r, s
}

// Each measure from the sheet to the sentence: the effect is what the simulated
// swimmers' is in that measure's own unit.
func TestEveryCostMeasureFromSheetToSentence(t *testing.T) {
	folder, sq := measuredSquad(t, nil)
	reserve := func(sw *squad.Swimmer) float64 { return sw.MaxBPM - sw.RestBPM }
	for _, c := range []struct {
		measure, unit string
		smallest      float64
		off           float64 // how far a swimmer's effect may be off its truth, with noise
		truth         func(*squad.Swimmer) float64
	}{
		{"bpm", "bpm", 2, 1.5, func(*squad.Swimmer) float64 { return -6 }},
		{"hr-reserve", "points of heart-rate reserve", 2, 1.5, func(sw *squad.Swimmer) float64 { return -600 / reserve(sw) }},
		{"net-beats", "beats per 100 m", 2, 2, func(sw *squad.Swimmer) float64 { return -600 / (60 * sw.RefSpeedMPS) }},
		{"lab", "J/kg/m", 0.2, 0.3, func(sw *squad.Swimmer) float64 {
			oxygen := 46.5 * -6 / reserve(sw) / 60 * 20.9
			lactate := 3 * 5 * -6 / reserve(sw) * 20.9 / (200 / sw.RefSpeedMPS)
			return (oxygen + lactate) / sw.RefSpeedMPS
		}},
		{"rpe", "points of exertion", 0.2, 0.2, func(sw *squad.Swimmer) float64 { return -60 / reserve(sw) }},
	} {
		r, s := assessAs(t, folder, "{measure: "+c.measure+"}", c.smallest)
		if s.Cost.Unit() != c.unit || len(r.Lacks) != 0 {
			t.Errorf("%s: unit %q, lacks %v", c.measure, s.Cost.Unit(), r.Lacks)
		}
		effects := map[string]schemas.ScoreBySwimmer{}
		for _, row := range r.Answers.BySwimmer {
			if row.Design == string(analyse.Designed) {
				effects[row.Swimmer] = row
			}
		}
		covered := 0
		for i := range sq.Swimmers {
			sw := &sq.Swimmers[i]
			row, truth := effects[sw.Handle], c.truth(sw)
			if row.EffectPer10Pct == nil {
				t.Fatalf("%s: no effect for %s: %v", c.measure, sw.Handle, row.Reason)
			}
			if math.Abs(*row.EffectPer10Pct-truth) > c.off || row.Verdict != string(analyse.RunsAgainst) {
				t.Errorf("%s, %s: effect %.3f (%s), want %.3f", c.measure, sw.Handle, *row.EffectPer10Pct, row.Verdict, truth)
			}
			if *row.EffectLow <= truth && truth <= *row.EffectHigh {
				covered++
			}
		}
		if covered < 4 {
			t.Errorf("%s: %d of 6 intervals hold the truth", c.measure, covered)
		}
		for _, f := range r.Findings {
			if f.Question == findings.BySwimmer && !strings.Contains(f.Sentence, c.unit) {
				t.Errorf("%s: no unit in %q", c.measure, f.Sentence)
			}
			if !s.Cost.ReadsHeartRate() && strings.Contains(strings.ToLower(f.Sentence), "heart rate") {
				t.Errorf("%s: %q speaks of heart rate", c.measure, f.Sentence)
			}
		}
	}
}

// What the roster does not say is said: to the squad by name, in the findings by
// number, and every bout without a cost has its reason.
func TestRosterValuesThatAreMissing(t *testing.T) {
	folder, sq := measuredSquad(t, func(i int, e *deckfile.RosterEntry) {
		switch i {
		case 0:
			e.RestBPM = 0
		case 1:
			e.MaxBPM = 0
		case 2:
			e.MaxMeasuredIn = "land"
		case 3:
			e.MaxMeasuredIn = ""
		case 4:
			e.MaxBPM = 120 // below what was swum
			e.VO2Rest = 0
		}
	})
	name := func(i int) string { return sq.Swimmers[i].Handle }
	for _, c := range []struct {
		cost    string
		lacks   map[string]int // id -> swimmer
		reasons map[string]int
	}{
		{"{measure: bpm}", nil, nil},
		{"{measure: rpe}", nil, nil},
		{"{measure: net-beats}", map[string]int{"no-resting-heart-rate": 0}, map[string]int{"no-resting-heart-rate": 0}},
		{"{measure: hr-reserve}", map[string]int{"no-resting-heart-rate": 0, "no-maximum-heart-rate": 1, "land-maximum": 2, "unplaced-maximum": 3, "beyond-maximum": 4},
			map[string]int{"no-resting-heart-rate": 0, "no-maximum-heart-rate": 1}},
		{"{measure: lab, vo2_rest: 4}", map[string]int{"resting-uptake-assumed": 4}, nil},
	} {
		r, _ := assessAs(t, folder, c.cost, 1)
		found := map[string]bool{}
		for _, l := range r.Lacks {
			found[l.ID] = true
			want, ok := c.lacks[l.ID]
			if !ok || len(l.Swimmers) != 1 || l.Swimmers[0] != name(want) || !strings.Contains(l.Named(r.Name), name(want)) {
				t.Errorf("%s: %s of %v", c.cost, l.ID, l.Swimmers)
			}
			told := false
			for _, f := range r.Findings {
				told = told || f.Question == findings.Limits && f.Finding == "limits/"+l.ID && strings.Contains(f.Sentence, "1 swimmer") && !strings.Contains(f.Sentence, name(want))
			}
			if !told {
				t.Errorf("%s: no finding tells of %s", c.cost, l.ID)
			}
		}
		if len(found) != len(c.lacks) {
			t.Errorf("%s: lacks %v, want %v", c.cost, found, c.lacks)
		}
		for _, b := range r.Bouts {
			if b.Usable {
				continue
			}
			if want, ok := c.reasons[*b.Reason]; !ok || b.Swimmer != name(want) {
				t.Fatalf("%s: a bout of %s is left out: %s", c.cost, b.Swimmer, *b.Reason)
			}
		}
	}
}
