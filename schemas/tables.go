package schemas

// Description says what one table holds; Row is a zero value of its struct.
type Description struct {
	Name  string // file name without ending, and the name users type
	About string // one sentence
	Keys  []string
	Row   any
}

// Tables lists every table in the order in which the pipeline makes them.
func Tables() []Description {
	return []Description{
		{"swimmers", "who is in the study, by pseudonym", []string{"swimmer"}, Swimmer{}},
		{"sessions", "one row a recording of one swimmer", []string{"session"}, Session{}},
		{"lengths", "one row a pool length as used, with its recorded values and measures", []string{"session", "ordinal"}, Length{}},
		{"lineage", "which source record became which length", []string{"file_id", "kind", "record", "ordinal"}, Lineage{}},
		{"bouts", "one row a bout (lengths swum without a rest), with its measures and cost", []string{"session", "bout"}, Bout{}},
		{"heart_rate", "heart-rate samples that screening kept, in 64 buckets by swimmer", []string{"session", "file_id", "record"}, HeartRate{}},
		{"ledger", "every source record that met a rule: excluded, repaired or noted", []string{"file_id", "kind", "record", "rule"}, LedgerEntry{}},
		{"coefficients", "terms of each swimmer's models", []string{"swimmer", "stroke", "design", "model", "term"}, Coefficient{}},
		{"fits", "each swimmer's models as a whole", []string{"swimmer", "stroke", "design", "model"}, Fit{}},
		{"score_by_swimmer", "does the score track what the swim costs, swimmer by swimmer", []string{"swimmer", "stroke", "design"}, ScoreBySwimmer{}},
		{"score_overall", "does the score track what the swim costs, for the squad", []string{"question", "design", "stroke", "measure", "score"}, ScoreOverall{}},
		{"score_by_source", "does the score track what the swim costs, by source of heart rate, and how sources differ", []string{"scope", "swimmer", "stroke", "design", "hr_source", "against"}, ScoreBySource{}},
		{"mixed_effects", "one mixed model of all bouts, beside the two-stage result", []string{"stroke", "design", "kind", "term"}, MixedEffect{}},
		{"sensitivity", "the primary number under every distinct specification of the analysis", []string{"stroke", "design", "specification"}, Sensitivity{}},
		{"sensitivity_summary", "what the specifications say together", []string{"stroke", "design"}, SensitivitySummary{}},
		{"advice_by_swimmer", "each published score taken as advice and put to the test, swimmer by swimmer", []string{"swimmer", "stroke", "design", "score", "test", "measure"}, AdviceBySwimmer{}},
		{"advice_overall", "each published score taken as advice and put to the test, for the squad", []string{"stroke", "design", "score", "test", "measure"}, AdviceOverall{}},
		{"contrasts", "what tags that differ within sessions (instruction, kick, equipment ...) go together with, or cost, at a fixed pace", []string{"scope", "swimmer", "stroke", "design", "tag", "level", "reference", "measure", "adjusted_for"}, Contrast{}},
		{"economical_rate", "at which stroke rate a pace is cheapest, swimmer by swimmer", []string{"swimmer", "stroke", "design", "pace_role"}, EconomicalRate{}},
		{"confounding", "how strong an unseen cause would have to be to remove an observed effect of stroke rate", []string{"swimmer", "stroke", "design", "benchmark"}, Confounding{}},
		{"changes", "what dated changes and phases of training go together with, or cost, at the reference pace", []string{"scope", "swimmer", "stroke", "kind", "change", "reference"}, Change{}},
		{"heart_cost", "what each session cost at the reference pace against what the swimmer usually pays there", []string{"session", "stroke"}, HeartCost{}},
		{"reliability", "how far two sessions must differ to be more than noise, and how well they tell swimmers apart", []string{"scope", "swimmer", "stroke"}, Reliability{}},
		{"cost_by_rate", "what stroke rates below and above the usual one cost at the same pace", []string{"scope", "swimmer", "stroke", "design", "rate_pct_of_usual"}, CostByRate{}},
		{"rate_length_speed", "how much of a gain in speed comes from rate and how much from length of stroke", []string{"scope", "swimmer", "stroke", "over"}, RateLengthSpeed{}},
		{"rate_length_curve", "each swimmer's own stroke rate and distance per stroke by speed", []string{"swimmer", "stroke", "point"}, RateLengthCurve{}},
		{"critical_speed", "critical speed from swims noted as maximal", []string{"swimmer", "stroke"}, CriticalSpeed{}},
		{"findings", "the results in sentences, each with its numbers", []string{"finding"}, Finding{}},
	}
}
