package schemas

// RateLengthSpeed is one row of the table rate_length_speed: how much of a gain in
// speed comes from more strokes a minute and how much from longer strokes, in
// bouts that swimmers swam as they liked. The two shares sum to 1.
type RateLengthSpeed struct {
	Scope           string   `parquet:"scope,dict" about:"swimmer, or squad for all swimmers pooled"`
	Swimmer         string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study; empty for the squad"`
	Stroke          string   `parquet:"stroke,dict" about:"the stroke"`
	Over            string   `parquet:"over,dict" about:"within-sessions (bouts of one session compared) or all-paces (bouts of all sessions)"`
	RateShare       *float64 `parquet:"rate_share,optional" unit:"1" about:"slope of ln stroke rate on ln speed: the share of a small gain in speed that comes from rate"`
	RateShareLow    *float64 `parquet:"rate_share_low,optional" unit:"1" about:"lower end of its 95 % interval"`
	RateShareHigh   *float64 `parquet:"rate_share_high,optional" unit:"1" about:"upper end of its 95 % interval"`
	LengthShare     *float64 `parquet:"length_share,optional" unit:"1" about:"slope of ln distance per stroke on ln speed: 1 less rate_share"`
	LengthShareLow  *float64 `parquet:"length_share_low,optional" unit:"1" about:"lower end of its 95 % interval"`
	LengthShareHigh *float64 `parquet:"length_share_high,optional" unit:"1" about:"upper end of its 95 % interval"`
	StdError        *float64 `parquet:"std_error,optional" unit:"1" about:"standard error of either share: CR2 by session for a swimmer, CR2 over swimmers for the squad"`
	DF              *float64 `parquet:"df,optional" unit:"1" about:"degrees of freedom: Satterthwaite's; for the squad swimmers less one where they weigh alike, else fewer"`
	PredictLow      *float64 `parquet:"predict_low,optional" unit:"1" about:"squad: lower end of the 95 % prediction interval for another swimmer's rate_share"`
	PredictHigh     *float64 `parquet:"predict_high,optional" unit:"1" about:"squad: upper end of the 95 % prediction interval for another swimmer's rate_share"`
	SlowestSPer100M *float64 `parquet:"slowest_s_per_100m,optional" unit:"s/100m" about:"slowest pace among the bouts"`
	FastestSPer100M *float64 `parquet:"fastest_s_per_100m,optional" unit:"s/100m" about:"fastest pace among the bouts"`
	Bouts           int32    `parquet:"bouts" unit:"1" about:"bouts in the estimate"`
	Sessions        int32    `parquet:"sessions" unit:"1" about:"sessions in the estimate"`
	Swimmers        int32    `parquet:"swimmers" unit:"1" about:"swimmers in the estimate"`
	PooledOver      string   `parquet:"pooled_over" about:"keys that differ among the bouts, with their values"`
	Reason          *string  `parquet:"reason,optional" about:"why there is no estimate"`
	Warnings        string   `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}

// RateLengthCurve is one row of the table rate_length_curve: the stroke rate and
// the distance per stroke that a swimmer takes at one speed when left alone.
type RateLengthCurve struct {
	Swimmer                string  `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Stroke                 string  `parquet:"stroke,dict" about:"the stroke"`
	Point                  int32   `parquet:"point" unit:"1" about:"place along the curve, from 1 (slow) to 5 (fast)"`
	PoolM                  float64 `parquet:"pool_m" unit:"m" about:"the pool of most bouts, which the numbers are for"`
	SpeedMPS               float64 `parquet:"speed_mps" unit:"m/s" about:"speed, within those swum"`
	PaceSPer100M           float64 `parquet:"pace_s_per_100m" unit:"s/100m" about:"the same as pace"`
	StrokeRateSPM          float64 `parquet:"stroke_rate_spm" unit:"/min" about:"whole-length stroke rate at that speed"`
	StrokeRateLowSPM       float64 `parquet:"stroke_rate_low_spm" unit:"/min" about:"lower end of its 95 % interval (of the curve, not of a single bout)"`
	StrokeRateHighSPM      float64 `parquet:"stroke_rate_high_spm" unit:"/min" about:"upper end of its 95 % interval"`
	DistancePerStrokeM     float64 `parquet:"distance_per_stroke_m" unit:"m" about:"distance per stroke at that speed and rate"`
	DistancePerStrokeLowM  float64 `parquet:"distance_per_stroke_low_m" unit:"m" about:"lower end of its 95 % interval"`
	DistancePerStrokeHighM float64 `parquet:"distance_per_stroke_high_m" unit:"m" about:"upper end of its 95 % interval"`
	Bouts                  int32   `parquet:"bouts" unit:"1" about:"bouts in the curve"`
	Sessions               int32   `parquet:"sessions" unit:"1" about:"sessions in the curve"`
	Warnings               string  `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}

// CriticalSpeed is one row of the table critical_speed: the slope of distance on
// time over swims noted as maximal.
type CriticalSpeed struct {
	Swimmer          string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Stroke           string   `parquet:"stroke,dict" about:"the stroke"`
	CriticalSpeedMPS *float64 `parquet:"critical_speed_mps,optional" unit:"m/s" about:"slope of distance on time over maximal swims (Wakayoshi et al. 1992)"`
	SpeedLowMPS      *float64 `parquet:"speed_low_mps,optional" unit:"m/s" about:"lower end of its 95 % interval; null with two swims"`
	SpeedHighMPS     *float64 `parquet:"speed_high_mps,optional" unit:"m/s" about:"upper end of its 95 % interval; null with two swims"`
	PaceSPer100M     *float64 `parquet:"pace_s_per_100m,optional" unit:"s/100m" about:"critical speed as pace"`
	ReserveM         *float64 `parquet:"reserve_m,optional" unit:"m" about:"the line's distance at no time: what can be swum over what critical speed gives"`
	ReserveLowM      *float64 `parquet:"reserve_low_m,optional" unit:"m" about:"lower end of its 95 % interval; null with two swims"`
	ReserveHighM     *float64 `parquet:"reserve_high_m,optional" unit:"m" about:"upper end of its 95 % interval; null with two swims"`
	Swims            int32    `parquet:"swims" unit:"1" about:"swims noted as maximal that the line rests on"`
	Distances        int32    `parquet:"distances" unit:"1" about:"different distances among them"`
	ShortestM        *float64 `parquet:"shortest_m,optional" unit:"m" about:"shortest of them"`
	LongestM         *float64 `parquet:"longest_m,optional" unit:"m" about:"longest of them"`
	Bouts            int32    `parquet:"bouts" unit:"1" about:"usable bouts of the stroke that are not among these swims"`
	BoutsAbove       *int32   `parquet:"bouts_above,optional" unit:"1" about:"of them swum faster than critical speed (its interval's upper end, where there is one): their heart rate does not become steady; they stay in the models, which say so"`
	Reason           *string  `parquet:"reason,optional" about:"why critical speed is not known"`
	Warnings         string   `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}
