package multiplicity_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"lengthwise/stats/internal/reference"
	"lengthwise/stats/multiplicity"
)

type method struct {
	name   string
	adjust func([]float64) ([]float64, error)
}

var methods = []method{
	{"Holm", multiplicity.Holm},
	{"BenjaminiHochberg", multiplicity.BenjaminiHochberg},
	{"BenjaminiYekutieli", multiplicity.BenjaminiYekutieli},
}

// TestEveryEntryOfAdjusted compares every number of testdata/adjusted.json: R
// 4.2.2's p.adjust on the fifteen p-values of Benjamini and Hochberg (1995, section
// 3.1), who reject four at 0.05 where Bonferroni has three, and on values with
// ties. Closed forms, 1e-10. Of the adjustments that the package leaves out the
// values frame its own: BH <= Hommel <= Hochberg <= Holm <= Bonferroni.
func TestEveryEntryOfAdjusted(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "adjusted.json")
	for _, set := range []string{"BH1995", "unsorted_ties"} {
		at := "multiplicity/" + set + "/"
		p := f.Input(t, at+"p")
		adjusted := map[string][]float64{}
		for i, name := range []string{"holm", "BH", "BY"} {
			got, err := methods[i].adjust(p)
			if err != nil {
				t.Fatal(err)
			}
			f.NearAll(t, got, 1e-10, at+name)
			adjusted[name] = got
		}
		rising := [][]float64{adjusted["BH"], f.Input(t, at+"hommel"), f.Input(t, at+"hochberg"), adjusted["holm"], f.Input(t, at+"bonferroni")}
		for i, lower := range rising[:4] {
			for j, v := range lower {
				if v > rising[i+1][j]*(1+1e-12) {
					t.Errorf("%s, p-value %d: adjustment %d gives %v, the next one %v", set, j, i, v, rising[i+1][j])
				}
			}
		}
		if set != "BH1995" {
			continue
		}
		f.Counts(t, rejections(adjusted["BH"], 0.05), "multiplicity/n_reject_BH_05")
		f.Counts(t, rejections(rising[4], 0.05), "multiplicity/n_reject_bonf")
	}
	f.Complete(t)
}

func TestRefusesWhatIsNoPValue(t *testing.T) {
	for _, m := range methods {
		for _, bad := range []float64{math.NaN(), -1e-300, 1.0000001, math.Inf(1)} {
			_, err := m.adjust([]float64{0.5, bad})
			var e *multiplicity.PValueError
			if !errors.As(err, &e) || e.Index != 1 || e.Error() == "" {
				t.Errorf("%s with %v: got %v, want a PValueError at 1", m.name, bad, err)
			}
		}
		if got, err := m.adjust(nil); err != nil || len(got) != 0 {
			t.Errorf("%s of nothing: %v, %v", m.name, got, err)
		}
		if got, err := m.adjust([]float64{0.03}); err != nil || got[0] != 0.03 {
			t.Errorf("%s of one test: %v, %v; want it unchanged", m.name, got, err)
		}
	}
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.OneOf(rapid.Float64Range(0, 1), rapid.SampledFrom([]float64{0, 0.01, 0.5, 1})), 1, 40).Draw(t, "p")
		before := slices.Clone(p)
		adjusted := make([][]float64, len(methods))
		for k, m := range methods {
			got, err := m.adjust(p)
			if err != nil {
				t.Fatal(err)
			}
			adjusted[k] = got
			if !slices.Equal(p, before) {
				t.Fatalf("%s changed its input", m.name)
			}
			for i := range p {
				if got[i] < p[i] || got[i] > 1 {
					t.Fatalf("%s: %v adjusted to %v", m.name, p[i], got[i])
				}
				for j := range p {
					if p[i] <= p[j] && got[i] > got[j] {
						t.Fatalf("%s: order of %v and %v turned round", m.name, p[i], p[j])
					}
				}
			}
			// The order of the tests does not matter.
			order := rapid.Permutation(positions(len(p))).Draw(t, "order")
			moved := make([]float64, len(p))
			for i, o := range order {
				moved[i] = p[o]
			}
			again, err := m.adjust(moved)
			if err != nil {
				t.Fatal(err)
			}
			for i, o := range order {
				if again[i] != got[o] {
					t.Fatalf("%s depends on the order of the tests", m.name)
				}
			}
		}
		for i := range p {
			const rounding = 1e-14
			if adjusted[1][i] > adjusted[0][i]+rounding || adjusted[1][i] > adjusted[2][i]+rounding {
				t.Fatalf("BH %v above Holm %v or BY %v", adjusted[1][i], adjusted[0][i], adjusted[2][i])
			}
		}
	})
}

// TestErrorRates simulates 2000 families of 20 z-tests, five with a true
// shift of 3, and checks what each method promises: family-wise error of Holm
// at most 0.05 and false discovery rate of BH at most 0.05 x 15/20, each up
// to four Monte-Carlo standard errors. Unadjusted tests must break both.
func TestErrorRates(t *testing.T) {
	const families, tests, shifted, alpha = 2000, 20, 5, 0.05
	r := rand.New(rand.NewPCG(5, 8))
	var anyHolm, anyPlain, fdrBH, fdrPlain, found float64
	for range families {
		p := make([]float64, tests)
		for i := range p {
			z := r.NormFloat64()
			if i < shifted {
				z += 3
			}
			p[i] = 2 * distuv.UnitNormal.CDF(-math.Abs(z))
		}
		holm, err1 := multiplicity.Holm(p)
		bh, err2 := multiplicity.BenjaminiHochberg(p)
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		share := func(q []float64) float64 {
			if n := rejections(q, alpha); n > 0 {
				return float64(rejections(q[shifted:], alpha)) / float64(n)
			}
			return 0
		}
		fdrBH += share(bh) / families
		fdrPlain += share(p) / families
		found += float64(rejections(bh[:shifted], alpha)) / shifted / families
		if rejections(holm[shifted:], alpha) > 0 {
			anyHolm += 1. / families
		}
		if rejections(p[shifted:], alpha) > 0 {
			anyPlain += 1. / families
		}
	}
	t.Logf("any false: Holm %.3f, plain %.3f; false share: BH %.3f, plain %.3f; BH finds %.2f", anyHolm, anyPlain, fdrBH, fdrPlain, found)
	slack := 4 * math.Sqrt(alpha*(1-alpha)/families)
	if anyHolm > alpha+slack || fdrBH > alpha*15/20+slack {
		t.Errorf("error rates above the promise: Holm %.3f, BH %.3f", anyHolm, fdrBH)
	}
	if anyPlain < 0.4 || fdrPlain < 0.08 || found < 0.5 {
		t.Errorf("the simulation has no teeth: plain %.3f and %.3f, found %.2f", anyPlain, fdrPlain, found)
	}
}

func rejections(q []float64, alpha float64) (n int) {
	for _, v := range q {
		if v <= alpha {
			n++
		}
	}
	return n
}

func positions(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

func BenchmarkBenjaminiHochberg(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	p := make([]float64, 5000)
	for i := range p {
		p[i] = r.Float64()
	}
	b.ReportAllocs()
	for range b.N {
		if _, err := multiplicity.BenjaminiHochberg(p); err != nil {
			b.Fatal(err)
		}
	}
}

func ExampleHolm() {
	adjusted, err := multiplicity.Holm([]float64{0.04, 0.01, 0.02})
	fmt.Println(adjusted, err)
	// Output: [0.04 0.03 0.04] <nil>
}

func ExampleBenjaminiHochberg() {
	adjusted, err := multiplicity.BenjaminiHochberg([]float64{0.04, 0.01, 0.5, 0.02})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.4f\n", adjusted)
	// Output: [0.0533 0.0400 0.5000 0.0400]
}
