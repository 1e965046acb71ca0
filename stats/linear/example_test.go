package linear_test

import (
	"errors"
	"fmt"
	"log"

	"lengthwise/stats/linear"
)

// Ten readings at five settings, a straight line through them.
func ExampleFit() {
	m, err := linear.Fit(linear.Problem{
		Response: []float64{2.1, 1.9, 3.8, 4.3, 6.1, 5.8, 8.4, 7.9, 9.7, 10.2},
		Terms:    []string{"intercept", "setting"},
		Columns: [][]float64{
			{1, 1, 1, 1, 1, 1, 1, 1, 1, 1},
			{1, 1, 2, 2, 3, 3, 4, 4, 5, 5},
		},
	})
	if err != nil {
		log.Fatal(err)
	}
	for _, c := range m.Coefficients(m.Classical(), 0.95) {
		fmt.Printf("%-9s %6.3f (%.3f to %.3f)\n", c.Term, c.Estimate, c.ConfLow, c.ConfHigh)
	}
	fmt.Printf("sigma %.3f on %d degrees of freedom\n", m.Sigma, m.DFResidual)
	// Output:
	// intercept  0.020 (-0.406 to 0.446)
	// setting    2.000 (1.872 to 2.128)
	// sigma 0.249 on 8 degrees of freedom
}

// Readings on five days. Each day has a level of its own, absorbed; what is left
// may still hang together within a day, so the days are the clusters too.
func ExampleModel_Clustered() {
	day := []int{1, 1, 1, 1, 2, 2, 2, 3, 3, 3, 3, 3, 4, 4, 4, 5, 5, 5, 5}
	m, err := linear.Fit(linear.Problem{
		Response: []float64{131, 134, 139, 141, 122, 127, 128, 140, 141, 147, 148, 153, 125, 130, 131, 133, 139, 138, 146},
		Terms:    []string{"intercept", "dose"},
		Columns: [][]float64{
			{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1},
			{0, 1, 2, 3, 0, 1, 2, 0, 1, 2, 3, 4, 0, 1, 2, 0, 1, 2, 3},
		},
		Absorb:  day,
		Cluster: day,
	})
	if err != nil {
		log.Fatal(err)
	}
	cov, err := m.Clustered(linear.CR2)
	if err != nil {
		log.Fatal(err)
	}
	c, err := m.Coefficient("dose", cov, 0.95)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%s: %.2f, standard error %.3f, df %.2f, %.2f to %.2f\n",
		cov.Kind, c.Estimate, c.StdError, c.DF, c.ConfLow, c.ConfHigh)
	_, err = m.Coefficient("intercept", cov, 0.95)
	fmt.Println(errors.Is(err, linear.ErrTerm), err)
	// Output:
	// CR2: 3.40, standard error 0.121, df 2.79, 2.99 to 3.80
	// true linear: term not in the model: "intercept" was dropped, it is constant within the absorbed groups
}

// A difference of 0.4 with standard error 0.6 on 11.3 degrees of freedom: is it
// within 2 either way?
func ExampleTwoOneSided() {
	e, err := linear.TwoOneSided(0.4, 0.6, 11.3, -2, 2, 0.05)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("p %.4f, 90 %% interval %.2f to %.2f, equivalent %v\n", e.P, e.ConfLow, e.ConfHigh, e.Equivalent)
	// Output:
	// p 0.0107, 90 % interval -0.67 to 1.47, equivalent true
}

// The survey of Cinelli and Hazlett (2020, section 5): t 4.18 on 783 degrees of
// freedom.
func ExampleRobustnessValue() {
	rv, err := linear.RobustnessValue(4.18, 783)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.1f %%\n", 100*rv)
	// Output:
	// 13.9 %
}

// Do dose and time matter together? Days are the clusters.
func ExampleModel_WaldClustered() {
	day := []int{1, 1, 1, 1, 2, 2, 2, 3, 3, 3, 3, 3, 4, 4, 4, 5, 5, 5, 5}
	m, err := linear.Fit(linear.Problem{
		Response: []float64{131, 134, 139, 141, 122, 127, 128, 140, 141, 147, 148, 153, 125, 130, 131, 133, 139, 138, 146},
		Terms:    []string{"dose", "time"},
		Columns: [][]float64{
			{0, 1, 2, 3, 0, 1, 2, 0, 1, 2, 3, 4, 0, 1, 2, 0, 1, 2, 3},
			{5, 3, 9, 1, 8, 2, 4, 7, 3, 1, 9, 5, 2, 8, 6, 4, 9, 1, 3},
		},
		Absorb:  day,
		Cluster: day,
	})
	if err != nil {
		log.Fatal(err)
	}
	both, err := m.Select("dose", "time")
	if err != nil {
		log.Fatal(err)
	}
	w, err := m.WaldClustered(linear.CR2, both)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("F(%.0f, %.2f) %.1f, p %.4f\n", w.DF1, w.DF2, w.Statistic, w.PValue)
	// Output:
	// F(2, 2.09) 670.5, p 0.0012
}

// One response of ten is misread. The plain slope follows it, the others do not.
func ExampleRobust() {
	setting := []float64{1, 1, 2, 2, 3, 3, 4, 4, 5, 5}
	p := linear.Problem{
		Response: []float64{2.1, 1.9, 3.8, 4.3, 6.1, 5.8, 8.4, 7.9, 9.7, 102},
		Terms:    []string{"intercept", "setting"},
		Columns:  [][]float64{{1, 1, 1, 1, 1, 1, 1, 1, 1, 1}, setting},
	}
	m, err := linear.Fit(p)
	if err != nil {
		log.Fatal(err)
	}
	h, err := linear.Robust(p, linear.RobustOptions{})
	if err != nil {
		log.Fatal(err)
	}
	s, err := linear.TheilSen(setting, p.Response, 0.95)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("plain %.2f, Huber %.2f (weight of the last row %.3f), pairwise %.2f (%.2f to %.2f)\n",
		m.Estimates[1], h.Estimates[1], h.Weights[9], s.Slope, s.ConfLow, s.ConfHigh)
	// Output:
	// plain 11.18, Huber 2.04 (weight of the last row 0.005), pairwise 2.03 (1.85 to 2.40)
}
