package mixed

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// randomProblem makes a small problem with variances of any size, often zero.
func randomProblem(r *rand.Rand) *Sums {
	effects := [][]string{{"1"}, {"1", "a"}, {"1", "a", "b"}, {"a"}, {"a", "b"}}
	l := Layout{Fixed: []string{"1", "a", "b"}, Random: effects[r.IntN(5)], Independent: r.IntN(3) == 0, GroupIntercept: r.IntN(2) == 0}
	s, err := NewSums(l)
	if err != nil {
		panic(err)
	}
	unitSD, groupSD, sd := math.Exp(2*r.NormFloat64()-1), math.Exp(2*r.NormFloat64()-1), math.Exp(r.NormFloat64())
	if r.IntN(4) == 0 {
		unitSD = 0
	}
	if r.IntN(4) == 0 {
		groupSD = 0
	}
	for u := range 5 + r.IntN(12) {
		e := [3]float64{unitSD * r.NormFloat64(), unitSD * r.NormFloat64(), unitSD * r.NormFloat64()}
		for g := range 1 + r.IntN(4) {
			c := groupSD * r.NormFloat64()
			for range 1 + r.IntN(5) {
				row := []float64{1, r.NormFloat64(), r.NormFloat64() + 1}
				y := c + sd*r.NormFloat64() + e[0]*row[0] + e[1]*row[1] + e[2]*row[2]
				if err := s.Add(fmt.Sprint(u), fmt.Sprint(g), row, y); err != nil {
					panic(err)
				}
			}
		}
	}
	return s
}

// TestNoLowerMinimum: from random starts Newton's method finds nothing lower
// than the search did, and the search fails on no problem.
func TestNoLowerMinimum(t *testing.T) {
	r := rand.New(rand.NewPCG(77, 2))
	boundary := 0
	const problems = 120
	for i := range problems {
		s := randomProblem(r)
		method := Method(r.IntN(2))
		m, err := Fit(s, Options{Method: method})
		if err != nil {
			t.Errorf("problem %d, %+v: %v", i, s.layout, err)
			continue
		}
		if !m.Check.Verified || m.Check.Decrement > settled || m.Check.SmallestCurvature <= 0 {
			t.Errorf("problem %d: %+v", i, m.Check)
		}
		if len(m.Check.Boundary) > 0 {
			boundary++
		}
		for range 3 {
			q := m.problem.newSearch(method == REML)
			x := q.start(starts[0])
			active := make([]int, len(x))
			for k := range x {
				active[k] = k
				x[k] += math.Exp(r.NormFloat64()) * r.NormFloat64()
			}
			if other := newton(q.on(active), x); other.ok && other.value < m.optimum.value-1e-7 {
				t.Errorf("problem %d, %+v: from %v the criterion is lower by %v", i, s.layout, x, m.optimum.value-other.value)
			}
		}
	}
	if boundary < problems/5 {
		t.Errorf("%d of %d problems at a boundary: too few to prove anything", boundary, problems)
	}
}

// TestDerivatives compares gradient and Hessian of both criteria in chart
// coordinates with differences, away from any optimum.
func TestDerivatives(t *testing.T) {
	r := rand.New(rand.NewPCG(78, 1))
	for i := range 20 {
		p, err := newProblem(randomProblem(r))
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []*chart{p.standardChart(false), p.standardChart(true)} {
			// Any lift will do (profiles have one), a diagonal one when the
			// random effects are independent.
			for k := range c.lift {
				if !p.layout.Independent || k%(p.q+1) == 0 {
					c.lift[k] += 0.3 * r.NormFloat64()
				}
			}
			x := make([]float64, c.size())
			for k := range x {
				x[k] = 0.5 + r.Float64()
			}
			w := p.newWorkspace()
			restricted := i%2 == 0
			_, g, h, ok := c.at(x, restricted, w)
			if !ok {
				t.Fatal("no value")
			}
			n := len(x)
			for a := range n {
				const step = 1e-5
				up, down := append([]float64(nil), x...), append([]float64(nil), x...)
				up[a] += step
				down[a] -= step
				v1, g1, _, _ := c.at(up, restricted, w)
				v2, g2, _, _ := c.at(down, restricted, w)
				compare(t, "gradient", g[a], (v1-v2)/(2*step), 1e-6)
				for b := range n {
					compare(t, "Hessian", h[a*n+b], (g1[b]-g2[b])/(2*step), 1e-6)
				}
			}
		}
	}
}

func compare(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*(1+math.Abs(want))*10) {
		t.Errorf("%s %.12g, by differences %.12g", what, got, want)
	}
}

// TestSingularStart: errors are the typed ones where components cannot be told
// apart by accident of tiny data.
func TestSingularStart(t *testing.T) {
	s, err := NewSums(Layout{Fixed: []string{"1"}, Random: []string{"1", "a"}})
	if err != nil {
		t.Fatal(err)
	}
	// a is one constant in each unit: its random effect is the intercept's.
	for i, y := range []float64{1, 2, 4, 3, 7, 5} {
		if err := s.Add(fmt.Sprint(i/2), "", []float64{1, 2}, y); err != nil {
			t.Fatal(err)
		}
	}
	_, err = Fit(s, Options{})
	var which *NotIdentifiedError
	if !errors.As(err, &which) || !errors.Is(err, ErrNotIdentified) {
		t.Errorf("got %v, want a *NotIdentifiedError", err)
	}
}
