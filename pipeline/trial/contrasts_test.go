package trial

import (
	"math"
	"testing"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/schemas"
)

// contrastScore counts what a trial's contrasts in cost say of known truths.
type contrastScore struct {
	swimmers, claimed          int // swimmers with a claim at all
	rows, covered, right, sign int
	wrong                      int
}

// add scores the rows of one scope, tag and adjustment; truth gives the true
// contrast of a level.
func (c *contrastScore) add(rows []schemas.Contrast, scope, tag, adjusted string, truth func(level string) float64) {
	claims := map[string]bool{}
	for _, r := range rows {
		if r.Scope != scope || r.Tag != tag || r.AdjustedFor != adjusted || r.Measure != analyse.MeasureCost || r.Reason != nil {
			continue
		}
		want := truth(r.Level)
		c.rows++
		if *r.ConfLow <= want && want <= *r.ConfHigh {
			c.covered++
		}
		claim := r.Direction == analyse.Higher || r.Direction == analyse.Lower
		claims[r.Swimmer] = claims[r.Swimmer] || claim
		if want != 0 {
			c.sign++
			if claim && (r.Direction == analyse.Higher) == (want > 0) {
				c.right++
			} else if claim {
				c.wrong++
			}
		}
	}
	c.swimmers += len(claims)
	for _, claim := range claims {
		if claim {
			c.claimed++
		}
	}
}

func (c contrastScore) coverage() float64 { return share(c.covered, c.rows) }

// withinErrors checks a coverage of 95 % within three standard errors.
func withinErrors(t *testing.T, what string, coverage float64, n int) {
	t.Helper()
	if margin := 3 * math.Sqrt(0.95*0.05/float64(n)); n == 0 || math.Abs(coverage-0.95) > margin {
		t.Errorf("%s: covered %.3f of %d, want 0.95 within %.3f", what, coverage, n, margin)
	}
}

// Kick set bout by bout, 12 sessions of 12 bouts, bout noise 3 bpm: with no
// effect at most 5 % of swimmers get a claim, with 3 bpm the sign is found.
func TestKickContrasts(t *testing.T) {
	swimmers := 60
	if testing.Short() {
		swimmers = 16
	}
	s := settings()
	s.Analysis.SetBeforehand = []string{analyse.TagKick}
	steps := map[string]float64{"full": 1, "none": -1}
	for _, bpm := range []float64{0, 3} {
		o := runWith(t, squad.KickBar(bpm, 21, swimmers), s)
		var one, all contrastScore
		truth := func(level string) float64 { return bpm * steps[level] }
		one.add(o.Result.Contrasts, analyse.OneSwimmer, analyse.TagKick, "", truth)
		all.add(o.Result.Contrasts, analyse.WholeSquad, analyse.TagKick, "", truth)
		t.Logf("kick %v bpm: %d swimmers, %d with a claim; right %d and wrong %d of %d; covered %.3f of %d; squad right %d of %d",
			bpm, one.swimmers, one.claimed, one.right, one.wrong, one.sign, one.coverage(), one.rows, all.right, all.sign)
		if one.swimmers != swimmers || all.rows != 2 {
			t.Fatalf("judged %d swimmers and %d squad contrasts", one.swimmers, all.rows)
		}
		withinErrors(t, "kick", one.coverage(), one.rows)
		if bpm == 0 && one.claimed > max(2, swimmers/12) {
			t.Errorf("%d of %d swimmers get a claim without an effect", one.claimed, swimmers)
		}
		if bpm != 0 && (share(one.right, one.sign) < 0.9 || one.wrong > 0 || all.right != 2) {
			t.Errorf("right %d, wrong %d of %d; squad right %d", one.right, one.wrong, one.sign, all.right)
		}
	}
}

// The trade's claim put to the test: told to take fewer strokes, the score
// falls; here the cost rises, partly by the kick. The contrast as a whole holds
// both, the one with kick held only the rest.
func TestInstructionContrasts(t *testing.T) {
	swimmers := 40
	if testing.Short() {
		swimmers = 12
	}
	const effect, kicked, kick = -3.0, 0.5, 4.0
	o := runWith(t, squad.InstructionBar(effect, kicked, kick, 22, swimmers), settings())
	slope := effect / math.Log(1.1)
	direct := map[string]float64{"fewest-strokes": slope * math.Log(0.88), "quicker-rate": slope * math.Log(1.12)}
	whole := map[string]float64{"fewest-strokes": direct["fewest-strokes"] + kicked*kick, "quicker-rate": direct["quicker-rate"]}
	var one, held, all contrastScore
	one.add(o.Result.Contrasts, analyse.OneSwimmer, analyse.TagInstruction, "", func(l string) float64 { return whole[l] })
	held.add(o.Result.Contrasts, analyse.OneSwimmer, analyse.TagInstruction, analyse.TagKick, func(l string) float64 { return direct[l] })
	all.add(o.Result.Contrasts, analyse.WholeSquad, analyse.TagInstruction, "", func(l string) float64 { return whole[l] })
	t.Logf("instruction: right %d, wrong %d of %d; covered %.3f of %d as a whole, %.3f of %d with kick held; squad right %d, covered %d of %d",
		one.right, one.wrong, one.sign, one.coverage(), one.rows, held.coverage(), held.rows, all.right, all.covered, all.rows)
	withinErrors(t, "as a whole", one.coverage(), one.rows)
	withinErrors(t, "kick held", held.coverage(), held.rows)
	if share(one.right, one.sign) < 0.9 || one.wrong > 0 || all.right != all.sign {
		t.Errorf("right %d, wrong %d of %d; squad right %d of %d", one.right, one.wrong, one.sign, all.right, all.sign)
	}
	for _, r := range o.Result.Contrasts {
		if r.Scope != analyse.WholeSquad || r.Level != "fewest-strokes" || r.AdjustedFor != "" {
			continue
		}
		if r.Design != string(analyse.Designed) {
			t.Errorf("%s of the instruction is %s", r.Measure, r.Design)
		}
		want := map[string]float64{analyse.MeasureStrokeRate: -12, analyse.MeasureDistancePerStroke: 100 * (1/0.88 - 1), analyse.MeasureFullKick: 100 * kicked}
		if v, ok := want[r.Measure]; ok && math.Abs(*r.Estimate-v) > 1.5 {
			t.Errorf("%s: %.2f, want about %.2f", r.Measure, *r.Estimate, v)
		}
		if r.Measure == analyse.MeasureScore && *r.ConfHigh >= 0 {
			t.Errorf("the score does not fall: %v to %v", *r.ConfLow, *r.ConfHigh)
		}
	}
}
