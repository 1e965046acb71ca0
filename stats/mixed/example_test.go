package mixed_test

import (
	"fmt"
	"log"

	"lengthwise/stats/mixed"
)

// Readings on four units, each on two or three days; the response rises with
// the dose, by a slope of its own in each unit.
func Example() {
	s, err := mixed.NewSums(mixed.Layout{
		Fixed:          []string{"level", "dose"},
		Random:         []string{"level"},
		GroupIntercept: true,
	})
	if err != nil {
		log.Fatal(err)
	}
	for _, r := range []struct {
		unit, day string
		dose, y   float64
	}{
		{"A", "Mon", 1, 12.1}, {"A", "Mon", 2, 14.0}, {"A", "Mon", 3, 15.2}, {"A", "Tue", 1, 11.0}, {"A", "Tue", 2, 12.8},
		{"B", "Mon", 1, 15.9}, {"B", "Mon", 3, 19.4}, {"B", "Thu", 2, 18.8}, {"B", "Thu", 3, 20.1}, {"B", "Fri", 1, 16.0},
		{"C", "Tue", 2, 10.2}, {"C", "Tue", 3, 12.3}, {"C", "Wed", 1, 9.4}, {"C", "Wed", 2, 11.1},
		{"D", "Mon", 1, 14.2}, {"D", "Mon", 2, 15.7}, {"D", "Sat", 2, 17.1}, {"D", "Sat", 3, 18.6},
	} {
		if err := s.Add(r.unit, r.day, []float64{1, r.dose}, r.y); err != nil {
			log.Fatal(err)
		}
	}
	m, err := mixed.Fit(s, mixed.Options{})
	if err != nil {
		log.Fatal(err)
	}
	rows, err := m.Coefficients(mixed.KenwardRoger, 0.95)
	if err != nil {
		log.Fatal(err)
	}
	for _, c := range rows {
		fmt.Printf("%-5s %6.3f (%.3f to %.3f), df %.1f\n", c.Term, c.Estimate, c.ConfLow, c.ConfHigh, c.DF)
	}
	unit, err := m.SD("level")
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("between units %.2f, between days %.2f, within %.2f\n", unit, m.GroupSD, m.ResidualSD)
	// Output:
	// level 11.271 (6.150 to 16.393), df 3.0
	// dose   1.665 (1.492 to 1.838), df 8.5
	// between units 3.20, between days 0.64, within 0.20
}
