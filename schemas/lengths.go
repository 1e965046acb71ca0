package schemas

// Length is one row of the table lengths: one pool length as used, with the
// recorded values beside it.
type Length struct {
	Swimmer            string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Session            string   `parquet:"session,dict" about:"the session's id"`
	Ordinal            int32    `parquet:"ordinal" unit:"1" about:"order of the length within its session, from 1"`
	Bout               int32    `parquet:"bout" unit:"1" about:"the bout it belongs to, from 1 within the session"`
	FileID             string   `parquet:"file_id,dict" about:"id of the file it came from"`
	Record             int64    `parquet:"record" about:"number of its source record within file and kind, from 1; the first one when lengths were joined"`
	RecordedAs         string   `parquet:"recorded_as,dict" about:"length (recorded one by one) or repeat (an equal share of a repeat's totals)"`
	StartS             float64  `parquet:"start_s" unit:"s" about:"seconds since the session's start"`
	PoolM              float64  `parquet:"pool_m" unit:"m" about:"pool length"`
	Stroke             string   `parquet:"stroke,dict" about:"freestyle, backstroke, breaststroke, butterfly, mixed, medley or unknown"`
	DurationS          float64  `parquet:"duration_s" unit:"s" about:"seconds for the length, as used"`
	DurationRecordedS  float64  `parquet:"duration_recorded_s" unit:"s" about:"seconds as recorded, before any repair"`
	Strokes            *float64 `parquet:"strokes,optional" unit:"1" about:"strokes as used: arm entries for freestyle and backstroke, cycles for breaststroke and butterfly; null when not measured"`
	StrokesRecorded    *float64 `parquet:"strokes_recorded,optional" unit:"1" about:"strokes as recorded, in the recorder's own counting, before any repair"`
	StrokeCountBasis   string   `parquet:"stroke_count_basis,dict" about:"what is counted for strokes: arms, cycles or unknown; by the sheet where strokes_file_id names one, else by the recorder"`
	StrokesFileID      *string  `parquet:"strokes_file_id,optional,dict" about:"id of the sheet whose hand count is used in place of the recorder's; null where the recorder's own count is"`
	SpeedMPS           float64  `parquet:"speed_mps" unit:"m/s" about:"pool length over seconds"`
	PaceSPer100M       float64  `parquet:"pace_s_per_100m" unit:"s/100m" about:"seconds for 100 m at this speed"`
	StrokeRateSPM      *float64 `parquet:"stroke_rate_spm,optional" unit:"/min" about:"60 strokes over seconds for the whole length, push-off and turn counted as stroking time"`
	DistancePerStrokeM *float64 `parquet:"distance_per_stroke_m,optional" unit:"m" about:"pool length over strokes"`
	Score              *float64 `parquet:"score,optional" unit:"1" about:"strokes plus seconds for the length, arms counted; null when the counting basis is unknown"`
	ScoreRecorded      *float64 `parquet:"score_recorded,optional" unit:"1" about:"strokes as the recorder counts them, plus seconds"`
	Score25            *float64 `parquet:"score_25,optional" unit:"1" about:"score scaled to 25 m"`
	StrokeIndex        *float64 `parquet:"stroke_index,optional" unit:"m2/s" about:"speed times distance per stroke cycle (Costill et al. 1985)"`
	HRBPM              *float64 `parquet:"hr_bpm,optional" unit:"/min" about:"mean of the heart-rate samples within the length, not steady"`
	Status             string   `parquet:"status,dict" about:"kept or repaired"`
	Rule               *string  `parquet:"rule,optional,dict" about:"the rule that repaired it"`
}

// Lineage is one row of the table lineage: which source record became which
// length. A split gives as many rows with one record, a join as many rows with
// one ordinal.
type Lineage struct {
	FileID   string `parquet:"file_id,dict" about:"id of the source file"`
	Record   int64  `parquet:"record" about:"number of the source record within file and kind, from 1"`
	Kind     string `parquet:"kind,dict" about:"kind of the source record: length, rest, repeat"`
	Swimmer  string `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study"`
	Session  string `parquet:"session,dict" about:"the session's id"`
	Ordinal  int32  `parquet:"ordinal" unit:"1" about:"the length it became; for a rest the length it precedes, or the last one"`
	Relation string `parquet:"relation,dict" about:"same, split, join, evened (two records shared evenly between two lengths), share (an equal share of a repeat), merged (a sheet's row on lengths that a watch timed), rest-before or rest-after"`
}

// LedgerEntry is one row of the table ledger: one source record that met one
// rule. Neighbouring heart-rate records that met the same rule share a row.
type LedgerEntry struct {
	FileID  string  `parquet:"file_id,dict" about:"id of the source file"`
	Record  int64   `parquet:"record" about:"number of the source record within file and kind, from 1; 0 for the whole file"`
	Records int64   `parquet:"records" unit:"1" about:"how many records in a row the entry covers, from record on"`
	Kind    string  `parquet:"kind,dict" about:"kind of the source record: length, rest, repeat, heart-rate, file, roster, note, assignment"`
	Swimmer *string `parquet:"swimmer,optional,dict" about:"the swimmer's pseudonym; null when nobody owns the record"`
	Session *string `parquet:"session,optional,dict" about:"the session's id; null when the record never reached one"`
	Rule    string  `parquet:"rule,dict" about:"id of the rule"`
	Action  string  `parquet:"action,dict" about:"excluded, repaired or noted"`
	Detail  string  `parquet:"detail" about:"what was seen, in words, without names"`
}
