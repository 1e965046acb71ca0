package publish

import (
	"math"
	"slices"
	"strconv"
)

// axis maps values from low..high to pixels from..to.
type axis struct {
	low, high float64
	from, to  float64
}

// at is the pixel of a value; values beyond the axis land on its ends.
func (a axis) at(v float64) float64 {
	v = math.Min(math.Max(v, a.low), a.high)
	return a.from + (v-a.low)/(a.high-a.low)*(a.to-a.from)
}

// inside reports whether a value needs no cutting off.
func (a axis) inside(v float64) bool { return v >= a.low && v <= a.high }

// reach is the part of the number line that a picture shows: everything in
// always, and all of the ends, unless a few very wide intervals would squeeze
// the rest: where nine tenths of the ends need less than two thirds of the
// line, the others are cut off, with an arrow.
func reach(always, ends []float64) (low, high float64) {
	low, high = always[0], always[0]
	for _, v := range always {
		low, high = math.Min(low, v), math.Max(high, v)
	}
	if len(ends) > 0 {
		sorted := slices.Clone(ends)
		slices.Sort(sorted)
		cut := len(sorted) / 20
		wideLow, wideHigh := math.Min(low, sorted[0]), math.Max(high, sorted[len(sorted)-1])
		low = math.Min(low, sorted[cut])
		high = math.Max(high, sorted[len(sorted)-1-cut])
		if 2*(wideHigh-wideLow) <= 3*(high-low) {
			low, high = wideLow, wideHigh
		}
	}
	if high == low {
		low, high = low-1, high+1
	}
	margin := 0.03 * (high - low)
	return low - margin, high + margin
}

// ticks are round numbers (1, 2 or 5 times a power of ten) inside low..high,
// at most about so many, and the digits after the point that they need.
func ticks(low, high float64, most int) (values []float64, digits int) {
	raw := (high - low) / float64(most)
	power := math.Floor(math.Log10(raw))
	step := math.Pow(10, power)
	for _, m := range []float64{1, 2, 5, 10} {
		if m*math.Pow(10, power) >= raw {
			step = m * math.Pow(10, power)
			break
		}
	}
	digits = int(math.Max(0, -math.Floor(math.Log10(step)+1e-9)))
	for i := math.Ceil(low/step - 1e-9); i*step <= high+1e-9*step; i++ {
		values = append(values, i*step)
	}
	return values, digits
}

// fixed writes a number with a true minus sign.
func fixed(v float64, digits int) string {
	s := strconv.FormatFloat(math.Abs(v), 'f', digits, 64)
	if v < 0 && !isZero(s) {
		return "\u2212" + s
	}
	return s
}

// signed writes a number with its sign, plus too.
func signed(v float64, digits int) string {
	s := fixed(v, digits)
	if v > 0 && !isZero(s) {
		return "+" + s
	}
	return s
}

func isZero(s string) bool {
	for _, c := range s {
		if c != '0' && c != '.' {
			return false
		}
	}
	return true
}
