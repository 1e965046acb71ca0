package kinetics

import (
	"errors"
	"fmt"
	"math"
)

// The kinds of failure, to be told apart with errors.Is. The errors returned
// wrap one of them and name the bout or value at fault.
var (
	// ErrShape: a bout has different numbers of times and values.
	ErrShape = errors.New("lengths do not agree")
	// ErrNotFinite: an input is NaN or infinite, or a result overflows.
	ErrNotFinite = errors.New("value is not finite")
	// ErrTooFew: too few bouts, samples or different times.
	ErrTooFew = errors.New("too few samples")
	// ErrArgument: an argument lies outside its range.
	ErrArgument = errors.New("argument out of range")
	// ErrNotIdentified: the samples do not bound the time constant.
	ErrNotIdentified = errors.New("the time constant is not identified")
)

// NotIdentifiedError says what the samples do tell of the time constant.
type NotIdentifiedError struct {
	// Low and High are the least and the largest tau not rejected at Level: Low is
	// 0 when the samples are compatible with a response too fast to be seen, High
	// +Inf when they are compatible with a straight line, whose steady level may be
	// anything.
	Low, High float64
	Level     float64
}

func (e *NotIdentifiedError) Error() string {
	switch {
	case e.Low == 0 && math.IsInf(e.High, 1):
		return fmt.Sprintf("kinetics: %v: at %g %% any is compatible with the samples", ErrNotIdentified, 100*e.Level)
	case e.Low == 0:
		return fmt.Sprintf("kinetics: %v: at %g %% it may be anything below %.4g, a response too fast for the samples", ErrNotIdentified, 100*e.Level, e.High)
	}
	return fmt.Sprintf("kinetics: %v: at %g %% it may be anything above %.4g, the samples do not show the approach to a steady level", ErrNotIdentified, 100*e.Level, e.Low)
}

// Unwrap makes errors.Is(err, ErrNotIdentified) true.
func (e *NotIdentifiedError) Unwrap() error { return ErrNotIdentified }
