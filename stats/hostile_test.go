package stats_test

import (
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"lengthwise/stats/heldout"
	"lengthwise/stats/kinetics"
	"lengthwise/stats/linear"
	"lengthwise/stats/measurement"
	"lengthwise/stats/mixed"
	"lengthwise/stats/power"
	"lengthwise/stats/ratio"
	"lengthwise/stats/reliability"
)

// sentinels are the kinds of failure that packages tell apart with errors.Is; the
// others have types of their own.
var sentinels = []error{
	linear.ErrShape, linear.ErrNotFinite, linear.ErrWeight, linear.ErrName, linear.ErrTerm, linear.ErrTooFewRows, linear.ErrNoTerms,
	linear.ErrNoVariance, linear.ErrNoClusters, linear.ErrOneCluster, linear.ErrLeverage, linear.ErrNoInformation, linear.ErrNotConverged, linear.ErrArgument,
	mixed.ErrLayout, mixed.ErrShape, mixed.ErrNotFinite, mixed.ErrTooFewRows, mixed.ErrOneUnit, mixed.ErrNoVariance, mixed.ErrRank,
	mixed.ErrNotIdentified, mixed.ErrNotVerified, mixed.ErrArgument, mixed.ErrTerm, mixed.ErrMethod, mixed.ErrNotNested,
	measurement.ErrShape, measurement.ErrNotFinite, measurement.ErrTooFew, measurement.ErrArgument, measurement.ErrNoSignal, measurement.ErrEstimator,
	ratio.ErrNotFinite, ratio.ErrCovariance, ratio.ErrNoVariance, ratio.ErrZeroDenominator, ratio.ErrTooFew, ratio.ErrShape, ratio.ErrArgument,
	reliability.ErrShape, reliability.ErrNotFinite, reliability.ErrNotPositive, reliability.ErrTooFew, reliability.ErrNoVariance, reliability.ErrArgument, reliability.ErrNotConverged,
	power.ErrInput, heldout.ErrShape, heldout.ErrNotFinite, heldout.ErrTooFewGroups,
	kinetics.ErrShape, kinetics.ErrNotFinite, kinetics.ErrTooFew, kinetics.ErrArgument, kinetics.ErrNotIdentified,
}

// typed tells whether a caller can tell what kind of failure err is.
func typed(err error) bool {
	if slices.ContainsFunc(sentinels, func(s error) bool { return errors.Is(err, s) }) {
		return true
	}
	for e := err; e != nil; e = errors.Unwrap(e) {
		of := reflect.TypeOf(e)
		if of.Kind() == reflect.Pointer {
			of = of.Elem()
		}
		if strings.HasPrefix(of.PkgPath(), "lengthwise/stats/") {
			return true
		}
	}
	return false
}

// rows is what the functions are called with: columns, labels, and what else they
// take, most of it hostile.
type rows struct {
	name                            string
	x, y, z, w, sd                  []float64
	subject, session, trial, single []int
	level                           float64
	seed                            uint64
}

func (d *rows) clone() *rows {
	c := *d
	for _, v := range []*[]float64{&c.x, &c.y, &c.z, &c.w, &c.sd} {
		*v = slices.Clone(*v)
	}
	for _, v := range []*[]int{&c.subject, &c.session, &c.trial, &c.single} {
		*v = slices.Clone(*v)
	}
	return &c
}

// same compares bit by bit, so that a NaN equals itself.
func (d *rows) same(o *rows) bool {
	equal := func(a, b []float64) bool {
		return slices.EqualFunc(a, b, func(u, v float64) bool { return math.Float64bits(u) == math.Float64bits(v) })
	}
	return equal(d.x, o.x) && equal(d.y, o.y) && equal(d.z, o.z) && equal(d.w, o.w) && equal(d.sd, o.sd) &&
		slices.Equal(d.subject, o.subject) && slices.Equal(d.session, o.session) && slices.Equal(d.trial, o.trial) && slices.Equal(d.single, o.single)
}

// scaled multiplies the columns by a power of two: nothing is lost, and whatever is
// free of units must stay.
func (d *rows) scaled(exponent int) *rows {
	c := d.clone()
	for _, v := range [][]float64{c.x, c.y, c.z, c.sd} {
		for i := range v {
			v[i] = math.Ldexp(v[i], exponent)
		}
	}
	return c
}

// plain makes 4 subjects of 3 sessions of 4 rows.
func plain(r *rand.Rand) *rows {
	d := &rows{name: "plain", level: 0.95, seed: r.Uint64()}
	for s := range 4 {
		own := r.NormFloat64()
		for k := range 3 {
			day := r.NormFloat64()
			for i := range 4 {
				x := r.NormFloat64()
				d.x = append(d.x, 5+x)
				d.z = append(d.z, 2+r.NormFloat64()+0.3*x)
				d.y = append(d.y, 40+2*own+day+1.5*x+r.NormFloat64())
				d.w = append(d.w, 0.5+r.Float64())
				d.sd = append(d.sd, 0.2+0.1*r.Float64())
				d.subject, d.session, d.trial = append(d.subject, s), append(d.session, 3*s+k), append(d.trial, 4*k+i)
				d.single = append(d.single, len(d.single))
			}
		}
	}
	return d
}

func fill(v []float64, value float64) {
	for i := range v {
		v[i] = value
	}
}

func same(v []int) {
	for i := range v {
		v[i] = 7
	}
}

// first keeps the first n rows.
func (d *rows) first(n int) {
	for _, v := range []*[]float64{&d.x, &d.y, &d.z, &d.w, &d.sd} {
		*v = (*v)[:n]
	}
	for _, v := range []*[]int{&d.subject, &d.session, &d.trial, &d.single} {
		*v = (*v)[:n]
	}
}

// each applies f to a value of every column.
func (d *rows) each(f func(v float64) float64) {
	for _, v := range [][]float64{d.x, d.y, d.z, d.sd} {
		for i := range v {
			v[i] = f(v[i])
		}
	}
}

// hostile are the ways in which rows go wrong.
var hostile = map[string]func(r *rand.Rand, d *rows){
	"plain":                  func(r *rand.Rand, d *rows) {},
	"no rows":                func(r *rand.Rand, d *rows) { d.first(0) },
	"one row":                func(r *rand.Rand, d *rows) { d.first(1) },
	"two rows":               func(r *rand.Rand, d *rows) { d.first(2) },
	"three rows":             func(r *rand.Rand, d *rows) { d.first(3) },
	"four rows":              func(r *rand.Rand, d *rows) { d.first(4) },
	"nil":                    func(r *rand.Rand, d *rows) { *d = rows{level: d.level, seed: d.seed} },
	"constant x":             func(r *rand.Rand, d *rows) { fill(d.x, 0.1) },
	"constant y":             func(r *rand.Rand, d *rows) { fill(d.y, 0.1) },
	"zeros":                  func(r *rand.Rand, d *rows) { d.each(func(float64) float64 { return 0 }) },
	"all constant":           func(r *rand.Rand, d *rows) { d.each(func(float64) float64 { return 1e5 / 3 }) },
	"ties":                   func(r *rand.Rand, d *rows) { d.each(func(v float64) float64 { return math.Round(v / 3) }) },
	"two values":             func(r *rand.Rand, d *rows) { d.each(func(v float64) float64 { return math.Copysign(1, v-5) }) },
	"NaN in x":               func(r *rand.Rand, d *rows) { d.x[r.IntN(len(d.x))] = math.NaN() },
	"NaN in y":               func(r *rand.Rand, d *rows) { d.y[r.IntN(len(d.y))] = math.NaN() },
	"NaN in z":               func(r *rand.Rand, d *rows) { d.z[r.IntN(len(d.z))] = math.NaN() },
	"NaN weight":             func(r *rand.Rand, d *rows) { d.w[r.IntN(len(d.w))], d.sd[0] = math.NaN(), math.NaN() },
	"infinite x":             func(r *rand.Rand, d *rows) { d.x[r.IntN(len(d.x))] = math.Inf(-1) },
	"infinite y":             func(r *rand.Rand, d *rows) { d.y[r.IntN(len(d.y))] = math.Inf(1) },
	"infinite weight":        func(r *rand.Rand, d *rows) { d.w[0], d.sd[1] = math.Inf(1), math.Inf(1) },
	"1e12":                   func(r *rand.Rand, d *rows) { d.each(func(v float64) float64 { return 1e12 * v }) },
	"1e-12":                  func(r *rand.Rand, d *rows) { d.each(func(v float64) float64 { return 1e-12 * v }) },
	"1e160":                  func(r *rand.Rand, d *rows) { d.each(func(v float64) float64 { return 1e160 * v }) },
	"1e-160":                 func(r *rand.Rand, d *rows) { d.each(func(v float64) float64 { return 1e-160 * v }) },
	"1e307":                  func(r *rand.Rand, d *rows) { d.each(func(v float64) float64 { return 1e306 * v }) },
	"subnormal":              func(r *rand.Rand, d *rows) { d.each(func(v float64) float64 { return 5e-324 * math.Round(v) }) },
	"x 1e12, y 1e-12":        func(r *rand.Rand, d *rows) { mapped(d.x, 1e12); mapped(d.y, 1e-12) },
	"far from zero":          func(r *rand.Rand, d *rows) { d.each(func(v float64) float64 { return v + 1e12 }) },
	"lost beside zero":       func(r *rand.Rand, d *rows) { d.each(func(v float64) float64 { return v + 1e17 }) },
	"collinear":              func(r *rand.Rand, d *rows) { copy(d.z, d.x) },
	"nearly collinear":       func(r *rand.Rand, d *rows) { nearly(d, 1e-9, r) },
	"collinear but rounding": func(r *rand.Rand, d *rows) { nearly(d, 1e-15, r) },
	"exact line":             func(r *rand.Rand, d *rows) { copy(d.y, d.x) },
	"one cluster":            func(r *rand.Rand, d *rows) { same(d.subject); same(d.session); same(d.trial) },
	"two clusters":           func(r *rand.Rand, d *rows) { halves(d.subject); halves(d.session) },
	"clusters of one":        func(r *rand.Rand, d *rows) { copy(d.subject, d.single); copy(d.session, d.single) },
	"one trial":              func(r *rand.Rand, d *rows) { same(d.trial) },
	"constant in clusters":   func(r *rand.Rand, d *rows) { clusterwise(d.y, d.subject); clusterwise(d.x, d.subject) },
	"zero weights":           func(r *rand.Rand, d *rows) { d.w[0], d.w[5], d.sd[0] = 0, 0, 0 },
	"all weights zero":       func(r *rand.Rand, d *rows) { fill(d.w, 0); fill(d.sd, 0) },
	"negative weight":        func(r *rand.Rand, d *rows) { d.w[3], d.sd[3] = -1, -1 },
	"weights far apart":      func(r *rand.Rand, d *rows) { d.w[0], d.w[1] = 1e-12, 1e12 },
	"equal variances":        func(r *rand.Rand, d *rows) { fill(d.w, 1); fill(d.sd, 0.3) },
	"no variance between":    func(r *rand.Rand, d *rows) { fill(d.y, 3); d.y[0] += 1e-3; d.y[1] -= 1e-3; fill(d.w, 5) },
	"error as large as x":    func(r *rand.Rand, d *rows) { fill(d.sd, 50) },
	"y shorter":              func(r *rand.Rand, d *rows) { d.y = d.y[1:] },
	"z and labels shorter":   func(r *rand.Rand, d *rows) { d.z, d.w, d.subject, d.sd = d.z[2:], d.w[3:], d.subject[1:], d.sd[1:] },
	"level 0":                func(r *rand.Rand, d *rows) { d.level = -0.1 },
	"level 1":                func(r *rand.Rand, d *rows) { d.level = 1 },
	"level NaN":              func(r *rand.Rand, d *rows) { d.level = math.NaN() },
	"any of these": func(r *rand.Rand, d *rows) {
		values := []float64{0, 0, 1, -1, 1, 2, 0.1, 1e8, 1e-8, 1e154, 1e-200, 1e308, 5e-324}
		d.first(2 + r.IntN(14))
		for _, v := range [][]float64{d.x, d.y, d.z, d.w, d.sd} {
			for i := range v {
				if r.IntN(3) == 0 {
					v[i] = values[r.IntN(len(values))]
				}
			}
		}
		for _, v := range [][]int{d.subject, d.session, d.trial} {
			for i := range v {
				v[i] = r.IntN(4) - 1
			}
		}
	},
}

func mapped(v []float64, f float64) {
	for i := range v {
		v[i] *= f
	}
}

func nearly(d *rows, noise float64, r *rand.Rand) {
	for i := range d.z {
		d.z[i] = d.x[i] * (1 + noise*r.NormFloat64())
	}
}

func halves(v []int) {
	for i := range v {
		v[i] = 2 * i / len(v)
	}
}

func clusterwise(v []float64, cluster []int) {
	for i := range v {
		v[i] = float64(cluster[i]) / 3
	}
}

// watch looks at every result and every failure of the functions called.
type watch struct {
	t     *testing.T
	rows  string
	tried map[string]bool // functions called
	given map[string]bool // functions that gave a result
	// about says what is being asked; numbers without units are kept by it, by the
	// function called last and by how often it was called about that.
	about, last string
	times       map[string]int
	numbers     map[string][]float64
}

func newWatch(t *testing.T, rows string, tried, given map[string]bool) *watch {
	return &watch{t: t, rows: rows, tried: tried, given: given, times: map[string]int{}, numbers: map[string][]float64{}}
}

// ask begins another question.
func (w *watch) ask(about ...any) { w.about = fmt.Sprint(about...) }

// free keeps numbers of the last function that have no units.
func (w *watch) free(values ...float64) {
	key := fmt.Sprintf("%s, %s call %d", w.about, w.last, w.times[w.about+w.last])
	w.numbers[key] = append(w.numbers[key], values...)
}

// ok takes the outcome of a function, and reports whether there is a result.
func (w *watch) ok(name string, result any, err error) bool {
	w.t.Helper()
	w.tried[name] = true
	w.last = name
	w.times[w.about+name]++
	if err != nil {
		if !typed(err) {
			w.t.Errorf("%s of %s: a failure without a type: %v", name, w.rows, err)
		}
		if err.Error() == "" {
			w.t.Errorf("%s of %s: a failure without words", name, w.rows)
		}
		return false
	}
	w.given[name] = true
	if at := findNaN(reflect.ValueOf(result), name); at != "" {
		w.t.Errorf("%s of %s: NaN in silence: %s", name, w.rows, at)
	}
	return true
}

// findNaN gives the place of the first NaN in the exported parts of a value.
func findNaN(v reflect.Value, at string) string {
	if !v.IsValid() {
		return ""
	}
	if v.CanInterface() {
		if m, ok := v.Interface().(mat.Matrix); ok && !(v.Kind() == reflect.Pointer && v.IsNil()) {
			r, c := m.Dims()
			for i := range r {
				for j := range c {
					if math.IsNaN(m.At(i, j)) {
						return fmt.Sprintf("%s[%d,%d]", at, i, j)
					}
				}
			}
			return ""
		}
	}
	switch v.Kind() {
	case reflect.Float64:
		if math.IsNaN(v.Float()) {
			return at
		}
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			return findNaN(v.Elem(), at)
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if found := findNaN(v.Index(i), fmt.Sprintf("%s[%d]", at, i)); found != "" {
				return found
			}
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				if found := findNaN(v.Field(i), at+"."+v.Type().Field(i).Name); found != "" {
					return found
				}
			}
		}
	}
	return ""
}

// calls are the functions of each package, called one after the other on rows.
var calls = map[string]func(w *watch, d *rows){
	"linear": callLinear, "pooled": callPooled, "association": callAssociation, "concordance": callConcordance,
	"resample": callResample, "multiplicity": callMultiplicity, "mixed": callMixed, "kinetics": callKinetics,
	"ratio": callRatio, "heldout": callHeldout, "tail": callTail, "power": callPower, "measurement": callMeasurement, "reliability": callReliability,
}

// guarded calls a package's functions; a panic is a failure.
func guarded(w *watch, name string, call func(w *watch, d *rows), d *rows) {
	w.t.Helper()
	defer func() {
		if p := recover(); p != nil {
			w.t.Errorf("%s on %s: panic: %v", name, d.name, p)
		}
	}()
	call(w, d)
}

// TestHostileInput: whatever the rows, each exported function gives a result
// without a NaN or a failure that can be told apart, does not panic, and leaves its
// input as it was. On plain rows numbers without units stay when all columns are
// multiplied by 2^40 or 2^-40, about 1e12 either way; multiplied by 2^530 or 2^-530,
// where squares leave the range, they stay or there is a failure. STATS_HOSTILE=1
// draws 25 times as many rows.
func TestHostileInput(t *testing.T) {
	tried, given := map[string]bool{}, map[string]bool{}
	profiles := make([]string, 0, len(hostile))
	for name := range hostile {
		profiles = append(profiles, name)
	}
	slices.Sort(profiles)
	for i, profile := range profiles {
		repeats := 1
		if profile == "any of these" {
			repeats = 8
		}
		if os.Getenv("STATS_HOSTILE") != "" {
			repeats *= 25
		}
		for seed := range uint64(repeats) {
			r := rand.New(rand.NewPCG(seed, uint64(i)))
			d := plain(r)
			d.name = profile
			hostile[profile](r, d)
			for name, call := range calls {
				w := newWatch(t, profile, tried, given)
				before := d.clone()
				guarded(w, name, call, d)
				if !d.same(before) {
					t.Fatalf("%s changes its input (%s)", name, profile)
				}
				if profile != "plain" || seed > 0 {
					continue
				}
				for _, exponent := range []int{40, -40, 530, -530} {
					other := newWatch(t, fmt.Sprintf("plain times 2^%d", exponent), tried, given)
					guarded(other, name, call, d.scaled(exponent))
					compareFree(t, name, exponent, w.numbers, other.numbers)
				}
			}
		}
	}
	wanted := exported(t)
	for _, name := range wanted {
		switch {
		case !tried[name]:
			t.Errorf("%s is not tried on hostile input: add it to the calls of its package", name)
		case !given[name]:
			t.Errorf("%s never gave a result: its calls prove nothing", name)
		}
	}
	for name := range tried {
		if !slices.Contains(wanted, name) {
			t.Errorf("%s is called but not exported", name)
		}
	}
	if len(wanted) < 100 {
		t.Errorf("only %d exported functions found", len(wanted))
	}
}

func compareFree(t *testing.T, name string, exponent int, want, got map[string][]float64) {
	t.Helper()
	if len(want) == 0 {
		t.Errorf("%s: no numbers without units on plain rows", name)
	}
	for key, values := range want {
		other := got[key]
		if other == nil && (exponent > 100 || exponent < -100) {
			continue // a failure
		}
		if len(other) != len(values) {
			t.Errorf("%s: %d numbers without units on plain rows, %d times 2^%d (%s)", name, len(values), len(other), exponent, key)
			continue
		}
		for i, v := range values {
			if v == other[i] {
				continue
			}
			if !(math.Abs(other[i]-v) <= 1e-7*math.Max(1e-6, math.Abs(v))) {
				t.Errorf("%s: a number without units is %v on plain rows and %v times 2^%d (%s)", name, v, other[i], exponent, key)
			}
		}
	}
}

// exported lists the exported functions and methods of the packages as
// package.Function and package.Type.Method. Texts (String, Error) and Unwrap are
// left out.
func exported(t *testing.T) []string {
	t.Helper()
	var out []string
	folders, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, folder := range folders {
		if !folder.IsDir() || folder.Name() == "internal" {
			continue
		}
		files, err := filepath.Glob(filepath.Join(folder.Name(), "*.go"))
		if err != nil {
			t.Fatal(err)
		}
		for _, path := range files {
			if strings.HasSuffix(path, "_test.go") {
				continue
			}
			file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			for _, decl := range file.Decls {
				f, ok := decl.(*ast.FuncDecl)
				if !ok || !f.Name.IsExported() || slices.Contains([]string{"String", "Error", "Unwrap"}, f.Name.Name) {
					continue
				}
				name := file.Name.Name + "."
				if f.Recv != nil {
					of := f.Recv.List[0].Type
					if star, ok := of.(*ast.StarExpr); ok {
						of = star.X
					}
					receiver := of.(*ast.Ident).Name
					if !ast.IsExported(receiver) {
						continue
					}
					name += receiver + "."
				}
				out = append(out, name+f.Name.Name)
			}
		}
	}
	return out
}
