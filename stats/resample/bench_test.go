package resample_test

import (
	"math/rand/v2"
	"testing"

	"lengthwise/stats/resample"
)

func BenchmarkWeights(b *testing.B) {
	plan, err := resample.Clusters(60, 1999, 1)
	if err != nil {
		b.Fatal(err)
	}
	w := make([]float64, 60)
	b.ReportAllocs()
	for i := range b.N {
		plan.Weights(i%1999, w)
	}
}

func BenchmarkPercentile(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	v := make([]float64, 1999)
	for i := range v {
		v[i] = r.NormFloat64()
	}
	b.ReportAllocs()
	for range b.N {
		if _, err := resample.Percentile(v, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSeedOf(b *testing.B) {
	v := make([]float64, 400)
	b.ReportAllocs()
	for range b.N {
		resample.SeedOf(1, "concordance", v, v)
	}
}
