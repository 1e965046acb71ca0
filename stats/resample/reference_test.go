package resample_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"lengthwise/stats/resample"
)

// reference holds values from R's boot package, see the source named in
// testdata/boot.json.
type reference struct {
	T0       float64    `json:"t0"`
	BootMean float64    `json:"boot_mean"`
	BootSE   float64    `json:"boot_se"`
	First5   [5]float64 `json:"t_first5"`

	Jackknife struct {
		Values         []float64
		Mean, Bias, SE float64
	}
	Acceleration float64 `json:"a_jackknife"`
	CI90, CI95   struct {
		Percentile, BCa [2]float64
		Probs           [2]float64 `json:"bca_probs"`
		Type6           [2]float64 `json:"bca_type6"`
	}
}

func TestReproducesBootFromStoredDraws(t *testing.T) {
	raw, err := os.ReadFile("testdata/boot.json")
	if err != nil {
		t.Fatal(err)
	}
	var all struct{ Law, City reference }
	if err := json.Unmarshal(raw, &all); err != nil {
		t.Fatal(err)
	}
	cases := []struct {
		name      string
		want      reference
		statistic func(x, y, w []float64) float64
	}{
		{"law", all.Law, weightedCorrelation},
		{"city", all.City, weightedRatio},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			x, y := columns(t, "testdata/"+c.name+".csv")
			plan, err := resample.Stored(len(x), draws(t, "testdata/"+c.name+"_draws.csv"))
			if err != nil {
				t.Fatal(err)
			}
			weights := make([]float64, len(x))
			for i := range weights {
				weights[i] = 1
			}
			t0 := c.statistic(x, y, weights)
			near(t, "t0", t0, c.want.T0, 1e-12)

			leftOut := make([]float64, len(x))
			for i := range x {
				weights[i] = 0
				leftOut[i] = c.statistic(x, y, weights)
				weights[i] = 1
				near(t, "jackknife value", leftOut[i], c.want.Jackknife.Values[i], 1e-12)
			}
			jack, err := resample.Jackknife(t0, leftOut)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "jackknife mean", jack.Mean, c.want.Jackknife.Mean, 1e-12)
			near(t, "jackknife bias", jack.Bias, c.want.Jackknife.Bias, 1e-12)
			near(t, "jackknife SE", jack.StdError, c.want.Jackknife.SE, 1e-12)
			a, err := resample.Acceleration(leftOut)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "acceleration", a, c.want.Acceleration, 1e-11)

			replicates := make([]float64, plan.Replicates())
			var sum float64
			for b := range replicates {
				plan.Weights(b, weights)
				replicates[b] = c.statistic(x, y, weights)
				sum += replicates[b]
			}
			for b, want := range c.want.First5 {
				near(t, "replicate", replicates[b], want, 1e-12)
			}
			near(t, "mean of replicates", sum/float64(len(replicates)), c.want.BootMean, 1e-12)
			se, err := resample.StdError(replicates)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "SE of replicates", se, c.want.BootSE, 1e-12)

			for level, want := range map[float64]struct {
				Percentile, BCa [2]float64
				Probs           [2]float64 `json:"bca_probs"`
				Type6           [2]float64 `json:"bca_type6"`
			}{0.90: c.want.CI90, 0.95: c.want.CI95} {
				percentile, err := resample.Percentile(replicates, level)
				if err != nil {
					t.Fatal(err)
				}
				near(t, "percentile low", percentile.Low, want.Percentile[0], 1e-10)
				near(t, "percentile high", percentile.High, want.Percentile[1], 1e-10)
				bca, err := resample.BCa(t0, replicates, leftOut, level)
				if err != nil {
					t.Fatal(err)
				}
				near(t, "BCa low probability", bca.LowAt, want.Probs[0], 1e-10)
				near(t, "BCa high probability", bca.HighAt, want.Probs[1], 1e-10)
				near(t, "BCa low", bca.Low, want.BCa[0], 1e-10)
				near(t, "BCa high", bca.High, want.BCa[1], 1e-10)
				// Type 6 interpolates linearly instead; the two rules agree to
				// a fraction of a gap between order statistics.
				near(t, "BCa low against type 6", bca.Low, want.Type6[0], 1e-3)
				near(t, "BCa high against type 6", bca.High, want.Type6[1], 1e-3)
			}
		})
	}
}

func weightedCorrelation(x, y, w []float64) float64 {
	var n, sx, sy float64
	for i := range x {
		n += w[i]
		sx += w[i] * x[i]
		sy += w[i] * y[i]
	}
	var sxx, syy, sxy float64
	for i := range x {
		dx, dy := x[i]-sx/n, y[i]-sy/n
		sxx += w[i] * dx * dx
		syy += w[i] * dy * dy
		sxy += w[i] * dx * dy
	}
	return sxy / math.Sqrt(sxx*syy)
}

func weightedRatio(u, x, w []float64) float64 {
	var su, sx float64
	for i := range u {
		su += w[i] * u[i]
		sx += w[i] * x[i]
	}
	return sx / su
}

func columns(t *testing.T, path string) (first, second []float64) {
	t.Helper()
	for _, row := range read(t, path)[1:] {
		a, err1 := strconv.ParseFloat(row[0], 64)
		b, err2 := strconv.ParseFloat(row[1], 64)
		if err1 != nil || err2 != nil {
			t.Fatalf("%s: %v", path, row)
		}
		first, second = append(first, a), append(second, b)
	}
	return first, second
}

func draws(t *testing.T, path string) [][]int {
	t.Helper()
	var out [][]int
	for _, row := range read(t, path) {
		var d []int
		for _, field := range row {
			n, err := strconv.Atoi(field)
			if err != nil {
				t.Fatalf("%s: %v", path, err)
			}
			d = append(d, n-1)
		}
		out = append(out, d)
	}
	return out
}

func read(t *testing.T, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// near compares to a tolerance relative to the larger of 1 and |want|.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*max(1, math.Abs(want))) {
		t.Errorf("%s: got %.17g, want %.17g (difference %.2g)", what, got, want, got-want)
	}
}
