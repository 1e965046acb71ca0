// Package invent makes up rows for tests: of any row struct, with awkward
// values, the same for the same seed.
package invent

import (
	"math"
	"math/rand/v2"
	"reflect"
)

// Rows makes n rows of T. Pointers are nil for a third of the rows; zeros,
// empty text and extreme numbers are common.
func Rows[T any](n int, seed uint64) []T {
	r := rand.New(rand.NewPCG(seed, 1))
	rows := make([]T, n)
	for i := range rows {
		row := reflect.ValueOf(&rows[i]).Elem()
		for j := range row.NumField() {
			at := row.Field(j)
			if at.Kind() == reflect.Pointer {
				if r.IntN(3) == 0 {
					continue
				}
				at.Set(reflect.New(at.Type().Elem()))
				at = at.Elem()
			}
			fill(at, r)
		}
	}
	return rows
}

func fill(at reflect.Value, r *rand.Rand) {
	switch at.Kind() {
	case reflect.String:
		words := []string{"", "freestyle", "ärmel, \"q\"\r\n", "=1+1", "日本", "a\x00b", "long " + string(make([]byte, 300))}
		at.SetString(words[r.IntN(len(words))])
	case reflect.Bool:
		at.SetBool(r.IntN(2) == 0)
	case reflect.Int32:
		at.SetInt([]int64{0, 1, -1, math.MaxInt32, math.MinInt32, int64(r.Int32())}[r.IntN(6)])
	case reflect.Int64: // within what a timestamp in microseconds can hold
		at.SetInt([]int64{0, 1, -1, 1 << 53, -(1 << 52), r.Int64N(4e12)}[r.IntN(6)])
	case reflect.Float64:
		numbers := []float64{0, math.Copysign(0, -1), math.MaxFloat64, math.SmallestNonzeroFloat64, -1.0 / 3, r.NormFloat64()}
		at.SetFloat(numbers[r.IntN(len(numbers))])
	}
}
