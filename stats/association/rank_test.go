package association_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"lengthwise/stats/association"
)

// TestTauIsSymmetric covers ties in either column: tau-b of x and y is that of
// y and x, and its square is the product of the two D.
func TestTauIsSymmetric(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 12).Draw(t, "rows")
		draw := func(name string) []float64 {
			v := make([]float64, n)
			for i := range v {
				v[i] = float64(rapid.IntRange(0, 4).Draw(t, name))
			}
			return v
		}
		x, y := draw("x"), draw("y")
		tau, err := association.Kendall(x, y)
		if err != nil {
			t.Skip("a column is flat")
		}
		turned, err1 := association.Kendall(y, x)
		yx, err2 := association.SomersD(x, y)
		xy, err3 := association.SomersD(y, x)
		if err := errors.Join(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		if tau != turned || math.Abs(tau*tau-yx*xy) > 1e-14 || math.Abs(tau) > 1 {
			t.Fatalf("tau %v and %v, D %v and %v", tau, turned, yx, xy)
		}
	})
}

func TestRanksOfDegenerateInput(t *testing.T) {
	flat, ramp := []float64{4, 4, 4}, []float64{1, 2, 3}
	few, same, notFinite := &association.TooFewError{}, &association.NoVariationError{}, &association.NotFiniteError{}
	kendall := func(x, y []float64) error { _, err := association.Kendall(x, y); return err }
	somers := func(x, y []float64) error { _, err := association.SomersD(x, y); return err }
	for _, c := range []struct {
		name string
		err  error
		want any
	}{
		{"one row", kendall(ramp[:1], ramp[:1]), &few},
		{"flat x", kendall(flat, ramp), &same},
		{"flat y", kendall(ramp, flat), &same},
		{"both flat", somers(flat, flat), &same},
		{"D of flat x", somers(flat, ramp), &same},
		{"D of NaN", somers(ramp, []float64{1, math.NaN(), 2}), &notFinite},
	} {
		if c.err == nil || !errors.As(c.err, c.want) {
			t.Errorf("%s: got %v, want a %T", c.name, c.err, c.want)
		}
	}
	if d, err := association.SomersD(ramp, flat); err != nil || d != 0 {
		t.Errorf("D of a flat y: %v, %v; want 0", d, err)
	}
}

func ExampleKendall() {
	tau, err := association.Kendall([]float64{1, 2, 3, 4}, []float64{1, 3, 2, 4})
	fmt.Printf("%.4f %v\n", tau, err)
	// Output: 0.6667 <nil>
}

func ExampleSomersD() {
	// Of five pairs not tied in x, four agree and one is tied in y.
	d, err := association.SomersD([]float64{1, 1, 2, 3}, []float64{2, 4, 4, 5})
	fmt.Println(d, err)
	// Output: 0.8 <nil>
}
