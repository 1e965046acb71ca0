package mixed

import (
	"math"
	"slices"
)

// varianceProfile gives the criterion (internal units) minimised with the
// parameter held at a value in the units of the data, and a first step.
func (m *Model) varianceProfile(q Parameter, critical float64) (excess func(v float64) (float64, bool), step float64) {
	p, n := m.problem, m.problem.q
	y := p.vars[p.m-1].scale
	// Coordinates: the factor of the covariance of the internal effects, with the
	// terms asked about first; only when the constant one is asked about does it
	// count from the data's zero instead of the centre.
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	first := func(term string, place int) {
		i := slices.Index(order, slices.Index(m.Layout.Random, term))
		order[place], order[i] = order[i], order[place]
	}
	if !p.layout.Independent {
		switch q.Kind {
		case UnitSD:
			first(q.Term, 0)
		case UnitCorrelation:
			first(q.Term, 0)
			first(q.Other, 1)
		}
	}
	// scale of each coordinate in the units of the data.
	scale := make([]float64, n)
	for i, v := range p.vars[:n] {
		scale[i] = y / v.scale
	}
	own := identity(n) // coordinates = own (internal effects)
	if i := p.anchor; i >= 0 && (m.Layout.Random[i] == q.Term || m.Layout.Random[i] == q.Other) {
		row := m.inner.lift[i*n : (i+1)*n]
		scale[i] = math.Sqrt(dot(row, row))
		for j, v := range row {
			own[i*n+j] = v / scale[i]
		}
	}
	inverse, _ := invert(own, n) // triangular but for order, never singular
	c := &chart{p: p, lift: make([]float64, n*n), entries: p.layout.triangle(), withGroup: p.layout.GroupIntercept, withResidual: true}
	all := congruence(multiply(own, m.inner.point.factor, n, n, n), identity(n), n, n)
	g := make([]float64, n*n) // covariance in these coordinates
	for r, a := range order {
		for i := range n {
			c.lift[i*n+r] = inverse[i*n+a]
		}
		for s, b := range order {
			g[r*n+s] = all[a*n+b]
		}
	}
	semidefinite(g, n, 1e-12)
	size := c.size()
	x := make([]float64, size)
	sigma := m.ResidualSD / y
	for a, e := range c.entries {
		x[a] = g[e.i*n+e.j]
		if e.i == e.j && x[a] < reentrySD*sigma {
			x[a] = reentrySD * sigma // zero is a stationary point: start beside it
		}
	}
	at := size - 1 // of what is held
	unit := y
	switch q.Kind {
	case GroupSD:
		at = len(c.entries)
	case UnitSD:
		for a, e := range c.entries {
			i := slices.Index(m.Layout.Random, q.Term)
			if e.i == e.j && order[e.i] == i {
				at, unit = a, math.Abs(scale[i])
			}
		}
	}
	if c.withGroup && x[len(c.entries)] < reentrySD*sigma {
		x[len(c.entries)] = math.Max(m.GroupSD/y, reentrySD*sigma)
	}
	x[size-1] = sigma

	// x = held(v) + basis eta
	basis := func(v float64) (held []float64, columns [][]float64) {
		held = make([]float64, size)
		skip := []int{at}
		if q.Kind == UnitCorrelation {
			// second row of L = a (v, sqrt(1 - v^2))
			one, two := slices.Index(c.entries, component{1, 0}), slices.Index(c.entries, component{1, 1})
			column := make([]float64, size)
			column[one], column[two] = v, math.Sqrt(math.Max(0, 1-v*v))
			columns = append(columns, column)
			skip = []int{one, two}
		} else {
			held[at] = v / unit
		}
		for a := range size {
			if !slices.Contains(skip, a) {
				column := make([]float64, size)
				column[a] = 1
				columns = append(columns, column)
			}
		}
		return held, columns
	}
	w := p.newWorkspace()
	restricted := m.Method == REML
	start := func(columns [][]float64) []float64 {
		eta := make([]float64, len(columns))
		for k, column := range columns {
			if q.Kind == UnitCorrelation && k == 0 {
				one, two := slices.Index(c.entries, component{1, 0}), slices.Index(c.entries, component{1, 1})
				eta[k] = math.Hypot(x[one], x[two])
				continue
			}
			eta[k] = x[slices.Index(column, 1)]
		}
		return eta
	}
	excess = func(v float64) (float64, bool) {
		held, columns := basis(v)
		f := func(eta []float64) (float64, []float64, []float64, bool) {
			at := slices.Clone(held)
			for k, column := range columns {
				for i, b := range column {
					at[i] += b * eta[k]
				}
			}
			value, g, h, ok := c.at(at, restricted, w)
			if !ok {
				return 0, nil, nil, false
			}
			r := len(columns)
			flat := slices.Concat(columns...)
			return value, multiply(flat, g, r, size, 1), congruence(flat, h, r, size), true
		}
		best := newton(f, start(columns))
		return best.value, best.ok && best.decrement < 1e-6
	}
	value, _, _ := m.Value(q)
	switch q.Kind {
	case UnitCorrelation:
		step = 0.3
	case ResidualSD:
		step = value * math.Sqrt(critical/2/float64(p.rows))
	default:
		step = math.Max(value*math.Sqrt(critical/2/float64(len(p.units))), 0.05*sigma*unit)
	}
	return excess, step
}

// fixedProfile gives the ML criterion minimised with fixed effect k held at v.
func (m *Model) fixedProfile(k int) func(v float64) (float64, bool) {
	start := slices.Clone(m.optimum.x)
	for a, v := range start {
		diagonal := a >= len(m.problem.layout.triangle()) || m.problem.layout.triangle()[a].i == m.problem.layout.triangle()[a].j
		if diagonal && math.Abs(v) < reentrySD {
			start[a] = reentrySD
		}
	}
	all := make([]int, len(start))
	for a := range all {
		all[a] = a
	}
	return func(v float64) (float64, bool) {
		s := m.problem.without(k, v).newSearch(false)
		best := newton(s.on(all), start)
		return best.value, best.ok && best.decrement < 1e-6
	}
}

// without gives the problem with fixed effect k held at v (units of the data):
// the response is y - v x_k.
func (p *problem) without(k int, v float64) *problem {
	m := p.m
	y := p.vars[m-1]
	xk := p.vars[p.q+k]
	// Columns of `to` are the new variables in terms of the old.
	to := make([]float64, m*(m-1))
	set := func(old, new int, f float64) { to[old*(m-1)+new] = f }
	next := 0
	for a := range m {
		if a == p.q+k {
			continue
		}
		set(a, next, 1)
		if a >= p.q && a < m-1 && k == p.constant {
			// Without a constant, columns are not centred.
			set(p.q+k, next, p.vars[a].centre/p.vars[a].scale)
		}
		next++
	}
	if k == p.constant {
		set(p.q+k, m-2, (y.centre-v*xk.scale)/y.scale)
	} else {
		set(p.q+k, m-2, -v*xk.scale/y.scale)
	}
	out := *p
	out.m, out.p = m-1, p.p-1
	out.layout.Fixed = slices.Delete(slices.Clone(p.layout.Fixed), k, k+1)
	out.vars = slices.Delete(slices.Clone(p.vars), p.q+k, p.q+k+1)
	out.constant = -1
	out.units = make([]unit, len(p.units))
	back := transpose(to, m, m-1)
	full := make([]float64, m*m)
	mapped := func(packed []float64) []float64 {
		unpack(full, packed, m)
		return packUpper(congruence(back, full, m-1, m), m-1)
	}
	for i, u := range p.units {
		n := unit{label: u.label, rows: u.rows, groups: u.groups, base: mapped(u.base)}
		for _, c := range u.classes {
			n.classes = append(n.classes, class{c.rows, c.count, mapped(c.outer)})
		}
		out.units[i] = n
	}
	return &out
}

func packUpper(full []float64, m int) []float64 {
	out := make([]float64, 0, m*(m+1)/2)
	for i := range m {
		out = append(out, full[i*m+i:(i+1)*m]...)
	}
	return out
}
