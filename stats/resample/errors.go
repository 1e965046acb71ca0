package resample

import "fmt"

// TooFewError reports that there are not enough of something for the
// requested computation.
type TooFewError struct {
	What string // what was counted: "clusters", "replicates" ...
	Got  int
	Need int // the smallest number that would do
}

func (e *TooFewError) Error() string {
	return fmt.Sprintf("resample: %d %s, need at least %d", e.Got, e.What, e.Need)
}

// NotFiniteError reports a NaN or infinite value in the input.
type NotFiniteError struct {
	What  string // name of the input: "replicates", "jackknife values" ...
	Index int    // position of the first such value
	Value float64
}

func (e *NotFiniteError) Error() string {
	return fmt.Sprintf("resample: %s[%d] is %v, need a finite number", e.What, e.Index, e.Value)
}

// NoVariationError reports that all values are equal, so that an interval or
// a standard error would claim certainty it does not have.
type NoVariationError struct {
	What string
}

func (e *NoVariationError) Error() string {
	return fmt.Sprintf("resample: all %s are equal, no interval can be formed", e.What)
}

// RangeError reports an argument outside its permitted range.
type RangeError struct {
	What  string
	Value float64
	Want  string // the permitted range in words
}

func (e *RangeError) Error() string {
	return fmt.Sprintf("resample: %s is %v, want %s", e.What, e.Value, e.Want)
}

// OneSidedError reports that every replicate lies on one side of the
// estimate, which leaves the bias correction of [BCa] infinite.
type OneSidedError struct {
	Estimate float64
	Below    int // replicates below the estimate
	Total    int
}

func (e *OneSidedError) Error() string {
	return fmt.Sprintf("resample: %d of %d replicates lie below the estimate %v, the bias correction is infinite",
		e.Below, e.Total, e.Estimate)
}
