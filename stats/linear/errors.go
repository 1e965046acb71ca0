package linear

import (
	"errors"
	"fmt"
)

// The kinds of failure, to be told apart with errors.Is. The errors returned
// wrap one of them and add the term, row or count concerned.
var (
	// ErrShape: lengths of the inputs do not agree.
	ErrShape = errors.New("lengths do not agree")
	// ErrNotFinite: an input is NaN or infinite (a *NotFiniteError), or units
	// are such that a result would leave the range of a float64.
	ErrNotFinite = errors.New("value is not finite")
	// ErrWeight: a weight is zero or negative, or weights lie too far apart.
	ErrWeight = errors.New("weight out of range")
	// ErrName: a column has no name, or two have one.
	ErrName = errors.New("terms need names of their own")
	// ErrTerm: a term is unknown to the model or was dropped.
	ErrTerm = errors.New("term not in the model")
	// ErrTooFewRows: no residual degrees of freedom are left.
	ErrTooFewRows = errors.New("too few rows")
	// ErrNoTerms: there is no column, or none is left after dropping.
	ErrNoTerms = errors.New("no term can be estimated")
	// ErrNoVariance: the response, or a column asked about, does not vary.
	ErrNoVariance = errors.New("no variance")
	// ErrNoClusters: clustered errors were asked for but Problem.Cluster was nil.
	ErrNoClusters = errors.New("no clusters were given")
	// ErrOneCluster: clustered errors need two clusters or more.
	ErrOneCluster = errors.New("fewer than two clusters")
	// ErrLeverage: a row decides a coefficient alone, so HC2 to HC5 do not exist.
	ErrLeverage = errors.New("row has leverage one")
	// ErrNoInformation: the covariance estimator says nothing about this
	// coefficient (no contrast between clusters bears on it).
	ErrNoInformation = errors.New("standard error cannot be estimated")
	// ErrNotConverged: an iteration did not settle.
	ErrNotConverged = errors.New("did not converge")
	// ErrArgument: an argument lies outside its range.
	ErrArgument = errors.New("argument out of range")
)

// NotFiniteError says where a NaN or an infinity stands in the input.
type NotFiniteError struct {
	Row    int     // from 0
	Column string  // a term's name, "response" or "weights"
	Value  float64 // NaN, +Inf or -Inf
}

func (e *NotFiniteError) Error() string {
	return fmt.Sprintf("linear: %v: %s row %d is %v", ErrNotFinite, e.Column, e.Row, e.Value)
}

// Unwrap makes errors.Is(err, ErrNotFinite) true.
func (e *NotFiniteError) Unwrap() error { return ErrNotFinite }
