package mixed

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// problem holds the sums by unit in internal coordinates: variables
// w = (z, x, y), m = q + p + 1 of them, each centred and scaled.
type problem struct {
	layout     Layout
	components []component
	q, p, m    int
	rows       int
	groups     int
	units      []unit
	vars       []variable // of w
	constant   int        // the constant column among x, or -1
	square     float64    // sum of squares of y, internal units
	anchor     int        // the constant column among z that others are centred on, or -1
}

// variable says how an internal variable comes from a column of the sums:
// (value - centre) / scale.
type variable struct {
	source        int
	centre, scale float64
}

// unit holds the sums of one unit. Symmetric matrices of w are upper triangles
// by row.
type unit struct {
	label  string
	rows   int
	groups []group
	// spread are the cross-products about the means of the groups, added up.
	spread []float64
	// base is what the likelihood divides by s^2: spread with a group intercept,
	// the cross-products about zero without.
	base    []float64
	classes []class
}

// group is one group, or all of the unit when the layout has no group intercept.
type group struct {
	label string
	rows  float64
	mean  []float64 // of w
}

// class gathers the groups of one size in a unit.
type class struct {
	rows, count float64
	outer       []float64 // sum of mean mean'
}

// source is one group of the sums with its moments.
type source struct {
	key         groupKey
	rows        float64
	mean, cross []float64
}

func newProblem(s *Sums) (*problem, error) {
	l := s.layout
	p := &problem{
		layout: l, components: l.components(), q: len(l.Random), p: len(l.Fixed),
		m: len(l.Random) + len(l.Fixed) + 1, rows: s.rows, groups: len(s.groups), constant: -1, anchor: -1,
	}
	if p.rows <= p.p {
		return nil, fmt.Errorf("mixed: %w: %d rows for %d fixed effects", ErrTooFewRows, p.rows, p.p)
	}
	sources, err := s.sorted()
	if err != nil {
		return nil, err
	}
	p.setVariables(s, sources)
	for i := 0; i < len(sources); {
		j := i
		for j < len(sources) && sources[j].key.unit == sources[i].key.unit {
			j++
		}
		p.units = append(p.units, p.newUnit(s.width, sources[i:j]))
		i = j
	}
	if len(p.units) < 2 {
		return nil, fmt.Errorf("mixed: %w: only %q", ErrOneUnit, p.units[0].label)
	}
	return p, p.check()
}

// sorted gives the groups in the order of their labels.
func (s *Sums) sorted() ([]source, error) {
	order := s.order()
	pairs := s.width * (s.width + 1) / 2
	memory := make([]float64, len(order)*(s.width+pairs))
	out := make([]source, len(order))
	for i, at := range order {
		mean, rest := memory[:s.width:s.width], memory[s.width:]
		cross := rest[:pairs:pairs]
		memory = rest[pairs:]
		s.moments(at, mean, cross)
		if slices.ContainsFunc(mean, notFinite) || slices.ContainsFunc(cross, notFinite) {
			return nil, fmt.Errorf("mixed: %w: cross-products of unit %q are out of range", ErrNotFinite, s.groups[at].unit)
		}
		out[i] = source{s.groups[at], float64(s.counts[at]), mean, cross}
	}
	return out, nil
}

// setVariables finds the constant columns and chooses centres and scales.
func (p *problem) setVariables(s *Sums, sources []source) {
	k, n := s.width, float64(s.rows)
	mean, square := make([]float64, k), make([]float64, k)
	constant := make([]bool, k)
	for j := range constant {
		constant[j] = sources[0].mean[j] != 0
	}
	for _, g := range sources {
		for j, m := range g.mean {
			mean[j] += g.rows / n * m
			constant[j] = constant[j] && m == sources[0].mean[j] && g.cross[diagonal(j, k)] == 0
		}
	}
	for _, g := range sources {
		for j, m := range g.mean {
			square[j] += (g.cross[diagonal(j, k)] + g.rows*(m-mean[j])*(m-mean[j])) / n
		}
	}
	column := func(name string) int { return slices.Index(s.columns, name) }
	for i, name := range p.layout.Fixed {
		if constant[column(name)] && p.constant < 0 {
			p.constant = i
		}
	}
	for i, name := range p.layout.Random {
		if constant[column(name)] && !p.layout.Independent && p.anchor < 0 {
			p.anchor = i
		}
	}
	choose := func(j int, centred, isConstant bool) variable {
		v := variable{source: j, scale: 1}
		spread := square[j] + mean[j]*mean[j]
		switch {
		case isConstant:
			v.scale = sources[0].mean[j]
			return v
		case centred:
			v.centre, spread = mean[j], square[j]
		}
		if spread > 0 {
			_, exponent := math.Frexp(math.Sqrt(spread))
			v.scale = math.Ldexp(1, exponent)
		}
		return v
	}
	for i, name := range p.layout.Random {
		p.vars = append(p.vars, choose(column(name), p.anchor >= 0, i == p.anchor))
	}
	for i, name := range p.layout.Fixed {
		p.vars = append(p.vars, choose(column(name), p.constant >= 0, i == p.constant))
	}
	p.vars = append(p.vars, choose(k-1, p.constant >= 0, false))
}

// diagonal is the place of entry (j, j) in an upper triangle of k columns.
func diagonal(j, k int) int { return j*k - j*(j-1)/2 }

func (p *problem) newUnit(k int, sources []source) unit {
	u := unit{label: sources[0].key.unit, spread: make([]float64, p.m*(p.m+1)/2)}
	means := make([]float64, len(sources)*p.m)
	for i, g := range sources {
		u.rows += int(g.rows)
		mean := means[i*p.m : (i+1)*p.m]
		c := 0
		for a, va := range p.vars {
			mean[a] = (g.mean[va.source] - va.centre) / va.scale
			for _, vb := range p.vars[a:] {
				i, j := min(va.source, vb.source), max(va.source, vb.source)
				u.spread[c] += g.cross[diagonal(i, k)+j-i] / va.scale / vb.scale
				c++
			}
		}
		u.groups = append(u.groups, group{g.key.group, g.rows, mean})
	}
	p.gather(&u)
	return u
}

// gather fills base and classes from spread and groups.
func (p *problem) gather(u *unit) {
	u.base, u.classes = u.spread, nil
	if !p.layout.GroupIntercept {
		g := u.groups[0]
		u.base = slices.Clone(u.spread)
		addOuter(u.base, g.mean, g.rows)
		return
	}
	order := make([]int, len(u.groups))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(u.groups[a].rows, u.groups[b].rows) })
	for _, i := range order {
		g := u.groups[i]
		if last := len(u.classes) - 1; last < 0 || u.classes[last].rows != g.rows {
			u.classes = append(u.classes, class{rows: g.rows, outer: make([]float64, len(u.spread))})
		}
		c := &u.classes[len(u.classes)-1]
		c.count++
		addOuter(c.outer, g.mean, 1)
	}
}

// addOuter adds f v v' to an upper triangle.
func addOuter(a, v []float64, f float64) {
	c := 0
	for i, x := range v {
		for _, y := range v[i:] {
			a[c] += f * x * y
			c++
		}
	}
}

// pivotTolerance is the share of a fixed column's sum of squares that must be
// its own: what is below is taken for a copy of the columns before it.
const pivotTolerance = 1e-10

// check finds rank deficiency, a constant response and one that the fixed
// effects fit exactly.
func (p *problem) check() error {
	all := p.total()
	k := p.p + 1
	l := make([]float64, k*k)
	for i := range k {
		for j := range i + 1 {
			l[i*k+j] = all[(p.q+j)*p.m+p.q+i]
		}
	}
	yy := l[k*k-1]
	p.square = yy
	spread := yy
	if p.constant >= 0 {
		spread = yy - l[(k-1)*k+p.constant]*l[(k-1)*k+p.constant]/float64(p.rows)
	}
	if !(spread > 1e-26*float64(p.rows)) {
		return fmt.Errorf("mixed: %w: the response is constant", ErrNoVariance)
	}
	tested := slices.Clone(l)
	semidefinite(tested, k, pivotTolerance)
	var dropped []string
	for j := range p.p {
		if tested[j*k+j] == 0 {
			dropped = append(dropped, p.layout.Fixed[j])
		}
	}
	if len(dropped) > 0 {
		return &RankError{Columns: dropped}
	}
	if !(tested[k*k-1] > 0) || tested[k*k-1]*tested[k*k-1] < exactTolerance*yy {
		return fmt.Errorf("mixed: %w: the fixed effects fit the response exactly", ErrNoVariance)
	}
	return nil
}

// exactTolerance is the share of the response's sum of squares below which
// what is left is rounding.
const exactTolerance = 1e-13

// total is the full m x m matrix of cross-products of all rows.
func (p *problem) total() []float64 {
	packed := make([]float64, p.m*(p.m+1)/2)
	for _, u := range p.units {
		for i, v := range u.base {
			packed[i] += v
		}
		for _, c := range u.classes {
			for i, v := range c.outer {
				packed[i] += c.rows * v
			}
		}
	}
	out := make([]float64, p.m*p.m)
	unpack(out, packed, p.m)
	return out
}

// unpack writes an upper triangle as a full symmetric matrix.
func unpack(full, packed []float64, m int) {
	c := 0
	for i := range m {
		for j := i; j < m; j++ {
			full[i*m+j], full[j*m+i] = packed[c], packed[c]
			c++
		}
	}
}
