package schemas

// EconomicalRate is one row of the table economical_rate: at which stroke rate a
// pace is cheapest for one swimmer. Rates are in % of the swimmer's usual rate at
// that pace. Columns that name a rate are null unless it could be named; the set
// of turning points stands there either way.
type EconomicalRate struct {
	Swimmer         string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Stroke          string   `parquet:"stroke,dict" about:"the stroke"`
	Design          string   `parquet:"design,dict" about:"designed (a rate may be named) or observed (a direction at most)"`
	PaceRole        string   `parquet:"pace_role,dict" about:"reference (the reference pace), slower or quicker (a pace swum to either side of it)"`
	PaceSPer100M    float64  `parquet:"pace_s_per_100m" unit:"s/100m" about:"the pace that the row is about"`
	PoolM           *float64 `parquet:"pool_m,optional" unit:"m" about:"the pool of most bouts: rates in strokes a minute are for it"`
	UsualRateSPM    *float64 `parquet:"usual_rate_spm,optional" unit:"/min" about:"the swimmer's usual whole-length stroke rate at that pace in the pool of most bouts: 100 %"`
	UsualFrom       string   `parquet:"usual_from,dict" about:"own (bouts at a rate of the swimmer's own choice) set (too few of those: the middle of the rates set) or all (rates were not set in numbers either: the middle of all rates swum)"`
	RatePctOfUsual  *float64 `parquet:"rate_pct_of_usual,optional" unit:"%" about:"the cheapest rate, where one is named: within the rates swum, from designed bouts, at a minimum whose set is bounded"`
	RateSPM         *float64 `parquet:"rate_spm,optional" unit:"/min" about:"the same in strokes a minute, over whole lengths in the pool of most bouts"`
	StdError        *float64 `parquet:"std_error,optional" unit:"%" about:"its standard error by the delta method; the set is the interval to go by"`
	ConfLow         *float64 `parquet:"conf_low,optional" unit:"%" about:"lower end of the 95 % Fieller set of the turning point, as set_type says"`
	ConfHigh        *float64 `parquet:"conf_high,optional" unit:"%" about:"upper end of the 95 % Fieller set of the turning point, as set_type says"`
	SetType         string   `parquet:"set_type,dict" about:"bounded (conf_low to conf_high), two-rays (up to conf_low, and from conf_high on), whole-line (nothing is left out) or none (no curve)"`
	Turn            string   `parquet:"turn,dict" about:"what the fitted curve does where it turns: minimum, maximum, or none"`
	Place           string   `parquet:"place,dict" about:"where the cheapest rate lies: within the rates swum, at-or-beyond-slowest, at-or-beyond-quickest, either-end (cost is highest in the middle) or open"`
	LowSwum         *float64 `parquet:"low_swum,optional" unit:"%" about:"slow end of the rates swum near that pace (5 % of bouts lie below)"`
	HighSwum        *float64 `parquet:"high_swum,optional" unit:"%" about:"quick end of the rates swum near that pace (5 % of bouts lie above)"`
	DF              *float64 `parquet:"df,optional" unit:"1" about:"Satterthwaite degrees of freedom of the curve's slope where it turns"`
	SlopePer10Pct   *float64 `parquet:"slope_per_10pct,optional" about:"cost per 10 % more strokes a minute at the usual rate and that pace, read off the curve, in the cost's unit"`
	SlopeLow        *float64 `parquet:"slope_low,optional" about:"lower end of its 95 % interval"`
	SlopeHigh       *float64 `parquet:"slope_high,optional" about:"upper end of its 95 % interval"`
	Direction       string   `parquet:"direction,dict" about:"on which side of the usual rate bouts were the cheaper ones: quicker, slower or open"`
	CostAtUsual     *float64 `parquet:"cost_at_usual,optional" about:"cost at the usual rate and that pace in an average session, in the cost's unit"`
	CostAtBest      *float64 `parquet:"cost_at_best,optional" about:"cost at the rate named; the difference to cost_at_usual flatters, for the rate was chosen by it"`
	ScoreAdvice     *float64 `parquet:"score_advice,optional" unit:"%" about:"the rate that the score calls cheapest at a fixed pace: fewest strokes, so the slowest rate swum"`
	ScoreAdviceCost *float64 `parquet:"score_advice_cost,optional" about:"what that rate costs over the usual one, in the cost's unit"`
	ScoreAdviceLow  *float64 `parquet:"score_advice_cost_low,optional" about:"lower end of its 95 % interval"`
	ScoreAdviceHigh *float64 `parquet:"score_advice_cost_high,optional" about:"upper end of its 95 % interval"`
	Reliability     *float64 `parquet:"reliability,optional" unit:"1" about:"share of the variance of ln stroke rate at fixed pace that is not counting error; a lower bound when reliability_from is bounded"`
	ReliabilityFrom string   `parquet:"reliability_from,dict" about:"stated, measured (hand counts beside a recorder's), rounding (hand counts), bounded (scatter about the rates set) or unknown"`
	Correction      string   `parquet:"correction,dict" about:"how the row's numbers are corrected for counting error: none, corrected-score (error of known size) or instrument (by the rates set)"`
	PlainPctOfUsual *float64 `parquet:"plain_pct_of_usual,optional" unit:"%" about:"turning point without correction, wherever it lies; null at a maximum"`
	PlainLow        *float64 `parquet:"plain_low,optional" unit:"%" about:"lower end of its Fieller set"`
	PlainHigh       *float64 `parquet:"plain_high,optional" unit:"%" about:"upper end of its Fieller set"`
	PlainSetType    string   `parquet:"plain_set_type,dict" about:"shape of that set"`
	Bouts           int32    `parquet:"bouts" unit:"1" about:"bouts in the curve"`
	Sessions        int32    `parquet:"sessions" unit:"1" about:"sessions in the curve"`
	PooledOver      string   `parquet:"pooled_over" about:"keys that differ among the bouts, with their values"`
	Reason          *string  `parquet:"reason,optional" about:"why no rate is named"`
	Warnings        string   `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}

// CostByRate is one row of the table cost_by_rate: what a stroke rate of 80, 90,
// 110 or 120 % of the usual one costs over the usual one, at the same pace.
type CostByRate struct {
	Scope          string   `parquet:"scope,dict" about:"swimmer, or squad for all swimmers pooled"`
	Swimmer        string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study; empty for the squad"`
	Stroke         string   `parquet:"stroke,dict" about:"the stroke"`
	Design         string   `parquet:"design,dict" about:"designed (costs) or observed (goes together with)"`
	RatePctOfUsual float64  `parquet:"rate_pct_of_usual" unit:"%" about:"the stroke rate, in % of the swimmer's usual rate at that pace"`
	Change         *float64 `parquet:"change,optional" about:"cost at that rate minus cost at the usual rate, within sessions at the same pace, in the cost's unit"`
	StdError       *float64 `parquet:"std_error,optional" about:"its standard error: CR2 by session for a swimmer, CR2 over swimmers for the squad"`
	DF             *float64 `parquet:"df,optional" unit:"1" about:"degrees of freedom: Satterthwaite's; for the squad swimmers less one where they weigh alike, else fewer"`
	PValue         *float64 `parquet:"p_value,optional" unit:"1" about:"two-sided"`
	PHolm          *float64 `parquet:"p_holm,optional" unit:"1" about:"p adjusted within the rows of the same swimmer, or squad, stroke and design (Holm 1979)"`
	ConfLow        *float64 `parquet:"conf_low,optional" about:"lower end of the 95 % interval"`
	ConfHigh       *float64 `parquet:"conf_high,optional" about:"upper end of the 95 % interval"`
	PredictLow     *float64 `parquet:"predict_low,optional" about:"squad: lower end of the 95 % prediction interval for another swimmer"`
	PredictHigh    *float64 `parquet:"predict_high,optional" about:"squad: upper end of the 95 % prediction interval for another swimmer"`
	Tau2           *float64 `parquet:"tau2,optional" about:"squad: variance between swimmers (REML)"`
	I2             *float64 `parquet:"i2,optional" unit:"%" about:"squad: share of the variance that is between swimmers"`
	ChangePct      *float64 `parquet:"change_pct,optional" unit:"%" about:"the change as a percentage of the cost at the usual rate"`
	ChangePctLow   *float64 `parquet:"change_pct_low,optional" unit:"%" about:"lower end of its 95 % interval"`
	ChangePctHigh  *float64 `parquet:"change_pct_high,optional" unit:"%" about:"upper end of its 95 % interval"`
	CostAtUsual    *float64 `parquet:"cost_at_usual,optional" about:"a swimmer's cost at the usual rate in an average session"`
	Method         string   `parquet:"method,dict" about:"squad: two-stage (pooled from the swimmers' own) or one-model (all bouts of all swimmers at once, sessions apart, errors by swimmer, where fewer than five have an answer of their own); empty for a swimmer"`
	RatesFrom      string   `parquet:"rates_from,dict" about:"what the rates are: set (what was set beforehand, free of counting error), counted, or empty for a squad without an estimate"`
	Bouts          int32    `parquet:"bouts" unit:"1" about:"bouts in the model; over all swimmers for the squad"`
	BoutsNear      int32    `parquet:"bouts_near" unit:"1" about:"of them within 5 % of that rate"`
	Sessions       int32    `parquet:"sessions" unit:"1" about:"sessions in the model; over all swimmers for the squad"`
	Swimmers       int32    `parquet:"swimmers" unit:"1" about:"swimmers in the estimate"`
	Reason         *string  `parquet:"reason,optional" about:"why there is no estimate"`
	Warnings       string   `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}
