package schemas

// Simulation is one row of the table simulation: how one estimator did on squads of
// known truth, all simulated alike.
type Simulation struct {
	Cell          string   `parquet:"cell,dict" json:"cell" about:"name of the squads' kind"`
	Words         string   `parquet:"words,dict" json:"words" about:"what is special about them"`
	Design        string   `parquet:"design,dict" json:"design" about:"designed or observed: whether rates were set beforehand"`
	Swimmers      int32    `parquet:"swimmers" json:"swimmers" unit:"1" about:"swimmers of a squad"`
	Sessions      int32    `parquet:"sessions" json:"sessions" unit:"1" about:"sessions of each"`
	Bouts         int32    `parquet:"bouts" json:"bouts" unit:"1" about:"bouts of a session"`
	Effect        float64  `parquet:"effect_bpm" json:"effect_bpm" unit:"bpm" about:"true mean effect of a stroke rate 10 % higher"`
	EffectSD      float64  `parquet:"effect_sd_bpm" json:"effect_sd_bpm" unit:"bpm" about:"standard deviation of it over swimmers"`
	RateSpreadPct float64  `parquet:"rate_spread_pct" json:"rate_spread_pct" unit:"%" about:"standard deviation of stroke rate about the usual one"`
	Noise         float64  `parquet:"noise_bpm" json:"noise_bpm" unit:"bpm" about:"standard deviation of a bout within its session"`
	SessionNoise  float64  `parquet:"session_noise_bpm" json:"session_noise_bpm" unit:"bpm" about:"standard deviation of a session's level"`
	Fatigue       float64  `parquet:"fatigue_bpm" json:"fatigue_bpm" unit:"bpm" about:"mean and standard deviation over sessions of what tiredness adds by the end"`
	CountErrorPct float64  `parquet:"count_error_pct" json:"count_error_pct" unit:"%" about:"standard deviation of a bout's stroke count about the truth"`
	HeartRate     string   `parquet:"heart_rate,dict" json:"heart_rate" about:"steady (its value is known but for noise), samples (read from how they rise) or counted (over 10 s, by hand)"`
	MissingPct    float64  `parquet:"missing_pct" json:"missing_pct" unit:"%" about:"share of bouts without a heart rate"`
	Estimator     string   `parquet:"estimator,dict" json:"estimator" about:"swimmer, squad (two stages), mixed (one model of all bouts), concordance (matched pairs, squad) or cheapest-rate"`
	Squads        int32    `parquet:"squads" json:"squads" unit:"1" about:"squads simulated"`
	N             int32    `parquet:"n" json:"n" unit:"1" about:"estimates scored: swimmers, squads, or swimmers and paces"`
	Bias          *float64 `parquet:"bias,optional" json:"bias,omitempty" about:"mean of estimate less truth, in bpm; nothing for concordance; of cheapest rates in % of the usual rate"`
	RMSE          *float64 `parquet:"rmse,optional" json:"rmse,omitempty" about:"root of the mean of its square"`
	CoveragePct   *float64 `parquet:"coverage_pct,optional" json:"coverage_pct,omitempty" unit:"%" about:"share of 95 % intervals or sets that hold the truth; of concordance where nothing is there, its value by chance"`
	FoundPct      *float64 `parquet:"found_pct,optional" json:"found_pct,omitempty" unit:"%" about:"share that found an effect that is there: a swimmer's right verdict, a squad's interval on the right side, a rate named"`
	WrongPct      *float64 `parquet:"wrong_pct,optional" json:"wrong_pct,omitempty" unit:"%" about:"share that claims the opposite of an effect that is there"`
	FalsePct      *float64 `parquet:"false_pct,optional" json:"false_pct,omitempty" unit:"%" about:"share that claims an effect where there is none: a swimmer's verdict, a squad's interval beside its null"`
	TooLittlePct  float64  `parquet:"too_little_pct" json:"too_little_pct" unit:"%" about:"share without an answer, for want of data"`
}
