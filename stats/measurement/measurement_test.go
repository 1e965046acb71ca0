package measurement_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"lengthwise/stats/linear"
	"lengthwise/stats/measurement"
	"lengthwise/stats/resample"
)

// study makes clusters with levels of their own; the true column has variance 1
// within clusters and the error variance noise.
type study struct {
	x, errorSD []float64
	curve      measurement.Curve
}

func simulate(r *rand.Rand, clusters, rows, degree int, noise, linearTerm, square float64) study {
	s := study{curve: measurement.Curve{Degree: degree}}
	for c := range clusters {
		level := 2 * r.NormFloat64()
		for range rows {
			x := r.NormFloat64()
			s.x = append(s.x, x+math.Sqrt(noise)*r.NormFloat64())
			s.errorSD = append(s.errorSD, math.Sqrt(noise))
			s.curve.Response = append(s.curve.Response, level+linearTerm*x+square*x*x+r.NormFloat64())
			s.curve.Absorb = append(s.curve.Absorb, c)
		}
	}
	s.curve.Cluster = s.curve.Absorb
	return s
}

// TestLimits: with many rows the path is Sxy/(Sxx + lambda m u^2), so the rational
// extrapolant and calibration reach the estimate by moments, Sxy/(Sxx - m u^2)
// (Fuller 1987, eq. 1.2.3), while the quadratic stays below it.
func TestLimits(t *testing.T) {
	s := simulate(rand.New(rand.NewPCG(1, 1)), 1, 4000, 1, 0.5, 2, 0)
	s.curve.Absorb, s.curve.Cluster = nil, nil
	n := float64(len(s.x))
	var mx, my, xx, xy float64
	for i, x := range s.x {
		mx += x / n
		my += s.curve.Response[i] / n
	}
	for i, x := range s.x {
		xx += (x - mx) * (x - mx)
		xy += (x - mx) * (s.curve.Response[i] - my)
	}
	want := xy / (xx - (n-1)*0.5)
	calibrated, err1 := measurement.CalibrateCurve(s.x, s.errorSD, s.curve)
	rational, err2 := measurement.CorrectCurve(s.x, s.errorSD, s.curve, measurement.Options{Replicates: 40, Extrapolant: measurement.RationalLinear})
	quadratic, err3 := measurement.CorrectCurve(s.x, s.errorSD, s.curve, measurement.Options{Replicates: 40})
	if err := errors.Join(err1, err2, err3); err != nil {
		t.Fatal(err)
	}
	if d := calibrated.Corrected.Linear - want; math.Abs(d) > 1e-10 {
		t.Errorf("calibrated %v, by moments %v", calibrated.Corrected.Linear, want)
	}
	if d := calibrated.Corrected.Linear - calibrated.Naive.Linear/calibrated.Reliability; math.Abs(d) > 1e-10 {
		t.Errorf("calibrated %v, naive over reliability %v", calibrated.Corrected.Linear, calibrated.Naive.Linear/calibrated.Reliability)
	}
	if d := rational.Corrected.Linear - want; math.Abs(d) > 5*rational.SIMEX.MonteCarloError[0]+0.01 {
		t.Errorf("rational %v (Monte-Carlo error %v), by moments %v", rational.Corrected.Linear, rational.SIMEX.MonteCarloError[0], want)
	}
	if q := quadratic.Corrected.Linear; !(q > quadratic.Naive.Linear+0.3 && q < want) {
		t.Errorf("quadratic %v, naive %v, by moments %v", q, quadratic.Naive.Linear, want)
	}
}

// TestNoError: without error nothing changes, and the standard errors of SIMEX are
// those of the jackknife over clusters, fitted again each time.
func TestNoError(t *testing.T) {
	s := simulate(rand.New(rand.NewPCG(2, 1)), 8, 8, 2, 0, 1, 0.5)
	s.curve.Terms, s.curve.Columns = []string{"z", "twice z"}, make([][]float64, 2)
	for i := range s.x {
		s.curve.Columns[0] = append(s.curve.Columns[0], float64(i*i%7))
		s.curve.Columns[1] = append(s.curve.Columns[1], 2*float64(i*i%7)) // dropped
	}
	for _, absorbed := range []bool{true, false} {
		if !absorbed {
			s.curve.Absorb = nil
		}
		a, err1 := measurement.CorrectCurve(s.x, s.errorSD, s.curve, measurement.Options{Replicates: 10})
		b, err2 := measurement.CalibrateCurve(s.x, s.errorSD, s.curve)
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		for _, r := range []measurement.CurveResult{a, b} {
			if math.Abs(r.Corrected.Linear-r.Naive.Linear) > 1e-10 || math.Abs(r.Corrected.Turning.Estimate-r.Naive.Turning.Estimate) > 1e-9 || r.Reliability != 1 {
				t.Errorf("%+v, naive %+v", r.Corrected, r.Naive)
			}
		}
		if math.Abs(b.Corrected.SquareStdError-b.Naive.SquareStdError) > 1e-10 {
			t.Errorf("calibrated: standard error %v, naive %v", b.Corrected.SquareStdError, b.Naive.SquareStdError)
		}
		var values []float64
		for out := range 8 {
			p := linear.Problem{Terms: []string{"one", "x", "square", "z"}, Columns: make([][]float64, 4)}
			for i, c := range s.curve.Cluster {
				if c == out {
					continue
				}
				v := s.x[i] - a.Centre
				p.Response = append(p.Response, s.curve.Response[i])
				for j, e := range []float64{1, v, v * v, s.curve.Columns[0][i]} {
					p.Columns[j] = append(p.Columns[j], e)
				}
				if absorbed {
					p.Absorb = append(p.Absorb, c)
				}
			}
			m, err := linear.Fit(p)
			if err != nil {
				t.Fatal(err)
			}
			values = append(values, m.Estimates[slices.Index(m.Terms, "square")])
		}
		want, err := resample.Jackknife(a.Corrected.Square, values)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(a.Corrected.SquareStdError-want.StdError) > 1e-9 {
			t.Errorf("absorbed %v: standard error %v, by fitting again %v", absorbed, a.Corrected.SquareStdError, want.StdError)
		}
	}
}

// TestUnits: the seed decides the result to the last bit; columns in other units and
// from another origin give the same curve.
func TestUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		s := simulate(r, 6, 6, 2, 0.2, 1, 0.5)
		before := slices.Clone(s.x)
		o := measurement.Options{Replicates: 10, Seed: 5, Extrapolant: measurement.Extrapolant(rapid.IntRange(0, 2).Draw(t, "extrapolant"))}
		want, err := measurement.CorrectCurve(s.x, s.errorSD, s.curve, o)
		if err != nil {
			if errors.Is(err, measurement.ErrNoSignal) {
				return
			}
			t.Fatal(err)
		}
		again, err := measurement.CorrectCurve(s.x, s.errorSD, s.curve, o)
		if err != nil || !reflect.DeepEqual(again, want) {
			t.Fatalf("again: %+v, %v", again, err)
		}
		x, sd := make([]float64, len(s.x)), make([]float64, len(s.x))
		for i := range x {
			x[i], sd[i] = 100+4*s.x[i], 4*s.errorSD[i]
		}
		scaled, err := measurement.CorrectCurve(x, sd, s.curve, o)
		if err != nil {
			t.Fatal(err)
		}
		same := func(what string, got, want float64) {
			if math.Abs(got-want) > 1e-6*(1+math.Abs(want)) {
				t.Fatalf("%s: %v, want %v", what, got, want)
			}
		}
		same("linear", 4*scaled.Corrected.Linear, want.Corrected.Linear)
		same("square", 16*scaled.Corrected.Square, want.Corrected.Square)
		same("standard error", 4*scaled.Corrected.LinearStdError, want.Corrected.LinearStdError)
		same("reliability", scaled.Reliability, want.Reliability)
		if math.Abs(want.Corrected.Turning.Estimate) < 50 {
			same("turning point", (scaled.Corrected.Turning.Estimate-100)/4, want.Corrected.Turning.Estimate)
		}
		slope, se := scaled.Corrected.SlopeAt(104)
		wantSlope, wantSE := want.Corrected.SlopeAt(1)
		same("slope at a point", 4*slope, wantSlope)
		same("its standard error", 4*se, wantSE)
		if !slices.Equal(before, s.x) {
			t.Fatal("input changed")
		}
	})
}

// TestBootstrap: the bootstrap's standard errors are near the jackknife's where both
// hold, and calibration's are not below those that take it as known.
func TestBootstrap(t *testing.T) {
	s := simulate(rand.New(rand.NewPCG(7, 3)), 24, 8, 1, 0.33, 1, 0)
	jackknife, err1 := measurement.CorrectCurve(s.x, s.errorSD, s.curve, measurement.Options{Extrapolant: measurement.RationalLinear})
	boot, err2 := measurement.BootstrapCurve(s.x, s.errorSD, s.curve, measurement.BySIMEX, 100, measurement.Options{Replicates: 10, Extrapolant: measurement.RationalLinear, Seed: 1})
	known, err3 := measurement.CalibrateCurve(s.x, s.errorSD, s.curve)
	cal, err4 := measurement.BootstrapCurve(s.x, s.errorSD, s.curve, measurement.ByCalibration, 400, measurement.Options{Seed: 1})
	if err := errors.Join(err1, err2, err3, err4); err != nil {
		t.Fatal(err)
	}
	j, b := jackknife.Corrected.LinearStdError, boot.Corrected.LinearStdError
	k, c := known.Corrected.LinearStdError, cal.Corrected.LinearStdError
	t.Logf("standard errors: jackknife %.4f, bootstrap %.4f; calibration known %.4f, bootstrap %.4f", j, b, k, c)
	if b < 0.6*j || b > 1.8*j || c < 0.7*k || c > 2*k {
		t.Errorf("standard errors: jackknife %.4f, bootstrap %.4f; calibration known %.4f, bootstrap %.4f", j, b, k, c)
	}
	interval, err := resample.Percentile(cal.Linear, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if interval.Low > cal.Corrected.Linear || interval.High < cal.Corrected.Linear || cal.Failed != 0 || len(cal.Square) != 0 {
		t.Errorf("%+v; estimate %v", interval, cal.Corrected.Linear)
	}
	q := simulate(rand.New(rand.NewPCG(7, 4)), 12, 8, 2, 0.2, 1, 0.7)
	turn, err := measurement.BootstrapCurve(q.x, q.errorSD, q.curve, measurement.ByCalibration, 100, measurement.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(turn.Square) != 100 || turn.Corrected.Turning == nil || turn.Corrected.Covariance.SymmetricDim() != 2 {
		t.Errorf("%+v", turn.Corrected)
	}
}

// TestRecovery: estimates over simulated studies. The doc comments quote what it
// prints for MEASUREMENT_SETS=600 sets and 50 replicates; without the variable 30 sets
// and 10 replicates guard against gross error.
func TestRecovery(t *testing.T) {
	count, replicates := 30, 10
	if v := os.Getenv("MEASUREMENT_SETS"); v != "" {
		n, err := strconv.Atoi(v)
		if err != nil {
			t.Fatal(err)
		}
		count, replicates = n, 50
	}
	sets := float64(count)
	o := measurement.Options{Replicates: replicates}
	ro := measurement.Options{Replicates: replicates, Extrapolant: measurement.RationalLinear}
	r := rand.New(rand.NewPCG(19, 26))
	var naive, quadratic, rational, calibrated, coverNaive, coverRational, coverCalibrated float64
	for range count {
		s := simulate(r, 20, 10, 1, 1./3, 1, 0)
		a, err1 := measurement.CorrectCurve(s.x, s.errorSD, s.curve, o)
		b, err2 := measurement.CorrectCurve(s.x, s.errorSD, s.curve, ro)
		c, err3 := measurement.CalibrateCurve(s.x, s.errorSD, s.curve)
		if err := errors.Join(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		naive += a.Naive.Linear / sets
		quadratic += a.Corrected.Linear / sets
		rational += b.Corrected.Linear / sets
		calibrated += c.Corrected.Linear / sets
		coverNaive += holds(a.Naive, 1) / sets
		coverRational += holds(b.Corrected, 1) / sets
		coverCalibrated += holds(c.Corrected, 1) / sets
	}
	t.Logf("slope, true 1: naive %.3f, quadratic %.3f, rational %.3f, calibrated %.3f", naive, quadratic, rational, calibrated)
	t.Logf("intervals: naive %.3f, rational %.3f, calibrated %.3f", coverNaive, coverRational, coverCalibrated)
	if math.Abs(naive-0.75) > 0.06 || math.Abs(quadratic-0.95) > 0.08 || math.Abs(rational-1) > 0.08 || math.Abs(calibrated-1) > 0.08 {
		t.Errorf("slope, true 1: naive %.3f, quadratic %.3f, rational %.3f, calibrated %.3f", naive, quadratic, rational, calibrated)
	}
	if coverNaive > 0.3 || coverRational < 0.85 || coverCalibrated < 0.8 {
		t.Errorf("intervals: naive %.3f, rational %.3f, calibrated %.3f", coverNaive, coverRational, coverCalibrated)
	}

	// A curve that turns at 0.7: y = -1.4 x + x^2, reliability 0.8.
	var turnNaive, turnSIMEX, turnCalibrated []float64
	var inNaive, inSIMEX, inCalibrated float64
	for range count {
		s := simulate(r, 20, 10, 2, 0.25, -1.4, 1)
		a, err1 := measurement.CorrectCurve(s.x, s.errorSD, s.curve, o)
		c, err2 := measurement.CalibrateCurve(s.x, s.errorSD, s.curve)
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		turnNaive = append(turnNaive, a.Naive.Turning.Estimate)
		turnSIMEX = append(turnSIMEX, a.Corrected.Turning.Estimate)
		turnCalibrated = append(turnCalibrated, c.Corrected.Turning.Estimate)
		for _, h := range []struct {
			e  measurement.CurveEstimate
			to *float64
		}{{a.Naive, &inNaive}, {a.Corrected, &inSIMEX}, {c.Corrected, &inCalibrated}} {
			if h.e.Turning.Set.Contains(0.7) {
				*h.to += 1. / sets
			}
		}
	}
	t.Logf("turning point, true 0.7: medians naive %.3f, SIMEX %.3f, calibrated %.3f; sets hold it %.3f, %.3f, %.3f",
		middle(turnNaive), middle(turnSIMEX), middle(turnCalibrated), inNaive, inSIMEX, inCalibrated)
	if middle(turnNaive) < 0.8 || math.Abs(middle(turnSIMEX)-0.7) > 0.1 || math.Abs(middle(turnCalibrated)-0.7) > 0.1 {
		t.Errorf("turning point, true 0.7: naive %.3f, SIMEX %.3f, calibrated %.3f", middle(turnNaive), middle(turnSIMEX), middle(turnCalibrated))
	}
	if inSIMEX < 0.8 || inCalibrated < 0.8 || inNaive > inSIMEX {
		t.Errorf("sets hold the turning point: naive %.3f, SIMEX %.3f, calibrated %.3f", inNaive, inSIMEX, inCalibrated)
	}
}

func holds(e measurement.CurveEstimate, truth float64) float64 {
	// 2.1 is near the 97.5 % point of t for the 17 or so degrees of freedom here.
	if math.Abs(e.Linear-truth) <= 2.1*e.LinearStdError {
		return 1
	}
	return 0
}

func middle(v []float64) float64 {
	slices.Sort(v)
	return v[len(v)/2]
}

func TestDegenerateInput(t *testing.T) {
	nan := math.NaN()
	x, sd := []float64{1, 2, 4, 3, 6, 5, 8, 7}, []float64{.5, .5, .5, .5, .5, .5, .5, .5}
	y := []float64{1, 4, 3, 6, 5, 8, 7, 9}
	f := func(x []float64) (measurement.Estimates, error) { return measurement.Estimates{Values: x[:1]}, nil }
	simex := func(x, sd []float64, f measurement.Estimator, o measurement.Options) error {
		_, err := measurement.SIMEX(x, sd, f, o)
		return err
	}
	curve := func(x, sd []float64, c measurement.Curve) error {
		_, err := measurement.CorrectCurve(x, sd, c, measurement.Options{Replicates: 10})
		return err
	}
	calibrate := func(x, sd []float64, absorb []int) error {
		_, err := measurement.Calibrate(x, sd, nil, nil, absorb)
		return err
	}
	boot := func(c measurement.Curve, m measurement.Method, n int) error {
		_, err := measurement.BootstrapCurve(x, sd, c, m, n, measurement.Options{Replicates: 10})
		return err
	}
	calls := 0
	short := func(x []float64) (measurement.Estimates, error) {
		calls++
		return measurement.Estimates{Values: x[:1+calls%2]}, nil
	}
	large := []float64{5, 5, 5, 5, 5, 5, 5, 5}
	line := measurement.Curve{Response: y, Degree: 1}
	noOptions := measurement.Options{}
	for _, c := range []struct {
		name string
		err  error
		want error
	}{
		{"lengths", simex(x, sd[:2], f, noOptions), measurement.ErrShape},
		{"two rows", simex(x[:2], sd[:2], f, noOptions), measurement.ErrTooFew},
		{"NaN", simex([]float64{1, nan, 2}, sd[:3], f, noOptions), measurement.ErrNotFinite},
		{"NaN error", simex(x[:3], []float64{1, nan, 2}, f, noOptions), measurement.ErrNotFinite},
		{"negative error", simex(x[:3], []float64{1, -1, 2}, f, noOptions), measurement.ErrArgument},
		{"replicates", simex(x, sd, f, measurement.Options{Replicates: 3}), measurement.ErrTooFew},
		{"one lambda", simex(x, sd, f, measurement.Options{Lambdas: []float64{1}}), measurement.ErrTooFew},
		{"lambda zero", simex(x, sd, f, measurement.Options{Lambdas: []float64{0, 1}}), measurement.ErrArgument},
		{"lambdas fall", simex(x, sd, f, measurement.Options{Lambdas: []float64{2, 1}}), measurement.ErrArgument},
		{"extrapolant", simex(x, sd, f, measurement.Options{Extrapolant: 9}), measurement.ErrArgument},
		{"estimator fails", simex(x, sd, func([]float64) (measurement.Estimates, error) {
			return measurement.Estimates{}, linear.ErrNoVariance
		}, noOptions), linear.ErrNoVariance},
		{"no estimates", simex(x, sd, func([]float64) (measurement.Estimates, error) { return measurement.Estimates{}, nil }, noOptions), measurement.ErrEstimator},
		{"NaN estimate", simex(x, sd, func([]float64) (measurement.Estimates, error) {
			return measurement.Estimates{Values: []float64{nan}}, nil
		}, noOptions), measurement.ErrNotFinite},
		{"changing number", simex(x, sd, short, noOptions), measurement.ErrEstimator},
		{"covariance of another size", simex(x, sd, func([]float64) (measurement.Estimates, error) {
			return measurement.Estimates{Values: []float64{1}, Covariance: mat.NewSymDense(2, nil)}, nil
		}, noOptions), measurement.ErrEstimator},
		{"all error", calibrate(x, large, nil), measurement.ErrNoSignal},
		{"groups", calibrate(x, sd, []int{1}), measurement.ErrShape},
		{"one row a group", calibrate(x, sd, []int{1, 2, 3, 4, 5, 6, 7, 8}), measurement.ErrTooFew},
		{"constant", calibrate(large, sd, nil), measurement.ErrNoSignal},
		{"curve that is all error", curve(x, large, line), measurement.ErrNoSignal},
		{"degree", curve(x, sd, measurement.Curve{Response: y, Degree: 3}), measurement.ErrArgument},
		{"response", curve(x, sd, measurement.Curve{Response: y[:2], Degree: 1}), measurement.ErrShape},
		{"exact", curve(x, sd, measurement.Curve{Response: x, Degree: 1}), linear.ErrNoVariance},
		{"square of two values", curve([]float64{1, 2, 1, 2, 1, 2, 1, 2}, []float64{.1, .1, .1, .1, .1, .1, .1, .1},
			measurement.Curve{Response: y, Degree: 2}), linear.ErrTerm},
		{"term twice", curve(x, sd, measurement.Curve{Response: y, Degree: 1, Terms: []string{"x"}, Columns: [][]float64{{1, 4, 2, 3, 3, 2, 5, 1}}}), linear.ErrName},
		{"levels across clusters", curve(x, sd, measurement.Curve{Response: y, Degree: 1, Absorb: []int{1, 1, 2, 2, 1, 1, 2, 2}, Cluster: []int{1, 1, 1, 1, 2, 2, 2, 2}}), measurement.ErrArgument},
		{"one resample", boot(line, measurement.ByCalibration, 1), measurement.ErrTooFew},
		{"method", boot(line, 7, 100), measurement.ErrArgument},
		{"groups across clusters", boot(measurement.Curve{Response: y, Degree: 1, Absorb: []int{1, 1, 2, 2, 1, 1, 2, 2}, Cluster: []int{1, 1, 1, 1, 2, 2, 2, 2}},
			measurement.ByCalibration, 100), measurement.ErrArgument},
		{"resamples of one row", boot(measurement.Curve{Response: y, Degree: 1, Cluster: []int{1, 1, 1, 1, 1, 1, 1, 2}}, measurement.ByCalibration, 100), measurement.ErrNoSignal},
	} {
		if !errors.Is(c.err, c.want) {
			t.Errorf("%s: got %v, want %v", c.name, c.err, c.want)
		}
	}
	if r, err := measurement.ReliabilityRatio(x, sd, nil, nil, nil); err != nil || math.Abs(r-(6-0.25)/6) > 1e-12 {
		t.Errorf("variance 6, error 0.25: reliability %v, %v", r, err)
	}
}

// Counts that are off by about half a stroke flatten the slope on them.
func ExampleCorrectCurve() {
	r := rand.New(rand.NewPCG(3, 3))
	var x, sd, y []float64
	for i := range 60 {
		truth := float64(i%12) / 2
		x, sd = append(x, truth+r.NormFloat64()), append(sd, 1)
		y = append(y, 120+3*truth+r.NormFloat64())
	}
	c, err := measurement.CorrectCurve(x, sd, measurement.Curve{Response: y, Degree: 1}, measurement.Options{Extrapolant: measurement.RationalLinear})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("reliability %.2f: plain %.2f, corrected %.2f (standard error %.2f)\n",
		c.Reliability, c.Naive.Linear, c.Corrected.Linear, c.Corrected.LinearStdError)
	// Output: reliability 0.71: plain 2.40, corrected 3.33 (standard error 0.25)
}

func BenchmarkCorrectCurve(b *testing.B) {
	s := simulate(rand.New(rand.NewPCG(1, 1)), 12, 12, 2, 0.25, 1, 0.5)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := measurement.CorrectCurve(s.x, s.errorSD, s.curve, measurement.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCalibrateCurve(b *testing.B) {
	s := simulate(rand.New(rand.NewPCG(1, 1)), 12, 12, 2, 0.25, 1, 0.5)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := measurement.CalibrateCurve(s.x, s.errorSD, s.curve); err != nil {
			b.Fatal(err)
		}
	}
}
