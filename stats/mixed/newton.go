package mixed

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// smooth is a function with gradient and Hessian (n x n); ok is false where
// it does not exist.
type smooth func(x []float64) (value float64, gradient, hessian []float64, ok bool)

// minimum is where newton stopped.
type minimum struct {
	x         []float64
	value     float64
	hessian   []float64
	decrement float64 // g' H^-1 g: twice what a further step would gain
	curvature float64 // smallest eigenvalue of the Hessian scaled to unit diagonal
	steps     int
	ok        bool
}

const (
	maxSteps = 300
	// A decrement below settled is rounding: the criterion could fall by half
	// of it.
	settled = 1e-9
	// stepLimit is the longest step, beside the length of x itself, in internal
	// units where a relative standard deviation of 1 is common.
	stepLimit = 4.0
)

// newton minimises f from x. Directions of negative curvature are turned into
// descent (|eigenvalues|; Nocedal and Wright 2006, section 3.4), steps halved
// until the value falls. After the decrement has settled, it goes on until it
// no longer shrinks, so that x is good to rounding.
func newton(f smooth, start []float64) minimum {
	n := len(start)
	m := minimum{x: append([]float64(nil), start...)}
	value, g, h, ok := f(m.x)
	if !ok {
		return m
	}
	m.value, m.hessian, m.ok = value, h, true
	if n == 0 {
		m.curvature = 1
		return m
	}
	last := math.Inf(1)
	for {
		step, decrement := direction(g, h, n)
		m.decrement, m.hessian = decrement, h
		if decrement == 0 || m.steps >= maxSteps || decrement < settled && decrement >= last/4 {
			break
		}
		last = math.Inf(1)
		if decrement < settled {
			last = decrement
		}
		length := math.Sqrt(dot(step, step))
		t := math.Min(1, (stepLimit+math.Sqrt(dot(m.x, m.x)))/length)
		slope := dot(g, step)
		noise := 1e-14 * (math.Abs(m.value) + 1)
		moved := false
		for range 40 {
			x := make([]float64, n)
			for i := range x {
				x[i] = m.x[i] + t*step[i]
			}
			value, g2, h2, ok := f(x)
			if ok && value <= m.value+1e-4*t*slope+noise {
				m.x, m.value, g, h = x, value, g2, h2
				moved = true
				break
			}
			t /= 2
		}
		m.steps++
		if !moved {
			break
		}
	}
	m.curvature = smallestCurvature(m.hessian, n)
	return m
}

// direction gives -|H|^-1 g and g' |H|^-1 g.
func direction(g, h []float64, n int) (step []float64, decrement float64) {
	var e mat.EigenSym
	step = make([]float64, n)
	if !e.Factorize(mat.NewSymDense(n, h), true) {
		return step, 0
	}
	var v mat.Dense
	e.VectorsTo(&v)
	values := e.Values(nil)
	var largest float64
	for _, l := range values {
		largest = math.Max(largest, math.Abs(l))
	}
	for k, l := range values {
		var gk float64
		for i := range n {
			gk += v.At(i, k) * g[i]
		}
		l = math.Max(math.Abs(l), 1e-12*largest)
		if l == 0 {
			continue
		}
		decrement += gk * gk / l
		for i := range n {
			step[i] -= gk / l * v.At(i, k)
		}
	}
	return step, decrement
}

// smallestCurvature gives the smallest eigenvalue of h scaled to unit diagonal,
// or a number not above zero when a diagonal entry is not positive.
func smallestCurvature(h []float64, n int) float64 {
	scaled := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			d := math.Sqrt(h[i*n+i]) * math.Sqrt(h[j*n+j])
			if !(d > 0) {
				return math.Min(0, math.Min(h[i*n+i], h[j*n+j]))
			}
			scaled.SetSym(i, j, h[i*n+j]/d)
		}
	}
	var e mat.EigenSym
	if !e.Factorize(scaled, false) {
		return 0
	}
	return e.Values(nil)[0]
}
