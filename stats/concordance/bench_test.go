package concordance_test

import (
	"math/rand/v2"
	"testing"

	"lengthwise/stats/concordance"
)

func TestPermutationsAllocateNothing(t *testing.T) {
	d := draw(rand.New(rand.NewPCG(1, 1)), 20, 15, 0)
	p, err := concordance.NewPairs(d.block, nil)
	if err != nil {
		t.Fatal(err)
	}
	allocations := func(permutations int) float64 {
		return testing.AllocsPerRun(3, func() {
			if _, err := p.Null(d.a, d.b, 0, permutations, 1); err != nil {
				t.Fatal(err)
			}
		})
	}
	// The two result slices grow in size, not in number.
	if few, many := allocations(20), allocations(500); few != many {
		t.Errorf("%v allocations for 20 permutations, %v for 500", few, many)
	}
}

func BenchmarkPairs(b *testing.B) {
	d := draw(rand.New(rand.NewPCG(1, 1)), 30, 16, 0)
	b.ReportAllocs()
	for range b.N {
		if _, err := concordance.NewPairs(d.block, nil); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCount(b *testing.B) {
	d := draw(rand.New(rand.NewPCG(1, 1)), 30, 16, 0)
	p, err := concordance.NewPairs(d.block, nil)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for range b.N {
		if _, err := p.Count(d.a, d.b, 0); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkNull(b *testing.B) {
	d := draw(rand.New(rand.NewPCG(1, 1)), 30, 16, 0)
	p, err := concordance.NewPairs(d.block, nil)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for range b.N {
		if _, err := p.Null(d.a, d.b, 0, 999, 1); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/999/float64(p.Len()), "ns/pair")
}

func BenchmarkInterval(b *testing.B) {
	d := draw(rand.New(rand.NewPCG(1, 1)), 30, 16, 0)
	tally, err := concordance.Count(d.block, d.a, d.b, nil, 0)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for range b.N {
		if _, err := tally.Interval(0.95); err != nil {
			b.Fatal(err)
		}
	}
}
