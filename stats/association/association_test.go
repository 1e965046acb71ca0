package association_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"lengthwise/stats/association"
	"lengthwise/stats/resample"
)

// TestRepeatedMeasuresByDummies goes a second road: least squares with a
// column for each subject.
func TestRepeatedMeasuresByDummies(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawRows(t)
		got, err := association.RepeatedMeasures(d.subject, d.x, d.y)
		if err != nil {
			t.Fatal(err)
		}
		n := len(d.x)
		levels := slices.Clone(d.subject)
		slices.Sort(levels)
		levels = slices.Compact(levels)
		rss := func(withX bool) float64 {
			design := mat.NewDense(n, len(levels)+1, nil)
			for i := range n {
				at, _ := slices.BinarySearch(levels, d.subject[i])
				design.Set(i, at, 1)
				design.Set(i, len(levels), d.x[i])
			}
			cols := len(levels)
			if withX {
				cols++
			}
			var qr mat.QR
			x := design.Slice(0, n, 0, cols)
			qr.Factorize(x)
			var beta mat.VecDense
			y := mat.NewVecDense(n, slices.Clone(d.y))
			if err := qr.SolveVecTo(&beta, false, y); err != nil {
				t.Fatal(err)
			}
			var fitted mat.VecDense
			fitted.MulVec(x, &beta)
			fitted.SubVec(y, &fitted)
			return mat.Dot(&fitted, &fitted)
		}
		without, with := rss(false), rss(true)
		if want := (without - with) / without; math.Abs(got.R*got.R-want) > 1e-8 {
			t.Fatalf("r squared %v, by dummies %v", got.R*got.R, want)
		}
		if got.ConfLow > got.R || got.ConfHigh < got.R {
			t.Fatalf("interval %v to %v around %v", got.ConfLow, got.ConfHigh, got.R)
		}
	})
}

func TestOneSubjectIsPearson(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawRows(t)
		one := make([]int, len(d.x))
		within, err := association.RepeatedMeasures(one, d.x, d.y)
		if err != nil {
			t.Fatal(err)
		}
		r, err := association.Pearson(d.x, d.y)
		if err != nil {
			t.Fatal(err)
		}
		o := resample.Options{Replicates: 99}
		sessions, err := association.PearsonResampled(d.session, d.x, d.y, o)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(within.R-r) > 1e-14 || math.Abs(sessions.R-r) > 1e-13 || within.DF != float64(len(d.x)-2) {
			t.Fatalf("within %v, plain %v, by sessions %v, df %v", within.R, r, sessions.R, within.DF)
		}
	})
}

// TestNeitherOrderNorLabelsMatter: the same rows in another order under
// other labels give the same bits; levels of subjects do not matter; columns
// are not changed.
func TestNeitherOrderNorLabelsMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawRows(t)
		before := d.clone()
		o := resample.Options{Replicates: 50, Seed: 7}
		plain, err1 := association.RepeatedMeasures(d.subject, d.x, d.y)
		boot, err2 := association.RepeatedMeasuresResampled(d.subject, d.session, d.x, d.y, o)
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(d, before) {
			t.Fatal("the input was changed")
		}
		order := rapid.Permutation(positions(len(d.x))).Draw(t, "order")
		var moved table
		for _, i := range order {
			moved.add(-5*d.subject[i]+3, 100-7*d.session[i], d.x[i], d.y[i])
		}
		plain2, err1 := association.RepeatedMeasures(moved.subject, moved.x, moved.y)
		boot2, err2 := association.RepeatedMeasuresResampled(moved.subject, moved.session, moved.x, moved.y, o)
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		if plain != plain2 || !reflect.DeepEqual(boot, boot2) {
			t.Fatalf("order or labels change the result:\n%+v\n%+v\n%+v\n%+v", plain, plain2, boot, boot2)
		}
		for i := range d.x {
			d.x[i] += 50 * float64(d.subject[i])
			d.y[i] -= 20 * float64(d.subject[i])
		}
		shifted, err := association.RepeatedMeasures(d.subject, d.x, d.y)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(shifted.R-plain.R) > 1e-9 {
			t.Fatalf("r %v moves to %v with the subjects' levels", plain.R, shifted.R)
		}
	})
}

// TestResampleIsAWeightedSum compares a replicate by moments with the same
// replicate made by copying rows.
func TestResampleIsAWeightedSum(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	const sessions, rows = 5, 6
	var sums []association.Moments
	xs, ys := make([][]float64, sessions), make([][]float64, sessions)
	for s := range sessions {
		for range rows + s {
			xs[s] = append(xs[s], 140+r.NormFloat64())
			ys[s] = append(ys[s], 20+r.NormFloat64())
		}
		m, err := association.MomentsOf(xs[s], ys[s], 140, 20)
		if err != nil {
			t.Fatal(err)
		}
		sums = append(sums, m)
	}
	plan, err := resample.Clusters(sessions, 30, 1)
	if err != nil {
		t.Fatal(err)
	}
	weights := make([]float64, sessions)
	for b := range plan.Replicates() {
		plan.Weights(b, weights)
		var m association.Moments
		var x, y []float64
		for s, w := range weights {
			m = m.Add(sums[s].Scale(w))
			for range int(w) {
				x, y = append(x, xs[s]...), append(y, ys[s]...)
			}
		}
		got, err1 := m.Correlation()
		want, err2 := association.Pearson(x, y)
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		near(t, "correlation", got, want, 1e-11)
	}
}

// table is a set of rows with their labels.
type table struct {
	subject, session []int
	x, y             []float64
}

func (d *table) add(subject, session int, x, y float64) {
	d.subject, d.session = append(d.subject, subject), append(d.session, session)
	d.x, d.y = append(d.x, x), append(d.y, y)
}

func (d table) clone() table {
	return table{slices.Clone(d.subject), slices.Clone(d.session), slices.Clone(d.x), slices.Clone(d.y)}
}

// drawRows makes two to five subjects with three to five sessions of three to
// five rows.
func drawRows(t *rapid.T) table {
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
	slope := rapid.Float64Range(-2, 2).Draw(t, "slope")
	var d table
	for i := range 2 + r.IntN(4) {
		for s := range 3 + r.IntN(3) {
			for range 3 + r.IntN(3) {
				x := 3*float64(i) + r.NormFloat64()
				d.add(i, s, x, slope*x+r.NormFloat64())
			}
		}
	}
	return d
}

func positions(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// near compares to a relative tolerance.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: got %.17g, want %.17g (relative difference %.2g)", what, got, want, (got-want)/want)
	}
}
