package trial

import (
	"math"
	"testing"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/schemas"
)

// A published finding, in kind: ten swimmers at one speed with stroke rates of
// 80, 90, 100, 110 and 120 % of the preferred one; lower rates raised heart rate
// by 4 to 6 %, higher ones changed little (McLean, Palmer, Ice, Truijens and Smith
// 2010, Med. Sci. Sports Exerc. 42:1909-1913; abstract). A squad with just that
// response, sessions of 20 bouts of 200 m at one speed, must be read so: dearer
// below the usual rate by about as much, nothing above it, and no straight line
// through both.
func TestALopsidedResponseIsReadBack(t *testing.T) {
	sc := squad.DesignedBar(0, 141, 10)
	sc.SessionsPerSwimmer, sc.BoutsPerSession, sc.DesignedShare = 12, 20, 0.7 // the rest tells the usual rate
	r := lopsidedSquad(t, sc)
	truth := map[float64]float64{80: 100 * at80, 90: 100 * at90, 110: 0, 120: 0}
	seen, covered, swimmers := 0, 0, 0
	for _, row := range r.ByRate {
		if row.Design != string(analyse.Designed) {
			continue
		}
		if row.ChangePct == nil {
			t.Fatalf("%s: no answer at %v %%: %v", row.Scope, row.RatePctOfUsual, *row.Reason)
		}
		want := truth[row.RatePctOfUsual]
		if row.Scope != analyse.WholeSquad {
			swimmers++
			if *row.ChangePctLow-corner <= want && want <= *row.ChangePctHigh+corner {
				covered++
			}
			continue
		}
		seen++
		t.Logf("squad at %v %%: heart rate %+.1f %% (%.1f to %.1f)", row.RatePctOfUsual, *row.ChangePct, *row.ChangePctLow, *row.ChangePctHigh)
		checkLopsided(t, row, want)
	}
	t.Logf("of %d intervals of single swimmers %d hold the truth", swimmers, covered)
	if seen != 4 || swimmers != 40 || covered < 33 {
		t.Errorf("%d rows of the squad; %d of %d intervals of swimmers hold the truth", seen, covered, swimmers)
	}
	// The score calls the lowest rates cheapest; they are the dearest here.
	for _, row := range r.Economical {
		if row.PaceRole == "reference" && row.ScoreAdviceLow != nil && *row.ScoreAdviceHigh < 0 {
			t.Errorf("the score's advice is read as cheaper: %v", *row.ScoreAdviceCost)
		}
	}
}

// corner is what the corner of the response at the usual rate does, in % of heart
// rate: rates are held to 1.5 %, so that half of the bouts set at the usual rate
// pay for being below it (0.2 % on average).
const corner = 0.3

// A study as small as the published one, one session of each swimmer with each
// rate twice: nobody has an answer of their own, and all bouts together answer for
// the squad.
func TestALopsidedResponseIsReadBackFromOneSessionEach(t *testing.T) {
	sc := squad.DesignedBar(0, 142, 10)
	sc.SessionsPerSwimmer, sc.BoutsPerSession = 1, 10
	r := lopsidedSquad(t, sc)
	truth := map[float64]float64{80: 100 * at80, 90: 100 * at90, 110: 0, 120: 0}
	seen := 0
	for _, row := range r.ByRate {
		switch {
		case row.Scope != analyse.WholeSquad && row.Change != nil:
			t.Errorf("a swimmer of one session has a difference of %v at %v %%", *row.Change, row.RatePctOfUsual)
		case row.Scope == analyse.WholeSquad && row.ChangePct == nil:
			t.Errorf("no answer at %v %%: %v", row.RatePctOfUsual, row.Reason)
		case row.Scope == analyse.WholeSquad:
			seen++
			want := truth[row.RatePctOfUsual]
			t.Logf("squad at %v %%: heart rate %+.1f %% (%.1f to %.1f), %s", row.RatePctOfUsual, *row.ChangePct, *row.ChangePctLow, *row.ChangePctHigh, row.Method)
			if row.Method != "one-model" || *row.ChangePctLow-corner > want || *row.ChangePctHigh+corner < want || *row.ChangePctHigh-*row.ChangePctLow > 6 {
				t.Errorf("at %v %%: %.1f to %.1f %%, the truth is %.1f", row.RatePctOfUsual, *row.ChangePctLow, *row.ChangePctHigh, want)
			}
			// With 20 bouts a rate the standard error is about 1 %: enough to see 6 %,
			// not to be sure of 4.
			if row.RatePctOfUsual == 80 && *row.ChangePctLow < 0.5 || row.RatePctOfUsual > 100 && *row.ChangePctLow > 0 {
				t.Errorf("at %v %%: from %.2f %%", row.RatePctOfUsual, *row.ChangePctLow)
			}
		}
	}
	if seen != 4 {
		t.Errorf("%d rows of the squad", seen)
	}
}

// at90 and at80 are how much of the heart rate at the usual rate is added at 90 and
// 80 % of it.
const at90, at80 = 0.04, 0.06

// lopsidedSquad simulates a squad at one speed with the lopsided response, and asks
// it.
func lopsidedSquad(t *testing.T, sc squad.Scenario) analyse.Result {
	t.Helper()
	sc.PaceLevels, sc.BoutNoiseBPM = []float64{0}, 3
	sq := squad.Simulate(sc)
	parts := make([]analyse.Part, len(sq.Swimmers))
	s := settings()
	for i := range sq.Swimmers {
		sw := &sq.Swimmers[i]
		for k := range sw.Sessions {
			for j := range sw.Sessions[k].Bouts {
				b := &sw.Sessions[k].Bouts[j]
				b.ReadingBPM += sw.BaseBPM * lopsided(b.LnRate)
			}
		}
		bouts, err := Bouts(sw, s)
		if err != nil {
			t.Fatal(err)
		}
		parts[i] = analyse.Ask(analyse.Person{}, bouts, s)
	}
	r, err := analyse.Study(parts, s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// checkLopsided holds the squad's number to the truth within its interval, widened
// by the corner.
func checkLopsided(t *testing.T, row schemas.CostByRate, want float64) {
	t.Helper()
	if *row.ChangePctLow-corner > want || *row.ChangePctHigh+corner < want || *row.ChangePctHigh-*row.ChangePctLow > 2.5 {
		t.Errorf("at %v %%: %.2f to %.2f %%, the truth is %.1f", row.RatePctOfUsual, *row.ChangePctLow, *row.ChangePctHigh, want)
	}
	if below := row.RatePctOfUsual < 100; below != (*row.ChangePctLow > 2.5) {
		t.Errorf("at %v %%: from %.2f %%", row.RatePctOfUsual, *row.ChangePctLow)
	}
	if math.Abs(*row.ChangePct) > 1.5 && row.RatePctOfUsual > 100 {
		t.Errorf("at %v %%: %.2f %%, though nothing changes there", row.RatePctOfUsual, *row.ChangePct)
	}
}

// lopsided is the share by which heart rate rises at r = ln(rate/usual): straight
// from nothing at the usual rate through 90 to 80 %, nothing above.
func lopsided(r float64) float64 {
	ninety, eighty := math.Log(0.9), math.Log(0.8)
	switch {
	case r >= 0:
		return 0
	case r >= ninety:
		return at90 * r / ninety
	}
	return at90 + (at80-at90)*(r-ninety)/(eighty-ninety)
}
