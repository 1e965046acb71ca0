package trial

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// season is a squad of so many swimmers and sessions each, three in a week,
// swimming as they like, with a change in its middle for a share of them.
func season(bpm float64, swimmers, sessions int, share float64, seed uint64) squad.Scenario {
	sc := squad.DesignedBar(0, seed, swimmers)
	sc.DesignedShare, sc.SessionsPerSwimmer, sc.BoutsPerSession = 0, sessions, 8
	sc.FirstDay, sc.Days = time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC), sessions*7/3
	sc.Change = squad.Change{On: sc.FirstDay.AddDate(0, 0, sc.Days/2), Share: share, BPM: bpm}
	return sc
}

// after is a day of the season by its share.
func after(sc squad.Scenario, share float64) time.Time {
	return sc.FirstDay.AddDate(0, 0, int(share*float64(sc.Days)))
}

// told is the study file that says of the scenario's change whom it reached and
// when.
func told(sc squad.Scenario) *study.Study {
	s := settings()
	s.Analysis.Resamples, s.Analysis.Permutations = 100, 20
	byDay := map[string][]string{}
	o := squad.Simulate(squad.Scenario{Seed: sc.Seed, Swimmers: sc.Swimmers, Change: sc.Change})
	for _, sw := range o.Swimmers {
		if sw.Changed {
			day := sw.ChangedFrom.Format(time.DateOnly)
			byDay[day] = append(byDay[day], sw.Handle)
		}
	}
	var days []string
	for day := range byDay {
		days = append(days, day)
	}
	slices.Sort(days)
	for _, day := range days {
		c := study.Change{Name: "c", Swimmers: byDay[day], On: []string{day}}
		for i, again := range sc.Change.Again {
			if i%2 == 0 {
				c.Off = append(c.Off, again.Format(time.DateOnly))
			} else {
				c.On = append(c.On, again.Format(time.DateOnly))
			}
		}
		s.Changes = append(s.Changes, c)
	}
	return s
}

// changeScore counts what changes of one scope say of a known truth.
type changeScore struct {
	rows, covered, claimed, right, wrong, designed int
	smallest                                       float64
}

func (c *changeScore) add(rows []schemas.Change, scope string, truth float64) {
	for _, r := range rows {
		if r.Scope != scope || r.Reason != nil {
			continue
		}
		c.rows++
		if *r.ConfLow <= truth && truth <= *r.ConfHigh {
			c.covered++
		}
		if r.Design == string(analyse.Designed) {
			c.designed++
		}
		if r.SmallestP != nil {
			c.smallest = *r.SmallestP
		}
		if r.Direction == analyse.Higher || r.Direction == analyse.Lower {
			c.claimed++
			if (r.Direction == analyse.Higher) == (truth > 0) {
				c.right++
			} else {
				c.wrong++
			}
		}
	}
}

// changes answers a scenario's changes alone.
func changes(t *testing.T, sc squad.Scenario, s *study.Study) []schemas.Change {
	t.Helper()
	o := squad.Simulate(sc)
	var all []analyse.Levels
	for i := range o.Swimmers {
		sw := &o.Swimmers[i]
		bouts, err := Bouts(sw, s)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, analyse.SessionLevels(person(sw, s), bouts, s)...)
	}
	rows, err := analyse.Changes(all, s)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// plans are the ways to make a change, each with the squad it is tried on.
func plans() []plan {
	return []plan{
		{"one date for all", false, false, false, func(bpm float64, seed uint64) squad.Scenario { return season(bpm, 24, 16, 1, seed) }},
		{"one date, half unchanged", true, false, false, func(bpm float64, seed uint64) squad.Scenario { return season(bpm, 24, 16, 0.5, seed) }},
		{"staggered, four dates", true, true, false, func(bpm float64, seed uint64) squad.Scenario {
			sc := season(bpm, 24, 16, 1, seed)
			sc.Change.On = after(sc, 0.2)
			sc.Change.Staggered = []time.Time{after(sc, 0.4), after(sc, 0.6), after(sc, 0.8)}
			return sc
		}},
		{"alternating, eight periods", true, true, true, func(bpm float64, seed uint64) squad.Scenario {
			sc := season(bpm, 12, 24, 1, seed)
			sc.Change.On = after(sc, 1.0/8)
			for k := 2; k < 8; k++ {
				sc.Change.Again = append(sc.Change.Again, after(sc, float64(k)/8))
			}
			return sc
		}},
	}
}

type plan struct {
	name       string
	finds      bool // 3 bpm
	causal     bool // the squad's answer
	alternates bool
	make       func(bpm float64, seed uint64) squad.Scenario
}

// TestChanges tries every plan without an effect and with one of 3 bpm, with
// sessions independent of each other and with neighbours alike. The bars: at
// most 5 % false claims, intervals that hold the truth, the sign of 3 bpm found
// by squads that have someone to compare with, causal words only for plans that
// earn them, and none for a single swimmer's one date, which no lot could
// show. With LENGTHWISE_TRIALS set the runs are many and the table is kept.
func TestChanges(t *testing.T) {
	runs, neighbours := uint64(4), []float64{0}
	heavy := os.Getenv("LENGTHWISE_TRIALS") != ""
	if heavy {
		runs, neighbours = 150, []float64{0, 0.3}
	}
	table := "# Changes on simulated squads\n\n" +
		"Eight bouts a session, session noise 4 bpm, bout noise 3 bpm, a trend of -1 bpm in 30 days (spread 0.5 over swimmers). " +
		"Squads of 24 swimmers with 16 sessions, of 12 with 24 where the change alternates. " +
		"`alike` is the correlation of a session's level with the last one's. " +
		fmt.Sprint(runs) + " squads a row. Made by `LENGTHWISE_TRIALS=1 go test ./pipeline/trial -run TestChanges`.\n\n" +
		"| plan | true effect, bpm | alike | swimmers: interval holds it | swimmers: claims (wrong way) | squads: interval holds it | squads: claims (wrong way) |\n|---|---|---|---|---|---|---|\n"
	for k, plan := range plans() {
		for _, bpm := range []float64{0, 3} {
			for _, alike := range neighbours {
				var one, all changeScore
				for seed := range runs {
					sc := plan.make(bpm, uint64(k+1)*10_000+uint64(bpm)*1000+seed)
					sc.TrendBPM, sc.TrendSDBPM, sc.SessionsAlike = -1, 0.5, alike
					rows := changes(t, sc, told(sc))
					one.add(rows, analyse.OneSwimmer, bpm)
					all.add(rows, analyse.WholeSquad, bpm)
				}
				claims := func(c changeScore) string {
					if bpm == 0 {
						return fmt.Sprintf("%.1f %%", 100*share(c.claimed, c.rows))
					}
					return fmt.Sprintf("%.1f %% (%d)", 100*share(c.claimed, c.rows), c.wrong)
				}
				line := fmt.Sprintf("| %s | %v | %v | %.1f %% of %d | %s | %.1f %% of %d | %s |\n", plan.name, bpm, alike,
					100*share(one.covered, one.rows), one.rows, claims(one), 100*share(all.covered, all.rows), all.rows, claims(all))
				table += line
				t.Log(strings.TrimSpace(line))
				plan.check(t, bpm, alike, one, all)
			}
		}
	}
	if heavy {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join("testdata", "changes.md"), []byte(table), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// check holds one cell to the bars, within three standard errors of its runs.
func (p plan) check(t *testing.T, bpm, alike float64, one, all changeScore) {
	t.Helper()
	most := func(n int) int { return int(0.05*float64(n) + 3*math.Sqrt(0.05*0.95*float64(n))) }
	if all.rows == 0 || one.rows == 0 {
		t.Fatalf("%s: nothing was answered", p.name)
	}
	if bpm == 0 && (one.claimed > most(one.rows) || all.claimed > most(all.rows)) {
		t.Errorf("%s, no effect: %d of %d swimmers and %d of %d squads with a claim", p.name, one.claimed, one.rows, all.claimed, all.rows)
	}
	if alike == 0 {
		withinErrors(t, p.name+", swimmers", share(one.covered, one.rows), one.rows)
	}
	withinErrors(t, p.name+", squads", share(all.covered, all.rows), all.rows)
	if one.wrong > 0 && bpm != 0 || all.wrong > 0 && bpm != 0 {
		t.Errorf("%s: %d swimmers and %d squads the wrong way", p.name, one.wrong, all.wrong)
	}
	if bpm != 0 && p.finds && alike == 0 && share(all.right, all.rows) < 0.6 {
		t.Errorf("%s, %v bpm: found by %d of %d squads", p.name, bpm, all.right, all.rows)
	}
	if p.causal != (all.designed == all.rows) || !p.causal && all.designed > 0 {
		t.Errorf("%s: %d of %d squads designed", p.name, all.designed, all.rows)
	}
	if !p.alternates && (one.designed > 0 || one.claimed > 0 || one.smallest <= 0.05) {
		t.Errorf("%s: %d swimmers designed, %d with a claim, smallest p %.3f", p.name, one.designed, one.claimed, one.smallest)
	}
}
