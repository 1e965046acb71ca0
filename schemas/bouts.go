package schemas

// Bout is one row of the table bouts: lengths swum without a rest; swims over
// four minutes are cut into equal blocks of about two to four minutes, unless the
// cost was measured once for the whole swim.
type Bout struct {
	Swimmer            string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Session            string   `parquet:"session,dict" about:"the session's id"`
	Bout               int32    `parquet:"bout" unit:"1" about:"order of the bout within its session, from 1"`
	Swim               int32    `parquet:"swim" unit:"1" about:"the unbroken swim it is a block of, from 1; notes count these"`
	Block              int32    `parquet:"block" unit:"1" about:"which block of that swim, from 1"`
	Stroke             string   `parquet:"stroke,dict" about:"freestyle, backstroke, breaststroke, butterfly, mixed, medley or unknown"`
	PoolM              float64  `parquet:"pool_m" unit:"m" about:"pool length"`
	Lengths            int32    `parquet:"lengths" unit:"1" about:"lengths in the bout"`
	RepairedLengths    int32    `parquet:"repaired_lengths" unit:"1" about:"how many of them a rule repaired"`
	DistanceM          float64  `parquet:"distance_m" unit:"m" about:"distance swum"`
	DurationS          float64  `parquet:"duration_s" unit:"s" about:"seconds swum"`
	RestBeforeS        *float64 `parquet:"rest_before_s,optional" unit:"s" about:"rest before the swim; null before the first, 0 for later blocks"`
	MinutesIn          float64  `parquet:"minutes_in" unit:"min" about:"minutes from the session's start to the bout's start"`
	SpeedMPS           float64  `parquet:"speed_mps" unit:"m/s" about:"distance over seconds"`
	PaceSPer100M       float64  `parquet:"pace_s_per_100m" unit:"s/100m" about:"seconds for 100 m at this speed"`
	StrokeCountBasis   string   `parquet:"stroke_count_basis,dict" about:"what is counted for strokes: arms, cycles or unknown; by hand where a sheet gives the count, else by the recorder"`
	StrokeRateSPM      *float64 `parquet:"stroke_rate_spm,optional" unit:"/min" about:"60 strokes over seconds"`
	DistancePerStrokeM *float64 `parquet:"distance_per_stroke_m,optional" unit:"m" about:"distance over strokes"`
	Strokes25          *float64 `parquet:"strokes_25,optional" unit:"1" about:"strokes per 25 m"`
	Score25            *float64 `parquet:"score_25,optional" unit:"1" about:"strokes plus seconds per 25 m, arms counted; null when the basis is unknown"`
	ScoreRecorded25    *float64 `parquet:"score_recorded_25,optional" unit:"1" about:"strokes as the recorder counts them plus seconds, per 25 m"`
	StrokeIndex        *float64 `parquet:"stroke_index,optional" unit:"m2/s" about:"speed times distance per stroke cycle (Costill et al. 1985)"`
	HRSteadyBPM        *float64 `parquet:"hr_steady_bpm,optional" unit:"/min" about:"steady heart rate of the bout, or the best that is known of it: see hr_method"`
	HRMethod           *string  `parquet:"hr_method,optional,dict" about:"kinetics (value that the samples approach, whatever the bout's length), window (mean of the last seconds of a bout long enough to be steady) or reported (an end reading, compared only at equal duration and rest)"`
	HRSource           *string  `parquet:"hr_source,optional,dict" about:"strap, optical, palpated or unknown"`
	HRStepBPM          *float64 `parquet:"hr_step_bpm,optional" unit:"/min" about:"steps in which a counted heart rate is known: 6 for a count over 10 s, 4 for one over 15 s; null for a reading in beats a minute"`
	HRSamples          int32    `parquet:"hr_samples" unit:"1" about:"samples behind it"`
	HRStratum          *string  `parquet:"hr_stratum,optional,dict" about:"bouts are compared within it: method and source, and for end readings distance and rest"`
	HRSteadySE         *float64 `parquet:"hr_steady_se,optional" unit:"/min" about:"standard error of hr_steady_bpm as a measurement, time constant included; null for end readings"`
	HRByLnTau          *float64 `parquet:"hr_by_ln_tau,optional" unit:"/min" about:"how far hr_steady_bpm moves for one unit of the logarithm of the swimmer's time constant: that error is shared by all the swimmer's bouts"`
	HRReserve          *float64 `parquet:"hr_reserve,optional" unit:"1" about:"share of heart-rate reserve (Karvonen et al. 1957)"`
	NetBeats100M       *float64 `parquet:"net_beats_100m,optional" unit:"/100m" about:"heart beats above rest per 100 m (physiological cost index)"`
	Cost               *float64 `parquet:"cost,optional" about:"what the bout costs, by the study's measure; its unit is in run.json"`
	CostStratum        *string  `parquet:"cost_stratum,optional,dict" about:"costs are compared within it: hr_stratum, or what a lab's cost was made of; null when all compare"`
	Instruction        *string  `parquet:"instruction,optional,dict" about:"usual, fewest-strokes or quicker-rate, when one was given beforehand"`
	RateTarget         *float64 `parquet:"rate_target,optional" unit:"/min" about:"arm strokes per minute set beforehand"`
	Breathing          *float64 `parquet:"breathing,optional" unit:"1" about:"strokes per breath, as noted"`
	Kick               *string  `parquet:"kick,optional,dict" about:"none, light or full, as noted"`
	Equipment          *string  `parquet:"equipment,optional,dict" about:"as noted, in known words joined by +; other for whatever else was written"`
	RPE                *float64 `parquet:"rpe,optional" unit:"1" about:"perceived exertion, Borg CR10"`
	VO2                *float64 `parquet:"vo2_ml_per_kg_min,optional" unit:"mL/kg/min" about:"oxygen uptake, as noted"`
	Lactate            *float64 `parquet:"lactate_mmol_per_l,optional" unit:"mmol/L" about:"blood lactate after, as noted"`
	LactateBefore      *float64 `parquet:"lactate_before_mmol_per_l,optional" unit:"mmol/L" about:"blood lactate before, as noted"`
	Designed           bool     `parquet:"designed" about:"the rate or the instruction was set beforehand, and not the same for the whole session"`
	Usable             bool     `parquet:"usable" about:"the bout enters the models"`
	Reason             *string  `parquet:"reason,optional,dict" about:"why it is not usable"`
}
