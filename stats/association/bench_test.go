package association_test

import (
	"math/rand/v2"
	"testing"

	"lengthwise/stats/association"
	"lengthwise/stats/resample"
)

func BenchmarkRepeatedMeasuresResampled(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	var d table
	for i := range 24 {
		for s := range 12 {
			for range 15 {
				d.add(i, s, r.NormFloat64(), r.NormFloat64())
			}
		}
	}
	b.ReportAllocs()
	for range b.N {
		if _, err := association.RepeatedMeasuresResampled(d.subject, d.session, d.x, d.y, resample.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPearson(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	x, y := make([]float64, 200), make([]float64, 200)
	for i := range x {
		x[i], y[i] = r.NormFloat64(), r.NormFloat64()
	}
	b.ReportAllocs()
	for range b.N {
		if _, err := association.Pearson(x, y); err != nil {
			b.Fatal(err)
		}
	}
}
