package linear

import "math"

// eigen holds the eigenvalues, ascending, and eigenvectors (n x n by row, one
// a column) of a symmetric matrix. Its memory is reused from one to the next.
type eigen struct {
	n       int
	values  []float64
	vectors []float64
	a       []float64
}

// jacobiSweeps bounds the iteration, which converges quadratically and needs
// fewer than ten sweeps.
const jacobiSweeps = 60

// of decomposes the matrix whose upper triangle is in s (n x n by row) by
// Jacobi's rotations (Golub and Van Loan 2013, section 8.5). For matrices as
// small as here it takes about as long as tridiagonal methods, and cannot fail.
func (e *eigen) of(s []float64, n int) {
	e.n = n
	e.values = zeros(e.values, n)
	e.vectors = zeros(e.vectors, n*n)
	e.a = zeros(e.a, n*n)
	a, v := e.a, e.vectors // v holds eigenvectors as rows until the end
	for i := range n {
		v[i*n+i] = 1
		for j := i; j < n; j++ {
			a[i*n+j], a[j*n+i] = s[i*n+j], s[i*n+j]
		}
	}
	for range jacobiSweeps {
		rotated := false
		for p := range n {
			for q := p + 1; q < n; q++ {
				apq := a[p*n+q]
				if math.Abs(apq) <= 0x1p-55*(math.Abs(a[p*n+p])+math.Abs(a[q*n+q])) {
					continue
				}
				rotated = true
				theta := (a[q*n+q] - a[p*n+p]) / (2 * apq)
				t := math.Copysign(1/(math.Abs(theta)+math.Sqrt(theta*theta+1)), theta)
				c := 1 / math.Sqrt(1+t*t)
				rotate(a[p*n:(p+1)*n], a[q*n:(q+1)*n], c, t*c)
				for i := range n {
					x, y := a[i*n+p], a[i*n+q]
					a[i*n+p], a[i*n+q] = c*x-t*c*y, t*c*x+c*y
				}
				a[p*n+q], a[q*n+p] = 0, 0
				rotate(v[p*n:(p+1)*n], v[q*n:(q+1)*n], c, t*c)
			}
		}
		if !rotated {
			break
		}
	}
	for i := range n {
		e.values[i] = a[i*n+i]
	}
	e.sort()
}

func rotate(x, y []float64, c, s float64) {
	for i, xi := range x {
		yi := y[i]
		x[i], y[i] = c*xi-s*yi, s*xi+c*yi
	}
}

// sort puts the eigenvalues in ascending order and turns the vectors, one a
// row, into columns.
func (e *eigen) sort() {
	n, v := e.n, e.vectors
	for i := range n {
		low := i
		for j := i + 1; j < n; j++ {
			if e.values[j] < e.values[low] {
				low = j
			}
		}
		if low != i {
			e.values[i], e.values[low] = e.values[low], e.values[i]
			x, y := v[i*n:(i+1)*n], v[low*n:(low+1)*n]
			for k := range x {
				x[k], y[k] = y[k], x[k]
			}
		}
	}
	for i := range n {
		for j := i + 1; j < n; j++ {
			v[i*n+j], v[j*n+i] = v[j*n+i], v[i*n+j]
		}
	}
}

// to sets dst = V' x, with x padded by zeros to n values.
func (e *eigen) to(dst, x []float64) {
	clear(dst)
	for a, xa := range x {
		for i, v := range e.vectors[a*e.n : (a+1)*e.n] {
			dst[i] += v * xa
		}
	}
}

// from sets dst = V x.
func (e *eigen) from(dst, x []float64) {
	for a := range dst {
		var sum float64
		for i, v := range e.vectors[a*e.n : (a+1)*e.n] {
			sum += v * x[i]
		}
		dst[a] = sum
	}
}
