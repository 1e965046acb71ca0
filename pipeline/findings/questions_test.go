package findings

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"lengthwise/schemas"

	"pgregory.net/rapid"
)

func contrastRow(tag, level, reference, measure, design string, e, low, high, p float64, direction string) schemas.Contrast {
	return schemas.Contrast{Scope: "swimmer", Swimmer: "s1", Stroke: "freestyle", Design: design, Tag: tag, Level: level, Reference: reference,
		Measure: measure, Unit: "bpm", Estimate: f64(e), ConfLow: f64(low), ConfHigh: f64(high), PHolm: f64(p), PValue: f64(p / 2), FamilySize: 2,
		Direction: direction, N: 60, NLevel: 20, NReference: 21, Sessions: 7, Swimmers: 1}
}

// ofSquad makes a row the squad's.
func ofSquad(r schemas.Contrast, low, high float64) schemas.Contrast {
	r.Scope, r.Swimmer, r.Swimmers, r.PredictLow, r.PredictHigh = "squad", "", 14, f64(low), f64(high)
	return r
}

// everyQuestion is an invented study with each kind of sentence about
// contrasts, changes and days.
func everyQuestion() Input {
	held := contrastRow("instruction", "fewest-strokes", "usual", "cost", Designed, 2.1, 0.2, 4.0, 0.03, "not-claimed")
	held.AdjustedFor, held.PHolm = "kick", nil
	observed := contrastRow("kick", "full", "light", "cost", Observed, 3.04, 1.2, 4.9, 0.004, "higher")
	observed.RobustnessValue = f64(0.123)
	observed.Warnings = "not set beforehand, as far as the study file says: what moved it may have moved the rest"
	thin := contrastRow("kick", "none", "light", "cost", Observed, -1, -9, 7, 1, "too-little-data")
	thin.Reason, thin.Swimmer = str("2.10 degrees of freedom, fewer than 4"), "s4"
	breathing := contrastRow("breathing", "2 strokes a breath", "3 strokes a breath", "cost", Observed, -1.21, -3.0, 0.6, 0, "not-claimed")
	breathing.PHolm, breathing.PValue, breathing.Warnings = nil, nil, "heart rate is not a valid cost for breath patterns: breath-holding can hold it down while carbon dioxide rises"
	change := schemas.Change{Scope: "swimmer", Swimmer: "s1", Stroke: "freestyle", Kind: "dated", Change: "quieter-kick", Reference: "without it", Plan: "one-date",
		Design: Observed, Direction: Undecided, Estimate: f64(-2.13), ConfLow: f64(-8.0), ConfHigh: f64(3.8), PHolm: f64(0.4), FamilySize: 1,
		Ways: f64(7), SmallestP: f64(1.0 / 7), RandomisationP: f64(0.571), N: 16, NWith: 9, NWithout: 7, Swimmers: 1, Warnings: "whatever else came with it is in the difference"}
	staggered := change
	staggered.Scope, staggered.Swimmer, staggered.Plan, staggered.Design, staggered.Direction = "squad", "", "staggered", Designed, "lower"
	staggered.ConfLow, staggered.ConfHigh, staggered.PHolm, staggered.FamilySize = f64(-3.4), f64(-0.9), f64(0.003), 2
	staggered.Ways, staggered.SmallestP, staggered.RandomisationP = f64(2520), f64(1.0/2520), f64(0.0103)
	staggered.Swimmers, staggered.Unchanged, staggered.N, staggered.NWith, staggered.NWithout = 8, 3, 160, 85, 75
	staggered.Trend, staggered.TrendLow, staggered.TrendHigh = f64(-0.4), f64(-2), f64(1.2)
	phase := change
	phase.Kind, phase.Change, phase.Reference, phase.Plan, phase.Ways, phase.SmallestP, phase.RandomisationP = "phase", "taper", "base", "phase", nil, nil, nil
	short := change
	short.Swimmer, short.Reason, short.Direction = "s2", str("1 session with it and 9 sessions without it, fewer than 3 of either"), TooLittleData
	days := schemas.Reliability{Scope: "swimmer", Swimmer: "s1", Stroke: "freestyle", TypicalError: f64(2.21), TypicalLow: f64(1.6), TypicalHigh: f64(3.4), DF: f64(12),
		Detectable: f64(6.12), DetectableLow: f64(4.4), DetectableHigh: f64(9.4), N: 14, Swimmers: 1, NDropped: 2, DroppedWhy: "not swum near the reference pace 2"}
	all := days
	all.Scope, all.Swimmer, all.Swimmers, all.N = "squad", "", 20, 290
	all.Worthwhile, all.ICC, all.ICCLow, all.ICCHigh, all.CommonPace, all.ICCSwimmers = f64(1.53), f64(0.87), f64(0.76), f64(0.95), f64(82.4), 12
	return Input{
		Study: smallStudy(), Swimmers: []schemas.Swimmer{{Swimmer: "s1"}, {Swimmer: "s3", RateAlteringMedication: yes()}}, Bouts: BoutCounts{Bouts: 9, Usable: 9, Designed: 5, Strap: 9},
		BySwimmer: []schemas.ScoreBySwimmer{row("s1", Observed, Tracks, 3.4, 1.2, 5.6, 0.004)},
		Confounding: []schemas.Confounding{
			{Swimmer: "s1", Stroke: "freestyle", Design: Observed, Benchmark: "minutes", EffectPer10Pct: 3.4, EffectLeft: 2.72},
			{Swimmer: "s1", Stroke: "freestyle", Design: Observed, Benchmark: "pace", EffectPer10Pct: 3.4, EffectLeft: -0.3},
		},
		Contrasts: []schemas.Contrast{
			contrastRow("instruction", "fewest-strokes", "usual", "cost", Designed, 4.21, 2.0, 6.4, 0.0023, "higher"),
			contrastRow("instruction", "fewest-strokes", "usual", "score_25", Designed, -3.12, -4.0, -2.2, 0.0004, "lower"),
			contrastRow("instruction", "fewest-strokes", "usual", "stroke_rate", Designed, -11.7, -13, -10, 0.0004, "lower"),
			contrastRow("instruction", "fewest-strokes", "usual", "full_kick", Designed, 48.2, 30, 66, 0.001, "higher"),
			held, observed, thin, breathing,
			contrastRow("instruction", "quicker-rate", "not stated", "cost", Designed, 0.9, -1.2, 3.0, 0.4, Undecided),
			contrastRow("instruction", "quicker-rate", "not stated", "score_25", Designed, 2.3, 1.1, 3.5, 0.01, "higher"),
			contrastRow("lane_side", "left", "not stated", "cost", Observed, 0.9, 0.1, 1.7, 0.09, Undecided),
			ofSquad(contrastRow("equipment", "paddles", "not stated", "cost", Designed, -2.2, -3.3, -1.1, 0.01, "lower"), -5, 0.6),
			ofSquad(contrastRow("equipment", "paddles", "not stated", "stroke_rate", Designed, -6.2, -7.3, -5.1, 0.01, "lower"), -9, -3),
		},
		Changes:     []schemas.Change{change, staggered, phase, short},
		Reliability: []schemas.Reliability{days, all},
	}
}

// TestSentencesOfTheOtherQuestions keeps them to be read.
func TestSentencesOfTheOtherQuestions(t *testing.T) {
	var b strings.Builder
	for _, f := range Make(everyQuestion()) {
		if besideTheScore(f.Question) || strings.Contains(f.Finding, "contrast-") || f.Question == BySwimmer {
			b.WriteString(f.Finding + "  [" + f.Strength + ", n " + strconv.Itoa(int(f.N)) + "]\n  " + f.Sentence + "\n")
			if f.Caution != nil {
				b.WriteString("  ! " + *f.Caution + "\n")
			}
		}
	}
	golden(t, "questions.txt", b.String())
}

var printed = regexp.MustCompile(`\d[\d,]*(\.\d+)?`)

// TestNumbersOfTheOtherQuestions: every number in a sentence is one of its
// row's, rounded; none is made up, and the estimate and its interval are there.
func TestNumbersOfTheOtherQuestions(t *testing.T) {
	in := everyQuestion()
	for _, f := range Make(in) {
		if !besideTheScore(f.Question) || f.Estimate == nil {
			continue
		}
		var known []float64
		add := func(values ...*float64) {
			for _, v := range values {
				if v != nil {
					known = append(known, math.Abs(*v))
				}
			}
		}
		swimmer := ""
		if f.Swimmer != nil {
			swimmer = *f.Swimmer
		}
		for _, r := range in.Contrasts {
			if f.Question == Contrast && r.Swimmer == swimmer && strings.Contains(f.Finding, id(r.Tag, r.Level, r.Reference)) {
				add(r.Estimate, r.ConfLow, r.ConfHigh, r.PHolm, r.PredictLow, r.PredictHigh)
				known = append(known, float64(r.NLevel), float64(r.NReference), float64(r.Sessions), float64(r.Swimmers))
			}
		}
		for _, r := range in.Changes {
			if f.Question == Change && r.Swimmer == swimmer && strings.Contains(f.Finding, r.Change) {
				if r.SmallestP != nil {
					known = append(known, math.Floor(1000**r.SmallestP)/1000)
				}
				add(r.Estimate, r.ConfLow, r.ConfHigh, r.PHolm, r.Ways, r.RandomisationP, r.Trend, r.TrendLow, r.TrendHigh)
				known = append(known, float64(r.NWith), float64(r.NWithout), float64(r.Swimmers), float64(r.Unchanged), 30)
			}
		}
		for _, r := range in.Reliability {
			if f.Question == BetweenDays && r.Swimmer == swimmer {
				add(r.TypicalError, r.TypicalLow, r.TypicalHigh, r.Worthwhile, r.ICC, r.ICCLow, r.ICCHigh)
				known = append(known, math.Ceil(*r.Detectable*10)/10, float64(r.N), float64(r.Swimmers), float64(r.ICCSwimmers), 1, 22, 100)
			}
		}
		known = append(known, 95, 25, 2, 3) // the interval's level, points per 25 m, strokes a breath
		for _, text := range printed.FindAllString(f.Sentence, -1) {
			v, err := strconv.ParseFloat(strings.ReplaceAll(text, ",", ""), 64)
			if err != nil {
				t.Fatal(err)
			}
			digits := 0
			if _, after, ok := strings.Cut(text, "."); ok {
				digits = len(after)
			}
			found := false
			for _, k := range known {
				found = found || math.Abs(k-v) <= 0.5001*math.Pow10(-digits)
			}
			if !found {
				t.Errorf("%s: %s stands in no row: %s", f.Finding, text, f.Sentence)
			}
		}
		if blemish.MatchString(f.Sentence) {
			t.Errorf("%q in %q", blemish.FindString(f.Sentence), f.Sentence)
		}
	}
}

// TestOtherQuestionsSayNoMore draws rows of every design and direction: no
// sentence is causal unless its row is designed, none has a direction that its
// row does not claim, and nothing is claimed of breathing.
func TestOtherQuestionsSayNoMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.Float64Range(-12, 12)
		e := number.Draw(t, "estimate")
		low, high := e-math.Abs(number.Draw(t, "down")), e+math.Abs(number.Draw(t, "up"))
		design := rapid.SampledFrom([]string{Observed, Designed}).Draw(t, "design")
		direction := rapid.SampledFrom([]string{"higher", "lower", Undecided, "not-claimed", TooLittleData}).Draw(t, "direction")
		tag := rapid.SampledFrom([]string{"kick", "equipment", "lane", "breathing", "instruction"}).Draw(t, "tag")
		if tag == "instruction" {
			design = Designed
		}
		r := contrastRow(tag, "full", "light", "cost", design, e, low, high, rapid.Float64Range(0, 1).Draw(t, "p"), direction)
		c := schemas.Change{Scope: rapid.SampledFrom([]string{"swimmer", "squad"}).Draw(t, "scope"), Swimmer: "s1", Stroke: "freestyle", Kind: "dated", Change: "c",
			Reference: "without it", Plan: rapid.SampledFrom([]string{"one-date", "alternating", "staggered", "unchanged-group", "on-and-off"}).Draw(t, "plan"),
			Design: design, Direction: direction, Estimate: f64(e), ConfLow: f64(low), ConfHigh: f64(high), PHolm: f64(0.2),
			Ways: f64(70), SmallestP: f64(rapid.Float64Range(0, 0.5).Draw(t, "smallest")), RandomisationP: f64(0.5), NWith: 1, NWithout: 4, Swimmers: 1}
		in := Input{Study: smallStudy(), Contrasts: []schemas.Contrast{r}, Changes: []schemas.Change{c}, Bouts: BoutCounts{Usable: 1}}
		for _, f := range Make(in) {
			if !besideTheScore(f.Question) {
				continue
			}
			// "1.2 bpm lower" is no verb.
			verbs := regexp.MustCompile(` (bpm|%|points per 25 m) lower`).ReplaceAllString(f.Sentence, "")
			if f.Strength != StrengthCosts && causal.MatchString(verbs) {
				t.Fatalf("causal word %q in %q", causal.FindString(verbs), f.Sentence)
			}
			if blemish.MatchString(f.Sentence) {
				t.Fatalf("%q in %q", blemish.FindString(f.Sentence), f.Sentence)
			}
			sure := direction == "higher" && low > 0 || direction == "lower" && high < 0
			switch f.Question {
			case Contrast:
				if tag == "breathing" {
					if f.Strength != StrengthNone || !strings.Contains(f.Sentence, BreathingSentence) || regexp.MustCompile(`\b(cheaper|dearer|best|better|economical)\b`).MatchString(f.Sentence) {
						t.Fatalf("of breathing: %q", f.Sentence)
					}
					continue
				}
				left := strings.Contains(f.Sentence, "leaves open") || strings.Contains(f.Sentence, "neither way clearly")
				if left == sure {
					t.Fatalf("direction %s, %v to %v: %q", direction, low, high, f.Sentence)
				}
				if (f.Strength == StrengthCosts) != (design == Designed) {
					t.Fatalf("strength %s of a %s contrast", f.Strength, design)
				}
			case Change:
				if strings.Contains(f.Sentence, "leaves open") == sure {
					t.Fatalf("direction %s, %v to %v: %q", direction, low, high, f.Sentence)
				}
				if *c.SmallestP > 0.05 && (f.Strength != StrengthNone || !strings.Contains(f.Sentence, "too few to show it")) {
					t.Fatalf("smallest p %v: %q", *c.SmallestP, f.Sentence)
				}
			}
		}
	})
}

// TestMedicatedSwimmersGetNoStepsFromInstructions: no remark on which rate to
// try.
func TestMedicatedSwimmersGetNoStepsFromInstructions(t *testing.T) {
	in := everyQuestion()
	for i := range in.Contrasts {
		in.Contrasts[i].Swimmer = "s3"
	}
	found := false
	for _, f := range Make(in) {
		if f.Question != Contrast || f.Caution == nil || !strings.Contains(f.Finding, "fewest-strokes") {
			continue
		}
		found = true
		if !strings.Contains(*f.Caution, CautionMedication) || strings.Contains(*f.Caution, CautionSteps) {
			t.Errorf("caution %q", *f.Caution)
		}
	}
	if !found {
		t.Error("no finding")
	}
}

// TestTerminalIsSparedWhatHasNoAnswer: breath patterns and single swimmers'
// changes that no date could show stay in the table.
func TestTerminalIsSparedWhatHasNoAnswer(t *testing.T) {
	text := strings.Join(strings.Fields(Summary(Make(everyQuestion()), 80, func(p string) string { return p })), " ")
	for _, absent := range []string{"breath", "too few to show it", "too little data to say (1 session with it"} {
		if strings.Contains(text, absent) {
			t.Errorf("the terminal shows %q", absent)
		}
	}
	for _, want := range []string{"two days of this swimmer must differ by 6.2 bpm or more", "The squad: what was tried, and how far days differ", "with it, the same pace costs 2.1 bpm less"} {
		if !strings.Contains(text, want) {
			t.Errorf("the terminal lacks %q", want)
		}
	}
}
