package resample

import "fmt"

// A Plan is a fixed set of resamples of units 0 to Units()-1. It is
// immutable: copies share it and any number of goroutines may read it.
type Plan struct {
	units      int
	replicates int
	seed       uint64
	groups     [][]int // members of each group in order of first appearance; nil for one level
	pickGroups bool    // draw the groups as well as their members
	stored     [][]int // draws given by the caller, instead of the seed
}

// Clusters plans a one-level cluster bootstrap: each replicate draws as many
// of the units as there are, with replacement. It fails with a *[TooFewError]
// for fewer than two units or one replicate.
func Clusters(units, replicates int, seed uint64) (Plan, error) {
	if units < 2 {
		return Plan{}, &TooFewError{What: "clusters", Got: units, Need: 2}
	}
	if replicates < 1 {
		return Plan{}, &TooFewError{What: "replicates", Got: replicates, Need: 1}
	}
	return Plan{units: units, replicates: replicates, seed: seed}, nil
}

// WithinGroups plans a stratified cluster bootstrap: group[u] is the group of
// unit u, and each replicate draws, in every group, as many of its units as
// it has, with replacement. The groups themselves stay as they are, so an
// interval speaks about these groups and no others.
//
// It fails with a *[TooFewError] if no group has two units: every replicate
// would then be the data.
func WithinGroups(group []int, replicates int, seed uint64) (Plan, error) {
	p, err := Clusters(len(group), replicates, seed)
	if err != nil {
		return Plan{}, err
	}
	p.groups = members(group)
	largest := 0
	for _, m := range p.groups {
		largest = max(largest, len(m))
	}
	if largest < 2 {
		return Plan{}, &TooFewError{What: "clusters in the largest group", Got: largest, Need: 2}
	}
	return p, nil
}

// GroupsThenWithin plans a two-level bootstrap: each replicate draws as many
// groups as there are, with replacement, and then within each draw as many of
// that group's units as it has, with replacement. An interval speaks about
// groups like these. Resampling the lower level too overstates the variance
// between groups a little when groups have few units (Davison and Hinkley
// 1997, section 3.8).
//
// It fails with a *[TooFewError] for fewer than two groups.
func GroupsThenWithin(group []int, replicates int, seed uint64) (Plan, error) {
	p, err := Clusters(len(group), replicates, seed)
	if err != nil {
		return Plan{}, err
	}
	p.groups = members(group)
	if len(p.groups) < 2 {
		return Plan{}, &TooFewError{What: "groups", Got: len(p.groups), Need: 2}
	}
	p.pickGroups = true
	return p, nil
}

// Stored makes a plan of draws made elsewhere: draws[b] lists the units of
// replicate b, numbered from zero. The draws are copied. It fails with a
// *[RangeError] for a unit outside 0 to units-1.
func Stored(units int, draws [][]int) (Plan, error) {
	p, err := Clusters(units, len(draws), 0)
	if err != nil {
		return Plan{}, err
	}
	p.stored = make([][]int, len(draws))
	for b, row := range draws {
		for _, u := range row {
			if u < 0 || u >= units {
				return Plan{}, &RangeError{What: fmt.Sprintf("unit in replicate %d", b), Value: float64(u),
					Want: fmt.Sprintf("0 to %d", units-1)}
			}
		}
		p.stored[b] = append([]int(nil), row...)
	}
	return p, nil
}

// Units returns the number of units that are resampled.
func (p Plan) Units() int { return p.units }

// Replicates returns the number of resamples.
func (p Plan) Replicates() int { return p.replicates }

// Weights fills weights, of length Units(), with the number of times each
// unit is drawn in replicate b. It allocates nothing. It panics if weights
// has another length or b is not one of the plan's replicates.
func (p Plan) Weights(b int, weights []float64) {
	if len(weights) != p.units {
		panic(fmt.Sprintf("resample: weights of length %d for %d units", len(weights), p.units))
	}
	clear(weights)
	p.each(b, func(u int) { weights[u]++ })
}

// Indices appends the units drawn in replicate b to draws and returns it. It
// panics if b is not one of the plan's replicates.
func (p Plan) Indices(b int, draws []int) []int {
	p.each(b, func(u int) { draws = append(draws, u) })
	return draws
}

// each calls yield for every unit drawn in replicate b.
func (p Plan) each(b int, yield func(unit int)) {
	if b < 0 || b >= p.replicates {
		panic(fmt.Sprintf("resample: replicate %d of %d", b, p.replicates))
	}
	if p.stored != nil {
		for _, u := range p.stored[b] {
			yield(u)
		}
		return
	}
	s := NewStream(p.seed, b)
	if p.groups == nil {
		for range p.units {
			yield(s.Below(p.units))
		}
		return
	}
	for g := range p.groups {
		group := p.groups[g]
		if p.pickGroups {
			group = p.groups[s.Below(len(p.groups))]
		}
		for range group {
			yield(group[s.Below(len(group))])
		}
	}
}

// members lists the units of each group, groups in order of first appearance
// so that their labels do not matter.
func members(group []int) [][]int {
	var out [][]int
	number := make(map[int]int)
	for u, g := range group {
		n, seen := number[g]
		if !seen {
			n = len(out)
			number[g] = n
			out = append(out, nil)
		}
		out[n] = append(out[n], u)
	}
	return out
}
