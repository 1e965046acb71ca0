package linear

import "math"

// transform turns a column of the problem into one of the plain least-squares
// problem that is solved: divided by a power of two near its largest value,
// centred within the absorbed groups, multiplied by the root of the weights.
type transform struct {
	n           int
	weight      []float64 // weights over 4^exponent, nil for 1
	root        []float64 // their square roots, nil for 1
	exponent    int
	groups      grouping
	groupWeight []float64 // sum of weight by group
	sum         []float64 // scratch, by group
}

func newTransform(weights []float64, groups grouping, n int) *transform {
	t := &transform{n: n, groups: groups}
	if weights != nil {
		_, e := math.Frexp(largest(weights))
		t.exponent = e >> 1
		arena := make([]float64, 2*n)
		t.weight, t.root = arena[:n:n], arena[n:]
		for i, w := range weights {
			t.weight[i] = math.Ldexp(w, -2*t.exponent)
			t.root[i] = math.Sqrt(t.weight[i])
		}
	}
	if groups.count > 0 {
		t.groupWeight = make([]float64, groups.count)
		t.sum = make([]float64, groups.count)
		for i, g := range groups.code {
			t.groupWeight[g] += t.at(i)
		}
	}
	return t
}

func (t *transform) at(i int) float64 {
	if t.weight == nil {
		return 1
	}
	return t.weight[i]
}

// apply writes the transformed column to dst. It returns the exponent of two it
// divided by and the length of the column, in those units, before centring.
func (t *transform) apply(dst, column []float64) (exponent int, raw float64) {
	_, exponent = math.Frexp(largest(column))
	scaleByPowerOfTwo(dst, column, -exponent)
	for i, v := range dst {
		raw += t.at(i) * v * v
	}
	// Centring twice removes the rounding error of the first mean.
	if t.groups.count > 0 {
		for range 2 {
			clear(t.sum)
			for i, g := range t.groups.code {
				t.sum[g] += t.at(i) * dst[i]
			}
			for g := range t.sum {
				t.sum[g] /= t.groupWeight[g]
			}
			for i, g := range t.groups.code {
				dst[i] -= t.sum[g]
			}
		}
	}
	if t.root != nil {
		for i := range dst {
			dst[i] *= t.root[i]
		}
	}
	return exponent, math.Sqrt(raw)
}

// centre computes sums of squares about the weighted mean or about zero.
type centre struct {
	*transform
	mean bool
}

func (t *transform) aboutMean(mean bool) centre { return centre{t, mean} }

// sumOfSquares is the weighted sum of squares of column over 2^exponent.
func (c centre) sumOfSquares(column []float64, exponent int) float64 {
	f1, f2 := powersOfTwo(-exponent)
	var mean, total float64
	if c.mean {
		for i := range column {
			total += c.at(i)
		}
		for range 2 {
			var sum float64
			for i, v := range column {
				sum += c.at(i) * (v*f1*f2 - mean)
			}
			mean += sum / total
		}
	}
	var ss float64
	for i, v := range column {
		d := v*f1*f2 - mean
		ss += c.at(i) * d * d
	}
	return ss
}

// powersOfTwo gives two factors whose product is 2^exponent, so that scaling
// by one and then the other neither overflows nor underflows on the way.
func powersOfTwo(exponent int) (float64, float64) {
	half := exponent / 2
	return math.Ldexp(1, half), math.Ldexp(1, exponent-half)
}

// scaleByPowerOfTwo writes column times 2^exponent to dst, exactly as long as
// the result is a normal number.
func scaleByPowerOfTwo(dst, column []float64, exponent int) {
	f1, f2 := powersOfTwo(exponent)
	for i, v := range column {
		dst[i] = v * f1 * f2
	}
}

func largest(values []float64) float64 {
	var top float64
	for _, v := range values {
		top = math.Max(top, math.Abs(v))
	}
	return top
}
