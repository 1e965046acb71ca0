// Package multiplicity adjusts p-values for the number of tests in a family.
//
// Every function takes the p-values that are present (leave absent ones out
// before the call: they are no tests), returns the adjusted values in the
// same order and leaves its input as it was. A test is rejected at level
// alpha when its adjusted value is at most alpha. Equal p-values get equal
// adjusted values, and a smaller p-value never gets a larger adjusted one.
package multiplicity

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// PValueError reports an entry that is no p-value: NaN or outside 0 to 1.
type PValueError struct {
	Index int
	Value float64
}

func (e *PValueError) Error() string {
	return fmt.Sprintf("multiplicity: p-value %d is %v, want a number from 0 to 1; leave absent tests out", e.Index, e.Value)
}

// Holm controls the chance of any false rejection in the family, whatever
// the dependence between the tests (Holm 1979, Scandinavian Journal of
// Statistics 6:65). With p_(1) <= ... <= p_(m),
//
//	adjusted_(i) = max over j <= i of min(1, (m - j + 1) p_(j)).
//
// The result is empty for no p-values. It fails with a *[PValueError] for an
// entry that is NaN or outside 0 to 1.
func Holm(p []float64) ([]float64, error) {
	order, err := ranked(p)
	if err != nil {
		return nil, err
	}
	adjusted := make([]float64, len(p))
	var running float64
	for rank, i := range order {
		running = max(running, min(1, float64(len(p)-rank)*p[i]))
		adjusted[i] = running
	}
	return adjusted, nil
}

// BenjaminiHochberg controls the expected share of false rejections among
// the rejections, for tests that are independent or positively dependent
// (Benjamini and Hochberg 1995, JRSS B 57:289; Benjamini and Yekutieli 2001,
// Annals of Statistics 29:1165). With p_(1) <= ... <= p_(m),
//
//	adjusted_(i) = min over j >= i of min(1, (m / j) p_(j)).
//
// The result is empty for no p-values. It fails with a *[PValueError] for an
// entry that is NaN or outside 0 to 1.
func BenjaminiHochberg(p []float64) ([]float64, error) {
	return stepUp(p, 1)
}

// BenjaminiYekutieli controls the expected share of false rejections
// whatever the dependence between the tests (Benjamini and Yekutieli 2001,
// Annals of Statistics 29:1165, theorem 1.3): as [BenjaminiHochberg] with m
// replaced by m (1 + 1/2 + ... + 1/m).
//
// The result is empty for no p-values. It fails with a *[PValueError] for an
// entry that is NaN or outside 0 to 1.
func BenjaminiYekutieli(p []float64) ([]float64, error) {
	var harmonic float64
	for i := len(p); i >= 1; i-- {
		harmonic += 1 / float64(i)
	}
	return stepUp(p, harmonic)
}

// stepUp is the step-up adjustment with every value times factor.
func stepUp(p []float64, factor float64) ([]float64, error) {
	order, err := ranked(p)
	if err != nil {
		return nil, err
	}
	adjusted := make([]float64, len(p))
	running := 1.0
	for rank := len(p); rank >= 1; rank-- {
		i := order[rank-1]
		running = min(running, factor*float64(len(p))/float64(rank)*p[i])
		adjusted[i] = running
	}
	return adjusted, nil
}

// ranked checks p and returns its indices by increasing value.
func ranked(p []float64) ([]int, error) {
	order := make([]int, len(p))
	for i, v := range p {
		if math.IsNaN(v) || v < 0 || v > 1 {
			return nil, &PValueError{Index: i, Value: v}
		}
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[a], p[b]) })
	return order, nil
}
