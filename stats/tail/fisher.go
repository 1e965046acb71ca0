package tail

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// F gives P(F > f) on d1 and d2 degrees of freedom, both above zero, f at least
// zero; with d2 infinite that of chi-square over d1:
//
//	I_x(d2/2, d1/2), x = d2/(d2 + d1 f)
//
// (Abramowitz and Stegun 1964, 26.6.2).
func F(f, d1, d2 float64) float64 {
	switch {
	case !(f >= 0) || !(d1 > 0) || !(d2 > 0):
		return math.NaN()
	case math.IsInf(f, 1):
		return 0
	case math.IsInf(d2, 1):
		return distuv.ChiSquared{K: d1}.Survival(f * d1)
	case d1 == 1:
		return TwoSided(math.Sqrt(f), d2)
	}
	return mathext.RegIncBeta(d2/2, d1/2, 1/(1+d1/d2*f))
}
