package linear

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats"
	"pgregory.net/rapid"
)

type robustReference struct {
	Fits map[string]struct {
		Coef, SE, Weights []float64
		Scale, Stddev     float64
	}
	Hubers struct {
		X     []float64
		Mu, S float64
	}
	Pairs map[string]struct {
		X, Y             []float64
		Slopes           int
		Slope, Intercept float64
	}
}

// TestHuberReference: MASS's rlm run to convergence, and hubers for location and
// scale (testdata/robustfit.R). Iterated to 1e-12 on both sides: 1e-9.
func TestHuberReference(t *testing.T) {
	var reference robustReference
	readJSON(t, "robustfit.json", &reference)
	stack, cars := readFrame(t, "stackloss.csv"), readFrame(t, "mtcars.csv")
	n := len(stack["stack.loss"])
	plant := Problem{
		Response: stack["stack.loss"], Terms: []string{"intercept", "air", "water", "acid"},
		Columns: [][]float64{ones(n), stack["Air.Flow"], stack["Water.Temp"], stack["Acid.Conc."]},
	}
	motor := Problem{
		Response: cars["mpg"], Terms: []string{"intercept", "wt", "hp"},
		Columns: [][]float64{ones(len(cars["mpg"])), cars["wt"], cars["hp"]},
	}
	absorbed := motor
	absorbed.Terms, absorbed.Columns, absorbed.Absorb = motor.Terms[1:], motor.Columns[1:], cars.codes("cyl")
	for name, c := range map[string]struct {
		p    Problem
		o    RobustOptions
		from int // first coefficient of the reference
	}{
		"stackloss_mad_1.345": {plant, RobustOptions{}, 0},
		"stackloss_mad_1.5":   {plant, RobustOptions{Tuning: 1.5}, 0},
		"stackloss_proposal2": {plant, RobustOptions{Scale: Proposal2}, 0},
		"mtcars_mad":          {motor, RobustOptions{}, 0},
		"mtcars_proposal2_k2": {motor, RobustOptions{Scale: Proposal2, ScaleTuning: 1.2}, 0},
		"mtcars_absorbed":     {absorbed, RobustOptions{}, 1},
	} {
		t.Run(name, func(t *testing.T) {
			want := reference.Fits[name]
			got, err := Robust(c.p, c.o)
			if err != nil {
				t.Fatal(err)
			}
			checkClose(t, "scale", got.Scale, want.Scale, 1e-9)
			for i, r := range got.Coefficients(0.95) {
				checkClose(t, r.Term, r.Estimate, want.Coef[c.from+i], 1e-9)
				checkClose(t, r.Term+" SE", r.StdError, want.SE[c.from+i], 1e-9)
			}
			for i, w := range want.Weights {
				checkClose(t, "weight", got.Weights[i], w, 1e-8)
			}
		})
	}
	h := reference.Hubers
	got, err := Robust(Problem{Response: h.X, Terms: []string{"mean"}, Columns: [][]float64{ones(len(h.X))}},
		RobustOptions{Tuning: 1.5, Scale: Proposal2, ScaleTuning: 1.5})
	if err != nil {
		t.Fatal(err)
	}
	checkClose(t, "location", got.Estimates[0], h.Mu, 1e-9)
	checkClose(t, "scale", got.Scale, h.S, 1e-9)
}

// TestHuberSolvesItsEquations: sum psi(r/s) x is zero; with a large tuning
// constant the fit is the plain one; a wild response moves it little.
func TestHuberSolvesItsEquations(t *testing.T) {
	for seed := range uint64(20) {
		r := rand.New(rand.NewPCG(seed, 1))
		n := 15 + int(seed)
		p := Problem{Terms: []string{"intercept", "x", "z"}, Columns: [][]float64{ones(n), make([]float64, n), make([]float64, n)}, Response: make([]float64, n)}
		for i := range n {
			p.Columns[1][i], p.Columns[2][i] = r.NormFloat64(), 100*r.NormFloat64()
			p.Response[i] = 3 + 2*p.Columns[1][i] + r.NormFloat64()
		}
		p.Response[4] += 1000
		got, err := Robust(p, RobustOptions{Scale: ScaleKind(seed % 2)})
		if err != nil {
			t.Fatal(err)
		}
		for j, column := range p.Columns {
			var sum float64
			for i, e := range got.Residuals {
				sum += math.Max(-1.345, math.Min(1.345, e/got.Scale)) * column[i]
			}
			if math.Abs(sum) > 1e-8*floats.Norm(column, 2) {
				t.Errorf("seed %d: equation of %s is %v", seed, p.Terms[j], sum)
			}
		}
		if math.Abs(got.Estimates[1]-2) > 2 || got.Weights[4] > 0.02 {
			t.Errorf("seed %d: one wild row of %d: slope %v, weight %v", seed, n, got.Estimates[1], got.Weights[4])
		}
		loose, err := Robust(p, RobustOptions{Tuning: 1e9})
		if err != nil {
			t.Fatal(err)
		}
		plain := mustFit(t, p)
		for i, c := range plain.Coefficients(plain.Classical(), 0.95) {
			l := loose.Coefficients(0.95)[i]
			checkClose(t, "loose "+c.Term, l.Estimate, c.Estimate, 1e-10)
			checkClose(t, "loose SE", l.StdError, c.StdError, 1e-10)
			checkClose(t, "loose low", l.ConfLow, c.ConfLow, 1e-9)
		}
	}
}

// TestTheilSenProperties: the line moves with the data, and the limits bracket
// the slope.
func TestTheilSenProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 15).Draw(t, "rows")
		x, y := make([]float64, n), make([]float64, n)
		for i := range x {
			x[i] = float64(rapid.IntRange(-4, 4).Draw(t, "x"))
			y[i] = float64(rapid.IntRange(-64, 64).Draw(t, "y"))
		}
		got, err := TheilSen(x, y, 0.9)
		if errors.Is(err, ErrNoVariance) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if !(got.ConfLow <= got.Slope && got.Slope <= got.ConfHigh) {
			t.Fatalf("%+v", got)
		}
		before := slices.Clone(y)
		tilted := mapped(y, func(v float64) float64 { return -2 * v })
		for i := range tilted {
			tilted[i] += 3 * x[i]
		}
		turned, err := TheilSen(x, tilted, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(turned.Slope-(3-2*got.Slope)) > 1e-12*(1+math.Abs(turned.Slope)) {
			t.Fatalf("slope %v, tilted %v", got.Slope, turned.Slope)
		}
		if !slices.Equal(y, before) {
			t.Fatal("input changed")
		}
	})
}

// TestTheilSenCoverage: 2000 sets of 12 and of 30 rows, wild errors.
func TestTheilSenCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 26))
	for _, n := range []int{12, 30} {
		const sets = 2000
		hits := 0
		x, y := make([]float64, n), make([]float64, n)
		for range sets {
			for i := range x {
				x[i] = r.NormFloat64()
				y[i] = 2*x[i] + r.NormFloat64()/math.Sqrt(r.ExpFloat64())
			}
			s, err := TheilSen(x, y, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			if s.ConfLow <= 2 && 2 <= s.ConfHigh {
				hits++
			}
		}
		got := float64(hits) / sets
		t.Logf("%d rows: %.3f", n, got)
		if got < 0.935 || got > 0.975 {
			t.Errorf("%d rows: coverage %.3f", n, got)
		}
	}
}

func TestRobustDegenerate(t *testing.T) {
	nan := math.NaN()
	sen := func(x, y []float64, level float64) error { _, err := TheilSen(x, y, level); return err }
	huber := func(p Problem, o RobustOptions) error { _, err := Robust(p, o); return err }
	p := plain()
	weighted := plain()
	weighted.Weights = ones(len(p.Response))
	exact := plain()
	exact.Response = exact.Columns[1]
	// All rows but one on a line: the median residual vanishes.
	half := Problem{Terms: []string{"intercept", "x"}, Columns: [][]float64{ones(20), make([]float64, 20)}, Response: make([]float64, 20)}
	for i := range half.Response {
		half.Columns[1][i], half.Response[i] = float64(i), 2*float64(i)
	}
	half.Response[3] = 40
	for name, c := range map[string]struct{ err, want error }{
		"lengths":      {sen([]float64{1, 2, 3}, []float64{1}, 0.9), ErrShape},
		"two rows":     {sen([]float64{1, 2}, []float64{1, 2}, 0.9), ErrTooFewRows},
		"constant x":   {sen([]float64{1, 1, 1}, []float64{1, 2, 3}, 0.9), ErrNoVariance},
		"NaN":          {sen([]float64{1, 2, nan}, []float64{1, 2, 3}, 0.9), ErrNotFinite},
		"overflow":     {sen([]float64{1, 1 + 1e-15, 2}, []float64{1e300, -1e300, 3}, 0.9), ErrNotFinite},
		"level":        {sen([]float64{1, 2, 3}, []float64{1, 2, 3}, 0), ErrArgument},
		"weights":      {huber(weighted, RobustOptions{}), ErrArgument},
		"tuning":       {huber(p, RobustOptions{Tuning: -1}), ErrArgument},
		"scale":        {huber(p, RobustOptions{Scale: 7}), ErrArgument},
		"scale tuning": {huber(p, RobustOptions{ScaleTuning: nan}), ErrArgument},
		"exact":        {huber(exact, RobustOptions{}), ErrNoVariance},
		"half exact":   {huber(half, RobustOptions{}), ErrNoVariance},
		"no rows":      {huber(Problem{Terms: []string{"x"}, Columns: [][]float64{{}}}, RobustOptions{}), ErrTooFewRows},
	} {
		if !errors.Is(c.err, c.want) {
			t.Errorf("%s: got %v, want %v", name, c.err, c.want)
		}
	}
}

func BenchmarkHuber(b *testing.B) {
	p := benchProblem(12, 12, 5, false, false)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Robust(p, RobustOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkTheilSen(b *testing.B) {
	p := benchProblem(12, 12, 1, false, false)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := TheilSen(p.Columns[0], p.Response, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}
