package analyse

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lengthwise/pipeline/derive"
	"lengthwise/schemas"
)

// tagged is a swimmer's bouts with a tag dealt over them.
func tagged(w world, set func(b *derive.Bout, session, bout int)) []derive.Bout {
	bouts := w.swim()
	for i := range bouts {
		set(&bouts[i], i/w.bouts, i%w.bouts)
	}
	return bouts
}

// table is the contrasts table of one swimmer.
func table(t *testing.T, contrasts []Contrast) []schemas.Contrast {
	t.Helper()
	rows, err := ContrastTable(contrasts, settings())
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func find(rows []schemas.Contrast, scope, tag, level, measure, adjusted string) *schemas.Contrast {
	for i := range rows {
		r := &rows[i]
		if r.Scope == scope && r.Tag == tag && r.Level == level && r.Measure == measure && r.AdjustedFor == adjusted {
			return r
		}
	}
	return nil
}

// dealt shuffles three levels over a session's bouts, the same for each world.
func dealt(session, bout, levels int) int {
	stream := rand.New(rand.NewPCG(uint64(session), 9))
	order := stream.Perm(12)
	return order[bout%12] % levels
}

// TestContrastExact: without noise the model gives the truth, in every measure.
func TestContrastExact(t *testing.T) {
	w := usual()
	w.noise, w.effect, w.rate = 0.001, 0, 0.001
	kicks := []string{"light", "full", "none"}
	bouts := tagged(w, func(b *derive.Bout, session, bout int) {
		k := dealt(session, bout, 3)
		b.Tags.Kick = kicks[k]
		shift := []float64{0, 5, -4}[k]
		b.Cost += shift
		rate := []float64{1, 1.10, 0.95}[k]
		b.StrokeRateSPM *= rate
		b.Strokes25 *= rate
		b.DistancePerStrokeM /= rate
		b.Score25 = b.Strokes25 + 25/b.SpeedMPS
	})
	rows := table(t, Contrasts(bouts, settings()))
	cases := []struct {
		level, measure string
		want, within   float64
	}{
		{"full", MeasureCost, 5, 0.01}, {"none", MeasureCost, -4, 0.01},
		{"full", MeasureStrokeRate, 10, 0.1}, {"none", MeasureStrokeRate, -5, 0.1},
		{"full", MeasureDistancePerStroke, 100 * (1/1.1 - 1), 0.1},
		{"full", MeasureScore, 2.1, 0.3}, // a tenth of about 21 strokes
	}
	for _, c := range cases {
		r := find(rows, OneSwimmer, TagKick, c.level, c.measure, "")
		if r == nil || r.Estimate == nil || math.Abs(*r.Estimate-c.want) > c.within {
			t.Errorf("%s, %s: %+v, want %v", c.level, c.measure, r, c.want)
			continue
		}
		if r.Reference != "light" || r.Design != string(Observed) || r.Sessions != 8 || r.FamilySize != 2 || *r.PHolm < *r.PValue {
			t.Errorf("%s, %s: %+v", c.level, c.measure, r)
		}
		if !strings.Contains(r.Warnings, "not set beforehand") || r.RobustnessValue == nil {
			t.Errorf("%s, %s: an observed contrast without its warning or robustness: %+v", c.level, c.measure, r)
		}
	}
	if r := find(rows, OneSwimmer, TagKick, "full", MeasureCost, ""); r.Direction != Higher {
		t.Errorf("direction %s", r.Direction)
	}
	planned := settings()
	planned.Analysis.SetBeforehand = []string{TagKick}
	for _, c := range Contrasts(bouts, planned) {
		if c.Row.Design != string(Designed) || c.Row.RobustnessValue != nil || strings.Contains(c.Row.Warnings, "not set beforehand") {
			t.Errorf("set beforehand: %+v", c.Row)
		}
	}
}

// TestContrastsRefused: what looks like a contrast and is none.
func TestContrastsRefused(t *testing.T) {
	w := usual()
	cases := []struct {
		name   string
		set    func(b *derive.Bout, session, bout int)
		reason string
	}{
		{"one level a session", func(b *derive.Bout, session, _ int) { b.Tags.Equipment = []string{"", "paddles"}[session%2] }, "-"},
		{"one level in all", func(b *derive.Bout, _, _ int) { b.Tags.Equipment = "paddles" }, "-"},
		{"second half", func(b *derive.Bout, _, bout int) {
			if bout > 4 {
				b.Tags.Equipment = "paddles"
			}
		}, "come first or last"},
		{"too few sessions", func(b *derive.Bout, session, bout int) {
			if session < 3 && dealt(session, bout, 2) == 1 {
				b.Tags.Equipment = "paddles"
			}
		}, "degrees of freedom"},
		{"a pace of its own", func(b *derive.Bout, session, bout int) {
			if dealt(session, bout, 2) == 1 {
				b.Tags.Equipment = "paddles"
				b.SpeedMPS *= 1.4
			}
		}, "a pace of their own"},
		{"a number", func(b *derive.Bout, session, bout int) {
			b.Labels = []derive.Label{{Key: "water_temp", Value: fmt.Sprint(20 + (session+bout)%9)}}
		}, "-"},
		{"a sentence", func(b *derive.Bout, session, bout int) {
			if dealt(session, bout, 2) == 1 {
				b.Labels = []derive.Label{{Key: "mood", Value: "felt good, though the lane was crowded and cold"}}
			}
		}, "-"},
	}
	for _, c := range cases {
		rows := table(t, Contrasts(tagged(w, c.set), settings()))
		if c.reason == "-" {
			if len(rows) > 0 {
				t.Errorf("%s: %+v", c.name, rows[0])
			}
			continue
		}
		for _, r := range rows {
			if r.Scope == OneSwimmer && (r.Reason == nil || !strings.Contains(*r.Reason, c.reason) || r.Direction != tooLittle || r.PHolm != nil) {
				t.Errorf("%s, %s: %+v, reason %v", c.name, r.Measure, r, r.Reason)
			}
		}
		if len(rows) == 0 {
			t.Errorf("%s: no rows", c.name)
		}
	}
}

// TestInstructionIsReadWithItsKick: the same bouts with and without kick as a
// term, and the kick itself beside them.
func TestInstructionIsReadWithItsKick(t *testing.T) {
	w := usual()
	w.effect, w.noise = 0, 0.5
	bouts := tagged(w, func(b *derive.Bout, session, bout int) {
		b.Tags.Instruction, b.Tags.Kick = "usual", "light"
		if dealt(session, bout, 2) == 1 {
			b.Tags.Instruction = "fewest-strokes"
			if (session+bout)%2 == 0 {
				b.Tags.Kick = "full"
				b.Cost += 6
			}
		}
	})
	rows := table(t, Contrasts(bouts, settings()))
	whole, held := find(rows, OneSwimmer, TagInstruction, "fewest-strokes", MeasureCost, ""), find(rows, OneSwimmer, TagInstruction, "fewest-strokes", MeasureCost, TagKick)
	kick := find(rows, OneSwimmer, TagInstruction, "fewest-strokes", MeasureFullKick, "")
	if whole == nil || held == nil || kick == nil {
		t.Fatal("a row is missing")
	}
	if math.Abs(*whole.Estimate-3) > 1 || math.Abs(*held.Estimate) > 1 || math.Abs(*kick.Estimate-50) > 15 {
		t.Errorf("whole %.2f, kick held %.2f, full kick %.1f points", *whole.Estimate, *held.Estimate, *kick.Estimate)
	}
	if whole.Design != string(Designed) || held.Direction != NotClaimed || held.FamilySize != 0 || held.PHolm != nil {
		t.Errorf("whole %+v\nheld %+v", whole, held)
	}
}

// TestBreathingIsShownAndNoMore holds what may never be shown or claimed, for
// swimmers of any age and bouts of any patterns.
func TestBreathingIsShownAndNoMore(t *testing.T) {
	w := usual()
	w.sessions = 7
	shown := 0
	rapid.Check(t, func(t *rapid.T) {
		patterns := rapid.SliceOfN(rapid.SampledFrom([]float64{2, 3, 4, 5, 7, 9}), 2, 4).Draw(t, "patterns")
		birth := rapid.SampledFrom([]int{0, 1990, 2007, 2008, 2009, 2012, -1}).Draw(t, "birth year")
		weight := rapid.IntRange(1, 3).Draw(t, "first")
		bouts := tagged(w, func(b *derive.Bout, session, bout int) {
			b.LocalDate = "2026-11-30"
			k := dealt(session, bout, len(patterns)+weight)
			b.Tags.Breathing = patterns[max(0, k-weight)]
			b.Labels = []derive.Label{{Key: "breath_hold", Value: []string{"yes", "no"}[k%2]}, {Key: "mode", Value: []string{"hypoxic", "free"}[k%2]}}
		})
		usualPattern := usualBreathing(pointers(bouts))
		contrasts := append(Contrasts(bouts, settings()), Breathing(Person{BirthYear: birth}, bouts, settings())...)
		rows, err := ContrastTable(contrasts, settings())
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			if r.Tag != TagBreathing {
				t.Fatalf("a contrast of %s, %s", r.Tag, r.Level)
			}
			shown++
			var strokes float64
			if _, err := fmt.Sscanf(r.Level, "%g strokes a breath", &strokes); err != nil {
				t.Fatal(err)
			}
			switch {
			case birth <= 0 || birth > 2007:
				t.Fatalf("born %d, on 2026-11-30: shown", birth)
			case strokes > usualPattern:
				t.Fatalf("%s is sparser than the usual %v", r.Level, usualPattern)
			case r.PValue != nil || r.PHolm != nil || r.Statistic != nil || r.Direction != NotClaimed || r.Scope != OneSwimmer:
				t.Fatalf("something is claimed: %+v", r)
			case !strings.HasPrefix(r.Warnings, BreathingCaution):
				t.Fatalf("without its caution: %q", r.Warnings)
			case r.Design != string(Observed):
				t.Fatalf("design %s", r.Design)
			case int(r.N) > countAtMost(bouts, usualPattern):
				t.Fatalf("%d bouts in the model, %d at least as frequent as the usual pattern", r.N, countAtMost(bouts, usualPattern))
			}
		}
	})
	if shown == 0 {
		t.Error("nothing was ever shown: the test saw nothing")
	}
}

func countAtMost(bouts []derive.Bout, strokes float64) int {
	n := 0
	for i := range bouts {
		if bouts[i].Tags.Breathing <= strokes {
			n++
		}
	}
	return n
}

func pointers(bouts []derive.Bout) []*derive.Bout {
	out := make([]*derive.Bout, len(bouts))
	for i := range bouts {
		out[i] = &bouts[i]
	}
	return out
}

// TestContrastOrderOfSwimmers: the squad's rows do not hang on whose name comes
// first.
func TestContrastOrderOfSwimmers(t *testing.T) {
	var contrasts, reversed []Contrast
	for k := range 16 {
		w := usual()
		w.seed, w.swimmer = uint64(40+k), fmt.Sprint("s", k)
		contrasts = append(contrasts, Contrasts(tagged(w, func(b *derive.Bout, session, bout int) {
			b.Tags.Kick = []string{"light", "full"}[dealt(session, bout, 2)]
		}), settings())...)
	}
	for i := range contrasts {
		reversed = append(reversed, contrasts[len(contrasts)-1-i])
	}
	one, two := table(t, contrasts), table(t, reversed)
	for _, r := range one {
		// Swimmers who differ by chance alone: what their errors explain is no
		// spread between them.
		if r.Scope == WholeSquad && r.Measure == MeasureCost && *r.I2 > 50 {
			t.Errorf("%.0f %% of the variance is between swimmers who are all alike", *r.I2)
		}
	}
	squad := func(rows []schemas.Contrast) (out string) {
		for _, r := range rows {
			if r.Scope == WholeSquad {
				out += fmt.Sprintln(r.Measure, *r.Estimate, *r.ConfLow, *r.ConfHigh, *r.PHolm, r.Swimmers, r.N)
			}
		}
		return out
	}
	if squad(one) != squad(two) || squad(one) == "" {
		t.Errorf("got\n%s\nthe other way round\n%s", squad(one), squad(two))
	}
}
