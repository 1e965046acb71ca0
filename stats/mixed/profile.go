package mixed

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Kind tells the parameters of a model apart.
type Kind int

const (
	FixedEffect     Kind = iota // Term
	UnitSD                      // standard deviation of the random effect of Term
	UnitCorrelation             // of the random effects of Term and Other
	GroupSD                     // of the group intercept
	ResidualSD
)

// Parameter names one parameter of a model.
type Parameter struct {
	Kind        Kind
	Term, Other string
}

// String gives a readable name.
func (p Parameter) String() string {
	switch p.Kind {
	case FixedEffect:
		return p.Term
	case UnitSD:
		return "sd " + p.Term
	case UnitCorrelation:
		return "cor " + p.Term + ", " + p.Other
	case GroupSD:
		return "sd group"
	case ResidualSD:
		return "sd residual"
	}
	return fmt.Sprintf("Kind(%d)", int(p.Kind))
}

// Interval is an interval for one parameter.
type Interval struct {
	Parameter Parameter
	Estimate  float64
	Low, High float64
	// LowAtLimit and HighAtLimit say that the data do not rule out the end of
	// the parameter's range (a standard deviation of 0, a correlation of -1, 1).
	LowAtLimit, HighAtLimit bool
}

// List gives all parameters: fixed effects, standard deviations and
// correlations of the random effects, of the group intercept, of the residual.
func (m *Model) List() []Parameter {
	var out []Parameter
	for _, name := range m.Layout.Fixed {
		out = append(out, Parameter{Kind: FixedEffect, Term: name})
	}
	for _, c := range m.problem.components {
		switch {
		case c == groupComponent:
			out = append(out, Parameter{Kind: GroupSD})
		case c.i == c.j:
			out = append(out, Parameter{Kind: UnitSD, Term: m.Layout.Random[c.i]})
		default:
			out = append(out, Parameter{UnitCorrelation, m.Layout.Random[c.i], m.Layout.Random[c.j]})
		}
	}
	return append(out, Parameter{Kind: ResidualSD})
}

// Value gives the estimate of a parameter; ok is false for a correlation that
// is not defined because a variance is zero. It fails with ErrTerm.
func (m *Model) Value(q Parameter) (v float64, ok bool, err error) {
	switch {
	case q.Kind == FixedEffect && slices.Contains(m.Layout.Fixed, q.Term):
		return m.Estimates[slices.Index(m.Layout.Fixed, q.Term)], true, nil
	case q.Kind == UnitSD:
		v, err = m.SD(q.Term)
		return v, err == nil, err
	case q.Kind == UnitCorrelation && q.Term != q.Other && !m.Layout.Independent:
		return m.Correlation(q.Term, q.Other)
	case q.Kind == GroupSD && m.Layout.GroupIntercept:
		return m.GroupSD, true, nil
	case q.Kind == ResidualSD:
		return m.ResidualSD, true, nil
	}
	return 0, false, fmt.Errorf("mixed: %w: %v", ErrTerm, q)
}

// Profile gives the profile-likelihood interval of a parameter: the values v for
// which the criterion, minimised over all else with the parameter held at v, lies
// within the chi-square quantile (1 df) of its minimum. For variance parameters
// it is the model's own criterion; for fixed effects always ML, to which a model
// fitted by REML is refitted (a restricted likelihood does not know them).
//
// Errors: ErrTerm, ErrArgument (level), ErrNoVariance for a correlation that is
// not defined, ErrNotVerified when a limit cannot be found.
func (m *Model) Profile(q Parameter, level float64) (Interval, error) {
	if err := checkLevel(level); err != nil {
		return Interval{}, err
	}
	v, ok, err := m.Value(q)
	if err != nil {
		return Interval{}, err
	}
	if !ok {
		return Interval{}, fmt.Errorf("mixed: %w: %v is not defined, a variance is zero", ErrNoVariance, q)
	}
	out := Interval{Parameter: q, Estimate: v}
	t := tracer{critical: distuv.ChiSquared{K: 1}.Quantile(level), estimate: v, lowest: math.Inf(-1), highest: math.Inf(1)}
	if q.Kind == FixedEffect {
		ml, err := m.Refit(ML)
		if err != nil {
			return Interval{}, err
		}
		i := slices.Index(m.Layout.Fixed, q.Term)
		t.estimate = ml.Estimates[i]
		t.step = math.Sqrt(t.critical * ml.Covariance.At(i, i))
		t.minimum = ml.optimum.value
		t.excess = ml.fixedProfile(i)
	} else {
		t.minimum = m.optimum.value
		t.excess, t.step = m.varianceProfile(q, t.critical)
		t.lowest = 0
		if q.Kind == UnitCorrelation {
			t.lowest, t.highest = -1, 1
		}
	}
	if out.Low, out.LowAtLimit, ok = t.limit(-1); ok {
		out.High, out.HighAtLimit, ok = t.limit(1)
	}
	if !ok {
		return Interval{}, fmt.Errorf("mixed: %w: no limit found for %v", ErrNotVerified, q)
	}
	return out, nil
}

// tracer follows the profile of one parameter.
type tracer struct {
	excess          func(v float64) (criterion float64, ok bool)
	minimum         float64
	critical        float64
	estimate, step  float64
	lowest, highest float64 // range of the parameter
}

// limit finds the end of the interval in the direction of sign. The root of the
// excess is nearly linear in the parameter, so false position on it converges
// fast (Illinois form; Dowell and Jarratt 1971, BIT 11:168).
func (t *tracer) limit(sign float64) (v float64, atLimit, ok bool) {
	edge := t.highest
	if sign < 0 {
		edge = t.lowest
	}
	if t.estimate == edge {
		return edge, true, true
	}
	z := math.Sqrt(t.critical)
	zeta := func(v float64) (float64, bool) {
		c, ok := t.excess(v)
		return math.Sqrt(math.Max(0, c-t.minimum)) - z, ok
	}
	inside, outside := t.estimate, t.estimate
	fIn, fOut := -z, -z
	for step := t.step; ; step *= 1.7 {
		next := outside + sign*step
		if sign*(next-edge) >= 0 {
			next = edge
		}
		f, ok := zeta(next)
		if !ok && next == edge {
			// The criterion has no value at the edge (residual of zero): it
			// lies outside for certain; come nearer.
			if next = (inside + edge) / 2; math.Abs(next-edge) < 1e-9*math.Abs(t.estimate) {
				return 0, false, false
			}
			if f, ok = zeta(next); !ok {
				return 0, false, false
			}
		}
		if !ok {
			return 0, false, false
		}
		outside, fOut = next, f
		if f > 0 {
			break
		}
		if next == edge {
			return edge, true, true
		}
		inside, fIn = next, f
		if step > 1e12*t.step {
			return 0, false, false
		}
	}
	side := 0
	for range 100 {
		v = inside - fIn*(outside-inside)/(fOut-fIn)
		f, ok := zeta(v)
		if !ok {
			return 0, false, false
		}
		if math.Abs(f) < 1e-9*z || math.Abs(outside-inside) < 1e-12*math.Abs(v) {
			return v, false, true
		}
		if f < 0 {
			inside, fIn = v, f
			if side < 0 {
				fOut /= 2
			}
			side = -1
		} else {
			outside, fOut = v, f
			if side > 0 {
				fIn /= 2
			}
			side = 1
		}
	}
	return 0, false, false
}

// varianceProfile gives the criterion (internal units) minimised with the
// parameter held at a value in the units of the data, and a first step.
func (m *Model) varianceProfile(q Parameter, critical float64) (excess func(v float64) (float64, bool), step float64) {
	p, n := m.problem, m.problem.q
	y := p.vars[p.m-1].scale
	// Coordinates: the factor of the covariance in the units of the data, but
	// for powers of two, the terms asked about first.
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
	scale := make([]float64, n)
	for i, v := range p.vars[:n] {
		scale[i] = y / math.Abs(v.scale)
	}
	forward, _ := invert(m.inner.lift, n)
	c := &chart{p: p, lift: make([]float64, n*n), entries: p.layout.triangle(), withGroup: p.layout.GroupIntercept, withResidual: true}
	g := make([]float64, n*n) // covariance in these coordinates
	for r, a := range order {
		for i := range n {
			c.lift[i*n+r] = forward[i*n+a] * scale[a]
		}
		for s, b := range order {
			g[r*n+s] = m.Random.At(a, b) / scale[a] / scale[b]
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
				at, unit = a, scale[i]
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
