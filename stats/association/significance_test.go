package association_test

import (
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"lengthwise/stats/association"
)

type testReference struct {
	Association map[string]struct {
		X, Y    []float64
		TauA    float64 `json:"tau_a"`
		TauB    float64 `json:"tau_b"`
		Gamma   float64
		Kendall struct{ P float64 }    `json:"kendall_test"`
		Normal  struct{ Z, P float64 } `json:"kendall_normal_continuity"`
		Rho     float64                `json:"spearman_rho"`
		RhoP    float64                `json:"spearman_p_t_approx"`
		Pearson struct {
			R, T, DF, P float64
			CI          [2]float64 `json:"fisher_z_ci95"`
		}
		Index struct{ C, Var float64 } `json:"concordance_survival"`
	}
	Partial struct {
		Cars struct {
			R, DF, T, P float64
			CI          [2]float64                   `json:"fisher_ci95"`
			Semipartial float64                      `json:"semipartial_y_x1_given_rest"`
			Matrix      struct{ Values [][]float64 } `json:"full_matrix"`
		} `json:"mtcars_mpg_wt_given_hp"`
	}
	Dependent struct {
		Williams    struct{ T, P float64 } `json:"williams_mtcars"`
		Independent struct{ Z, P float64 }
	}
	TOST struct {
		R, N, Bound float64
		Lower       float64 `json:"p_lower"`
		Upper       float64 `json:"p_upper"`
	}
}

// TestSignificanceMatchesR: correlations with their tests (testdata/tests.json),
// set by set. Closed forms, 1e-10.
func TestSignificanceMatchesR(t *testing.T) {
	var file testReference
	decode(t, "testdata/tests.json", &file)
	for _, name := range []string{"no_ties", "ties", "hollander"} {
		w, found := file.Association[name]
		if !found {
			t.Fatalf("no set %s", name)
		}
		p, err1 := association.PearsonTest(w.X, w.Y, 0.95)
		s, err2 := association.SpearmanTest(w.X, w.Y, 0.95)
		k, err3 := association.KendallTest(w.X, w.Y)
		c, err4 := association.ConcordanceIndex(w.X, w.Y)
		counts, err5 := association.CountRanks(w.X, w.Y)
		tauA, err6 := counts.TauA()
		gamma, err7 := counts.Gamma()
		if err := errors.Join(err1, err2, err3, err4, err5, err6, err7); err != nil {
			t.Fatal(name, err)
		}
		near(t, name+" r", p.R, w.Pearson.R, 1e-12)
		near(t, name+" t", p.Statistic, w.Pearson.T, 1e-11)
		near(t, name+" df", p.DF, w.Pearson.DF, 0)
		near(t, name+" p", p.PValue, w.Pearson.P, 1e-10)
		near(t, name+" low", p.ConfLow, w.Pearson.CI[0], 1e-10)
		near(t, name+" high", p.ConfHigh, w.Pearson.CI[1], 1e-10)
		near(t, name+" rho", s.R, w.Rho, 1e-12)
		near(t, name+" p of rho", s.PValue, w.RhoP, 1e-10)
		near(t, name+" tau-a", tauA, w.TauA, 1e-12)
		near(t, name+" gamma", gamma, w.Gamma, 1e-12)
		near(t, name+" tau-b", k.Tau, w.TauB, 1e-12)
		near(t, name+" p of tau", k.PValue, w.Kendall.P, 1e-10)
		near(t, name+" corrected z", k.ZCorrected, w.Normal.Z, 1e-10)
		near(t, name+" corrected p", k.CorrectedPValue, w.Normal.P, 1e-10)
		near(t, name+" C", c.C, w.Index.C, 1e-12)
		near(t, name+" variance of C", c.StdError*c.StdError, w.Index.Var, 1e-10)
		if k.Exact != (name != "ties") {
			t.Errorf("%s: exact %v", name, k.Exact)
		}
	}
}

func motorCars(t *testing.T) map[string][]float64 {
	t.Helper()
	f, err := os.Open("testdata/mtcars.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := make(map[string][]float64)
	for _, row := range rows[1:] {
		for j, name := range rows[0][1:] {
			v, err := strconv.ParseFloat(row[j+1], 64)
			if err != nil {
				t.Fatal(err)
			}
			out[name] = append(out[name], v)
		}
	}
	return out
}

// TestPartialMatchesR: mpg and weight given horsepower in R's mtcars, and the
// tests of two correlations (testdata/tests.json).
func TestPartialMatchesR(t *testing.T) {
	var file testReference
	decode(t, "testdata/tests.json", &file)
	cars, w := motorCars(t), file.Partial.Cars
	got, err := association.Partial(cars["wt"], cars["mpg"], [][]float64{cars["hp"]}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "r", got.R, w.R, 1e-11)
	near(t, "t", got.Statistic, w.T, 1e-10)
	near(t, "df", got.DF, w.DF, 0)
	near(t, "p", got.PValue, w.P, 1e-9)
	near(t, "low", got.ConfLow, w.CI[0], 1e-10)
	near(t, "high", got.ConfHigh, w.CI[1], 1e-10)
	near(t, "semipartial", got.Semipartial, w.Semipartial, 1e-10)
	columns := [][]float64{cars["mpg"], cars["wt"], cars["hp"]}
	m, err := association.PartialMatrix(columns)
	if err != nil {
		t.Fatal(err)
	}
	var r [3]float64
	for i, row := range w.Matrix.Values {
		for j, v := range row {
			near(t, fmt.Sprint("matrix ", i, j), m.At(i, j), v, 1e-10)
		}
		r[i], err = association.Pearson(columns[i], columns[(i+1)%3]) // mpg-wt, wt-hp, hp-mpg
		if err != nil {
			t.Fatal(err)
		}
	}
	c, err := association.WilliamsTest(r[0], r[2], r[1], len(cars["mpg"]))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "Williams t", c.Statistic, file.Dependent.Williams.T, 1e-10)
	near(t, "Williams p", c.PValue, file.Dependent.Williams.P, 1e-10)
	c, err = association.CompareIndependent(0.6, 50, 0.3, 60)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "independent z", c.Statistic, file.Dependent.Independent.Z, 1e-10)
	near(t, "independent p", c.PValue, file.Dependent.Independent.P, 1e-10)
	lower, upper, err := association.EquivalentCorrelation(file.TOST.R, file.TOST.N, file.TOST.Bound)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "lower p", lower, file.TOST.Lower, 1e-10)
	near(t, "upper p", upper, file.TOST.Upper, 1e-10)
}

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
