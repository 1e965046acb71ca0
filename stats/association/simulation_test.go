package association_test

import (
	"errors"
	"math/rand/v2"
	"testing"

	"lengthwise/stats/association"
	"lengthwise/stats/resample"
)

// TestCoverageWithSharedErrors simulates eight subjects with eight sessions
// of six rows, no correlation, and half of the variance of both columns
// shared within a session. The interval that takes rows as independent covers
// far too little; sessions resampled must come near 0.95 (a percentile
// interval stays a little below). Then the same for one subject with twelve
// sessions, where the warning stops.
func TestCoverageWithSharedErrors(t *testing.T) {
	simulate := func(subjects, sessions, studies int) (resampled, naive float64) {
		r := rand.New(rand.NewPCG(17, uint64(subjects)))
		for study := range studies {
			var d table
			for i := range subjects {
				for s := range sessions {
					sx, sy := r.NormFloat64(), r.NormFloat64()
					for range 6 {
						d.add(i, s, 10*float64(i)+sx+r.NormFloat64(), sy+r.NormFloat64())
					}
				}
			}
			plain, err1 := association.RepeatedMeasures(d.subject, d.x, d.y)
			boot, err2 := association.RepeatedMeasuresResampled(d.subject, d.session, d.x, d.y,
				resample.Options{Replicates: 299, Seed: uint64(study)})
			if err := errors.Join(err1, err2); err != nil {
				t.Fatal(err)
			}
			if len(boot.Warnings) != 0 {
				t.Fatalf("warnings: %q", boot.Warnings)
			}
			if boot.ConfLow <= 0 && 0 <= boot.ConfHigh {
				resampled += 1 / float64(studies)
			}
			if plain.ConfLow <= 0 && 0 <= plain.ConfHigh {
				naive += 1 / float64(studies)
			}
		}
		return resampled, naive
	}
	many, manyNaive := simulate(8, 8, 300)
	one, oneNaive := simulate(1, 12, 400)
	t.Logf("coverage by sessions: 8 subjects %.3f, one %.3f; rows taken as independent %.3f, %.3f", many, one, manyNaive, oneNaive)
	if many < 0.88 || many > 0.98 || one < 0.82 || one > 0.97 {
		t.Errorf("coverage by sessions: 8 subjects %.3f, want 0.88 to 0.98; one %.3f, want 0.82 to 0.97", many, one)
	}
	if manyNaive > 0.85 || oneNaive > 0.85 {
		t.Errorf("rows taken as independent cover %.3f and %.3f: the simulation has no teeth", manyNaive, oneNaive)
	}
}
