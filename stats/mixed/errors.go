package mixed

import (
	"errors"
	"fmt"
	"strings"
)

// The kinds of failure, to be told apart with errors.Is. The errors returned
// wrap one of them and add the column, unit or count concerned.
var (
	// ErrLayout: the layout names no column, one twice, or asks for no random effect.
	ErrLayout = errors.New("layout cannot be fitted")
	// ErrShape: lengths of the inputs, or two layouts, do not agree.
	ErrShape = errors.New("shapes do not agree")
	// ErrNotFinite: an input is NaN or infinite (a *NotFiniteError), or so large
	// that a cross-product leaves the range of a float64.
	ErrNotFinite = errors.New("value is not finite")
	// ErrTooFewRows: no residual degrees of freedom are left.
	ErrTooFewRows = errors.New("too few rows")
	// ErrOneUnit: variances between units need two units or more.
	ErrOneUnit = errors.New("fewer than two units")
	// ErrNoVariance: the response does not vary, or nothing of it is left over
	// when fixed and random effects are taken out.
	ErrNoVariance = errors.New("no variance")
	// ErrRank: fixed columns depend linearly on others (a *RankError).
	ErrRank = errors.New("fixed effects are linearly dependent")
	// ErrNotIdentified: the rows cannot tell a variance component from the
	// others (a *NotIdentifiedError).
	ErrNotIdentified = errors.New("variance components cannot be told apart")
	// ErrNotVerified: no point was found that passes the tests of a minimum (a
	// *NotVerifiedError).
	ErrNotVerified = errors.New("optimum could not be verified")
	// ErrArgument: an argument lies outside its range.
	ErrArgument = errors.New("argument out of range")
	// ErrTerm: a term or unit is unknown to the model.
	ErrTerm = errors.New("not in the model")
	// ErrMethod: the question needs a fit by the other method, REML or ML.
	ErrMethod = errors.New("method does not fit the question")
	// ErrNotNested: one model is not a special case of the other.
	ErrNotNested = errors.New("models are not nested")
)

// NotFiniteError says where a NaN or an infinity stands in the input.
type NotFiniteError struct {
	Row    int     // rows given before it, in this call
	Column string  // a column's name, or "response"
	Value  float64 // NaN, +Inf or -Inf
}

func (e *NotFiniteError) Error() string {
	return fmt.Sprintf("mixed: %v: %s row %d is %v", ErrNotFinite, e.Column, e.Row, e.Value)
}

// Unwrap makes errors.Is(err, ErrNotFinite) true.
func (e *NotFiniteError) Unwrap() error { return ErrNotFinite }

// RankError names the fixed columns to leave out: each is a linear combination
// of columns named before it (and of a constant column, wherever it stands).
type RankError struct {
	Columns []string
}

func (e *RankError) Error() string {
	return fmt.Sprintf("mixed: %v: leave out %s", ErrRank, quoted(e.Columns))
}

// Unwrap makes errors.Is(err, ErrRank) true.
func (e *RankError) Unwrap() error { return ErrRank }

// NotIdentifiedError names a variance component about which the rows say
// nothing that the components before it do not say already.
type NotIdentifiedError struct {
	Component string
}

func (e *NotIdentifiedError) Error() string {
	return fmt.Sprintf("mixed: %v: the rows hold no separate information on the %s", ErrNotIdentified, e.Component)
}

// Unwrap makes errors.Is(err, ErrNotIdentified) true.
func (e *NotIdentifiedError) Unwrap() error { return ErrNotIdentified }

// NotVerifiedError tells how far the search came.
type NotVerifiedError struct {
	Evaluations int
	Check       Check
}

func (e *NotVerifiedError) Error() string {
	return fmt.Sprintf("mixed: %v after %d evaluations (decrement %.3g, smallest curvature %.3g)",
		ErrNotVerified, e.Evaluations, e.Check.Decrement, e.Check.SmallestCurvature)
}

// Unwrap makes errors.Is(err, ErrNotVerified) true.
func (e *NotVerifiedError) Unwrap() error { return ErrNotVerified }

func quoted(names []string) string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = fmt.Sprintf("%q", n)
	}
	return strings.Join(out, ", ")
}
