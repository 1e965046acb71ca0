package measurement

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"
)

func readRows(t testing.TB, path string, header bool) [][]float64 {
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
	if header {
		rows = rows[1:]
	}
	out := make([][]float64, len(rows))
	for i, row := range rows {
		for _, field := range row {
			v, err := strconv.ParseFloat(field, 64)
			if err != nil {
				t.Fatal(err)
			}
			out[i] = append(out[i], v)
		}
	}
	return out
}

func readCurve(t testing.TB, degree int) (x, errorSD []float64, c Curve) {
	t.Helper()
	c = Curve{Degree: degree, Terms: []string{"z"}, Columns: make([][]float64, 1)}
	for _, r := range readRows(t, "testdata/simex.csv", true) {
		x, errorSD = append(x, r[0]), append(errorSD, r[1])
		c.Response, c.Columns[0] = append(c.Response, r[2]), append(c.Columns[0], r[3])
		c.Absorb = append(c.Absorb, int(r[4]))
	}
	return x, errorSD, c
}

type simexReference struct {
	Naive, Path, Quadratic, Linear, Rational any
	Covariance                               [][]float64
}

// flat lists a number, a list or a list of lists.
func flat(v any) []float64 {
	switch v := v.(type) {
	case float64:
		return []float64{v}
	case []any:
		var out []float64
		for _, e := range v {
			out = append(out, flat(e)...)
		}
		return out
	}
	return nil
}

// TestMatchesReference: SIMEX with the same deviates, and calibration, by the
// published formulas in R (testdata/simex.R). Closed forms 1e-9; the rational
// extrapolant is a search on both sides, 1e-5.
func TestMatchesReference(t *testing.T) {
	var want struct {
		Line, Quadratic simexReference
		Calibration     struct {
			TrueVariance         float64 `json:"true_variance"`
			Reliability          float64
			Values, Variances, B []float64
		}
	}
	raw, err := os.ReadFile("testdata/simex.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, &want); err != nil {
		t.Fatal(err)
	}
	deviates := readRows(t, "testdata/deviates.csv", false)
	for degree, w := range map[int]simexReference{1: want.Line, 2: want.Quadratic} {
		x, errorSD, c := readCurve(t, degree)
		start, _, err := c.start(x, errorSD)
		if err != nil {
			t.Fatal(err)
		}
		for extrapolant, corrected := range map[Extrapolant]any{Quadratic: w.Quadratic, Linear: w.Linear, RationalLinear: w.Rational} {
			o, err := Options{Replicates: len(deviates), Extrapolant: extrapolant}.resolved()
			if err != nil {
				t.Fatal(err)
			}
			got, err := simex(x, errorSD, c.estimator(start.Centre, true), o, func(b int, z []float64) { copy(z, deviates[b]) })
			if err != nil {
				t.Fatal(err)
			}
			tolerance := 1e-9
			if extrapolant == RationalLinear {
				tolerance = 1e-5
			}
			for j, v := range flat(corrected) {
				near(t, "corrected", got.Corrected[j], v, tolerance)
			}
			for j, v := range flat(w.Naive) {
				near(t, "naive", got.Naive[j], v, 1e-9)
			}
			for i, v := range flat(w.Path) {
				near(t, "path", got.Path[i/degree][i%degree], v, 1e-9)
			}
			for i, row := range w.Covariance {
				for j, v := range row {
					near(t, "covariance", got.Covariance.At(i, j), v, 1e-8)
				}
			}
		}
	}
	x, errorSD, c := readCurve(t, 2)
	cal, err := Calibrate(x, errorSD, c.Terms, c.Columns, c.Absorb)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "true variance", cal.TrueVariance, want.Calibration.TrueVariance, 1e-9)
	near(t, "reliability", cal.Reliability, want.Calibration.Reliability, 1e-9)
	for i, v := range want.Calibration.Values {
		near(t, "value", cal.Values[i], v, 1e-9)
		near(t, "variance", cal.Variances[i], want.Calibration.Variances[i], 1e-9)
	}
	r, err := CalibrateCurve(x, errorSD, c)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "calibrated linear", r.Corrected.Linear, want.Calibration.B[0], 1e-9)
	near(t, "calibrated square", r.Corrected.Square, want.Calibration.B[1], 1e-9)
}

// TestExtrapolants: each gives back curves of its own form.
func TestExtrapolants(t *testing.T) {
	lambdas := []float64{0, 0.5, 1, 1.5, 2}
	curve := func(f func(l float64) float64) []float64 {
		y := make([]float64, len(lambdas))
		for i, l := range lambdas {
			y[i] = f(l)
		}
		return y
	}
	near(t, "line", extrapolate(Linear, lambdas, curve(func(l float64) float64 { return 3 - 2*l })), 5, 1e-13)
	near(t, "quadratic", extrapolate(Quadratic, lambdas, curve(func(l float64) float64 { return 3 - 2*l + 0.5*l*l })), 5.5, 1e-12)
	near(t, "rational", extrapolate(RationalLinear, lambdas, curve(func(l float64) float64 { return 1 + 6/(3+l) })), 4, 1e-7)
	near(t, "rational of a line", extrapolate(RationalLinear, lambdas, curve(func(l float64) float64 { return 3 - 2*l })), 5, 1e-2)
	near(t, "two lambdas", extrapolate(Quadratic, lambdas[:3], []float64{1, 2.25, 4}), 0, 0)
}

// near compares to a tolerance relative to want, or absolute when want is 0.
func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	scale := math.Abs(want)
	if scale == 0 {
		scale, tolerance = 1, math.Max(tolerance, 1e-12)
	}
	if !(math.Abs(got-want) <= tolerance*scale) {
		t.Errorf("%s: got %.17g, want %.17g", what, got, want)
	}
}
