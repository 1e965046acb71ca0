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

func curveRow(design string, above, intervalAbove, intervalBelow float64, lowest, middle, highest float64) schemas.SensitivitySummary {
	return schemas.SensitivitySummary{Stroke: "freestyle", Design: design, Planned: 1120, Distinct: 640, Estimated: 640,
		AboveZero: f64(above), IntervalAbove: f64(intervalAbove), IntervalBelow: f64(intervalBelow), IntervalInside: f64(0.125),
		Lowest: f64(lowest), Median: f64(middle), Highest: f64(highest), Own: f64(middle - 0.1), MovesMost: "drift", MovesBy: f64(0.53),
		WithLockRule: f64(-1.5), WithLockLow: f64(-3.1), WithLockHigh: f64(0.2), WithoutLockRule: f64(-1.6), WithoutLockLow: f64(-3.2), WithoutLockHigh: f64(0.1)}
}

func TestSensitivitySentences(t *testing.T) {
	same := curveRow(Observed, 0.7, 0, 0, -1, 0.2, 2)
	same.WithoutLockRule, same.WithoutLockLow, same.WithoutLockHigh = same.WithLockRule, same.WithLockLow, same.WithLockHigh
	same.Distinct = 1119
	none := schemas.SensitivitySummary{Stroke: "freestyle", Design: Designed, Planned: 1120, Distinct: 24, Reason: str("no specification has two swimmers with enough data")}
	var b strings.Builder
	for _, row := range []schemas.SensitivitySummary{
		curveRow(Designed, 0, 0, 0.97, -3, -2, -1), curveRow(Designed, 1, 0.96, 0, 1, 2, 3), curveRow(Designed, 0, 0, 0.2, -2.5, -1.4, -0.2),
		curveRow(Observed, 1, 0, 0, 0.2, 1, 2), same, none,
	} {
		for _, f := range Make(Input{Study: smallStudy(), Sensitivity: []schemas.SensitivitySummary{row}}) {
			if f.Question != Sensitivity {
				continue
			}
			b.WriteString(f.Finding + "  [" + f.Strength + "]\n  " + f.Sentence + "\n")
			if f.Strength != StrengthCosts && causal.MatchString(f.Sentence) {
				t.Errorf("causal word %q in %q", causal.FindString(f.Sentence), f.Sentence)
			}
		}
	}
	golden(t, "sensitivity.txt", b.String())
}

var (
	curveSaid = regexp.MustCompile(`comes out dearer in (none|all|[0-9.]+ %) and cheaper in (none|all|[0-9.]+ %)`)
	outermost = regexp.MustCompile(`The middle one reads (under )?([0-9.]+) bpm (dearer|cheaper), the outermost (under )?([0-9.]+) bpm (dearer|cheaper) and (under )?([0-9.]+) bpm (dearer|cheaper), the study's own (under )?([0-9.]+) bpm (dearer|cheaper)`)
)

// TestSensitivitySentencesSayTheirRows reads the numbers back out.
func TestSensitivitySentencesSayTheirRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		part := rapid.Float64Range(0, 1)
		above := part.Draw(t, "above")
		middle := rapid.Float64Range(-5, 5).Draw(t, "median")
		low, high := middle-rapid.Float64Range(0, 4).Draw(t, "down"), middle+rapid.Float64Range(0, 4).Draw(t, "up")
		design := rapid.SampledFrom([]string{Observed, Designed}).Draw(t, "design")
		row := curveRow(design, above, above*part.Draw(t, "interval above"), (1-above)*part.Draw(t, "interval below"), low, middle, high)
		row.Distinct = int32(rapid.IntRange(2, 1120).Draw(t, "distinct"))
		row.MovesMost = rapid.SampledFrom([]string{"steady_after_s", "shortest_bout_s", "drift", "window_s", "reading", "lock_rule", "repairs",
			"heart_rate_source", "unknown_counts", "first_bout", "pace_terms", "tag_terms", "rate_terms", "counting_error", "pooling", ""}).Draw(t, "choice")
		for _, f := range Make(Input{Study: smallStudy(), Sensitivity: []schemas.SensitivitySummary{row}}) {
			if f.Question != Sensitivity {
				continue
			}
			if blemish.MatchString(f.Sentence) || design == Observed && causal.MatchString(f.Sentence) {
				t.Fatalf("%q", f.Sentence)
			}
			if row.MovesMost != "" && strings.Contains(f.Sentence, row.MovesMost+",") && strings.Contains(row.MovesMost, "_") {
				t.Fatalf("a column's name in %q", f.Sentence)
			}
			if !strings.Contains(f.Finding, "/curve/") {
				continue
			}
			m := curveSaid.FindStringSubmatch(f.Sentence)
			if m == nil {
				t.Fatalf("no shares in %q", f.Sentence)
			}
			for i, want := range []float64{above, 1 - above} {
				switch text := m[i+1]; text {
				case "none", "all":
					if want != map[string]float64{"none": 0, "all": 1}[text] {
						t.Fatalf("%q for %v", text, want)
					}
				default:
					v, err := strconv.ParseFloat(strings.TrimSuffix(text, " %"), 64)
					if err != nil || math.Abs(v/100-want) > 0.0005+1e-9 {
						t.Fatalf("%q for %v", text, want)
					}
				}
			}
			n := outermost.FindStringSubmatch(f.Sentence)
			if n == nil {
				t.Fatalf("no ends in %q", f.Sentence)
			}
			for i, want := range []float64{middle, low, high, middle - 0.1} {
				said(t, "end", n[3*i+1], n[3*i+2], want)
				direction(t, "end", n[3*i+3], want)
			}
			if strings.Contains(f.Sentence, "the direction stands") != (*row.IntervalAbove >= 0.95 || *row.IntervalBelow >= 0.95) {
				t.Fatalf("stands: %q", f.Sentence)
			}
		}
	})
}
