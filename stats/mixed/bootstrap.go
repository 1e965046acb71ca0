package mixed

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Bootstrap is a parametric bootstrap of a model.
type Bootstrap struct {
	Parameters []Parameter
	// Draws holds a row for each refitted sample, in the order of Parameters.
	// A correlation that is not defined (a variance at zero) is marked false in
	// Defined, its value then being 0.
	Draws   [][]float64
	Defined [][]bool
	// Failed counts samples whose refit could not be verified; they have no row.
	Failed int
}

// Bootstrap simulates samples from the fitted model and refits each by the
// model's method. Sample i depends on the seed and i alone. The samples
// are drawn as sufficient statistics, from their exact distribution: given the
// cross-products of a unit's columns about the group means, W = L L', those
// with the errors are s L z, z standard normal, and the errors' own sum of
// squares s^2 (z'z + chi-square with the degrees of freedom left); the means of the
// groups' errors are independent of both (Cochran's theorem). So the cost does
// not depend on the rows.
//
// Errors: ErrArgument (no samples), ErrNotVerified (every refit failed).
func (m *Model) Bootstrap(samples int, seed uint64) (*Bootstrap, error) {
	if samples < 1 {
		return nil, fmt.Errorf("mixed: %w: %d samples", ErrArgument, samples)
	}
	out := &Bootstrap{Parameters: m.List()}
	simulator := newSimulator(m.problem, m.inner.point, m.inner.solved.beta)
	for i := range samples {
		refit, err := simulator.draw(rand.NewPCG(seed, uint64(i))).fit(m.Method)
		if err != nil {
			if errors.Is(err, ErrNotVerified) || errors.Is(err, ErrNoVariance) {
				out.Failed++
				continue
			}
			return nil, err
		}
		row, defined := make([]float64, len(out.Parameters)), make([]bool, len(out.Parameters))
		for k, q := range out.Parameters {
			if row[k], defined[k], err = refit.Value(q); err != nil {
				return nil, err
			}
		}
		out.Draws, out.Defined = append(out.Draws, row), append(out.Defined, defined)
	}
	if len(out.Draws) == 0 {
		return nil, fmt.Errorf("mixed: %w: in none of %d samples", ErrNotVerified, samples)
	}
	return out, nil
}

// Interval gives the percentile interval of a parameter over the draws in which
// it is defined, quantiles by linear interpolation (type 7 of Hyndman and Fan
// 1996, The American Statistician 50:361), and the number of those draws.
// Errors: ErrTerm, ErrArgument (level), ErrNoVariance (defined in no draw).
func (b *Bootstrap) Interval(q Parameter, level float64) (low, high float64, draws int, err error) {
	if err := checkLevel(level); err != nil {
		return 0, 0, 0, err
	}
	k := slices.Index(b.Parameters, q)
	if k < 0 {
		return 0, 0, 0, fmt.Errorf("mixed: %w: %v", ErrTerm, q)
	}
	var values []float64
	for i, row := range b.Draws {
		if b.Defined[i][k] {
			values = append(values, row[k])
		}
	}
	if len(values) == 0 {
		return 0, 0, 0, fmt.Errorf("mixed: %w: %v is defined in no draw", ErrNoVariance, q)
	}
	slices.Sort(values)
	return quantile(values, (1-level)/2), quantile(values, (1+level)/2), len(values), nil
}

func quantile(sorted []float64, p float64) float64 {
	h := p * float64(len(sorted)-1)
	i := int(math.Min(math.Floor(h), float64(len(sorted)-1)))
	j := min(i+1, len(sorted)-1)
	return sorted[i] + (h-float64(i))*(sorted[j]-sorted[i])
}

// simulator draws responses, as sums, from variance parameters and fixed effects
// in the internal units of a problem.
type simulator struct {
	p     *problem
	point point
	beta  []float64
	roots [][]float64 // of each unit's spread of (z, x), lower triangle
	ranks []int
}

func newSimulator(p *problem, at point, beta []float64) *simulator {
	k := p.m - 1
	s := &simulator{p: p, point: at, beta: beta}
	full := make([]float64, p.m*p.m)
	for _, u := range p.units {
		unpack(full, u.spread, p.m)
		root := make([]float64, k*k)
		for i := range k {
			copy(root[i*k:(i+1)*k], full[i*p.m:i*p.m+k])
		}
		// Random columns repeat fixed ones: zero pivots are expected.
		rank := semidefinite(root, k, 1e-11)
		s.roots, s.ranks = append(s.roots, root), append(s.ranks, rank)
	}
	return s
}

// draw gives the problem with a new response.
func (s *simulator) draw(source rand.Source) *problem {
	p := s.p
	random := rand.New(source)
	k := p.m - 1
	sigma, between := math.Sqrt(s.point.residual), math.Sqrt(s.point.between)
	out := *p
	out.units = make([]unit, len(p.units))
	full := make([]float64, p.m*p.m)
	for i, u := range p.units {
		coefficient := make([]float64, k) // of (z, x): random and fixed effects
		z := make([]float64, max(p.q, k))
		for j := range p.q {
			z[j] = random.NormFloat64()
		}
		copy(coefficient, multiply(s.point.factor, z[:p.q], p.q, p.q, 1))
		copy(coefficient[p.q:], s.beta)

		unpack(full, u.spread, p.m)
		root := s.roots[i]
		errors := make([]float64, k) // W with the errors
		var square float64
		for j := range k {
			if root[j*k+j] == 0 {
				continue // the column has no direction of its own
			}
			e := sigma * random.NormFloat64()
			square += e * e
			for r := j; r < k; r++ {
				errors[r] += root[r*k+j] * e
			}
		}
		if left := u.rows - len(u.groups) - s.ranks[i]; left > 0 {
			square += sigma * sigma * distuv.ChiSquared{K: float64(left), Src: source}.Rand()
		}
		signal := make([]float64, k)
		for r := range k {
			signal[r] = dot(full[r*p.m:r*p.m+k], coefficient)
		}
		yy := dot(coefficient, signal) + 2*dot(coefficient, errors) + square
		for r := range k {
			full[r*p.m+k] = signal[r] + errors[r]
		}
		full[p.m*p.m-1] = math.Max(0, yy)
		n := unit{label: u.label, rows: u.rows, spread: packUpper(full, p.m)}
		for _, g := range u.groups {
			mean := slices.Clone(g.mean)
			mean[k] = dot(mean[:k], coefficient) + sigma/math.Sqrt(g.rows)*random.NormFloat64()
			if p.layout.GroupIntercept {
				mean[k] += between * random.NormFloat64()
			}
			n.groups = append(n.groups, group{g.label, g.rows, mean})
		}
		out.gather(&n)
		out.units[i] = n
	}
	return &out
}
