package association_test

import (
	"fmt"

	"lengthwise/stats/association"
	"lengthwise/stats/resample"
)

// Two subjects at different levels: over all rows y falls with x, within
// either subject it rises.
func ExampleRepeatedMeasures() {
	subject := []int{1, 1, 1, 1, 2, 2, 2, 2}
	x := []float64{1, 2, 3, 4, 11, 12, 13, 14}
	y := []float64{20.2, 20.9, 22.3, 22.8, 10.1, 10.7, 12.4, 12.9}
	within, err := association.RepeatedMeasures(subject, x, y)
	if err != nil {
		fmt.Println(err)
		return
	}
	overall, err := association.Pearson(x, y)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("within %.3f (%.3f to %.3f), df %v; over all rows %.3f\n",
		within.R, within.ConfLow, within.ConfHigh, within.DF, overall)
	// Output: within 0.978 (0.853 to 0.997), df 5; over all rows -0.907
}

func ExamplePearsonResampled() {
	session := []int{1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7}
	x := []float64{3, 5, 2, 6, 4, 7, 1, 3, 5, 8, 2, 4, 6, 7}
	y := []float64{2, 6, 1, 4, 5, 6, 3, 2, 4, 9, 1, 5, 4, 8}
	r, err := association.PearsonResampled(session, x, y, resample.Options{Seed: 1, Replicates: 999})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f (%.3f to %.3f), %d sessions\n", r.R, r.ConfLow, r.ConfHigh, r.Sessions)
	fmt.Println(r.Warnings)
	// Output:
	// 0.843 (0.711 to 0.927), 7 sessions
	// [only 7 sessions to resample: the interval is too narrow]
}

func ExampleMoments() {
	a, _ := association.MomentsOf([]float64{1, 2}, []float64{1, 3}, 2, 2)
	b, _ := association.MomentsOf([]float64{3, 4}, []float64{2, 4}, 2, 2)
	r, err := a.Scale(2).Add(b).Correlation() // rows of a twice, rows of b once
	fmt.Printf("%.4f %v\n", r, err)
	// Output: 0.8005 <nil>
}
