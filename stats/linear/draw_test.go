package linear

import (
	"math/rand/v2"
	"testing"
)

// layout says how absorbed groups and clusters of a drawn problem relate.
type layout int

const (
	noGroups layout = iota
	groupsAreClusters
	groupsNested
	groupsCrossed
)

// drawProblem draws a problem of modest size in which every group has two rows
// or more.
func drawProblem(r *rand.Rand, where layout, weighted bool) Problem {
	var p Problem
	clusters := 5 + r.IntN(5)
	for c := range clusters {
		for i := range 4 + r.IntN(6) {
			p.Cluster = append(p.Cluster, 100-7*c)
			switch where {
			case groupsAreClusters:
				p.Absorb = append(p.Absorb, 3*c)
			case groupsNested:
				p.Absorb = append(p.Absorb, 2*c+i%2)
			case groupsCrossed:
				p.Absorb = append(p.Absorb, i%3)
			}
		}
	}
	n := len(p.Cluster)
	level := make(map[int]float64)
	noise := make([]float64, n)
	x := [][]float64{make([]float64, n), make([]float64, n), make([]float64, n)}
	for i, c := range p.Cluster {
		if _, ok := level[c]; !ok {
			level[c] = r.NormFloat64()
		}
		noise[i] = r.NormFloat64() + level[c]
		x[0][i] = r.NormFloat64() + level[c]
		x[1][i] = r.ExpFloat64()
		x[2][i] = 0.4*x[0][i] + 0.2*float64(i%4) + 0.3*r.NormFloat64()
	}
	p.Terms, p.Columns = []string{"a", "b", "c"}, x
	if where == noGroups {
		p.Terms, p.Columns = append(p.Terms, "one"), append(p.Columns, ones(n))
	}
	if weighted {
		p.Weights = make([]float64, n)
		for i := range p.Weights {
			p.Weights[i] = 0.3 + 3*r.Float64()
		}
	}
	p.Response = make([]float64, n)
	for i := range p.Response {
		p.Response[i] = 50 + 2*x[0][i] - x[1][i] + 0.5*x[2][i] + 3*noise[i]
	}
	return p
}

// drawn runs a check on problems of every layout, with and without weights and
// under every working model.
func drawn(t *testing.T, check func(t *testing.T, p Problem)) {
	for where, name := range []string{"no groups", "groups are clusters", "nested", "crossed"} {
		for _, weighted := range []bool{false, true} {
			for working := EqualVariances; working <= InverseWeightsPublished; working++ {
				kind := name
				switch {
				case weighted:
					kind += ", weighted, " + working.String()
				case working != EqualVariances:
					continue
				}
				t.Run(kind, func(t *testing.T) {
					for seed := range uint64(12) {
						p := drawProblem(rand.New(rand.NewPCG(seed, 1)), layout(where), weighted)
						p.Working = working
						check(t, p)
						if t.Failed() {
							t.Fatalf("with seed %d", seed)
						}
					}
				})
			}
		}
	}
}
