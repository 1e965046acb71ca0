package analyse

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/stats/linear"
)

// seasonOf dates a swimmer's sessions, a number of days apart, and moves each
// by what shift says.
func seasonOf(w world, apart int, shift func(session int) float64) []derive.Bout {
	bouts := w.swim()
	first := time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC)
	for i := range bouts {
		k := i / w.bouts
		bouts[i].LocalDate = first.AddDate(0, 0, apart*k).Format(time.DateOnly)
		bouts[i].Cost += shift(k)
	}
	return bouts
}

func levelsOf(bouts []derive.Bout, s *study.Study, reached ...bool) Levels {
	all := SessionLevels(Person{Reached: reached}, bouts, s)
	return all[0]
}

// TestSessionLevelsByAnotherRoad: leaving a session out by the deletion formula
// gives what fitting the others gives.
func TestSessionLevelsByAnotherRoad(t *testing.T) {
	w := usual()
	w.sessions = 9
	bouts := seasonOf(w, 3, func(int) float64 { return 0 })
	s := settings()
	l := levelsOf(bouts, s)
	if !l.ok || len(l.levels.sessions) != 9 {
		t.Fatalf("levels %+v", l.levels)
	}
	minutes := 0.0
	for i := range bouts {
		minutes += math.Log1p(bouts[i].MinutesIn) / float64(len(bouts))
	}
	for _, one := range l.levels.sessions {
		var y, x, xx, m []float64
		var session []int
		codes := map[string]int{}
		var mine [][4]float64
		for i := range bouts {
			b := &bouts[i]
			v := math.Log(b.SpeedMPS / l.levels.reference)
			if b.Session == one.id {
				mine = append(mine, [4]float64{b.Cost, v, v * v, math.Log1p(b.MinutesIn) - minutes})
				continue
			}
			if _, ok := codes[b.Session]; !ok {
				codes[b.Session] = len(codes)
			}
			session = append(session, codes[b.Session])
			y, x, xx, m = append(y, b.Cost), append(x, v), append(xx, v*v), append(m, math.Log1p(b.MinutesIn)-minutes)
		}
		fit, err := linear.Fit(linear.Problem{Response: y, Terms: []string{"x", "xx", "m"}, Columns: [][]float64{x, xx, m}, Absorb: session})
		if err != nil {
			t.Fatal(err)
		}
		// Means over sessions, each of the same weight.
		levels := make([]float64, len(codes))
		n := float64(w.bouts)
		for i := range y {
			levels[session[i]] += (y[i] - fit.Estimates[0]*x[i] - fit.Estimates[1]*xx[i] - fit.Estimates[2]*m[i]) / n
		}
		own := 0.0
		for _, v := range mine {
			own += (v[0] - fit.Estimates[0]*v[1] - fit.Estimates[1]*v[2] - fit.Estimates[2]*v[3]) / n
		}
		if math.Abs(one.usual-mean(levels)) > 1e-8 || math.Abs(one.apart-(own-mean(levels))) > 1e-8 {
			t.Errorf("%s: usual %v and %v apart, want %v and %v", one.id, one.usual, one.apart, mean(levels), own-mean(levels))
		}
	}
}

// TestSessionsOfOtherConditions: what is not comparable is left out and said.
func TestSessionsOfOtherConditions(t *testing.T) {
	w := usual()
	w.sessions = 10
	bouts := seasonOf(w, 3, func(int) float64 { return 0 })
	for i := range bouts {
		b := &bouts[i]
		switch i / w.bouts {
		case 1, 7:
			b.PoolM = 50
			b.Cost += 9
		case 2:
			b.HRSource, b.HRStratum = "optical", "window/optical"
		case 3:
			b.Tags.Equipment = "paddles"
		case 4:
			b.SpeedMPS *= 1.25
		case 5:
			b.PoolM = []float64{25, 50, 33.3, 25, 50, 33.3, 22, 22, 20, 20}[i%w.bouts]
		}
	}
	rows := HeartCosts(SessionLevels(Person{}, bouts, settings()), settings())
	alone := "no other session of these conditions"
	want := map[int]string{2: alone, 3: alone, 4: "not swum near", 5: "fewer than 3 comparable bouts"}
	conditions := map[int]string{1: "50 m, strap", 2: "25 m, optical", 3: "25 m, strap, paddles", 4: "", 5: "", 7: "50 m, strap"}
	if len(rows) != w.sessions {
		t.Fatalf("%d rows for %d sessions", len(rows), w.sessions)
	}
	for k, r := range rows {
		if r.Session != fmt.Sprintf("a-%02d", k) {
			t.Errorf("row %d is session %s", k, r.Session)
		}
		reason := want[k]
		if reason == "" && (r.Reason != nil || r.HeartCost == nil) || reason != "" && (r.Reason == nil || !strings.Contains(*r.Reason, reason) || r.HeartCost != nil) {
			t.Errorf("session %d: %+v", k, r)
		}
		if at, ok := conditions[k]; ok && r.Conditions != at || !ok && r.Conditions != "25 m, strap" {
			t.Errorf("session %d: conditions %q", k, r.Conditions)
		}
		// Those of the other pool are 9 dearer, and compared with each other alone.
		if (k == 1 || k == 7) && math.Abs(*r.UsualCost-*rows[0].UsualCost) < 1 {
			t.Errorf("session %d: usual %v, in the other pool %v", k, *r.UsualCost, *rows[0].UsualCost)
		}
	}
}

// TestHeartCostErrors: a session's heart cost lies within 1.96 standard errors
// of its true one in 95 %, and the typical error is that of the days.
func TestHeartCostErrors(t *testing.T) {
	within, n, sum, covered := 0, 0, 0.0, 0
	const swimmers = 80
	for k := range swimmers {
		w := usual()
		w.seed, w.effect, w.sessions, w.bouts, w.noise, w.dayNoise = uint64(300+k), 0, 12, 6, 3, 0
		stream := rand.New(rand.NewPCG(uint64(k), 4))
		day := make([]float64, w.sessions)
		for i := range day {
			day[i] = 4 * stream.NormFloat64()
		}
		s := settings()
		s.Changes = []study.Change{{Name: "c", On: []string{"2026-01-20"}}}
		bouts := seasonOf(w, 3, func(i int) float64 { return day[i] + 2*float64(i)/10 + 5*oneIf(i >= 5) })
		l := levelsOf(bouts, s, true)
		for i, one := range l.levels.sessions {
			n++
			// What is usual is the level of all sessions but this one, in truth.
			var others float64
			for j := range day {
				if j != i {
					others += (2*float64(j)/10 + 5*oneIf(j >= 5)) / float64(w.sessions-1)
				}
			}
			truth := day[i] + 2*float64(i)/10 + 5*oneIf(i >= 5) - others
			if math.Abs(one.apart-truth) < 1.96*one.stdError {
				within++
			}
		}
		rows := Reliability([]Levels{l}, s)
		r := rows[0]
		true2 := 4.0*4 + 3.0*3/6
		sum += *r.TypicalError * *r.TypicalError / true2 / swimmers
		if *r.TypicalLow < math.Sqrt(true2) && math.Sqrt(true2) < *r.TypicalHigh {
			covered++
		}
		if *r.DF != 9 || math.Abs(*r.Detectable-1.959964*math.Sqrt2**r.TypicalError) > 1e-6 {
			t.Fatalf("%+v", r)
		}
	}
	t.Logf("within 1.96 errors %.3f of %d; mean square over the true one %.3f; intervals hold the typical error for %d of %d", float64(within)/float64(n), n, sum, covered, swimmers)
	if share := float64(within) / float64(n); share < 0.92 || share > 0.98 {
		t.Errorf("%.3f of %d within 1.96 errors", share, n)
	}
	if math.Abs(sum-1) > 0.15 || covered < 71 {
		t.Errorf("typical error: mean square over the true one %.3f, interval holds it for %d of %d", sum, covered, swimmers)
	}
}

// TestSquadReliability: the correlation of swimmers at a common pace is that of
// the levels they were given, and those of other conditions stay out of it.
func TestSquadReliability(t *testing.T) {
	var all []Levels
	s := settings()
	stream := rand.New(rand.NewPCG(1, 4))
	for k := range 30 {
		w := usual()
		w.seed, w.swimmer, w.effect, w.sessions, w.noise, w.dayNoise = uint64(k), fmt.Sprint("s", k), 0, 10, 2, 3
		base := 6 * stream.NormFloat64()
		bouts := seasonOf(w, 3, func(int) float64 { return base })
		if k < 4 {
			for i := range bouts {
				bouts[i].PoolM = 50
			}
		}
		all = append(all, levelsOf(bouts, s))
	}
	rows := Reliability(all, s)
	r := rows[len(rows)-1]
	want := 36 / (36 + 9 + 4.0/10)
	if r.Scope != WholeSquad || r.ICC == nil || *r.ICCLow > want || *r.ICCHigh < want || r.ICCSwimmers != 26 || r.Swimmers != 30 {
		t.Errorf("%+v, want a correlation of %.2f", r, want)
	}
	// 240 degrees of freedom: three standard errors of a standard deviation are 14 %.
	if math.Abs(*r.Worthwhile-0.2**r.BetweenSD) > 1e-12 || *r.DF != 240 || math.Abs(*r.TypicalError/math.Sqrt(9.4)-1) > 0.14 {
		t.Errorf("worthwhile %v of %v, typical error %v", *r.Worthwhile, *r.BetweenSD, *r.TypicalError)
	}
	few := Reliability(all[:2], s)
	if last := few[len(few)-1]; last.ICC != nil || last.TypicalError == nil {
		t.Errorf("two swimmers: %+v", last)
	}
}
