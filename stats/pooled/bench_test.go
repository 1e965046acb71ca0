package pooled_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"lengthwise/stats/pooled"
)

func BenchmarkFit(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, k := range []int{24, 2000} {
		y, v := make([]float64, k), make([]float64, k)
		for i := range y {
			v[i] = math.Exp(r.NormFloat64())
			y[i] = r.NormFloat64() + math.Sqrt(v[i])*r.NormFloat64()
		}
		b.Run(fmt.Sprintf("k=%d", k), func(b *testing.B) {
			b.ReportAllocs()
			for range b.N {
				if _, err := pooled.Fit(y, v, pooled.Options{Test: pooled.HartungKnapp}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
