package mixed

// chart is a set of coordinates without constraints: the entries of a factor L,
// the standard deviation between groups and, when withResidual, that of the
// residual. S = (lift L)(lift L)'.
type chart struct {
	p            *problem
	lift         []float64   // q x q
	entries      []component // row and column of L
	withGroup    bool
	withResidual bool
}

// standardChart has the lower triangle of L (its diagonal when the random
// effects are independent) in internal units.
func (p *problem) standardChart(residual bool) *chart {
	return &chart{
		p: p, lift: identity(p.q), entries: p.layout.triangle(),
		withGroup: p.layout.GroupIntercept, withResidual: residual,
	}
}

// triangle lists the entries of the Cholesky factor by column.
func (l Layout) triangle() []component {
	var out []component
	for j := range l.Random {
		for i := j; i < len(l.Random); i++ {
			if i == j || !l.Independent {
				out = append(out, component{i, j})
			}
		}
	}
	return out
}

// size is the number of coordinates.
func (c *chart) size() int {
	n := len(c.entries)
	if c.withGroup {
		n++
	}
	if c.withResidual {
		n++
	}
	return n
}

// point gives the variance parameters at coordinates x; relative to s^2
// unless the chart has the residual.
func (c *chart) point(x []float64) point {
	q := c.p.q
	l := make([]float64, q*q)
	for a, e := range c.entries {
		l[e.i*q+e.j] = x[a]
	}
	out := point{factor: multiply(c.lift, l, q, q, q), residual: 1}
	next := len(c.entries)
	if c.withGroup {
		out.between = x[next] * x[next]
		next++
	}
	if c.withResidual {
		out.residual = x[next] * x[next]
	}
	return out
}

// jacobian gives the derivative of the components (and s^2) in x, n x size.
func (c *chart) jacobian(x []float64) []float64 {
	q, size := c.p.q, c.size()
	f := c.point(x).factor
	n := len(c.p.components)
	out := make([]float64, (n+1)*size)
	for a, comp := range c.p.components {
		if comp == groupComponent {
			out[a*size+len(c.entries)] = 2 * x[len(c.entries)]
			continue
		}
		for b, e := range c.entries {
			// dS = B f' + f B', B = lift with column e.i moved to e.j.
			out[a*size+b] = c.lift[comp.i*q+e.i]*f[comp.j*q+e.j] + f[comp.i*q+e.j]*c.lift[comp.j*q+e.i]
		}
	}
	if c.withResidual {
		out[n*size+size-1] = 2 * x[size-1]
		return out
	}
	return out[:n*size]
}

// pull carries gradient and Hessian in the components to coordinates x.
func (c *chart) pull(x []float64, cr criterion) (gradient, hessian []float64) {
	q, size := c.p.q, c.size()
	n := len(cr.gradient)
	j := c.jacobian(x)
	jt := transpose(j, n, size)
	gradient = multiply(jt, cr.gradient, size, n, 1)
	hessian = congruence(jt, cr.hessian, size, n)
	// Second derivatives of the components.
	for a, comp := range c.p.components {
		g := cr.gradient[a]
		if comp == groupComponent {
			at := len(c.entries)
			hessian[at*size+at] += 2 * g
			continue
		}
		for b, e := range c.entries {
			for d, f := range c.entries {
				if e.j == f.j {
					hessian[b*size+d] += g * (c.lift[comp.i*q+e.i]*c.lift[comp.j*q+f.i] +
						c.lift[comp.i*q+f.i]*c.lift[comp.j*q+e.i])
				}
			}
		}
	}
	if c.withResidual {
		hessian[size*size-1] += 2 * cr.gradient[n-1]
	}
	return gradient, hessian
}

// at evaluates the criterion at x with gradient and Hessian in x. It reports false
// where the criterion cannot be computed or nothing is left of the response.
func (c *chart) at(x []float64, restricted bool, w *workspace) (value float64, gradient, hessian []float64, ok bool) {
	pt := c.point(x)
	pc, ok := c.p.evaluate(pt, w)
	if !ok {
		return 0, nil, nil, false
	}
	var cr criterion
	if c.withResidual {
		cr, ok = c.p.full(c.p.withResidual(pc, pt), restricted)
	} else {
		cr, ok = c.p.profiled(pc, restricted)
	}
	if !ok || notFinite(cr.value) || !c.withResidual && cr.solved.quadratic < exactTolerance*c.p.square {
		return 0, nil, nil, false
	}
	gradient, hessian = c.pull(x, cr)
	return cr.value, gradient, hessian, true
}
