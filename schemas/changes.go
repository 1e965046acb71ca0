package schemas

// Change is one row of the table changes: what a dated change, or a phase of
// training, goes together with: the cost at the reference pace of the sessions
// with it against those without.
type Change struct {
	Scope          string   `parquet:"scope,dict" about:"swimmer, or squad for all swimmers together"`
	Swimmer        string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study; empty for the squad"`
	Stroke         string   `parquet:"stroke,dict" about:"the stroke"`
	Kind           string   `parquet:"kind,dict" about:"dated (a change of the study file) or phase (a note of the squad's)"`
	Change         string   `parquet:"change,dict" about:"the change's name, or the phase"`
	Reference      string   `parquet:"reference,dict" about:"what it is compared with: without it, or the first phase"`
	Plan           string   `parquet:"plan,dict" about:"one-date, on-and-off, alternating, staggered (other swimmers on other days), unchanged-group or phase"`
	Design         string   `parquet:"design,dict" about:"designed (alternating or staggered, with enough ways to draw lots: costs) or observed (goes together with)"`
	Estimate       *float64 `parquet:"estimate,optional" about:"cost with the change minus cost without it, at the reference pace, in the cost's unit"`
	StdError       *float64 `parquet:"std_error,optional" about:"standard error: by session levels for a swimmer, CR2 by swimmer for the squad"`
	Statistic      *float64 `parquet:"statistic,optional" unit:"1" about:"estimate over standard error"`
	DF             *float64 `parquet:"df,optional" unit:"1" about:"degrees of freedom: residual for a swimmer, Satterthwaite's for the squad"`
	PValue         *float64 `parquet:"p_value,optional" unit:"1" about:"two-sided"`
	PHolm          *float64 `parquet:"p_holm,optional" unit:"1" about:"p adjusted within the family (Holm 1979)"`
	Family         string   `parquet:"family,dict" about:"which changes the adjusted p counts"`
	FamilySize     int32    `parquet:"family_size" unit:"1" about:"how many they are; 0 outside any family"`
	ConfLow        *float64 `parquet:"conf_low,optional" about:"lower end of the 95 % interval"`
	ConfHigh       *float64 `parquet:"conf_high,optional" about:"upper end of the 95 % interval"`
	Trend          *float64 `parquet:"trend_per_30_days,optional" about:"the time trend that stands beside it, cost per 30 days"`
	TrendLow       *float64 `parquet:"trend_low,optional" about:"lower end of its 95 % interval"`
	TrendHigh      *float64 `parquet:"trend_high,optional" about:"upper end of its 95 % interval"`
	RandomisationP *float64 `parquet:"randomisation_p,optional" unit:"1" about:"share of the dates or lots that it could have had which fit as well or better"`
	SmallestP      *float64 `parquet:"smallest_p,optional" unit:"1" about:"smallest p that those dates or lots could have given, whatever was measured"`
	Ways           *float64 `parquet:"ways,optional" unit:"1" about:"how many dates or lots there are"`
	Direction      string   `parquet:"direction,dict" about:"higher or lower (p_holm and randomisation_p both below 0.05), undecided or too-little-data"`
	N              int32    `parquet:"n" unit:"1" about:"sessions in the estimate"`
	NWith          int32    `parquet:"n_with" unit:"1" about:"of them with the change"`
	NWithout       int32    `parquet:"n_without" unit:"1" about:"of them without it"`
	Bouts          int32    `parquet:"bouts" unit:"1" about:"bouts that these sessions' levels rest on"`
	Swimmers       int32    `parquet:"swimmers" unit:"1" about:"swimmers with sessions on both sides of the change"`
	Unchanged      int32    `parquet:"unchanged" unit:"1" about:"swimmers whom the change did not reach, beside them"`
	NDropped       int32    `parquet:"n_dropped" unit:"1" about:"sessions left out"`
	DroppedWhy     string   `parquet:"dropped_why" about:"the reasons with their counts"`
	Reason         *string  `parquet:"reason,optional" about:"why nothing is claimed"`
	Warnings       string   `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}
