package analyse

import (
	"cmp"
	"math"
	"slices"

	"lengthwise/pipeline/derive"
)

const (
	// The middle of the rates set is taken from fewestSet bouts on. It may rise with
	// pace from fewestSloped bouts on whose paces spread by fromPaces in ln speed
	// (standard deviation); else it is the same at all.
	fewestSet    = 8
	fewestSloped = 24
	fromPaces    = 0.02

	// steepest bounds how ln rate may rise with ln speed.
	steepest = 4.0

	// endShare of the range of rates set belongs to either end of it: less than half
	// of a step, where rates are set in five steps.
	endShare = 0.12

	// gapShare of the range without a rate divides two steps of rates set.
	gapShare = 0.05

	// A rate this many times as far from the line through all of them as nine in
	// ten are is a slip of the pen, and no end of the range.
	slip = 1.5
)

// usualFromSet takes the middle of the rates set for the usual rate: rates are set
// as shares of it, as far up as down (common practice, no source). The middle is
// halfway between the highest and the lowest, whatever number of bouts each had,
// and rises with pace as the two of them do. A rate over whole lengths lies below
// the one set, which is that of mid-pool, by what it does on average. False where a
// rate was not set for every bout.
func usualFromSet(bouts []*derive.Bout, u usualRate) (usualRate, bool) {
	if len(bouts) < fewestSet {
		return u, false
	}
	x, set := make([]float64, len(bouts)), make([]float64, len(bouts))
	for i, b := range bouts {
		if math.IsNaN(b.Tags.RateTargetSPM) {
			return u, false
		}
		x[i], set[i] = u.pace(b), math.Log(b.Tags.RateTargetSPM)
	}
	x, set = withoutSlips(x, set)
	u.setBy(x, set)
	lost := map[float64][]float64{} // ln of the rate counted over the rate set, by pool
	for _, b := range bouts {
		lost[b.PoolM] = append(lost[b.PoolM], math.Log(b.StrokeRateSPM/b.Tags.RateTargetSPM))
	}
	common := bouts[slices.IndexFunc(bouts, func(b *derive.Bout) bool { return poolName(b) == valuesOf(bouts, poolName)[0] })].PoolM
	// Where strokes are miscounted the error of this mean is in the bouts' rates as
	// well, and cancels; where a rate is not held it is none of theirs, and moves a
	// slope that is read at the usual rate (carryUsual).
	u.level += mean(lost[common])
	if n := len(lost[common]); n > 1 {
		u.heldVariance = square(deviation(lost[common])) / float64(n)
	}
	if len(lost) > 1 {
		u.pool = map[float64]float64{}
		for pool, l := range lost {
			u.pool[pool] = mean(l) - mean(lost[common])
		}
	}
	u.set, u.bouts = true, bouts
	return u, true
}

// withoutSlips leaves out what lies far from the line through all rates set.
func withoutSlips(x, set []float64) (keptX, keptSet []float64) {
	mx, ms := mean(x), mean(set)
	var cross, squares float64
	for i := range x {
		cross, squares = cross+(x[i]-mx)*(set[i]-ms), squares+square(x[i]-mx)
	}
	slope := 0.0
	if squares > 0 {
		slope = cross / squares
	}
	off := make([]float64, len(x))
	for i := range x {
		off[i] = math.Abs(set[i] - ms - slope*(x[i]-mx))
	}
	most := slip * quantile(off, 0.9)
	for i := range x {
		if off[i] <= most {
			keptX, keptSet = append(keptX, x[i]), append(keptSet, set[i])
		}
	}
	return keptX, keptSet
}

// setBy lays the usual rate midway between the ends of the rates set, ln rates at
// ln speeds x. The slope starts as that of the narrowest band that holds all of them,
// which the numbers of bouts at each rate do not move, and is then the one along
// the steps in which rates were set.
func (u *usualRate) setBy(x, set []float64) {
	sloped := deviation(x) >= fromPaces && len(x) >= fewestSloped
	slope := 0.0
	if sloped {
		slope = narrowestBand(x, set)
	}
	var groups [][]int
	var slopeVariance float64
	for range 4 { // the steps are soon the same
		groups = ends(x, set, slope)
		if sloped {
			slope, slopeVariance = along(steps(x, set, slope), x, set, 1/(12*math.Exp(2*mean(set))))
		}
	}
	var middle, variance, pace float64
	for _, g := range groups {
		var rates []float64
		for _, i := range g {
			rates = append(rates, math.Exp(set[i]-slope*x[i]))
			pace += x[i] / float64(len(g)) / 2
		}
		middle += mean(rates) / 2
		variance += square(deviation(rates)) / float64(max(1, len(rates)-1)) / 4
	}
	u.level, u.slope = math.Log(middle), slope
	u.middlePace, u.slopeVariance = pace, slopeVariance
	// Rates set are whole numbers. Where they do not move with pace the rounding is
	// the same for all bouts of an end, and does not show in how they scatter.
	u.setVariance = math.Max(variance, 1/24.0) / (middle * middle)
	if sloped {
		u.setVariance = variance / (middle * middle)
	}
}

// ends are the rows near the lowest and near the highest of set - slope x.
func ends(x, set []float64, slope float64) [][]int {
	v := make([]float64, len(x))
	for i := range x {
		v[i] = set[i] - slope*x[i]
	}
	low, high := slices.Min(v), slices.Max(v)
	out := make([][]int, 2)
	for i := range v {
		if v[i] <= low+endShare*(high-low) {
			out[0] = append(out[0], i)
		}
		if v[i] >= high-endShare*(high-low) {
			out[1] = append(out[1], i)
		}
	}
	return out
}

// steps are the rows of each step in which rates were set, told apart by the gaps
// between them; the two ends where there are no gaps.
func steps(x, set []float64, slope float64) [][]int {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	at := func(i int) float64 { return set[i] - slope*x[i] }
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(at(i), at(j)) })
	gap := gapShare * (at(order[len(order)-1]) - at(order[0]))
	out := [][]int{{order[0]}}
	for k := 1; k < len(order); k++ {
		if at(order[k])-at(order[k-1]) > gap {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], order[k])
	}
	for _, g := range out {
		if at(g[len(g)-1])-at(g[0]) > 4*gap { // no step: rates of all kinds
			return ends(x, set, slope)
		}
	}
	return out
}

// narrowestBand is the slope of the narrowest band of two parallel lines that
// holds all points. Its width is a convex function of the slope, searched by golden
// sections.
func narrowestBand(x, y []float64) float64 {
	width := func(slope float64) float64 {
		low, high := math.Inf(1), math.Inf(-1)
		for i := range x {
			v := y[i] - slope*x[i]
			low, high = math.Min(low, v), math.Max(high, v)
		}
		return high - low
	}
	const share = 0.6180339887498949
	low, high := -steepest, steepest
	a, b := high-share*(high-low), low+share*(high-low)
	atA, atB := width(a), width(b)
	for range 40 {
		if atA <= atB {
			high, b, atB = b, a, atA
			a = high - share*(high-low)
			atA = width(a)
		} else {
			low, a, atA = a, b, atB
			b = low + share*(high-low)
			atB = width(b)
		}
	}
	return (low + high) / 2
}

// along is the common slope of set on x within groups of rows, with its variance;
// 0 where x does not vary within them. Paces are swum near the pace meant, so that
// the slope of set on x is too flat, and rates are set for other reasons than pace
// too, so that the one of x on set, turned round, is too steep. It is halfway
// between the two, and half the distance counts as an error of its own.
func along(groups [][]int, x, set []float64, rounding float64) (slope, variance float64) {
	var cross, squaresX, squaresSet float64
	n := -1
	for _, g := range groups {
		var mx, my float64
		for _, i := range g {
			mx, my = mx+x[i]/float64(len(g)), my+set[i]/float64(len(g))
		}
		for _, i := range g {
			dx, dy := x[i]-mx, set[i]-my
			cross, squaresX, squaresSet = cross+dx*dy, squaresX+dx*dx, squaresSet+dy*dy
		}
		n += len(g) - 1
	}
	if squaresX == 0 || n < 1 {
		return 0, 0
	}
	flat := cross / squaresX
	variance = math.Max(0, squaresSet-flat*cross) / float64(n) / squaresX
	steep := (squaresSet - float64(n)*rounding) / cross
	if !(steep/flat > 1) || math.Abs(steep) > steepest {
		return flat, variance // they do not go together, or by rounding alone
	}
	return (flat + steep) / 2, variance + square((steep-flat)/2)
}

func square(v float64) float64 { return v * v }

// deviation is the standard deviation of values about their mean.
func deviation(values []float64) float64 {
	m := mean(values)
	var squares float64
	for _, v := range values {
		squares += (v - m) * (v - m)
	}
	return math.Sqrt(squares / float64(len(values)))
}
