package analyse

import (
	"math"

	"lengthwise/pipeline/derive"
)

// advisor is a score taken at its word: which of two bouts it calls the better
// one, by a direction and weights that were fixed before any of these bouts
// were swum.
type advisor struct {
	name      string
	direction string // lower or higher: which is better by its claim
	value     func(*derive.Bout) float64
	// logarithm: at a fixed pace ln value, and not the value, is a straight
	// function of ln strokes.
	logarithm bool
}

// The baseline: what speed alone says, which is that the slower bout is the
// cheaper one.
const speedAdvisor = "speed"

// advisors lists the scores with the claims they are taken at. Strokes plus
// seconds, one for one: common practice, no source; a watch on one wrist counts
// cycles for arm strokes. Few strokes and a low rate: the same claim for its parts, common
// practice, no source. A long distance per stroke marks the better swimmer
// (Craig and Pendergast 1979), a high stroke index the more economical one
// (Costill et al. 1985).
func advisors() []advisor {
	return []advisor{
		{"score", "lower", func(b *derive.Bout) float64 { return b.Score25 }, false},
		{"score_wrist", "lower", wristScore, false},
		{"strokes", "lower", func(b *derive.Bout) float64 { return b.Strokes25 }, false},
		{"distance_per_stroke", "higher", func(b *derive.Bout) float64 { return b.DistancePerStrokeM }, true},
		{"stroke_index", "higher", func(b *derive.Bout) float64 { return b.StrokeIndex }, true},
		{"stroke_rate", "lower", func(b *derive.Bout) float64 { return b.StrokeRateSPM }, true},
		{speedAdvisor, "lower", func(b *derive.Bout) float64 { return b.SpeedMPS }, true},
	}
}

// dearness is the score turned so that more of it means dearer by its claim.
func (a advisor) dearness(b *derive.Bout) float64 {
	v := a.value(b)
	if a.logarithm {
		v = math.Log(v)
	}
	if a.direction == "higher" {
		v = -v
	}
	return v
}

// wristScore is what a watch on one wrist makes of the bout, whoever counted
// it: cycles plus seconds per 25 m. Cycles per 25 m are 25 v over the stroke
// index, by its definition.
func wristScore(b *derive.Bout) float64 {
	return derive.StrokesPlusSeconds(25*b.SpeedMPS/b.StrokeIndex, 25/b.SpeedMPS)
}
