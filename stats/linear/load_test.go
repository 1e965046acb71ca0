package linear

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// frame is a small table of numbers by column name.
type frame map[string][]float64

// readFrame reads a CSV file of testdata; columns that are not numbers are
// left out.
func readFrame(t testing.TB, path string) frame {
	t.Helper()
	file, err := os.Open(filepath.Join("testdata", path))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	f := frame{}
	for j, name := range rows[0] {
		column := make([]float64, 0, len(rows)-1)
		for _, row := range rows[1:] {
			v, err := strconv.ParseFloat(row[j], 64)
			if err != nil {
				break
			}
			column = append(column, v)
		}
		if len(column) == len(rows)-1 {
			f[name] = column
		}
	}
	return f
}

// codes gives a column as group codes.
func (f frame) codes(name string) []int {
	codes := make([]int, len(f[name]))
	for i, v := range f[name] {
		codes[i] = int(v)
	}
	return codes
}

func readJSON(t testing.TB, path string, into any) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", path))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, into); err != nil {
		t.Fatal(err)
	}
}

func ones(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = 1
	}
	return v
}

func mapped(v []float64, f func(float64) float64) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = f(x)
	}
	return out
}

// relative is the difference of got from want, over want or over scale when
// want is smaller than that.
func relative(got, want, scale float64) float64 {
	return math.Abs(got-want) / math.Max(math.Abs(want), scale)
}

// checkClose reports a difference above tolerance, relative to want.
func checkClose(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if d := relative(got, want, 1e-300); !(d <= tolerance) {
		t.Errorf("%s: got %.17g, want %.17g, relative difference %.2g above %.2g", what, got, want, d, tolerance)
	}
}

// checkCovariance compares entry by entry, relative to the root of the product
// of the diagonal entries.
func checkCovariance(t testing.TB, what string, got Covariance, want [][]float64, tolerance float64) {
	t.Helper()
	if got.Matrix.SymmetricDim() != len(want) {
		t.Fatalf("%s: dimension %d, want %d", what, got.Matrix.SymmetricDim(), len(want))
	}
	for a := range want {
		for b := range want {
			scale := math.Sqrt(want[a][a] * want[b][b])
			if d := relative(got.Matrix.At(a, b), want[a][b], scale); !(d <= tolerance) {
				t.Errorf("%s [%d,%d]: got %.17g, want %.17g, relative difference %.2g above %.2g",
					what, a, b, got.Matrix.At(a, b), want[a][b], d, tolerance)
			}
		}
	}
}

func mustFit(t testing.TB, p Problem) *Model {
	t.Helper()
	m, err := Fit(p)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func mustHC(t testing.TB, m *Model, kind HCKind) Covariance {
	t.Helper()
	c, err := m.Heteroscedastic(kind)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func mustCR(t testing.TB, m *Model, kind CRKind) Covariance {
	t.Helper()
	c, err := m.Clustered(kind)
	if err != nil {
		t.Fatal(err)
	}
	return c
}
