package analyse

import (
	"math"
	"testing"

	"lengthwise/schemas"
)

// twoSources is a squad in which every other session is read at the wrist, whose error
// makes a stroke rate 10 % higher look dearer by some bpm.
func twoSources(swimmers int, byWrist float64) []Part {
	var parts []Part
	for i := range swimmers {
		w := usual()
		w.seed, w.swimmer, w.sessions = uint64(300+i), string(rune('a'+i)), 16
		w.designed = func(int, int) bool { return true }
		bouts := w.swim()
		for k := range bouts {
			b := &bouts[k]
			if b.Session[len(b.Session)-1]%2 == 0 {
				b.HRSource, b.HRStratum, b.CostStratum = "optical", "window/optical", "window/optical"
				b.Cost += byWrist * (math.Log(b.StrokeRateSPM) - 4) / per10Percent
			}
		}
		parts = append(parts, Ask(Person{}, bouts, settings()))
	}
	return parts
}

func TestEffectsBySource(t *testing.T) {
	r, err := Study(twoSources(6, 3), settings())
	if err != nil {
		t.Fatal(err)
	}
	squad := map[string]schemas.ScoreBySource{}
	swimmers := map[string]int{}
	for _, row := range r.BySource {
		if row.Scope == WholeSquad {
			squad[row.Source+row.Against] = row
			continue
		}
		swimmers[row.Source]++
		if row.EffectPer10Pct == nil || row.Sessions != 8 || row.Bouts != 80 {
			t.Errorf("%+v", row)
		}
	}
	if swimmers["strap"] != 6 || swimmers["optical"] != 6 || len(squad) != 3 {
		t.Fatalf("rows of swimmers %v, of the squad %d", swimmers, len(squad))
	}
	for key, want := range map[string]float64{"strap": -2.5, "optical": 0.5, "opticalstrap": 3} {
		row := squad[key]
		if row.EffectPer10Pct == nil || math.Abs(*row.EffectPer10Pct-want) > 0.5 || row.Swimmers != 6 {
			t.Errorf("%s: %+v, want %v", key, row, want)
			continue
		}
		if !(*row.EffectLow <= want && want <= *row.EffectHigh) {
			t.Errorf("%s: %v to %v, want %v", key, *row.EffectLow, *row.EffectHigh, want)
		}
	}
}

// A swimmer with one source has no row: the number stands in score_by_swimmer, and
// counts in the squad's average.
func TestOneSourceStandsInScoreBySwimmer(t *testing.T) {
	parts := twoSources(3, 0)
	w := usual()
	w.swimmer, w.designed = "z", func(int, int) bool { return true }
	parts = append(parts, Ask(Person{}, w.swim(), settings()))
	r, err := Study(parts, settings())
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range r.BySource {
		if row.Swimmer == "z" {
			t.Errorf("%+v", row)
		}
		if row.Scope == WholeSquad && row.Source == "strap" && row.Swimmers != 4 {
			t.Errorf("the squad's strap effect rests on %d swimmers, want 4", row.Swimmers)
		}
	}
	s := settings()
	s.Cost.Measure = "rpe"
	if rows := bySource(w.swim(), nil, s); rows != nil {
		t.Errorf("exertion has no source: %v", rows)
	}
	alone, err := Study(parts[3:], settings())
	if err != nil || len(alone.BySource) != 0 {
		t.Errorf("one source in the squad: %v, %v", alone.BySource, err)
	}
}
