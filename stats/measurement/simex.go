package measurement

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/stats/resample"
)

// Estimates are the estimates of a model, with their covariance or nil.
type Estimates struct {
	Values     []float64
	Covariance *mat.SymDense
}

// Estimator fits a model with the column x, n values, in the place of the one with
// error. It must not keep or change x, and depend on nothing else that changes.
type Estimator func(x []float64) (Estimates, error)

// Extrapolant is the curve along which estimates are drawn back to no error.
type Extrapolant int

const (
	// Quadratic is a + b lambda + c lambda^2: steady, and the usual choice. It
	// corrects a little too little.
	Quadratic Extrapolant = iota
	// RationalLinear is a + b/(c + lambda), c above 1: the true form for a slope of
	// least squares, less steady when the error is large. Where no such curve is near
	// it becomes a line.
	RationalLinear
	// Linear is a + b lambda: for small errors.
	Linear
)

// Options choose how SIMEX is done. The zero value takes a quadratic through
// lambda = 0, 0.5, 1, 1.5 and 2 with 100 replicates.
type Options struct {
	Lambdas     []float64 // multiples of the error variance that are added; nil for 0.5, 1, 1.5, 2
	Replicates  int       // at each lambda; 0 means 100
	Seed        uint64
	Extrapolant Extrapolant
}

const (
	defaultReplicates = 100
	// batches is the number of parts of the replicates that the Monte-Carlo error is
	// read from.
	batches = 10
)

// Result is a correction by SIMEX.
type Result struct {
	Naive, Corrected []float64
	// Covariance of Corrected, by the jackknife of Stefanski and Cook (1995, JASA
	// 90:1247): the mean covariance of the estimator less the covariance between
	// replicates, extrapolated by a quadratic. It is nil when the estimator gives no
	// covariance, and when the result is not one (Warnings says so): then resample.
	Covariance *mat.SymDense
	// MonteCarloError is the standard error of Corrected due to the replicates being
	// finite in number.
	MonteCarloError []float64
	Lambdas         []float64   // from 0
	Path            [][]float64 // mean estimates, by lambda
	Warnings        []string
}

// SIMEX corrects the estimates of f for normal errors of standard deviation
// errorSD[i] in x[i] (Cook and Stefanski 1994, JASA 89:1314). For each lambda it
// fits x + sqrt(lambda) errorSD z, z standard normal, many times, which multiplies
// the error variance by 1 + lambda; the means of the estimates are extrapolated to
// lambda = -1. The same z serve all lambdas, so the path is smooth.
//
// x and errorSD have n values, are not changed, and errorSD is at least zero. The
// result depends on the seed and the data alone.
//
// It fails with ErrShape, ErrNotFinite, ErrTooFew, ErrArgument, or ErrEstimator
// (which wraps the estimator's own error and names lambda and replicate).
func SIMEX(x, errorSD []float64, f Estimator, o Options) (Result, error) {
	o, err := o.resolved()
	if err != nil {
		return Result{}, err
	}
	if err := checkErrors(x, errorSD); err != nil {
		return Result{}, err
	}
	return simex(x, errorSD, f, o, func(replicate int, z []float64) {
		s := resample.NewStream(o.Seed, replicate)
		for i := range z {
			// The middle of one of 2^53 equal parts, through the normal quantile.
			z[i] = distuv.UnitNormal.Quantile((float64(s.Below(1<<53)) + 0.5) / (1 << 53))
		}
	})
}

// simex does it with the deviates that draw fills in.
func simex(x, errorSD []float64, f Estimator, o Options, draw func(replicate int, z []float64)) (Result, error) {
	naive, err := call(f, x, 0, 0, -1)
	if err != nil {
		return Result{}, err
	}
	k := len(naive.Values)
	p := newPath(k, o, naive)
	z, noisy := make([]float64, len(x)), make([]float64, len(x))
	for b := range o.Replicates {
		draw(b, z)
		for l, lambda := range o.Lambdas {
			root := math.Sqrt(lambda)
			for i, v := range x {
				noisy[i] = v + root*errorSD[i]*z[i]
			}
			e, err := call(f, noisy, lambda, b, k)
			if err != nil {
				return Result{}, err
			}
			p.add(l, b, e)
		}
	}
	return p.result(o)
}

func call(f Estimator, x []float64, lambda float64, replicate, k int) (Estimates, error) {
	where := fmt.Sprintf("at lambda %v, replicate %d", lambda, replicate)
	if k < 0 {
		where = "on the data as observed"
	}
	e, err := f(x)
	if err != nil {
		return e, fmt.Errorf("measurement: %w %s: %w", ErrEstimator, where, err)
	}
	if len(e.Values) == 0 || k >= 0 && len(e.Values) != k {
		return e, fmt.Errorf("measurement: %w %s: %d estimates", ErrEstimator, where, len(e.Values))
	}
	for j, v := range e.Values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return e, fmt.Errorf("measurement: %w %s: estimate %d is %v: %w", ErrEstimator, where, j, v, ErrNotFinite)
		}
	}
	if e.Covariance != nil && e.Covariance.SymmetricDim() != len(e.Values) {
		return e, fmt.Errorf("measurement: %w %s: a covariance of %d for %d estimates", ErrEstimator, where, e.Covariance.SymmetricDim(), len(e.Values))
	}
	return e, nil
}

func (o Options) resolved() (Options, error) {
	if o.Lambdas == nil {
		o.Lambdas = []float64{0.5, 1, 1.5, 2}
	}
	if o.Replicates == 0 {
		o.Replicates = defaultReplicates
	}
	if o.Replicates < batches {
		return o, fmt.Errorf("measurement: %w: %d replicates, need at least %d", ErrTooFew, o.Replicates, batches)
	}
	if o.Extrapolant < Quadratic || o.Extrapolant > Linear {
		return o, fmt.Errorf("measurement: %w: extrapolant %d", ErrArgument, int(o.Extrapolant))
	}
	before := 0.0
	for _, l := range o.Lambdas {
		if !(l > before) || math.IsInf(l, 0) {
			return o, fmt.Errorf("measurement: %w: lambdas %v are not above zero and rising", ErrArgument, o.Lambdas)
		}
		before = l
	}
	if len(o.Lambdas) < 2 {
		return o, fmt.Errorf("measurement: %w: %d lambdas beside 0, need at least 2", ErrTooFew, len(o.Lambdas))
	}
	return o, nil
}

func checkErrors(x, errorSD []float64) error {
	if len(errorSD) != len(x) {
		return fmt.Errorf("measurement: %w: %d values, %d standard deviations of errors", ErrShape, len(x), len(errorSD))
	}
	if len(x) < 3 {
		return fmt.Errorf("measurement: %w: %d rows, need at least 3", ErrTooFew, len(x))
	}
	for i, s := range errorSD {
		if math.IsNaN(x[i]) || math.IsInf(x[i], 0) {
			return fmt.Errorf("measurement: %w: row %d is %v", ErrNotFinite, i, x[i])
		}
		if math.IsNaN(s) || math.IsInf(s, 0) {
			return fmt.Errorf("measurement: %w: the error of row %d has standard deviation %v", ErrNotFinite, i, s)
		}
		if s < 0 {
			return fmt.Errorf("measurement: %w: the error of row %d has standard deviation %v", ErrArgument, i, s)
		}
	}
	return nil
}
