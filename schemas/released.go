package schemas

// ReleasedSwimmer is one row of the table swimmers of a released set.
type ReleasedSwimmer struct {
	Swimmer     string   `parquet:"swimmer,dict" about:"a pseudonym of this release alone"`
	Squad       *string  `parquet:"squad,optional,dict" about:"letter that stands for the squad; null where too few share it with the other columns"`
	Sex         *string  `parquet:"sex,optional,dict" about:"as the roster gives it; null where too few share it with the other columns"`
	AgeBand     *string  `parquet:"age_band,optional,dict" about:"years of age in the study's last year: under-18, 18-29, 30-39, 40-49, 50-59 or 60-and-over; null where too few share it with the other columns"`
	HRTauS      *float64 `parquet:"hr_tau_s,optional" unit:"s" about:"time constant with which heart rate approaches its steady value, in use"`
	HRTauLnSE   *float64 `parquet:"hr_tau_ln_se,optional" unit:"1" about:"standard error of its logarithm"`
	Sessions    int32    `parquet:"sessions" unit:"1" about:"sessions of this swimmer that the study uses"`
	Bouts       int32    `parquet:"bouts" unit:"1" about:"bouts of this swimmer"`
	UsableBouts int32    `parquet:"usable_bouts" unit:"1" about:"bouts with a cost, a rate and a pace"`
}

// ReleasedSession is one row of the table sessions of a released set.
type ReleasedSession struct {
	Swimmer       string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this release"`
	Session       string   `parquet:"session" about:"the session's id in this release: pseudonym, study day, order within that day"`
	StudyDay      int32    `parquet:"study_day" unit:"d" about:"day of the session, counted from the study's first day, which is 1"`
	Kind          string   `parquet:"kind,dict" about:"activity (a watch file) or sheet (a lane sheet)"`
	PoolM         *float64 `parquet:"pool_m,optional" unit:"m" about:"pool length; a yard is 0.9144 m exactly"`
	Lengths       int32    `parquet:"lengths" unit:"1" about:"lengths used"`
	Bouts         int32    `parquet:"bouts" unit:"1" about:"bouts derived"`
	UsableBouts   int32    `parquet:"usable_bouts" unit:"1" about:"bouts with a cost, a rate and a pace"`
	DesignedBouts int32    `parquet:"designed_bouts" unit:"1" about:"bouts whose rate or instruction was set beforehand"`
	HRSource      *string  `parquet:"hr_source,optional,dict" about:"strap, optical, palpated, or unknown"`
}

// ReleasedBout is one row of the table bouts of a released set.
type ReleasedBout struct {
	Swimmer            string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this release"`
	Session            string   `parquet:"session,dict" about:"the session's id in this release"`
	Bout               int32    `parquet:"bout" unit:"1" about:"order of the bout within its session, from 1"`
	Swim               int32    `parquet:"swim" unit:"1" about:"the unbroken swim it is a block of, from 1"`
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
	StrokeCountBasis   string   `parquet:"stroke_count_basis,dict" about:"what is counted for strokes: arms, cycles or unknown"`
	StrokeRateSPM      *float64 `parquet:"stroke_rate_spm,optional" unit:"/min" about:"60 strokes over seconds"`
	DistancePerStrokeM *float64 `parquet:"distance_per_stroke_m,optional" unit:"m" about:"distance over strokes"`
	Strokes25          *float64 `parquet:"strokes_25,optional" unit:"1" about:"strokes per 25 m"`
	Score25            *float64 `parquet:"score_25,optional" unit:"1" about:"strokes plus seconds per 25 m, arms counted; null when the basis is unknown"`
	ScoreRecorded25    *float64 `parquet:"score_recorded_25,optional" unit:"1" about:"strokes as the recorder counts them plus seconds, per 25 m"`
	StrokeIndex        *float64 `parquet:"stroke_index,optional" unit:"m2/s" about:"speed times distance per stroke cycle (Costill et al. 1985)"`
	HRSteadyBPM        *float64 `parquet:"hr_steady_bpm,optional" unit:"/min" about:"steady heart rate of the bout, or the best that is known of it: see hr_method"`
	HRMethod           *string  `parquet:"hr_method,optional,dict" about:"kinetics, window or reported"`
	HRSource           *string  `parquet:"hr_source,optional,dict" about:"strap, optical, palpated or unknown"`
	HRSteadySE         *float64 `parquet:"hr_steady_se,optional" unit:"/min" about:"standard error of hr_steady_bpm as a measurement, time constant included; null for end readings"`
	HRByLnTau          *float64 `parquet:"hr_by_ln_tau,optional" unit:"/min" about:"how far hr_steady_bpm moves for one unit of the logarithm of the swimmer's time constant"`
	Cost               *float64 `parquet:"cost,optional" about:"what the bout costs, by the study's measure; its unit is in run.json"`
	CostStratum        *string  `parquet:"cost_stratum,optional,dict" about:"costs are compared within it"`
	Instruction        *string  `parquet:"instruction,optional,dict" about:"usual, fewest-strokes or quicker-rate, when one was given beforehand"`
	RateTarget         *float64 `parquet:"rate_target,optional" unit:"/min" about:"arm strokes per minute set beforehand"`
	Kick               *string  `parquet:"kick,optional,dict" about:"none, light or full, as noted"`
	Equipment          *string  `parquet:"equipment,optional,dict" about:"in known words joined by +; other for whatever else was written"`
	Designed           bool     `parquet:"designed" about:"the rate or the instruction was set beforehand, and not the same for the whole session"`
	Usable             bool     `parquet:"usable" about:"the bout enters the models"`
}

// ReleasedHeartCost is one row of the table heart_cost of a released set.
type ReleasedHeartCost struct {
	Swimmer       string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this release"`
	Stroke        string   `parquet:"stroke,dict" about:"the stroke"`
	Session       string   `parquet:"session" about:"the session's id in this release"`
	StudyDay      int32    `parquet:"study_day" unit:"d" about:"day of the session, counted from the study's first day, which is 1"`
	ReferencePace float64  `parquet:"reference_pace_s_per_100m" unit:"s/100m" about:"the pace at which costs are read"`
	Cost          *float64 `parquet:"cost,optional" about:"the session's cost at the reference pace"`
	UsualCost     *float64 `parquet:"usual_cost,optional" about:"what the swimmer usually pays there, fitted without this session"`
	HeartCost     *float64 `parquet:"heart_cost,optional" about:"cost less usual cost: the pace-adjusted heart cost"`
	StdError      *float64 `parquet:"std_error,optional" about:"its standard error"`
	Bouts         int32    `parquet:"bouts" unit:"1" about:"bouts in it"`
	Changes       string   `parquet:"changes,dict" about:"changes of the study that held on that day"`
}

// ReleasedGroup is one row of the table groups of a released set: how many
// swimmers share a value, where that is told.
type ReleasedGroup struct {
	Variable string `parquet:"variable,dict" about:"squad, sex or age_band"`
	Value    string `parquet:"value,dict" about:"the value; not-known where the roster says nothing"`
	Swimmers *int32 `parquet:"swimmers,optional" unit:"1" about:"swimmers of that value; null where they are fewer than the smallest group, and where a count could be had by subtraction otherwise"`
}

// ReleasedLeftOut is one row of the table left_out of a released set: the ledger,
// counted.
type ReleasedLeftOut struct {
	Kind    string `parquet:"kind,dict" about:"kind of the source record: length, rest, repeat, heart-rate, file, roster, note, assignment"`
	Rule    string `parquet:"rule,dict" about:"id of the rule"`
	Action  string `parquet:"action,dict" about:"excluded, repaired or noted"`
	Records int64  `parquet:"records" unit:"1" about:"how many records"`
}

// Released lists the tables of a released set. What is recorded length by length
// and second by second is not among them: it could be found again in what
// swimmers publish elsewhere.
func Released() []Description {
	own := map[string]Description{
		"swimmers":   {"swimmers", "who is in the study, by a pseudonym of this release alone", []string{"swimmer"}, ReleasedSwimmer{}},
		"sessions":   {"sessions", "one row a recording of one swimmer, by study day", []string{"session"}, ReleasedSession{}},
		"bouts":      {"bouts", "one row a bout (lengths swum without a rest), with its measures and cost", []string{"session", "bout"}, ReleasedBout{}},
		"heart_cost": {"heart_cost", "what each session cost at the reference pace against what the swimmer usually pays there", []string{"session", "stroke"}, ReleasedHeartCost{}},
	}
	out := []Description{}
	for _, d := range Tables() {
		switch d.Name {
		case "lengths", "lineage", "heart_rate":
			continue
		case "economical_rate":
			// Nothing is named of who takes medication that alters heart rate: with the
			// bouts of all at hand, whose rows are missing would tell who that is.
			continue
		case "ledger":
			out = append(out, Description{"left_out", "records that met a rule, counted", []string{"kind", "rule", "action"}, ReleasedLeftOut{}})
			continue
		}
		if released, ok := own[d.Name]; ok {
			d = released
		}
		out = append(out, d)
		if d.Name == "swimmers" {
			out = append(out, Description{"groups", "how many swimmers share a squad, a sex, an age band", []string{"variable", "value"}, ReleasedGroup{}})
		}
	}
	return out
}
