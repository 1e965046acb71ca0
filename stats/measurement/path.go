package measurement

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// path gathers the estimates of all lambdas and replicates. Sums run over
// deviations from the naive estimates, so that nothing is lost to their size.
type path struct {
	k       int
	naive   Estimates
	lambdas []float64       // with 0
	values  [][][]float64   // by lambda (without 0), by replicate
	spread  []*mat.SymDense // sums of the estimator's covariance, by lambda; nil when it gives none
}

func newPath(k int, o Options, naive Estimates) *path {
	p := &path{k: k, naive: naive, lambdas: append([]float64{0}, o.Lambdas...)}
	p.values = make([][][]float64, len(o.Lambdas))
	for l := range p.values {
		p.values[l] = make([][]float64, o.Replicates)
	}
	if naive.Covariance != nil {
		p.spread = make([]*mat.SymDense, len(o.Lambdas))
		for l := range p.spread {
			p.spread[l] = mat.NewSymDense(k, nil)
		}
	}
	return p
}

func (p *path) add(l, replicate int, e Estimates) {
	d := make([]float64, p.k)
	for j, v := range e.Values {
		d[j] = v - p.naive.Values[j]
	}
	p.values[l][replicate] = d
	switch {
	case e.Covariance == nil:
		p.spread = nil
	case p.spread != nil:
		p.spread[l].AddSym(p.spread[l], e.Covariance)
	}
}

// mean is the mean deviation of estimate j over replicates from to (excluded), by
// lambda from 0.
func (p *path) mean(j, from, to int) []float64 {
	out := make([]float64, len(p.lambdas))
	for l := range p.values {
		for _, d := range p.values[l][from:to] {
			out[l+1] += d[j] / float64(to-from)
		}
	}
	return out
}

func (p *path) result(o Options) (Result, error) {
	r := Result{
		Naive: slices.Clone(p.naive.Values), Lambdas: p.lambdas, Path: make([][]float64, len(p.lambdas)),
		Corrected: make([]float64, p.k), MonteCarloError: make([]float64, p.k),
	}
	for l := range r.Path {
		r.Path[l] = make([]float64, p.k)
	}
	for j := range p.k {
		means := p.mean(j, 0, o.Replicates)
		for l, m := range means {
			r.Path[l][j] = p.naive.Values[j] + m
		}
		r.Corrected[j] = p.naive.Values[j] + extrapolate(o.Extrapolant, p.lambdas, means)
		var sum, squares float64
		for b := range batches {
			v := extrapolate(o.Extrapolant, p.lambdas, p.mean(j, b*o.Replicates/batches, (b+1)*o.Replicates/batches))
			sum += v / batches
			squares += v * v / batches
		}
		r.MonteCarloError[j] = math.Sqrt(max(0, squares-sum*sum) / (batches - 1))
	}
	if p.spread != nil {
		r.Covariance = p.covariance(o)
		if r.Covariance == nil {
			r.Warnings = append(r.Warnings, "the jackknife gives no covariance for this much error: resample instead")
		}
	}
	return r, nil
}

// covariance is the jackknife covariance, nil when it is not one.
func (p *path) covariance(o Options) *mat.SymDense {
	n := float64(o.Replicates)
	means := make([][]float64, p.k)
	for j := range means {
		means[j] = p.mean(j, 0, o.Replicates)
	}
	v := mat.NewSymDense(p.k, nil)
	for i := range p.k {
		for j := i; j < p.k; j++ {
			along := make([]float64, len(p.lambdas))
			along[0] = p.naive.Covariance.At(i, j)
			for l := range p.values {
				var between float64
				for _, d := range p.values[l] {
					between += (d[i] - means[i][l+1]) * (d[j] - means[j][l+1])
				}
				along[l+1] = p.spread[l].At(i, j)/n - between/(n-1)
			}
			v.SetSym(i, j, extrapolate(Quadratic, p.lambdas, along))
		}
	}
	scaled := mat.NewSymDense(p.k, nil)
	for i := range p.k {
		if !(v.At(i, i) > 0) {
			return nil
		}
		for j := i; j < p.k; j++ {
			scaled.SetSym(i, j, v.At(i, j)/math.Sqrt(v.At(i, i)*v.At(j, j)))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(scaled) {
		return nil
	}
	return v
}

// extrapolate reads the curve through (lambda, y) at lambda = -1.
func extrapolate(e Extrapolant, lambdas, y []float64) float64 {
	switch e {
	case RationalLinear:
		return rational(lambdas, y)
	case Linear:
		return polynomial(lambdas, y, 1)
	}
	return polynomial(lambdas, y, min(2, len(lambdas)-1))
}

// polynomial fits by least squares on orthogonal polynomials (Forsythe 1957, J. SIAM
// 5:74) and evaluates at -1.
func polynomial(lambdas, y []float64, degree int) float64 {
	n := len(lambdas)
	last, this := make([]float64, n), make([]float64, n)
	for i := range this {
		this[i] = 1
	}
	lastAt, thisAt, lastNorm, sum := 0.0, 1.0, 1.0, 0.0
	for d := 0; ; d++ {
		var norm, along, centre float64
		for i, p := range this {
			norm += p * p
			along += p * y[i]
			centre += lambdas[i] * p * p
		}
		sum += along / norm * thisAt
		if d == degree {
			return sum
		}
		centre /= norm
		back := 0.0
		if d > 0 {
			back = norm / lastNorm
		}
		for i := range this {
			last[i], this[i] = this[i], (lambdas[i]-centre)*this[i]-back*last[i]
		}
		lastAt, thisAt = thisAt, (-1-centre)*thisAt-back*lastAt
		lastNorm = norm
	}
}

// rational fits a + b/(c + lambda) with c above 1: for each c the curve is linear in
// a and b, so the search is in ln(c - 1) alone, by a grid and golden sections.
func rational(lambdas, y []float64) float64 {
	const low, high, step = -6.0, 7.0, 0.25
	best, least := low, math.Inf(1)
	for s := low; s <= high; s += step {
		if ss, _ := hyperbola(s, lambdas, y); ss < least {
			best, least = s, ss
		}
	}
	golden := (math.Sqrt(5) - 1) / 2
	a, b := best-step, best+step
	for b-a > 1e-10 {
		left, right := b-golden*(b-a), a+golden*(b-a)
		ssLeft, _ := hyperbola(left, lambdas, y)
		ssRight, _ := hyperbola(right, lambdas, y)
		if ssLeft <= ssRight {
			b = right
		} else {
			a = left
		}
	}
	_, at := hyperbola((a+b)/2, lambdas, y)
	return at
}

// hyperbola fits with c = 1 + exp(s) and returns the sum of squares and the value at
// -1.
func hyperbola(s float64, lambdas, y []float64) (squares, at float64) {
	c := 1 + math.Exp(s)
	n := float64(len(lambdas))
	var mx, my float64
	for i, l := range lambdas {
		mx += 1 / (c + l) / n
		my += y[i] / n
	}
	var xx, xy float64
	for i, l := range lambdas {
		x := 1/(c+l) - mx
		xx += x * x
		xy += x * (y[i] - my)
	}
	b := xy / xx
	for i, l := range lambdas {
		e := y[i] - my - b*(1/(c+l)-mx)
		squares += e * e
	}
	return squares, my + b*(1/(c-1)-mx)
}
