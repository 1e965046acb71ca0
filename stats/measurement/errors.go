package measurement

import "errors"

// The kinds of failure, to be told apart with errors.Is. The errors returned
// wrap one of them, or an error of the packages linear, ratio or resample.
var (
	// ErrShape: lengths of the inputs do not agree.
	ErrShape = errors.New("lengths do not agree")
	// ErrNotFinite: an input is NaN or infinite, or an estimate is.
	ErrNotFinite = errors.New("value is not finite")
	// ErrTooFew: too few rows or replicates.
	ErrTooFew = errors.New("too few values")
	// ErrArgument: an argument lies outside its range.
	ErrArgument = errors.New("argument out of range")
	// ErrNoSignal: the column varies no more than its error alone would make it.
	ErrNoSignal = errors.New("the column varies no more than its error explains")
	// ErrEstimator: the estimator failed, or changed the number of its estimates.
	ErrEstimator = errors.New("the estimator failed")
)
