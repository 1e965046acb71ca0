package resample_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"lengthwise/stats/resample"
)

// TestSeedIsFixed holds the seed to values worked out by hand from its
// definition (SHA-256 of the bytes written out), so that a change of the hash
// cannot pass unseen.
func TestSeedIsFixed(t *testing.T) {
	cases := []struct {
		name string
		got  uint64
		want uint64
	}{
		// printf '' | sha256sum
		{"no parts", resample.Seed(), 0xe3b0c44298fc1c14},
		// printf 't\x03\0\0\0\0\0\0\0abc' | sha256sum
		{"text", resample.Seed(resample.Text("abc")), 0xd19d84b7750c1e7b},
		// printf 'n\x01\0\0\0\0\0\0\0\x2a\0\0\0\0\0\0\0' | sha256sum
		{"number", resample.Seed(resample.Number(42)), 0x7714b5453fac990c},
		// printf 'f\x01\0\0\0\0\0\0\0\0\0\0\0\0\0\xf0\x3f' | sha256sum
		{"floats", resample.Seed(resample.Floats{1}), 0x04a026f1548d0ac4},
	}
	for _, c := range cases {
		if c.got != c.want {
			t.Errorf("%s: got %#x, want %#x", c.name, c.got, c.want)
		}
	}
}

func TestSeedTellsPartsApart(t *testing.T) {
	parts := [][]resample.Part{
		{},
		{resample.Text("")},
		{resample.Text("a"), resample.Text("b")},
		{resample.Text("ab")},
		{resample.Text("b"), resample.Text("a")},
		{resample.Number(1)},
		{resample.Integers{1}},
		{resample.Floats{1}},
		{resample.Floats{1, 2}},
		{resample.Floats{2, 1}},
		{resample.Floats{1}, resample.Floats{2}},
		{resample.Rows{{1, 2}}},
		{resample.Rows{{1}, {2}}},
		{resample.Rows{{2}, {1}}},
		{resample.Integers{-1}},
	}
	seen := map[uint64]int{}
	for i, p := range parts {
		seed := resample.Seed(p...)
		if j, dup := seen[seed]; dup {
			t.Errorf("parts %d and %d share the seed %#x", i, j, seed)
		}
		seen[seed] = i
	}
	if resample.Seed(resample.Floats{0, math.NaN()}) != resample.Seed(resample.Floats{math.Copysign(0, -1), -math.NaN()}) {
		t.Error("negative zero and NaN do not count as zero and NaN")
	}
	if resample.SeedOf(7, "q", []float64{1, 2}) != resample.Seed(resample.Number(7), resample.Text("q"), resample.Floats{1, 2}) {
		t.Error("SeedOf is not Seed of its parts")
	}
}

func TestRowsForgetTheirOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 20).Draw(t, "rows")
		x := rapid.SliceOfN(rapid.Float64(), n, n).Draw(t, "x")
		y := rapid.SliceOfN(rapid.Float64(), n, n).Draw(t, "y")
		order := rapid.Permutation(indices(n)).Draw(t, "order")
		px, py := make([]float64, n), make([]float64, n)
		for i, o := range order {
			px[i], py[i] = x[o], y[o]
		}
		if resample.Seed(resample.Rows{x, y}) != resample.Seed(resample.Rows{px, py}) {
			t.Fatal("seed changed with the order of the rows")
		}
	})
}

func TestStreamIsUniform(t *testing.T) {
	// Chi-square over all pairs (replicate stream, first draw) and within one
	// stream; 99.99 % point of chi-square with 9 df is 33.7 (R: qchisq).
	const cells, total = 10, 100000
	check := func(name string, draw func(i int) int) {
		var count [cells]float64
		for i := range total {
			count[draw(i)]++
		}
		var chi float64
		for _, c := range count {
			d := c - total/cells
			chi += d * d / (total / cells)
		}
		if chi > 33.7 {
			t.Errorf("%s: chi-square %.1f over 33.7", name, chi)
		}
	}
	one := resample.NewStream(1, 0)
	check("one stream", func(int) int { return one.Below(cells) })
	check("first draw over replicates", func(i int) int { s := resample.NewStream(1, i); return s.Below(cells) })
	check("first draw over seeds", func(i int) int { s := resample.NewStream(uint64(i), 3); return s.Below(cells) })
	// All six orders of three values equally often; 5 df, 99.99 % point 25.7.
	orders := map[[3]float64]float64{}
	for i := range total {
		s := resample.NewStream(9, i)
		v := [3]float64{1, 2, 3}
		resample.Shuffle(&s, v[:])
		orders[v]++
	}
	var chi float64
	for _, c := range orders {
		d := c - total/6.0
		chi += d * d / (total / 6.0)
	}
	if len(orders) != 6 || chi > 25.7 {
		t.Errorf("shuffle: %d orders, chi-square %.1f over 25.7", len(orders), chi)
	}
}

func TestPlansDrawWhatTheySay(t *testing.T) {
	group := []int{5, 5, 9, 5, 9, 2}
	one, err1 := resample.Clusters(6, 50, 3)
	within, err2 := resample.WithinGroups(group, 50, 3)
	both, err3 := resample.GroupsThenWithin(group, 50, 3)
	if err := errors.Join(err1, err2, err3); err != nil {
		t.Fatal(err)
	}
	weights := make([]float64, 6)
	for b := range 50 {
		one.Weights(b, weights)
		if sum(weights) != 6 {
			t.Fatalf("one level: weights %v do not sum to 6", weights)
		}
		within.Weights(b, weights)
		if weights[0]+weights[1]+weights[3] != 3 || weights[2]+weights[4] != 2 || weights[5] != 1 {
			t.Fatalf("within groups: weights %v change the size of a group", weights)
		}
		both.Weights(b, weights)
		if five := weights[0] + weights[1] + weights[3]; math.Mod(five, 3) != 0 {
			t.Fatalf("two levels: weights %v hold part of a group", weights)
		}
		counted := make([]float64, 6)
		for _, u := range both.Indices(b, nil) {
			counted[u]++
		}
		if !slices.Equal(counted, weights) {
			t.Fatalf("indices and weights of replicate %d differ", b)
		}
	}
	relabelled, err := resample.WithinGroups([]int{0, 0, -3, 0, -3, 77}, 50, 3)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(within.Indices(7, nil), relabelled.Indices(7, nil)) {
		t.Error("labels of the groups change the draws")
	}
	if n := testing.AllocsPerRun(20, func() { both.Weights(3, weights) }); n != 0 {
		t.Errorf("Weights allocates %v times", n)
	}
}

// TestEveryUnitIsDrawnAsOften counts draws over 6000 replicates: each unit has
// mean weight 1, in every kind of plan, to five Monte-Carlo standard errors
// (variance of a weight at most 3 in these plans, so SE at most 0.0224).
func TestEveryUnitIsDrawnAsOften(t *testing.T) {
	group := []int{5, 5, 9, 5, 9, 2}
	const replicates = 6000
	one, err1 := resample.Clusters(6, replicates, 3)
	within, err2 := resample.WithinGroups(group, replicates, 3)
	both, err3 := resample.GroupsThenWithin(group, replicates, 3)
	if err := errors.Join(err1, err2, err3); err != nil {
		t.Fatal(err)
	}
	for name, plan := range map[string]resample.Plan{"one level": one, "within": within, "two levels": both} {
		total, weights := make([]float64, 6), make([]float64, 6)
		for b := range replicates {
			plan.Weights(b, weights)
			for u, w := range weights {
				total[u] += w / replicates
			}
		}
		for u, mean := range total {
			if math.Abs(mean-1) > 5*0.0224 {
				t.Errorf("%s: unit %d has mean weight %.3f", name, u, mean)
			}
		}
	}
}

func TestStoredCopiesItsDraws(t *testing.T) {
	d := [][]int{{0, 1}, {1, 1}}
	p, err := resample.Stored(2, d)
	if err != nil {
		t.Fatal(err)
	}
	d[0][0] = 1
	if got := p.Indices(0, nil); !slices.Equal(got, []int{0, 1}) {
		t.Errorf("draws changed with the caller's slice: %v", got)
	}
}

func TestIntervalsFollowTheData(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(20, 200).Draw(t, "replicates")
		seed := rapid.Uint64().Draw(t, "seed")
		r := rand.New(rand.NewPCG(seed, 1))
		v := make([]float64, n)
		for i := range v {
			v[i] = r.NormFloat64()
		}
		before := slices.Clone(v)
		got, err := resample.Percentile(v, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(v, before) {
			t.Fatal("the replicates were changed")
		}
		if got.Low > got.High || got.Low < slices.Min(v) || got.High > slices.Max(v) {
			t.Fatalf("interval %v outside the replicates", got)
		}
		wider, err := resample.Percentile(v, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if wider.Low > got.Low || wider.High < got.High {
			t.Fatalf("95 %% interval %v does not hold the 90 %% one %v", wider, got)
		}
		// A power of two times the values moves the limits exactly.
		for i := range v {
			v[i] *= 8
		}
		scaled, err := resample.Percentile(v, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		if scaled.Low != 8*got.Low || scaled.High != 8*got.High {
			t.Fatalf("limits of scaled values %v, want 8 x %v", scaled, got)
		}
	})
}

func TestExtremeLimitsAreMarked(t *testing.T) {
	v := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9}
	wide, err := resample.Percentile(v, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if !wide.Extreme || wide.Low != 1 || wide.High != 9 {
		t.Errorf("95 %% of nine replicates: %v, extreme %v; want 1 to 9, marked", wide, wide.Extreme)
	}
	inner, err := resample.Percentile(v, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	if inner.Extreme {
		t.Error("50 % of nine replicates is marked extreme")
	}
}

func indices(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

func sum(v []float64) (s float64) {
	for _, x := range v {
		s += x
	}
	return s
}
