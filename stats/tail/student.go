// Package tail gives tail probabilities and critical values of the distributions
// that tests rest on, with errors relative to the tail, not to one: a p-value of
// 1e-30 has as many right digits as one of 0.3.
//
// The functions are for arguments already checked; out of range they give NaN and
// never panic.
package tail

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// expansionDF is where the incomplete beta function, which loses digits as df
// grows, gives way to Hill's expansion, which gains them. At the changeover the
// two agree to about 1e-12.
const expansionDF = 2000

// TwoSided gives P(|T| > |t|) for Student's t with df > 0 degrees of freedom,
// whole or not, infinite for the normal:
//
//	I_x(df/2, 1/2), x = df/(df + t^2)
//
// (Abramowitz and Stegun 1964, 26.7.1 and 26.5.27). Its error is relative to the
// tail, not to 1.
func TwoSided(t, df float64) float64 {
	t = math.Abs(t)
	switch {
	case math.IsNaN(t) || !(df > 0):
		return math.NaN()
	case math.IsInf(t, 0):
		return 0
	case df > expansionDF:
		return math.Erfc(normalDeviate(t, df) / math.Sqrt2)
	case t*t < 1:
		// Near the centre the complement keeps its digits.
		return 1 - mathext.RegIncBeta(0.5, df/2, t*t/(df+t*t))
	}
	return mathext.RegIncBeta(df/2, 0.5, 1/(1+t/df*t))
}

// normalDeviate gives the z with the same tail under the normal as t has under
// Student's t with many degrees of freedom (Hill 1970, Comm. ACM 13:617-619,
// algorithm 395).
func normalDeviate(t, df float64) float64 {
	if math.IsInf(df, 0) {
		return t
	}
	a := df - 0.5
	b := 48 * a * a
	y := a * math.Log1p(t/df*t)
	if y > 1e4 {
		return math.Sqrt(y) // the tail is zero either way
	}
	return (((((-0.4*y-3.3)*y-24)*y-85.5)/(0.8*y*y+100+b)+y+3)/b + 1) * math.Sqrt(y)
}

// Upper gives P(T > t) for Student's t with df > 0 degrees of freedom, infinite for
// the normal.
func Upper(t, df float64) float64 {
	p := TwoSided(t, df) / 2
	if t < 0 {
		return 1 - p
	}
	return p
}

// Critical gives the t with P(|T| > t) = alpha, 0 < alpha < 1, for Student's t with
// df > 0 degrees of freedom, infinite for the normal: an interval at the level
// 1 - alpha is estimate -+ t standard errors. It is found by Newton's method on the logarithms of both, where the tail is nearly straight, kept
// inside a bracket. (The quantiles of gonum and of package math lose their
// digits far out in the tail.)
func Critical(alpha, df float64) float64 {
	if !(alpha > 0 && alpha < 1) || !(df > 0) {
		return math.NaN()
	}
	t := math.Sqrt2 * math.Erfcinv(alpha) // a first guess
	low, high := 0.0, math.Max(t, 1)
	for TwoSided(high, df) > alpha {
		low, high = high, 2*high
		if math.IsInf(high, 0) {
			return high
		}
	}
	t = math.Max(t, low)
	if df > 2 {
		// First terms of the expansion in 1/df (Abramowitz and Stegun 26.7.5).
		t2 := t * t
		t += t * ((t2+1)/4 + ((5*t2+16)*t2+3)/(96*df)) / df
		if !(t > low && t < high) {
			t = low + (high-low)/2
		}
	}
	student := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}
	for range 200 {
		p := TwoSided(t, df)
		if p > alpha {
			low = math.Max(low, t)
		} else {
			high = math.Min(high, t)
		}
		var density float64
		if df > expansionDF {
			z := normalDeviate(t, df)
			density = math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
		} else {
			density = student.Prob(t)
		}
		next := t * math.Exp(math.Log(p/alpha)*p/(2*density*t))
		if !(next >= low && next <= high) {
			next = low + (high-low)/2
		}
		// The step after this one is smaller by several digits.
		if math.Abs(next-t) <= 1e-11*t {
			return next
		}
		t = next
	}
	return t
}
