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

func adviceRow(design, score, test, measure string, estimate, low, high float64) schemas.AdviceOverall {
	return schemas.AdviceOverall{Stroke: "freestyle", Design: design, Score: score, Test: test, Measure: measure,
		Estimate: f64(estimate), ConfLow: f64(low), ConfHigh: f64(high), Swimmers: 19, Bouts: 1600, Sessions: 130}
}

// adviceRows are the rows of an invented squad: agreements about e, skills s.
func adviceRows(design string, e, half, skill float64) []schemas.AdviceOverall {
	var rows []schemas.AdviceOverall
	for i, w := range advisorWords() {
		for _, test := range []string{testAsSwum, testPaceAdjusted, testMatchedPace, testBetween} {
			at := e + 0.01*float64(i)
			rows = append(rows, adviceRow(design, w[0], test, measureAgreement, at, at-half, at+half))
		}
		same := adviceRow(design, w[0], testMatchedPace, measureWithCount, 0.99985, 0, 0)
		same.ConfLow, same.ConfHigh = nil, nil
		rows = append(rows, same,
			adviceRow(design, w[0], testHeldOut, measureSkill, skill, skill-0.02, skill+0.02),
			adviceRow(design, w[0], testHeldOut, measureEitherWay, skill+0.27, skill+0.2, skill+0.3),
			adviceRow(design, w[0], testHeldOut, measureAddedToPace, skill/2, skill/2-0.02, skill/2+0.02))
	}
	return append(rows,
		adviceRow(design, speedAdvisor, testAsSwum, measureAgreement, 0.736, 0.712, 0.76),
		adviceRow(design, speedAdvisor, testPaceAdjusted, measureAgreement, 0.49, 0.47, 0.51),
		adviceRow(design, speedAdvisor, testHeldOut, measureSkill, 0.425, 0.357, 0.492))
}

func TestAdviceSentences(t *testing.T) {
	none := schemas.AdviceOverall{Stroke: "freestyle", Design: Observed, Score: "score", Test: testAsSwum, Measure: measureAgreement,
		Reason: str("fewer than two swimmers have enough data"), NDropped: 3, DroppedWhy: "fewer than 6 sessions with two bouts or more 3"}
	var b strings.Builder
	for _, rows := range [][]schemas.AdviceOverall{adviceRows(Designed, 0.35, 0.04, -0.013), adviceRows(Observed, 0.5, 0.06, 0.2), {none}} {
		for _, f := range Make(Input{Study: smallStudy(), Advice: rows}) {
			if f.Question != Advice {
				continue
			}
			b.WriteString(f.Finding + "  [" + f.Strength + "]\n  " + f.Sentence + "\n")
			if f.Caution != nil {
				b.WriteString("  ! " + *f.Caution + "\n")
			}
			if causal.MatchString(f.Sentence) {
				t.Errorf("causal word %q in %q", causal.FindString(f.Sentence), f.Sentence)
			}
		}
	}
	golden(t, "advice.txt", b.String())
}

var (
	agreementSaid = regexp.MustCompile(`in ([0-9.]+) % (?:of pairs )?\((?:95 % interval )?from ([0-9.]+) to ([0-9.]+) %`)
	skillSaid     = regexp.MustCompile(`speed alone takes away (−?[0-9.]+) % \(95 % interval from (−?[0-9.]+) to (−?[0-9.]+) %\), the score, taken at its claim, (−?[0-9.]+) % \(from (−?[0-9.]+) to (−?[0-9.]+) %\)`)
	addedSaid     = regexp.MustCompile(`its claim takes away (−?[0-9.]+) % of what those leave \(from (−?[0-9.]+) to (−?[0-9.]+) %\)`)
)

// TestAdviceSentencesSayTheirRows reads the numbers back out of the sentences.
func TestAdviceSentencesSayTheirRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		design := rapid.SampledFrom([]string{Observed, Designed}).Draw(t, "design")
		e, half := rapid.Float64Range(0.1, 0.8).Draw(t, "agreement"), rapid.Float64Range(0, 0.1).Draw(t, "half")
		skill := rapid.Float64Range(-0.5, 0.6).Draw(t, "skill")
		read := func(text string) float64 {
			v, err := strconv.ParseFloat(strings.Replace(text, "−", "-", 1), 64)
			if err != nil {
				t.Fatal(err)
			}
			return v / 100
		}
		near := func(what, text string, want float64) {
			if math.Abs(read(text)-want) > 0.0005+1e-9 {
				t.Fatalf("%s: printed %s for %v", what, text, want)
			}
		}
		found := 0
		for _, f := range Make(Input{Study: smallStudy(), Advice: adviceRows(design, e, half, skill)}) {
			if f.Question != Advice {
				continue
			}
			found++
			if blemish.MatchString(f.Sentence) || causal.MatchString(f.Sentence) {
				t.Fatalf("%q", f.Sentence)
			}
			switch {
			case strings.Contains(f.Finding, testHeldOut):
				m := skillSaid.FindStringSubmatch(f.Sentence)
				added := addedSaid.FindStringSubmatch(f.Sentence)
				if m == nil || added == nil {
					t.Fatalf("no skill in %q", f.Sentence)
				}
				for i, want := range []float64{0.425, 0.357, 0.492, skill, skill - 0.02, skill + 0.02} {
					near(fmt.Sprint("skill ", i), m[i+1], want)
				}
				near("added", added[1], skill/2)
				if strings.Contains(f.Sentence, "tells something of cost") != (skill/2-0.02 > 0) {
					t.Fatalf("added %v: %q", skill/2, f.Sentence)
				}
			case strings.Contains(f.Finding, "one-variable"):
				if !strings.Contains(f.Sentence, "by 0.9998 or more") || !strings.Contains(f.Sentence, "are one variable") {
					t.Fatalf("%q", f.Sentence)
				}
			default:
				all := agreementSaid.FindAllStringSubmatch(f.Sentence, -1)
				if len(all) < len(advisorWords()) {
					t.Fatalf("%d agreements in %q", len(all), f.Sentence)
				}
				for i := range advisorWords() {
					at := e + 0.01*float64(i)
					near("agreement", all[i][1], at)
					near("low", all[i][2], at-half)
					near("high", all[i][3], at+half)
				}
				if strings.Contains(f.Sentence, "right more often") != (e-half > 0.5) || strings.Contains(f.Sentence, "right less often") != (e+half < 0.5) {
					t.Fatalf("agreement %v to %v: %q", e-half, e+half, f.Sentence)
				}
			}
		}
		if found != 5 {
			t.Fatalf("%d findings, want 5", found)
		}
	})
}
