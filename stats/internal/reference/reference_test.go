package reference

import (
	"slices"
	"testing"
	"testing/fstest"
)

// recorder takes failures instead of the test.
type recorder struct {
	testing.TB
	errors int
}

func (r *recorder) Helper()               {}
func (r *recorder) Errorf(string, ...any) { r.errors++ }

func file(t *testing.T) *File {
	return Read(t, fstest.MapFS{"a.json": {Data: []byte(
		`{"note": "x", "set": {"se": {"(a/b)": 2, "c": 3}, "list": [1, 2], "matrix": [[4, 1], [1, 9]], "none": null, "zero": 0}}`)}}, "a.json")
}

func TestTicksOffWhatIsCompared(t *testing.T) {
	f := file(t)
	if !slices.Equal(f.Keys("set/se"), []string{"(a/b)", "c"}) || f.Text("note") != "x" || f.Has("set/none") || f.Has("set/other") {
		t.Errorf("keys %v, text %q", f.Keys("set/se"), f.Text("note"))
	}
	f.Near(t, 2+1e-12, 1e-11, "set/se/(a/b)")
	f.NearAll(t, []float64{1, 2}, 0, "set/list")
	f.NearMatrix(t, func(i, j int) float64 { return [2][2]float64{{4, 1}, {1, 9}}[i][j] }, 2, 0, "set/matrix")
	f.Near(t, 0, 0, "set/zero")
	if want := []string{"set/se/c"}; !slices.Equal(f.Missing(), want) {
		t.Fatalf("missing %v, want %v", f.Missing(), want)
	}
	r := &recorder{TB: t}
	f.Complete(r)
	if r.errors != 1 {
		t.Errorf("%d failures for one number left out", r.errors)
	}
	f.Outside(t, "for the test", "set/se/c")
	f.Complete(t)
}

func TestDifferencesFail(t *testing.T) {
	for name, try := range map[string]func(f *File, r *recorder){
		"number":          func(f *File, r *recorder) { f.Near(r, 2.001, 1e-4, "set/se/(a/b)") },
		"NaN":             func(f *File, r *recorder) { f.Near(r, zero()/zero(), 1, "set/se/c") },
		"length":          func(f *File, r *recorder) { f.NearAll(r, []float64{1}, 1, "set/list") },
		"list":            func(f *File, r *recorder) { f.NearAll(r, []float64{1, 3}, 0.1, "set/list") },
		"matrix":          func(f *File, r *recorder) { f.NearMatrix(r, func(i, j int) float64 { return 4 }, 2, 0.1, "set/matrix") },
		"zero":            func(f *File, r *recorder) { f.Near(r, 1e-3, 1e-4, "set/zero") },
		"reason outlived": func(f *File, r *recorder) { f.Outside(r, "why", "set/gone") },
	} {
		r := &recorder{TB: t}
		try(file(t), r)
		if r.errors == 0 {
			t.Errorf("%s: no failure", name)
		}
	}
}

func zero() float64 { return 0 }
