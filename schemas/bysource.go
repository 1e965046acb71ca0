package schemas

// ScoreBySource is one row of the table score_by_source: the primary number from the
// bouts of one source of heart rate alone, or how two sources differ. Swimmers stand
// in it who have more than one source, and the squad's average of all swimmers.
type ScoreBySource struct {
	Scope          string   `parquet:"scope,dict" about:"swimmer, or squad for all swimmers pooled"`
	Swimmer        string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study; empty for the squad"`
	Stroke         string   `parquet:"stroke,dict" about:"the stroke"`
	Design         string   `parquet:"design,dict" about:"designed (costs) or observed (goes together with)"`
	Source         string   `parquet:"hr_source,dict" about:"strap, optical, palpated or unknown"`
	Against        string   `parquet:"against,dict" about:"empty for the effect itself; else the source whose effect, from the same swimmers, is taken off"`
	EffectPer10Pct *float64 `parquet:"effect_per_10pct,optional" about:"cost of 10 % more strokes a minute at the reference pace, in the cost's unit, or its difference from that of against"`
	StdError       *float64 `parquet:"std_error,optional" about:"its standard error: CR2 by session for a swimmer, CR2 over swimmers for the squad"`
	EffectLow      *float64 `parquet:"effect_low,optional" about:"lower end of the 95 % interval"`
	EffectHigh     *float64 `parquet:"effect_high,optional" about:"upper end of the 95 % interval"`
	DF             *float64 `parquet:"df,optional" unit:"1" about:"degrees of freedom: Satterthwaite's; for the squad swimmers less one where they weigh alike, else fewer"`
	PValue         *float64 `parquet:"p_value,optional" unit:"1" about:"two-sided, against no effect, or against no difference"`
	Tau2           *float64 `parquet:"tau2,optional" about:"squad: variance between swimmers (REML)"`
	Swimmers       int32    `parquet:"swimmers" unit:"1" about:"swimmers in the estimate"`
	Bouts          int32    `parquet:"bouts" unit:"1" about:"bouts of the source, in sessions with two or more"`
	Sessions       int32    `parquet:"sessions" unit:"1" about:"those sessions"`
	Reason         *string  `parquet:"reason,optional" about:"why there is no estimate, or one that is not enough"`
	Warnings       string   `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}
