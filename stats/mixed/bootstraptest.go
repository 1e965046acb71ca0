package mixed

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// BootstrapTest is a likelihood-ratio test whose distribution under the smaller
// model was simulated.
type BootstrapTest struct {
	Statistic float64 // as in LikelihoodRatioTest
	// PValue is (1 + draws at least as large as Statistic)/(1 + draws), which
	// SmallestP bounds from below (Davison and Hinkley 1997, eq. 4.11).
	PValue, SmallestP float64
	Draws             []float64 // the statistic of each sample, in the order of samples
	Failed            int       // samples in which a refit could not be verified
}

// BootstrapLikelihoodRatio tests the smaller model against the larger, like
// [LikelihoodRatio], by refitting both to samples simulated from the smaller one:
// for variances on their boundary and few units, where chi-square and its mixtures
// do not hold. Samples are sufficient statistics as in [Model.Bootstrap]; sample i
// depends on the seed and i alone.
//
// Errors: those of LikelihoodRatio, ErrArgument for fewer than 19 samples (the
// p-value could not reach 0.05), ErrNotVerified when one in ten refits fails.
func BootstrapLikelihoodRatio(small, large *Model, samples int, seed uint64) (BootstrapTest, error) {
	observed, err := LikelihoodRatio(small, large)
	if err != nil {
		return BootstrapTest{}, err
	}
	if samples < 19 {
		return BootstrapTest{}, fmt.Errorf("mixed: %w: %d samples, at least 19 are needed", ErrArgument, samples)
	}
	at, beta, err := large.parametersOf(small)
	if err != nil {
		return BootstrapTest{}, err
	}
	out := BootstrapTest{Statistic: observed.Statistic}
	simulator := newSimulator(large.problem, at, beta)
	asLarge := 0
	for i := range samples {
		p := simulator.draw(rand.NewPCG(seed, uint64(i)))
		statistic, err := p.ratio(small.Layout, small.Method)
		if errors.Is(err, ErrNotVerified) || errors.Is(err, ErrNoVariance) {
			out.Failed++
			continue
		}
		if err != nil {
			return BootstrapTest{}, err
		}
		out.Draws = append(out.Draws, statistic)
		// The same minimum found twice differs by rounding: a tie counts.
		if statistic >= observed.Statistic-1e-8 {
			asLarge++
		}
	}
	if 10*out.Failed >= samples {
		return BootstrapTest{}, fmt.Errorf("mixed: %w: in %d of %d samples", ErrNotVerified, out.Failed, samples)
	}
	out.PValue = float64(1+asLarge) / float64(1+len(out.Draws))
	out.SmallestP = 1 / float64(1+len(out.Draws))
	return out, nil
}

// ratio fits the problem, and its special case of the layout, and gives the
// difference of the criteria.
func (p *problem) ratio(l Layout, method Method) (float64, error) {
	large, err := p.fit(method)
	if err != nil {
		return 0, err
	}
	sums, err := p.sums(l)
	if err != nil {
		return 0, err
	}
	small, err := Fit(sums, Options{Method: method})
	if err != nil {
		return 0, err
	}
	return math.Max(0, small.Criterion-large.Criterion), nil
}

// parametersOf gives the parameters of a special case in the internal units of m's
// problem.
func (m *Model) parametersOf(small *Model) (at point, beta []float64, err error) {
	p, in := m.problem, m.inner
	singular := fmt.Errorf("mixed: %w: units of the columns lie too far apart", ErrNotFinite)
	raw := make([]float64, p.p)
	for i, name := range m.Layout.Fixed {
		if j := slices.Index(small.Layout.Fixed, name); j >= 0 {
			raw[i] = small.Estimates[j]
		}
		raw[i] -= in.shift[i]
	}
	back, ok := invert(in.back, p.p)
	if !ok {
		return point{}, nil, singular
	}
	beta = multiply(back, raw, p.p, p.p, 1)
	covariance := make([]float64, p.q*p.q)
	for a, one := range m.Layout.Random {
		for b, other := range m.Layout.Random {
			i, j := slices.Index(small.Layout.Random, one), slices.Index(small.Layout.Random, other)
			if i >= 0 && j >= 0 {
				covariance[a*p.q+b] = small.Random.At(i, j)
			}
		}
	}
	y := p.vars[p.m-1].scale
	at = point{between: small.GroupSD * small.GroupSD / (y * y), residual: small.ResidualSD * small.ResidualSD / (y * y)}
	if p.q > 0 {
		down, ok := invert(in.lift, p.q)
		if !ok {
			return point{}, nil, singular
		}
		factor := congruence(down, covariance, p.q, p.q)
		semidefinite(factor, p.q, 1e-12)
		for i := range p.q { // the lower triangle is the factor
			for j := i + 1; j < p.q; j++ {
				factor[i*p.q+j] = 0
			}
		}
		at.factor = factor
	}
	return at, beta, nil
}

// sums gives the problem back as sums in the units of the data, for a layout that
// asks for some of its columns. What spreads about the means of the groups is put
// into the first group of a unit: the likelihood knows only its sum.
func (p *problem) sums(l Layout) (*Sums, error) {
	s, err := NewSums(l)
	if err != nil {
		return nil, err
	}
	columns := p.layout.Columns()
	at := make([]int, s.width) // of each column of the sums, the variable
	for j, name := range s.columns {
		source := slices.Index(columns, name)
		at[j] = slices.IndexFunc(p.vars, func(v variable) bool { return v.source == source })
	}
	at[len(s.columns)] = p.m - 1
	full := make([]float64, p.m*p.m)
	part := &Sums{layout: s.layout, columns: s.columns, width: s.width, stride: s.stride, index: map[groupKey]int{}}
	for _, u := range p.units {
		unpack(full, u.spread, p.m)
		for i, g := range u.groups {
			clear(part.index)
			part.groups, part.counts, part.values, part.rows = nil, nil, nil, int(g.rows)
			place := part.place(u.label, g.label)
			part.counts[place] = int(g.rows)
			values := part.values[place*part.stride:]
			c := 2 * s.width
			for a, v := range at {
				values[a] = g.mean[v]*p.vars[v].scale + p.vars[v].centre
				for _, w := range at[a:] {
					if i == 0 {
						values[c] = full[v*p.m+w] * p.vars[v].scale * p.vars[w].scale
					}
					c++
				}
			}
			if err := s.Merge(part); err != nil {
				return nil, err
			}
		}
	}
	return s, nil
}
