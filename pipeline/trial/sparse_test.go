package trial

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/schemas"
)

// contrasts answers a scenario's contrasts alone.
func contrasts(t *testing.T, sc squad.Scenario, beforehand ...string) []schemas.Contrast {
	t.Helper()
	s := settings()
	s.Analysis.SetBeforehand = beforehand
	o := squad.Simulate(sc)
	var all []analyse.Contrast
	for i := range o.Swimmers {
		bouts, err := Bouts(&o.Swimmers[i], s)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, analyse.Contrasts(bouts, s)...)
	}
	rows, err := analyse.ContrastTable(all, s)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// TestSparseContrasts: squads whose swimmers have a few sessions of contrasts
// each, too few for answers of their own. With LENGTHWISE_TRIALS set the runs
// are many and the table is kept.
func TestSparseContrasts(t *testing.T) {
	runs, heavy := uint64(8), os.Getenv("LENGTHWISE_TRIALS") != ""
	if heavy {
		runs = 200
	}
	table := "# Contrasts of squads with few sessions a swimmer\n\n" +
		"Kick set bout by bout, 9 bouts a session, bout noise 3 bpm, session noise 4 bpm, rates set from -20 to +20 %. " +
		fmt.Sprint(runs) + " squads a row, two contrasts each. Made by `LENGTHWISE_TRIALS=1 go test ./pipeline/trial -run TestSparseContrasts`.\n\n" +
		"| swimmers | sessions each | true effect, bpm | interval holds it | squads with a claim | right, wrong |\n|---|---|---|---|---|---|\n"
	steps := map[string]float64{"full": 1, "none": -1}
	for _, swimmers := range []int{8, 24} {
		for _, sessions := range []int{2, 4} {
			for _, bpm := range []float64{0, 3} {
				var all contrastScore
				for seed := range runs {
					sc := squad.KickBar(bpm, uint64(40_000+100*swimmers+1000*sessions)+uint64(bpm)*300+seed, swimmers)
					sc.SessionsPerSwimmer, sc.BoutsPerSession = sessions, 9
					all.add(contrasts(t, sc, analyse.TagKick), analyse.WholeSquad, analyse.TagKick, "", func(level string) float64 { return bpm * steps[level] })
				}
				line := fmt.Sprintf("| %d | %d | %v | %.1f %% of %d | %.1f %% | %d, %d of %d |\n", swimmers, sessions, bpm,
					100*all.coverage(), all.rows, 100*share(all.claimed, all.swimmers), all.right, all.wrong, all.sign)
				table += line
				t.Log(strings.TrimSpace(line))
				withinErrors(t, "sparse contrasts", all.coverage(), all.rows)
				if all.wrong > 0 || bpm == 0 && all.claimed > 2+int(runs)/12 {
					t.Errorf("%s", line)
				}
			}
		}
	}
	if heavy {
		if err := os.WriteFile(filepath.Join("testdata", "contrasts.md"), []byte(table), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
