package reliability

import (
	"fmt"
	"math"
)

// Components are variance components of readings whose number may differ by
// subject.
type Components struct {
	Readings, Subjects, Trials int // Trials is 0 one way
	Mean                       float64
	// BetweenVariance is that of subjects' levels, TrialVariance that of the
	// trials (0 unless random), ErrorVariance the rest: restricted maximum
	// likelihood, in the square of the unit. Boundary says that BetweenVariance
	// was set to zero because the readings would have it lower still.
	BetweenVariance, TrialVariance, ErrorVariance float64
	Boundary                                      bool
	// ICC is BetweenVariance over the sum of all three.
	ICC float64
	// ConfLow and ConfHigh are the interval of ICC. They may be negative, which
	// says that subjects differ less than their readings would have them by
	// chance. Both are zero for [Agreement], which has none.
	ConfLow, ConfHigh float64
	// TypicalError is the root of the error mean square of the model with
	// subjects (and trials) fixed, with its exact interval; at the boundary it
	// differs from the root of ErrorVariance.
	TypicalError TypicalError
	Level        float64
}

// OneWay gives the variance components of values under the one-way model,
// subject[i] being the subject of values[i]. With equal numbers the ICC equals
// ICC(1,1) where that is above zero, and the interval equals its interval always.
//
// The variances are by restricted maximum likelihood. The interval of the ICC is
// exact for normal levels and errors whatever the numbers of readings (Wald
// 1940). Subjects with one reading count. With 12 subjects of 2 to 6 readings
// TestCoverage finds 0.951, and 0.954 for the interval of the typical error.
//
// Errors: ErrShape, ErrNotFinite, ErrArgument; ErrTooFew for fewer than two
// subjects or no subject with two readings; ErrNoVariance when readings of one
// subject do not differ.
func OneWay(subject []int, values []float64, level float64) (Components, error) {
	return components(subject, nil, values, level)
}

// Consistency is [OneWay] with the effect of the trial, trial[i] for values[i],
// taken out as fixed: the ICC is that of consistency, ICC(3,1) when the table is
// complete. Cells may be missing or hold several readings; trials need not have
// an order. Errors are those of OneWay; ErrTooFew also when no trial has two
// subjects.
func Consistency(subject, trial []int, values []float64, level float64) (Components, error) {
	if trial == nil {
		trial = []int{} // an error, not the one-way model
	}
	return components(subject, trial, values, level)
}

func components(subject, trial []int, values []float64, level float64) (Components, error) {
	if err := checkLevel(level); err != nil {
		return Components{}, err
	}
	r, err := newReadings(subject, trial, values)
	if err != nil {
		return Components{}, err
	}
	s, err := r.spectrum()
	if err != nil {
		return Components{}, err
	}
	lambda := s.reml()
	c := Components{
		Readings: len(values), Subjects: r.subjects, Mean: s.mean, Level: level,
		ErrorVariance: (s.residual + s.between(lambda)) / (float64(len(s.c)) + s.df),
		ICC:           lambda / (1 + lambda), Boundary: lambda == 0,
		TypicalError: typical(math.Sqrt(s.residual/s.df), s.df, s.mean, level),
	}
	if trial != nil {
		c.Trials = r.trials
	}
	c.BetweenVariance = lambda * c.ErrorVariance
	low, high := s.limits(level)
	c.ConfLow, c.ConfHigh = share(low), share(high)
	for _, v := range []float64{c.Mean, c.BetweenVariance, c.ErrorVariance, c.ICC, c.TypicalError.Value} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Components{}, fmt.Errorf("reliability: %w: a variance leaves the range of a float64; change units", ErrNotFinite)
		}
	}
	return c, nil
}

// share turns a ratio of variances into an intraclass correlation. Ratios down
// to -1/max(c) occur; none at or below -1/2 is meant, since with two readings of
// a subject the correlation is at least -1.
func share(lambda float64) float64 {
	return math.Max(-1, lambda/(1+math.Max(lambda, -0.5)))
}
