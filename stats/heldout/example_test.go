package heldout_test

import (
	"fmt"

	"lengthwise/stats/heldout"
)

// Three groups whose response is near twice the column: what is left of the squared
// response when each group is foretold from the others.
func Example() {
	group := []int{0, 0, 1, 1, 2, 2}
	column := []float64{-1, 1, -2, 2, -0.5, 0.5} // centred within groups, like the response
	response := []float64{-2.1, 2.1, -3.9, 3.9, -1.2, 1.2}
	rows, err := heldout.New(group, [][]float64{column}, response)
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := rows.Predict([]int{0}, 0) // the weight must be above zero
	if err != nil {
		fmt.Println(err)
		return
	}
	for g, nothing := range rows.Nothing() {
		fmt.Printf("%.2f of %.2f\n", p.Squared[g], nothing)
	}
	// Output:
	// 0.03 of 8.82
	// 0.35 of 30.42
	// 0.09 of 2.88
}
