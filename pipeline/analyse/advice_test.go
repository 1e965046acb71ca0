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

func adviceOf(t *testing.T, w world, s *study.Study) advice {
	t.Helper()
	all := Advise(w.swim(), s)
	if len(all) != 1 {
		t.Fatalf("%d tests of advice, want one", len(all))
	}
	return all[0]
}

func mustResult(t *testing.T, a advice, advisor, test, measure string) adviceResult {
	t.Helper()
	r, ok := a.result(advisor, test, measure)
	if !ok {
		t.Fatalf("no %s of %s, %s", measure, advisor, test)
	}
	return r
}

// The second road: every pair of every session, counted by hand.
func TestAgreementCountsPairs(t *testing.T) {
	w := usual()
	bouts := w.swim()
	a := adviceOf(t, w, settings())
	for _, c := range []struct {
		advisor string
		better  func(x, y *derive.Bout) bool // x is the one that the advisor prefers
	}{
		{"score", func(x, y *derive.Bout) bool { return x.Score25 < y.Score25 }},
		{"strokes", func(x, y *derive.Bout) bool { return x.Strokes25 < y.Strokes25 }},
		{"distance_per_stroke", func(x, y *derive.Bout) bool { return x.DistancePerStrokeM > y.DistancePerStrokeM }},
		{"stroke_index", func(x, y *derive.Bout) bool {
			return x.SpeedMPS*x.DistancePerStrokeM > y.SpeedMPS*y.DistancePerStrokeM
		}},
		{"stroke_rate", func(x, y *derive.Bout) bool { return x.StrokeRateSPM < y.StrokeRateSPM }},
		{"speed", func(x, y *derive.Bout) bool { return x.SpeedMPS < y.SpeedMPS }},
		{"score_wrist", func(x, y *derive.Bout) bool {
			return x.Strokes25/2+25/x.SpeedMPS < y.Strokes25/2+25/y.SpeedMPS
		}},
	} {
		right, pairs := 0, 0
		for i := range bouts {
			for j := range i {
				x, y := &bouts[i], &bouts[j]
				if x.Session != y.Session {
					continue
				}
				pairs++
				if c.better(x, y) == (x.Cost < y.Cost) {
					right++
				}
			}
		}
		got := mustResult(t, a, c.advisor, testAsSwum, measureAgreement)
		if want := float64(right) / float64(pairs); math.Abs(got.estimate-want) > 1e-12 || int(got.pairs) != pairs {
			t.Errorf("%s: %v of %d pairs, want %v of %d", c.advisor, got.estimate, got.pairs, want, pairs)
		}
	}
}

// At a matched pace the stroke count's agreement is the concordance that the
// study's main answer holds, and every score is the count in other clothes.
func TestScoresAreOneVariableAtMatchedPace(t *testing.T) {
	w := usual()
	answer := only(Swimmer(w.swim(), settings()), Observed)
	a := adviceOf(t, w, settings())
	rate := mustResult(t, a, "stroke_rate", testMatchedPace, measureAgreement)
	if math.Abs(rate.estimate-*answer.Row.Concordance) > 1e-12 || rate.pairs != answer.Row.Pairs {
		t.Errorf("agreement %v of %d pairs, concordance %v of %d", rate.estimate, rate.pairs, *answer.Row.Concordance, answer.Row.Pairs)
	}
	for _, adv := range advisors() {
		if adv.name == speedAdvisor {
			continue
		}
		same := mustResult(t, a, adv.name, testMatchedPace, measureWithCount)
		if math.Abs(same.estimate) < 0.999 {
			t.Errorf("%s correlates with the count by %v", adv.name, same.estimate)
		}
		if got := mustResult(t, a, adv.name, testMatchedPace, measureAgreement); math.Abs(got.estimate-rate.estimate) > 0.02 {
			t.Errorf("%s agrees in %v of matched pairs, the rate in %v", adv.name, got.estimate, rate.estimate)
		}
	}
}

func TestSkillFollowsTheClaimAlone(t *testing.T) {
	right, wrong := usual(), usual()
	right.effect, wrong.effect = 6, -6
	for _, c := range []struct {
		name     string
		w        world
		low      float64
		high     float64
		agreeing bool
	}{{"right", right, 0.5, 1, true}, {"wrong", wrong, 0, 0, false}} {
		a := adviceOf(t, c.w, settings())
		added := mustResult(t, a, "score", testHeldOut, measureAddedToPace)
		if added.estimate < c.low || added.estimate > c.high {
			t.Errorf("%s: added to pace the score takes away %v, want %v to %v", c.name, added.estimate, c.low, c.high)
		}
		agreement := mustResult(t, a, "score", testPaceAdjusted, measureAgreement)
		if (agreement.estimate > 0.5) != c.agreeing {
			t.Errorf("%s: agreement %v", c.name, agreement.estimate)
		}
		skill := mustResult(t, a, "score", testHeldOut, measureSkill)
		free := mustResult(t, a, "score", testHeldOut, measureEitherWay)
		if !c.agreeing && (skill.estimate != 0 || free.estimate < 0.1) {
			t.Errorf("%s: skill by the claim %v, free to point either way %v", c.name, skill.estimate, free.estimate)
		}
		rank := mustResult(t, a, "score", testHeldOut, measureRank)
		if !c.agreeing && rank.estimate != 0 {
			t.Errorf("%s: rank skill %v where every session refuses the claim", c.name, rank.estimate)
		}
	}
}

func TestAdviceSaysWhyThereIsNone(t *testing.T) {
	few, unknown := usual(), usual().swim()
	few.sessions = 3
	for i := range unknown {
		unknown[i].Basis = study.UnknownBasis
	}
	s := settings()
	beats := settings()
	beats.Cost.Measure = "net-beats"
	for _, c := range []struct {
		name, want string
		bouts      []derive.Bout
		s          *study.Study
	}{
		{"few sessions", "fewer than 6 sessions", few.swim(), s},
		{"unknown counts", "fewer than 6 sessions", unknown, s},
		{"net beats", "hold the seconds", usual().swim(), beats},
	} {
		rows, overall := AdviceRows(Advise(c.bouts, c.s), c.s)
		if len(rows) != 1 || rows[0].Reason == nil || !strings.Contains(*rows[0].Reason, c.want) || rows[0].Estimate != nil {
			t.Errorf("%s: %+v", c.name, rows)
		}
		for _, row := range overall {
			if row.Estimate != nil || row.Reason == nil {
				t.Errorf("%s: %s %s %s has a number, or no reason for having none", c.name, row.Score, row.Test, row.Measure)
			}
		}
	}
}

func TestAdviceOfASquad(t *testing.T) {
	squad := func(rename func(int) string, order []int) ([]schemas.AdviceBySwimmer, []schemas.AdviceOverall) {
		var all []advice
		for _, i := range order {
			w := usual()
			w.seed, w.swimmer, w.effect = uint64(500+i), rename(i), 1+0.4*float64(i)
			all = append(all, Advise(w.swim(), settings())...)
		}
		return AdviceRows(all, settings())
	}
	rows, overall := squad(func(i int) string { return fmt.Sprint("a", i) }, []int{0, 1, 2, 3, 4, 5, 6})
	_, other := squad(func(i int) string { return fmt.Sprint("z", 9-i) }, []int{6, 5, 4, 3, 2, 1, 0})
	if len(overall) != len(other) || len(overall) == 0 {
		t.Fatalf("%d and %d rows", len(overall), len(other))
	}
	seen := map[[3]string]bool{}
	for i, row := range overall {
		key := [3]string{row.Score, row.Test, row.Measure}
		if seen[key] {
			t.Errorf("%v is there twice", key)
		}
		seen[key] = true
		for _, v := range [][2]*float64{{row.Estimate, other[i].Estimate}, {row.ConfLow, other[i].ConfLow}, {row.PredictHigh, other[i].PredictHigh}} {
			if (v[0] == nil) != (v[1] == nil) || v[0] != nil && *v[0] != *v[1] {
				t.Errorf("%v differs with names and order", key)
			}
		}
		if row.Estimate != nil && row.ConfLow != nil && (*row.ConfLow > *row.Estimate || *row.ConfHigh < *row.Estimate) {
			t.Errorf("%v: %v outside %v to %v", key, *row.Estimate, *row.ConfLow, *row.ConfHigh)
		}
	}
	for _, row := range overall {
		if row.Score == "strokes" && row.Test == testPaceAdjusted && !(*row.ConfLow > 0.5 && row.Swimmers == 7) {
			t.Errorf("seven swimmers whose score is right: agreement from %v", *row.ConfLow)
		}
	}
	keys := map[[4]string]bool{}
	for _, row := range rows {
		key := [4]string{row.Swimmer, row.Score, row.Test, row.Measure}
		if keys[key] {
			t.Errorf("%v is there twice", key)
		}
		keys[key] = true
	}
}
