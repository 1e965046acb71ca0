package ratio_test

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/stats/internal/reference"
	"lengthwise/stats/linear"
	"lengthwise/stats/ratio"
)

func column(t *testing.T, path, name string) []float64 {
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
	j := slices.Index(rows[0], name)
	var out []float64
	for _, row := range rows[1:] {
		v, err := strconv.ParseFloat(row[j], 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

var kinds = map[string]ratio.Kind{
	"bounded interval": ratio.Interval, "complement of an interval (two rays)": ratio.TwoRays, "whole line": ratio.WholeLine,
}

// TestEveryEntryOfFieller compares every number of testdata/fieller.json: R 4.2.2's
// lm of quadratics in mtcars and cars (R's datasets) and of ten typed rows, with
// Fieller sets and the delta method in closed form, and the ratio of two means.
// The quadratics are fitted here from the data. Closed forms, 1e-10; limits 1e-9,
// since a set that is nearly unbounded magnifies the rounding of the covariance.
func TestEveryEntryOfFieller(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "fieller.json")
	data := map[string][2][]float64{
		"mtcars_mpg_hp":   {column(t, "testdata/mtcars.csv", "hp"), column(t, "testdata/mtcars.csv", "mpg")},
		"cars_dist_speed": {column(t, "testdata/cars.csv", "speed"), column(t, "testdata/cars.csv", "dist")},
		"whole_line":      {f.Input(t, "cases/whole_line/inline/x"), f.Input(t, "cases/whole_line/inline/y")},
	}
	for _, name := range f.Keys("cases") {
		x, y := data[name][0], data[name][1]
		at := "cases/" + name + "/"
		m := mustFit(t, y, powers(x, 0))
		v := m.Classical()
		var estimate, se, statistic, p []float64
		for _, c := range m.Coefficients(v, 0.95) {
			estimate, se = append(estimate, c.Estimate), append(se, c.StdError)
			statistic, p = append(statistic, c.Statistic), append(p, c.PValue)
		}
		f.Counts(t, m.N, at+"n")
		f.NearAll(t, estimate, 1e-10, at+"coef")
		f.NearAll(t, se, 1e-10, at+"se")
		f.NearAll(t, statistic, 1e-10, at+"t")
		f.NearAll(t, p, 1e-9, at+"p")
		f.NearMatrix(t, v.Matrix.At, 3, 1e-9, at+"vcov")
		f.Near(t, m.Sigma, 1e-10, at+"sigma")
		f.Near(t, m.RSquared, 1e-10, at+"r2")
		compareSet(t, f, at+"fieller95/", m, v, 0.95)
		compareSet(t, f, at+"fieller90/", m, v, 0.90)
		turn := -estimate[1] / (2 * estimate[2])
		f.Near(t, estimate[0]+turn*(estimate[1]+turn*estimate[2]), 1e-10, at+"value_at_turning_point")
		if f.Has(at + "independent_check") {
			// F of the vertex held at each limit, less the square of t: R has it zero to
			// rounding, and so must the limits found here.
			tp := turningPoint(t, m, v, 0.95)
			critical := distuv.StudentsT{Sigma: 1, Nu: float64(m.DFResidual)}.Quantile(0.975)
			for i, theta := range []float64{tp.Set.Low, tp.Set.High} {
				held := mustFit(t, y, [][]float64{powers(x, 0)[0], powers(x, theta)[2]})
				rss := func(m *linear.Model) float64 { return m.Sigma * m.Sigma * float64(m.DFResidual) }
				excess := (rss(held)-rss(m))/(m.Sigma*m.Sigma) - critical*critical
				f.Within(t, excess, 1e-8, 1, at+"independent_check/value/"+strconv.Itoa(i))
			}
		}
		if f.Has(at + "delta_check_msm") {
			// Another implementation of the delta method.
			f.NearAll(t, []float64{turningPoint(t, m, v, 0.95).StdError}, 1e-6, at+"delta_check_msm")
		}
	}

	// Extra sleep with two drugs (Cushny and Peebles 1905, as in R's datasets::sleep).
	first := []float64{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0, 2}
	second := []float64{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4}
	pair, err1 := ratio.IndependentMeans(second, first)
	s, err2 := ratio.Fieller(pair, 0.95)
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	if s.Kind != ratio.TwoRays || pair.DF != 18 {
		t.Errorf("ratio of means: %v on %v df", s.Kind, pair.DF)
	}
	f.Near(t, pair.Numerator, 1e-10, "ratio_of_means/numerator")
	f.Near(t, pair.Denominator, 1e-10, "ratio_of_means/denominator")
	f.NearAll(t, []float64{s.Low, s.High}, 1e-10, "ratio_of_means/roots")
	a, _, _, discriminant := equation(pair, distuv.StudentsT{Sigma: 1, Nu: pair.DF}.Quantile(0.975))
	f.Near(t, a, 1e-10, "ratio_of_means/A")
	f.Near(t, discriminant, 1e-10, "ratio_of_means/D")
	// The discriminant gives back the distance of the roots that the package found.
	if want := 2 * math.Sqrt(discriminant) / math.Abs(a); math.Abs(s.High-s.Low-want) > 1e-10*want {
		t.Errorf("roots %v apart, want %v", s.High-s.Low, want)
	}
	f.Complete(t)
}

func mustFit(t *testing.T, y []float64, columns [][]float64) *linear.Model {
	t.Helper()
	m, err := linear.Fit(linear.Problem{Response: y, Terms: []string{"one", "linear", "square"}[:len(columns)], Columns: columns})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func turningPoint(t *testing.T, m *linear.Model, v linear.Covariance, level float64) ratio.TurningPoint {
	t.Helper()
	b := m.Estimates
	tp, err := ratio.TurningPointOf(b[1], b[2], v.Matrix.At(1, 1), v.Matrix.At(1, 2), v.Matrix.At(2, 2), float64(m.DFResidual), level)
	if err != nil {
		t.Fatal(err)
	}
	return tp
}

// equation gives the coefficients of A theta^2 - 2 B theta + C <= 0 as printed, and
// B^2 - A C.
func equation(p ratio.Pair, t float64) (a, b, c, discriminant float64) {
	a = p.Denominator*p.Denominator - t*t*p.DenominatorVariance
	b = p.Numerator*p.Denominator - t*t*p.Covariance
	c = p.Numerator*p.Numerator - t*t*p.NumeratorVariance
	return a, b, c, b*b - a*c
}

func compareSet(t *testing.T, f *reference.File, at string, m *linear.Model, v linear.Covariance, level float64) {
	t.Helper()
	tp := turningPoint(t, m, v, level)
	df := float64(m.DFResidual)
	b := m.Estimates
	pair := ratio.Quadratic(b[1], b[2], v.Matrix.At(1, 1), v.Matrix.At(1, 2), v.Matrix.At(2, 2), df)
	d, err := ratio.Delta(pair, level)
	if err != nil {
		t.Fatal(err)
	}
	critical := (d.ConfHigh - d.Estimate) / d.StdError
	f.Near(t, tp.Estimate, 1e-10, at+"turning_point")
	f.Near(t, df, 0, at+"df")
	f.Near(t, critical, 1e-9, at+"t_crit")
	f.Near(t, tp.Set.G, 1e-9, at+"g")
	// The file writes the equation for a = b1, ours has the numerator -b1.
	a, middle, c, discriminant := equation(pair, critical)
	f.Within(t, a, 1e-8, pair.Denominator*pair.Denominator, at+"A")
	f.Within(t, -middle, 1e-8, math.Abs(pair.Numerator*pair.Denominator), at+"B")
	f.Within(t, c, 1e-8, pair.Numerator*pair.Numerator, at+"C")
	f.Within(t, discriminant, 1e-8, math.Abs(a*c), at+"discriminant")
	if want := kinds[f.Text(at+"type")]; tp.Set.Kind != want || !tp.Minimum {
		t.Errorf("%s: %v, minimum %v, want %v", at, tp.Set.Kind, tp.Minimum, want)
	}
	if tp.Set.Kind != ratio.WholeLine {
		f.NearAll(t, []float64{tp.Set.Low, tp.Set.High}, 1e-9, at+"fieller_limits")
	}
	f.Near(t, tp.StdError, 1e-9, at+"delta_se")
	f.NearAll(t, []float64{d.ConfLow, d.ConfHigh}, 1e-9, at+"delta_t_ci")
	pair.DF = math.Inf(1)
	if d, err = ratio.Delta(pair, level); err != nil {
		t.Fatal(err)
	}
	f.NearAll(t, []float64{d.ConfLow, d.ConfHigh}, 1e-9, at+"delta_z_ci")
}
