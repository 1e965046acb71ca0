package resample_test

import (
	"math/rand/v2"
	"testing"

	"lengthwise/stats/resample"
)

// TestCoverageOfAClusterMean measures how often the 95 % percentile interval
// of a mean, clusters resampled, holds the truth: 12 clusters of 4 rows, half
// of the variance between clusters, 400 studies. Too few clusters make it
// narrow (about 0.92 is usual); rows resampled as if independent would cover
// far less, which is asserted too.
func TestCoverageOfAClusterMean(t *testing.T) {
	const studies, clusters, rows, replicates = 400, 12, 4, 399
	r := rand.New(rand.NewPCG(20, 26))
	byCluster, byRow := 0, 0
	for s := range studies {
		values := make([]float64, clusters*rows)
		means := make([]float64, clusters)
		for c := range clusters {
			shared := r.NormFloat64()
			for i := range rows {
				v := shared + r.NormFloat64()
				values[c*rows+i] = v
				means[c] += v / rows
			}
		}
		covers := func(units []float64) int {
			plan, err := resample.Clusters(len(units), replicates, uint64(s))
			if err != nil {
				t.Fatal(err)
			}
			w, out := make([]float64, len(units)), make([]float64, replicates)
			for b := range out {
				plan.Weights(b, w)
				for i, u := range units {
					out[b] += w[i] * u / float64(len(units))
				}
			}
			interval, err := resample.Percentile(out, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			if interval.Low <= 0 && 0 <= interval.High {
				return 1
			}
			return 0
		}
		byCluster += covers(means)
		byRow += covers(values)
	}
	got, naive := float64(byCluster)/studies, float64(byRow)/studies
	t.Logf("coverage by cluster %.3f, by row %.3f", got, naive)
	if got < 0.87 || got > 0.97 {
		t.Errorf("coverage by cluster %.3f, want 0.87 to 0.97", got)
	}
	if naive > 0.85 {
		t.Errorf("coverage by row %.3f: the simulation does not tell clusters from rows", naive)
	}
}
