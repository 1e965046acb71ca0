package concordance

import (
	"cmp"
	"math"
	"slices"

	"lengthwise/stats/resample"
)

// Null is the distribution of the estimate when b is permuted within blocks.
type Null struct {
	Observed  float64 // the estimate of the data
	Mean      float64 // of the permutations
	Low, High float64 // the central 95 % of the permutations
	// P is (1 + n)/(1 + Permutations), n the number of permutations at least
	// as far from one half as the data, in either direction (Phipson and Smyth
	// 2010, Statistical Applications in Genetics and Molecular Biology 9:39).
	P float64
	// SmallestP is the smallest P that blocks of these sizes and so many permutations
	// allow, so that a reader knows what could not have been shown.
	SmallestP    float64
	Permutations int
}

// nullLevel is the coverage of Null.Low to Null.High.
const nullLevel = 0.95

// Null compares a with permutations of b within blocks, which keep the
// values, the blocks and the pairs, and take away any tie between a and b.
//
// By symmetry the mean is one half exactly, but for Monte-Carlo error: for
// every permutation there is another that swaps the two values of a pair. So
// Mean checks the counting, and what it says of the data lies in Low, High
// and P. It does not show a bias that arises before the values reach this
// package (adjusted on a noisy third column, say): compare simulations.
//
// P is two-sided about one half, and exact if the rows of a block are
// exchangeable. Only rows in a pair are permuted. Errors are those of
// [Pairs.Count], a *[TooFewError] for fewer than 19 permutations (P could not
// reach 0.05), and a *[NoVariationError] if a or b is tied in every pair.
func (p *Pairs) Null(a, b []float64, tie float64, permutations int, seed uint64) (Null, error) {
	if permutations < 19 {
		return Null{}, &TooFewError{What: "permutations", Got: permutations, Need: 19}
	}
	tally, err := p.Count(a, b, tie)
	if err != nil {
		return Null{}, err
	}
	plans := p.plan(a, b, tie)
	if !differs(plans) {
		return Null{}, &NoVariationError{What: "a or b is tied in every pair, permuting changes nothing"}
	}

	total := p.Len()
	concordant, discordant, _ := tally.totals()
	observed := int(concordant) - int(discordant)
	nets := make([]int, permutations)
	permute(plans, seed, nets)

	estimate := func(net int) float64 { return 0.5 + float64(net)/float64(2*total) }
	out := Null{Observed: estimate(observed), Permutations: permutations}
	further, sum := 0, 0
	values := make([]float64, permutations)
	for k, net := range nets {
		if abs(net) >= abs(observed) {
			further++
		}
		sum += net
		values[k] = estimate(net)
	}
	slices.Sort(values)
	out.Mean = 0.5 + float64(sum)/float64(2*total)/float64(permutations)
	out.Low = resample.Quantile(values, (1-nullLevel)/2)
	out.High = resample.Quantile(values, (1+nullLevel)/2)
	out.P = float64(1+further) / float64(1+permutations)
	out.SmallestP = p.smallestP(permutations)
	return out, nil
}

// smallestP is 1/(1+permutations), or, when the blocks are so small that there are
// fewer different arrangements, 2 over their number (an arrangement and its mirror
// image are equally far from one half). Equal values make it larger still.
func (p *Pairs) smallestP(permutations int) float64 {
	var logArrangements float64
	for _, b := range p.blocks {
		l, _ := math.Lgamma(float64(len(b.rows) + 1))
		logArrangements += l
	}
	return max(1/float64(1+permutations), 2*math.Exp(-logArrangements))
}

// blockPlan is what permuting one block needs.
type blockPlan struct {
	rows  [][2]float64 // values of a and b by position
	pairs []signedPair // pairs in which a differs
	// held[i] says whose value of b position i holds. It is shuffled in place.
	held []int32
	// signs holds the direction from one value of b to another: entry
	// u*len(rows) + v is that of the value of u less that of v.
	signs []int8
}

// signedPair is a pair ordered so that a is larger at i.
type signedPair struct{ i, j int32 }

// plan lays out blocks and rows by their values, so that what is drawn does
// not depend on labels or on the order of rows.
func (p *Pairs) plan(a, b []float64, tie float64) []blockPlan {
	var out []blockPlan
	for _, block := range p.blocks {
		if len(block.pairs) == 0 {
			continue
		}
		order := make([]int, len(block.rows))
		for i := range order {
			order[i] = i
		}
		slices.SortFunc(order, func(x, y int) int {
			rx, ry := block.rows[x], block.rows[y]
			return cmp.Or(cmp.Compare(a[rx], a[ry]), cmp.Compare(b[rx], b[ry]), cmp.Compare(x, y))
		})
		place := make([]int32, len(order))
		plan := blockPlan{rows: make([][2]float64, len(order))}
		for to, from := range order {
			r := block.rows[from]
			place[from] = int32(to)
			plan.rows[to] = [2]float64{a[r], b[r]}
		}
		for _, q := range block.pairs {
			i, j := place[q.i], place[q.j]
			switch direction(a[block.rows[q.i]]-a[block.rows[q.j]], tie) {
			case 1:
				plan.pairs = append(plan.pairs, signedPair{i, j})
			case -1:
				plan.pairs = append(plan.pairs, signedPair{j, i})
			}
		}
		slices.SortFunc(plan.pairs, func(x, y signedPair) int {
			return cmp.Or(cmp.Compare(x.i, y.i), cmp.Compare(x.j, y.j))
		})
		plan.tabulate(tie)
		out = append(out, plan)
	}
	slices.SortStableFunc(out, func(x, y blockPlan) int {
		return cmp.Or(
			slices.CompareFunc(x.rows, y.rows, func(u, v [2]float64) int {
				return cmp.Or(cmp.Compare(u[0], v[0]), cmp.Compare(u[1], v[1]))
			}),
			slices.CompareFunc(x.pairs, y.pairs, func(u, v signedPair) int {
				return cmp.Or(cmp.Compare(u.i, v.i), cmp.Compare(u.j, v.j))
			}))
	})
	return out
}

// tabulate fills held and signs. The table has one byte for each pair of
// rows, less than the list of pairs when most pairs are admitted.
func (p *blockPlan) tabulate(tie float64) {
	n := len(p.rows)
	p.held = make([]int32, n)
	p.signs = make([]int8, n*n)
	for u, first := range p.rows {
		p.held[u] = int32(u)
		for v, second := range p.rows {
			p.signs[u*n+v] = int8(direction(first[1]-second[1], tie))
		}
	}
}

// differs says whether any permutation can give a pair that is not tied.
func differs(plans []blockPlan) bool {
	return slices.ContainsFunc(plans, func(p blockPlan) bool {
		return len(p.pairs) > 0 && slices.Contains(p.signs, 1)
	})
}

// permute fills nets with concordant minus discordant pairs of each
// permutation. It shuffles the plans' values and allocates nothing.
func permute(plans []blockPlan, seed uint64, nets []int) {
	s := resample.NewStream(seed, 0)
	for k := range nets {
		net := 0
		for b := range plans {
			net += plans[b].shuffled(&s)
		}
		nets[k] = net
	}
}

// shuffled permutes b and returns concordant minus discordant pairs.
func (p *blockPlan) shuffled(s *resample.Stream) int {
	resample.Shuffle(s, p.held)
	held, signs, n := p.held, p.signs, len(p.held)
	net := 0
	for _, q := range p.pairs {
		net += int(signs[int(held[q.i])*n+int(held[q.j])])
	}
	return net
}

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}
