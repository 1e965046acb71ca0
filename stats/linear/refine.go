package linear

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// refinementSteps bounds the refinement. One step serves ordinary problems;
// NIST's Filip set takes two.
const refinementSteps = 5

// solve gives the least-squares solution x of the kept columns for b, and the
// residual b - A x.
//
// The first solution is refined on the augmented system
//
//	[ I  A ] [ r ]   [ b ]
//	[ A' 0 ] [ x ] = [ 0 ]
//
// (Björck 1967, BIT 7:257-278) with its residuals summed to twice the working
// precision, until the solution no longer moves.
func (f *factorisation) solve(columns [][]float64, b []float64) (x, residual []float64) {
	n, k := f.n, f.k
	x = make([]float64, k)
	residual = make([]float64, n)
	scratch := make([]float64, 2*n+3*k)
	top, low := scratch[:n], scratch[n:2*n]
	h, d, dx := scratch[2*n:2*n+k], scratch[2*n+k:2*n+2*k], scratch[2*n+2*k:]

	copy(residual, b)
	for l := range k {
		x[l] = floats.Dot(f.column(l), residual)
		floats.AddScaled(residual, -x[l], f.column(l))
	}
	f.solveUpper(x)

	previous := math.Inf(1)
	for range refinementSteps {
		// top = b - r - A x, h = R^-T (-A' r)
		clear(low)
		for i := range top {
			top[i], low[i] = twoSum(b[i], -residual[i])
		}
		for l := range k {
			subtractScaled(top, low, x[l], columns[f.kept[l]])
			h[l] = -dotTwice(columns[f.kept[l]], residual)
		}
		for i := range top {
			top[i] += low[i]
		}
		f.solveUpperTransposed(h)
		for l := range k {
			d[l] = floats.Dot(f.column(l), top) - h[l]
		}
		copy(dx, d)
		f.solveUpper(dx)
		// Compare in lengths of fitted vectors, so that units play no part.
		var move, size float64
		for l := range k {
			length := math.Abs(f.r[l*k+l])
			move = math.Max(move, math.Abs(dx[l])*length)
			size = math.Max(size, math.Abs(x[l])*length)
		}
		if !(move < previous) {
			break
		}
		previous = move / 2
		floats.Add(x, dx)
		for l := range k {
			floats.AddScaled(top, -d[l], f.column(l))
		}
		floats.Add(residual, top)
		if move <= 0x1p-52*size {
			break
		}
	}
	return x, residual
}

// twoSum gives a + b as a rounded sum and its exact error (Knuth 1969).
func twoSum(a, b float64) (sum, err float64) {
	sum = a + b
	bb := sum - a
	return sum, (a - (sum - bb)) + (b - bb)
}

// subtractScaled takes s*v from the unevaluated sums top + low.
func subtractScaled(top, low []float64, s float64, v []float64) {
	for i, vi := range v {
		p := float64(s * vi)
		e := math.FMA(s, vi, -p)
		var t float64
		top[i], t = twoSum(top[i], -p)
		low[i] += t - e
	}
}

// dotTwice is the inner product as if summed in twice the working precision
// (Ogita, Rump and Oishi 2005, algorithm 5.3).
func dotTwice(a, b []float64) float64 {
	var sum, low float64
	for i, ai := range a {
		p := float64(ai * b[i])
		e := math.FMA(ai, b[i], -p)
		var t float64
		sum, t = twoSum(sum, p)
		low += t + e
	}
	return sum + low
}
