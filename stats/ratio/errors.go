package ratio

import "errors"

// The kinds of failure, to be told apart with errors.Is. The errors returned
// wrap one of them and say which value is at fault.
var (
	// ErrNotFinite: an input is NaN or infinite, or a result overflows.
	ErrNotFinite = errors.New("value is not finite")
	// ErrCovariance: a variance is negative, or the covariance exceeds what the
	// variances allow.
	ErrCovariance = errors.New("not a covariance matrix")
	// ErrNoVariance: both estimates are without error, so there is no set.
	ErrNoVariance = errors.New("no variance")
	// ErrZeroDenominator: the denominator is zero, so the quotient does not exist.
	ErrZeroDenominator = errors.New("denominator is zero")
	// ErrTooFew: too few values for a variance.
	ErrTooFew = errors.New("too few values")
	// ErrShape: lengths of the inputs do not agree.
	ErrShape = errors.New("lengths do not agree")
	// ErrArgument: an argument lies outside its range.
	ErrArgument = errors.New("argument out of range")
)
