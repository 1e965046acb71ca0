package schemas

// Swimmer is one row of the table swimmers: somebody whose sessions the study
// holds. Names, devices and the aliases of the roster never reach it.
type Swimmer struct {
	Swimmer                string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Squad                  *string  `parquet:"squad,optional,dict" about:"id that stands for the squad of the roster; the name itself where the study identifies as given"`
	Sex                    *string  `parquet:"sex,optional,dict" about:"as the roster gives it"`
	BirthYear              *int32   `parquet:"birth_year,optional" unit:"a" about:"year of birth"`
	HRRestBPM              *float64 `parquet:"hr_rest_bpm,optional" unit:"/min" about:"resting heart rate"`
	HRMaxBPM               *float64 `parquet:"hr_max_bpm,optional" unit:"/min" about:"highest heart rate known"`
	HRMaxMeasuredIn        *string  `parquet:"hr_max_measured_in,optional,dict" about:"where the highest heart rate was measured: water or land (land reads 7 to 13 /min too high for water)"`
	MassKG                 *float64 `parquet:"mass_kg,optional" unit:"kg" about:"body mass"`
	HeightCM               *float64 `parquet:"height_cm,optional" unit:"cm" about:"standing height"`
	ArmSpanCM              *float64 `parquet:"arm_span_cm,optional" unit:"cm" about:"arm span"`
	VO2RestMLPerKGMin      *float64 `parquet:"vo2_rest_ml_per_kg_min,optional" unit:"mL/kg/min" about:"resting oxygen uptake"`
	RateAlteringMedication *bool    `parquet:"rate_altering_medication,optional" about:"takes medication that alters heart rate; no rate advice is given then"`
	HRTauS                 *float64 `parquet:"hr_tau_s,optional" unit:"s" about:"time constant with which heart rate approaches its steady value, in use: the swimmer's own drawn towards the squad's; null where samples do not show it"`
	HRTauLnSE              *float64 `parquet:"hr_tau_ln_se,optional" unit:"1" about:"standard error of its logarithm"`
	HRTauOwnS              *float64 `parquet:"hr_tau_own_s,optional" unit:"s" about:"time constant by the swimmer's own samples alone"`
	HRTauOwnLnSE           *float64 `parquet:"hr_tau_own_ln_se,optional" unit:"1" about:"standard error of its logarithm"`
	HRTauBouts             int32    `parquet:"hr_tau_bouts" unit:"1" about:"bouts whose samples say something of it"`
	HRTauReason            *string  `parquet:"hr_tau_reason,optional,dict" about:"squad-tau (own samples say too little: the squad's stands in) or rise-not-first-order (none is used, heart rates are read by window); null otherwise"`
	Sessions               int32    `parquet:"sessions" unit:"1" about:"sessions of this swimmer that the study uses"`
	Bouts                  int32    `parquet:"bouts" unit:"1" about:"bouts of this swimmer"`
	UsableBouts            int32    `parquet:"usable_bouts" unit:"1" about:"bouts with a cost, a rate and a pace"`
}

// Session is one row of the table sessions: one recording by one swimmer.
type Session struct {
	Swimmer       string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Session       string   `parquet:"session" about:"the session's id: pseudonym, local day, order within that day"`
	FileID        string   `parquet:"file_id,dict" about:"id of the file the session came from"`
	Kind          string   `parquet:"kind,dict" about:"activity (a watch file) or sheet (a lane sheet)"`
	StartUTC      *int64   `parquet:"start_utc,optional,timestamp(millisecond)" about:"start of the session, UTC; null when the source gives no clock time"`
	LocalDate     string   `parquet:"local_date" about:"day of the session where it was swum, YYYY-MM-DD"`
	TimeZone      string   `parquet:"time_zone,dict" about:"IANA name of the zone that local_date is in"`
	PoolM         *float64 `parquet:"pool_m,optional" unit:"m" about:"pool length; a yard is 0.9144 m exactly"`
	Lengths       int32    `parquet:"lengths" unit:"1" about:"lengths used"`
	Bouts         int32    `parquet:"bouts" unit:"1" about:"bouts derived"`
	UsableBouts   int32    `parquet:"usable_bouts" unit:"1" about:"bouts with a cost, a rate and a pace"`
	DesignedBouts int32    `parquet:"designed_bouts" unit:"1" about:"bouts whose rate or instruction was set beforehand"`
	HRSamples     int32    `parquet:"hr_samples" unit:"1" about:"heart-rate samples used"`
	HRSource      *string  `parquet:"hr_source,optional,dict" about:"strap, optical, palpated, or unknown"`
	WallTimeS     *float64 `parquet:"wall_time_s,optional" unit:"s" about:"seconds that the recorder leaves out between lengths, median; null when not known"`
}

// HeartRate is one row of the table heart_rate: a heart-rate sample that
// screening kept.
type HeartRate struct {
	Swimmer string  `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Session string  `parquet:"session,dict" about:"the session's id"`
	FileID  string  `parquet:"file_id,dict" about:"id of the file the sample came from"`
	Record  int64   `parquet:"record,delta" about:"number of the record within its file and kind, from 1"`
	TimeS   float64 `parquet:"time_s" unit:"s" about:"seconds since the session's start"`
	HRBPM   float64 `parquet:"hr_bpm" unit:"/min" about:"heart rate"`
}
