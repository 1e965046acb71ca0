package analyse

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// curveSquad asks a squad of made swimmers under every specification. change
// may alter a swimmer's bouts.
func curveSquad(t *testing.T, s *study.Study, swimmers int, rename func(int) string, change func(i int, bouts []derive.Bout)) ([]schemas.Sensitivity, []schemas.SensitivitySummary, Result) {
	t.Helper()
	var curves []Curve
	var answers []Answer
	for i := range swimmers {
		w := usual()
		w.seed, w.swimmer, w.effect = uint64(700+i), rename(i), -3+0.3*float64(i%4)
		bouts := w.swim()
		if change != nil {
			change(i, bouts)
		}
		answers = append(answers, Swimmer(bouts, s)...)
		curves = append(curves, Curves(func(int) []derive.Bout { return bouts }, s)...)
	}
	r, err := Squad(answers, s)
	if err != nil {
		t.Fatal(err)
	}
	rows, summaries := CurveRows(curves, answers, s)
	return rows, summaries, r
}

func letters(i int) string { return fmt.Sprint("c", i) }

// The first specification is the study's own answer, to the last bit.
func TestCurveBeginsWithTheStudysOwnAnswer(t *testing.T) {
	rows, summaries, r := curveSquad(t, settings(), 5, letters, nil)
	two := overallRow(t, r.Overall, "effect_per_10pct")
	first := rows[0]
	if first.Specification != 1 || first.Departures != 0 || *first.Estimate != *two.Estimate || *first.ConfLow != *two.ConfLow ||
		first.Swimmers != two.Swimmers || first.Bouts != two.Bouts {
		t.Errorf("first specification %+v, the answer %v (%v to %v)", first, *two.Estimate, *two.ConfLow, *two.ConfHigh)
	}
	if *summaries[0].Own != *two.Estimate || *summaries[0].WithLockRule != *two.Estimate {
		t.Errorf("own %v, with the lock rule %v, want %v", *summaries[0].Own, *summaries[0].WithLockRule, *two.Estimate)
	}
	one := overallRow(t, r.Overall, "effect_mixed")
	i := slices.IndexFunc(rows, func(row schemas.Sensitivity) bool { return row.Pooling == poolingMixed })
	if *rows[i].Estimate != *one.Estimate {
		t.Errorf("first mixed specification %v, the mixed model %v", *rows[i].Estimate, *one.Estimate)
	}
}

// All bouts alike in what most choices are about: only shortest bouts (all are
// of 160 s), first bouts, pace, drift, rate and weights can matter, and of them
// weights do not (all bouts have 8 lengths).
func TestEquivalentSpecificationsCollapse(t *testing.T) {
	rows, summaries, _ := curveSquad(t, settings(), 4, letters, nil)
	var planned, distinct int32
	seen := map[string]bool{}
	for _, row := range rows {
		planned += row.Equivalent
		distinct++
		if row.Pooling == poolingMixed {
			continue
		}
		key := fmt.Sprint(row.Drift, row.FirstBout, row.PaceTerms, row.RateTerms, row.Pooling)
		if seen[key] {
			t.Errorf("%s stands twice: %+v", key, row)
		}
		seen[key] = true
	}
	s := summaries[0]
	if planned != s.Planned || distinct != s.Distinct || s.Planned != int32(len(plan())*4+16) {
		t.Errorf("planned %d of %d, distinct %d of %d", planned, s.Planned, distinct, s.Distinct)
	}
	// Drift 4, first bout 2, pace 2, rate 2 (fewer where no curve shows), poolings 4.
	if most := int32(4*2*2*2*4 + 16); s.Distinct > most || s.Distinct < 4*2*2*4+16 {
		t.Errorf("%d distinct specifications, want %d at most", s.Distinct, most)
	}
}

func TestCurveCountsItsShares(t *testing.T) {
	s := settings()
	rows, summaries, _ := curveSquad(t, s, 6, letters, func(i int, bouts []derive.Bout) {
		for k := range bouts {
			switch {
			case k%7 == 3:
				bouts[k].RepairedLengths = 1
			case k%5 == 2:
				bouts[k].HRSource = "optical"
			case k%11 == 4:
				bouts[k].DurationS = 80
			}
			if i == 1 && k < 20 {
				bouts[k].Basis = study.UnknownBasis
			}
			bouts[k].Lengths = 4 + k%5
			bouts[k].Tags.Kick = []string{"light", "full"}[k%2]
		}
	})
	out := summaries[0]
	var estimates []float64
	below := 0
	for _, row := range rows {
		if row.Estimate == nil {
			t.Errorf("no estimate: %s", *row.Reason)
			continue
		}
		if !(*row.ConfLow <= *row.Estimate && *row.Estimate <= *row.ConfHigh) {
			t.Errorf("%v outside %v to %v", *row.Estimate, *row.ConfLow, *row.ConfHigh)
		}
		estimates = append(estimates, *row.Estimate)
		if *row.ConfHigh < 0 {
			below++
		}
	}
	slices.Sort(estimates)
	if *out.Lowest != estimates[0] || *out.Highest != estimates[len(estimates)-1] || *out.Median != median(estimates) {
		t.Errorf("lowest %v, median %v, highest %v", *out.Lowest, *out.Median, *out.Highest)
	}
	if want := float64(below) / float64(len(estimates)); math.Abs(*out.IntervalBelow-want) > 1e-12 || *out.AboveZero != 0 {
		t.Errorf("intervals below zero %v, want %v; above zero %v", *out.IntervalBelow, want, *out.AboveZero)
	}
	// Every choice but those of the reading matters here.
	if out.Distinct < 200 || out.MovesMost == "" || !(*out.MovesBy > 0) {
		t.Errorf("%d distinct, %q moves it by %v", out.Distinct, out.MovesMost, out.MovesBy)
	}
}

func TestCurveWithoutNamesOrOrder(t *testing.T) {
	one, _, _ := curveSquad(t, settings(), 4, letters, nil)
	other, _, _ := curveSquad(t, settings(), 4, func(i int) string { return fmt.Sprint("z", 9-i) }, nil)
	for i := range one {
		if (one[i].Estimate == nil) != (other[i].Estimate == nil) || one[i].Estimate != nil && (*one[i].Estimate != *other[i].Estimate || *one[i].ConfLow != *other[i].ConfLow) {
			t.Errorf("specification %d differs with the names", one[i].Specification)
		}
	}
}

// A choice that matters is found: bouts of the wrist show an effect that straps
// do not.
func TestCurveNamesWhatMovesItMost(t *testing.T) {
	_, summaries, _ := curveSquad(t, settings(), 5, letters, func(_ int, bouts []derive.Bout) {
		for k := range bouts {
			if k%2 == 0 {
				bouts[k].HRSource = "optical"
				bouts[k].Cost += 90 * (math.Log(bouts[k].StrokeRateSPM) - math.Log(64))
			}
		}
	})
	if got := summaries[0].MovesMost; got != choiceNames()[choiceSource] {
		t.Errorf("%q moves the number most, want the source of heart rates", got)
	}
}

func TestCurveOfTooLittleData(t *testing.T) {
	rows, summaries, _ := curveSquad(t, settings(), 1, letters, nil)
	for _, row := range rows {
		if row.Estimate != nil || row.Reason == nil {
			t.Errorf("one swimmer: %+v", row)
		}
	}
	if summaries[0].Reason == nil || summaries[0].Median != nil {
		t.Errorf("%+v", summaries[0])
	}
}
