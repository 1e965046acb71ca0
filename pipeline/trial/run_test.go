package trial

import (
	"context"
	"math"
	"testing"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/study"
)

// settings are the study's defaults with fewer resamples: verdicts do not use
// them.
func settings() *study.Study {
	s := study.Default()
	s.Analysis.Resamples, s.Analysis.Permutations = 200, 99
	return s
}

func run(t *testing.T, sc squad.Scenario) Outcome {
	t.Helper()
	return runWith(t, sc, settings())
}

func runWith(t *testing.T, sc squad.Scenario, s *study.Study) Outcome {
	t.Helper()
	o, err := Run(context.Background(), sc, s, 2)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// The bar: effect 3 bpm per 10 % of rate, bout noise 3 bpm, session noise 4
// bpm, rates -20 to +20 %, 12 sessions x 12 bouts, all designed.
func TestDesignedBar(t *testing.T) {
	swimmers, quiet := 60, 200
	if testing.Short() {
		swimmers, quiet = 12, 40
	}
	var effect, nothing Score
	effect.Add(run(t, squad.DesignedBar(3, 1, swimmers)), analyse.Designed, 2)
	effect.Add(run(t, squad.DesignedBar(-3, 2, swimmers)), analyse.Designed, 2)
	nothing.Add(run(t, squad.DesignedBar(0, 3, quiet)), analyse.Designed, 2)

	t.Logf("with an effect (%d swimmers): right %.1f %%, wrong %.1f %%, covered %.1f %%", effect.WithEffect,
		100*effect.RightShare(), 100*effect.WrongShare(), 100*effect.Coverage())
	t.Logf("without (%d): p below 0.05 in %.1f %%, false %.1f %%, practically none %d, covered %.1f %%, concordance %.4f", nothing.WithoutEffect,
		100*nothing.SignalShare(), 100*nothing.FalseShare(), nothing.None, 100*nothing.Coverage(), nothing.Concordance())

	if effect.WithEffect != 2*swimmers || nothing.WithoutEffect != quiet {
		t.Fatalf("judged %d and %d swimmers, want %d and %d", effect.WithEffect, nothing.WithoutEffect, 2*swimmers, quiet)
	}
	if effect.RightShare() < 0.9 {
		t.Errorf("right verdicts: %.3f, want 0.9 or more", effect.RightShare())
	}
	if effect.WrongShare() > 0.01 {
		t.Errorf("verdicts the wrong way: %.3f, want under 0.01", effect.WrongShare())
	}
	if nothing.FalseShare() > 0.05 {
		t.Errorf("false verdicts: %.3f, want under 0.05", nothing.FalseShare())
	}
	// 200 tests at 5 %: three standard errors are 4.6 points.
	if p := nothing.SignalShare(); !testing.Short() && p > 0.096 {
		t.Errorf("p below 0.05 in %.3f of swimmers without an effect", p)
	}
	if c := nothing.Concordance(); !testing.Short() && (c < 0.49 || c > 0.51) {
		t.Errorf("concordance where nothing is there: %.4f, want 0.49 to 0.51", c)
	}
	// 320 intervals of 95 %: three standard errors are 3.7 points.
	all := effect
	all.Swimmers, all.Covered = effect.Swimmers+nothing.Swimmers, effect.Covered+nothing.Covered
	if c := all.Coverage(); !testing.Short() && (c < 0.913 || c > 0.987) {
		t.Errorf("intervals cover the truth in %.3f of %d, want 0.95 within three standard errors", c, all.Swimmers)
	}
}

// A study as small and noisy as many will be: eight sessions of eight bouts,
// bout noise 5 bpm. Verdicts may stay open; they may not be wrong.
func TestSmallNoisyStudies(t *testing.T) {
	swimmers := 100
	if testing.Short() {
		swimmers = 30
	}
	small := func(effect float64, seed uint64) squad.Scenario {
		sc := squad.DesignedBar(effect, seed, swimmers)
		sc.SessionsPerSwimmer, sc.BoutsPerSession, sc.BoutNoiseBPM = 8, 8, 5
		return sc
	}
	var effect, nothing Score
	effect.Add(run(t, small(3, 11)), analyse.Designed, 2)
	nothing.Add(run(t, small(0, 12)), analyse.Designed, 2)
	t.Logf("small and noisy: right %.1f %%, wrong %.1f %%, covered %.1f %% (%d); without an effect p below 0.05 in %.1f %%, false %.1f %%; too little data %d and %d",
		100*effect.RightShare(), 100*effect.WrongShare(), 100*effect.Coverage(), effect.Swimmers,
		100*nothing.SignalShare(), 100*nothing.FalseShare(), effect.TooLittle, nothing.TooLittle)
	if effect.WrongShare() > 0.01 || nothing.FalseShare() > 0.05 {
		t.Errorf("wrong way %.3f, false %.3f", effect.WrongShare(), nothing.FalseShare())
	}
	if c := effect.Coverage(); !testing.Short() && (c < 0.88 || nothing.SignalShare() > 0.115) {
		t.Errorf("covered %.3f; p below 0.05 without an effect in %.3f", c, nothing.SignalShare())
	}
}

// Observed bouts under fatigue that differs by session mislead any model: that
// is why they earn "goes together with" alone. The trial must see it, or it
// would see nothing.
func TestFatigueMisleadsObservedBouts(t *testing.T) {
	swimmers := 60
	if testing.Short() {
		swimmers = 20
	}
	var observed, designed Score
	observed.Add(run(t, squad.ObservedFatigue(0, 10, 4, swimmers)), analyse.Observed, 2)
	sc := squad.DesignedBar(0, 4, swimmers)
	sc.FatigueSDBPM, sc.FatigueRatePerBPM = 10, 0.006
	designed.Add(run(t, sc), analyse.Designed, 2)
	t.Logf("under fatigue: observed intervals cover the truth in %.1f %% and give %.1f %% false verdicts, designed ones in %.1f %% and give %.1f %%",
		100*observed.Coverage(), 100*observed.FalseShare(), 100*designed.Coverage(), 100*designed.FalseShare())
	if designed.FalseShare() > 0.05 || designed.Coverage() < 0.85 {
		t.Errorf("designed bouts: %.3f false, %.3f covered", designed.FalseShare(), designed.Coverage())
	}
	if observed.Coverage() > designed.Coverage()-0.1 {
		t.Errorf("observed intervals cover in %.3f, designed ones in %.3f: the simulated fatigue does nothing", observed.Coverage(), designed.Coverage())
	}
}

// Swimmers whose usual rate is near the cheapest one, which moves with pace: the
// slope at the usual rate is still covered, and none is called practically none
// where 10 % to either side is dearer than the smallest effect.
func TestBestRatesThatMoveWithPace(t *testing.T) {
	swimmers := 100
	if testing.Short() {
		swimmers = 30
	}
	var score Score
	o := run(t, squad.BestRateBar(7, swimmers))
	score.Add(o, analyse.Designed, 2)
	none := 0
	for _, row := range o.Result.BySwimmer {
		if row.Verdict == string(analyse.PracticallyNone) {
			none++
		}
	}
	t.Logf("best rates: covered %.1f %% of %d, wrong way %.1f %%, called practically none %d", 100*score.Coverage(), score.Swimmers, 100*score.WrongShare(), none)
	if score.Coverage() < 0.85 || none > swimmers/20 {
		t.Errorf("covered %.3f, want 0.85 or more; %d of %d called practically none", score.Coverage(), none, swimmers)
	}
}

// With lengths, counting errors and heart-rate samples the same stages run as
// on files; the effect must still come through.
func TestWholeRecordingsComeThrough(t *testing.T) {
	sc := squad.DesignedBar(-4, 5, 6)
	sc.HeartRate, sc.Kinetics, sc.LengthDetail = squad.HeartRateSamples, true, true
	sc.ReadingNoiseBPM, sc.WanderBPM = 0.8, 1.2
	sc.HandCount = squad.CountError{MissPerStroke: 0.01, AddPerStroke: 0.01}
	o := run(t, sc)
	for i := range o.Squad.Swimmers {
		bouts, err := Bouts(&o.Squad.Swimmers[i], settings())
		if err != nil {
			t.Fatal(err)
		}
		worst := 0.0
		for k, truth := range o.Squad.Swimmers[i].Sessions[0].Bouts {
			b := bouts[k]
			if b.DistanceM != truth.DistanceMetres {
				t.Fatalf("bout %d is of %v m, swum were %v", k+1, b.DistanceM, truth.DistanceMetres)
			}
			if b.HRMethod != "kinetics" {
				t.Errorf("bout %d of %.0f s has heart rate by %q", k+1, b.DurationS, b.HRMethod)
			}
			worst = math.Max(worst, math.Abs(b.HRSteadyBPM-truth.SteadyBPM))
		}
		if worst > 4 {
			t.Errorf("steady heart rate is up to %.1f bpm off the truth", worst)
		}
	}
	var score Score
	score.Add(o, analyse.Designed, 2)
	if score.Right != 6 {
		t.Errorf("%d right verdicts of 6", score.Right)
	}
}

func TestRunIsTheSameForAnyWorkers(t *testing.T) {
	sc := squad.DesignedBar(3, 6, 8)
	one, err := Run(context.Background(), sc, settings(), 1)
	if err != nil {
		t.Fatal(err)
	}
	four, err := Run(context.Background(), sc, settings(), 4)
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range one.Result.BySwimmer {
		if *row.EffectPer10Pct != *four.Result.BySwimmer[i].EffectPer10Pct || *row.ConcordanceLow != *four.Result.BySwimmer[i].ConcordanceLow {
			t.Errorf("swimmer %d differs between 1 and 4 workers", i)
		}
	}
}

func TestScenarioThatCannotBeIsRefused(t *testing.T) {
	sc := squad.DesignedBar(3, 1, 2)
	sc.BoutNoiseBPM = -1
	if _, err := Run(context.Background(), sc, settings(), 1); err == nil {
		t.Error("a negative noise was simulated")
	}
}

func BenchmarkDesignedSwimmer(b *testing.B) {
	s := study.Default()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Run(context.Background(), squad.DesignedBar(3, 1, 1), s, 1); err != nil {
			b.Fatal(err)
		}
	}
}
