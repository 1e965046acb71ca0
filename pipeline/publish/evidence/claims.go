package evidence

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"lengthwise/pipeline/findings"
	"lengthwise/schemas"
)

// Claim is one sentence that the study earns, with everything that belongs to
// it.
type Claim struct {
	ID          string   `json:"id"`
	Question    string   `json:"question"`
	About       string   `json:"about"` // what it answers, in a few words
	Sentence    string   `json:"sentence"`
	Stroke      string   `json:"stroke"`
	Design      string   `json:"design"`   // designed, observed, or "" where bouts of both kinds are in it
	Strength    string   `json:"strength"` // costs, or goes-together-with
	Estimate    float64  `json:"estimate"`
	Unit        string   `json:"unit"`
	IntervalLow float64  `json:"interval_low"`
	IntervalTop float64  `json:"interval_high"`
	Interval    string   `json:"interval"` // what kind of interval it is
	PredictLow  *float64 `json:"predict_low"`
	PredictHigh *float64 `json:"predict_high"`
	Swimmers    int32    `json:"swimmers"`
	Bouts       int32    `json:"bouts"`
	Sessions    int32    `json:"sessions"`
	Limits      []string `json:"limits"`
	Table       string   `json:"table"` // where the number stands
}

// asked are the questions that claims answer, in the order of the pack, with
// what they are about. Others hold counts or extremes of single swimmers.
var asked = []struct{ question, about string }{
	{findings.MatchedPace, "A higher stroke rate at the same pace"},
	{findings.Contrast, "What swimmers were told, or did, at the same pace"},
	{findings.Raw, "The score and the cost across paces"},
	{findings.Concordance, "Two bouts at one pace: are fewer strokes cheaper?"},
	{findings.Advice, "Scores taken at their word"},
	{findings.MixedModel, "The same number from one model of all bouts"},
	{findings.Between, "From swimmer to swimmer"},
	{findings.Sensitivity, "The same number under other choices"},
	{findings.Change, "A change from a day on"},
	{findings.BetweenDays, "How far two days must differ"},
}

// knownTags are the tags whose levels are words of the program. Others are the
// squad's own words, which stay with the squad.
var knownTags = []string{"instruction", "kick", "equipment"}

const interval95 = "95 % interval"

// origin is what the table says of a claim.
type origin struct {
	table               string
	estimate, low, high *float64
	predictLow, predict *float64
	swimmers, bouts     int32
	sessions            int32
	unit                string
	interval            string
}

// claims picks the findings that may be shown, and counts those that stay back
// because too few swimmers are behind them or named in them.
func (in Input) claims() (shown []Claim, withheld int, err error) {
	for _, q := range asked {
		for _, f := range in.Findings {
			if f.Question != q.question || f.Swimmer != nil || f.Design != nil && *f.Design == findings.All {
				continue
			}
			o, found := in.origin(f)
			if !found || o.estimate == nil || o.low == nil || o.high == nil {
				continue
			}
			if f.Estimate == nil || *f.Estimate != *o.estimate {
				return nil, 0, fmt.Errorf("claim %s: its number is not that of the table %s; run the study again", f.Finding, o.table)
			}
			sentence := f.Sentence
			if q.question == findings.Change {
				sentence = in.withoutNames(sentence)
			}
			if int(o.swimmers) < in.SmallestGroup || in.tells(sentence) {
				withheld++
				continue
			}
			c := Claim{
				Question: q.question, About: q.about, Sentence: sentence, Strength: f.Strength, Table: o.table,
				Estimate: *o.estimate, IntervalLow: *o.low, IntervalTop: *o.high, Interval: o.interval, Unit: o.unit,
				PredictLow: o.predictLow, PredictHigh: o.predict, Swimmers: o.swimmers, Bouts: o.bouts, Sessions: o.sessions,
				Limits: []string{},
			}
			if f.Stroke != nil {
				c.Stroke = *f.Stroke
			}
			if f.Design != nil && f.Question != findings.BetweenDays {
				c.Design = *f.Design
			}
			if f.Caution != nil {
				for _, limit := range sentences(*f.Caution) {
					if !in.tells(limit) && !in.ownWords(limit) && !slices.Contains(c.Limits, limit) {
						c.Limits = append(c.Limits, limit)
					}
				}
			}
			shown = append(shown, c)
		}
	}
	number := map[string]int{}
	for i := range shown {
		q := shown[i].Question
		number[q]++
		shown[i].ID = q + "-" + strconv.Itoa(number[q])
	}
	return shown, withheld, nil
}

// sentences splits a text at full stops, also before a number: what tells of few
// swimmers often begins with one.
func sentences(text string) []string {
	var out []string
	for _, s := range strings.SplitAfter(text, ". ") {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// counted finds how many swimmers a sentence speaks of.
var counted = regexp.MustCompile(`\b([0-9][0-9,]*) (?:of [0-9,]+ )?(?:such )?swimmers?\b`)

// single finds figures of one swimmer.
var single = regexp.MustCompile(`for one swimmer and by [0-9.]+|left out:|swimmers? left out`)

// tells reports whether a sentence tells something of fewer swimmers than may
// be shown.
func (in Input) tells(sentence string) bool {
	if single.MatchString(sentence) {
		return true
	}
	for _, m := range counted.FindAllStringSubmatch(sentence, -1) {
		if n, err := strconv.Atoi(strings.ReplaceAll(m[1], ",", "")); err != nil || n < in.SmallestGroup {
			return true
		}
	}
	return false
}

// withoutNames takes the squad's own names of changes out of a sentence about
// changes.
func (in Input) withoutNames(sentence string) string {
	for _, c := range in.Changes {
		if c.Change != "" {
			sentence = strings.ReplaceAll(sentence, c.Change, "the change")
		}
	}
	return sentence
}

// ownWords reports whether a sentence holds the squad's own words: names of
// changes, and tags with their levels.
func (in Input) ownWords(sentence string) bool {
	folded := strings.ToLower(sentence)
	for _, c := range in.Changes {
		if holdsWord(folded, strings.ToLower(c.Change)) {
			return true
		}
	}
	for _, c := range in.Contrasts {
		if !slices.Contains(knownTags, c.Tag) && (holdsWord(folded, strings.ToLower(c.Tag)) || holdsWord(folded, strings.ToLower(c.Level))) {
			return true
		}
	}
	return false
}

// origin finds the row of a table that a finding was made from.
func (in Input) origin(f schemas.Finding) (origin, bool) {
	parts := strings.Split(f.Finding, "/")
	stroke, design := deref(f.Stroke), deref(f.Design)
	switch f.Question {
	case findings.MatchedPace:
		return in.overall(findings.MatchedPace, findings.MeasureEffect, stroke, design, in.Cost.Unit())
	case findings.MixedModel:
		return in.overall(findings.MatchedPace, "effect_mixed", stroke, design, in.Cost.Unit())
	case findings.Concordance:
		return in.overall(findings.MatchedPace, findings.MeasureConcordance, stroke, design, "1")
	case findings.Raw, findings.Between:
		if slices.Contains(parts, findings.ScoreRecorded) {
			return origin{}, false
		}
		return in.overall(f.Question, findings.MeasureCorrelation, stroke, design, "1")
	case findings.Advice:
		return in.advice(parts, stroke, design)
	case findings.Contrast:
		return in.contrast(parts, stroke, design)
	case findings.Change:
		return in.change(parts, stroke)
	case findings.BetweenDays:
		for _, r := range in.Days {
			if r.Scope == squadScope && r.Stroke == stroke {
				return origin{table: "reliability", estimate: r.Detectable, low: r.DetectableLow, high: r.DetectableHigh,
					swimmers: r.Swimmers, sessions: r.N, unit: in.Cost.Unit(), interval: interval95}, true
			}
		}
	case findings.Sensitivity:
		return in.choices(parts, stroke, design)
	}
	return origin{}, false
}

const squadScope = "squad"

func (in Input) overall(question, measure, stroke, design, unit string) (origin, bool) {
	for _, r := range in.Overall {
		if r.Question == question && r.Measure == measure && r.Stroke == stroke && r.Design == design && r.Score == findings.ScoreArms {
			return origin{table: "score_overall", estimate: r.Estimate, low: r.ConfLow, high: r.ConfHigh, predictLow: r.PredictLow, predict: r.PredictHigh,
				swimmers: r.Swimmers, bouts: r.Bouts, sessions: r.Sessions, unit: unit, interval: interval95}, true
		}
	}
	return origin{}, false
}

func (in Input) advice(parts []string, stroke, design string) (origin, bool) {
	for _, r := range in.Advice {
		if len(parts) > 1 && r.Test == parts[1] && r.Score == findings.ScoreArms && r.Measure == "agreement" && r.Stroke == stroke && r.Design == design {
			return origin{table: "advice_overall", estimate: r.Estimate, low: r.ConfLow, high: r.ConfHigh, predictLow: r.PredictLow, predict: r.PredictHigh,
				swimmers: r.Swimmers, bouts: r.Bouts, sessions: r.Sessions, unit: "1", interval: interval95}, true
		}
	}
	return origin{}, false
}

func (in Input) contrast(parts []string, stroke, design string) (origin, bool) {
	for _, r := range in.Contrasts {
		if len(parts) > 3 && r.Scope == squadScope && r.Tag == parts[1] && slices.Contains(knownTags, r.Tag) && r.Level == parts[2] && r.Reference == parts[3] &&
			r.Measure == "cost" && r.AdjustedFor == "" && r.Stroke == stroke && r.Design == design {
			return origin{table: "contrasts", estimate: r.Estimate, low: r.ConfLow, high: r.ConfHigh, predictLow: r.PredictLow, predict: r.PredictHigh,
				swimmers: r.Swimmers, bouts: r.N, sessions: r.Sessions, unit: r.Unit, interval: interval95}, true
		}
	}
	return origin{}, false
}

func (in Input) change(parts []string, stroke string) (origin, bool) {
	for _, r := range in.Changes {
		if len(parts) > 2 && r.Scope == squadScope && r.Kind == parts[1] && r.Kind != "phase" && r.Change == parts[2] && r.Stroke == stroke {
			return origin{table: "changes", estimate: r.Estimate, low: r.ConfLow, high: r.ConfHigh,
				swimmers: r.Swimmers, bouts: r.Bouts, sessions: r.N, unit: in.Cost.Unit(), interval: interval95}, true
		}
	}
	return origin{}, false
}

func (in Input) choices(parts []string, stroke, design string) (origin, bool) {
	own, ok := in.overall(findings.MatchedPace, findings.MeasureEffect, stroke, design, in.Cost.Unit())
	for _, r := range in.Summaries {
		if ok && len(parts) > 1 && parts[1] == "curve" && r.Stroke == stroke && r.Design == design {
			own.table, own.estimate, own.low, own.high = "sensitivity_summary", r.Median, r.Lowest, r.Highest
			own.predictLow, own.predict, own.interval = nil, nil, "lowest and highest of all specifications"
			return own, true
		}
	}
	return origin{}, false
}

func deref(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
