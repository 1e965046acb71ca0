package concordance

import "fmt"

// LengthError reports a column with another number of rows than block has.
type LengthError struct {
	What      string
	Got, Want int
}

func (e *LengthError) Error() string {
	return fmt.Sprintf("concordance: %s has %d entries, block has %d", e.What, e.Got, e.Want)
}

// NotFiniteError reports a NaN or infinite value in a column.
type NotFiniteError struct {
	What  string
	Index int
	Value float64
}

func (e *NotFiniteError) Error() string {
	return fmt.Sprintf("concordance: %s[%d] is %v, want a finite number", e.What, e.Index, e.Value)
}

// NoPairsError reports that no pair of rows was admitted.
type NoPairsError struct {
	Rows, Blocks int
}

func (e *NoPairsError) Error() string {
	return fmt.Sprintf("concordance: no pair to compare among %d rows in %d blocks", e.Rows, e.Blocks)
}

// TooFewError reports that there are not enough of something.
type TooFewError struct {
	What      string
	Got, Need int
}

func (e *TooFewError) Error() string {
	return fmt.Sprintf("concordance: %d %s, need at least %d", e.Got, e.What, e.Need)
}

// NoVariationError reports that no interval or null distribution can be
// formed because every resample or permutation gives the same value.
type NoVariationError struct {
	What string
}

func (e *NoVariationError) Error() string {
	return fmt.Sprintf("concordance: %s", e.What)
}

// RangeError reports an argument outside its permitted range.
type RangeError struct {
	What  string
	Value float64
	Want  string
}

func (e *RangeError) Error() string {
	return fmt.Sprintf("concordance: %s is %v, want %s", e.What, e.Value, e.Want)
}
