package kinetics_test

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"lengthwise/stats/kinetics"
)

func readBouts(t *testing.T) []kinetics.Bout {
	t.Helper()
	f, err := os.Open("testdata/shared.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []kinetics.Bout
	for _, row := range rows[1:] {
		var v [3]float64
		for i, field := range row {
			if v[i], err = strconv.ParseFloat(field, 64); err != nil {
				t.Fatal(err)
			}
		}
		if int(v[0]) > len(out) {
			out = append(out, kinetics.Bout{})
		}
		b := &out[len(out)-1]
		b.Seconds, b.Values = append(b.Seconds, v[1]), append(b.Values, v[2])
	}
	return out
}

// TestMatchesNls: R's nls on five bouts (testdata/shared.R). Estimates and the limits
// of the profile, by uniroot, to 1e-8; the covariance to 1e-6, since nls takes its
// derivatives by differences.
func TestMatchesNls(t *testing.T) {
	var want struct {
		U, Sigma, DF  float64
		Steady, Start []float64
		Vcov          [][]float64
		Low           float64 `json:"u_low"`
		High          float64 `json:"u_high"`
	}
	raw, err := os.ReadFile("testdata/shared.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, &want); err != nil {
		t.Fatal(err)
	}
	got, err := kinetics.FitShared(readBouts(t), kinetics.Options{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "ln tau", math.Log(got.Tau), want.U, 1e-8)
	near(t, "sigma", got.Sigma, want.Sigma, 1e-9)
	near(t, "df", got.DF, want.DF, 0)
	near(t, "low", math.Log(got.TauLow), want.Low, 1e-8)
	near(t, "high", math.Log(got.TauHigh), want.High, 1e-8)
	m := len(got.Bouts)
	place := make([]int, 1+2*m) // ours to R's: u, steady levels, starts
	for i, b := range got.Bouts {
		near(t, "steady", b.Steady, want.Steady[i], 1e-8)
		near(t, "start", b.Start, want.Start[i], 1e-8)
		near(t, "steady SE", b.SteadyStdError, math.Sqrt(want.Vcov[1+i][1+i]), 1e-7)
		near(t, "start SE", b.StartStdError, math.Sqrt(want.Vcov[1+m+i][1+m+i]), 1e-7)
		place[1+2*i], place[2+2*i] = 1+i, 1+m+i
	}
	steady := got.SteadyCovariance()
	for i := range place {
		for j := range place {
			w := want.Vcov[place[i]][place[j]]
			scale := math.Sqrt(want.Vcov[place[i]][place[i]] * want.Vcov[place[j]][place[j]])
			if d := math.Abs(got.Covariance.At(i, j) - w); d > 1e-6*scale {
				t.Errorf("covariance %d, %d: %v, want %v", i, j, got.Covariance.At(i, j), w)
			}
		}
	}
	if steady.At(1, 3) != got.Covariance.At(3, 7) || steady.SymmetricDim() != m {
		t.Error("covariance of the steady levels")
	}
}

// respond makes m bouts of the given length.
func respond(r *rand.Rand, m int, length, step, tau, sd, correlation float64) (bouts []kinetics.Bout, steady []float64) {
	for range m {
		start := 95 + 10*r.Float64()
		level := start + 30 + 20*r.Float64()
		steady = append(steady, level)
		var b kinetics.Bout
		e := sd * r.NormFloat64()
		for t := 0.0; t <= length; t += step {
			b.Seconds = append(b.Seconds, t)
			b.Values = append(b.Values, level+(start-level)*math.Exp(-t/tau)+e)
			e = correlation*e + sd*math.Sqrt(1-correlation*correlation)*r.NormFloat64()
		}
		bouts = append(bouts, b)
	}
	return bouts, steady
}

// TestSecondRoad: the residual sum of squares by linear algebra at fixed tau is
// nowhere lower than at the estimate; the covariance is sigma^2 (J'J)^-1 with J by
// differences; exact data give back what made them.
func TestSecondRoad(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		m := rapid.IntRange(1, 5).Draw(t, "bouts")
		bouts, steady := respond(r, m, 90, 4, 35, rapid.SampledFrom([]float64{0, 1}).Draw(t, "sd"), 0)
		o := kinetics.Options{}
		if rapid.Bool().Draw(t, "prior") {
			o.Prior = &kinetics.Prior{MeanLog: math.Log(50), SDLog: 0.5}
		}
		before := slices.Clone(bouts[0].Values)
		got, err := kinetics.FitShared(bouts, o)
		if err != nil {
			t.Fatal(err)
		}
		criterion := func(tau float64) float64 {
			c := got.DF * math.Log(rss(bouts, tau)+1e-18)
			if o.Prior != nil {
				z := (math.Log(tau) - o.Prior.MeanLog) / o.Prior.SDLog
				c = (got.DF+1)*math.Log(rss(bouts, tau)+1e-18) + z*z
			}
			return c
		}
		if got.Sigma > 1e-6 {
			for tau := 0.3; tau < 4000; tau *= 1.3 {
				if criterion(tau) < criterion(got.Tau)-1e-9 {
					t.Fatalf("criterion %v at %v, %v at the estimate %v", criterion(tau), tau, criterion(got.Tau), got.Tau)
				}
			}
			checkJacobian(t, bouts, got, o)
		} else if math.Abs(got.Tau-35) > 1e-5 || math.Abs(got.Bouts[0].Steady-steady[0]) > 1e-5 {
			t.Fatalf("exact data: tau %v, steady %v, want 35, %v", got.Tau, got.Bouts[0].Steady, steady[0])
		}
		if !(got.TauLow <= got.Tau && got.Tau <= got.TauHigh) {
			t.Fatalf("%v not in %v to %v", got.Tau, got.TauLow, got.TauHigh)
		}
		if !slices.Equal(before, bouts[0].Values) {
			t.Fatal("input changed")
		}
	})
}

func rss(bouts []kinetics.Bout, tau float64) float64 {
	var sum float64
	for _, b := range bouts {
		x, y := mat.NewDense(len(b.Seconds), 2, nil), mat.NewVecDense(len(b.Seconds), slices.Clone(b.Values))
		for i, s := range b.Seconds {
			x.Set(i, 0, 1)
			x.Set(i, 1, math.Exp(-s/tau))
		}
		var beta, fit mat.VecDense
		var qr mat.QR
		qr.Factorize(x)
		if err := qr.SolveVecTo(&beta, false, y); err != nil && math.IsInf(qr.Cond(), 1) {
			return math.Inf(1)
		}
		fit.MulVec(x, &beta)
		y.SubVec(y, &fit)
		sum += mat.Dot(y, y)
	}
	return sum
}

func checkJacobian(t *rapid.T, bouts []kinetics.Bout, f *kinetics.Fit, o kinetics.Options) {
	p := 1 + 2*len(bouts)
	cross := mat.NewSymDense(p, nil)
	for i, b := range bouts {
		r := f.Bouts[i]
		for _, s := range b.Seconds {
			e := math.Exp(-s / f.Tau)
			row := make([]float64, p)
			row[0], row[1+2*i], row[2+2*i] = (r.Start-r.Steady)*e*s/f.Tau, 1-e, e
			cross.SymRankOne(cross, 1/(f.Sigma*f.Sigma), mat.NewVecDense(p, row))
		}
	}
	if o.Prior != nil {
		cross.SetSym(0, 0, cross.At(0, 0)+1/(o.Prior.SDLog*o.Prior.SDLog))
	}
	var chol mat.Cholesky
	var inverse mat.SymDense
	if !chol.Factorize(cross) || chol.InverseTo(&inverse) != nil {
		t.Fatal("singular")
	}
	for i := range p {
		for j := range p {
			scale := math.Sqrt(inverse.At(i, i) * inverse.At(j, j))
			if math.Abs(inverse.At(i, j)-f.Covariance.At(i, j)) > 1e-6*scale {
				t.Fatalf("covariance %d, %d: %v, by the Jacobian %v", i, j, f.Covariance.At(i, j), inverse.At(i, j))
			}
		}
	}
}

// TestHonestFailure: a straight line, a step, flat bouts and bouts too short for
// their noise give the error that says so; a prior settles them.
func TestHonestFailure(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	make1 := func(f func(t float64) float64, sd float64) []kinetics.Bout {
		var out []kinetics.Bout
		for range 3 {
			var b kinetics.Bout
			for t := 0.0; t <= 60; t += 3 {
				b.Seconds, b.Values = append(b.Seconds, t), append(b.Values, f(t)+sd*r.NormFloat64())
			}
			out = append(out, b)
		}
		return out
	}
	short, _ := respond(r, 2, 12, 2, 40, 3, 0)
	for name, c := range map[string]struct {
		bouts      []kinetics.Bout
		slow, fast bool
	}{
		"straight line": {make1(func(t float64) float64 { return 100 + 0.5*t }, 1), true, false},
		"step":          {make1(func(t float64) float64 { return 100 + 40*math.Min(1, 100*t) }, 1), false, true},
		"flat":          {make1(func(float64) float64 { return 120 }, 1), true, true},
		"constant":      {make1(func(float64) float64 { return 120 }, 0), true, true},
		"too short":     {short, true, false},
	} {
		_, err := kinetics.FitShared(c.bouts, kinetics.Options{})
		var e *kinetics.NotIdentifiedError
		if !errors.Is(err, kinetics.ErrNotIdentified) || !errors.As(err, &e) {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if math.IsInf(e.High, 1) != c.slow || (e.Low == 0) != c.fast || err.Error() == "" {
			t.Errorf("%s: %v", name, err)
		}
		if name == "constant" || name == "flat" {
			continue
		}
		f, err := kinetics.FitShared(c.bouts, kinetics.Options{Prior: &kinetics.Prior{MeanLog: math.Log(40), SDLog: 0.3}})
		if err != nil {
			t.Errorf("%s with a prior: %v", name, err)
			continue
		}
		if f.LogTauStdError > 0.3 {
			t.Errorf("%s: standard error %v of ln tau beyond the prior's", name, f.LogTauStdError)
		}
	}
}

func TestDegenerateInput(t *testing.T) {
	good := kinetics.Bout{Seconds: []float64{0, 10, 20, 40, 80}, Values: []float64{100, 112, 120, 131, 138}}
	nan := math.NaN()
	change := func(s, v []float64) []kinetics.Bout { return []kinetics.Bout{good, {Seconds: s, Values: v}} }
	for name, c := range map[string]struct {
		bouts []kinetics.Bout
		o     kinetics.Options
		want  error
	}{
		"none":          {nil, kinetics.Options{}, kinetics.ErrTooFew},
		"lengths":       {change([]float64{1, 2}, []float64{1}), kinetics.Options{}, kinetics.ErrShape},
		"NaN":           {change([]float64{1, 2}, []float64{1, nan}), kinetics.Options{}, kinetics.ErrNotFinite},
		"infinite time": {change([]float64{1, math.Inf(1)}, []float64{1, 2}), kinetics.Options{}, kinetics.ErrNotFinite},
		"before":        {change([]float64{-1, 2}, []float64{1, 2}), kinetics.Options{}, kinetics.ErrArgument},
		"one time":      {change([]float64{2, 2, 2}, []float64{1, 2, 3}), kinetics.Options{}, kinetics.ErrTooFew},
		"empty":         {change(nil, nil), kinetics.Options{}, kinetics.ErrTooFew},
		"too few":       {[]kinetics.Bout{{Seconds: []float64{0, 1, 2}, Values: []float64{1, 2, 2.5}}}, kinetics.Options{}, kinetics.ErrTooFew},
		"level":         {[]kinetics.Bout{good}, kinetics.Options{Level: 1}, kinetics.ErrArgument},
		"prior":         {[]kinetics.Bout{good}, kinetics.Options{Prior: &kinetics.Prior{MeanLog: 3}}, kinetics.ErrArgument},
		"prior's mean":  {[]kinetics.Bout{good}, kinetics.Options{Prior: &kinetics.Prior{MeanLog: nan, SDLog: 1}}, kinetics.ErrArgument},
		"overflow":      {change([]float64{1, 2}, []float64{1e200, -1e200}), kinetics.Options{}, kinetics.ErrNotFinite},
	} {
		if _, err := kinetics.FitShared(c.bouts, c.o); !errors.Is(err, c.want) {
			t.Errorf("%s: got %v, want %v", name, err, c.want)
		}
	}
	for name, c := range map[string]struct {
		w    kinetics.Window
		tau  float64
		want error
	}{
		"NaN":      {kinetics.Window{Mean: nan, To: 2}, 30, kinetics.ErrNotFinite},
		"no width": {kinetics.Window{From: 2, To: 2}, 30, kinetics.ErrArgument},
		"before":   {kinetics.Window{From: -2, To: 2}, 30, kinetics.ErrArgument},
		"no tau":   {kinetics.Window{From: 1, To: 2}, 0, kinetics.ErrArgument},
		"nothing":  {kinetics.Window{From: 0, To: 1e-300}, 1e300, kinetics.ErrArgument},
	} {
		if _, err := kinetics.SteadyFromWindow(c.w, c.tau); !errors.Is(err, c.want) {
			t.Errorf("window, %s: got %v, want %v", name, err, c.want)
		}
	}
}

// TestWindow: the mean of a true response over a window gives its steady level
// back, and the derivatives are those by differences.
func TestWindow(t *testing.T) {
	const start, steady, tau = 98.0, 152.0, 43.0
	w := kinetics.Window{Start: start, From: 40, To: 75}
	const n = 20000
	for i := range n {
		at := w.From + (w.To-w.From)*(float64(i)+0.5)/n
		w.Mean += (steady + (start-steady)*math.Exp(-at/tau)) / n
	}
	at := func(w kinetics.Window, tau float64) kinetics.WindowSteady {
		s, err := kinetics.SteadyFromWindow(w, tau)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	s := at(w, tau)
	near(t, "steady", s.Steady, steady, 1e-8)
	const d = 1e-5
	near(t, "by ln tau", s.ByLogTau, (at(w, tau*math.Exp(d)).Steady-at(w, tau*math.Exp(-d)).Steady)/(2*d), 1e-7)
	up, down := w, w
	up.Mean += d
	down.Mean -= d
	near(t, "by mean", s.ByMean, (at(up, tau).Steady-at(down, tau).Steady)/(2*d), 1e-7)
	up, down = w, w
	up.Start += d
	down.Start -= d
	near(t, "by start", s.ByStart, (at(up, tau).Steady-at(down, tau).Steady)/(2*d), 1e-7)
}

// TestCoverage: see FitShared for the figures.
func TestCoverage(t *testing.T) {
	const sets = 400
	for _, c := range []struct {
		name           string
		correlation    float64
		autocorrelated bool
		low, high      float64
	}{
		{"independent", 0, false, 0.93, 0.97},
		{"correlated", 0.5, false, 0.65, 0.85},
		{"correlated, allowed for", 0.5, true, 0.87, 0.96},
	} {
		r := rand.New(rand.NewPCG(17, 26))
		var mean, tau, level, failed float64
		for range sets {
			bouts, steady := respond(r, 6, 60, 3, 40, 2, c.correlation)
			f, err := kinetics.FitShared(bouts, kinetics.Options{Autocorrelated: c.autocorrelated})
			if err != nil {
				if !errors.Is(err, kinetics.ErrNotIdentified) {
					t.Fatal(err)
				}
				failed++
				continue
			}
			mean += f.Tau
			tau += inside(f.TauLow, 40, f.TauHigh)
			level += inside(f.Bouts[0].SteadyLow, steady[0], f.Bouts[0].SteadyHigh)
		}
		n := sets - failed
		t.Logf("%s: mean tau %.1f, tau covers %.3f, steady %.3f, not identified %.3f", c.name, mean/n, tau/n, level/n, failed/sets)
		if tau/n < c.low || tau/n > c.high || level/n < c.low || level/n > c.high || failed > 0.02*sets || math.Abs(mean/n-40) > 1.5 {
			t.Errorf("%s: mean tau %.2f, tau covers %.3f, steady %.3f, want %v to %v", c.name, mean/n, tau/n, level/n, c.low, c.high)
		}
	}
}

func inside(low, x, high float64) float64 {
	if low <= x && x <= high {
		return 1
	}
	return 0
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: got %.17g, want %.17g", what, got, want)
	}
}

func ExampleFitShared() {
	seconds := []float64{0, 10, 20, 30, 40, 50, 60}
	f, err := kinetics.FitShared([]kinetics.Bout{
		{Seconds: seconds, Values: []float64{101, 114, 122, 130, 134, 137, 141}},
		{Seconds: seconds, Values: []float64{108, 122, 132, 138, 145, 148, 150}},
		{Seconds: seconds[:5], Values: []float64{112, 120, 126, 131, 134}},
	}, kinetics.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("tau %.0f s (%.0f to %.0f)\n", f.Tau, f.TauLow, f.TauHigh)
	for _, b := range f.Bouts {
		fmt.Printf("steady %.0f (%.0f to %.0f)\n", b.Steady, b.SteadyLow, b.SteadyHigh)
	}
	// Output:
	// tau 31 s (28 to 35)
	// steady 147 (145 to 149)
	// steady 158 (155 to 160)
	// steady 142 (140 to 145)
}

func BenchmarkFitShared(b *testing.B) {
	bouts, _ := respond(rand.New(rand.NewPCG(1, 1)), 12, 120, 1, 40, 2, 0)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := kinetics.FitShared(bouts, kinetics.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// TestShareOfAnExponential: 1 - 1/e of the way is gone at tau, 95 % at 2.996 tau, and
// the mean of the first 120 s holds 0.75458 of the way for a tau of 30 s (arithmetic of
// HR(t) = HR0 + A(1 - exp(-t/tau)), Hunt et al. 2015, Biomed Eng Online 14:117).
func TestShareOfAnExponential(t *testing.T) {
	for _, c := range []struct{ from, to, tau, gone float64 }{
		{0, 120, 30, 0.7545789097221836},
		{30, 30 + 1e-4, 30, 0.6321205588285577},
		{90, 90 + 1e-4, 30, 0.950212931632136},
		{166.8622876369573, 166.8622876369573 + 1e-4, 55.7, 0.95},
	} {
		s, err := kinetics.SteadyFromWindow(kinetics.Window{Mean: 1, From: c.from, To: c.to}, c.tau)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(1-s.Share-c.gone) > 2e-6 || c.from == 0 && math.Abs(1-s.Share-c.gone) > 1e-14 {
			t.Errorf("%+v: %v of the way gone", c, 1-s.Share)
		}
	}
}
