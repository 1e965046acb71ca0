package mixed

import "math"

// point is a value of the variance parameters in internal coordinates:
// S = factor factor' (q x q by row), t^2 = between, s^2 = residual.
type point struct {
	factor   []float64
	between  float64
	residual float64
}

// pieces are the sums over units of which the criterion and its first two
// derivatives are made. V is Var(y), V_a its derivative in component a, w the
// columns of X and y (k = p+1 of them).
type pieces struct {
	k, n  int
	logV  float64     // log |V|
	h     []float64   // w' V^-1 w, k x k
	trace []float64   // tr V^-1 V_a
	t     [][]float64 // w' V^-1 V_a V^-1 w
	cross []float64   // tr V^-1 V_a V^-1 V_b, by row
	second
}

// second holds the symmetric part of w' V^-1 V_a V^-1 V_b V^-1 w at [a*n+b] for
// a <= b.
type second [][]float64

// workspace is the memory of one evaluation.
type workspace struct {
	packed, packed2, packed3 []float64
	a, d, d3                 []float64 // m x m
	u, e, c, b               []float64 // q x q, q x m, q x q, q x m
	l                        []float64 // q x q
	t1                       []float64 // m x m
	ke                       []float64
	kernel                   []float64
}

func (p *problem) newWorkspace() *workspace {
	m, q := p.m, p.q
	f := func(n int) []float64 { return make([]float64, n) }
	return &workspace{
		packed: f(m * (m + 1) / 2), packed2: f(m * (m + 1) / 2), packed3: f(m * (m + 1) / 2),
		a: f(m * m), d: f(m * m), d3: f(m * m), t1: f(m * m),
		u: f(q * q), c: f(q * q), l: f(q * q), e: f(q * m), b: f(q * m), kernel: f(q * q), ke: f(q * q),
	}
}

// evaluate adds up the units at x. It reports false when a number is out of range.
func (p *problem) evaluate(x point, w *workspace) (*pieces, bool) {
	k, n := p.p+1, len(p.components)
	out := &pieces{k: k, n: n, h: make([]float64, k*k), trace: make([]float64, n), cross: make([]float64, n*n)}
	memory := make([]float64, (n+n*n)*k*k)
	next := func() []float64 {
		v := memory[: k*k : k*k]
		memory = memory[k*k:]
		return v
	}
	out.t, out.second = make([][]float64, n), make(second, n*n)
	for a := range n {
		out.t[a] = next()
		for b := a; b < n; b++ {
			out.second[a*n+b] = next()
		}
	}
	for i := range p.units {
		if !p.add(out, &p.units[i], x, w) {
			return nil, false
		}
	}
	for a := range n {
		for b := range a {
			out.cross[a*n+b] = out.cross[b*n+a]
		}
	}
	return out, !notFinite(out.logV)
}

// condense computes for one unit what R, the variance without random effects,
// leaves of the cross-products: A = w' R^-1 w, and with a group intercept
// D = w' R^-1 J J' R^-1 w and D3 = w' R^-1 J (J' R^-1 J) J' R^-1 w. It returns
// log |R| and the first two traces of J' R^-1 J.
func (p *problem) condense(u *unit, x point, w *workspace) (logR, trace, trace2 float64) {
	s := x.residual
	for i, v := range u.base {
		w.packed[i] = v / s
	}
	if !p.layout.GroupIntercept {
		unpack(w.a, w.packed, p.m)
		return float64(u.rows) * math.Log(s), 0, 0
	}
	clear(w.packed2)
	clear(w.packed3)
	logR = float64(u.rows-len(u.groups)) * math.Log(s)
	for i := range u.classes {
		c := &u.classes[i]
		v := s + c.rows*x.between
		a := c.rows / v
		logR += c.count * math.Log(v)
		trace += c.count * a
		trace2 += c.count * a * a
		a2, a3 := a*a, a*a*a
		p1, p2, p3 := w.packed[:len(c.outer)], w.packed2[:len(c.outer)], w.packed3[:len(c.outer)]
		for j, o := range c.outer {
			p1[j] += a * o
			p2[j] += a2 * o
			p3[j] += a3 * o
		}
	}
	unpack(w.a, w.packed, p.m)
	unpack(w.d, w.packed2, p.m)
	unpack(w.d3, w.packed3, p.m)
	return logR, trace, trace2
}

// posterior computes from A the matrices of the random effects:
// L L' = I + F'A_zz F, C = F (L L')^-1 F' (the conditional covariance of the
// random effects) and B = C A_z (the regression of w on z). It returns log |L|^2.
func (p *problem) posterior(x point, w *workspace) (logL float64, ok bool) {
	m, q := p.m, p.q
	if q == 0 {
		return 0, true
	}
	// e = F'A_z, l = I + e_z F
	clear(w.e)
	for i := range q {
		for j := range q {
			if f := x.factor[i*q+j]; f != 0 {
				row, e := w.a[i*m:(i+1)*m], w.e[j*m:(j+1)*m]
				for c, v := range row {
					e[c] += f * v
				}
			}
		}
	}
	for i := range q {
		for j := range i + 1 {
			var v float64
			for c := range q {
				v += w.e[i*m+c] * x.factor[c*q+j]
			}
			if i == j {
				v++
			}
			w.l[i*q+j] = v
		}
	}
	if !cholesky(w.l, q) {
		return 0, false
	}
	// u = L^-1 F', e = L^-1 F' A_z
	for i := range q {
		for j := range q {
			w.u[i*q+j] = x.factor[j*q+i]
		}
	}
	for i := range q {
		for k := range i {
			f := w.l[i*q+k]
			for c := range q {
				w.u[i*q+c] -= f * w.u[k*q+c]
			}
			ei, ek := w.e[i*m:(i+1)*m], w.e[k*m:(k+1)*m]
			for c, v := range ek {
				ei[c] -= f * v
			}
		}
		d := w.l[i*q+i]
		logL += 2 * math.Log(d)
		for c := range q {
			w.u[i*q+c] /= d
		}
		for c := range m {
			w.e[i*m+c] /= d
		}
	}
	clear(w.c)
	clear(w.b)
	for k := range q {
		for i := range q {
			f := w.u[k*q+i]
			if f == 0 {
				continue
			}
			for j := range q {
				w.c[i*q+j] += f * w.u[k*q+j]
			}
			b, e := w.b[i*m:(i+1)*m], w.e[k*m:(k+1)*m]
			for c, v := range e {
				b[c] += f * v
			}
		}
	}
	return logL, true
}

// sandwich overwrites the symmetric x by (I - z C z'R^-1)' x (I - z C z'R^-1), that is
// x - B'x_z - x_z'B + B'x_zz B.
func (p *problem) sandwich(x []float64, w *workspace) {
	m, q := p.m, p.q
	y := w.t1
	for i := range m {
		row, from := y[i*m:(i+1)*m], x[i*m:(i+1)*m]
		copy(row, from)
		for k := range q {
			f := from[k]
			b := w.b[k*m : (k+1)*m]
			for j, v := range b {
				row[j] -= f * v
			}
		}
	}
	for i := range m {
		row := x[i*m : (i+1)*m]
		copy(row, y[i*m:(i+1)*m])
		for k := range q {
			f := w.b[k*m+i]
			for j, v := range y[k*m : (k+1)*m] {
				row[j] -= f * v
			}
		}
	}
}

// add adds one unit to the pieces.
func (p *problem) add(out *pieces, u *unit, x point, w *workspace) bool {
	m, q, k, n := p.m, p.q, out.k, out.n
	logR, traceJ, traceJ2 := p.condense(u, x, w)
	logL, ok := p.posterior(x, w)
	if !ok {
		return false
	}
	out.logV += logR + logL
	grouped := p.layout.GroupIntercept
	var dc, d3c, dcdc float64 // traces of D C, D3 C, D C D C
	if grouped {
		dc, d3c = p.traceC(w.d, w), p.traceC(w.d3, w)
		dcdc = p.prepareThird(w)
		p.sandwich(w.d, w)
		p.sandwich(w.d3, w)
	}
	// w.a becomes w' V^-1 w.
	for r := range q {
		e := w.e[r*m : (r+1)*m]
		for i, f := range e {
			row := w.a[i*m : (i+1)*m]
			for j, v := range e {
				row[j] -= f * v
			}
		}
	}
	for i := range k {
		row := w.a[(q+i)*m+q : (q+i+1)*m]
		for j, v := range row {
			out.h[i*k+j] += v
		}
	}
	t := func(i int) []float64 { return w.a[i*m+q : (i+1)*m] } // z_i' V^-1 w
	v := func(i int) []float64 { return w.d[i*m+q : (i+1)*m] } // z_i' V^-1 J J' V^-1 w
	for a, ca := range p.components {
		if ca == groupComponent {
			out.trace[a] += traceJ - dc
			out.cross[a*n+a] += traceJ2 - 2*d3c + dcdc
			sumBlock(out.t[a], w.d, m, q)
			sumBlock(out.second[a*n+a], w.d3, m, q)
			continue
		}
		double := 1.0
		if ca.i != ca.j {
			double = 2
		}
		out.trace[a] += double * w.a[ca.i*m+ca.j]
		symmetric(out.t[a], t(ca.i), t(ca.j), double/2)
		for b := a; b < n; b++ {
			cb := p.components[b]
			into := out.second[a*n+b]
			if cb == groupComponent {
				out.cross[a*n+b] += double * w.d[ca.i*m+ca.j]
				symmetric(into, t(ca.i), v(ca.j), 0.5)
				if ca.i != ca.j {
					symmetric(into, t(ca.j), v(ca.i), 0.5)
				}
				continue
			}
			ca.each(func(i, j int) {
				cb.each(func(g, h int) {
					kjg := w.a[j*m+g]
					out.cross[a*n+b] += kjg * w.a[h*m+i]
					symmetric(into, t(i), t(h), 0.5*kjg)
				})
			})
		}
	}
	return true
}

// each calls f for (i, j) and, when they differ, for (j, i).
func (c component) each(f func(i, j int)) {
	f(c.i, c.j)
	if c.i != c.j {
		f(c.j, c.i)
	}
}

// symmetric adds f (x y' + y x').
func symmetric(into, x, y []float64, f float64) {
	k := len(x)
	for i, xi := range x {
		fx, fy := f*xi, f*y[i]
		row := into[i*k : (i+1)*k]
		for j := range row {
			row[j] += fx*y[j] + fy*x[j]
		}
	}
}

// sumBlock adds the block of x and y of the m x m matrix a.
func sumBlock(into, a []float64, m, q int) {
	k := m - q
	for i := range k {
		row := a[(q+i)*m+q : (q+i+1)*m]
		for j, v := range row {
			into[i*k+j] += v
		}
	}
}

// traceC gives tr(C x_zz).
func (p *problem) traceC(x []float64, w *workspace) float64 {
	var sum float64
	for i := range p.q {
		for j := range p.q {
			sum += w.c[i*p.q+j] * x[i*p.m+j]
		}
	}
	return sum
}

// prepareThird overwrites D3 by D3 - D_z' C D_z and returns tr(C D_zz C D_zz).
func (p *problem) prepareThird(w *workspace) float64 {
	m, q := p.m, p.q
	// b is C D_z, kept in t1 (q x m).
	cd := w.t1[:q*m]
	clear(cd)
	for i := range q {
		for k := range q {
			f := w.c[i*q+k]
			for c, v := range w.d[k*m : (k+1)*m] {
				cd[i*m+c] += f * v
			}
		}
	}
	var trace float64
	for i := range q {
		for j := range q {
			trace += cd[i*m+j] * cd[j*m+i]
		}
	}
	for k := range q {
		row := cd[k*m : (k+1)*m]
		for i := range m {
			f := w.d[k*m+i]
			for c, v := range row {
				w.d3[i*m+c] -= f * v
			}
		}
	}
	return trace
}
