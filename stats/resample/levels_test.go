package resample_test

import (
	"errors"
	"math"
	"testing"

	"lengthwise/stats/resample"
)

// TestTwoLevelsHaveTheirMoments: the resampled total of unequal groups has the mean
// and the variance that the two draws give by algebra. With G groups of n units, their
// totals t, means m and variances s^2 (over n),
//
//	mean  sum of t
//	two levels  G Var(t) + sum of n s^2;  within groups  sum of n s^2;  one level  N Var(y)
//
// and the kurtosis of the draws gives the Monte-Carlo error.
func TestTwoLevelsHaveTheirMoments(t *testing.T) {
	group := []int{1, 1, 2, 2, 2, 2, 3, 4, 4, 4, 4, 4}
	y := []float64{3, 8, 1, 2, 4, -1, 9, 6, 5, 5, 2, 7}
	const replicates = 20000
	moments := func(v []float64) (mean, variance float64) {
		for _, x := range v {
			mean += x / float64(len(v))
		}
		for _, x := range v {
			variance += (x - mean) * (x - mean) / float64(len(v))
		}
		return mean, variance
	}
	var totals []float64
	inner := 0.
	for g := 1; g <= 4; g++ {
		var own []float64
		for i, code := range group {
			if code == g {
				own = append(own, y[i])
			}
		}
		m, v := moments(own)
		totals = append(totals, m*float64(len(own)))
		inner += v * float64(len(own))
	}
	_, between := moments(totals)
	mean, single := moments(y)
	one, err1 := resample.Clusters(len(y), replicates, 11)
	within, err2 := resample.WithinGroups(group, replicates, 11)
	both, err3 := resample.GroupsThenWithin(group, replicates, 11)
	if err := errors.Join(err1, err2, err3); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		plan     resample.Plan
		variance float64
	}{
		"one level":     {one, single * float64(len(y))},
		"within groups": {within, inner},
		"two levels":    {both, between*float64(len(totals)) + inner},
	} {
		values, weights := make([]float64, replicates), make([]float64, len(y))
		for b := range values {
			c.plan.Weights(b, weights)
			for i, w := range weights {
				values[b] += w * y[i]
			}
		}
		m, v := moments(values)
		if want := mean * float64(len(y)); math.Abs(m-want) > 4*math.Sqrt(c.variance/replicates) {
			t.Errorf("%s: mean %.3f, want %.3f", name, m, want)
		}
		fourth := 0.
		for _, x := range values {
			fourth += math.Pow(x-m, 4) / replicates
		}
		if slack := 4 * math.Sqrt((fourth-v*v)/replicates); math.Abs(v-c.variance) > slack {
			t.Errorf("%s: variance %.2f, want %.2f within %.2f", name, v, c.variance, slack)
		}
	}
}
