package linear

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// benchProblem is the size of one subject's study: clusters of about 12 rows,
// their levels absorbed, k terms.
func benchProblem(clusters, rows, k int, weighted, crossed bool) Problem {
	r := rand.New(rand.NewPCG(1, 2))
	var p Problem
	for c := range clusters {
		for i := range rows {
			p.Cluster = append(p.Cluster, c)
			if crossed {
				p.Absorb = append(p.Absorb, i%5)
			} else {
				p.Absorb = append(p.Absorb, c)
			}
		}
	}
	n := len(p.Cluster)
	draw := func() []float64 {
		v := make([]float64, n)
		for i := range v {
			v[i] = 3 + r.NormFloat64()
		}
		return v
	}
	p.Response = draw()
	for j := range k {
		p.Terms = append(p.Terms, fmt.Sprintf("x%d", j))
		p.Columns = append(p.Columns, draw())
	}
	if weighted {
		p.Weights = mapped(draw(), func(v float64) float64 { return 1 + v*v })
	}
	return p
}

var sizes = []struct{ clusters, rows, k int }{{12, 12, 5}, {40, 20, 10}}

func BenchmarkFit(b *testing.B) {
	for _, s := range sizes {
		for _, weighted := range []bool{false, true} {
			p := benchProblem(s.clusters, s.rows, s.k, weighted, false)
			b.Run(fmt.Sprintf("clusters=%d/rows=%d/terms=%d/weighted=%v", s.clusters, s.rows, s.k, weighted), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if _, err := Fit(p); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

func BenchmarkClustered(b *testing.B) {
	for _, s := range sizes {
		for _, crossed := range []bool{false, true} {
			m, err := Fit(benchProblem(s.clusters, s.rows, s.k, false, crossed))
			if err != nil {
				b.Fatal(err)
			}
			b.Run(fmt.Sprintf("CR2/clusters=%d/rows=%d/terms=%d/crossed=%v", s.clusters, s.rows, s.k, crossed), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if _, err := m.Clustered(CR2); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

func BenchmarkHeteroscedastic(b *testing.B) {
	m, err := Fit(benchProblem(12, 12, 5, false, false))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.Heteroscedastic(HC3); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCoefficients(b *testing.B) {
	m, err := Fit(benchProblem(12, 12, 5, false, false))
	if err != nil {
		b.Fatal(err)
	}
	c, err := m.Clustered(CR2)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		m.Coefficients(c, 0.95)
	}
}
