package linear

import (
	"errors"
	"testing"
)

// TestWithoutGroups: the deletion formula gives what a fit to the other rows
// gives.
func TestWithoutGroups(t *testing.T) {
	compared := 0
	drawn(t, func(t *testing.T, p Problem) {
		m := mustFit(t, p)
		all, err := m.WithoutGroups()
		if p.Absorb == nil {
			if !errors.Is(err, ErrNoClusters) {
				t.Errorf("without groups: error %v", err)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		seen := map[int]int{}
		for _, code := range p.Absorb {
			if _, ok := seen[code]; !ok {
				seen[code] = len(seen)
			}
		}
		for code, g := range seen {
			other := without(p, code)
			slow, err := Fit(other)
			if err != nil || len(slow.Terms) != len(m.Terms) {
				continue // the rest does not tell the terms apart
			}
			if all[g] == nil {
				t.Errorf("group %d: no estimates, though the other rows give them", code)
				continue
			}
			compared++
			for i, v := range slow.Estimates {
				checkClose(t, "estimate without "+m.Terms[i], all[g][i], v, 1e-8)
			}
		}
	})
	if compared == 0 {
		t.Error("nothing was compared")
	}
}

// without leaves a group's rows out of a problem.
func without(p Problem, code int) Problem {
	q := Problem{Terms: p.Terms, Columns: make([][]float64, len(p.Columns))}
	for i, c := range p.Absorb {
		if c == code {
			continue
		}
		q.Response = append(q.Response, p.Response[i])
		q.Absorb = append(q.Absorb, c)
		q.Cluster = append(q.Cluster, p.Cluster[i])
		if p.Weights != nil {
			q.Weights = append(q.Weights, p.Weights[i])
		}
		for j := range p.Columns {
			q.Columns[j] = append(q.Columns[j], p.Columns[j][i])
		}
	}
	return q
}

// TestWithoutAGroupThatDecides: a term that varies in one group only cannot be
// estimated without it.
func TestWithoutAGroupThatDecides(t *testing.T) {
	m := mustFit(t, Problem{
		Response: []float64{1, 2, 4, 3, 5, 4}, Terms: []string{"x"}, Columns: [][]float64{{0, 1, 2, 5, 5, 5}},
		Absorb: []int{1, 1, 1, 2, 2, 2},
	})
	all, err := m.WithoutGroups()
	if err != nil || all[0] != nil || all[1] == nil {
		t.Errorf("got %v, %v", all, err)
	}
}
