package schemas

// Sensitivity is one row of the table sensitivity: the squad's primary number
// under one distinct specification of the analysis.
type Sensitivity struct {
	Stroke        string   `parquet:"stroke,dict" about:"the stroke"`
	Design        string   `parquet:"design,dict" about:"observed (goes together with) or designed (costs)"`
	Specification int32    `parquet:"specification" unit:"1" about:"number of the specification in the plan, from 1; 1 is the study's own"`
	Departures    int32    `parquet:"departures" unit:"1" about:"choices in which it departs from the study's own"`
	SteadyAfter   string   `parquet:"steady_after,dict" about:"unbroken swimming after which a window's heart rate counts as steady"`
	ShortestBout  string   `parquet:"shortest_bout,dict" about:"shorter bouts are left out"`
	Drift         string   `parquet:"drift,dict" about:"how cost drifts through a session: ln-minutes, none, minutes or both"`
	Window        string   `parquet:"window,dict" about:"the last part of a bout that is averaged"`
	Reading       string   `parquet:"reading,dict" about:"how steady heart rate is read from samples: auto, window or kinetics"`
	LockRule      string   `parquet:"lock_rule,dict" about:"on: heart rates that follow the strokes are left out; off: they are kept"`
	Repairs       string   `parquet:"repairs,dict" about:"bouts with repaired lengths: kept or left-out"`
	HRSource      string   `parquet:"heart_rate_source,dict" about:"any, or the one source whose bouts are used"`
	UnknownCounts string   `parquet:"unknown_counts,dict" about:"bouts of unknown counting basis: kept or left-out"`
	FirstBout     string   `parquet:"first_bout,dict" about:"a session's first bout: kept or left-out"`
	PaceTerms     string   `parquet:"pace_terms,dict" about:"quadratic or linear in ln speed"`
	TagTerms      string   `parquet:"tag_terms,dict" about:"kick-and-equipment: terms for both where noted; none"`
	RateTerms     string   `parquet:"rate_terms,dict" about:"curve-where-it-shows, or straight (pooling mixed: curve or straight for all)"`
	CountingError string   `parquet:"counting_error,dict" about:"corrected: slopes corrected for counting error where it flattens them; plain: as the counts stand (pooling mixed: always)"`
	Pooling       string   `parquet:"pooling,dict" about:"reml (CR2 over swimmers), dl (DerSimonian-Laird, normal), pm (Paule-Mandel, CR2 over swimmers), equal (mean of the swimmers, Student's t) or mixed (one mixed model of all bouts)"`
	Estimate      *float64 `parquet:"estimate,optional" about:"cost per 10 % more strokes a minute, in the cost's unit; null when fewer than two swimmers have enough data"`
	ConfLow       *float64 `parquet:"conf_low,optional" about:"lower end of the 95 % interval"`
	ConfHigh      *float64 `parquet:"conf_high,optional" about:"upper end of the 95 % interval"`
	Swimmers      int32    `parquet:"swimmers" unit:"1" about:"swimmers in the estimate"`
	Bouts         int32    `parquet:"bouts" unit:"1" about:"bouts in the estimate"`
	Equivalent    int32    `parquet:"equivalent" unit:"1" about:"specifications of the plan that rest on the same rows and terms, this one among them"`
	Reason        *string  `parquet:"reason,optional" about:"why there is no estimate"`
}

// SensitivitySummary is one row of the table sensitivity_summary: what the
// distinct specifications say together.
type SensitivitySummary struct {
	Stroke          string   `parquet:"stroke,dict" about:"the stroke"`
	Design          string   `parquet:"design,dict" about:"observed or designed"`
	Planned         int32    `parquet:"planned" unit:"1" about:"specifications in the plan"`
	Distinct        int32    `parquet:"distinct" unit:"1" about:"distinct ones: equal rows, terms and pooling count once"`
	Estimated       int32    `parquet:"estimated" unit:"1" about:"distinct ones with an estimate; the shares are of these"`
	AboveZero       *float64 `parquet:"above_zero,optional" unit:"1" about:"share of estimates above zero"`
	IntervalAbove   *float64 `parquet:"interval_above,optional" unit:"1" about:"share of 95 % intervals that lie above zero"`
	IntervalBelow   *float64 `parquet:"interval_below,optional" unit:"1" about:"share of 95 % intervals that lie below zero"`
	IntervalInside  *float64 `parquet:"interval_inside,optional" unit:"1" about:"share of 95 % intervals inside the smallest effect"`
	Lowest          *float64 `parquet:"lowest,optional" about:"lowest estimate, in the cost's unit"`
	Median          *float64 `parquet:"median,optional" about:"median estimate, in the cost's unit"`
	Highest         *float64 `parquet:"highest,optional" about:"highest estimate, in the cost's unit"`
	Own             *float64 `parquet:"own,optional" about:"the estimate of the study's own specification, in the cost's unit"`
	MovesMost       string   `parquet:"moves_most,dict" about:"the choice whose settings differ most in their mean over a balanced set of the others; empty when none can be told"`
	MovesBy         *float64 `parquet:"moves_by,optional" about:"by how much, in the cost's unit"`
	WithLockRule    *float64 `parquet:"with_lock_rule,optional" about:"the study's own specification with heart rates that follow the strokes left out, in the cost's unit"`
	WithLockLow     *float64 `parquet:"with_lock_rule_low,optional" about:"lower end of its 95 % interval, in the cost's unit"`
	WithLockHigh    *float64 `parquet:"with_lock_rule_high,optional" about:"upper end of its 95 % interval, in the cost's unit"`
	WithoutLockRule *float64 `parquet:"without_lock_rule,optional" about:"the same with them kept, in the cost's unit"`
	WithoutLockLow  *float64 `parquet:"without_lock_rule_low,optional" about:"lower end of its 95 % interval, in the cost's unit"`
	WithoutLockHigh *float64 `parquet:"without_lock_rule_high,optional" about:"upper end of its 95 % interval, in the cost's unit"`
	Reason          *string  `parquet:"reason,optional" about:"why there is no summary"`
}
