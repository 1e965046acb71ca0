package kinetics

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

func newTestGrid(t testing.TB) *Grid {
	t.Helper()
	g, err := NewGrid(15, 90)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// rising is a bout sampled every second from t = offset.
func rising(length, offset, steady, gain, tau float64, noise func() float64) (at, y []float64) {
	for s := offset; s <= length; s++ {
		at, y = append(at, s), append(y, steady-gain*math.Exp(-s/tau)+noise())
	}
	return at, y
}

// Between its points a profile says what a fit at that very tau says, here by the
// other road of [bout.fit].
func TestGridIsExact(t *testing.T) {
	g := newTestGrid(t)
	r := rand.New(rand.NewPCG(1, 2))
	for _, length := range []float64{45, 60, 90, 150, 240} {
		at, y := rising(length, 0.3, 150, 50, 42, r.NormFloat64)
		if length == 90 { // gaps of other lengths too
			at, y = slices.Delete(at, 20, 24), slices.Delete(y, 20, 24)
		}
		p, rise, err := g.Profile(at, y, length, Noise{})
		if err != nil {
			t.Fatal(err)
		}
		b, err := newBout(0, Bout{at, y})
		if err != nil {
			t.Fatal(err)
		}
		var steadyOff, squaresOff, factorOff, slopeOff float64
		for u := g.Low(); u <= g.High(); u += 0.013 {
			squares, slope := b.fit(u)
			away := b.meanX - 1
			steady, _ := g.At(&p.Steady, u)
			factor, _ := g.At(&p.Factor, u)
			sum, s := g.At(&rise.Squares, u)
			steadyOff = math.Max(steadyOff, math.Abs(steady-(b.origin+b.start+b.gain)))
			squaresOff = math.Max(squaresOff, math.Abs(sum/squares-1))
			slopeOff = math.Max(slopeOff, math.Abs(s-slope)/squares)
			factorOff = math.Max(factorOff, math.Abs(factor/(1/float64(len(at))+away*away/b.spread)-1))
		}
		if steadyOff > 1e-4 || squaresOff > 2e-3 || slopeOff > 2e-2 || factorOff > 1e-4 {
			t.Errorf("%v s: off by %.2g in the steady level, %.2g of the squares, %.2g of their slope, %.2g of the factor",
				length, steadyOff, squaresOff, slopeOff, factorOff)
		}
		if math.Abs(rise.Spent-2) > 1e-12 || rise.Samples != len(at) || p.Samples != len(at) {
			t.Errorf("%v s: white noise spends %v of %d samples, want 2", length, rise.Spent, rise.Samples)
		}
	}
}

// The slope of a series is that of its values.
func TestSeriesSlope(t *testing.T) {
	g := newTestGrid(t)
	at, y := rising(60, 10, 150, 40, 50, func() float64 { return 0 })
	p, _, err := g.Profile(at, y, 60, Noise{})
	if err != nil {
		t.Fatal(err)
	}
	for u := g.Low() + 0.01; u < g.High(); u += 0.05 {
		const h = 1e-5
		up, _ := g.At(&p.Steady, u+h)
		down, _ := g.At(&p.Steady, u-h)
		if _, slope := g.At(&p.Steady, u); math.Abs(slope-(up-down)/(2*h)) > 1e-5*(1+math.Abs(slope)) {
			t.Errorf("ln tau %.3f: slope %v, differences give %v", u, slope, (up-down)/(2*h))
		}
	}
	if v, _ := g.At(&p.Steady, math.Log(50)); math.Abs(v-150) > 1e-4 {
		t.Errorf("without noise the level at the true tau is %v, want 150", v)
	}
	low, _ := g.At(&p.Steady, g.Low())
	if beyond, _ := g.At(&p.Steady, g.Low()-1); beyond != low {
		t.Errorf("beyond the range %v, at its end %v", beyond, low)
	}
}

// Factor and Spent under noise that wanders, against the matrices written out:
// Factor = w'Rw for the weights w of the level, Spent = trace(PR).
func TestFactorUnderWanderingNoise(t *testing.T) {
	g := newTestGrid(t)
	noise := Noise{Share: 0.7, Seconds: 20}
	at, y := rising(75, 10, 150, 40, 50, func() float64 { return 0 })
	at, y = slices.Delete(at, 12, 17), slices.Delete(y, 12, 17)
	p, rise, err := g.Profile(at, y, 75, noise)
	if err != nil {
		t.Fatal(err)
	}
	n := len(at)
	correlation := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			v := noise.Share * math.Exp(-math.Abs(at[i]-at[j])/noise.Seconds)
			if i == j {
				v = 1
			}
			correlation.SetSym(i, j, v)
		}
	}
	for _, u := range []float64{g.Low(), g.middle, g.High()} {
		x := mat.NewDense(n, 2, nil)
		for i, s := range at {
			x.Set(i, 0, 1)
			x.Set(i, 1, math.Exp(-s/math.Exp(u)))
		}
		var inverse, hat, spent, weights, wr, form mat.Dense
		inverse.Mul(x.T(), x)
		if err := inverse.Inverse(&inverse); err != nil {
			t.Fatal(err)
		}
		weights.Mul(&inverse, x.T()) // row 0 gives the level
		wr.Mul(&weights, correlation)
		form.Mul(&wr, weights.T())
		if got, _ := g.At(&p.Factor, u); math.Abs(got/form.At(0, 0)-1) > 1e-6 {
			t.Errorf("ln tau %.2f: factor %v, want %v", u, got, form.At(0, 0))
		}
		if u == g.middle {
			hat.Mul(x, &weights)
			spent.Mul(&hat, correlation)
			if want := mat.Trace(&spent); math.Abs(rise.Spent/want-1) > 1e-9 {
				t.Errorf("spent %v, want %v", rise.Spent, want)
			}
		}
	}
}

// Estimate finds the least of its criterion: the same tau as looking everywhere with
// fits at that very tau, and, where bouts are equally noisy, nearly that of FitShared.
func TestEstimateFindsTheSharedTau(t *testing.T) {
	g := newTestGrid(t)
	r := rand.New(rand.NewPCG(3, 4))
	var rises []*Rise
	var exact []bout
	var bouts []Bout
	var cluster []int
	for i := range 12 {
		at, y := rising(60+5*float64(i), 10, 150+3*float64(i%4), 30+2*float64(i%5), 38, func() float64 { return 1.5 * r.NormFloat64() })
		_, rise, err := g.Profile(at, y, 200, Noise{})
		if err != nil {
			t.Fatal(err)
		}
		b, err := newBout(i, Bout{at, y})
		if err != nil {
			t.Fatal(err)
		}
		rises, exact, bouts, cluster = append(rises, rise), append(exact, b), append(bouts, Bout{at, y}), append(cluster, i/2)
	}
	const floor = 0.1
	e, err := g.Estimate(rises, cluster, floor)
	if err != nil {
		t.Fatal(err)
	}
	best, least := 0.0, math.Inf(1)
	for u := g.Low(); u < g.High(); u += 5e-4 {
		var sum float64
		for i := range exact {
			squares, _ := exact[i].fit(u)
			n := float64(len(exact[i].t))
			sum += (n - 2) * math.Log(squares+floor*n)
		}
		if sum < least {
			best, least = u, sum
		}
	}
	if math.Abs(e.LogTau-best) > 6e-4 {
		t.Errorf("ln tau %v, looking everywhere gives %v", e.LogTau, best)
	}
	f, err := FitShared(bouts, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(e.LogTau-math.Log(f.Tau)) > f.LogTauStdError/2 || e.StdError > 2*f.LogTauStdError || e.StdError < f.LogTauStdError/2 {
		t.Errorf("ln tau %.4f (standard error %.4f), by one sum of squares %.4f (%.4f)", e.LogTau, e.StdError, math.Log(f.Tau), f.LogTauStdError)
	}
	if e.Bouts != 12 || e.Clusters != 6 || e.DF != 5 || math.Abs(e.Sigma-1.5) > 0.15 {
		t.Errorf("%+v", e)
	}
	// A bout full of errors hardly moves it.
	at, y := rising(120, 10, 150, 40, 80, func() float64 { return 25 * r.NormFloat64() })
	_, rise, err := g.Profile(at, y, 200, Noise{})
	if err != nil {
		t.Fatal(err)
	}
	again, err := g.Estimate(append(slices.Clone(rises), rise), append(slices.Clone(cluster), 6), floor)
	if err != nil || math.Abs(again.LogTau-e.LogTau) > e.StdError {
		t.Errorf("with a bad bout ln tau %v instead of %v: %v", again.LogTau, e.LogTau, err)
	}
}

// Under noise that wanders, as heart rates do, the standard errors by clusters still
// hold: z has variance 1, or 9/7 where nine degrees of freedom make it a t.
func TestEstimateStandardError(t *testing.T) {
	g := newTestGrid(t)
	r := rand.New(rand.NewPCG(5, 6))
	const sets, clusters = 300, 10
	var squared, off, stdError float64
	keep := math.Exp(-1.0 / 20)
	for range sets {
		var rises []*Rise
		var cluster []int
		for c := range clusters {
			for range 6 {
				wander := 1.2 * r.NormFloat64()
				at, y := rising(80, 10, 150, 35, 45, func() float64 {
					wander = keep*wander + 1.2*math.Sqrt(1-keep*keep)*r.NormFloat64()
					return wander + 0.8*r.NormFloat64()
				})
				_, rise, err := g.Profile(at, y, 200, Noise{0.7, 20})
				if err != nil {
					t.Fatal(err)
				}
				rises, cluster = append(rises, rise), append(cluster, c)
			}
		}
		e, err := g.Estimate(rises, cluster, 0.1)
		if err != nil {
			t.Fatal(err)
		}
		z := (e.LogTau - math.Log(45)) / e.StdError
		squared += z * z / sets
		stdError += e.StdError / sets
		off += (e.LogTau - math.Log(45)) / sets
	}
	t.Logf("mean error of ln tau %.4f, mean standard error %.4f, variance of z %.3f (a t of 9 degrees of freedom has 1.286)", off, stdError, squared)
	// Three standard errors of a variance of 300 are about 0.35. The mean error is
	// the bend of the problem: 0.010 as measured, a quarter of a standard error.
	if squared < 0.95 || squared > 1.7 || math.Abs(off) > 0.02 {
		t.Errorf("mean error %.4f, variance of z %.3f", off, squared)
	}
}

func TestProfileAndEstimateRefuse(t *testing.T) {
	g := newTestGrid(t)
	nan := math.NaN()
	for _, c := range []struct {
		name            string
		seconds, values []float64
		noise           Noise
		want            error
	}{
		{"shape", []float64{1, 2, 3}, []float64{1, 2}, Noise{}, ErrShape},
		{"two samples", []float64{1, 2}, []float64{1, 2}, Noise{}, ErrTooFew},
		{"one time", []float64{2, 2, 2}, []float64{1, 2, 3}, Noise{}, ErrTooFew},
		{"not finite", []float64{1, 2, 3}, []float64{1, nan, 3}, Noise{}, ErrNotFinite},
		{"a time not finite", []float64{1, 2, math.Inf(1)}, []float64{1, 2, 3}, Noise{}, ErrNotFinite},
		{"before the bout", []float64{-1, 2, 3}, []float64{1, 2, 3}, Noise{}, ErrArgument},
		{"out of order", []float64{1, 3, 2}, []float64{1, 2, 3}, Noise{}, ErrArgument},
		{"noise without a time", []float64{1, 2, 3}, []float64{1, 2, 3}, Noise{Share: 0.5}, ErrArgument},
	} {
		if _, _, err := g.Profile(c.seconds, c.values, 100, c.noise); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
	for _, bounds := range [][2]float64{{0, 90}, {90, 15}, {15, 15}, {15, math.Inf(1)}, {nan, 90}} {
		if _, err := NewGrid(bounds[0], bounds[1]); !errors.Is(err, ErrArgument) {
			t.Errorf("grid from %v to %v: %v", bounds[0], bounds[1], err)
		}
	}
	// A straight line approaches nothing: the longer tau the better.
	var lines []*Rise
	for i := range 6 {
		var at, y []float64
		for s := 0.0; s <= 100; s++ {
			at, y = append(at, s), append(y, 100+0.4*s+0.3*math.Sin(s+float64(i)))
		}
		_, rise, err := g.Profile(at, y, 200, Noise{})
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, rise)
	}
	if _, err := g.Estimate(lines, []int{0, 1, 2, 3, 4, 5}, 0.1); !errors.Is(err, ErrNotIdentified) {
		t.Errorf("straight lines: %v", err)
	}
	if _, err := g.Estimate(lines, []int{0, 0, 0, 0, 0, 0}, 0.1); !errors.Is(err, ErrTooFew) {
		t.Errorf("one cluster: %v", err)
	}
	if _, err := g.Estimate(nil, nil, 0.1); !errors.Is(err, ErrTooFew) {
		t.Errorf("nothing: %v", err)
	}
	if _, err := g.Estimate(lines, []int{0}, 0.1); !errors.Is(err, ErrShape) {
		t.Errorf("clusters of another length: %v", err)
	}
	if _, err := g.Estimate(lines, []int{0, 1, 2, 3, 4, 9}, 0.1); !errors.Is(err, ErrArgument) {
		t.Errorf("a cluster out of range: %v", err)
	}
	if _, err := g.Estimate(lines, []int{0, 1, 2, 3, 4, 5}, 0); !errors.Is(err, ErrArgument) {
		t.Errorf("no floor: %v", err)
	}
}

func BenchmarkProfile(b *testing.B) {
	g := newTestGrid(b)
	r := rand.New(rand.NewPCG(7, 8))
	at, y := rising(150, 10.4, 150, 40, 45, r.NormFloat64)
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := g.Profile(at, y, 150, Noise{0.7, 20}); err != nil {
			b.Fatal(err)
		}
	}
}
