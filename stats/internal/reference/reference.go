// Package reference compares results with numbers that other software printed
// into a JSON file, by the name each number has in the file, and tells in the end
// which of the file's numbers nothing was compared with. A test that ends with
// [File.Complete] therefore proves that it covers the file.
//
// A name is the path of keys and places in lists from the top, joined by "/":
// "sleepstudy/CR/CR2/se/Days", "law/ci95/boot_perc/0". A name that stands above
// numbers means all of them, in the order of the file for lists.
package reference

import (
	"encoding/json"
	"io/fs"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// File is a JSON file whose numbers are ticked off.
type File struct {
	name    string
	root    any
	numbers map[string]float64
	ticked  map[string]bool
}

// Read reads a file of fsys; the test fails when it cannot.
func Read(t testing.TB, fsys fs.FS, name string) *File {
	t.Helper()
	raw, err := fs.ReadFile(fsys, name)
	if err != nil {
		t.Fatal(err)
	}
	f := &File{name: name, numbers: map[string]float64{}, ticked: map[string]bool{}}
	if err := json.Unmarshal(raw, &f.root); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	f.collect("", f.root)
	return f
}

func (f *File) collect(path string, v any) {
	switch v := v.(type) {
	case map[string]any:
		for key, inner := range v {
			f.collect(join(path, key), inner)
		}
	case []any:
		for i, inner := range v {
			f.collect(join(path, strconv.Itoa(i)), inner)
		}
	case float64:
		f.numbers[path] = v
	}
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "/" + key
}

// find gives what stands at a path, nil when nothing does.
func (f *File) find(path string) any {
	v := f.root
	for rest := path; rest != ""; {
		switch at := v.(type) {
		case map[string]any:
			// Keys may hold a slash of their own: take the longest that fits.
			key := ""
			for k := range at {
				if (rest == k || strings.HasPrefix(rest, k+"/")) && len(k) > len(key) {
					key = k
				}
			}
			if key == "" {
				return nil
			}
			v, rest = at[key], strings.TrimPrefix(strings.TrimPrefix(rest, key), "/")
		case []any:
			head, tail, _ := strings.Cut(rest, "/")
			i, err := strconv.Atoi(head)
			if err != nil || i < 0 || i >= len(at) {
				return nil
			}
			v, rest = at[i], tail
		default:
			return nil
		}
	}
	return v
}

// Has tells whether something other than null stands at a path.
func (f *File) Has(path string) bool { return f.find(path) != nil }

// Keys lists the keys at a path in order of the alphabet.
func (f *File) Keys(path string) []string {
	var keys []string
	if at, ok := f.find(path).(map[string]any); ok {
		for k := range at {
			keys = append(keys, k)
		}
	}
	slices.Sort(keys)
	return keys
}

// Text gives the text at a path, "" when there is none.
func (f *File) Text(path string) string {
	s, _ := f.find(path).(string)
	return s
}

// Texts gives the list of texts at a path; a single text counts as a list of one.
func (f *File) Texts(path string) []string {
	switch v := f.find(path).(type) {
	case string:
		return []string{v}
	case []any:
		out := make([]string, len(v))
		for i, inner := range v {
			out[i], _ = inner.(string)
		}
		return out
	}
	return nil
}

// Value gives the number at a path without ticking it off: for what a test
// derives a comparison from. The test fails when there is none.
func (f *File) Value(t testing.TB, path string) float64 {
	t.Helper()
	v, ok := f.find(path).(float64)
	if !ok {
		t.Fatalf("%s has no number %q", f.name, path)
	}
	return v
}

// Values gives the list of numbers at a path, without ticking it off; a single
// number counts as a list of one.
func (f *File) Values(t testing.TB, path string) []float64 {
	t.Helper()
	switch v := f.find(path).(type) {
	case float64:
		return []float64{v}
	case []any:
		out := make([]float64, len(v))
		for i := range v {
			out[i] = f.Value(t, join(path, strconv.Itoa(i)))
		}
		return out
	}
	t.Fatalf("%s has no list of numbers %q", f.name, path)
	return nil
}

// Input gives a list of numbers that go into a computation (data, settings) and
// ticks them off: nothing is expected of them.
func (f *File) Input(t testing.TB, path string) []float64 {
	t.Helper()
	v := f.Values(t, path)
	f.tick(path)
	return v
}

// Number is Input for a single number.
func (f *File) Number(t testing.TB, path string) float64 {
	t.Helper()
	v := f.Value(t, path)
	f.tick(path)
	return v
}

// Near compares got with the number at a path, to a tolerance relative to it,
// and ticks it off. A number of zero must be met to the tolerance itself.
func (f *File) Near(t testing.TB, got, tolerance float64, path string) {
	t.Helper()
	f.Within(t, got, tolerance, 0, path)
}

// Within is Near with the tolerance relative to scale where the number is smaller
// than that: for entries of a matrix that stand beside large ones.
func (f *File) Within(t testing.TB, got, tolerance, scale float64, path string) {
	t.Helper()
	want := f.Value(t, path)
	f.tick(path)
	size := math.Max(math.Abs(want), scale)
	if size == 0 {
		size = 1
	}
	if !(math.Abs(got-want) <= tolerance*size) {
		t.Errorf("%s, %s: got %.17g, want %.17g (relative difference %.2g, allowed %.2g)",
			f.name, path, got, want, math.Abs(got-want)/size, tolerance)
	}
}

// NearAll is Near for a list.
func (f *File) NearAll(t testing.TB, got []float64, tolerance float64, path string) {
	t.Helper()
	if want := f.Values(t, path); len(got) != len(want) {
		t.Errorf("%s, %s: got %d numbers, want %d", f.name, path, len(got), len(want))
		return
	}
	if _, single := f.find(path).(float64); single {
		f.Near(t, got[0], tolerance, path)
		return
	}
	for i, v := range got {
		f.Near(t, v, tolerance, join(path, strconv.Itoa(i)))
	}
}

// NearMatrix compares a square matrix given by its entries, each to a tolerance
// relative to the root of the product of the diagonal entries in its row and
// column. A matrix of one entry may be kept as a single number or a list of one.
func (f *File) NearMatrix(t testing.TB, at func(i, j int) float64, n int, tolerance float64, path string) {
	t.Helper()
	entry := func(i, j int) string {
		for _, p := range []string{path + "/" + strconv.Itoa(i) + "/" + strconv.Itoa(j), path + "/" + strconv.Itoa(i), path} {
			if _, ok := f.find(p).(float64); ok {
				return p
			}
		}
		t.Fatalf("%s has no entry %d, %d of %q", f.name, i, j, path)
		return ""
	}
	for i := range n {
		for j := range n {
			scale := math.Sqrt(math.Abs(f.Value(t, entry(i, i)) * f.Value(t, entry(j, j))))
			f.Within(t, at(i, j), tolerance, scale, entry(i, j))
		}
	}
}

// Counts compares whole numbers exactly.
func (f *File) Counts(t testing.TB, got int, path string) {
	t.Helper()
	f.Near(t, float64(got), 0, path)
}

// Outside ticks off all numbers under a path without comparing anything, for a
// reason that the caller writes down: what the package does not offer, or what
// cannot be repeated. Without a number under the path the test fails, so that no
// reason outlives its numbers.
func (f *File) Outside(t testing.TB, reason, path string) {
	t.Helper()
	if reason == "" {
		t.Fatalf("%s, %s: no reason", f.name, path)
	}
	before := len(f.ticked)
	f.tick(path)
	if len(f.ticked) == before {
		t.Errorf("%s, %s: nothing to leave out", f.name, path)
	}
}

func (f *File) tick(path string) {
	if _, single := f.numbers[path]; single {
		f.ticked[path] = true
		return
	}
	for name := range f.numbers {
		if strings.HasPrefix(name, path+"/") {
			f.ticked[name] = true
		}
	}
}

// Missing lists, in order of the alphabet, the numbers that were not ticked off.
func (f *File) Missing() []string {
	var out []string
	for name := range f.numbers {
		if !f.ticked[name] {
			out = append(out, name)
		}
	}
	slices.Sort(out)
	return out
}

// Complete fails the test when numbers of the file were not ticked off, and names
// them.
func (f *File) Complete(t testing.TB) {
	t.Helper()
	missing := f.Missing()
	for i, name := range missing {
		if i == 40 {
			t.Errorf("... and %d more", len(missing)-i)
			break
		}
		t.Errorf("%s: nothing was compared with %s", f.name, name)
	}
	if len(f.numbers) == 0 {
		t.Errorf("%s holds no numbers", f.name)
	}
}
