package mixed_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"lengthwise/stats/internal/reference"
	"lengthwise/stats/mixed"
)

// TestBootstrapLikelihoodRatioMatchesLme4: tests of a fixed effect, of the group
// intercept and of a random slope whose distribution lme4 simulated
// (testdata/bootstrap.R); statistics to 1e-6, simulated figures within four standard
// errors of both sides' draws.
func TestBootstrapLikelihoodRatioMatchesLme4(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "bootstrap.json")
	data := readTable(t, "testdata/bootstrap.csv")
	x1, x2, y := data.numbers(t, "x1"), data.numbers(t, "x2"), data.numbers(t, "y")
	by := map[string][]float64{"1": ones(len(y)), "x1": x1, "x2": x2}
	fit := func(method mixed.Method, l mixed.Layout) *mixed.Model {
		var columns [][]float64
		for _, c := range l.Columns() {
			columns = append(columns, by[c])
		}
		return fitted(t, summed(t, l, data["unit"], data["group"], columns, y), method)
	}
	full := mixed.Layout{Fixed: []string{"1", "x1", "x2"}, Random: []string{"1"}, GroupIntercept: true}
	fewer, plain, sloped := full, full, full
	fewer.Fixed = full.Fixed[:2]
	plain.GroupIntercept = false
	sloped.Random = []string{"1", "x1"}
	for _, c := range []struct {
		name         string
		method       mixed.Method
		small, large mixed.Layout
	}{{"fixed", mixed.ML, fewer, full}, {"group", mixed.REML, plain, full}, {"slope", mixed.REML, full, sloped}} {
		at := "tests/" + c.name + "/"
		small, large := fit(c.method, c.small), fit(c.method, c.large)
		const samples = 600
		got, err := mixed.BootstrapLikelihoodRatio(small, large, samples, 3)
		if err != nil {
			t.Fatal(err)
		}
		f.Within(t, got.Statistic, 1e-6, 1, at+"statistic")
		both := math.Sqrt(1/f.Number(t, at+"samples") + 1./samples) // of two shares, over sqrt(p(1-p))
		share := func(got float64, entry string) {
			t.Helper()
			p := f.Value(t, at+entry)
			f.Within(t, got, 4*math.Sqrt(p*(1-p))*both, 1, at+entry)
		}
		if got.Statistic > 1e-6 {
			share(got.PValue, "p")
		} else {
			f.Outside(t, "every draw ties with a statistic of zero; R's refits part the ties by rounding", at+"p")
			if got.PValue != 1 {
				t.Errorf("%s: p %v of a statistic of zero", c.name, got.PValue)
			}
		}
		if f.Has(at + "pbmodcomp_p") {
			share(got.PValue, "pbmodcomp_p")
		}
		zero := 0.
		for _, d := range got.Draws {
			if d < 1e-6 {
				zero += 1 / float64(len(got.Draws))
			}
		}
		share(zero, "at_zero")
		sorted := slices.Sorted(slices.Values(got.Draws))
		for i, p := range []float64{0.5, 0.9, 0.95} {
			slack := 4 * math.Sqrt(p*(1-p)) * both
			read := func(p float64) float64 {
				return sorted[int(math.Max(0, math.Min(p, 1-1e-9))*float64(len(sorted)))]
			}
			entry := fmt.Sprint(at, "quantiles/", i)
			allowed := math.Max(read(p+slack)-read(p), read(p)-read(p-slack)) + 1e-3
			f.Within(t, read(p), allowed, 1, entry)
		}
		if got.Failed > samples/100 || got.SmallestP != 1/float64(1+len(got.Draws)) {
			t.Errorf("%s: %d failed, smallest p %v", c.name, got.Failed, got.SmallestP)
		}
	}
	f.Complete(t)
}

// TestBootstrapLikelihoodRatioAgrees: where chi-square holds, a fixed effect of many
// units, the simulated p is that of LikelihoodRatio; the same seed gives the same
// draws, and samples do not hang on their number.
func TestBootstrapLikelihoodRatioAgrees(t *testing.T) {
	for name, l := range layouts {
		if len(l.Fixed) < 2 {
			continue
		}
		data := invent(rand.New(rand.NewPCG(61, uint64(len(name)))), l, 25, 1.5, 1, 6)
		small := data
		small.layout.Fixed = l.Fixed[:len(l.Fixed)-1]
		small.columns = nil
		for _, c := range small.layout.Columns() {
			small.columns = append(small.columns, data.column(c))
		}
		a, b := fitted(t, small.sums(t), mixed.ML), fitted(t, data.sums(t), mixed.ML)
		want, err := mixed.LikelihoodRatio(a, b)
		if err != nil {
			t.Fatal(err)
		}
		got, err := mixed.BootstrapLikelihoodRatio(a, b, 99, 8)
		if err != nil {
			t.Fatal(name, err)
		}
		if slack := 4*math.Sqrt(want.PValue*(1-want.PValue)/99) + 0.02; math.Abs(got.PValue-want.PValue) > slack {
			t.Errorf("%s: p %v, by chi-square %v", name, got.PValue, want.PValue)
		}
		fewer, err := mixed.BootstrapLikelihoodRatio(a, b, 19, 8)
		if err != nil {
			t.Fatal(err)
		}
		if got.Failed == 0 && !slices.Equal(fewer.Draws, got.Draws[:19]) {
			t.Errorf("%s: draws hang on their number", name)
		}
	}
}

func TestBootstrapLikelihoodRatioErrors(t *testing.T) {
	data := invent(rand.New(rand.NewPCG(63, 1)), layouts["nested"], 6, 1, 1, 1)
	m := fitted(t, data.sums(t), mixed.REML)
	if _, err := mixed.BootstrapLikelihoodRatio(m, m, 99, 1); !errors.Is(err, mixed.ErrNotNested) {
		t.Errorf("one model: %v", err)
	}
	plain := data
	plain.layout.GroupIntercept = false
	small := fitted(t, plain.sums(t), mixed.REML)
	if _, err := mixed.BootstrapLikelihoodRatio(small, m, 18, 1); !errors.Is(err, mixed.ErrArgument) {
		t.Errorf("18 samples: %v", err)
	}
}
