package mixed_test

import (
	"math/rand/v2"
	"testing"

	"lengthwise/stats/mixed"
)

func BenchmarkAddColumns(b *testing.B) {
	data := invent(rand.New(rand.NewPCG(1, 1)), layouts["nested, correlated"], 200, 1, 1, 1)
	b.ReportMetric(float64(len(data.y)), "rows/op")
	b.ReportAllocs()
	for b.Loop() {
		data.sums(b)
	}
}

func BenchmarkFit(b *testing.B) {
	data := invent(rand.New(rand.NewPCG(1, 1)), layouts["nested, correlated"], 200, 1, 1, 1)
	s := data.sums(b)
	b.ReportAllocs()
	for b.Loop() {
		m := fitted(b, s, mixed.REML)
		if _, err := m.Coefficients(mixed.Satterthwaite, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkBootstrap(b *testing.B) {
	m := fitted(b, invent(rand.New(rand.NewPCG(1, 1)), layouts["nested, correlated"], 30, 1, 1, 1).sums(b), mixed.REML)
	for b.Loop() {
		if _, err := m.Bootstrap(10, 1); err != nil {
			b.Fatal(err)
		}
	}
}
