package pooled

import "fmt"

// LengthError reports that estimates and variances differ in number.
type LengthError struct {
	Estimates, Variances int
}

func (e *LengthError) Error() string {
	return fmt.Sprintf("pooled: %d estimates with %d variances", e.Estimates, e.Variances)
}

// TooFewError reports too few estimates or clusters: fewer than two, or no more
// than coefficients.
type TooFewError struct {
	K            int
	Coefficients int    // 0 for a mean
	What         string // what was counted, "" for estimates
}

func (e *TooFewError) Error() string {
	what := e.What
	if what == "" {
		what = "estimates"
	}
	return fmt.Sprintf("pooled: %d %s, need at least %d", e.K, what, max(1, e.Coefficients)+1)
}

// TermError reports a column, or labels of clusters, that cannot be used.
type TermError struct {
	Term string // its name, "" for the columns as a whole
	Why  string
}

func (e *TermError) Error() string {
	if e.Term == "" {
		return "pooled: " + e.Why
	}
	return fmt.Sprintf("pooled: column %q %s", e.Term, e.Why)
}

// ValueError reports an estimate that is not finite or a variance that is
// not a finite number above zero.
type ValueError struct {
	What  string // "estimate" or "variance"
	Index int
	Value float64
}

func (e *ValueError) Error() string {
	if e.What == "variance" {
		return fmt.Sprintf("pooled: variance %d is %v, want a finite number above zero", e.Index, e.Value)
	}
	return fmt.Sprintf("pooled: %s %d is %v, want a finite number", e.What, e.Index, e.Value)
}

// NoSpreadError reports that all estimates are equal, which leaves the
// standard error of HartungKnapp and of BiasReduced at zero. Use ModifiedHartungKnapp or Normal.
type NoSpreadError struct {
	K int
}

func (e *NoSpreadError) Error() string {
	return fmt.Sprintf("pooled: all %d estimates are equal, their standard error would be zero", e.K)
}

// OptionError reports an option outside its range.
type OptionError struct {
	What  string
	Value float64
}

func (e *OptionError) Error() string {
	return fmt.Sprintf("pooled: %s %v is not one of the permitted values", e.What, e.Value)
}

// NumericalError reports that the numbers are too large, too small or too
// different in size for double precision.
type NumericalError struct {
	What string // the quantity that could not be computed
}

func (e *NumericalError) Error() string {
	return fmt.Sprintf("pooled: %s is not finite, the estimates or variances are out of range for double precision", e.What)
}
