package ratio

import (
	"fmt"
	"math"
)

// Pair is a numerator and a denominator with their covariance.
type Pair struct {
	Numerator, Denominator float64
	// Variances, in the squares of the units, and covariance, in their product.
	NumeratorVariance, DenominatorVariance, Covariance float64
	// DF are the degrees of freedom of the covariance, +Inf when it is known.
	DF float64
}

// Quadratic gives the pair whose quotient is the turning point -b1/(2 b2) of
// the curve b0 + b1 x + b2 x^2: numerator -b1, denominator 2 b2. v11 and v22
// are the variances of b1 and b2 and v12 their covariance; df its degrees of
// freedom. (With a cluster-robust covariance, whose degrees of freedom differ by
// coefficient, the smaller of the two keeps the level on the safe side.)
func Quadratic(b1, b2, v11, v12, v22, df float64) Pair {
	return Pair{
		Numerator: -b1, Denominator: 2 * b2,
		NumeratorVariance: v11, DenominatorVariance: 4 * v22, Covariance: -2 * v12,
		DF: df,
	}
}

// IndependentMeans gives the pair of the means of two independent samples of
// one variance, which is pooled: n_1 + n_2 - 2 degrees of freedom. It returns
// ErrTooFew when a sample is empty or no degree of freedom is left, ErrNotFinite
// for a NaN or an infinity.
func IndependentMeans(numerator, denominator []float64) (Pair, error) {
	n, m := float64(len(numerator)), float64(len(denominator))
	df := n + m - 2
	if n == 0 || m == 0 || df < 1 {
		return Pair{}, fmt.Errorf("ratio: %w: %d values over %d", ErrTooFew, len(numerator), len(denominator))
	}
	a, aSS, err := meanAndSquares("numerator", numerator)
	if err != nil {
		return Pair{}, err
	}
	b, bSS, err := meanAndSquares("denominator", denominator)
	if err != nil {
		return Pair{}, err
	}
	s2 := (aSS + bSS) / df
	out := Pair{Numerator: a, Denominator: b, NumeratorVariance: s2 / n, DenominatorVariance: s2 / m, DF: df}
	return out, out.checkRange()
}

// checkRange refuses sums of squares that left the range of a float64.
func (p *Pair) checkRange() error {
	for _, v := range []float64{p.NumeratorVariance, p.DenominatorVariance, p.Covariance} {
		if math.IsNaN(v) || math.IsInf(v, 0) || v != 0 && math.Abs(v) < smallestVariance {
			*p = Pair{}
			return fmt.Errorf("ratio: %w: a sum of squares leaves the range of a float64; change units", ErrNotFinite)
		}
	}
	return nil
}

// smallestVariance is where squares begin to lose their digits.
const smallestVariance = 1e-290

// PairedMeans gives the pair of the means of two columns measured on the same n
// units, with their covariance: n - 1 degrees of freedom. It returns ErrShape,
// ErrTooFew for fewer than two units, ErrNotFinite.
func PairedMeans(numerator, denominator []float64) (Pair, error) {
	if len(numerator) != len(denominator) {
		return Pair{}, fmt.Errorf("ratio: %w: %d values over %d", ErrShape, len(numerator), len(denominator))
	}
	if len(numerator) < 2 {
		return Pair{}, fmt.Errorf("ratio: %w: %d pairs, need at least 2", ErrTooFew, len(numerator))
	}
	a, aSS, err := meanAndSquares("numerator", numerator)
	if err != nil {
		return Pair{}, err
	}
	b, bSS, err := meanAndSquares("denominator", denominator)
	if err != nil {
		return Pair{}, err
	}
	var ab float64
	for i, x := range numerator {
		ab += (x - a) * (denominator[i] - b)
	}
	df := float64(len(numerator) - 1)
	scale := df * float64(len(numerator))
	out := Pair{
		Numerator: a, Denominator: b,
		NumeratorVariance: aSS / scale, DenominatorVariance: bSS / scale, Covariance: ab / scale, DF: df,
	}
	return out, out.checkRange()
}

// meanAndSquares gives the mean and the sum of squares about it, both measured
// from the first value so that equal values have none.
func meanAndSquares(what string, values []float64) (mean, squares float64, err error) {
	var shift float64
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return 0, 0, fmt.Errorf("ratio: %w: %s[%d] is %v", ErrNotFinite, what, i, v)
		}
		shift += v - values[0]
	}
	mean = values[0] + shift/float64(len(values))
	for _, v := range values {
		squares += (v - mean) * (v - mean)
	}
	return mean, squares, nil
}

// correlationTolerance is by how much rounding may carry the covariance past
// the root of the product of the variances.
const correlationTolerance = 1e-9

// fewestDF is the least number of degrees of freedom for which the points of
// Student's t are in range.
const fewestDF = 0.1

// check refuses what no two estimates can have.
func (p Pair) check(level float64) error {
	for _, v := range []struct {
		what  string
		value float64
	}{
		{"numerator", p.Numerator}, {"denominator", p.Denominator},
		{"variance of the numerator", p.NumeratorVariance},
		{"variance of the denominator", p.DenominatorVariance}, {"covariance", p.Covariance},
	} {
		if math.IsNaN(v.value) || math.IsInf(v.value, 0) {
			return fmt.Errorf("ratio: %w: the %s is %v", ErrNotFinite, v.what, v.value)
		}
	}
	switch {
	case p.NumeratorVariance < 0 || p.DenominatorVariance < 0:
		return fmt.Errorf("ratio: %w: variances are %v and %v", ErrCovariance, p.NumeratorVariance, p.DenominatorVariance)
	case math.Abs(p.Covariance) > (1+correlationTolerance)*math.Sqrt(p.NumeratorVariance)*math.Sqrt(p.DenominatorVariance):
		return fmt.Errorf("ratio: %w: covariance %v with variances %v and %v",
			ErrCovariance, p.Covariance, p.NumeratorVariance, p.DenominatorVariance)
	case p.NumeratorVariance == 0 && p.DenominatorVariance == 0:
		return fmt.Errorf("ratio: %w: both estimates are without error", ErrNoVariance)
	case p.NumeratorVariance > 0 && p.NumeratorVariance < smallestVariance || p.DenominatorVariance > 0 && p.DenominatorVariance < smallestVariance:
		return fmt.Errorf("ratio: %w: a variance is so small that it has lost digits; change units", ErrNotFinite)
	case !(p.DF >= fewestDF):
		return fmt.Errorf("ratio: %w: df is %v, at least %v is needed", ErrArgument, p.DF, fewestDF)
	case !(level > 0 && level < 1):
		return fmt.Errorf("ratio: %w: level %v is not between 0 and 1", ErrArgument, level)
	}
	return nil
}
