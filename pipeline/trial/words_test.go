package trial

import (
	"fmt"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/study"
)

// causes lists verbs that claim a cause.
var causes = regexp.MustCompile(`(?i)\b(costs|cause[sd]?|causing|because|due to|owing to|thanks to|leads?|led|results? in|makes?|made|drives?|drove|driven|influences?|produces?|raises?|raised|lowers?|lowered|increases?|decreases?|reduces?|reduced|improves?|improved|saves?|saved|impacts?|determines?|brings?|yields?|would|should|will)\b`)

// nouns are words of that list that are no verbs where they stand.
var nouns = regexp.MustCompile(`Costs shuffled| (bpm|%|points per 25 m) lower`)

// Swimmers as they like, with tiredness that differs by session and moves rate
// and heart rate, a kick that they step up when tired, a squad's own note, a
// phase of training and a change on one date: everything warns, and no sentence
// about them is causal.
func TestObservedSquadsGetNoCausalWord(t *testing.T) {
	swimmers := 16
	if testing.Short() {
		swimmers = 6
	}
	sc := squad.ObservedFatigue(0, 10, 31, swimmers)
	sc.SessionsPerSwimmer, sc.BoutsPerSession = 14, 8
	s := settings()
	s.Analysis.Resamples, s.Analysis.Permutations = 100, 20
	s.Changes = []study.Change{{Name: "quieter-kick", On: []string{"2026-02-05"}}}
	o := squad.Simulate(sc)
	var parts []analyse.Part
	for i := range o.Swimmers {
		sw := &o.Swimmers[i]
		bouts, err := Bouts(sw, s)
		if err != nil {
			t.Fatal(err)
		}
		stream := rand.New(rand.NewPCG(uint64(i), 8))
		for k := range bouts {
			b := &bouts[k]
			b.Tags.Kick = "light"
			if stream.Float64() < 0.02+0.95*float64(k%sc.BoutsPerSession)/float64(sc.BoutsPerSession) {
				b.Tags.Kick = "full"
			}
			phase := "base"
			if b.LocalDate > "2026-02-10" {
				phase = "race"
			}
			b.Labels = []derive.Label{{Key: "lane", Value: fmt.Sprint("lane ", 1+stream.IntN(2))}, {Key: "phase", Value: phase}}
		}
		parts = append(parts, analyse.Ask(person(sw, s), bouts, s))
	}
	r, err := analyse.Study(parts, s)
	if err != nil {
		t.Fatal(err)
	}
	var kick, lane, late, unseen int
	for _, c := range r.Contrasts {
		if c.Design != string(analyse.Observed) || !strings.Contains(c.Warnings, "not set beforehand") {
			t.Errorf("%s %s: %s, warnings %q", c.Tag, c.Level, c.Design, c.Warnings)
		}
		if c.Scope == analyse.OneSwimmer && c.Measure == analyse.MeasureCost && c.Tag == analyse.TagKick {
			if strings.Contains(c.Warnings, "come late in their sessions") || c.Reason != nil && strings.Contains(*c.Reason, "come first or last") {
				late++
			}
			kick++
		}
		if c.Tag == "lane" {
			lane++
		}
	}
	for _, c := range r.Changes {
		if c.Design != string(analyse.Observed) || c.Estimate != nil && !strings.Contains(c.Warnings, "whatever else came with it") {
			t.Errorf("%s: %s, warnings %q", c.Change, c.Design, c.Warnings)
		}
	}
	if kick == 0 || lane == 0 || late < kick/2 || len(r.Changes) < swimmers || len(r.Confounding) < swimmers || len(r.Reliability) < swimmers {
		t.Fatalf("%d contrasts of kick, %d of them told to come late, %d of lanes, %d changes, %d against unseen causes", kick, late, lane, len(r.Changes), len(r.Confounding))
	}
	all := findings.Make(findings.Input{Study: s, BySwimmer: r.BySwimmer, Overall: r.Overall, Fits: r.Fits, Mixed: r.Mixed, Advice: r.AdviceOverall,
		Contrasts: r.Contrasts, Changes: r.Changes, Reliability: r.Reliability, Confounding: r.Confounding,
		Bouts: findings.BoutCounts{Bouts: 1000, Usable: 1000}})
	questions := map[string]int{}
	for _, f := range all {
		if f.Question == findings.Limits { // which say what the data are not about
			continue
		}
		questions[f.Question]++
		verbs := nouns.ReplaceAllString(f.Sentence, "")
		if f.Strength == findings.StrengthCosts || causes.MatchString(verbs) {
			t.Errorf("%s (%s): %q in %s", f.Finding, f.Strength, causes.FindString(verbs), f.Sentence)
		}
		if f.Caution != nil && strings.Contains(*f.Caution, "An unseen cause") {
			unseen++
		}
	}
	directed := 0
	for _, row := range r.BySwimmer {
		if findings.Worded(row) == findings.Tracks || findings.Worded(row) == findings.RunsAgainst {
			directed++
		}
	}
	if unseen < directed || directed == 0 {
		t.Errorf("%d slopes with a direction, %d told what an unseen cause would have to be", directed, unseen)
	}
	for _, q := range []string{findings.Contrast, findings.Change, findings.BetweenDays, findings.BySwimmer} {
		if questions[q] == 0 {
			t.Errorf("no sentence answers %s", q)
		}
	}
	report(t, r)
}

// report shows how often a direction was claimed where nothing is there.
func report(t *testing.T, r analyse.Result) {
	claims := func(direction string) bool { return direction == analyse.Higher || direction == analyse.Lower }
	var contrasts, changes, n, m int
	for _, c := range r.Contrasts {
		if c.Measure == analyse.MeasureCost && c.Reason == nil {
			n++
			if claims(c.Direction) {
				contrasts++
			}
		}
	}
	for _, c := range r.Changes {
		if c.Reason == nil {
			m++
			if claims(c.Direction) {
				changes++
			}
		}
	}
	t.Logf("observed, with tiredness and without any effect: %d of %d contrasts and %d of %d changes have a direction", contrasts, n, changes, m)
}
