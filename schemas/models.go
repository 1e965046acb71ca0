package schemas

// Coefficient is one row of the table coefficients: one term of one model of
// one swimmer.
type Coefficient struct {
	Swimmer   string  `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Stroke    string  `parquet:"stroke,dict" about:"the stroke the model is of"`
	Design    string  `parquet:"design,dict" about:"observed, designed or all: the bouts the model is of"`
	Model     string  `parquet:"model,dict" about:"id of the model"`
	Term      string  `parquet:"term,dict" about:"the term"`
	Estimate  float64 `parquet:"estimate" about:"cost per unit of the term"`
	StdError  float64 `parquet:"std_error" about:"standard error, CR2 by session (Bell and McCaffrey 2002)"`
	Statistic float64 `parquet:"statistic" unit:"1" about:"estimate over standard error"`
	DF        float64 `parquet:"df" unit:"1" about:"Satterthwaite degrees of freedom"`
	PValue    float64 `parquet:"p_value" unit:"1" about:"two-sided"`
	ConfLow   float64 `parquet:"conf_low" about:"lower end of the 95 % interval"`
	ConfHigh  float64 `parquet:"conf_high" about:"upper end of the 95 % interval"`
	N         int32   `parquet:"n" unit:"1" about:"bouts in the model"`
	Warnings  string  `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}

// Fit is one row of the table fits: one model of one swimmer as a whole.
type Fit struct {
	Swimmer       string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Stroke        string   `parquet:"stroke,dict" about:"the stroke the model is of"`
	Design        string   `parquet:"design,dict" about:"observed, designed or all: the bouts the model is of"`
	Model         string   `parquet:"model,dict" about:"id of the model"`
	ReferencePace *float64 `parquet:"reference_pace_s_per_100m,optional" unit:"s/100m" about:"the pace at which the model's rate term is read"`
	Sigma         *float64 `parquet:"sigma,optional" about:"residual standard deviation, in the cost's unit; null when there is no fit"`
	RSquared      *float64 `parquet:"r_squared,optional" unit:"1" about:"share of the within-session variance that the terms explain"`
	DFResidual    *int32   `parquet:"df_residual,optional" unit:"1" about:"rows less terms less sessions"`
	RateSpread    *float64 `parquet:"rate_spread,optional" unit:"1" about:"standard deviation of ln stroke rate at fixed pace within a session"`
	N             int32    `parquet:"n" unit:"1" about:"bouts in the model"`
	Sessions      int32    `parquet:"sessions" unit:"1" about:"sessions in the model"`
	NDropped      int32    `parquet:"n_dropped" unit:"1" about:"bouts of this swimmer, stroke and design that the model leaves out"`
	DroppedWhy    string   `parquet:"dropped_why" about:"the reasons with their counts"`
	PooledOver    string   `parquet:"pooled_over" about:"keys that differ among the bouts of the model, with their values"`
	DroppedTerms  string   `parquet:"dropped_terms" about:"terms left out because the data cannot tell them apart"`
	Warnings      string   `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}

// ScoreBySwimmer is one row of the table score_by_swimmer: does the score
// track what the swim costs this swimmer?
type ScoreBySwimmer struct {
	Swimmer             string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Stroke              string   `parquet:"stroke,dict" about:"the stroke"`
	Design              string   `parquet:"design,dict" about:"observed (goes together with), designed (costs) or all"`
	Bouts               int32    `parquet:"bouts" unit:"1" about:"usable bouts"`
	Sessions            int32    `parquet:"sessions" unit:"1" about:"sessions they come from"`
	EffectPer10Pct      *float64 `parquet:"effect_per_10pct,optional" about:"cost per 10 % more strokes a minute at the reference pace, in the cost's unit"`
	StdError            *float64 `parquet:"std_error,optional" about:"its standard error, CR2 by session"`
	EffectLow           *float64 `parquet:"effect_low,optional" about:"lower end of its 95 % interval"`
	EffectHigh          *float64 `parquet:"effect_high,optional" about:"upper end of its 95 % interval"`
	DF                  *float64 `parquet:"df,optional" unit:"1" about:"Satterthwaite degrees of freedom"`
	PValue              *float64 `parquet:"p_value,optional" unit:"1" about:"two-sided"`
	QValue              *float64 `parquet:"q_value,optional" unit:"1" about:"p adjusted within the design's family (Benjamini and Hochberg 1995)"`
	PEquivalence        *float64 `parquet:"p_equivalence,optional" unit:"1" about:"larger p of the two one-sided tests inside the smallest effect (Schuirmann 1987)"`
	Verdict             string   `parquet:"verdict,dict" about:"tracks, runs-against, practically-none, undecided or too-little-data"`
	RawR                *float64 `parquet:"raw_r,optional" unit:"1" about:"correlation of score and cost over the swimmer's bouts, across paces"`
	RawRLow             *float64 `parquet:"raw_r_low,optional" unit:"1" about:"lower end of its 95 % interval, sessions resampled"`
	RawRHigh            *float64 `parquet:"raw_r_high,optional" unit:"1" about:"upper end of its 95 % interval, sessions resampled"`
	PartialR            *float64 `parquet:"partial_r,optional" unit:"1" about:"correlation of stroke count and cost at fixed pace, within session"`
	Concordance         *float64 `parquet:"concordance,optional" unit:"1" about:"share of matched-pace pairs in which the bout of fewer strokes costs less; ties count half"`
	ConcordanceLow      *float64 `parquet:"concordance_low,optional" unit:"1" about:"lower end of its 95 % interval, each session left out in turn"`
	ConcordanceHigh     *float64 `parquet:"concordance_high,optional" unit:"1" about:"upper end of its 95 % interval, each session left out in turn"`
	ConcordanceNull     *float64 `parquet:"concordance_null,optional" unit:"1" about:"mean concordance when costs are permuted within session"`
	ConcordanceP        *float64 `parquet:"concordance_p,optional" unit:"1" about:"two-sided p of the concordance against permutations within session"`
	Pairs               int32    `parquet:"pairs" unit:"1" about:"matched-pace pairs"`
	RobustnessValue     *float64 `parquet:"robustness_value,optional" unit:"1" about:"how much of both rate and cost an unseen cause would have to explain to remove the effect (Cinelli and Hazlett 2020)"`
	EffectPooled        *float64 `parquet:"effect_pooled,optional" about:"the effect from the squad's mixed model, drawn towards the squad's as far as the swimmer's own bouts leave it open, in the cost's unit"`
	EffectPooledLow     *float64 `parquet:"effect_pooled_low,optional" about:"lower end of its 95 % interval, in the cost's unit"`
	EffectPooledHigh    *float64 `parquet:"effect_pooled_high,optional" about:"upper end of its 95 % interval, in the cost's unit"`
	OwnShare            *float64 `parquet:"own_share,optional" unit:"1" about:"how much of effect_pooled the swimmer's own bouts tell, from 0 (all of it is the squad's) to 1"`
	PooledOnly          bool     `parquet:"pooled_only" about:"the swimmer's own bouts are too few for a verdict, so that effect_pooled stands in; own_share says how far it rests on the other swimmers"`
	EffectPlain         *float64 `parquet:"effect_plain,optional" about:"the effect as the counts stand, in the cost's unit; effect_per_10pct is the same unless correction says otherwise"`
	EffectPlainLow      *float64 `parquet:"effect_plain_low,optional" about:"lower end of its 95 % interval"`
	EffectPlainHigh     *float64 `parquet:"effect_plain_high,optional" about:"upper end of its 95 % interval"`
	EffectCorrected     *float64 `parquet:"effect_corrected,optional" about:"the effect freed of counting error, in the cost's unit; null where that cannot be done"`
	EffectCorrectedLow  *float64 `parquet:"effect_corrected_low,optional" about:"lower end of its 95 % interval"`
	EffectCorrectedHigh *float64 `parquet:"effect_corrected_high,optional" about:"upper end of its 95 % interval"`
	Correction          string   `parquet:"correction,dict" about:"what effect_per_10pct is: none (the plain effect), corrected-score or instrument (the corrected one, where the reliability is below 0.95)"`
	Reliability         *float64 `parquet:"reliability,optional" unit:"1" about:"share of the variance of ln stroke rate at fixed pace that is not counting error; a lower bound when reliability_from is bounded; null when not known"`
	ReliabilityFrom     string   `parquet:"reliability_from,dict" about:"stated, measured (hand counts beside a recorder's), rounding (hand counts), bounded (scatter about the rates set) or unknown"`
	PooledOver          string   `parquet:"pooled_over" about:"keys that differ among the bouts, with their values"`
	Reason              *string  `parquet:"reason,optional" about:"why there is no verdict"`
	Warnings            string   `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}

// ScoreOverall is one row of the table score_overall: the squad's answer to
// one question by one measure.
type ScoreOverall struct {
	Question    string   `parquet:"question,dict" about:"raw (across paces), matched-pace or between (swimmers)"`
	Design      string   `parquet:"design,dict" about:"observed, designed or all"`
	Stroke      string   `parquet:"stroke,dict" about:"the stroke"`
	Measure     string   `parquet:"measure,dict" about:"effect_per_10pct (two stages: swimmers, then the squad), effect_mixed (the same number from one mixed model), concordance or correlation"`
	Score       string   `parquet:"score,dict" about:"score (arms counted) or score_recorded (as the recorder counts)"`
	Estimate    *float64 `parquet:"estimate,optional" about:"in the measure's unit"`
	StdError    *float64 `parquet:"std_error,optional" about:"standard error; null where the interval is resampled"`
	DF          *float64 `parquet:"df,optional" unit:"1" about:"degrees of freedom of the interval (Satterthwaite; Kenward and Roger for effect_mixed); null where it is resampled"`
	ConfLow     *float64 `parquet:"conf_low,optional" about:"lower end of the 95 % interval"`
	ConfHigh    *float64 `parquet:"conf_high,optional" about:"upper end of the 95 % interval"`
	PValue      *float64 `parquet:"p_value,optional" unit:"1" about:"two-sided, against no relation"`
	PredictLow  *float64 `parquet:"predict_low,optional" about:"lower end of the 95 % prediction interval for another swimmer"`
	PredictHigh *float64 `parquet:"predict_high,optional" about:"upper end of the 95 % prediction interval for another swimmer"`
	Null        *float64 `parquet:"null_value,optional" about:"the measure's value when nothing is there, by permutation for concordance"`
	Tau2        *float64 `parquet:"tau2,optional" about:"variance between swimmers (REML)"`
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

// Finding is one row of the table findings: one sentence, with the numbers it
// rests on.
type Finding struct {
	Finding  string   `parquet:"finding" about:"id of the sentence: question, swimmer, stroke, design"`
	Question string   `parquet:"question,dict" about:"the question it answers"`
	Swimmer  *string  `parquet:"swimmer,optional,dict" about:"the swimmer's pseudonym; null for the squad"`
	Stroke   *string  `parquet:"stroke,optional,dict" about:"the stroke"`
	Design   *string  `parquet:"design,optional,dict" about:"observed, designed or all"`
	Strength string   `parquet:"strength,dict" about:"how far the sentence may go: costs (designed), goes-together-with (observed), none (not enough)"`
	Sentence string   `parquet:"sentence" about:"the sentence"`
	Estimate *float64 `parquet:"estimate,optional" about:"the number in it"`
	ConfLow  *float64 `parquet:"conf_low,optional" about:"lower end of its interval"`
	ConfHigh *float64 `parquet:"conf_high,optional" about:"upper end of its interval"`
	N        int32    `parquet:"n" unit:"1" about:"bouts (a swimmer) or swimmers (the squad) behind it"`
	Caution  *string  `parquet:"caution,optional" about:"what must be read with it"`
}
