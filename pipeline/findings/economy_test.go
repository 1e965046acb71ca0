package findings

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"lengthwise/schemas"

	"pgregory.net/rapid"
)

// namedRate is a row that names a rate.
func namedRate(swimmer string, rate, low, high float64) schemas.EconomicalRate {
	return schemas.EconomicalRate{
		Swimmer: swimmer, Stroke: "freestyle", Design: Designed, PaceRole: roleReference, PaceSPer100M: 81.2, PoolM: f64(25), UsualRateSPM: f64(60.4),
		UsualFrom: "own", RatePctOfUsual: f64(rate), RateSPM: f64(60.4 * rate / 100), ConfLow: f64(low), ConfHigh: f64(high), SetType: setBounded,
		Turn: "minimum", Place: "within", LowSwum: f64(81.2), HighSwum: f64(115.6), Direction: "open",
		ScoreAdvice: f64(81.2), ScoreAdviceCost: f64(21.5), ScoreAdviceLow: f64(17.2), ScoreAdviceHigh: f64(25.8),
		Correction: "instrument", Reliability: f64(0.95), ReliabilityFrom: reliableBounded, Bouts: 63, Sessions: 7,
	}
}

func unnamedRate(swimmer, place, reason string) schemas.EconomicalRate {
	row := namedRate(swimmer, 0, 0, 0)
	row.RatePctOfUsual, row.RateSPM, row.SetType, row.Place, row.Reason = nil, nil, "two-rays", place, str(reason)
	return row
}

func observedRate(swimmer, direction string, slope, low, high float64) schemas.EconomicalRate {
	row := unnamedRate(swimmer, "open", "swum as the swimmer liked: such bouts show a direction at most")
	row.Design, row.SetType, row.Direction = Observed, "none", direction
	row.SlopePer10Pct, row.SlopeLow, row.SlopeHigh = f64(slope), f64(low), f64(high)
	row.Correction, row.Reliability, row.ReliabilityFrom = correctionNone, nil, "unknown"
	row.Warnings = "swum as the swimmer liked: tiredness and mood move rate and heart rate together"
	return row
}

func rateCost(scope, swimmer, design string, percent, change, low, high float64) schemas.CostByRate {
	return schemas.CostByRate{Scope: scope, Swimmer: swimmer, Stroke: "freestyle", Design: design, RatePctOfUsual: percent,
		Change: f64(change), ConfLow: f64(low), ConfHigh: f64(high), ChangePct: f64(change / 1.5), RatesFrom: "set", Bouts: 96, Sessions: 12, Swimmers: 5}
}

// economyKinds is an invented study in which each kind of sentence on rates and
// speed occurs.
func economyKinds() Input {
	slower := namedRate("s1", 98.4, 95, 101.8)
	slower.PaceRole, slower.PaceSPer100M = "slower", 86.9
	open := namedRate("s4", 104.2, 101.1, 131)
	open.ScoreAdviceLow, open.UsualFrom, open.PooledOver = f64(-2.1), usualFromAll, "pool: 25 m 60, 50 m 36"
	empty := rateCost(scopeSwimmer, "s1", Designed, 80, 0, 0, 0)
	empty.Change, empty.ConfLow, empty.ConfHigh, empty.Reason = nil, nil, nil, str("too few bouts at that rate")
	beyond := namedRate("s1", 96.8, 3, 133.5) // says nothing of any rate swum
	beyond.PaceRole, beyond.PaceSPer100M = "quicker", 76.2
	wide := namedRate("s8", 98.4, 33.9, 104.4)
	squadModel := rateCost(scopeSquad, "", Designed, 80, 5.6, -0.6, 11.8)
	squadModel.Method, squadModel.Swimmers, squadModel.BoutsNear = methodOneModel, 23, 146
	return Input{
		Study: smallStudy(),
		Economical: []schemas.EconomicalRate{
			namedRate("s1", 102.5, 100.1, 105.5), slower, beyond, wide,
			namedRate("s2", 103, 101, 105),
			unnamedRate("s3", placeQuickest, "cost still falls at the quickest rate swum: the cheapest lies at or beyond it"),
			unnamedRate("s5", placeSlowest, "cost still falls at the slowest rate swum: the cheapest lies at or beyond it"),
			unnamedRate("s6", "open", "the curve is too flat for its errors: these bouts leave open at which rate it turns"),
			open,
			observedRate("s1", "quicker", -3.4, -5.2, -1.6),
			observedRate("s2", "quicker", -3.4, -5.2, -1.6),
			observedRate("s3", "open", -1.4, -5.2, 2.4),
			observedRate("s5", "slower", 2.2, 0.4, 4),
			observedRate("s7", "slower", 1.4, 0.1, 2.7),
		},
		BySwimmer: []schemas.ScoreBySwimmer{
			row("s1", Observed, RunsAgainst, -3.4, -5.2, -1.6, 0.004),
			row("s2", Observed, RunsAgainst, -3.4, -5.2, -1.6, 0.004),
			row("s5", Observed, Tracks, 2.2, 0.4, 4, 0.03),
			row("s7", Observed, Undecided, 1.4, 0.2, 2.5, 0.054),
		},
		ByRate: []schemas.CostByRate{
			empty, rateCost(scopeSwimmer, "s1", Designed, 90, 6.2, 3.1, 9.3), rateCost(scopeSwimmer, "s1", Designed, 110, -0.4, -2.2, 1.4),
			rateCost(scopeSwimmer, "s2", Observed, 90, 1.2, 0.2, 2.2),
			rateCost(scopeSwimmer, "s7", Observed, 90, -3.3, -5.9, -0.6),
			squadModel,
			rateCost(scopeSquad, "", Designed, 90, 5.6, 1.7, 9.5), rateCost(scopeSquad, "", Designed, 110, -1.8, -4.7, 1.1),
			rateCost(scopeSquad, "", Observed, 90, 1.5, -0.4, 3.4),
		},
		RateLength: []schemas.RateLengthSpeed{
			{Scope: scopeSwimmer, Swimmer: "s1", Stroke: "freestyle", Over: overSessions, RateShare: f64(0.688), RateShareLow: f64(0.422), RateShareHigh: f64(0.954),
				LengthShare: f64(0.312), LengthShareLow: f64(0.046), LengthShareHigh: f64(0.578), SlowestSPer100M: f64(86.6), FastestSPer100M: f64(66.8), Bouts: 129, Sessions: 15, Swimmers: 1},
			{Scope: scopeSwimmer, Swimmer: "s2", Stroke: "freestyle", Over: overSessions, RateShare: f64(1.2), RateShareLow: f64(1.05), RateShareHigh: f64(1.35),
				LengthShare: f64(-0.2), LengthShareLow: f64(-0.35), LengthShareHigh: f64(-0.05), Bouts: 40, Sessions: 6, Swimmers: 1},
			{Scope: scopeSwimmer, Swimmer: "s3", Stroke: "freestyle", Over: overSessions, Reason: str("speed hardly differs between these bouts")},
			{Scope: scopeSquad, Stroke: "freestyle", Over: overSessions, RateShare: f64(0.723), RateShareLow: f64(0.67), RateShareHigh: f64(0.777),
				LengthShare: f64(0.277), LengthShareLow: f64(0.223), LengthShareHigh: f64(0.33), Swimmers: 21, Bouts: 2676},
		},
		Critical: []schemas.CriticalSpeed{
			{Swimmer: "s1", Stroke: "freestyle", CriticalSpeedMPS: f64(1.304), SpeedLowMPS: f64(1.287), SpeedHighMPS: f64(1.321), PaceSPer100M: f64(76.7), Swims: 5,
				Bouts: 230, BoutsAbove: i32(12)},
			{Swimmer: "s2", Stroke: "freestyle", CriticalSpeedMPS: f64(1.333), PaceSPer100M: f64(75), Swims: 2, Bouts: 60, BoutsAbove: i32(0), Warnings: "two swims only: there is no saying how sure it is"},
			{Swimmer: "s3", Stroke: "freestyle", Reason: str("no swim of 200 to 1500 m is noted as maximal")},
		},
		Swimmers: []schemas.Swimmer{{Swimmer: "s1"}, {Swimmer: "s2", RateAlteringMedication: yes()}},
		Bouts:    BoutCounts{Bouts: 700, Usable: 576, Designed: 400, Strap: 576},
	}
}

func i32(n int32) *int32 { return &n }

func TestSentencesOnRatesAndSpeed(t *testing.T) {
	var b strings.Builder
	seen := map[string]bool{}
	for _, f := range Make(economyKinds()) {
		switch f.Question {
		case EconomicalRate, CostByRate, RateLength, CriticalSpeed, Limits:
		default:
			continue
		}
		if seen[f.Finding] {
			t.Errorf("id %q occurs twice", f.Finding)
		}
		seen[f.Finding] = true
		b.WriteString(fmt.Sprintf("%s  [%s, n %d]\n  %s\n", f.Finding, f.Strength, f.N, f.Sentence))
		if f.Caution != nil {
			b.WriteString("  ! " + *f.Caution + "\n")
		}
		if f.Strength != StrengthCosts && causal.MatchString(f.Sentence) {
			t.Errorf("causal word %q in %q", causal.FindString(f.Sentence), f.Sentence)
		}
		if blemish.MatchString(f.Sentence) {
			t.Errorf("%q in %q", blemish.FindString(f.Sentence), f.Sentence)
		}
	}
	golden(t, "rates-and-speed.txt", b.String())
}

func TestMedicationNamesNoRate(t *testing.T) {
	for _, f := range Make(economyKinds()) {
		if f.Swimmer == nil || *f.Swimmer != "s2" || f.Question != EconomicalRate {
			continue
		}
		if f.Design == nil || *f.Design != Designed || f.Estimate != nil || strings.Contains(f.Sentence, "103") || *f.Caution != CautionMedication {
			t.Errorf("%s (%s)", f.Sentence, *f.Caution)
		}
	}
}

// The observed direction goes no further than the swimmer's verdict.
func TestAnUndecidedVerdictGivesNoDirection(t *testing.T) {
	for _, c := range []struct {
		verdict   string
		direction string
		low, high float64
		want      bool
	}{
		{Tracks, "slower", 0.1, 2.7, true},
		{RunsAgainst, "quicker", -2.7, -0.1, true},
		{Undecided, "slower", 0.1, 2.7, false},
		{Undecided, "quicker", -2.7, -0.1, false},
		{RunsAgainst, "slower", 0.1, 2.7, false},
		{Tracks, "quicker", -2.7, -0.1, false},
	} {
		verdict := row("s", Observed, c.verdict, 1.4, 0.1, 2.7, 0.03)
		if c.verdict == RunsAgainst {
			verdict = row("s", Observed, c.verdict, -1.4, -2.7, -0.1, 0.03)
		}
		other := row("s", Designed, Tracks, 1.4, 0.1, 2.7, 0.03) // of other bouts: decides nothing here
		said := false
		for _, f := range Make(Input{Study: smallStudy(), BySwimmer: []schemas.ScoreBySwimmer{other, verdict}, Bouts: BoutCounts{Usable: 1},
			Economical: []schemas.EconomicalRate{observedRate("s", c.direction, (c.low+c.high)/2, c.low, c.high)}}) {
			said = said || f.Question == EconomicalRate && f.Swimmer != nil
		}
		if said != c.want {
			t.Errorf("%s, %s: says a direction: %v", c.verdict, c.direction, said)
		}
	}
}

var (
	namedWords = regexp.MustCompile(`cheapest stroke rate for this swimmer is ([0-9.]+) % of the usual one \(95 % set from (?:([0-9.]+)(?: %)?|below the slowest rate swum \(81\.2 %\)) to (?:([0-9.]+) %|above the quickest rate swum \(115\.6 %\));`)
	scoreWords = regexp.MustCompile(`here ([0-9.]+) % of the usual rate; that costs (under )?([0-9.]+) bpm (more|less)`)
)

// A rate is named where the row names one within a bounded set, and with the
// row's numbers; the score's advice is called dearer or cheaper only where its
// interval leaves out zero.
func TestNamedRatesSayTheirRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := 100 + rapid.Float64Range(-40, 40).Draw(t, "off")*rapid.SampledFrom([]float64{0, 0.1, 1}).Draw(t, "scale")
		r := namedRate("s", rate, rate-rapid.Float64Range(0.1, 30).Draw(t, "down"), rate+rapid.Float64Range(0.1, 30).Draw(t, "up"))
		cost := rapid.Float64Range(-20, 20).Draw(t, "cost")
		half := rapid.Float64Range(0, 20).Draw(t, "half")
		r.ScoreAdviceCost, r.ScoreAdviceLow, r.ScoreAdviceHigh = f64(cost), f64(cost-half), f64(cost+half)
		r.SetType = rapid.SampledFrom([]string{setBounded, "two-rays", "whole-line"}).Draw(t, "set")
		if rapid.Bool().Draw(t, "withheld") {
			r.RatePctOfUsual, r.Reason = nil, str("the curve is too flat")
		}
		in := Input{Study: smallStudy(), Economical: []schemas.EconomicalRate{r}, Bouts: BoutCounts{Usable: 1}}
		var f schemas.Finding
		for _, f = range Make(in) {
			if f.Question == EconomicalRate && f.Swimmer != nil {
				break
			}
		}
		m := namedWords.FindStringSubmatch(f.Sentence)
		if names := r.RatePctOfUsual != nil && r.SetType == setBounded && !(*r.ConfLow < 81.2 && *r.ConfHigh > 115.6); names != (m != nil) || names != (f.Strength == StrengthCosts) {
			t.Fatalf("names %v: %q", names, f.Sentence)
		}
		if m == nil {
			if f.Estimate != nil {
				t.Fatalf("a number without a sentence: %q", f.Sentence)
			}
			return
		}
		for k, v := range []float64{rate, *r.ConfLow, *r.ConfHigh} {
			if k == 1 && v < 81.2 || k == 2 && v > 115.6 { // beyond the rates swum there is no number
				if m[k+1] != "" {
					t.Fatalf("%v lies beyond the rates swum and is printed: %q", v, f.Sentence)
				}
				continue
			}
			if printed, err := strconv.ParseFloat(m[k+1], 64); err != nil || math.Abs(printed-v) > 0.05+1e-9 {
				t.Fatalf("printed %s for %v", m[k+1], v)
			}
		}
		if *f.Estimate != rate || *f.ConfLow != *r.ConfLow || *f.ConfHigh != *r.ConfHigh {
			t.Fatalf("the finding's numbers are not the row's: %+v", f)
		}
		if holds := *r.ConfLow <= 100 && *r.ConfHigh >= 100; holds != strings.Contains(f.Sentence, "no other rate is shown to be cheaper") {
			t.Fatalf("set %v to %v: %q", *r.ConfLow, *r.ConfHigh, f.Sentence)
		}
		said := scoreWords.FindStringSubmatch(f.Sentence)
		if sure := cost-half > 0 || cost+half < 0; sure != (said != nil) {
			t.Fatalf("score's advice from %v to %v: %q", cost-half, cost+half, f.Sentence)
		}
		if said != nil && (said[4] == "more") != (cost > 0) {
			t.Fatalf("%v is called %s", cost, said[4])
		}
	})
}

// Where swimmers differ by no more than their errors, the average's interval is
// not passed off as what another swimmer may expect.
func TestNoSpreadPromisesNothingOfAnotherSwimmer(t *testing.T) {
	contrast := schemas.Contrast{Scope: scopeSquad, Tag: "kick", Estimate: f64(2), PredictLow: f64(0.9), PredictHigh: f64(3.2), Tau2: f64(0)}
	m := maker{Input: Input{Study: smallStudy()}, scale: scaleOf(smallStudy().Cost)}
	for tau2, want := range map[float64]string{0: noSpread, 0.4: " Another swimmer of such a squad may lie anywhere from 0.9 to 3.2 bpm dearer (95 % prediction interval)."} {
		contrast.Tau2 = f64(tau2)
		if got := m.another(contrast); got != want {
			t.Errorf("tau2 %v: %q", tau2, got)
		}
	}
}

// The terminal's list of cautions names nobody, so that none with one swimmer's
// figures, or of bouts that are not in its table, may stand in it.
func TestBriefCautionsAreNobodysOwn(t *testing.T) {
	finding := func(design, caution string) schemas.Finding {
		return schemas.Finding{Question: BySwimmer, Design: &design, Caution: &caution}
	}
	own := "Corrected for counting error (reliability of the stroke rate at a fixed pace at least 0.87)."
	got := briefCautions([]schemas.Finding{
		finding(Observed, own+" Swum as liked."), finding(Observed, own+" Swum as liked."),
		finding(All, "Both together."), finding(All, "Both together."),
	})
	if len(got) != 1 || got[0] != "Swum as liked." {
		t.Errorf("%q", got)
	}
}
