package schemas

// HeartCost is one row of the table heart_cost: what a session cost at the
// reference pace against what this swimmer usually pays there.
type HeartCost struct {
	Swimmer       string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Stroke        string   `parquet:"stroke,dict" about:"the stroke"`
	Session       string   `parquet:"session" about:"the session's id"`
	LocalDate     string   `parquet:"local_date" about:"day of the session, YYYY-MM-DD"`
	ReferencePace float64  `parquet:"reference_pace_s_per_100m" unit:"s/100m" about:"the pace at which costs are compared"`
	Cost          *float64 `parquet:"cost,optional" about:"the session's cost at that pace, its usual rate and a middle minute, in the study's cost unit"`
	UsualCost     *float64 `parquet:"usual_cost,optional" about:"what the swimmer's other sessions of the same conditions cost there, fitted without this one"`
	HeartCost     *float64 `parquet:"heart_cost,optional" about:"pace-adjusted heart cost: this session's cost at the reference pace less the usual cost, both by the fit without it"`
	StdError      *float64 `parquet:"std_error,optional" about:"standard error of heart_cost"`
	Bouts         int32    `parquet:"bouts" unit:"1" about:"comparable bouts of the session; usable ones where it is left out"`
	Conditions    string   `parquet:"conditions,dict" about:"what sessions must share to be compared: pool, source of heart rate, equipment; empty where the session is left out"`
	Phase         *string  `parquet:"phase,optional,dict" about:"the phase that the squad's notes give the session"`
	Changes       string   `parquet:"changes,dict" about:"the dated changes in force for this swimmer, separated by semicolons; empty for none"`
	Reason        *string  `parquet:"reason,optional" about:"why the session has no comparable cost"`
}

// Reliability is one row of the table reliability: how far two sessions must
// differ to be more than noise.
type Reliability struct {
	Scope          string   `parquet:"scope,dict" about:"swimmer, or squad for all swimmers together"`
	Swimmer        string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study; empty for the squad"`
	Stroke         string   `parquet:"stroke,dict" about:"the stroke"`
	TypicalError   *float64 `parquet:"typical_error,optional" about:"spread of one swimmer's session costs about their own level, conditions, trend and changes taken out (Hopkins 2000), in the cost's unit"`
	TypicalLow     *float64 `parquet:"typical_error_low,optional" about:"lower end of its 95 % interval"`
	TypicalHigh    *float64 `parquet:"typical_error_high,optional" about:"upper end of its 95 % interval"`
	DF             *float64 `parquet:"df,optional" unit:"1" about:"its degrees of freedom"`
	Detectable     *float64 `parquet:"minimal_detectable_change,optional" about:"difference between two sessions that noise alone exceeds once in twenty: 1.96 times the square root of 2 times the typical error"`
	DetectableLow  *float64 `parquet:"minimal_detectable_change_low,optional" about:"the same at the lower end of the typical error"`
	DetectableHigh *float64 `parquet:"minimal_detectable_change_high,optional" about:"the same at the upper end of the typical error"`
	Worthwhile     *float64 `parquet:"smallest_worthwhile_change,optional" about:"squad: a fifth of the standard deviation between swimmers at the common pace (Hopkins 2000)"`
	BetweenSD      *float64 `parquet:"between_sd,optional" about:"squad: standard deviation of the swimmers' levels at the common pace"`
	ICC            *float64 `parquet:"icc,optional" unit:"1" about:"squad: intraclass correlation of session costs at the common pace, one way, by variance components (Shrout and Fleiss 1979)"`
	ICCLow         *float64 `parquet:"icc_low,optional" unit:"1" about:"lower end of its 95 % interval"`
	ICCHigh        *float64 `parquet:"icc_high,optional" unit:"1" about:"upper end of its 95 % interval"`
	CommonPace     *float64 `parquet:"common_pace_s_per_100m,optional" unit:"s/100m" about:"squad: the pace at which swimmers are compared"`
	N              int32    `parquet:"n" unit:"1" about:"sessions behind the typical error"`
	Swimmers       int32    `parquet:"swimmers" unit:"1" about:"swimmers behind the typical error"`
	ICCSwimmers    int32    `parquet:"icc_swimmers" unit:"1" about:"squad: swimmers who swim the common pace under the same conditions"`
	NDropped       int32    `parquet:"n_dropped" unit:"1" about:"sessions left out"`
	DroppedWhy     string   `parquet:"dropped_why" about:"the reasons with their counts"`
	Reason         *string  `parquet:"reason,optional" about:"why there is no typical error"`
	Warnings       string   `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}
