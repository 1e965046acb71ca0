package mixed_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"lengthwise/stats/mixed"
)

// table is a CSV file by column.
type table map[string][]string

func readTable(t testing.TB, path string) table {
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
	out := table{}
	for j, name := range rows[0] {
		for _, row := range rows[1:] {
			out[name] = append(out[name], row[j])
		}
	}
	return out
}

func (a table) numbers(t testing.TB, name string) []float64 {
	t.Helper()
	out := make([]float64, len(a[name]))
	for i, s := range a[name] {
		v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
		if err != nil {
			t.Fatal(err)
		}
		out[i] = v
	}
	if len(out) == 0 {
		t.Fatalf("no column %q", name)
	}
	return out
}

func readJSON(t testing.TB, path string, into any) {
	t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, into); err != nil {
		t.Fatal(err)
	}
}

func ones(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 1
	}
	return out
}

func summed(t testing.TB, l mixed.Layout, units, groups []string, columns [][]float64, y []float64) *mixed.Sums {
	t.Helper()
	s, err := mixed.NewSums(l)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.AddColumns(units, groups, columns, y); err != nil {
		t.Fatal(err)
	}
	return s
}

func fitted(t testing.TB, s *mixed.Sums, method mixed.Method) *mixed.Model {
	t.Helper()
	m, err := mixed.Fit(s, mixed.Options{Method: method})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// near compares to a tolerance relative to the size of what is wanted, or to
// floor where that is smaller.
func near(t testing.TB, what string, got, want, tolerance, floor float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Max(math.Abs(want), floor)) {
		t.Errorf("%s: got %.17g, want %.17g (difference %.2g)", what, got, want, got-want)
	}
}

func nearAll(t testing.TB, what string, got, want []float64, tolerance, floor float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %d values, want %d", what, len(got), len(want))
		return
	}
	for i := range got {
		near(t, what+" "+strconv.Itoa(i), got[i], want[i], tolerance, floor)
	}
}
