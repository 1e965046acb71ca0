package association

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"lengthwise/stats/linear"
)

// PartialResult is a correlation given other columns.
type PartialResult struct {
	Significance
	// Semipartial is the correlation of y as it is with what is left of x: its
	// square is the share of y's variance that x adds to the controls.
	Semipartial float64
	Rows        int
	Controls    int // columns that counted
	// Dropped names controls that depend on those before them, by position.
	Dropped []int
}

// Partial returns the correlation of x and y when both are freed, by least
// squares, of a constant and of k controls (Yule 1907, Proc. R. Soc. A 79:182),
// tested on n - 2 - k degrees of freedom. The interval is [FisherInterval] with
// n - k for the number of rows (Fisher 1924, Metron 3:329); for 20 rows it covers
// 0.953 (TestIntervalsCover). Columns have n rows and are not changed; controls
// may be none.
//
// It fails with a *[LengthError], *[NotFiniteError], *[TooFewError] when no
// degree of freedom is left, *[NoVariationError] when x or y does not vary given
// the controls, *[PerfectError], or *[RangeError] for a level outside (0, 1).
func Partial(x, y []float64, controls [][]float64, level float64) (PartialResult, error) {
	if err := checkColumns(x, y); err != nil {
		return PartialResult{}, err
	}
	n := len(x)
	p := linear.Problem{Response: y, Terms: []string{"constant"}, Columns: [][]float64{ones(n)}}
	for i, c := range controls {
		if len(c) != n {
			return PartialResult{}, &LengthError{What: fmt.Sprintf("control %d", i), Got: len(c), Want: n}
		}
		for row, v := range c {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return PartialResult{}, &NotFiniteError{What: fmt.Sprintf("control %d", i), Index: row, Value: v}
			}
		}
		p.Terms, p.Columns = append(p.Terms, fmt.Sprintf("control %d", i)), append(p.Columns, c)
	}
	p.Terms, p.Columns = append(p.Terms, "x"), append(p.Columns, x)
	m, err := linear.Fit(p)
	if err != nil {
		return PartialResult{}, partialError(err, n)
	}
	r, df, err := m.PartialCorrelation("x")
	switch {
	case errors.Is(err, linear.ErrTerm):
		return PartialResult{}, &NoVariationError{What: "x given the controls"}
	case errors.Is(err, linear.ErrNoVariance):
		// An exact fit: y is a combination of the others, with x or without it.
		p.Terms, p.Columns = p.Terms[:len(p.Terms)-1], p.Columns[:len(p.Columns)-1]
		if bare, err := linear.Fit(p); err != nil || bare.Exact {
			return PartialResult{}, &NoVariationError{What: "y given the controls"}
		}
		at := m.Estimates[len(m.Estimates)-1]
		return PartialResult{}, &PerfectError{R: math.Copysign(1, at)}
	case err != nil:
		return PartialResult{}, fmt.Errorf("association: %w", err)
	}
	out := PartialResult{Rows: n, Controls: m.Rank - 2}
	for i := range controls {
		for _, name := range m.Dropped {
			if name == fmt.Sprintf("control %d", i) {
				out.Dropped = append(out.Dropped, i)
			}
		}
	}
	if out.Significance, err = significance(r, float64(df+2), float64(df), level); err != nil {
		return PartialResult{}, err
	}
	// With x the unexplained share is (1 - R2), without it (1 - R2)/(1 - r^2).
	out.Semipartial = r * math.Sqrt((1-m.RSquared)/((1-r)*(1+r)))
	return out, nil
}

func partialError(err error, rows int) error {
	switch {
	case errors.Is(err, linear.ErrTooFewRows):
		return &TooFewError{What: "rows for so many controls", Got: rows, Need: rows + 1}
	case errors.Is(err, linear.ErrNoVariance):
		return &NoVariationError{What: "y"}
	}
	return fmt.Errorf("association: %w", err)
}

func ones(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = 1
	}
	return v
}

// PartialMatrix returns the correlation of each pair of columns given all the
// others: -p_ij / sqrt(p_ii p_jj), p the inverse of the correlation matrix. It
// fails with a *[TooFewError] for fewer than two columns or no more rows than
// columns, and with the errors of [Pearson]; and with a *[NoVariationError] if a
// column is a combination of the others.
func PartialMatrix(columns [][]float64) (*mat.SymDense, error) {
	k := len(columns)
	if k < 2 {
		return nil, &TooFewError{What: "columns", Got: k, Need: 2}
	}
	if n := len(columns[0]); n < k+1 {
		return nil, &TooFewError{What: "rows", Got: n, Need: k + 1}
	}
	c := mat.NewSymDense(k, nil)
	for i := range k {
		c.SetSym(i, i, 1)
		for j := range i {
			r, err := Pearson(columns[i], columns[j])
			if err != nil {
				return nil, fmt.Errorf("columns %d (x) and %d (y): %w", i, j, err)
			}
			c.SetSym(i, j, r)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(c) || chol.Cond() > 1e12 {
		return nil, &NoVariationError{What: "a column given the others"}
	}
	var p mat.SymDense
	if err := chol.InverseTo(&p); err != nil {
		return nil, &NoVariationError{What: "a column given the others"}
	}
	out := mat.NewSymDense(k, nil)
	for i := range k {
		out.SetSym(i, i, 1)
		for j := range i {
			out.SetSym(i, j, -p.At(i, j)/math.Sqrt(p.At(i, i)*p.At(j, j)))
		}
	}
	return out, nil
}
