package trial

import (
	"math"
	"os"
	"testing"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/schemas"
)

// adviceTrial runs a designed squad and gives the rows of the score as advice.
func adviceTrial(t *testing.T, sc squad.Scenario) ([]schemas.AdviceBySwimmer, []schemas.AdviceOverall) {
	t.Helper()
	o := run(t, sc)
	return o.Result.Advice, o.Result.AdviceOverall
}

func adviceRow(t *testing.T, rows []schemas.AdviceOverall, score, test, measure string) schemas.AdviceOverall {
	t.Helper()
	for _, row := range rows {
		if row.Score == score && row.Test == test && row.Measure == measure && row.Design == string(analyse.Designed) {
			return row
		}
	}
	t.Fatalf("no row %s %s %s", score, test, measure)
	return schemas.AdviceOverall{}
}

// The advice test on squads of known truth: where fewer strokes are cheaper,
// where they are dearer, and where nothing is there. Designed bouts, 12
// sessions of 12, bout noise 3 bpm, rates -20 to +20 %. Set LENGTHWISE_LONG for
// five times as many swimmers.
func TestAdviceOnKnownTruths(t *testing.T) {
	swimmers := 40
	if testing.Short() {
		swimmers = 12
	}
	if os.Getenv("LENGTHWISE_LONG") != "" {
		swimmers = 200
	}
	scores := []string{"score", "score_wrist", "strokes", "distance_per_stroke", "stroke_index", "stroke_rate"}
	for _, c := range []struct {
		name   string
		effect float64
	}{{"right", 3}, {"wrong", -3}, {"nothing", 0}} {
		single, overall := adviceTrial(t, squad.DesignedBar(c.effect, 31, swimmers))
		for _, score := range scores {
			row := adviceRow(t, overall, score, "pace-adjusted", "agreement")
			added := adviceRow(t, overall, score, "held-out", "skill_added_to_pace")
			same := adviceRow(t, overall, score, "matched-pace", "correlation_with_count")
			t.Logf("%s, %s: agreement %.3f (%.3f to %.3f), added to pace %.3f, least correlation with the count %.5f",
				c.name, score, *row.Estimate, *row.ConfLow, *row.ConfHigh, *added.Estimate, *same.Estimate)
			if *same.Estimate < 0.999 {
				t.Errorf("%s correlates with the count by %v at fixed pace", score, *same.Estimate)
			}
			switch c.name {
			case "right":
				if *row.ConfLow <= 0.5 || *added.Estimate < 0.1 {
					t.Errorf("right: %s agrees in %v, takes away %v", score, *row.Estimate, *added.Estimate)
				}
			case "wrong":
				if *row.ConfHigh >= 0.5 || *added.Estimate > 0.005 {
					t.Errorf("wrong: %s agrees in %v, takes away %v", score, *row.Estimate, *added.Estimate)
				}
			default:
				// One swimmer's agreement has a standard error of 0.032 here.
				if off := 3 * 0.032 / sqrt(swimmers); math.Abs(*row.Estimate-0.5) > off || *added.Estimate > 0.01 {
					t.Errorf("nothing: %s agrees in %v, takes away %v", score, *row.Estimate, *added.Estimate)
				}
			}
		}
		// Across paces, unadjusted, speed decides and the score points the wrong way
		// round whatever the truth.
		score, speed := adviceRow(t, overall, "score_wrist", "as-swum", "agreement"), adviceRow(t, overall, "speed", "as-swum", "agreement")
		t.Logf("%s, as swum: the wrist's score %.3f, speed %.3f", c.name, *score.Estimate, *speed.Estimate)
		if *speed.Estimate < 0.6 || c.effect <= 0 && *score.Estimate > 0.45 {
			t.Errorf("%s, as swum: the wrist's score %v, speed %v", c.name, *score.Estimate, *speed.Estimate)
		}
		if c.effect == 0 {
			coverage(t, single)
		}
	}
}

// coverage of a coin's one half by single swimmers' intervals.
func coverage(t *testing.T, rows []schemas.AdviceBySwimmer) {
	t.Helper()
	held, n := 0, 0
	for _, row := range rows {
		if row.Score == "score" && row.Test == "pace-adjusted" && row.Measure == "agreement" {
			n++
			if *row.ConfLow <= 0.5 && 0.5 <= *row.ConfHigh {
				held++
			}
		}
	}
	t.Logf("nothing: single swimmers' intervals hold one half in %d of %d", held, n)
	// Twelve resampled sessions cover about 90 %: three standard errors below it.
	if share(held, n) < 0.9-3*0.3/sqrt(n) {
		t.Errorf("intervals hold one half in %d of %d", held, n)
	}
}

func sqrt(n int) float64 { return math.Sqrt(float64(n)) }
