package association_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"lengthwise/stats/association"
)

// TestRanksMatchR compares with the reference named in testdata/ranks.json;
// closed forms, to rounding.
func TestRanksMatchR(t *testing.T) {
	var file struct {
		Sets []struct {
			Name                   string
			X, Y                   []float64
			Concordant, Discordant float64
			TiedX                  float64 `json:"tied_x_only"`
			TiedY                  float64 `json:"tied_y_only"`
			TiedBoth               float64 `json:"tied_both"`
			TauB                   float64 `json:"tau_b"`
			YX                     float64 `json:"somers_dyx"`
			XY                     float64 `json:"somers_dxy"`
		}
	}
	decode(t, "testdata/ranks.json", &file)
	if len(file.Sets) != 3 {
		t.Fatalf("%d sets, want 3", len(file.Sets))
	}
	for _, s := range file.Sets {
		counts, err1 := association.CountRanks(s.X, s.Y)
		tau, err2 := association.Kendall(s.X, s.Y)
		yx, err3 := association.SomersD(s.X, s.Y)
		xy, err4 := association.SomersD(s.Y, s.X)
		if err := errors.Join(err1, err2, err3, err4); err != nil {
			t.Fatal(err)
		}
		if want := (association.RankCounts{Concordant: s.Concordant, Discordant: s.Discordant, TiedX: s.TiedX, TiedY: s.TiedY, TiedBoth: s.TiedBoth}); counts != want {
			t.Errorf("%s: counts %+v, want %+v", s.Name, counts, want)
		}
		near(t, s.Name+" tau-b", tau, s.TauB, 1e-14)
		near(t, s.Name+" D of y", yx, s.YX, 1e-14)
		near(t, s.Name+" D of x", xy, s.XY, 1e-14)
	}
}

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
