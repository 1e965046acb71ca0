package measurement

import (
	"errors"
	"fmt"
	"math"

	"lengthwise/stats/linear"
)

// Calibration is what is expected of a column given what was observed.
type Calibration struct {
	// Values is E(x | observed, columns, group), n values; Variances is the variance
	// of x about it, so that E(x^2 | ...) is Values^2 + Variances.
	Values, Variances []float64
	// TrueVariance is the variance of x given the columns and the group.
	TrueVariance float64
	// Reliability is TrueVariance over itself plus the mean error variance: the
	// factor by which a plain slope is too flat.
	Reliability float64
}

// Calibrate replaces a column with error by its best linear predictor (Carroll and
// Stefanski 1990, JASA 85:652). The observed x is regressed on the columns (and on
// groups with a level each, or a constant); with h the leverages and u_i^2 the error
// variances,
//
//	s^2 = (RSS - sum (1 - h_i) u_i^2) / sum (1 - h_i)
//	x_i* = fitted_i + s^2/(s^2 + u_i^2) residual_i.
//
// A least-squares slope on x* with the same columns is the plain slope over the
// reliability ratio when all u are equal. x and errorSD have n values and are not
// changed; terms and columns may be empty, absorb nil.
//
// It fails with ErrShape, ErrNotFinite, ErrTooFew, ErrArgument, an error of
// linear.Fit, or ErrNoSignal when s^2 would not be above zero.
func Calibrate(x, errorSD []float64, terms []string, columns [][]float64, absorb []int) (Calibration, error) {
	if err := checkErrors(x, errorSD); err != nil {
		return Calibration{}, err
	}
	if absorb != nil && len(absorb) != len(x) {
		return Calibration{}, fmt.Errorf("measurement: %w: %d groups for %d values", ErrShape, len(absorb), len(x))
	}
	residual, leverage, err := residuals(x, terms, columns, absorb)
	if err != nil {
		return Calibration{}, err
	}
	var squares, noise, free, mean float64
	for i, e := range residual {
		squares += e * e
		free += 1 - leverage[i]
		noise += (1 - leverage[i]) * errorSD[i] * errorSD[i]
		mean += errorSD[i] * errorSD[i] / float64(len(x))
	}
	if free < 0.5 {
		return Calibration{}, fmt.Errorf("measurement: %w: %d rows leave no degree of freedom", ErrTooFew, len(x))
	}
	if !(squares+noise+mean < math.Inf(1)) || squares > 0 && squares < smallestSquare {
		return Calibration{}, fmt.Errorf("measurement: %w: a sum of squares leaves the range of a float64; change units", ErrNotFinite)
	}
	c := Calibration{Values: make([]float64, len(x)), Variances: make([]float64, len(x)), TrueVariance: (squares - noise) / free}
	if !(c.TrueVariance > 0) {
		return Calibration{}, fmt.Errorf("measurement: %w: variance %.4g, error variance %.4g", ErrNoSignal, squares/free, noise/free)
	}
	c.Reliability = c.TrueVariance / (c.TrueVariance + mean)
	for i, e := range residual {
		v := errorSD[i] * errorSD[i]
		share := c.TrueVariance / (c.TrueVariance + v)
		c.Values[i] = x[i] - (1-share)*e
		c.Variances[i] = share * v
	}
	return c, nil
}

// smallestSquare is where squares begin to lose their digits.
const smallestSquare = 1e-290

// residuals of x on the columns, with the leverages of the fit.
func residuals(x []float64, terms []string, columns [][]float64, absorb []int) (residual, leverage []float64, err error) {
	if len(columns) > 0 || len(terms) > 0 {
		p := linear.Problem{Response: x, Terms: terms, Columns: columns, Absorb: absorb}
		if absorb == nil {
			one := make([]float64, len(x))
			for i := range one {
				one[i] = 1
			}
			p.Terms = append([]string{"constant"}, terms...)
			p.Columns = append([][]float64{one}, columns...)
		}
		m, err := linear.Fit(p)
		if err == nil {
			return m.Residuals, m.Leverages(), nil
		}
		// Columns that vary only between the groups add nothing to them.
		if !errors.Is(err, linear.ErrNoTerms) {
			return nil, nil, fmt.Errorf("measurement: %w", err)
		}
	}
	residual, leverage = make([]float64, len(x)), make([]float64, len(x))
	place := make(map[int]int)
	var count, shift []float64
	at := make([]int, len(x))
	for i, v := range x {
		label := 0
		if absorb != nil {
			label = absorb[i]
		}
		g, known := place[label]
		if !known {
			g = len(count)
			place[label] = g
			count, shift = append(count, 0), append(shift, 0)
		}
		at[i] = g
		count[g]++
		shift[g] += v - x[0]
	}
	for i, v := range x {
		g := at[i]
		residual[i] = v - x[0] - shift[g]/count[g]
		leverage[i] = 1 / count[g]
	}
	return residual, leverage, nil
}

// ReliabilityRatio is the share of the variance of x, given the columns and groups,
// that is not error. Arguments and errors are those of [Calibrate].
func ReliabilityRatio(x, errorSD []float64, terms []string, columns [][]float64, absorb []int) (float64, error) {
	c, err := Calibrate(x, errorSD, terms, columns, absorb)
	if err != nil {
		return 0, err
	}
	return c.Reliability, nil
}
