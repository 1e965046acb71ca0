package resample

import (
	"fmt"
	"math"
)

// Tail says which values of the statistic speak against "no effect".
type Tail int

const (
	// TwoSided counts assignments whose statistic is as far from zero or farther,
	// so the statistic must be centred on zero when there is no effect.
	TwoSided Tail = iota
	// Greater counts those as large or larger.
	Greater
	// Less counts those as small or smaller.
	Less
)

// RandomisationOptions say how a test is made. The zero value is two-sided,
// exact up to [DefaultEnumerated] assignments, and 9999 random ones beyond.
type RandomisationOptions struct {
	Tail       Tail
	Enumerated int    // assignments up to which all are used; 0 means DefaultEnumerated
	Replicates int    // random assignments otherwise; 0 means 9999
	Seed       uint64 // see SeedOf
}

// DefaultEnumerated is the number of assignments up to which all are used.
const DefaultEnumerated = 50000

const defaultRandomisations = 9999

// tieTolerance is the difference, as a share of the largest statistic, within
// which two statistics count as equal: sums of the same numbers in another order
// differ by rounding, and a tie lost to it would make the test too bold.
const tieTolerance = 1e-10

// RandomisationResult is a randomisation test.
type RandomisationResult struct {
	Statistic float64 // of the assignment made
	PValue    float64
	// SmallestP is the smallest p-value that the test could have given, whatever
	// the assignment made: where it is above the level wanted, no result could have
	// been significant, and a large p-value says nothing.
	SmallestP   float64
	Assignments float64 // number of admissible assignments
	Exact       bool    // all of them were used
	Used        int     // assignments used, the one made among them
	// MonteCarloError is the standard error of PValue due to chance, 0 when exact.
	MonteCarloError float64
}

// Randomise tests "the assignment made no difference to any unit" by the
// distribution of the statistic over the assignments of the design (Fisher 1935,
// The Design of Experiments; Ernst 2004, Statistical Science 19:676).
//
// With all N assignments at hand p is the share of them whose statistic is at
// least as extreme as the one made. With R random ones p = (1 + number at least as
// extreme)/(R + 1), which counts the one made and so keeps the level (Phipson and
// Smyth 2010, Stat. Appl. Genet. Mol. Biol. 9:39).
//
// In 2000 trials of 10 units with very skewed responses and no effect p is at or
// below 0.05 in 0.050 when exact and in 0.042 with 199 random assignments
// (TestRandomisationLevel).
//
// The test is valid for a design that was really drawn at random; the model for
// the responses does not matter. statistic is given an assignment of
// [Design.Units] values, which it must not keep or change, and must depend on it
// alone; it is called in a fixed order.
//
// It fails with a *[NotFiniteError] when a statistic is NaN or infinite, a
// *[NoVariationError] when it is the same for every assignment used, a
// *[RangeError] or *[TooFewError] for options out of range.
func Randomise(d Design, statistic func(assignment []int) float64, o RandomisationOptions) (RandomisationResult, error) {
	o, err := o.resolved()
	if err != nil {
		return RandomisationResult{}, err
	}
	if len(d.made) == 0 {
		return RandomisationResult{}, &TooFewError{What: "units", Got: 0, Need: 1}
	}
	r := RandomisationResult{Statistic: statistic(d.Made()), Assignments: d.count}
	if err := finite("statistic", []float64{r.Statistic}); err != nil {
		return RandomisationResult{}, err
	}
	var values []float64
	if d.count <= float64(o.Enumerated) {
		r.Exact = true
		d.each(func(a []int) bool {
			values = append(values, statistic(a))
			return true
		})
	} else {
		values = append(values, r.Statistic)
		assignment := make([]int, len(d.made))
		for b := range o.Replicates {
			s := NewStream(o.Seed, b)
			d.draw(&s, assignment)
			values = append(values, statistic(assignment))
		}
	}
	if err := finite("statistics", values); err != nil {
		return RandomisationResult{}, err
	}
	r.Used = len(values)
	return r, r.count(values, o.Tail)
}

// count sets the p-values from the statistics of all assignments used.
func (r *RandomisationResult) count(values []float64, tail Tail) error {
	extreme := func(v float64) float64 {
		switch tail {
		case Less:
			return -v
		case TwoSided:
			return math.Abs(v)
		}
		return v
	}
	low, high, largest := math.Inf(1), math.Inf(-1), 0.0
	for _, v := range values {
		low, high = math.Min(low, extreme(v)), math.Max(high, extreme(v))
		largest = math.Max(largest, math.Abs(v))
	}
	slack := tieTolerance * largest
	if high-low <= slack {
		return &NoVariationError{What: "statistics of the assignments"}
	}
	var asExtreme, most float64
	for _, v := range values {
		if extreme(v) >= extreme(r.Statistic)-slack {
			asExtreme++
		}
		if extreme(v) >= high-slack {
			most++
		}
	}
	used := float64(len(values))
	r.PValue = asExtreme / used
	if r.Exact {
		r.SmallestP = most / used
		return nil
	}
	// Not all were seen: the smallest is that of one alone among those drawn, and
	// no smaller than that of one alone among all.
	r.SmallestP = math.Max(1/used, 1/r.Assignments)
	r.MonteCarloError = math.Sqrt(r.PValue * (1 - r.PValue) / used)
	return nil
}

func (o RandomisationOptions) resolved() (RandomisationOptions, error) {
	if o.Enumerated == 0 {
		o.Enumerated = DefaultEnumerated
	}
	if o.Replicates == 0 {
		o.Replicates = defaultRandomisations
	}
	switch {
	case o.Enumerated < 0:
		return o, &RangeError{What: "assignments to enumerate", Value: float64(o.Enumerated), Want: "a number above zero"}
	case o.Replicates < 1:
		return o, &TooFewError{What: "replicates", Got: o.Replicates, Need: 1}
	case o.Tail < TwoSided || o.Tail > Less:
		return o, &RangeError{What: "tail", Value: float64(o.Tail), Want: "TwoSided, Greater or Less"}
	}
	return o, nil
}

// String gives the p-value and what it rests on.
func (r RandomisationResult) String() string {
	how := "random"
	if r.Exact {
		how = "all"
	}
	return fmt.Sprintf("p %.4g (%s %d assignments; smallest attainable %.4g)", r.PValue, how, r.Used, r.SmallestP)
}
