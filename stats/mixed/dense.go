package mixed

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Small dense matrices are slices by row; the functions here are those the
// inner loop needs without allocation.

// cholesky overwrites the lower triangle of the n x n matrix a by L, a = L L',
// reading the lower triangle only. It reports false when a is not positive
// definite.
func cholesky(a []float64, n int) bool {
	for j := range n {
		row := a[j*n : j*n+j+1]
		d := row[j]
		for _, v := range row[:j] {
			d -= v * v
		}
		if !(d > 0) || math.IsInf(d, 0) {
			return false
		}
		d = math.Sqrt(d)
		row[j] = d
		for i := j + 1; i < n; i++ {
			other := a[i*n : i*n+j+1]
			v := other[j]
			for k, r := range row[:j] {
				v -= r * other[k]
			}
			other[j] = v / d
		}
	}
	return true
}

// semidefinite overwrites the lower triangle of the positive semi-definite a by
// L with a = L L', with a column of zeros for each pivot that is not above
// tolerance times its diagonal entry. It returns the number of other pivots.
func semidefinite(a []float64, n int, tolerance float64) (rank int) {
	for j := range n {
		row := a[j*n : j*n+j+1]
		d := row[j]
		for _, v := range row[:j] {
			d -= v * v
		}
		zero := !(d > tolerance*row[j]) || row[j] <= 0
		if zero {
			d = 0
		} else {
			rank++
			d = math.Sqrt(d)
		}
		row[j] = d
		for i := j + 1; i < n; i++ {
			other := a[i*n : i*n+j+1]
			if zero {
				other[j] = 0
				continue
			}
			v := other[j]
			for k, r := range row[:j] {
				v -= r * other[k]
			}
			other[j] = v / d
		}
	}
	return rank
}

// invertCholesky gives (L L')^-1, full, from the lower triangle l.
func invertCholesky(l []float64, n int) []float64 {
	inv := make([]float64, n*n) // L^-1, lower
	for j := range n {
		inv[j*n+j] = 1 / l[j*n+j]
		for i := j + 1; i < n; i++ {
			var v float64
			for k := j; k < i; k++ {
				v -= l[i*n+k] * inv[k*n+j]
			}
			inv[i*n+j] = v / l[i*n+i]
		}
	}
	out := make([]float64, n*n)
	for i := range n {
		for j := i; j < n; j++ {
			var v float64
			for k := j; k < n; k++ {
				v += inv[k*n+i] * inv[k*n+j]
			}
			out[i*n+j], out[j*n+i] = v, v
		}
	}
	return out
}

// multiply gives a b for a of r x k and b of k x c.
func multiply(a, b []float64, r, k, c int) []float64 {
	out := make([]float64, r*c)
	for i := range r {
		for l := range k {
			v := a[i*k+l]
			if v == 0 {
				continue
			}
			for j := range c {
				out[i*c+j] += v * b[l*c+j]
			}
		}
	}
	return out
}

// transpose gives a' for a of r x c.
func transpose(a []float64, r, c int) []float64 {
	out := make([]float64, len(a))
	for i := range r {
		for j := range c {
			out[j*r+i] = a[i*c+j]
		}
	}
	return out
}

// congruence gives b a b' for a of n x n and b of r x n.
func congruence(b, a []float64, r, n int) []float64 {
	return multiply(multiply(b, a, r, n, n), transpose(b, r, n), r, n, r)
}

// quadratic gives x' a y for a of n x n.
func quadratic(x, a, y []float64) float64 {
	var sum float64
	n := len(y)
	for i, xi := range x {
		if xi != 0 {
			sum += xi * dot(a[i*n:(i+1)*n], y)
		}
	}
	return sum
}

func dot(a, b []float64) float64 {
	var sum float64
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

func identity(n int) []float64 {
	out := make([]float64, n*n)
	for i := range n {
		out[i*n+i] = 1
	}
	return out
}

// invert gives the inverse of a general small matrix by Gauss-Jordan
// with partial pivoting; ok is false when it is singular.
func invert(a []float64, n int) (out []float64, ok bool) {
	w := append([]float64(nil), a...)
	out = identity(n)
	for c := range n {
		pivot := c
		for r := c + 1; r < n; r++ {
			if math.Abs(w[r*n+c]) > math.Abs(w[pivot*n+c]) {
				pivot = r
			}
		}
		if w[pivot*n+c] == 0 {
			return nil, false
		}
		for k := range n {
			w[c*n+k], w[pivot*n+k] = w[pivot*n+k], w[c*n+k]
			out[c*n+k], out[pivot*n+k] = out[pivot*n+k], out[c*n+k]
		}
		d := w[c*n+c]
		for k := range n {
			w[c*n+k] /= d
			out[c*n+k] /= d
		}
		for r := range n {
			f := w[r*n+c]
			if r == c || f == 0 {
				continue
			}
			for k := range n {
				w[r*n+k] -= f * w[c*n+k]
				out[r*n+k] -= f * out[c*n+k]
			}
		}
	}
	return out, true
}

// triangular gives the Cholesky factor L of f f' for f of n x n and known rank,
// by orthogonalising the rows of f (without squaring, so small pivots keep their
// digits); columns of L past the rank are exactly zero.
func triangular(f []float64, n, rank int) []float64 {
	l := make([]float64, n*n)
	basis := make([][]float64, n)
	found := 0
	for i := range n {
		rest := append([]float64(nil), f[i*n:(i+1)*n]...)
		size := math.Sqrt(dot(rest, rest))
		for range 2 { // twice is enough (Giraud et al. 2005)
			for j, b := range basis[:i] {
				if b == nil {
					continue
				}
				v := dot(rest, b)
				l[i*n+j] += v
				for k := range rest {
					rest[k] -= v * b[k]
				}
			}
		}
		d := math.Sqrt(dot(rest, rest))
		if found == rank || !(d > 1e-12*size) {
			continue
		}
		found++
		l[i*n+i] = d
		for k := range rest {
			rest[k] /= d
		}
		basis[i] = rest
	}
	return l
}

// eigenSymmetric gives eigenvalues, ascending, and eigenvectors by column.
func eigenSymmetric(a []float64, n int) (values, vectors []float64) {
	var e mat.EigenSym
	if !e.Factorize(mat.NewSymDense(n, a), true) {
		// LAPACK's QR iteration does not fail on finite input.
		return make([]float64, n), identity(n)
	}
	var v mat.Dense
	e.VectorsTo(&v)
	return e.Values(nil), v.RawMatrix().Data
}

// recompose gives V diag(values) V'.
func recompose(values, vectors []float64, n int) []float64 {
	out := make([]float64, n*n)
	for k, v := range values {
		if v == 0 {
			continue
		}
		for i := range n {
			for j := range n {
				out[i*n+j] += v * vectors[i*n+k] * vectors[j*n+k]
			}
		}
	}
	return out
}
