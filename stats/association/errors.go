package association

import "fmt"

// LengthError reports columns of different lengths.
type LengthError struct {
	What      string // the column that does not fit
	Got, Want int
}

func (e *LengthError) Error() string {
	return fmt.Sprintf("association: %s has %d entries, x has %d", e.What, e.Got, e.Want)
}

// TooFewError reports that there are not enough of something for the
// requested computation.
type TooFewError struct {
	What      string // what was counted: "rows", "error degrees of freedom" ...
	Got, Need int
}

func (e *TooFewError) Error() string {
	return fmt.Sprintf("association: %d %s, need at least %d", e.Got, e.What, e.Need)
}

// NotFiniteError reports a NaN or infinite value in a column.
type NotFiniteError struct {
	What  string
	Index int
	Value float64
}

func (e *NotFiniteError) Error() string {
	return fmt.Sprintf("association: %s[%d] is %v, want a finite number", e.What, e.Index, e.Value)
}

// NoVariationError reports a column without variation beyond rounding, for
// which no correlation exists.
type NoVariationError struct {
	What string
}

func (e *NoVariationError) Error() string {
	return fmt.Sprintf("association: %s does not vary, no correlation exists", e.What)
}

// PerfectError reports points on parallel lines, to rounding: the
// correlation is one in size, and no test or interval exists.
type PerfectError struct {
	R float64 // 1 or -1
}

func (e *PerfectError) Error() string {
	return fmt.Sprintf("association: the correlation is %v to rounding, no test or interval exists", e.R)
}

// RangeError reports an argument outside its permitted range.
type RangeError struct {
	What  string
	Value float64
	Want  string
}

func (e *RangeError) Error() string {
	return fmt.Sprintf("association: %s is %v, want %s", e.What, e.Value, e.Want)
}

// UndefinedError reports that too many resamples had no variation, so that
// the others would misrepresent them all.
type UndefinedError struct {
	Undefined, Replicates int
}

func (e *UndefinedError) Error() string {
	return fmt.Sprintf("association: no correlation exists in %d of %d resamples", e.Undefined, e.Replicates)
}
