package schemas

// Confounding is one row of the table confounding: how strong an unseen cause
// would have to be to remove an effect of stroke rate in bouts of which nothing
// was set beforehand, against the strength of something that was measured.
type Confounding struct {
	Swimmer         string  `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Stroke          string  `parquet:"stroke,dict" about:"the stroke"`
	Design          string  `parquet:"design,dict" about:"observed or all"`
	Benchmark       string  `parquet:"benchmark,dict" about:"what was measured: minutes (into the session) or pace"`
	EffectPer10Pct  float64 `parquet:"effect_per_10pct" about:"cost per 10 % more strokes a minute at the reference pace, in the cost's unit"`
	RobustnessValue float64 `parquet:"robustness_value" unit:"1" about:"share of what is left of both rate and cost that an unseen cause must explain to bring the effect to zero (Cinelli and Hazlett 2020)"`
	BenchmarkRate   float64 `parquet:"benchmark_rate_r2" unit:"1" about:"share of what the other terms leave of stroke rate that the benchmark explains"`
	BenchmarkCost   float64 `parquet:"benchmark_cost_r2" unit:"1" about:"share of what the other terms and stroke rate leave of cost that the benchmark explains"`
	BoundRate       float64 `parquet:"bound_rate_r2" unit:"1" about:"share of stroke rate that an unseen cause as strong as the benchmark explains beside all terms"`
	BoundCost       float64 `parquet:"bound_cost_r2" unit:"1" about:"share of cost that it explains at most (section 4.4 of the same)"`
	EffectLeft      float64 `parquet:"effect_left" about:"what such a cause would leave of the effect at least; the other sign where it would turn it round"`
}
