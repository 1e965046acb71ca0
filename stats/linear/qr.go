package linear

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// rankTolerance is the share of a column's length that must be left after the
// columns before it are projected out; a column with less is dropped as
// depending on them. Columns that are dependent by construction leave about
// 1e-15. The hardest published test, the tenth-degree polynomial of NIST's
// Filip set, leaves 5e-8 and must be kept. (R's lm stops at 1e-7.)
const rankTolerance = 1e-10

// roundingFloor is the share of a column's length before centring that is
// taken for rounding error when it is left after centring and projection.
const roundingFloor = 1e-14

// factorisation is the thin QR factorisation of the columns that were kept:
// q (n x k by column, orthonormal) times r (k x k by row, upper triangular).
type factorisation struct {
	n, k int
	q, r []float64
	kept []int // the columns of the input that q and r stand for
}

func (f *factorisation) column(j int) []float64 { return f.q[j*f.n : (j+1)*f.n] }

// orthogonalise factorises the columns from left to right by modified
// Gram-Schmidt, each projected twice. raw holds the columns' lengths before
// centring. A column with too little left is dropped, so of a dependent set the
// last is lost.
func orthogonalise(columns [][]float64, raw []float64, n int) *factorisation {
	p := len(columns)
	f := &factorisation{
		n:    n,
		q:    make([]float64, n*p),
		r:    make([]float64, p*p),
		kept: make([]int, 0, p),
	}
	projection := make([]float64, p)
	// r is filled with stride p and compacted when the rank is known.
	for j, column := range columns {
		k := f.k
		v := f.q[k*n : (k+1)*n]
		copy(v, column)
		before := math.Sqrt(floats.Dot(v, v))
		clear(projection)
		for range 2 {
			for l := range k {
				ql := f.column(l)
				s := floats.Dot(ql, v)
				floats.AddScaled(v, -s, ql)
				projection[l] += s
			}
		}
		left := math.Sqrt(floats.Dot(v, v))
		if left <= math.Max(rankTolerance*before, roundingFloor*raw[j]) {
			continue
		}
		floats.Scale(1/left, v)
		for l := range k {
			f.r[l*p+k] = projection[l]
		}
		f.r[k*p+k] = left
		f.kept = append(f.kept, j)
		f.k++
		if f.k == n {
			break
		}
	}
	k := f.k
	for l := range k {
		copy(f.r[l*k:(l+1)*k], f.r[l*p:l*p+k])
	}
	f.q, f.r = f.q[:n*k:n*k], f.r[:k*k:k*k]
	return f
}

// solveUpper solves R x = x in place.
func (f *factorisation) solveUpper(x []float64) {
	for i := f.k - 1; i >= 0; i-- {
		row := f.r[i*f.k : (i+1)*f.k]
		s := x[i]
		for l := i + 1; l < f.k; l++ {
			s -= row[l] * x[l]
		}
		x[i] = s / row[i]
	}
}

// solveUpperTransposed solves R' x = x in place.
func (f *factorisation) solveUpperTransposed(x []float64) {
	for i := range f.k {
		row := f.r[i*f.k : (i+1)*f.k]
		x[i] /= row[i]
		for l := i + 1; l < f.k; l++ {
			x[l] -= row[l] * x[i]
		}
	}
}

// inverse gives R^-1, k x k by row, upper triangular.
func (f *factorisation) inverse() []float64 {
	k := f.k
	inv := make([]float64, k*k)
	e := make([]float64, k)
	for j := range k {
		clear(e)
		e[j] = 1
		f.solveUpper(e)
		for i := 0; i <= j; i++ {
			inv[i*k+j] = e[i]
		}
	}
	return inv
}
