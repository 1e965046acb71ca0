package mixed

import "math"

// solved holds the fixed effects at given variance parameters.
type solved struct {
	beta      []float64 // generalised least squares, internal units
	phi       []float64 // (X' V^-1 X)^-1, p x p
	logH      float64   // log |X' V^-1 X|
	quadratic float64   // y' P y, the generalised residual sum of squares
	residual  []float64 // (-beta, 1): y - X beta = w residual
}

func (c *pieces) solve() (*solved, bool) {
	k := c.k
	p := k - 1
	l := append([]float64(nil), c.h...)
	if !cholesky(l, k) {
		return nil, false
	}
	s := &solved{quadratic: l[k*k-1] * l[k*k-1], beta: make([]float64, p), residual: make([]float64, k)}
	top := make([]float64, p*p)
	for i := range p {
		copy(top[i*p:i*p+i+1], l[i*k:i*k+i+1])
		s.logH += 2 * math.Log(l[i*k+i])
	}
	s.phi = invertCholesky(top, p)
	for i := p - 1; i >= 0; i-- {
		v := l[p*k+i]
		for j := i + 1; j < p; j++ {
			v -= l[j*k+i] * s.beta[j]
		}
		s.beta[i] = v / l[i*k+i]
	}
	for i, b := range s.beta {
		s.residual[i] = -b
	}
	s.residual[p] = 1
	return s, true
}

// criterion is -2 log-likelihood with its derivatives in the components.
type criterion struct {
	value    float64
	gradient []float64
	hessian  []float64 // n x n
	solved   *solved
}

// products are what P, the projection V^-1 - V^-1 X Phi X' V^-1, gives.
type products struct {
	e      []float64 // y' P V_a P y
	traceP []float64 // tr P V_a
	ee     []float64 // y' P V_a P V_b P y, n x n
	cross  []float64 // tr P V_a P V_b, n x n
}

func (c *pieces) products(s *solved) products {
	k, n := c.k, c.n
	p := k - 1
	out := products{make([]float64, n), make([]float64, n), make([]float64, n*n), make([]float64, n*n)}
	tr := make([][]float64, n)    // T_a residual, first p entries
	phiT := make([][]float64, n)  // Phi T_a,xx
	block := make([]float64, p*p) // T_a,xx
	for a := range n {
		t := c.t[a]
		tr[a] = make([]float64, k)
		for i := range k {
			tr[a][i] = dot(t[i*k:(i+1)*k], s.residual)
		}
		out.e[a] = dot(tr[a], s.residual)
		for i := range p {
			copy(block[i*p:(i+1)*p], t[i*k:i*k+p])
		}
		phiT[a] = multiply(s.phi, block, p, p, p)
		out.traceP[a] = c.trace[a]
		for i := range p {
			out.traceP[a] -= phiT[a][i*p+i]
		}
	}
	for a := range n {
		for b := a; b < n; b++ {
			q := c.second[a*n+b]
			ee := quadratic(s.residual, q, s.residual) - quadratic(tr[a][:p], s.phi, tr[b][:p])
			cross := c.cross[a*n+b]
			for i := range p {
				for j := range p {
					cross += phiT[a][i*p+j]*phiT[b][j*p+i] - 2*s.phi[i*p+j]*q[i*k+j]
				}
			}
			out.ee[a*n+b], out.ee[b*n+a] = ee, ee
			out.cross[a*n+b], out.cross[b*n+a] = cross, cross
		}
	}
	return out
}

// profiled is the criterion with s^2 at its optimum, V being relative to s^2
// (Bates et al. 2015, equations 35 and 42), in internal units.
func (p *problem) profiled(c *pieces, restricted bool) (criterion, bool) {
	s, ok := c.solve()
	if !ok {
		return criterion{}, false
	}
	n := c.n
	nu := float64(p.rows)
	if restricted {
		nu -= float64(p.p)
	}
	out := criterion{solved: s, gradient: make([]float64, n), hessian: make([]float64, n*n)}
	out.value = c.logV + nu*(1+math.Log(2*math.Pi*s.quadratic/nu))
	pr := c.products(s)
	trace, cross := c.trace, c.cross
	if restricted {
		out.value += s.logH
		trace, cross = pr.traceP, pr.cross
	}
	for a := range n {
		out.gradient[a] = trace[a] - nu*pr.e[a]/s.quadratic
		for b := range n {
			out.hessian[a*n+b] = -cross[a*n+b] +
				nu/s.quadratic*(2*pr.ee[a*n+b]-pr.e[a]*(pr.e[b]/s.quadratic))
		}
	}
	return out, true
}

// withResidual adds the residual variance s^2 as a last component. Since
// V = sum of x_a V_a + s^2 I, all that concerns I follows from the rest:
// V^-1 I V^-1 = (V^-1 - sum of x_a V^-1 V_a V^-1)/s^2, and so on.
func (p *problem) withResidual(c *pieces, x point) *pieces {
	n := c.n
	values := p.values(x)
	o := &pieces{
		k: c.k, n: n + 1, logV: c.logV, h: c.h,
		trace: append(append([]float64(nil), c.trace...), 0),
		t:     append(append([][]float64(nil), c.t...), nil),
		cross: make([]float64, (n+1)*(n+1)), second: make(second, (n+1)*(n+1)),
	}
	rest := func(whole float64, parts func(b int) float64) float64 {
		for b, v := range values {
			whole -= v * parts(b)
		}
		return whole / x.residual
	}
	matrix := func(whole []float64, parts func(b int) []float64) []float64 {
		out := make([]float64, len(whole))
		for i, v := range whole {
			out[i] = rest(v, func(b int) float64 { return parts(b)[i] })
		}
		return out
	}
	upper := func(a, b int) []float64 { return c.second[min(a, b)*n+max(a, b)] }
	for a := range n {
		for b := range n {
			o.cross[a*(n+1)+b] = c.cross[a*n+b]
			if b >= a {
				o.second[a*(n+1)+b] = c.second[a*n+b]
			}
		}
		v := rest(c.trace[a], func(b int) float64 { return c.cross[a*n+b] })
		o.cross[a*(n+1)+n], o.cross[n*(n+1)+a] = v, v
		o.second[a*(n+1)+n] = matrix(c.t[a], func(b int) []float64 { return upper(a, b) })
	}
	o.trace[n] = rest(float64(p.rows), func(b int) float64 { return c.trace[b] })
	o.t[n] = matrix(c.h, func(b int) []float64 { return c.t[b] })
	o.cross[(n+1)*(n+1)-1] = rest(o.trace[n], func(b int) float64 { return o.cross[b*(n+1)+n] })
	o.second[(n+1)*(n+1)-1] = matrix(o.t[n], func(b int) []float64 { return o.second[b*(n+1)+n] })
	return o
}

// values gives the components at x.
func (p *problem) values(x point) []float64 {
	out := make([]float64, len(p.components))
	for a, c := range p.components {
		if c == groupComponent {
			out[a] = x.between
			continue
		}
		out[a] = dot(x.factor[c.i*p.q:(c.i+1)*p.q], x.factor[c.j*p.q:(c.j+1)*p.q])
	}
	return out
}

// full is the criterion with s^2 free, from pieces withResidual.
func (p *problem) full(c *pieces, restricted bool) (criterion, bool) {
	s, ok := c.solve()
	if !ok {
		return criterion{}, false
	}
	n := c.n
	out := criterion{solved: s, gradient: make([]float64, n), hessian: make([]float64, n*n)}
	out.value = c.logV + s.quadratic + float64(p.rows)*math.Log(2*math.Pi)
	pr := c.products(s)
	trace, cross := c.trace, c.cross
	if restricted {
		out.value += s.logH - float64(p.p)*math.Log(2*math.Pi)
		trace, cross = pr.traceP, pr.cross
	}
	for a := range n {
		out.gradient[a] = trace[a] - pr.e[a]
		for b := range n {
			out.hessian[a*n+b] = 2*pr.ee[a*n+b] - cross[a*n+b]
		}
	}
	return out, true
}
