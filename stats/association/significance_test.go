package association_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"lengthwise/stats/association"
)

// TestKendallExactIsTheCount goes a second road: all orders of six rows.
func TestKendallExactIsTheCount(t *testing.T) {
	x := []float64{1, 2, 3, 4, 5, 6}
	var all [][]float64
	var walk func(left, order []float64)
	walk = func(left, order []float64) {
		if len(left) == 0 {
			all = append(all, slices.Clone(order))
			return
		}
		for i, v := range left {
			walk(slices.Concat(left[:i], left[i+1:]), append(order, v))
		}
	}
	walk(x, nil)
	scores := make([]float64, len(all))
	results := make([]association.KendallResult, len(all))
	var squares float64
	for i, y := range all {
		r, err := association.KendallTest(x, y)
		if err != nil {
			t.Fatal(err)
		}
		results[i], scores[i] = r, r.Score
		squares += r.Score * r.Score / float64(len(all))
	}
	for i, r := range results {
		var far float64
		for _, s := range scores {
			if math.Abs(s) >= math.Abs(scores[i]) {
				far++
			}
		}
		want := far / float64(len(all))
		if !r.Exact || math.Abs(r.PValue-want) > 1e-12 || math.Abs(r.ScoreVariance-squares) > 1e-9 {
			t.Fatalf("%v: p %v, want %v; variance %v, want %v", all[i], r.PValue, want, r.ScoreVariance, squares)
		}
	}
}

// TestPartialProperties: without controls it is the plain correlation; it does
// not change when a control is added to x or y, nor when x and y change places;
// and it agrees with the matrix of all.
func TestPartialProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, k := rapid.IntRange(8, 25).Draw(t, "rows"), rapid.IntRange(0, 3).Draw(t, "controls")
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		column := func() []float64 {
			v := make([]float64, n)
			for i := range v {
				v[i] = 3 + r.NormFloat64()
			}
			return v
		}
		x, y := column(), column()
		var controls [][]float64
		for range k {
			controls = append(controls, column())
		}
		got, err := association.Partial(x, y, controls, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		turned, err1 := association.Partial(y, x, controls, 0.9)
		matrix, err2 := association.PartialMatrix(slices.Concat([][]float64{x, y}, controls))
		plain, err3 := association.PearsonTest(x, y, 0.9)
		if err := errors.Join(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		if math.Abs(got.R-turned.R) > 1e-10 || math.Abs(got.R-matrix.At(0, 1)) > 1e-9 {
			t.Fatalf("r %v, turned %v, by the matrix %v", got.R, turned.R, matrix.At(0, 1))
		}
		if math.Abs(got.Semipartial) > math.Abs(got.R)+1e-12 {
			t.Fatalf("semipartial %v beyond %v", got.Semipartial, got.R)
		}
		if k == 0 && (math.Abs(got.R-plain.R) > 1e-12 || math.Abs(got.ConfLow-plain.ConfLow) > 1e-10 || got.DF != plain.DF) {
			t.Fatalf("no controls: %+v, want %+v", got, plain)
		}
		if k > 0 {
			shifted := slices.Clone(x)
			for i := range shifted {
				shifted[i] += 5 * controls[0][i]
			}
			same, err := association.Partial(shifted, y, append(controls, controls[0]), 0.9)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(same.R-got.R) > 1e-9 || same.DF != got.DF || !slices.Equal(same.Dropped, []int{k}) || same.Controls != k {
				t.Fatalf("x moved along a control, which is given twice: %+v, want %+v", same, got)
			}
		}
	})
}

// TestIndexIsSomersD: C = (1 + D)/2, and the standard error is near that of
// resampled rows' spread (2000 sets of 40 rows).
func TestIndexIsSomersD(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	var se, sum, squares float64
	const sets = 2000
	for range sets {
		x, y := make([]float64, 40), make([]float64, 40)
		for i := range x {
			x[i] = math.Round(2 * r.NormFloat64())
			y[i] = math.Round(x[i] + 3*r.NormFloat64())
		}
		c, err1 := association.ConcordanceIndex(x, y)
		d, err2 := association.SomersD(y, x)
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		if math.Abs(c.C-(1+d)/2) > 1e-12 {
			t.Fatalf("C %v, D %v", c.C, d)
		}
		se += c.StdError / sets
		sum += c.C / sets
		squares += c.C * c.C / sets
	}
	spread := math.Sqrt(squares - sum*sum)
	t.Logf("mean standard error %.4f, spread of C %.4f", se, spread)
	if math.Abs(se/spread-1) > 0.06 {
		t.Errorf("mean standard error %.4f, spread of C %.4f", se, spread)
	}
}

// TestIntervalsCover: 95 % intervals over 2000 sets of 20 rows, and false alarms
// at 0.05 of the comparisons.
func TestIntervalsCover(t *testing.T) {
	const sets, n = 2000, 20
	r := rand.New(rand.NewPCG(4, 26))
	var partial, spearman, williams, independent float64
	// For a normal pair with correlation 0.5, rho is 6/pi asin(0.25) (Pearson 1907).
	rho := 6 / math.Pi * math.Asin(0.25)
	for range sets {
		x, y, z, a, b := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range x {
			shared, third := r.NormFloat64(), r.NormFloat64()
			a[i], b[i] = r.NormFloat64(), r.NormFloat64()
			x[i], y[i] = shared+r.NormFloat64(), shared+r.NormFloat64()
			z[i] = shared + third
			b[i] += third
		}
		// Of x + a and y + a given a: 0.5.
		u, v := slices.Clone(x), slices.Clone(y)
		for i := range u {
			u[i] += 2 * a[i]
			v[i] -= a[i]
		}
		p, err1 := association.Partial(u, v, [][]float64{a}, 0.95)
		s, err2 := association.SpearmanTest(x, y, 0.95)
		xy, err3 := association.Pearson(x, y)
		xz, err4 := association.Pearson(x, z)
		yz, err5 := association.Pearson(y, z)
		if err := errors.Join(err1, err2, err3, err4, err5); err != nil {
			t.Fatal(err)
		}
		w, err1 := association.WilliamsTest(xy, xz, yz, n)
		zb, err2 := association.Pearson(a[:n/2], b[:n/2])
		yb, err3 := association.Pearson(a[n/2:], b[n/2:])
		if err := errors.Join(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		c, err := association.CompareIndependent(zb, n/2, yb, n/2)
		if err != nil {
			t.Fatal(err)
		}
		partial += inside(p.ConfLow, 0.5, p.ConfHigh) / sets
		spearman += inside(s.ConfLow, rho, s.ConfHigh) / sets
		williams += inside(0, w.PValue, 0.05) / sets
		independent += inside(0, c.PValue, 0.05) / sets
	}
	t.Logf("partial %.3f, rho %.3f; false alarms: Williams %.3f, independent %.3f", partial, spearman, williams, independent)
	for name, c := range map[string][3]float64{
		"partial": {partial, 0.935, 0.965}, "rho": {spearman, 0.935, 0.970},
		"Williams": {williams, 0.035, 0.065}, "independent": {independent, 0.035, 0.065},
	} {
		if c[0] < c[1] || c[0] > c[2] {
			t.Errorf("%s: %.3f, want %v to %v", name, c[0], c[1], c[2])
		}
	}
}

func inside(low, x, high float64) float64 {
	if low <= x && x <= high {
		return 1
	}
	return 0
}

func ExamplePartial() {
	dose := []float64{1, 2, 3, 4, 5, 6, 7, 8}
	minutes := []float64{2, 1, 4, 3, 6, 5, 8, 7}
	answer := []float64{4, 3, 9, 9, 14, 10, 19, 14}
	p, err := association.Partial(dose, answer, [][]float64{minutes}, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	plain, err := association.Pearson(dose, answer)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("plain %.2f, given minutes %.2f (%.2f to %.2f)\n", plain, p.R, p.ConfLow, p.ConfHigh)
	// Output: plain 0.86, given minutes -0.17 (-0.82 to 0.67)
}

func BenchmarkPartial(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	columns := make([][]float64, 5)
	for j := range columns {
		for range 144 {
			columns[j] = append(columns[j], r.NormFloat64())
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := association.Partial(columns[0], columns[1], columns[2:], 0.95); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkKendallTest(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	var x, y []float64
	for range 144 {
		x, y = append(x, r.NormFloat64()), append(y, r.NormFloat64())
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := association.KendallTest(x, y); err != nil {
			b.Fatal(err)
		}
	}
}
