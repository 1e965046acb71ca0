package analyse

import (
	"cmp"
	"math"
	"slices"

	"lengthwise/pipeline/derive"
	"lengthwise/stats/linear"
)

const (
	// Paces that spread by fromPaces in ln speed (standard deviation) are taken in
	// paceBins groups of perBin bouts and more, so that the usual rate may rise with
	// pace; else the middle is the same at all.
	fromPaces = 0.02
	paceBins  = 3
	perBin    = 8
)

// usualFromSet takes the middle of the rates set for the usual rate: rates are set
// as shares of it, as far up as down (common practice, no source). The middle is
// halfway between the highest and the lowest, whatever number of bouts each had,
// in slow, middling and fast bouts apart. A rate over whole lengths lies below the
// one set, which is that of mid-pool, by what it does on average. False where a
// rate was not set for every bout.
func usualFromSet(bouts []*derive.Bout, u usualRate) (usualRate, bool) {
	if len(bouts) < perBin {
		return u, false
	}
	x := make([]float64, len(bouts))
	for i, b := range bouts {
		if math.IsNaN(b.Tags.RateTargetSPM) {
			return u, false
		}
		x[i] = u.pace(b)
	}
	order := slices.Clone(bouts)
	slices.SortStableFunc(order, func(a, b *derive.Bout) int { return cmp.Compare(u.pace(a), u.pace(b)) })
	bins := 1
	if deviation(x) >= fromPaces && len(bouts) >= paceBins*perBin {
		bins = paceBins
	}
	var pace, middles, one []float64
	for k := range bins {
		group := order[k*len(order)/bins : (k+1)*len(order)/bins]
		var set, at []float64
		for _, b := range group {
			set, at = append(set, b.Tags.RateTargetSPM), append(at, u.pace(b))
		}
		// A slip of the pen is no end of the range.
		middle := (quantile(set, 0.02) + quantile(set, 0.98)) / 2
		pace, middles, one = append(pace, mean(at)), append(middles, math.Log(middle)), append(one, 1)
		// Both ends are whole numbers.
		u.rounding += 1 / (24 * middle * middle) / float64(bins)
	}
	u.level = middles[0]
	if bins > 1 {
		m, err := linear.Fit(linear.Problem{Response: middles, Terms: []string{"level", "slope"}, Columns: [][]float64{one, pace}})
		if err != nil || len(m.Estimates) < 2 {
			return u, false
		}
		u.level, u.slope = m.Estimates[0], m.Estimates[1]
	}
	lost := map[float64][]float64{} // ln of the rate counted over the rate set, by pool
	for _, b := range bouts {
		lost[b.PoolM] = append(lost[b.PoolM], math.Log(b.StrokeRateSPM/b.Tags.RateTargetSPM))
	}
	common := bouts[slices.IndexFunc(bouts, func(b *derive.Bout) bool { return poolName(b) == valuesOf(bouts, poolName)[0] })].PoolM
	u.level += mean(lost[common])
	if len(lost) > 1 {
		u.pool = map[float64]float64{}
		for pool, l := range lost {
			u.pool[pool] = mean(l) - mean(lost[common])
		}
	}
	u.set, u.bouts = true, bouts
	return u, true
}

// deviation is the standard deviation of values about their mean.
func deviation(values []float64) float64 {
	m := mean(values)
	var squares float64
	for _, v := range values {
		squares += (v - m) * (v - m)
	}
	return math.Sqrt(squares / float64(len(values)))
}
