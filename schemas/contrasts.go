package schemas

// Contrast is one row of the table contrasts: what a tag that differs within
// sessions goes together with, or costs, against a reference at a fixed pace.
type Contrast struct {
	Scope           string   `parquet:"scope,dict" about:"swimmer, or squad for all swimmers pooled"`
	Swimmer         string   `parquet:"swimmer,dict" about:"the swimmer's pseudonym in this study; empty for the squad"`
	Stroke          string   `parquet:"stroke,dict" about:"the stroke"`
	Design          string   `parquet:"design,dict" about:"designed (the tag differed within sessions by plan: costs) or observed (goes together with)"`
	Tag             string   `parquet:"tag,dict" about:"instruction, kick, equipment, breathing, or a key of the squad's own notes"`
	Level           string   `parquet:"level,dict" about:"the tag's value that is compared; not stated where nothing was noted"`
	Reference       string   `parquet:"reference,dict" about:"the value it is compared with"`
	Measure         string   `parquet:"measure,dict" about:"cost, stroke_rate, distance_per_stroke, score_25 or full_kick (share of bouts)"`
	AdjustedFor     string   `parquet:"adjusted_for,dict" about:"kick where kick is held fixed too; empty for the contrast as a whole"`
	Unit            string   `parquet:"unit,dict" about:"unit of the estimate and its interval"`
	Estimate        *float64 `parquet:"estimate,optional" about:"level minus reference at the same pace, within sessions"`
	StdError        *float64 `parquet:"std_error,optional" about:"standard error: CR2 by session for a swimmer, CR2 over swimmers for the squad"`
	Statistic       *float64 `parquet:"statistic,optional" unit:"1" about:"estimate over standard error, on the scale of the model"`
	DF              *float64 `parquet:"df,optional" unit:"1" about:"degrees of freedom: Satterthwaite's; for the squad swimmers less one where they weigh alike, else fewer"`
	PValue          *float64 `parquet:"p_value,optional" unit:"1" about:"two-sided; null for breathing, of which nothing is claimed"`
	PHolm           *float64 `parquet:"p_holm,optional" unit:"1" about:"p adjusted within the family (Holm 1979)"`
	Family          string   `parquet:"family,dict" about:"which contrasts the adjusted p counts"`
	FamilySize      int32    `parquet:"family_size" unit:"1" about:"how many they are; 0 outside any family"`
	ConfLow         *float64 `parquet:"conf_low,optional" about:"lower end of the 95 % interval"`
	ConfHigh        *float64 `parquet:"conf_high,optional" about:"upper end of the 95 % interval"`
	PredictLow      *float64 `parquet:"predict_low,optional" about:"squad: lower end of the 95 % prediction interval for another swimmer"`
	PredictHigh     *float64 `parquet:"predict_high,optional" about:"squad: upper end of the 95 % prediction interval for another swimmer"`
	Tau2            *float64 `parquet:"tau2,optional" about:"squad: variance between swimmers (REML), on the scale of the model"`
	I2              *float64 `parquet:"i2,optional" unit:"%" about:"squad: share of the variance that is between swimmers"`
	Direction       string   `parquet:"direction,dict" about:"higher or lower (p_holm below 0.05), undecided, too-little-data, or not-claimed (breathing)"`
	RobustnessValue *float64 `parquet:"robustness_value,optional" unit:"1" about:"observed: how much of both tag and measure an unseen cause would have to explain to remove it (Cinelli and Hazlett 2020)"`
	N               int32    `parquet:"n" unit:"1" about:"bouts in the model; over all swimmers for the squad"`
	NLevel          int32    `parquet:"n_level" unit:"1" about:"of them at the level"`
	NReference      int32    `parquet:"n_reference" unit:"1" about:"of them at the reference"`
	Sessions        int32    `parquet:"sessions" unit:"1" about:"sessions that hold both level and reference"`
	Swimmers        int32    `parquet:"swimmers" unit:"1" about:"swimmers in the estimate"`
	NDropped        int32    `parquet:"n_dropped" unit:"1" about:"left out: bouts of the swimmer, swimmers of the squad"`
	DroppedWhy      string   `parquet:"dropped_why" about:"the reasons with their counts"`
	Reason          *string  `parquet:"reason,optional" about:"why nothing is claimed"`
	Warnings        string   `parquet:"warnings" about:"what to bear in mind, separated by semicolons; empty when nothing"`
}
