package schemas

// AdviceBySwimmer is one row of the table advice_by_swimmer: one score taken
// as advice on which bout is the cheaper one, put to one test on one swimmer's
// bouts.
type AdviceBySwimmer struct {
	Swimmer    string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Stroke     string   `parquet:"stroke,dict" about:"the stroke"`
	Design     string   `parquet:"design,dict" about:"observed or designed"`
	Score      string   `parquet:"score,dict" about:"score (arm strokes and seconds), score_wrist (one-arm cycles and seconds, as a watch on one wrist counts), strokes, distance_per_stroke, stroke_index, stroke_rate, or speed as the baseline"`
	Direction  string   `parquet:"direction,dict" about:"which is better by its claim, fixed beforehand: lower or higher (speed: lower)"`
	Test       string   `parquet:"test,dict" about:"as-swum (pairs of a session across paces, cost as read), pace-adjusted (the same pairs, cost less what pace and minutes account for), matched-pace (pairs at a matched pace, score and cost adjusted: there all scores are one variable), held-out (sessions that took no part in finding the score's weight)"`
	Measure    string   `parquet:"measure,dict" about:"agreement (share of pairs in which the advised bout is the cheaper one), correlation_with_count (with the stroke count at fixed pace), skill (squared error saved over the session's mean; none where the other sessions refuse the claimed direction), skill_either_way (the same, free to point against the claim), skill_over_pace (over pace alone), skill_added_to_pace (by adding the score to pace and minutes), rank_skill (share of pairs in the right order less that in the wrong one)"`
	Estimate   *float64 `parquet:"estimate,optional" unit:"1" about:"the measure; null when there was no test"`
	StdError   *float64 `parquet:"std_error,optional" unit:"1" about:"standard error, sessions resampled"`
	ConfLow    *float64 `parquet:"conf_low,optional" unit:"1" about:"lower end of the 95 % interval, sessions resampled"`
	ConfHigh   *float64 `parquet:"conf_high,optional" unit:"1" about:"upper end of the 95 % interval, sessions resampled"`
	Null       *float64 `parquet:"null_value,optional" unit:"1" about:"the measure of advice that is worth nothing"`
	Pairs      int32    `parquet:"pairs" unit:"1" about:"pairs of bouts; 0 for what is not counted in pairs"`
	Bouts      int32    `parquet:"bouts" unit:"1" about:"usable bouts of known counting basis"`
	Sessions   int32    `parquet:"sessions" unit:"1" about:"sessions they come from"`
	PooledOver string   `parquet:"pooled_over" about:"keys that differ among the bouts, with their values"`
	Reason     *string  `parquet:"reason,optional" about:"why there was no test"`
	Warnings   string   `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}

// AdviceOverall is one row of the table advice_overall: one score as advice,
// pooled over the squad's swimmers or compared between them.
type AdviceOverall struct {
	Stroke      string   `parquet:"stroke,dict" about:"the stroke"`
	Design      string   `parquet:"design,dict" about:"observed or designed"`
	Score       string   `parquet:"score,dict" about:"as in advice_by_swimmer"`
	Direction   string   `parquet:"direction,dict" about:"which is better by its claim, fixed beforehand: lower or higher (speed: lower)"`
	Test        string   `parquet:"test,dict" about:"as in advice_by_swimmer, or between (swimmers, each at their usual paces)"`
	Measure     string   `parquet:"measure,dict" about:"as in advice_by_swimmer; correlation_with_count is here the least of the swimmers' sizes, correlation that of swimmers' means, score turned so that a number above zero bears its claim out"`
	Estimate    *float64 `parquet:"estimate,optional" unit:"1" about:"agreement: pooled over swimmers by random effects (REML); others: mean over swimmers; null when it could not be"`
	StdError    *float64 `parquet:"std_error,optional" unit:"1" about:"its standard error (agreement: CR2 over swimmers)"`
	ConfLow     *float64 `parquet:"conf_low,optional" unit:"1" about:"lower end of the 95 % interval"`
	ConfHigh    *float64 `parquet:"conf_high,optional" unit:"1" about:"upper end of the 95 % interval"`
	PValue      *float64 `parquet:"p_value,optional" unit:"1" about:"two-sided, against null_value"`
	PredictLow  *float64 `parquet:"predict_low,optional" unit:"1" about:"lower end of the 95 % prediction interval for another swimmer"`
	PredictHigh *float64 `parquet:"predict_high,optional" unit:"1" about:"upper end of the 95 % prediction interval for another swimmer"`
	Null        *float64 `parquet:"null_value,optional" unit:"1" about:"the measure of advice that is worth nothing"`
	Tau2        *float64 `parquet:"tau2,optional" unit:"1" about:"variance of the agreement between swimmers (REML)"`
	I2          *float64 `parquet:"i2,optional" unit:"%" about:"share of the variance that is between swimmers"`
	Swimmers    int32    `parquet:"swimmers" unit:"1" about:"swimmers in the estimate"`
	Bouts       int32    `parquet:"bouts" unit:"1" about:"bouts in the estimate"`
	Sessions    int32    `parquet:"sessions" unit:"1" about:"sessions in the estimate"`
	NDropped    int32    `parquet:"n_dropped" unit:"1" about:"swimmers left out"`
	DroppedWhy  string   `parquet:"dropped_why" about:"the reasons with their counts"`
	PooledOver  string   `parquet:"pooled_over" about:"keys that differ among the bouts, with their values"`
	Reason      *string  `parquet:"reason,optional" about:"why there is no estimate"`
	Warnings    string   `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}
