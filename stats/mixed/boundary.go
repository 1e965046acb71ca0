package mixed

// boundary is the score in one direction that leaves the boundary.
type boundary struct {
	BoundaryScore
	direction []float64 // eigenvector of the null space, or nil for the group
	index     int       // of the component when independent
}

// scores gives the derivative of the criterion in each direction that leaves
// the boundary at x, relative to the size of the terms it is the difference of.
func (s *search) scores(x []float64) []boundary {
	q := s.p.q
	pt := s.chart.point(x)
	pc, _ := s.p.evaluate(pt, s.w)
	cr, ok := s.p.profiled(pc, s.restricted)
	if !ok {
		return nil
	}
	var out []boundary
	n := len(s.p.components)
	if s.chart.withGroup && x[len(x)-1] == 0 {
		out = append(out, boundary{BoundaryScore: BoundaryScore{
			Component: s.p.layout.describe(groupComponent), Score: cr.gradient[n-1] / pc.trace[n-1],
		}})
	}
	if q == 0 {
		return out
	}
	// gradient and scale as matrices: d criterion = tr(G dS)
	gm, sm := make([]float64, q*q), make([]float64, q*q)
	for a, c := range s.p.components {
		switch {
		case c == groupComponent:
		case c.i == c.j:
			gm[c.i*q+c.i], sm[c.i*q+c.i] = cr.gradient[a], pc.trace[a]
		default:
			gm[c.i*q+c.j], gm[c.j*q+c.i] = cr.gradient[a]/2, cr.gradient[a]/2
			sm[c.i*q+c.j], sm[c.j*q+c.i] = pc.trace[a]/2, pc.trace[a]/2
		}
	}
	if s.p.layout.Independent {
		for a, c := range s.p.components {
			if c != groupComponent && x[a] == 0 {
				v := make([]float64, q)
				v[c.i] = 1
				out = append(out, boundary{BoundaryScore{s.p.layout.describe(c), gm[c.i*q+c.i] / sm[c.i*q+c.i]}, v, a})
			}
		}
		return out
	}
	_, vectors := eigenSymmetric(congruence(pt.factor, identity(q), q, q), q)
	null := 0
	for j := range q {
		if s.zeroColumn(x, j) {
			null++
		}
	}
	if null == 0 {
		return out
	}
	// Eigenvalues ascend: the first vectors span the null space.
	basis := make([]float64, null*q)
	for k := range null {
		for i := range q {
			basis[k*q+i] = vectors[i*q+k]
		}
	}
	low, turn := eigenSymmetric(congruence(basis, gm, null, q), null)
	for k := range null {
		v := make([]float64, q)
		for r := range null {
			for i := range q {
				v[i] += turn[r*null+k] * basis[r*q+i]
			}
		}
		name := "covariance matrix of the random effects"
		if q == 1 {
			name = s.p.layout.describe(s.p.components[0])
		}
		out = append(out, boundary{BoundaryScore{name, low[k] / quadratic(v, sm, v)}, v, -1})
	}
	return out
}

// enter leaves the boundary along the direction of b.
func (s *search) enter(x []float64, b boundary) []float64 {
	out := append([]float64(nil), x...)
	switch q := s.p.q; {
	case b.direction == nil:
		out[len(out)-1] = reentrySD
	case s.p.layout.Independent:
		out[b.index] = reentrySD
	default:
		f := s.chart.point(x).factor
		g := congruence(f, identity(q), q, q)
		for i := range q {
			for j := range q {
				g[i*q+j] += reentrySD * reentrySD * b.direction[i] * b.direction[j]
			}
		}
		s.setCovariance(out, g)
	}
	return out
}
