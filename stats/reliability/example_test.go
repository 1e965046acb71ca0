package reliability_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"lengthwise/stats/reliability"
)

// Five subjects on two days, in beats per minute.
func ExampleRetest() {
	r, err := reliability.Retest([]float64{142, 158, 161, 135, 146}, []float64{147, 156, 167, 135, 143}, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("typical error %.1f (%.1f to %.1f), detectable %.1f, worthwhile %.1f\n",
		r.TypicalError.Value, r.TypicalError.ConfLow, r.TypicalError.ConfHigh,
		r.MinimalDetectableChange, r.SmallestWorthwhileChange)
	// Output: typical error 2.9 (1.7 to 8.3), detectable 8.0, worthwhile 2.3
}

// Subjects measured two to four times.
func ExampleOneWay() {
	c, err := reliability.OneWay(
		[]int{1, 1, 2, 2, 2, 3, 3, 4, 4, 4, 4},
		[]float64{140, 143, 151, 155, 150, 147, 143, 160, 158, 163, 161}, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("ICC %.2f (%.2f to %.2f), typical error %.1f\n", c.ICC, c.ConfLow, c.ConfHigh, c.TypicalError.Value)
	// Output: ICC 0.92 (0.64 to 0.99), typical error 2.4
}

func BenchmarkIntraclass(b *testing.B) {
	table := draw(rand.New(rand.NewPCG(1, 2)), 20, 6, 4, 1, 2)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := reliability.Intraclass(table, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkComponents(b *testing.B) {
	subject, trial, value := long(draw(rand.New(rand.NewPCG(1, 2)), 20, 6, 4, 1, 2))
	b.Run("one way", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := reliability.OneWay(subject, value, 0.95); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("agreement", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := reliability.Agreement(subject, trial, value, 0.95); err != nil {
				b.Fatal(err)
			}
		}
	})
}
