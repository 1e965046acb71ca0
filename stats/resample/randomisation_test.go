package resample_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"lengthwise/stats/resample"
)

func signed(differences []float64) func([]int) float64 {
	return func(a []int) float64 {
		var s float64
		for i, sign := range a {
			s += float64(sign) * differences[i]
		}
		return s
	}
}

func meanDifference(values []float64) func([]int) float64 {
	return func(a []int) float64 {
		var sum, n [2]float64
		for i, g := range a {
			sum[g] += values[i]
			n[g]++
		}
		return sum[1]/n[1] - sum[0]/n[0]
	}
}

// TestDarwinsPlants: Darwin's 15 pairs of plants, differences in eighths of an
// inch, as analysed by Fisher (1935, The Design of Experiments, section 21):
// 863 of 32,768 sums reach 314 or more (835 above it, 28 equal to it). Data and
// counts from memory; the sum of the data, 314, and the 28 ties agree.
func TestDarwinsPlants(t *testing.T) {
	differences := []float64{49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48}
	d, err := resample.Signs(len(differences))
	if err != nil {
		t.Fatal(err)
	}
	greater, err1 := resample.Randomise(d, signed(differences), resample.RandomisationOptions{Tail: resample.Greater})
	both, err2 := resample.Randomise(d, signed(differences), resample.RandomisationOptions{})
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	if greater.Statistic != 314 || greater.PValue != 863./32768 || both.PValue != 2*863./32768 {
		t.Errorf("%+v, %+v", greater, both)
	}
	if !both.Exact || both.Used != 32768 || greater.SmallestP != 1./32768 || both.SmallestP != 2./32768 || both.MonteCarloError != 0 {
		t.Errorf("%+v, %+v", greater, both)
	}
	random, err := resample.Randomise(d, signed(differences), resample.RandomisationOptions{Enumerated: 10, Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	if random.Exact || math.Abs(random.PValue-both.PValue) > 4*random.MonteCarloError || random.SmallestP != 1./10000 {
		t.Errorf("random assignments: %+v, exact p %v", random, both.PValue)
	}
}

// TestTeaTasting: four cups of eight, three named rightly: 17 of 70 (Fisher 1935,
// section 5, the two-by-two table of the lady tasting tea).
func TestTeaTasting(t *testing.T) {
	milkFirst := []int{1, 1, 1, 1, 0, 0, 0, 0}
	said := []float64{1, 1, 1, 0, 1, 0, 0, 0}
	d, err := resample.Exchange(milkFirst, nil)
	if err != nil {
		t.Fatal(err)
	}
	right := func(a []int) float64 {
		var n float64
		for i, g := range a {
			n += float64(g) * said[i]
		}
		return n
	}
	r, err := resample.Randomise(d, right, resample.RandomisationOptions{Tail: resample.Greater})
	if err != nil {
		t.Fatal(err)
	}
	if d.Count() != 70 || r.PValue != 17./70 || r.SmallestP != 1./70 || r.Assignments != 70 {
		t.Errorf("%+v", r)
	}
	less, err := resample.Randomise(d, right, resample.RandomisationOptions{Tail: resample.Less})
	if err != nil {
		t.Fatal(err)
	}
	if less.PValue != 69./70 {
		t.Errorf("at most three: %v, want 69/70", less.PValue)
	}
}

// TestSevenDates: with seven dates on which a change could have begun nothing can
// be significant at 0.05, and the result says so.
func TestSevenDates(t *testing.T) {
	series := []float64{140, 142, 139, 141, 140, 141, 139, 130, 131, 129, 130, 131}
	var dates [][]int
	for start := 3; start < 10; start++ {
		a := make([]int, len(series))
		for i := start; i < len(a); i++ {
			a[i] = 1
		}
		dates = append(dates, a)
	}
	d, err := resample.Listed(dates, 4) // begun at row 7, where the series falls
	if err != nil {
		t.Fatal(err)
	}
	r, err := resample.Randomise(d, meanDifference(series), resample.RandomisationOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if r.PValue != 1./7 || r.SmallestP != 1./7 || !r.Exact {
		t.Errorf("%+v", r)
	}
}

// TestEnumerationIsComplete: every assignment comes once, and as many as Count
// says, blocks and repeated labels included.
func TestEnumerationIsComplete(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 7).Draw(t, "units")
		made, block := make([]int, n), make([]int, n)
		for i := range made {
			made[i], block[i] = rapid.IntRange(0, 2).Draw(t, "label"), rapid.IntRange(0, 1).Draw(t, "block")
		}
		d, err := resample.Exchange(made, block)
		if err != nil {
			few := &resample.TooFewError{}
			if !errors.As(err, &few) {
				t.Fatal(err)
			}
			return
		}
		seen := make(map[string]int)
		code := func(a []int) float64 {
			seen[fmt.Sprint(a)]++
			var s float64
			for i, v := range a {
				s += float64(v) * math.Pow(3, float64(i))
			}
			return s
		}
		r, err := resample.Randomise(d, code, resample.RandomisationOptions{Tail: resample.Greater, Enumerated: 100000})
		if err != nil {
			t.Fatal(err)
		}
		seen[fmt.Sprint(made)]-- // Randomise asks for the one made first
		if float64(len(seen)) != d.Count() || float64(r.Used) != d.Count() {
			t.Fatalf("%d different of %d used, count %v", len(seen), r.Used, d.Count())
		}
		for a, times := range seen {
			if times != 1 {
				t.Fatalf("%s comes %d times", a, times)
			}
		}
		if r.SmallestP != 1/d.Count() || r.PValue < r.SmallestP {
			t.Fatalf("%+v", r)
		}
		if !slices.Equal(d.Made(), made) {
			t.Fatal("the assignment made was changed")
		}
		again, err := resample.Randomise(d, code, resample.RandomisationOptions{Enumerated: 1, Replicates: 50, Seed: 9})
		same, err2 := resample.Randomise(d, code, resample.RandomisationOptions{Enumerated: 1, Replicates: 50, Seed: 9})
		if err := errors.Join(err, err2); err != nil {
			no := &resample.NoVariationError{}
			if !errors.As(err, &no) {
				t.Fatal(err)
			}
			return
		}
		if again != same {
			t.Fatal("the same seed gives another result")
		}
	})
}

// TestRandomisationLevel: p at or below 0.05 in no more than 5 % of 2000 trials
// without effect, exact (10 units, skewed responses) and by random assignments.
func TestRandomisationLevel(t *testing.T) {
	const trials = 2000
	r := rand.New(rand.NewPCG(13, 26))
	exact, random := 0, 0
	for trial := range trials {
		values := make([]float64, 10)
		for i := range values {
			values[i] = math.Exp(2 * r.NormFloat64())
		}
		made := []int{1, 1, 1, 1, 1, 0, 0, 0, 0, 0}
		r.Shuffle(len(made), func(i, j int) { made[i], made[j] = made[j], made[i] })
		d, err := resample.Exchange(made, nil)
		if err != nil {
			t.Fatal(err)
		}
		a, err1 := resample.Randomise(d, meanDifference(values), resample.RandomisationOptions{})
		b, err2 := resample.Randomise(d, meanDifference(values), resample.RandomisationOptions{Enumerated: 1, Replicates: 199, Seed: uint64(trial)})
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		if a.PValue <= 0.05 {
			exact++
		}
		if b.PValue <= 0.05 {
			random++
		}
	}
	e, m := float64(exact)/trials, float64(random)/trials
	t.Logf("exact %.3f, random %.3f", e, m)
	if e > 0.062 || m > 0.062 || e < 0.03 || m < 0.03 {
		t.Errorf("false alarms at 0.05: exact %.3f, random %.3f", e, m)
	}
}

func TestRandomisationOfDegenerateInput(t *testing.T) {
	few, out, same, notFinite := &resample.TooFewError{}, &resample.RangeError{}, &resample.NoVariationError{}, &resample.NotFiniteError{}
	d, err := resample.Signs(4)
	if err != nil {
		t.Fatal(err)
	}
	exchange := func(made, block []int) error { _, err := resample.Exchange(made, block); return err }
	signs := func(n int) error { _, err := resample.Signs(n); return err }
	listed := func(made int, a ...[]int) error { _, err := resample.Listed(a, made); return err }
	run := func(d resample.Design, f func([]int) float64, o resample.RandomisationOptions) error {
		_, err := resample.Randomise(d, f, o)
		return err
	}
	first := func(a []int) float64 { return float64(a[0]) }
	for _, c := range []struct {
		name string
		err  error
		want any
	}{
		{"one unit", exchange([]int{1}, nil), &few},
		{"one label", exchange([]int{1, 1, 1}, nil), &few},
		{"blocks of one label", exchange([]int{1, 1, 0, 0}, []int{1, 1, 2, 2}), &few},
		{"blocks of another length", exchange([]int{1, 0}, []int{1}), &out},
		{"no signs", signs(0), &few},
		{"one assignment", listed(0, []int{1}), &few},
		{"assignment made", listed(2, []int{1}, []int{2}), &out},
		{"lengths", listed(0, []int{1}, []int{2, 3}), &out},
		{"listed twice", listed(0, []int{1}, []int{2}, []int{1}), &out},
		{"no design", run(resample.Design{}, first, resample.RandomisationOptions{}), &few},
		{"NaN", run(d, func([]int) float64 { return math.NaN() }, resample.RandomisationOptions{}), &notFinite},
		{"NaN elsewhere", run(d, func(a []int) float64 { return math.Log(float64(a[0])) }, resample.RandomisationOptions{}), &notFinite},
		{"constant", run(d, func([]int) float64 { return 3 }, resample.RandomisationOptions{}), &same},
		{"of one size", run(d, first, resample.RandomisationOptions{}), &same},
		{"tail", run(d, first, resample.RandomisationOptions{Tail: 7}), &out},
		{"enumerated", run(d, first, resample.RandomisationOptions{Enumerated: -1}), &out},
		{"replicates", run(d, first, resample.RandomisationOptions{Replicates: -1}), &few},
	} {
		if c.err == nil || !errors.As(c.err, c.want) {
			t.Errorf("%s: got %v, want a %T", c.name, c.err, c.want)
		}
	}
	if many, err := resample.Signs(5000); err != nil || !math.IsInf(many.Count(), 1) {
		t.Errorf("5000 signs: %v, %v", many.Count(), err)
	}
}

// Two ways of starting, drawn by lot for each of eight days.
func ExampleRandomise() {
	way := []int{0, 1, 1, 0, 1, 0, 0, 1}
	beats := []float64{141, 138, 136, 142, 139, 140, 143, 137}
	d, err := resample.Exchange(way, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := resample.Randomise(d, func(a []int) float64 {
		var sum float64 // of way 1 less way 0, four days each
		for i, w := range a {
			sum += float64(2*w-1) * beats[i] / 4
		}
		return sum
	}, resample.RandomisationOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f, %v\n", r.Statistic, r)
	// Output: -4.0, p 0.02857 (all 70 assignments; smallest attainable 0.02857)
}

func BenchmarkRandomise(b *testing.B) {
	values := make([]float64, 40)
	made := make([]int, 40)
	for i := range values {
		values[i], made[i] = float64(i*i%17), i%2
	}
	d, err := resample.Exchange(made, nil)
	if err != nil {
		b.Fatal(err)
	}
	f := meanDifference(values)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := resample.Randomise(d, f, resample.RandomisationOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
