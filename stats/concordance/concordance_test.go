package concordance_test

import (
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"lengthwise/stats/concordance"
)

// TestMatchesR compares counts with the reference; its source is named in
// testdata/counts.json. Without ties the permutation p of one block is that
// of Kendall's exact test, to four Monte-Carlo standard errors.
func TestMatchesR(t *testing.T) {
	raw, err := os.ReadFile("testdata/counts.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Sets []struct {
			Name                         string
			X, Y                         []float64
			Concordant, Discordant, Tied float64
			Concordance                  float64
			KendallP                     float64 `json:"kendall_p"`
		}
	}
	if err := json.Unmarshal(raw, &file); err != nil {
		t.Fatal(err)
	}
	if len(file.Sets) != 3 {
		t.Fatalf("%d sets, want 3", len(file.Sets))
	}
	for _, s := range file.Sets {
		block := make([]int, len(s.X))
		tally, err := concordance.Count(block, s.X, s.Y, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		if tally.Concordant[0] != s.Concordant || tally.Discordant[0] != s.Discordant || tally.Tied[0] != s.Tied {
			t.Errorf("%s: %+v, want %v, %v and %v", s.Name, tally, s.Concordant, s.Discordant, s.Tied)
		}
		estimate, err := tally.Estimate()
		if err != nil {
			t.Fatal(err)
		}
		if want := (s.Concordant + s.Tied/2) / tally.Pairs(); estimate != want {
			t.Errorf("%s: estimate %v, want %v", s.Name, estimate, want)
		}
		if s.Tied > 0 {
			continue
		}
		if math.Abs(estimate-s.Concordance) > 1e-15 {
			t.Errorf("%s: estimate %v, survival has %v", s.Name, estimate, s.Concordance)
		}
		const permutations = 9999
		pairs, err := concordance.NewPairs(block, nil)
		if err != nil {
			t.Fatal(err)
		}
		null, err := pairs.Null(s.X, s.Y, 0, permutations, 1)
		if err != nil {
			t.Fatal(err)
		}
		if slack := 4 * math.Sqrt(s.KendallP*(1-s.KendallP)/permutations); math.Abs(null.P-s.KendallP) > slack {
			t.Errorf("%s: p %v, Kendall's exact test has %v", s.Name, null.P, s.KendallP)
		}
		if math.Abs(null.Mean-0.5) > 0.01 {
			t.Errorf("%s: mean of the null %v", s.Name, null.Mean)
		}
	}
}

// TestCountsByBruteForce goes a second road over blocks that are mixed up,
// a match that admits some pairs, and ties.
func TestCountsByBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawRows(t)
		match := func(i, j int) bool {
			if i >= j || d.block[i] != d.block[j] {
				t.Fatalf("match called with %d, %d", i, j)
			}
			return (i+j)%3 != 0
		}
		tie := rapid.SampledFrom([]float64{0, 0.5, 1}).Draw(t, "tie")
		got, err := concordance.Count(d.block, d.a, d.b, match, tie)
		want := map[int][3]float64{}
		pairs := 0.0
		for i := range d.a {
			for j := i + 1; j < len(d.a); j++ {
				if d.block[i] != d.block[j] || !match(i, j) {
					continue
				}
				pairs++
				w := want[d.block[i]]
				da, db := d.a[i]-d.a[j], d.b[i]-d.b[j]
				switch {
				case math.Abs(da) <= tie || math.Abs(db) <= tie:
					w[2]++
				case (da > 0) == (db > 0):
					w[0]++
				default:
					w[1]++
				}
				want[d.block[i]] = w
			}
		}
		if pairs == 0 {
			var none *concordance.NoPairsError
			if !errors.As(err, &none) {
				t.Fatalf("no pairs: got %v", err)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if !slices.IsSorted(got.Blocks) || got.Pairs() != pairs {
			t.Fatalf("blocks %v, pairs %v, want %v", got.Blocks, got.Pairs(), pairs)
		}
		for k, block := range got.Blocks {
			if w := [3]float64{got.Concordant[k], got.Discordant[k], got.Tied[k]}; w != want[block] {
				t.Fatalf("block %d: %v, want %v", block, w, want[block])
			}
		}
	})
}

// TestSymmetries: turning a round turns the estimate round; swapping a and b,
// and any increasing map when tie is zero, changes nothing.
func TestSymmetries(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawRows(t)
		estimate := func(a, b []float64) float64 {
			tally, err := concordance.Count(d.block, a, b, nil, 0)
			if err != nil {
				t.Skip("no pairs")
			}
			e, err := tally.Estimate()
			if err != nil {
				t.Fatal(err)
			}
			return e
		}
		negative, cubed := make([]float64, len(d.a)), make([]float64, len(d.a))
		for i, v := range d.a {
			negative[i], cubed[i] = -v, v*v*v+7
		}
		e := estimate(d.a, d.b)
		if math.Abs(estimate(negative, d.b)-(1-e)) > 1e-15 || estimate(d.b, d.a) != e || estimate(cubed, d.b) != e {
			t.Fatalf("estimate %v, turned %v, swapped %v, mapped %v", e, estimate(negative, d.b), estimate(d.b, d.a), estimate(cubed, d.b))
		}
	})
}

// TestNeitherOrderNorLabelsMatter: interval and null of the same rows in
// another order and with other labels are the same to the last bit, and the
// input is not changed.
func TestNeitherOrderNorLabelsMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		var d rows
		for k := range 4 {
			for range 3 + r.IntN(4) {
				d.add(k, r.NormFloat64(), r.NormFloat64())
			}
		}
		near := func(d rows) func(i, j int) bool {
			return func(i, j int) bool { return math.Abs(d.a[i]-d.a[j]) < 2 }
		}
		before := rows{slices.Clone(d.block), slices.Clone(d.a), slices.Clone(d.b)}
		var moved rows
		for _, i := range rapid.Permutation(positions(len(d.a))).Draw(t, "order") {
			moved.add(11-4*d.block[i], d.a[i], d.b[i])
		}
		type result struct {
			interval concordance.Interval
			null     concordance.Null
			failed   bool
		}
		run := func(d rows) result {
			p, err := concordance.NewPairs(d.block, near(d))
			if err != nil {
				t.Fatal(err)
			}
			tally, err := p.Count(d.a, d.b, 0)
			if err != nil {
				t.Fatal(err)
			}
			var out result
			out.interval, err = tally.Interval(0.95)
			out.failed = err != nil
			if out.null, err = p.Null(d.a, d.b, 0, 99, 8); err != nil {
				t.Fatal(err)
			}
			return out
		}
		if x, y := run(d), run(moved); x != y {
			t.Fatalf("order or labels change the result:\n%+v\n%+v", x, y)
		}
		if !slices.Equal(d.block, before.block) || !slices.Equal(d.a, before.a) || !slices.Equal(d.b, before.b) {
			t.Fatal("the input was changed")
		}
	})
}

// TestNullByEnumeration compares the null with all 3! x 4! = 144
// arrangements of two small blocks, worked through one by one.
func TestNullByEnumeration(t *testing.T) {
	block := []int{1, 1, 1, 2, 2, 2, 2}
	a := []float64{1, 2, 3, 1, 2, 3, 4}
	b := []float64{5, 9, 7, 2, 4, 3, 8}
	statistic := func(b []float64) int {
		tally, err := concordance.Count(block, a, b, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		net := 0.0
		for k := range tally.Blocks {
			net += tally.Concordant[k] - tally.Discordant[k]
		}
		return int(math.Abs(net))
	}
	observed := statistic(b)
	further, total := 0, 0
	for _, x := range arrangements(b[:3]) {
		for _, y := range arrangements(b[3:]) {
			total++
			if statistic(append(slices.Clone(x), y...)) >= observed {
				further++
			}
		}
	}
	if total != 144 {
		t.Fatalf("%d arrangements", total)
	}
	want := float64(further) / float64(total)
	const permutations = 9999
	p, err := concordance.NewPairs(block, nil)
	if err != nil {
		t.Fatal(err)
	}
	null, err := p.Null(a, b, 0, permutations, 3)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(null.P-want) > 4*math.Sqrt(want*(1-want)/permutations) {
		t.Errorf("p %v, all arrangements give %v", null.P, want)
	}
	if math.Abs(null.SmallestP-2./144) > 1e-12 {
		t.Errorf("smallest p %v, want 2/144", null.SmallestP)
	}
	if math.Abs(null.Mean-0.5) > 0.01 || null.Low >= null.Mean || null.High <= null.Mean || null.Permutations != permutations {
		t.Errorf("null %+v", null)
	}
	if want := 7. / 9; math.Abs(null.Observed-want) > 1e-15 {
		t.Errorf("observed %v, want %v", null.Observed, want)
	}
	if few, err := p.Null(a, b, 0, 19, 3); err != nil || few.SmallestP != 0.05 {
		t.Errorf("smallest p of 19 permutations %v, %v; want 0.05", few.SmallestP, err)
	}
}

func arrangements(v []float64) [][]float64 {
	if len(v) == 0 {
		return [][]float64{nil}
	}
	var out [][]float64
	for i := range v {
		rest := slices.Delete(slices.Clone(v), i, i+1)
		for _, tail := range arrangements(rest) {
			out = append(out, append([]float64{v[i]}, tail...))
		}
	}
	return out
}

// TestATieCountsAsHalfOfEach: two ties weigh in an interval as one concordant
// and one discordant pair do.
func TestATieCountsAsHalfOfEach(t *testing.T) {
	tied := concordance.Tally{Blocks: []int{1, 2, 3}, Concordant: []float64{1, 3, 0}, Discordant: []float64{2, 0, 1}, Tied: []float64{2, 4, 0}}
	split := concordance.Tally{Blocks: []int{1, 2, 3}, Concordant: []float64{2, 5, 0}, Discordant: []float64{3, 2, 1}, Tied: []float64{0, 0, 0}}
	x, err1 := tied.Interval(0.95)
	y, err2 := split.Interval(0.95)
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	if x != y {
		t.Errorf("tied %+v, split %+v", x, y)
	}
}

// rows are rows with their blocks.
type rows struct {
	block []int
	a, b  []float64
}

func (d *rows) add(block int, a, b float64) {
	d.block, d.a, d.b = append(d.block, block), append(d.a, a), append(d.b, b)
}

// drawRows draws rows with whole-number values, so with ties, in blocks that
// do not follow each other.
func drawRows(t *rapid.T) rows {
	n := rapid.IntRange(0, 25).Draw(t, "rows")
	var d rows
	for range n {
		d.add(rapid.IntRange(-2, 2).Draw(t, "block"),
			float64(rapid.IntRange(0, 5).Draw(t, "a")), float64(rapid.IntRange(0, 5).Draw(t, "b")))
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
