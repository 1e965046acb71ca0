package association

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/stats/resample"
)

// Pearson returns the product-moment correlation of x and y, which are of
// equal length, at least 3, and are not changed.
//
// It fails with a *[LengthError], *[TooFewError], *[NotFiniteError],
// *[NoVariationError] if a column does not vary beyond rounding, or
// *[RangeError] if its squares overflow.
func Pearson(x, y []float64) (float64, error) {
	if err := checkColumns(x, y); err != nil {
		return 0, err
	}
	if len(x) < 3 {
		return 0, &TooFewError{What: "rows", Got: len(x), Need: 3}
	}
	var p pool
	p.add(total(arrange(make([]int, len(x)), nil, x, y)[0].moments()))
	if err := checkVariation(x, y, p); err != nil {
		return 0, err
	}
	return p.correlation()
}

// FisherInterval returns the interval of a correlation r from n independent
// rows (Fisher 1921, Metron 1:3):
//
//	tanh(atanh r -+ z / sqrt(n - 3)),
//
// z the normal quantile for the level. n may be an effective number, so it
// need not be whole. It fails with a *[PerfectError] for |r| = 1 and a
// *[RangeError] for |r| above 1, n not above 3, a level outside (0, 1), or
// NaN in any.
func FisherInterval(r, n, level float64) (low, high float64, err error) {
	switch {
	case r == 1 || r == -1:
		return 0, 0, &PerfectError{R: r}
	case !(r > -1 && r < 1):
		return 0, 0, &RangeError{What: "correlation", Value: r, Want: "a number from -1 to 1"}
	case !(n > 3) || math.IsInf(n, 0):
		return 0, 0, &RangeError{What: "number of rows", Value: n, Want: "a finite number above 3"}
	case !(level > 0 && level < 1):
		return 0, 0, &RangeError{What: "level", Value: level, Want: "a number between 0 and 1"}
	}
	z := math.Atanh(r)
	half := distuv.UnitNormal.Quantile((1+level)/2) / math.Sqrt(n-3)
	return math.Tanh(z - half), math.Tanh(z + half), nil
}

// PearsonResampled returns the correlation of one subject over all rows,
// with an interval made by resampling sessions: [RepeatedMeasuresResampled]
// for a single subject, with its errors. session[i] labels the session of row i.
func PearsonResampled(session []int, x, y []float64, o resample.Options) (ResampledResult, error) {
	return RepeatedMeasuresResampled(make([]int, len(x)), session, x, y, o)
}
