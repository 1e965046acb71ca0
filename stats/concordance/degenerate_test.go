package concordance_test

import (
	"errors"
	"math"
	"testing"

	"lengthwise/stats/concordance"
)

func TestDegenerateInput(t *testing.T) {
	block := []int{1, 1, 2, 2}
	a, b := []float64{1, 2, 3, 4}, []float64{2, 1, 4, 5}
	flat := []float64{7, 7, 7, 7}
	never := func(i, j int) bool { return false }
	length, notFinite, none := &concordance.LengthError{}, &concordance.NotFiniteError{}, &concordance.NoPairsError{}
	few, same, outside := &concordance.TooFewError{}, &concordance.NoVariationError{}, &concordance.RangeError{}
	count := func(block []int, a, b []float64, match func(i, j int) bool, tie float64) error {
		_, err := concordance.Count(block, a, b, match, tie)
		return err
	}
	null := func(block []int, a, b []float64, match func(i, j int) bool, n int) error {
		p, err := concordance.NewPairs(block, match)
		if err != nil {
			return err
		}
		_, err = p.Null(a, b, 0, n, 0)
		return err
	}
	interval := func(t concordance.Tally, level float64) error { _, err := t.Interval(level); return err }
	common := func(tallies ...concordance.Tally) error { _, err := concordance.CommonVariances(tallies); return err }
	two := concordance.Tally{Blocks: []int{1, 2}, Concordant: []float64{1, 3}, Discordant: []float64{2, 0}, Tied: []float64{0, 1}}
	agreed := concordance.Tally{Blocks: []int{1, 2}, Concordant: []float64{1, 3}, Discordant: []float64{0, 0}, Tied: []float64{0, 0}}
	empty := concordance.Tally{Blocks: []int{1, 2}, Concordant: []float64{1, 0}, Discordant: []float64{2, 0}, Tied: []float64{0, 0}}
	_, estimateErr := concordance.Tally{}.Estimate()
	cases := []struct {
		name string
		err  error
		want any
	}{
		{"a too short", count(block, a[1:], b, nil, 0), &length},
		{"b too long", count(block, a, append(b, 1), nil, 0), &length},
		{"NaN", count(block, a, []float64{1, 2, math.NaN(), 4}, nil, 0), &notFinite},
		{"no rows", count(nil, nil, nil, nil, 0), &none},
		{"one row a block", count([]int{1, 2, 3, 4}, a, b, nil, 0), &none},
		{"nothing matches", count(block, a, b, never, 0), &none},
		{"negative tie", count(block, a, b, nil, -1), &outside},
		{"tie NaN", count(block, a, b, nil, math.NaN()), &outside},
		{"no tally", estimateErr, &none},
		{"one block", interval(empty, 0.95), &few},
		{"all concordant", interval(agreed, 0.95), &same},
		{"level", interval(two, 3), &outside},
		{"level 0", interval(two, 0), &outside},
		{"level NaN", interval(two, math.NaN()), &outside},
		{"common of none", common(), &few},
		{"common of one block each", common(empty, empty), &few},
		{"common without pairs", common(two, concordance.Tally{}), &none},
		{"common of certainty", common(agreed, empty), &same},
		{"null without pairs", null(block, a, b, never, 99), &none},
		{"null of flat b", null(block, a, flat, nil, 99), &same},
		{"null of flat a", null(block, flat, b, nil, 99), &same},
		{"too few permutations", null(block, a, b, nil, 18), &few},
		{"null NaN", null(block, a, []float64{1, 2, math.NaN(), 4}, nil, 99), &notFinite},
	}
	for _, c := range cases {
		if c.err == nil || !errors.As(c.err, c.want) {
			t.Errorf("%s: got %v, want a %T", c.name, c.err, c.want)
		} else if c.err.Error() == "" {
			t.Errorf("%s: empty message", c.name)
		}
	}
	if err := errors.Join(interval(two, 0.95), common(two, empty, agreed)); err != nil {
		t.Errorf("two blocks: %v", err)
	}
}
