package ratio

import (
	"fmt"
	"math"

	"lengthwise/stats/tail"
)

// Kind is the shape of a Fieller set.
type Kind int

const (
	// Interval: Low to High, both finite. The denominator differs from zero.
	Interval Kind = iota
	// TwoRays: everything at or below Low and everything at or above High. The
	// denominator may be zero, the numerator and it together may not: the values
	// between Low and High are excluded.
	TwoRays
	// HalfLine: the denominator sits exactly on the edge of differing from zero.
	// Low is -Inf or High is +Inf.
	HalfLine
	// WholeLine: nothing is excluded; Low is -Inf, High +Inf. The numerator and
	// the denominator may both be zero.
	WholeLine
)

// String gives the shape in words.
func (k Kind) String() string {
	names := [...]string{"interval", "two rays", "half line", "whole line"}
	if k < 0 || int(k) >= len(names) {
		return fmt.Sprintf("Kind(%d)", int(k))
	}
	return names[k]
}

// Set is a Fieller set.
type Set struct {
	Kind      Kind
	Low, High float64 // see Kind
	Level, DF float64
	// G is t^2 v_bb / b^2, +Inf for b = 0: below 1 the set is an interval, and
	// near 0 that interval is the one of the delta method (Finney 1978).
	G float64
}

// Fieller gives the set of quotients compatible with p at the level, such as
// 0.95, by Student's t with p.DF degrees of freedom.
//
// With A = b^2 - t^2 v_bb, B = a b - t^2 v_ab, C = a^2 - t^2 v_aa it is
// A theta^2 - 2 B theta + C <= 0, and the discriminant is
//
//	B^2 - A C = t^2 (a^2 v_bb - 2 a b v_ab + b^2 v_aa - t^2 (v_aa v_bb - v_ab^2)),
//
// computed in that form, which loses no digits. When it is negative nothing is
// excluded. A > 0 gives an interval, A < 0 with a positive discriminant two rays.
//
// The level is exact for normal estimates with a covariance matrix that is
// known up to a factor on DF degrees of freedom (least squares with normal
// errors). Counted over all sets, TestCoverage finds 0.946 to 0.956 for turning
// points from sharp to hardly there, where the delta method falls from 0.954 to
// 0.476, and the sets that happen to be intervals from 0.956 to 0.258.
//
// Errors: ErrNotFinite, ErrCovariance, ErrNoVariance, ErrArgument.
func Fieller(p Pair, level float64) (Set, error) {
	if err := p.check(level); err != nil {
		return Set{}, err
	}
	t := tail.Critical(1-level, p.DF)
	// In units of the standard errors, so that no square leaves the range.
	ua, ub := unit(p.NumeratorVariance, p.Numerator), unit(p.DenominatorVariance, p.Denominator)
	a, b := p.Numerator/ua, p.Denominator/ub
	va, vb := p.NumeratorVariance/ua/ua, p.DenominatorVariance/ub/ub
	vab := p.Covariance / ua / ub
	if limit := math.Sqrt(va * vb); math.Abs(vab) > limit {
		vab = math.Copysign(limit, vab) // by rounding, see check
	}
	s := Set{Level: level, DF: p.DF, G: math.Inf(1)}
	if b != 0 {
		s.G = t / b * (t / b) * vb
	}

	A := (b - t*math.Sqrt(vb)) * (b + t*math.Sqrt(vb))
	B := a*b - t*t*vab
	C := (a - t*math.Sqrt(va)) * (a + t*math.Sqrt(va))
	discriminant := t * t * (a*a*vb - 2*a*b*vab + b*b*va - t*t*(va*vb-vab*vab))
	scale := ua / ub
	switch {
	case A > 0:
		s.Kind = Interval
		root := math.Sqrt(math.Max(0, discriminant))
		s.Low, s.High = roots(A, B, C, root)
	case discriminant <= 0 || A == 0 && B == 0:
		s.Kind, s.Low, s.High = WholeLine, math.Inf(-1), math.Inf(1)
		return s, nil
	case A == 0:
		s.Kind, s.Low, s.High = HalfLine, math.Inf(-1), math.Inf(1)
		if B > 0 {
			s.Low = scale * C / (2 * B)
		} else {
			s.High = scale * C / (2 * B)
		}
		if edge := scale * C / (2 * B); math.IsNaN(edge) || math.IsInf(edge, 0) {
			return Set{}, fmt.Errorf("ratio: %w: the limit of the set overflows; change units", ErrNotFinite)
		}
		return s, nil
	default:
		s.Kind = TwoRays
		s.Low, s.High = roots(A, B, C, math.Sqrt(discriminant))
	}
	s.Low, s.High = scale*s.Low, scale*s.High
	if math.IsNaN(s.Low) || math.IsInf(s.Low, 0) || math.IsNaN(s.High) || math.IsInf(s.High, 0) {
		return Set{}, fmt.Errorf("ratio: %w: a limit of the set overflows; change units", ErrNotFinite)
	}
	return s, nil
}

// unit is the standard error, or where there is none the size of the estimate.
func unit(variance, estimate float64) float64 {
	if variance > 0 {
		return math.Sqrt(variance)
	}
	if estimate != 0 {
		return math.Abs(estimate)
	}
	return 1
}

// roots solves A x^2 - 2 B x + C = 0 without cancellation, lower root first.
func roots(A, B, C, root float64) (low, high float64) {
	q := B + math.Copysign(root, B)
	x, y := q/A, 0.0
	if q != 0 {
		y = C / q
	}
	return math.Min(x, y), math.Max(x, y)
}

// Contains reports whether theta lies in the set.
func (s Set) Contains(theta float64) bool {
	if s.Kind == TwoRays {
		return theta <= s.Low || theta >= s.High
	}
	return theta >= s.Low && theta <= s.High
}

// Shift gives the set moved by a constant, for a quotient measured from another
// origin.
func (s Set) Shift(by float64) Set {
	s.Low += by
	s.High += by
	return s
}

// Segment is a closed stretch of the line.
type Segment struct{ Low, High float64 }

// Within gives the part of the set between low and high, such as the range that
// was measured: no segment, one, or two in ascending order. When it equals the
// whole range the data say nothing about where in it the quotient lies.
func (s Set) Within(low, high float64) []Segment {
	var out []Segment
	add := func(from, to float64) {
		if from, to = math.Max(from, low), math.Min(to, high); from <= to {
			out = append(out, Segment{from, to})
		}
	}
	if s.Kind == TwoRays {
		add(math.Inf(-1), s.Low)
		add(s.High, math.Inf(1))
	} else {
		add(s.Low, s.High)
	}
	return out
}
