package main

import (
	"fmt"
	"strings"

	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
	"lengthwise/pipeline/trial"
)

// squadReach is what the squad's average of one stroke and design can tell.
type squadReach struct {
	Stroke   string  `json:"stroke"`
	Design   string  `json:"design"`
	Swimmers int     `json:"swimmers_in_hand"`
	Sessions float64 `json:"sessions_each"`
	Effect   float64 `json:"effect"` // asked about: the smallest that matters
	Wanted   float64 `json:"wanted"`
	trial.Reach
}

// wantedChance is how often a study is to find what it looks for; common practice,
// no source.
const wantedChance = 0.8

// reaches says for each stroke and design that has a squad's average what it can
// tell from nothing, and how much more it would take for the smallest effect that
// the study calls one.
func reaches(s *study.Study, r *run.Result) []squadReach {
	var out []squadReach
	for _, row := range r.Answers.Overall {
		if row.Measure != "effect_per_10pct" || row.Design == "all" || row.StdError == nil || row.DF == nil || row.Tau2 == nil || row.Swimmers < 2 {
			continue
		}
		h := trial.InHand{Swimmers: int(row.Swimmers), Sessions: float64(row.Sessions) / float64(row.Swimmers), StdError: *row.StdError, DF: *row.DF, Tau2: *row.Tau2}
		reach, err := h.Reach(s.Analysis.SmallestEffect, wantedChance)
		if err != nil {
			continue // numbers that are no study's: the average itself says why
		}
		out = append(out, squadReach{Stroke: row.Stroke, Design: row.Design, Swimmers: h.Swimmers, Sessions: h.Sessions,
			Effect: s.Analysis.SmallestEffect, Wanted: wantedChance, Reach: reach})
	}
	return out
}

func (q squadReach) words(unit string) string {
	kind := map[string]string{"observed": "as liked", "designed": "set beforehand"}[q.Design]
	text := fmt.Sprintf("The squad, %s, %s: the average of %s is known to within %.1f %s per 10 %% of rate (95 %% interval). If it were %g %s, the smallest that matters here, %s of such studies would tell it from nothing",
		q.Stroke, kind, count(q.Swimmers, "swimmer"), q.Half, unit, q.Effect, unit, percentOf(q.Chance))
	if q.Chance >= q.Wanted {
		return text + "."
	}
	var ways []string
	if q.Reach.Swimmers > 0 {
		ways = append(ways, fmt.Sprintf("about %d swimmers like these", q.Reach.Swimmers))
	}
	if q.Reach.Sessions > 0 {
		ways = append(ways, fmt.Sprintf("about %d sessions from each of these (now %.0f)", q.Reach.Sessions, q.Sessions))
	}
	text += fmt.Sprintf("; %s of them would tell %.1f %s. ", percentOf(q.Wanted), q.Findable, unit)
	if len(ways) == 0 {
		return text + "No number of swimmers or sessions in reach would do: the bouts say too little about the rate."
	}
	text += fmt.Sprintf("For %s it would take %s", percentOf(q.Wanted), strings.Join(ways, ", or "))
	if q.Reach.Sessions == 0 {
		text += "; more sessions from these alone would not do, because swimmers differ"
	}
	return text + "."
}
