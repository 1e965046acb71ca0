package findings

import (
	"flag"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"lengthwise/schemas"

	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the golden files anew")

// causal lists words that claim a cause. No sentence about observed bouts may
// hold one, as a word of its own.
var causal = regexp.MustCompile(`(?i)\b(costs|cause[sd]?|causing|because|due to|owing to|thanks to|leads?|led|results? in|makes?|made|drives?|drove|driven|effects?|affects?|influences?|produces?|raises?|raised|lowers?|lowered|increases?|decreases?|reduces?|reduced|improves?|improved|saves?|saved|impacts?|determines?|brings?|yields?|would|should|will)\b`)

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs; run with -update and read the change\n%s", name, got)
	}
}

func TestMakeEveryKindOfSentence(t *testing.T) {
	var b strings.Builder
	for _, f := range Make(everyKind()) {
		b.WriteString(f.Finding + "  [" + f.Strength + ", n " + strconv.Itoa(int(f.N)) + "]\n  " + f.Sentence + "\n")
		if f.Caution != nil {
			b.WriteString("  ! " + *f.Caution + "\n")
		}
	}
	golden(t, "every-kind.txt", b.String())
}

func TestSummary(t *testing.T) {
	names := map[string]string{"s1": "Ada", "s2": "Bo\x1b[31m", "s3": "Cléo"}
	got := Summary(Make(everyKind()), 72, func(p string) string {
		if n, ok := names[p]; ok {
			return n
		}
		return p
	})
	golden(t, "summary.txt", got)
	for _, line := range strings.Split(got, "\n") {
		if n := utf8.RuneCountInString(line); n > 72 {
			t.Errorf("%d characters, want at most 72: %q", n, line)
		}
		if strings.ContainsRune(line, '\x1b') {
			t.Errorf("a control character reaches the terminal: %q", line)
		}
	}
}

// TestSummaryLeavesOut checks that the terminal is spared what only repeats.
func TestSummaryLeavesOut(t *testing.T) {
	in := everyKind()
	both := row("s1", All, Tracks, 7.7, 7.1, 8.3, 0.001)
	recorded := correlationRow(Raw, MeasureCorrelation, -0.77, -0.8, -0.7)
	recorded.Score = ScoreRecorded
	in.BySwimmer, in.Overall = append(in.BySwimmer, both), append(in.Overall, recorded)
	all := Make(in)
	kept := 0
	for _, f := range all {
		if strings.Contains(f.Sentence, "7.7 bpm") || strings.Contains(f.Sentence, "0.77") {
			kept++
		}
	}
	if kept != 2 {
		t.Errorf("the table holds %d of the two findings", kept)
	}
	text := Summary(all, 80, func(p string) string { return p })
	if strings.Contains(text, "7.7") || strings.Contains(text, "0.77") {
		t.Error("the terminal repeats what is left to the tables")
	}
}

func TestSentences(t *testing.T) {
	got := strings.Join(Sentences("One is 1.2. Two (e.g. three) goes on. four stays. \u00c9lan too."), "|")
	if want := "One is 1.2.|Two (e.g. three) goes on. four stays.|\u00c9lan too."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if Sentences("") != nil {
		t.Error("an empty text has sentences")
	}
}

func TestFindingIDsAreUnique(t *testing.T) {
	seen := map[string]bool{}
	for _, f := range Make(everyKind()) {
		if seen[f.Finding] {
			t.Errorf("id %q occurs twice", f.Finding)
		}
		seen[f.Finding] = true
	}
}

// TestHeadlines walks through what a pooled interval may lead to.
func TestHeadlines(t *testing.T) {
	with, against := row("a", Designed, Tracks, 3, 1, 5, 0.01), row("b", Designed, RunsAgainst, -3, -5, -1, 0.01)
	observed := func(r schemas.ScoreBySwimmer) schemas.ScoreBySwimmer { r.Design = Observed; return r }
	cases := []struct {
		name    string
		pooled  []schemas.ScoreOverall
		rows    []schemas.ScoreBySwimmer
		lead    string
		holds   string
		without string
	}{
		{"nothing", nil, nil, "No answer yet", "6 sessions, 24 usable bouts", "costs"},
		{"all above", []schemas.ScoreOverall{pooled(Designed, 3, 2.1, 3.9, 1, 5, 9)}, []schemas.ScoreBySwimmer{with}, "Yes", "3.0 bpm more", "less"},
		{"above, wide prediction", []schemas.ScoreOverall{pooled(Designed, 3, 2.1, 3.9, -1, 7, 9)}, []schemas.ScoreBySwimmer{with}, "On average yes", "tracks the cost for 1 swimmer", "for none of"},
		{"above, one against", []schemas.ScoreOverall{pooled(Designed, 3, 2.1, 3.9, 1, 5, 9)}, []schemas.ScoreBySwimmer{with, against}, "On average yes, but not for every swimmer", "runs against it for 1", "Yes:"},
		{"below", []schemas.ScoreOverall{pooled(Designed, -3, -3.9, -2.1, -5, -1, 9)}, []schemas.ScoreBySwimmer{against}, "No, the other way round", "from 2.1 to 3.9 bpm cheaper", "dearer"},
		{"below, one with", []schemas.ScoreOverall{pooled(Designed, -3, -3.9, -2.1, -5, -1, 9)}, []schemas.ScoreBySwimmer{with, against}, "On average the other way round, but not for every swimmer", "3.0 bpm less", "more on"},
		{"within the smallest effect", []schemas.ScoreOverall{pooled(Designed, 0.6, 0.1, 1.1, -1, 2, 9)}, nil, "Not on average", "0.6 bpm more", "yes"},
		{"open, both kinds", []schemas.ScoreOverall{pooled(Designed, 0.4, -2.5, 3.3, -9, 9, 9)}, []schemas.ScoreBySwimmer{with, against}, "It depends on the swimmer", "from 2.5 bpm cheaper to 3.3 bpm dearer", "yes"},
		{"open, none", []schemas.ScoreOverall{pooled(Designed, 0.4, -2.5, 3.3, -9, 9, 9)}, nil, "Not decided", "for no swimmer alone", "tracks"},
		{"observed, above", []schemas.ScoreOverall{pooled(Observed, 3, 2.1, 3.9, 1, 5, 9)}, nil, "In bouts as they came, score and cost go together on average", "3.0 bpm dearer", "costs"},
		{"observed, open, both kinds", []schemas.ScoreOverall{pooled(Observed, 0.1, -2.1, 3.9, -7, 9, 9)}, []schemas.ScoreBySwimmer{observed(with), observed(against)}, "In bouts as they came, it depends on the swimmer", "goes together with", "costs"},
		{"few designed, many observed", []schemas.ScoreOverall{pooled(Designed, 3, 2.1, 3.9, 1, 5, 4), pooled(Observed, -3, -3.9, -2.1, -5, -1, 9)}, nil, "In bouts as they came, score and cost go opposite ways on average", "9 swimmers", "costs"},
		{"designed preferred", []schemas.ScoreOverall{pooled(Observed, -3, -3.9, -2.1, -5, -1, 90), pooled(Designed, 3, 2.1, 3.9, 1, 5, 5)}, nil, "Yes", "5 swimmers", "goes together"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			f := Make(Input{Study: smallStudy(), Overall: c.pooled, BySwimmer: c.rows})[0]
			lead, rest, _ := strings.Cut(f.Sentence, ": ")
			if lead != c.lead {
				t.Errorf("lead %q, want %q", lead, c.lead)
			}
			if !strings.Contains(rest, c.holds) {
				t.Errorf("%q does not hold %q", rest, c.holds)
			}
			if strings.Contains(f.Sentence, c.without) {
				t.Errorf("%q holds %q", f.Sentence, c.without)
			}
			if f.Strength == StrengthGoesTogether && causal.MatchString(f.Sentence) {
				t.Errorf("causal word %q in %q", causal.FindString(f.Sentence), f.Sentence)
			}
			if strings.Count(f.Sentence, ". ") > 0 || !strings.HasSuffix(f.Sentence, ".") {
				t.Errorf("not one sentence: %q", f.Sentence)
			}
		})
	}
}

var (
	designedSize = regexp.MustCompile(`costs this swimmer (under )?([0-9.]+) bpm (more|less)`)
	observedSize = regexp.MustCompile(`goes together with bouts (under )?([0-9.]+) bpm (dearer|cheaper) for this swimmer`)
	oneWay       = regexp.MustCompile(`95 % interval from (under )?([0-9.]+) to (under )?([0-9.]+) bpm (dearer|cheaper)[;)]`)
	bothWays     = regexp.MustCompile(`95 % interval from (under )?([0-9.]+) bpm cheaper to (under )?([0-9.]+) bpm dearer[;)]`)
	blemish      = regexp.MustCompile(`NaN|Inf|%!|  |\b1 (bouts|sessions|swimmers)\b|\b(0|[2-9]|[0-9]{2,}) (bout|session|swimmer)\b|[-+]0\.0\b`)
)

// said checks a printed size against the number it stands for.
func said(t *rapid.T, what, under, text string, v float64) {
	printed, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	if under != "" {
		if v == 0 || math.Abs(v) > printed/2+1e-12 {
			t.Fatalf("%s: %q for %v", what, under+text, v)
		}
		return
	}
	if math.Abs(printed-math.Abs(v)) > 0.05+1e-9 {
		t.Fatalf("%s: printed %v for %v", what, printed, v)
	}
}

func direction(t *rapid.T, what, word string, v float64) {
	if up := word == "more" || word == "dearer"; up != (v >= 0) {
		t.Fatalf("%s: %q for %v", what, word, v)
	}
}

// TestSentencesSayTheirRows draws rows, sound and unsound ones, and reads the
// numbers back out of the sentences.
func TestSentencesSayTheirRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.Float64Range(-12, 12)
		e := number.Draw(t, "estimate") * rapid.SampledFrom([]float64{0, 0.001, 1}).Draw(t, "scale")
		low, high := e-math.Abs(number.Draw(t, "down")), e+math.Abs(number.Draw(t, "up"))
		design := rapid.SampledFrom([]string{Observed, Designed, All}).Draw(t, "design")
		verdict := rapid.SampledFrom([]string{Tracks, RunsAgainst, PracticallyNone, Undecided, TooLittleData}).Draw(t, "verdict")
		r := row("s", design, verdict, e, low, high, rapid.Float64Range(0, 1).Draw(t, "q"))
		r.PEquivalence = f64(rapid.Float64Range(0, 0.1).Draw(t, "p"))
		r.Bouts, r.Sessions = int32(rapid.IntRange(0, 3).Draw(t, "bouts")), int32(rapid.IntRange(0, 3).Draw(t, "sessions"))
		if rapid.Bool().Draw(t, "missing") {
			r.EffectLow = rapid.SampledFrom([]*float64{nil, f64(math.NaN()), f64(math.Inf(-1))}).Draw(t, "low")
		}
		in := Input{Study: smallStudy(), BySwimmer: []schemas.ScoreBySwimmer{r}, Bouts: BoutCounts{Usable: 1}}
		var f schemas.Finding
		for _, f = range Make(in) {
			if blemish.MatchString(f.Sentence) {
				t.Fatalf("%q in %q", blemish.FindString(f.Sentence), f.Sentence)
			}
			if f.Question == BySwimmer {
				break
			}
		}
		s := f.Sentence
		if f.Strength != StrengthCosts && causal.MatchString(s) {
			t.Fatalf("causal word %q in %q", causal.FindString(s), s)
		}
		if f.Strength == StrengthNone {
			if f.Estimate != nil || oneWay.MatchString(s) || bothWays.MatchString(s) {
				t.Fatalf("numbers without an answer: %q", s)
			}
			if verdict != TooLittleData && newIntervalOK(r) {
				t.Fatalf("no answer for a sound row: %q", s)
			}
			return
		}
		size := observedSize
		if design == Designed {
			size = designedSize
		}
		m := size.FindStringSubmatch(s)
		if m == nil {
			t.Fatalf("no size in %q", s)
		}
		said(t, "estimate", m[1], m[2], e)
		direction(t, "estimate", m[3], e)
		if m := oneWay.FindStringSubmatch(s); m != nil {
			near, far := low, high
			if m[5] == "cheaper" {
				near, far = high, low
				if high > 0 {
					t.Fatalf("cheaper throughout for %v to %v", low, high)
				}
			} else if low < 0 {
				t.Fatalf("dearer throughout for %v to %v", low, high)
			}
			said(t, "near end", m[1], m[2], near)
			said(t, "far end", m[3], m[4], far)
		} else if m := bothWays.FindStringSubmatch(s); m != nil {
			said(t, "low end", m[1], m[2], low)
			said(t, "high end", m[3], m[4], high)
			if low >= 0 || high <= 0 {
				t.Fatalf("both ways for %v to %v", low, high)
			}
		} else {
			t.Fatalf("no interval in %q", s)
		}
		if strings.Contains(s, "practically none") != (verdict == PracticallyNone && *r.PEquivalence < 0.05) {
			t.Fatalf("practically none: %q", s)
		}
		if strings.Contains(s, "tracks the cost") != (verdict == Tracks && low > 0) {
			t.Fatalf("tracks: %q", s)
		}
		if strings.Contains(s, "runs against the cost") != (verdict == RunsAgainst && high < 0) {
			t.Fatalf("runs against: %q", s)
		}
		if *f.Estimate != e || *f.ConfLow != low || *f.ConfHigh != high || f.N != r.Bouts {
			t.Fatalf("the finding's numbers are not the row's: %+v", f)
		}
	})
}

func newIntervalOK(r schemas.ScoreBySwimmer) bool {
	_, ok := newInterval(r.EffectPer10Pct, r.EffectLow, r.EffectHigh)
	return ok
}

func TestMedicationLeavesNoRemarkOnRate(t *testing.T) {
	for _, f := range Make(everyKind()) {
		if f.Swimmer == nil || *f.Swimmer != "s2" {
			continue
		}
		if f.Caution == nil || !strings.Contains(*f.Caution, CautionMedication) || strings.Contains(*f.Caution, CautionSteps) {
			t.Errorf("%s: caution %v", f.Finding, f.Caution)
		}
	}
}

func TestCautions(t *testing.T) {
	all := strings.Join(Cautions(), "\n")
	for _, want := range []string{"medical advice", "small steps", "shoulders", "guardian", "no advice on stroke rate is drawn", "breath"} {
		if !strings.Contains(all, want) {
			t.Errorf("no caution holds %q", want)
		}
	}
}

func TestMakeLeavesItsInputAlone(t *testing.T) {
	in := everyKind()
	for _, f := range Make(in) {
		if f.Estimate != nil {
			*f.Estimate = 99
		}
	}
	if *in.BySwimmer[0].EffectPer10Pct != 3.4 || *in.Overall[0].Estimate != 0.42 {
		t.Error("a finding shares its number with the row")
	}
}

func TestNumbersInWords(t *testing.T) {
	cases := []struct{ got, want string }{
		{Pace(99.7), "1:40 per 100 m"},
		{Pace(59.4), "59 s per 100 m"},
		{Pace(59.6), "1:00 per 100 m"},
		{Pace(119.9), "2:00 per 100 m"},
		{probability("q", 0.0004), "q below 0.001"},
		{probability("q", 0.0496), "q just below 0.05"},
		{probability("q", 0.0503), "q just above 0.05"},
		{probability("q", 0.05), "q = 0.050"},
		{probability("p", 0.041), "p = 0.041"},
		{probability("p", 0.256), "p = 0.26"},
		{correlation(-0.454), "\u22120.45"},
		{correlation(-0.001), "0.00"},
		{share(0.5314), "53.1"},
		{count(1, "bout"), "1 bout"},
		{count(0, "bout"), "0 bouts"},
		{count(999, "bout"), "999 bouts"},
		{count(1204555, "bout"), "1,204,555 bouts"},
		{Grouped(-100), "-100"},
		{Printable("A\u202eda\x00"), "Ada"},
	}
	for _, c := range cases {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

func TestCountBouts(t *testing.T) {
	rows := []schemas.Bout{
		{Usable: true, Designed: true, StrokeCountBasis: "arms", HRSource: str("strap"), HRMethod: str("window")},
		{Usable: true, StrokeCountBasis: "unknown", HRSource: str("optical"), HRMethod: str("reported")},
		{Usable: true, StrokeCountBasis: "cycles", HRSource: str("unknown")},
		{Reason: str("no-heart-rate")}, {Reason: str("too-short")}, {Reason: str("no-heart-rate")}, {},
	}
	got := CountBouts(rows)
	if got.Bouts != 7 || got.Usable != 3 || got.Designed != 1 || got.Strap != 1 || got.Optical != 1 ||
		got.SourceUnknown != 1 || got.Reported != 1 || got.BasisUnknown != 1 {
		t.Errorf("counts %+v", got)
	}
	var reasons []string
	for _, r := range got.Unusable {
		reasons = append(reasons, r.Reason+" "+strconv.Itoa(r.Bouts))
	}
	if want := "no-heart-rate 2|not-stated 1|too-short 1"; strings.Join(reasons, "|") != want {
		t.Errorf("reasons %q, want %q", strings.Join(reasons, "|"), want)
	}
}

// TestBrief holds the table for the terminal against a golden file and each of
// its lines against the width; every row of the table is a row of the results.
func TestBrief(t *testing.T) {
	in := everyKind()
	names := map[string]string{"s1": "Ada", "s2": "Bo\x1b[31m", "s3": "Cléo of the Very Long Family Name, the Younger"}
	got := Brief(in, Make(in), 80, func(p string) string {
		if n, ok := names[p]; ok {
			return n
		}
		return p
	})
	golden(t, "brief.txt", got)
	for _, line := range strings.Split(got, "\n") {
		if n := utf8.RuneCountInString(line); n > 80 {
			t.Errorf("%d characters, want at most 80: %q", n, line)
		}
		if strings.ContainsRune(line, '\x1b') {
			t.Errorf("a control character reaches the terminal: %q", line)
		}
	}
	rows := 0
	for _, r := range in.BySwimmer {
		if r.Design != All {
			rows++
		}
	}
	if n := strings.Count(got, "  set    ") + strings.Count(got, "  liked  "); n != rows {
		t.Errorf("%d lines of swimmers for %d rows", n, rows)
	}
}
