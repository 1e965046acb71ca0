package schemas

// MixedEffect is one row of the table mixed_effects: one term of the squad's
// mixed model of all bouts of a stroke and design. The first row of each model
// is the primary number, with the two-stage result beside it.
type MixedEffect struct {
	Stroke       string   `parquet:"stroke,dict" about:"the stroke"`
	Design       string   `parquet:"design,dict" about:"observed (goes together with), designed (costs) or all"`
	Kind         string   `parquet:"kind,dict" about:"fixed, spread (standard deviation over swimmers or sessions), correlation (of two terms over swimmers) or remainder (standard deviation left over)"`
	Term         string   `parquet:"term" about:"name of the term; effect_per_10pct is the slope on ln stroke rate per 10 % more strokes a minute"`
	Estimate     *float64 `parquet:"estimate,optional" about:"in the cost's unit over the term's unit; null when there is no model"`
	StdError     *float64 `parquet:"std_error,optional" about:"Kenward and Roger's (1997) for effect_per_10pct, variances taken as known for other fixed terms; null for spreads and correlations"`
	Statistic    *float64 `parquet:"statistic,optional" unit:"1" about:"estimate over standard error"`
	DF           *float64 `parquet:"df,optional" unit:"1" about:"degrees of freedom: Kenward and Roger's for effect_per_10pct, Satterthwaite's for other fixed terms"`
	PValue       *float64 `parquet:"p_value,optional" unit:"1" about:"two-sided"`
	ConfLow      *float64 `parquet:"conf_low,optional" about:"lower end of the 95 % interval"`
	ConfHigh     *float64 `parquet:"conf_high,optional" about:"upper end of the 95 % interval"`
	PredictLow   *float64 `parquet:"predict_low,optional" about:"lower end of the 95 % interval for another swimmer's own effect"`
	PredictHigh  *float64 `parquet:"predict_high,optional" about:"upper end of the 95 % interval for another swimmer's own effect"`
	TwoStage     *float64 `parquet:"two_stage,optional" about:"the same number pooled over the swimmers' own results, in the cost's unit; on the row effect_per_10pct alone"`
	TwoStageLow  *float64 `parquet:"two_stage_low,optional" about:"lower end of its 95 % interval, in the cost's unit"`
	TwoStageHigh *float64 `parquet:"two_stage_high,optional" about:"upper end of its 95 % interval, in the cost's unit"`
	Difference   string   `parquet:"difference,dict" about:"what stands behind a difference of the two: swimmers (of too little data, who are in the mixed model alone), counts (slopes that the two-stage result corrects for counting error), curve (slopes that the two-stage result reads from curves), weights (one scatter for all, or each swimmer's own), several (no single one), width (the estimates agree, the intervals do not); empty when they agree"`
	Changed      *float64 `parquet:"changed,optional" about:"what is left when that is taken away, in the cost's unit: the mixed model without those swimmers, the two-stage result as counts stand, without curves or with one scatter for all"`
	N            int32    `parquet:"n" unit:"1" about:"bouts in the model"`
	Swimmers     int32    `parquet:"swimmers" unit:"1" about:"swimmers in the model"`
	Sessions     int32    `parquet:"sessions" unit:"1" about:"sessions in the model"`
	NDropped     int32    `parquet:"n_dropped" unit:"1" about:"swimmers left out"`
	DroppedWhy   string   `parquet:"dropped_why" about:"the reasons with their counts"`
	Reason       *string  `parquet:"reason,optional" about:"why there is no model"`
	Warnings     string   `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}
