package ratio_test

import (
	"fmt"
	"testing"

	"lengthwise/stats/ratio"
)

// A curve with a slope of -4 and a curvature of 1, the curvature known well in
// one case and badly in the other.
func ExampleTurningPointOf() {
	for _, curvatureVariance := range []float64{0.01, 0.36} {
		p, err := ratio.TurningPointOf(-4, 1, 1, -0.05, curvatureVariance, 20, 0.95)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%.1f, %v %.2f to %.2f; between 0 and 10: %.2f\n", p.Estimate, p.Set.Kind, p.Set.Low, p.Set.High, p.Set.Within(0, 10))
	}
	// Output:
	// 2.0, interval 1.05 to 2.91; between 0 and 10: [{1.05 2.91}]
	// 2.0, two rays -7.37 to 0.70; between 0 and 10: [{0.70 10.00}]
}

func BenchmarkFieller(b *testing.B) {
	p := ratio.Quadratic(-4, 1, 1, -0.05, 0.01, 20)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ratio.Fieller(p, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}
