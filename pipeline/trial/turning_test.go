package trial

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/study"
)

// oneInTwelve is an error of one stroke in twelve.
const oneInTwelve = 1.0 / 12

// miscounted makes every bout's count wrong by one stroke in twelve (standard
// deviation), the same for all its lengths: what averages out least.
func miscounted(sc squad.Scenario) squad.Scenario {
	sc.HandCount.BoutSD = oneInTwelve
	return sc
}

// miscountedByLength misses one stroke in 24 and counts one in 24 twice, each by
// itself: 1.1 strokes on 16, one in fourteen, in a length.
func miscountedByLength(sc squad.Scenario) squad.Scenario {
	sc.HandCount = squad.CountError{MissPerStroke: oneInTwelve / 2, AddPerStroke: oneInTwelve / 2}
	return sc
}

// The bar: sets of turning points hold the cheapest rate in 93 to 97 % of all
// swimmers and paces, whatever the set's shape: cheapest rates that move with
// pace, valleys from sharp to flat, counts that are wrong by one stroke in
// twelve, studies small and large. 95 % within three standard errors of so many
// swimmers passes (the three paces of one share their errors); with
// LENGTHWISE_LONG set there are enough for the bar itself, and testdata/turning.md
// keeps what they gave.
func TestTurningPointSetsCover(t *testing.T) {
	flat := func(sc squad.Scenario, bpm float64) squad.Scenario { sc.BestCurveBPM = bpm; return sc }
	small := func(sc squad.Scenario) squad.Scenario {
		sc.SessionsPerSwimmer, sc.BoutsPerSession, sc.BoutNoiseBPM = 8, 8, 5
		return sc
	}
	far := func(sc squad.Scenario) squad.Scenario { sc.BestShift, sc.BestSD = 2, 0.1; return sc }
	half := func(sc squad.Scenario) squad.Scenario { sc.DesignedShare, sc.SessionsPerSwimmer = 0.5, 20; return sc }
	told := func(sc squad.Scenario) squad.Scenario { sc.InstructionShare = 1; return sc }
	swimmers, low, high := 100, 0.885, 1.0
	switch long := os.Getenv("LENGTHWISE_LONG") != ""; {
	case long:
		swimmers, low, high = 500, 0.93, 0.98
	case testing.Short():
		swimmers, low = 25, 0.82
	}
	bar := func(seed uint64) squad.Scenario { return squad.BestRateBar(seed, swimmers) }
	cases := []struct {
		name         string
		sc           squad.Scenario
		plainCovers  float64 // at most, where counting error ruins it; 0 where it does not
		fewestOfThem float64 // share of swimmers and paces with a rate named, at least
	}{
		{"valley of 3 bpm at 10 %", bar(101), 0, 0.9},
		{"valley of 0.8 bpm", flat(bar(102), 0.8), 0, 0.8},
		{"valley of 0.15 bpm", flat(bar(103), 0.15), 0, 0},
		{"8 sessions of 8 bouts, noise 5 bpm", small(bar(104)), 0, 0.8},
		{"the same, valley of 0.8 bpm", flat(small(bar(105)), 0.8), 0, 0},
		{"cheapest rates far from usual, moving far", far(bar(106)), 0, 0.5},
		{"half of the sessions as the swimmers like", half(bar(107)), 0, 0.9},
		{"told instead of set", told(bar(108)), 0, 0.8},
		{"counts wrong by one in twelve, bout by bout", miscounted(bar(109)), 0.75, 0.8},
		{"the same, 8 sessions of 8 bouts, noise 5 bpm", miscounted(small(bar(110))), 0.9, 0.2},
		{"counts wrong length by length", miscountedByLength(bar(111)), 0, 0.9},
	}
	var all Turning
	var table strings.Builder
	fmt.Fprintf(&table, "# Sets of turning points against the truth\nSimulated: %d swimmers a row, all with a cheapest rate that moves with pace, at three paces each; rates set from -20 to +20 %% of usual, 12 sessions of 12 bouts of 200 m, bout noise 3 and session noise 4 bpm, unless the row says otherwise. *covered* is the share of all 95 %% sets, of whatever shape, that hold the true cheapest rate; *plain* without correction for counting error; *error* the root mean square error of the rates named, in %% of the usual rate. Made by `LENGTHWISE_LONG=1 go test ./pipeline/trial -run TestTurningPointSetsCover -update`.\n\n| squad | covered | plain | bounded | named | named ones covered | error |\n|---|---|---|---|---|---|---|\n", swimmers)
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			o := run(t, c.sc)
			var score Turning
			for _, role := range []string{"reference", "slower", "quicker"} {
				score.Add(o, role)
				all.Add(o, role)
			}
			fmt.Fprintf(&table, "| %s | %.1f %% | %.1f %% | %.0f %% | %.0f %% | %.1f %% | %.1f |\n", c.name, 100*score.Coverage(), 100*score.PlainCoverage(),
				100*share(score.Bounded, score.Sets), 100*share(score.Named, score.Sets), 100*share(score.NamedCovered, score.Named), score.Error())
			t.Logf("%d sets cover in %.1f %%, plain ones in %.1f %%; %d bounded, %d named, those cover in %.1f %%, error %.1f %% of usual",
				score.Sets, 100*score.Coverage(), 100*score.PlainCoverage(), score.Bounded, score.Named, 100*share(score.NamedCovered, score.Named), score.Error())
			if score.Sets < 2*swimmers {
				t.Errorf("only %d sets for %d swimmers", score.Sets, swimmers)
			}
			if v := score.Coverage(); v < low || v > high {
				t.Errorf("covered %.3f, want %.3f to %.3f", v, low, high)
			}
			if c.plainCovers > 0 && score.PlainCoverage() > c.plainCovers {
				t.Errorf("plain sets cover %.3f: the simulated counting error does nothing", score.PlainCoverage())
			}
			if v := share(score.Named, score.Sets); v < c.fewestOfThem {
				t.Errorf("a rate is named in %.3f of the cases, want %.2f", v, c.fewestOfThem)
			}
		})
	}
	t.Logf("all %d sets cover in %.1f %%", all.Sets, 100*all.Coverage())
	if swimmers < 500 {
		return
	}
	if v := all.Coverage(); v < 0.93 || v > 0.97 {
		t.Errorf("all sets together cover %.3f, want 0.93 to 0.97", v)
	}
	fmt.Fprintf(&table, "\nAll sets together: %.1f %%.\n", 100*all.Coverage())
	checkTable(t, "turning.md", table.String())
}

// Where cost rises or falls throughout there is no cheapest rate to name, and
// where it does not depend on the rate at all hardly one is named.
func TestNoCheapestRateWhereThereIsNone(t *testing.T) {
	swimmers := 60
	if testing.Short() {
		swimmers = 15
	}
	for _, effect := range []float64{3, -3, 0} {
		o := run(t, squad.DesignedBar(effect, 121, swimmers))
		named, wrong, right := 0, 0, 0
		for _, row := range o.Result.Economical {
			if row.PaceRole != "reference" {
				continue
			}
			if row.RatePctOfUsual != nil {
				named++
			}
			switch {
			case effect > 0 && row.Place == "at-or-beyond-slowest", effect < 0 && row.Place == "at-or-beyond-quickest":
				right++
			case effect > 0 && row.Place == "at-or-beyond-quickest", effect < 0 && row.Place == "at-or-beyond-slowest":
				wrong++
			}
		}
		t.Logf("effect %v: named %d, right end %d, wrong end %d of %d", effect, named, right, wrong, swimmers)
		if wrong > 0 || effect != 0 && (named > swimmers/20 || right < swimmers*9/10) || effect == 0 && named > swimmers/6 {
			t.Errorf("effect %v: named %d, right end %d, wrong end %d of %d", effect, named, right, wrong, swimmers)
		}
	}
}

// Slopes under counts that are wrong by one stroke in twelve: the plain ones are
// too flat and their intervals miss, the corrected ones hold.
func TestSlopesUnderCountingError(t *testing.T) {
	swimmers := 100
	if testing.Short() {
		swimmers = 20
	}
	observed := squad.ObservedFatigue(3, 0, 134, swimmers)
	observed.OwnRateSD = 0.1
	stated := settings()
	stated.Analysis.CountErrorBout = oneInTwelve
	cases := []struct {
		name   string
		sc     squad.Scenario
		s      *study.Study
		design analyse.Design
		covers bool // the headline is to cover
	}{
		{"rates set, the error not stated", miscounted(squad.DesignedBar(3, 131, swimmers)), settings(), analyse.Designed, true},
		{"rates set, no effect", miscounted(squad.DesignedBar(0, 132, swimmers)), settings(), analyse.Designed, true},
		{"observed, the error stated", miscounted(observed), stated, analyse.Observed, true},
		{"observed, the error not stated", miscounted(observed), settings(), analyse.Observed, false},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			o, err := Run(context.Background(), c.sc, c.s, 2)
			if err != nil {
				t.Fatal(err)
			}
			var score Score
			score.Add(o, c.design, 2)
			plain, corrected, freed := 0, 0, 0
			truth := trueEffects(o)
			for _, row := range o.Result.BySwimmer {
				if row.Design != string(c.design) {
					continue
				}
				e := truth[row.Swimmer]
				if *row.EffectPlainLow <= e && e <= *row.EffectPlainHigh {
					plain++
				}
				if row.EffectCorrected != nil {
					freed++
					if *row.EffectCorrectedLow <= e && e <= *row.EffectCorrectedHigh {
						corrected++
					}
				}
			}
			t.Logf("of %d swimmers plain intervals cover in %.1f %%, the %d corrected in %.1f %%; right %.1f %%, wrong way %.1f %%, false %.1f %%, practically none %d",
				score.Swimmers, 100*share(plain, score.Swimmers), freed, 100*share(corrected, freed), 100*score.RightShare(), 100*score.WrongShare(), 100*score.FalseShare(), score.None)
			low := 0.88
			if testing.Short() {
				low = 0.8
			}
			if c.covers && (share(corrected, freed) < low || freed < swimmers*7/10) {
				t.Errorf("%d corrected intervals cover in %.3f", freed, share(corrected, freed))
			}
			if !c.covers && freed > 0 && share(corrected, freed) > 0.5 {
				t.Errorf("counts taken for exact cover in %.3f: the error does nothing", share(corrected, freed))
			}
			if score.WithEffect > 0 && plain > swimmers/2 {
				t.Errorf("plain intervals cover %d of %d: the error does nothing", plain, swimmers)
			}
			if c.design == analyse.Designed && (score.WithEffect > 0 && score.RightShare() < 0.9 || score.WrongShare() > 0.01 || score.FalseShare() > 0.05) {
				t.Errorf("right %.3f, wrong way %.3f, false %.3f", score.RightShare(), score.WrongShare(), score.FalseShare())
			}
		})
	}
}
