package resample_test

import (
	"fmt"

	"lengthwise/stats/resample"
)

// A mean of session means, with sessions resampled.
func Example() {
	sessions := []float64{151, 148, 156, 149, 153, 147, 155, 150}
	seed := resample.SeedOf(20261125, "mean", sessions)
	plan, err := resample.Clusters(len(sessions), 999, seed)
	if err != nil {
		fmt.Println(err)
		return
	}
	weights := make([]float64, plan.Units())
	replicates := make([]float64, plan.Replicates())
	for b := range replicates {
		plan.Weights(b, weights)
		for i, s := range sessions {
			replicates[b] += weights[i] * s / float64(len(sessions))
		}
	}
	interval, err := resample.Percentile(replicates, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f to %.1f\n", interval.Low, interval.High)
	// Output: 149.2 to 153.2
}

func ExampleSeedOf() {
	column := []float64{151, 148}
	fmt.Println(resample.SeedOf(1, "a", column) == resample.SeedOf(1, "a", []float64{151, 148}))
	fmt.Println(resample.SeedOf(1, "a", column) == resample.SeedOf(1, "b", column))
	// Output:
	// true
	// false
}

func ExampleJackknife() {
	// The mean of 1, 2, 3, 6 with each value left out in turn.
	r, err := resample.Jackknife(3, []float64{11. / 3, 10. / 3, 3, 2})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.4f\n", r.StdError) // the textbook s/sqrt(n)
	// Output: 1.0801
}
