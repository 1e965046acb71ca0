package measurement

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"lengthwise/stats/linear"
)

// truth of the surface that invented sets are made from.
var surface = [3]float64{-4, 9, 15} // of x, x^2 and x b

// invented makes clusters of rows: x uniform, b and another column without error,
// levels by cluster, and errors of unequal size in x.
type invented struct {
	moments Moments
	x, sd   []float64 // without error; the error's standard deviation
}

func invent(seed uint64, clusters, rows int, noise, sd float64) invented {
	s := rand.New(rand.NewPCG(seed, 7))
	var out invented
	m := &out.moments
	m.Degree = 2
	other := []float64{}
	for c := range clusters {
		level := 5 * s.NormFloat64()
		for range rows {
			x, b, o := 0.1+0.5*(2*s.Float64()-1), 0.4+0.3*s.NormFloat64(), s.NormFloat64()
			own := sd * (0.5 + s.Float64())
			out.x, out.sd = append(out.x, x), append(out.sd, own)
			m.X = append(m.X, x+own*s.NormFloat64())
			m.By, other = append(m.By, b), append(other, o)
			m.Response = append(m.Response, level+2*o+7*b+surface[0]*x+surface[1]*x*x+surface[2]*x*b+noise*s.NormFloat64())
			m.Absorb, m.Cluster = append(m.Absorb, c), append(m.Cluster, c)
		}
	}
	m.Columns = [][]float64{other, m.By}
	return out
}

// least fits by least squares with the rows of one cluster left out, -1 for none.
func (v invented) least(t *testing.T, without int) []float64 {
	t.Helper()
	p := linear.Problem{Terms: []string{"other", "b", "x", "x2", "xb"}, Columns: make([][]float64, 5)}
	for i, c := range v.moments.Cluster {
		if c == without {
			continue
		}
		x, b := v.moments.X[i], v.moments.By[i]
		for j, value := range []float64{v.moments.Columns[0][i], b, x, x * x, x * b} {
			p.Columns[j] = append(p.Columns[j], value)
		}
		p.Response, p.Absorb = append(p.Response, v.moments.Response[i]), append(p.Absorb, c)
	}
	m, err := linear.Fit(p)
	if err != nil {
		t.Fatal(err)
	}
	return m.Estimates[2:]
}

// Without error both solutions are least squares, and their covariance is that of
// fits without each cluster.
func TestMomentsWithoutErrorAreLeastSquares(t *testing.T) {
	v := invent(1, 9, 8, 1, 0)
	want := v.least(t, -1)
	var without []float64
	for c := range 9 {
		without = append(without, v.least(t, c)...)
	}
	covariance := jackknife(without, 3)
	corrected, err := v.moments.Corrected(v.sd)
	if err != nil {
		t.Fatal(err)
	}
	instrumented, err := v.moments.Instrumented(v.moments.X)
	if err != nil {
		t.Fatal(err)
	}
	for name, got := range map[string]Solution{"corrected": corrected, "instrumented": instrumented} {
		for a, w := range want {
			if math.Abs(got.Estimates[a]-w) > 1e-9*(1+math.Abs(w)) {
				t.Errorf("%s: estimate %d is %v, least squares give %v", name, a, got.Estimates[a], w)
			}
			for b := range want {
				if w := covariance.At(a, b); math.Abs(got.Covariance.At(a, b)-w) > 1e-8*(1+math.Abs(w)) {
					t.Errorf("%s: covariance %d, %d is %v, refits give %v", name, a, b, got.Covariance.At(a, b), w)
				}
			}
		}
	}
}

// On average over errors the corrected sums are those without error.
func TestCorrectedSumsAreUnbiased(t *testing.T) {
	v := invent(2, 3, 4, 1, 0.15)
	want := Moments{X: v.x, Degree: 2, By: v.moments.By, Columns: v.moments.Columns, Absorb: v.moments.Absorb, Cluster: v.moments.Cluster, Response: v.moments.Response}
	clean := make([]float64, len(v.x))
	truth := total(want.sums(want.terms(v.x, clean), want.terms(v.x, clean)))
	s := rand.New(rand.NewPCG(3, 3))
	const draws = 40000
	mean, square := make([]float64, len(truth)), make([]float64, len(truth))
	noisy := want
	for range draws {
		noisy.X = make([]float64, len(v.x))
		for i, x := range v.x {
			noisy.X[i] = x + v.sd[i]*s.NormFloat64()
		}
		sums := noisy.sums(noisy.terms(noisy.X, v.sd), noisy.terms(noisy.X, v.sd))
		noisy.takeOff(sums, v.sd)
		for i, value := range total(sums) {
			mean[i] += value / draws
			square[i] += value * value / draws
		}
	}
	for i, w := range truth {
		if se := math.Sqrt((square[i] - mean[i]*mean[i]) / draws); math.Abs(mean[i]-w) > 4*se+1e-12 {
			t.Errorf("entry %d is %v on average (standard error %.2g), without error %v", i, mean[i], se, w)
		}
	}
}

func total(s normalSums) []float64 {
	q := len(s.scale)
	out := make([]float64, q*q)
	for _, left := range s.left {
		for i := range out {
			out[i] += left.At(i/q, i%q)
		}
	}
	return out
}

// A flat slope, a drifting turning point: both roads lead back to the truth, the
// second without knowing the size of the error.
func TestMomentsRecoverTheTruth(t *testing.T) {
	v := invent(4, 400, 12, 0.5, 0.13)
	plain := v.least(t, -1)
	if math.Abs(plain[1]-surface[1]) < 1.2 {
		t.Fatalf("the error hardly flattens the curve (%v): the test tests nothing", plain)
	}
	set := make([]float64, len(v.x))
	s := rand.New(rand.NewPCG(5, 5))
	for i, x := range v.x {
		set[i] = x + 0.05*s.NormFloat64()
	}
	corrected, err := v.moments.Corrected(v.sd)
	if err != nil {
		t.Fatal(err)
	}
	instrumented, err := v.moments.Instrumented(set)
	if err != nil {
		t.Fatal(err)
	}
	for name, got := range map[string]Solution{"corrected": corrected, "instrumented": instrumented} {
		for a, w := range surface {
			if se := math.Sqrt(got.Covariance.At(a, a)); math.Abs(got.Estimates[a]-w) > 4*se || se > 1 {
				t.Errorf("%s: coefficient %d is %v (standard error %.2f), the truth %v", name, a, got.Estimates[a], se, w)
			}
		}
	}
	// Another road: SIMEX leads the same way and, with its quadratic, less far.
	simex, err := CorrectCurve(v.moments.X, v.sd, Curve{Response: v.moments.Response, Degree: 2, Terms: []string{"other", "b"},
		Columns: v.moments.Columns, Absorb: v.moments.Absorb, Cluster: v.moments.Cluster}, Options{Replicates: 20})
	if err != nil {
		t.Fatal(err)
	}
	if c := simex.Corrected.Square; !(c > plain[1]+1 && c < surface[1]+1) {
		t.Errorf("SIMEX gives a curvature of %v, plain %v, truth %v", c, plain[1], surface[1])
	}
}

// An indicator of a single cluster's rows has nothing to say once that cluster is
// left out; the rest is solved all the same.
func TestMomentsWithAColumnOfOneCluster(t *testing.T) {
	v := invent(6, 6, 10, 1, 0.05)
	only := make([]float64, len(v.x))
	for i := range 4 {
		only[i] = 1
	}
	v.moments.Columns = append(v.moments.Columns, only)
	if _, err := v.moments.Corrected(v.sd); err != nil {
		t.Error(err)
	}
	if _, err := v.moments.Instrumented(v.x); err != nil {
		t.Error(err)
	}
}

func TestMomentsRefuse(t *testing.T) {
	v := invent(8, 5, 6, 1, 0.05)
	cases := []struct {
		name   string
		change func(*Moments, []float64) []float64
		want   error
	}{
		{"degree", func(m *Moments, sd []float64) []float64 { m.Degree = 3; return sd }, ErrArgument},
		{"short errors", func(_ *Moments, sd []float64) []float64 { return sd[1:] }, ErrShape},
		{"no clusters", func(m *Moments, sd []float64) []float64 { m.Cluster = nil; return sd }, ErrShape},
		{"two clusters", func(m *Moments, sd []float64) []float64 {
			m.Cluster, m.Absorb = make([]int, len(m.X)), make([]int, len(m.X))
			m.Cluster[0], m.Absorb[0] = 1, 1
			return sd
		}, ErrTooFew},
		{"groups across clusters", func(m *Moments, sd []float64) []float64 { m.Absorb = make([]int, len(m.X)); return sd }, ErrArgument},
		{"not a number", func(m *Moments, sd []float64) []float64 {
			m.X = append([]float64{math.NaN()}, m.X[1:]...)
			return sd
		}, ErrNotFinite},
		{"negative error", func(_ *Moments, sd []float64) []float64 { return append([]float64{-1}, sd[1:]...) }, ErrArgument},
		{"all error", func(_ *Moments, sd []float64) []float64 {
			big := make([]float64, len(sd))
			for i := range big {
				big[i] = 1
			}
			return big
		}, ErrNoSignal},
	}
	for _, c := range cases {
		m := v.moments
		if _, err := m.Corrected(c.change(&m, v.sd)); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
	constant := v.moments
	if _, err := constant.Instrumented(make([]float64, len(v.x))); !errors.Is(err, ErrNoSignal) {
		t.Errorf("a constant instrument: %v", err)
	}
}
