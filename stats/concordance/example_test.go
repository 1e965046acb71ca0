package concordance_test

import (
	"fmt"
	"math"

	"lengthwise/stats/concordance"
)

// Pairs of rows whose third value is close, in three blocks.
func Example() {
	block := []int{1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3}
	third := []float64{80, 81, 80, 90, 85, 85, 86, 84, 80, 80, 81, 80}
	a := []float64{10, 12, 14, 9, 11, 13, 12, 10, 9, 12, 11, 13}
	b := []float64{3, 4, 6, 9, 2, 3, 5, 1, 5, 4, 6, 8}
	match := func(i, j int) bool { return math.Abs(math.Log(third[i]/third[j])) <= 0.02 }

	pairs, err := concordance.NewPairs(block, match)
	if err != nil {
		fmt.Println(err)
		return
	}
	tally, err := pairs.Count(a, b, 0)
	if err != nil {
		fmt.Println(err)
		return
	}
	estimate, err := tally.Estimate()
	if err != nil {
		fmt.Println(err)
		return
	}
	interval, err := tally.Interval(0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	null, err := pairs.Null(a, b, 0, 999, 1)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f (%.2f to %.2f) from %d pairs; permuted %.2f, p %.3f\n",
		estimate, interval.Low, interval.High, pairs.Len(), null.Mean, null.P)
	// Output: 0.79 (0.32 to 1.00) from 14 pairs; permuted 0.51, p 0.105
}
