package normalise

import (
	"math"

	"lengthwise/pipeline/study"
)

// ArmStrokes puts a count on common footing: arm entries, or cycles for
// breaststroke and butterfly, where both arms move at once.
//
// A count of cycles is doubled for freestyle and backstroke; mixed, medley and
// unknown strokes are treated like them, which is right for most of what
// recorders call so and too high by half of a medley's breaststroke and
// butterfly. For breaststroke and butterfly a count of arms is taken for a
// count of cycles: nobody counts the two arms of one cycle twice. (All common
// practice, no source.) A count on an unknown basis stays as recorded. Zero is
// how some recorders write "not measured": it becomes NaN.
func ArmStrokes(recorded float64, stroke string, basis study.CountBasis) float64 {
	if !(recorded > 0) || math.IsInf(recorded, 0) {
		return math.NaN()
	}
	if basis == study.Cycles && stroke != "breaststroke" && stroke != "butterfly" {
		return 2 * recorded
	}
	return recorded
}

// basisOf is the counting basis of a length: its own, else its recording's.
func basisOf(own, recording study.CountBasis) study.CountBasis {
	for _, b := range []study.CountBasis{own, recording} {
		if b == study.Arms || b == study.Cycles || b == study.UnknownBasis {
			return b
		}
	}
	return study.UnknownBasis
}

// poolOf is the pool of a length: its own, else its recording's; NaN when
// neither is known.
func poolOf(own, recording float64) float64 {
	for _, p := range []float64{own, recording} {
		if p > 0 && !math.IsInf(p, 0) {
			return tidyPool(p)
		}
	}
	return math.NaN()
}

// tidyPool removes the last bit's rounding of a pool, so that 25 yards from a
// sheet (25 x 0.9144) and from a recorder (22.86) are the same pool.
func tidyPool(m float64) float64 {
	if r := math.Round(m*1e4) / 1e4; math.Abs(r-m) < 1e-9 {
		return r
	}
	return m
}
