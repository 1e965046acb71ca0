package resample_test

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/stats/association"
	"lengthwise/stats/internal/reference"
	"lengthwise/stats/linear"
	"lengthwise/stats/resample"
)

// bootstrapped is one published example: its rows, its statistic as a function of
// the rows' weights, the replicates and the values with each row left out.
type bootstrapped struct {
	x, y       []float64
	statistic  func(x, y, w []float64) float64
	estimate   float64
	plan       resample.Plan
	replicates []float64
	leftOut    []float64
}

func bootstrap(t *testing.T, path string, statistic func(x, y, w []float64) float64, plan func(n int) (resample.Plan, error)) bootstrapped {
	t.Helper()
	b := bootstrapped{statistic: statistic}
	b.x, b.y = columns(t, path)
	var err error
	if b.plan, err = plan(len(b.x)); err != nil {
		t.Fatal(err)
	}
	w := make([]float64, len(b.x))
	for i := range w {
		w[i] = 1
	}
	b.estimate = statistic(b.x, b.y, w)
	for i := range w {
		w[i] = 0
		b.leftOut = append(b.leftOut, statistic(b.x, b.y, w))
		w[i] = 1
	}
	for k := range b.plan.Replicates() {
		b.plan.Weights(k, w)
		b.replicates = append(b.replicates, statistic(b.x, b.y, w))
	}
	return b
}

// TestEveryEntryOfBoot compares every number of testdata/boot.json: R 4.2.2's boot
// 1.3-28.1 on Efron's law school data and on boot::city, with its draws kept
// beside it, so that every interval is met to 1e-10. Of the 200,000 draws of the
// set "big" R kept none: ours must meet its results within five Monte-Carlo
// standard errors.
func TestEveryEntryOfBoot(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "boot.json")
	stored := func(path string) func(n int) (resample.Plan, error) {
		return func(n int) (resample.Plan, error) { return resample.Stored(n, draws(t, path)) }
	}
	law := bootstrap(t, "testdata/law.csv", weightedCorrelation, stored("testdata/law_draws.csv"))
	city := bootstrap(t, "testdata/city.csv", weightedRatio, stored("testdata/city_draws.csv"))
	compareBoot(t, f, "law_school_correlation/", law)
	compareBoot(t, f, "city_ratio/", city)
	for level, name := range map[float64]string{0.9: "fisher_z_ci90", 0.95: "fisher_z_ci95"} {
		low, high, err := association.FisherInterval(law.estimate, float64(len(law.x)), level)
		if err != nil {
			t.Fatal(err)
		}
		f.NearAll(t, []float64{low, high}, 1e-10, "law_school_correlation/"+name)
	}

	// The influence values of a ratio of means, in closed form.
	const delta = "city_ratio/nonparametric_delta/"
	var mean float64
	for _, v := range city.x {
		mean += v / float64(len(city.x))
	}
	influence := make([]float64, len(city.x))
	for i := range influence {
		influence[i] = (city.y[i] - city.estimate*city.x[i]) / mean
	}
	f.NearAll(t, influence, 1e-9, delta+"L")
	se, a, err := resample.Influence(influence)
	if err != nil {
		t.Fatal(err)
	}
	f.Near(t, se*se, 1e-10, delta+"vL")
	f.Near(t, se, 1e-10, delta+"seL")
	f.Near(t, a, 1e-9, delta+"a")

	big := bootstrap(t, "testdata/law.csv", weightedCorrelation, func(n int) (resample.Plan, error) {
		return resample.Clusters(n, int(f.Value(t, "law_school_correlation/big/B")), 1)
	})
	compareBig(t, f, "law_school_correlation/big/", big)
	f.Complete(t)
}

// compareCommon compares what does not depend on the draws, and gives the
// accelerations by name of the entry.
func compareCommon(t *testing.T, f *reference.File, at string, b bootstrapped) map[string]float64 {
	t.Helper()
	f.Counts(t, len(b.x), at+"n")
	f.Counts(t, len(b.replicates), at+"B")
	f.Near(t, b.estimate, 1e-10, at+"t0")
	a, err1 := resample.Acceleration(b.leftOut)
	// boot's influence values by the jackknife deviate from the estimate.
	values := make([]float64, len(b.leftOut))
	for i, v := range b.leftOut {
		values[i] = float64(len(values)-1) * (b.estimate - v)
	}
	_, jack, err2 := resample.Influence(values)
	_, regression, err3 := resample.Influence(regressed(t, b))
	if err := errors.Join(err1, err2, err3); err != nil {
		t.Fatal(err)
	}
	f.Near(t, a, 1e-10, at+"a_jackknife")
	f.Near(t, jack, 1e-10, at+"a_boot_L_jack")
	return map[string]float64{"boot_bca_L_jack": jack, "boot_bca_default": regression}
}

// regressed gives boot's own influence values: the least-squares coefficients of
// the replicates on the shares of the rows drawn, the first row taken out, centred.
func regressed(t *testing.T, b bootstrapped) []float64 {
	t.Helper()
	n := len(b.x)
	p := linear.Problem{Response: b.replicates, Terms: []string{"constant"}, Columns: [][]float64{make([]float64, len(b.replicates))}}
	for i := 1; i < n; i++ {
		p.Terms, p.Columns = append(p.Terms, strconv.Itoa(i)), append(p.Columns, make([]float64, len(b.replicates)))
	}
	w := make([]float64, n)
	for k := range b.replicates {
		b.plan.Weights(k, w)
		p.Columns[0][k] = 1
		for i := 1; i < n; i++ {
			p.Columns[i][k] = w[i] / float64(n)
		}
	}
	m, err := linear.Fit(p)
	if err != nil {
		t.Fatal(err)
	}
	values := append([]float64{0}, m.Estimates[1:]...)
	var mean float64
	for _, v := range values {
		mean += v / float64(n)
	}
	for i := range values {
		values[i] -= mean
	}
	return values
}

func compareBoot(t *testing.T, f *reference.File, at string, b bootstrapped) {
	t.Helper()
	acceleration := compareCommon(t, f, at, b)
	f.Near(t, acceleration["boot_bca_default"], 1e-9, at+"a_boot_L_reg")
	jack, err := resample.Jackknife(b.estimate, b.leftOut)
	if err != nil {
		t.Fatal(err)
	}
	f.NearAll(t, b.leftOut, 1e-10, at+"jackknife/values")
	f.Near(t, jack.Mean, 1e-10, at+"jackknife/mean")
	f.Near(t, jack.Bias, 1e-9, at+"jackknife/bias")
	f.Near(t, jack.StdError, 1e-10, at+"jackknife/se")
	f.NearAll(t, b.replicates[:5], 1e-10, at+"t_first5")
	mean, se, z0, less, equal := summarised(t, b)
	f.Near(t, mean, 1e-10, at+"boot_mean")
	f.Near(t, mean-b.estimate, 1e-8, at+"boot_bias")
	f.Near(t, se, 1e-10, at+"boot_se")
	f.Near(t, z0, 1e-9, at+"z0_strict_less")
	f.Near(t, z0, 1e-9, at+"z0_boot_pkg")
	f.Near(t, less, 1e-10, at+"prop_less")
	f.Near(t, equal, 1e-10, at+"prop_equal")
	for level, name := range map[float64]string{0.9: "ci90/", 0.95: "ci95/"} {
		for entry, limits := range intervals(t, b, level, acceleration) {
			f.NearAll(t, limits[:], 1e-10, at+name+entry)
		}
	}
}

func summarised(t *testing.T, b bootstrapped) (mean, se, z0, less, equal float64) {
	t.Helper()
	size := float64(len(b.replicates))
	for _, v := range b.replicates {
		mean += v / size
		if math.Abs(v-b.estimate) <= 1e-12*math.Abs(b.estimate) {
			equal += 1 / size
		} else if v < b.estimate {
			less += 1 / size
		}
	}
	se, err1 := resample.StdError(b.replicates)
	// With no acceleration BCa reads off Phi(2 z0 + z).
	i, err2 := resample.BCaWith(b.estimate, b.replicates, 0, 0.95)
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	z := distuv.UnitNormal
	return mean, se, (z.Quantile(i.LowAt) - z.Quantile(0.025)) / 2, less, equal
}

// intervals gives all intervals by name of the entry: ours, and ours with other
// rules for quantiles (types 6 and 7 of Hyndman and Fan 1996).
func intervals(t *testing.T, b bootstrapped, level float64, acceleration map[string]float64) map[string][2]float64 {
	t.Helper()
	percentile, err1 := resample.Percentile(b.replicates, level)
	bca, err2 := resample.BCa(b.estimate, b.replicates, b.leftOut, level)
	basic, err3 := resample.Basic(b.estimate, b.replicates, level)
	normal, err4 := resample.Normal(b.estimate, b.replicates, level)
	if err := errors.Join(err1, err2, err3, err4); err != nil {
		t.Fatal(err)
	}
	sorted := slices.Sorted(slices.Values(b.replicates))
	typed := func(i resample.Interval, first, slope float64) [2]float64 {
		at := func(p float64) float64 {
			h := first + slope*p // counted from one
			k := int(h)
			return sorted[k-1] + (h-float64(k))*(sorted[min(k, len(sorted)-1)]-sorted[k-1])
		}
		return [2]float64{at(i.LowAt), at(i.HighAt)}
	}
	size := float64(len(sorted))
	six := func(i resample.Interval) [2]float64 { return typed(i, 0, size+1) }
	seven := func(i resample.Interval) [2]float64 { return typed(i, 1, size-1) }
	p7 := seven(percentile)
	out := map[string][2]float64{
		"bca_adjusted_probs": {bca.LowAt, bca.HighAt}, "bca_normal_scale_interp": {bca.Low, bca.High},
		"bca_quantile_type7": seven(bca), "bca_quantile_type6": six(bca),
		"percentile_type7": p7, "percentile_type6": six(percentile),
		"basic_type7": {2*b.estimate - p7[1], 2*b.estimate - p7[0]},
		"boot_norm":   {normal.Low, normal.High}, "boot_basic": {basic.Low, basic.High}, "boot_perc": {percentile.Low, percentile.High},
	}
	for name, a := range acceleration {
		i, err := resample.BCaWith(b.estimate, b.replicates, a, level)
		if err != nil {
			t.Fatal(err)
		}
		out[name] = [2]float64{i.Low, i.High}
	}
	return out
}

// compareBig compares with draws of another generator: the difference of two
// figures, each with its Monte-Carlo error, may be five times its standard error.
func compareBig(t *testing.T, f *reference.File, at string, b bootstrapped) {
	t.Helper()
	acceleration := compareCommon(t, f, at, b)
	const away = 5 * math.Sqrt2
	root := math.Sqrt(float64(len(b.replicates)))
	mean, se, z0, less, equal := summarised(t, b)
	near := func(got, stdError float64, name string) { t.Helper(); f.Within(t, got, away*stdError, 1, at+name) }
	near(mean, se/root, "boot_mean")
	near(mean-b.estimate, se/root, "boot_bias")
	near(se, se/root, "boot_se") // for tails somewhat longer than the normal's
	z0Error := 0.5 / root * math.Sqrt(2*math.Pi)
	near(z0, z0Error, "z0_strict_less")
	near(z0, z0Error, "z0_boot_pkg")
	near(less, 0.5/root, "prop_less")
	near(equal, 3e-6, "prop_equal") // one draw of 200,000 in R
	near(acceleration["boot_bca_default"], 0.002, "a_boot_L_reg")
	f.Outside(t, "drawn by R's generator, and not kept", at+"t_first5")
	sorted := slices.Sorted(slices.Values(b.replicates))
	for level, name := range map[float64]string{0.9: "ci90/", 0.95: "ci95/"} {
		all := intervals(t, b, level, acceleration)
		probabilities := all["bca_adjusted_probs"]
		for entry, limits := range all {
			for side, got := range limits {
				p := []float64{(1 - level) / 2, (1 + level) / 2}[side]
				moves := math.Sqrt(p*(1-p)) / root // of the share below a limit
				if strings.Contains(entry, "bca") {
					p = probabilities[side]
					moves = math.Sqrt(p*(1-p))/root + 2*z0Error*distuv.UnitNormal.Prob(distuv.UnitNormal.Quantile(p))
				}
				if strings.Contains(entry, "basic") {
					p = 1 - p
				}
				allowed := resample.Quantile(sorted, p+moves) - resample.Quantile(sorted, p-moves)
				switch entry {
				case "bca_adjusted_probs":
					allowed = moves
				case "boot_norm":
					allowed = 3 * se / root
				}
				f.Within(t, got, away*allowed, 1, at+name+entry+"/"+strconv.Itoa(side))
			}
		}
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
