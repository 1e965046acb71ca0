package reliability

import "errors"

// The kinds of failure, to be told apart with errors.Is. The errors returned
// wrap one of them and say which value is at fault.
var (
	// ErrShape: lengths of the inputs do not agree.
	ErrShape = errors.New("lengths do not agree")
	// ErrNotFinite: an input is NaN or infinite, or a result overflows.
	ErrNotFinite = errors.New("value is not finite")
	// ErrNotPositive: logarithms were asked for of a value at or below zero.
	ErrNotPositive = errors.New("value is not above zero")
	// ErrTooFew: too few subjects, trials or readings.
	ErrTooFew = errors.New("too few readings")
	// ErrNoVariance: readings of one subject do not differ, so that no error can
	// be estimated, or nothing varies at all.
	ErrNoVariance = errors.New("no variance")
	// ErrArgument: an argument lies outside its range.
	ErrArgument = errors.New("argument out of range")
	// ErrNotConverged: no maximum of the likelihood could be verified.
	ErrNotConverged = errors.New("no maximum of the likelihood was verified")
)
