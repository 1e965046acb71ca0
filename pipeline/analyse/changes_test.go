package analyse

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// changing is a swimmer of so many sessions three days apart, without noise
// between days but what shift adds.
func changing(k, sessions int) world {
	w := usual()
	w.seed, w.swimmer, w.effect, w.sessions, w.bouts, w.dayNoise, w.noise = uint64(900+k), fmt.Sprint("s", k), 0, sessions, 5, 1, 0.5
	return w
}

func changeRows(t *testing.T, all []Levels, s *study.Study) []schemas.Change {
	t.Helper()
	rows, err := Changes(all, s)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func of(rows []schemas.Change, scope string) *schemas.Change {
	for i := range rows {
		if rows[i].Scope == scope {
			return &rows[i]
		}
	}
	return nil
}

// day is the date of a session of seasonOf(_, 3, _).
func day(session int) string {
	bouts := seasonOf(changing(0, session+1), 3, func(int) float64 { return 0 })
	return bouts[len(bouts)-1].LocalDate
}

// TestSevenDatesCannotGiveATwentieth: with 12 sessions and three on either side
// there are seven dates on which a change could have begun, so that nothing is
// claimed however large it is, and the smallest p is said.
func TestSevenDatesCannotGiveATwentieth(t *testing.T) {
	s := settings()
	s.Changes = []study.Change{{Name: "c", On: []string{day(6)}}}
	bouts := seasonOf(changing(1, 12), 3, func(k int) float64 { return 30 * oneIf(k >= 6) })
	r := of(changeRows(t, []Levels{levelsOf(bouts, s, true)}, s), OneSwimmer)
	if r.Estimate == nil || math.Abs(*r.Estimate-30) > 4 || *r.PHolm > 0.001 {
		t.Fatalf("%+v", r)
	}
	if *r.Ways != 7 || math.Abs(*r.SmallestP-1.0/7) > 1e-12 || math.Abs(*r.RandomisationP-1.0/7) > 1e-12 {
		t.Errorf("%v ways, smallest p %v, p %v", *r.Ways, *r.SmallestP, *r.RandomisationP)
	}
	if r.Direction != open || r.Design != string(Observed) || r.Plan != PlanOneDate {
		t.Errorf("claimed: %+v", r)
	}
	// With 30 sessions there are 25 dates, and it is.
	s.Changes[0].On = []string{day(15)}
	bouts = seasonOf(changing(1, 30), 3, func(k int) float64 { return 30 * oneIf(k >= 15) })
	r = of(changeRows(t, []Levels{levelsOf(bouts, s, true)}, s), OneSwimmer)
	if *r.Ways != 25 || r.Direction != Higher || r.Design != string(Observed) {
		t.Errorf("%+v", r)
	}
	if math.Abs(*r.Trend) > 3 || *r.TrendLow > *r.Trend || r.N != 30 || r.NWith != 15 || r.Bouts != 150 {
		t.Errorf("trend %v from %v, %+v", *r.Trend, *r.TrendLow, r)
	}
}

// TestTrendIsNoChange: what rises all the time does not rise with the change.
func TestTrendIsNoChange(t *testing.T) {
	s := settings()
	s.Changes = []study.Change{{Name: "c", On: []string{day(15)}}}
	bouts := seasonOf(changing(2, 30), 3, func(k int) float64 { return float64(k) })
	r := of(changeRows(t, []Levels{levelsOf(bouts, s, true)}, s), OneSwimmer)
	if r.Direction != open || *r.ConfLow > 0 || *r.ConfHigh < 0 || math.Abs(*r.Trend-10) > 2 {
		t.Errorf("%+v, trend %v", r, *r.Trend)
	}
}

// TestWhatBefellEverybody: a jump in all swimmers at the date of a change is no
// effect of it where some swimmers were not reached; without them it cannot be
// told, and the word stays weak.
func TestWhatBefellEverybody(t *testing.T) {
	squad := func(reached int) ([]Levels, *study.Study) {
		s := settings()
		s.Changes = []study.Change{{Name: "c", On: []string{day(8)}}}
		var all []Levels
		for k := range 12 {
			bouts := seasonOf(changing(10+k, 16), 3, func(i int) float64 { return 8*oneIf(i >= 8) - 4*oneIf(i >= 8 && k < reached) })
			all = append(all, levelsOf(bouts, s, k < reached))
		}
		return all, s
	}
	all, s := squad(6)
	r := of(changeRows(t, all, s), WholeSquad)
	if r.Plan != PlanUnchanged || r.Design != string(Observed) || r.Swimmers != 6 || r.Unchanged != 6 || r.Direction != Lower || math.Abs(*r.Estimate+4) > 1 {
		t.Errorf("with a group unchanged: %+v", r)
	}
	if !strings.Contains(r.Warnings, "unless lots were drawn") {
		t.Errorf("warnings %q", r.Warnings)
	}
	all, s = squad(12)
	r = of(changeRows(t, all, s), WholeSquad)
	if r.Plan != PlanOneDate || r.Design != string(Observed) || *r.Estimate < 2 || !strings.Contains(r.Warnings, "whatever else came with it") {
		t.Errorf("all changed: %+v", r)
	}
}

// TestPlans: which plans earn causal words.
func TestPlans(t *testing.T) {
	type entry struct {
		on, off  []string
		swimmers int // so many
	}
	every := func(n, from, step int) (days []string) {
		for k := range n {
			days = append(days, day(from+k*step))
		}
		return days
	}
	cases := []struct {
		name     string
		entries  []entry
		plan     string
		designed bool
		ways     float64
	}{
		{"one date", []entry{{on: []string{day(12)}, swimmers: 8}}, PlanOneDate, false, 0},
		{"on and off", []entry{{on: []string{day(8)}, off: []string{day(16)}, swimmers: 8}}, PlanOnAndOff, false, 3},
		{"on, off, on", []entry{{on: every(2, 6, 12), off: []string{day(12)}, swimmers: 8}}, PlanAlternating, false, 6},
		{"eight periods", []entry{{on: every(4, 3, 6), off: every(3, 6, 6), swimmers: 8}}, PlanAlternating, true, 70},
		{"two dates of one each", []entry{{on: []string{day(8)}, swimmers: 1}, {on: []string{day(16)}, swimmers: 1}}, PlanStaggered, false, 0},
		{"four dates", []entry{{on: []string{day(5)}, swimmers: 2}, {on: []string{day(10)}, swimmers: 2}, {on: []string{day(15)}, swimmers: 2}, {on: []string{day(20)}, swimmers: 2}}, PlanStaggered, true, 2520},
		{"the same date twice", []entry{{on: []string{day(12)}, swimmers: 4}, {on: []string{day(12)}, swimmers: 4}}, PlanOneDate, false, 0},
	}
	for _, c := range cases {
		s := settings()
		for range c.entries {
			s.Changes = append(s.Changes, study.Change{Name: "c"})
		}
		var all []Levels
		k := 0
		for e, entry := range c.entries {
			s.Changes[e].On, s.Changes[e].Off = entry.on, entry.off
			for range entry.swimmers {
				reached := make([]bool, len(c.entries))
				reached[e] = true
				bouts := seasonOf(changing(40+k, 24), 3, func(i int) float64 { return 4 * oneIf(s.Changes[e].Active(day(i))) })
				all = append(all, levelsOf(bouts, s, reached...))
				k++
			}
		}
		r := of(changeRows(t, all, s), WholeSquad)
		if r == nil || r.Plan != c.plan || (r.Design == string(Designed)) != c.designed || c.ways > 0 && (r.Ways == nil || *r.Ways != c.ways) {
			t.Errorf("%s: %+v", c.name, r)
			continue
		}
		if c.designed && r.Direction != Higher {
			t.Errorf("%s: 4 bpm not found: %+v", c.name, r)
		}
		if !c.designed && r.Reason == nil && r.SmallestP != nil && *r.SmallestP > alpha && r.Direction != open {
			t.Errorf("%s: claimed though no lot could show it: %+v", c.name, r)
		}
	}
}

// TestPhases: phases noted for whole sessions are compared with the first one.
func TestPhases(t *testing.T) {
	s := settings()
	var all []Levels
	for k := range 8 {
		bouts := seasonOf(changing(70+k, 24), 3, func(i int) float64 { return -3 * oneIf(i >= 12) })
		for i := range bouts {
			phase := "base"
			if i/5 >= 12 {
				phase = "taper"
			}
			bouts[i].Labels = []derive.Label{{Key: "phase", Value: phase}, {Key: "breath_phase", Value: phase}}
			if i == 0 { // notes for part of a session make it no phase
				bouts[i].Labels = nil
			}
		}
		all = append(all, levelsOf(bouts, s))
	}
	rows := changeRows(t, all, s)
	one, squad := of(rows, OneSwimmer), of(rows, WholeSquad)
	if one.Kind != KindPhase || one.Change != "taper" || one.Reference != "base" || one.N != 23 || one.Design != string(Observed) {
		t.Errorf("%+v", one)
	}
	if squad == nil || squad.Swimmers != 8 || math.Abs(*squad.Estimate+3) > 1.5 || squad.Design != string(Observed) {
		t.Errorf("%+v", squad)
	}
	for _, r := range rows {
		if r.Change != "taper" {
			t.Errorf("a change %q", r.Change)
		}
	}
}

// TestChangesNeedBothSides: what cannot be answered says why.
func TestChangesNeedBothSides(t *testing.T) {
	for _, c := range []struct {
		sessions, from int
		reason         string
	}{{12, 10, "2 sessions with it and 10 sessions without it, fewer than 3"}, {12, 11, "1 session with it"}, {5, 2, "3 sessions with it and 2 sessions"},
		{12, 40, "0 sessions with it"}, {6, 3, "3.00 degrees of freedom, fewer than 4"}} {
		s := settings()
		s.Changes = []study.Change{{Name: "c", On: []string{day(c.from)}}}
		bouts := seasonOf(changing(3, c.sessions), 3, func(int) float64 { return 0 })
		r := of(changeRows(t, []Levels{levelsOf(bouts, s, true)}, s), OneSwimmer)
		if r.Reason == nil || !strings.Contains(*r.Reason, c.reason) || r.Direction != tooLittle || r.PHolm != nil {
			t.Errorf("%+v: %+v, reason %v", c, r, r.Reason)
		}
		if none := changeRows(t, []Levels{levelsOf(bouts, s, false)}, s); len(none) > 0 {
			t.Errorf("a swimmer whom it did not reach has %+v", none[0])
		}
	}
}

// TestChangesAndTheOrderOfSwimmers: the squad's numbers do not hang on it.
func TestChangesAndTheOrderOfSwimmers(t *testing.T) {
	s := settings()
	s.Changes = []study.Change{{Name: "c", On: []string{day(6)}}, {Name: "c", On: []string{day(12)}}}
	var all, other []Levels
	for k := range 7 {
		bouts := seasonOf(changing(80+k, 18), 3, func(int) float64 { return 0 })
		all = append(all, levelsOf(bouts, s, k%2 == 0, k%2 == 1))
	}
	for i := range all {
		other = append(other, all[len(all)-1-i])
	}
	one, two := of(changeRows(t, all, s), WholeSquad), of(changeRows(t, other, s), WholeSquad)
	if fmt.Sprint(*one.Estimate, *one.ConfLow, *one.RandomisationP) != fmt.Sprint(*two.Estimate, *two.ConfLow, *two.RandomisationP) {
		t.Errorf("%+v\n%+v", one, two)
	}
}
