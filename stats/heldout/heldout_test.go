package heldout_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"lengthwise/stats/heldout"
	"lengthwise/stats/linear"
)

// invent makes rows of groups: the response follows the first column.
func invent(seed uint64, groups, rows int, slope float64) (group []int, columns [][]float64, y []float64) {
	r := rand.New(rand.NewPCG(seed, 1))
	columns = make([][]float64, 3)
	for g := range groups {
		for range rows {
			group = append(group, g)
			a, b := r.NormFloat64(), r.NormFloat64()
			for j, v := range []float64{a, b, a*a - 1} {
				columns[j] = append(columns[j], v)
			}
			y = append(y, slope*a+0.3*b+r.NormFloat64())
		}
	}
	return group, columns, y
}

// TestPredictByRefitting: leaving a group out by subtraction is what a fit of
// the other groups' rows gives.
func TestPredictByRefitting(t *testing.T) {
	group, columns, y := invent(1, 6, 9, 0.8)
	rows, err := heldout.New(group, columns, y)
	if err != nil {
		t.Fatal(err)
	}
	for _, used := range [][]int{{0}, {1, 2}, {2, 0, 1}, nil} {
		p, err := rows.Predict(used, -1)
		if err != nil {
			t.Fatal(err)
		}
		for g := range rows.Groups() {
			want := refit(t, group, columns, y, used, g)
			if math.Abs(p.Squared[g]-want) > 1e-9*want || !p.Held[g] {
				t.Errorf("columns %v, group %d: %v, want %v", used, g, p.Squared[g], want)
			}
		}
	}
}

func refit(t *testing.T, group []int, columns [][]float64, y []float64, used []int, out int) float64 {
	t.Helper()
	weights := map[int]float64{}
	if len(used) > 0 {
		names, fit := []string{}, make([][]float64, len(used))
		var response []float64
		for k, j := range used {
			names = append(names, string(rune('a'+j)))
			for i, g := range group {
				if g != out {
					fit[k] = append(fit[k], columns[j][i])
				}
			}
		}
		for i, g := range group {
			if g != out {
				response = append(response, y[i])
			}
		}
		m, err := linear.Fit(linear.Problem{Response: response, Terms: names, Columns: fit})
		if err != nil {
			t.Fatal(err)
		}
		for k, term := range m.Terms {
			weights[int(term[0]-'a')] = m.Estimates[k]
		}
	}
	var sum float64
	for i, g := range group {
		if g == out {
			e := y[i]
			for j, w := range weights {
				e -= w * columns[j][i]
			}
			sum += e * e
		}
	}
	return sum
}

// A column whose weight must be above zero takes no part where the other
// groups would have it below.
func TestSignedColumn(t *testing.T) {
	group, columns, y := invent(2, 8, 12, -0.9)
	rows, err := heldout.New(group, columns, y)
	if err != nil {
		t.Fatal(err)
	}
	alone, err := rows.Predict([]int{0}, 0)
	if err != nil {
		t.Fatal(err)
	}
	beside, err := rows.Predict([]int{1, 0}, 1)
	if err != nil {
		t.Fatal(err)
	}
	without, err := rows.Predict([]int{1}, -1)
	if err != nil {
		t.Fatal(err)
	}
	nothing := rows.Nothing()
	for g := range rows.Groups() {
		if alone.Held[g] || alone.Squared[g] != nothing[g] || beside.Squared[g] != without.Squared[g] {
			t.Errorf("group %d: a weight of the wrong sign was used", g)
		}
	}
	free, err := rows.Predict([]int{0}, -1)
	if err != nil {
		t.Fatal(err)
	}
	if sum(free.Squared) > 0.8*sum(nothing) {
		t.Errorf("free to point either way the column leaves %v of %v", sum(free.Squared), sum(nothing))
	}
}

func sum(v []float64) float64 {
	var s float64
	for _, x := range v {
		s += x
	}
	return s
}

func TestColumnsThatDependOnOthersAreLeftOut(t *testing.T) {
	group, columns, y := invent(3, 5, 8, 0.5)
	twice := make([]float64, len(y))
	for i, v := range columns[0] {
		twice[i] = 2 * v
	}
	columns = append(columns, twice, make([]float64, len(y)))
	rows, err := heldout.New(group, columns, y)
	if err != nil {
		t.Fatal(err)
	}
	one, err := rows.Predict([]int{0}, -1)
	if err != nil {
		t.Fatal(err)
	}
	both, err := rows.Predict([]int{0, 3, 4}, -1)
	if err != nil {
		t.Fatal(err)
	}
	for g := range one.Squared {
		if math.Abs(one.Squared[g]-both.Squared[g]) > 1e-9*one.Squared[g] {
			t.Errorf("group %d: %v, with copies %v", g, one.Squared[g], both.Squared[g])
		}
	}
}

func TestErrors(t *testing.T) {
	group, columns, y := invent(4, 3, 4, 0.5)
	rows, err := heldout.New(group, columns, y)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := rows.Predict([]int{9}, -1); !errors.Is(err, heldout.ErrShape) {
		t.Errorf("a column that is not there: %v", err)
	}
	if _, err := rows.Predict([]int{0}, 1); !errors.Is(err, heldout.ErrShape) {
		t.Errorf("a signed column that is not there: %v", err)
	}
	bad := append([]float64{math.NaN()}, y[1:]...)
	for name, c := range map[string]struct {
		group    []int
		response []float64
		want     error
	}{
		"nothing":        {nil, nil, heldout.ErrShape},
		"lengths":        {group, y[1:], heldout.ErrShape},
		"one group":      {make([]int, len(y)), y, heldout.ErrTooFewGroups},
		"negative group": {append([]int{-1}, group[1:]...), y, heldout.ErrShape},
		"not a number":   {group, bad, heldout.ErrNotFinite},
	} {
		if _, err := heldout.New(c.group, columns, c.response); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
}
