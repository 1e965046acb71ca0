package linear

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

type waldReference struct{ F, DF1, DF2, P float64 }

// TestWaldReference: clubSandwich's Wald_test (HTZ) and textbook F tests in R, on
// one to three constraints, without absorbed groups, with groups equal to the
// clusters (written out in R) and with groups that cut across them. Calls and
// versions in testdata/wald.json. F to 1e-9, degrees of freedom to 1e-8.
func TestWaldReference(t *testing.T) {
	var reference struct {
		Wald       map[string]map[string]map[string]waldReference
		Sleepstudy struct {
			Both waldReference
			CR3  struct {
				Vcov [][]float64
				DF   []float64
			}
			HC4 [][]float64
		}
		CR3 struct {
			Vcov [][]float64
			DF   []float64
		}
		HC4 [][]float64
	}
	readJSON(t, "wald.json", &reference)
	data := readFrame(t, "absorbed.csv")
	for set, absorb := range map[string]string{"none": "", "same": "session", "crossed": "block"} {
		p := absorbedProblem(data, "session", false)
		p.Absorb = nil
		if absorb == "" {
			p.Terms, p.Columns = append(p.Terms, "intercept"), append(p.Columns, ones(len(p.Response)))
		} else {
			p.Absorb = data.codes(absorb)
		}
		m := mustFit(t, p)
		equal := [][]float64{make([]float64, m.Rank), make([]float64, m.Rank)}
		copy(equal[0], []float64{1, -10})
		copy(equal[1], []float64{0, 1, -1})
		constraints := map[string][][]float64{
			"three": mustSelect(t, m, "x", "z", "log1p(t)"), "two": mustSelect(t, m, "x", "z"), "one": mustSelect(t, m, "x"), "equal": equal,
		}
		for name, c := range constraints {
			for kind := CR0; kind <= CR3; kind++ {
				if kind == CR3 && absorb == "session" {
					// The blocks are singular and R inverts them all the same;
					// see TestCR3IsTheJackknife.
					continue
				}
				got, err := m.WaldClustered(kind, c)
				if err != nil {
					t.Fatal(set, name, kind, err)
				}
				checkWald(t, fmt.Sprint(set, " ", name, " ", kind), got, reference.Wald[set][name][kind.String()])
			}
			for kind, cov := range map[string]Covariance{"classical": m.Classical(), "HC3": mustHC(t, m, HC3)} {
				got, err := m.Wald(cov, c)
				if err != nil {
					t.Fatal(set, name, kind, err)
				}
				checkWald(t, fmt.Sprint(set, " ", name, " ", kind), got, reference.Wald[set][name][kind])
			}
		}
		if set == "none" {
			// R has the intercept first.
			order := []int{3, 0, 1, 2}
			checkPermuted(t, "CR3", mustCR(t, m, CR3), reference.CR3.Vcov, order)
			checkPermuted(t, "HC4", mustHC(t, m, HC4), reference.HC4, order)
		}
	}
	sleep := readFrame(t, "sleepstudy_unbalanced.csv")
	m := mustFit(t, Problem{
		Response: sleep["Reaction"], Terms: []string{"intercept", "Days"},
		Columns: [][]float64{ones(len(sleep["Reaction"])), sleep["Days"]}, Cluster: sleep.codes("Subject"),
	})
	both, err := m.WaldClustered(CR2, mustSelect(t, m, "intercept", "Days"))
	if err != nil {
		t.Fatal(err)
	}
	checkWald(t, "sleepstudy", both, reference.Sleepstudy.Both)
	cr3 := mustCR(t, m, CR3)
	checkCovariance(t, "sleepstudy CR3", cr3, reference.Sleepstudy.CR3.Vcov, 1e-10)
	for i, df := range reference.Sleepstudy.CR3.DF {
		checkClose(t, "CR3 df", cr3.DF[i], df, 1e-8)
	}
	checkCovariance(t, "sleepstudy HC4", mustHC(t, m, HC4), reference.Sleepstudy.HC4, 1e-10)
}

func checkWald(t *testing.T, what string, got WaldTest, want waldReference) {
	t.Helper()
	if want.DF1 == 0 {
		t.Fatalf("%s: no reference", what)
	}
	checkClose(t, what+" F", got.Statistic, want.F, 1e-9)
	checkClose(t, what+" df1", got.DF1, want.DF1, 1e-12)
	checkClose(t, what+" df2", got.DF2, want.DF2, 1e-8)
	checkClose(t, what+" p", got.PValue, want.P, 1e-7)
}

// checkPermuted compares with a reference whose row i is our row order[i].
func checkPermuted(t *testing.T, what string, got Covariance, want [][]float64, order []int) {
	t.Helper()
	turned := mat.NewSymDense(len(order), nil)
	for i, a := range order {
		for j, b := range order[i:] {
			turned.SetSym(i, i+j, got.Matrix.At(a, b))
		}
	}
	got.Matrix = turned
	checkCovariance(t, what, got, want, 1e-10)
}

func mustSelect(t testing.TB, m *Model, terms ...string) [][]float64 {
	t.Helper()
	c, err := m.Select(terms...)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestWaldOfOneConstraint: one constraint is the square of its t test, weights
// included; several equal the classical comparison of two fits; and turning the
// constraints into each other changes nothing.
func TestWaldOfOneConstraint(t *testing.T) {
	data := readFrame(t, "absorbed.csv")
	p := absorbedProblem(data, "block", true)
	m := mustFit(t, p)
	for kind := CR0; kind <= CR3; kind++ {
		cov := mustCR(t, m, kind)
		for i, c := range m.Coefficients(cov, 0.95) {
			w, err := m.WaldClustered(kind, mustSelect(t, m, m.Terms[i]))
			if err != nil {
				t.Fatal(err)
			}
			checkClose(t, c.Term+" F", w.Statistic, c.Statistic*c.Statistic, 1e-11)
			checkClose(t, c.Term+" df", w.DF2, c.DF, 1e-9)
			checkClose(t, c.Term+" p", w.PValue, c.PValue, 1e-9)
		}
	}
	small := p
	small.Terms, small.Columns = p.Terms[1:2], p.Columns[1:2]
	reduced := mustFit(t, small)
	w, err := m.Wald(m.Classical(), mustSelect(t, m, "x", "log1p(t)"))
	if err != nil {
		t.Fatal(err)
	}
	rss := func(m *Model) float64 { return m.Sigma * m.Sigma * float64(m.DFResidual) }
	checkClose(t, "F of two fits", w.Statistic, (rss(reduced)-rss(m))/2/(m.Sigma*m.Sigma), 1e-10)

	a, err1 := m.WaldClustered(CR2, [][]float64{{1, 0, 0}, {0, 1, 0}})
	b, err2 := m.WaldClustered(CR2, [][]float64{{3e4, -2, 0}, {5, 1e-3, 0}})
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	checkClose(t, "turned F", b.Statistic, a.Statistic, 1e-8)
	checkClose(t, "turned df", b.DF2, a.DF2, 1e-8)

	// Units: response and a column times powers of ten.
	p.Response = mapped(p.Response, func(v float64) float64 { return 1e5 * v })
	p.Columns = append([][]float64{mapped(p.Columns[0], func(v float64) float64 { return 1e-7 * v })}, p.Columns[1:]...)
	c, err := mustFit(t, p).WaldClustered(CR2, [][]float64{{1, 0, 0}, {0, 1, 0}})
	if err != nil {
		t.Fatal(err)
	}
	checkClose(t, "F in other units", c.Statistic, a.Statistic, 1e-9)
}

// TestCR3IsTheJackknife: without singular blocks, or with absorbed groups nested
// in the clusters, CR3 is the sum over clusters of (b - b without the cluster)
// squared, fitted again each time.
func TestCR3IsTheJackknife(t *testing.T) {
	data := readFrame(t, "absorbed.csv")
	for _, absorb := range []string{"", "session", "half"} {
		p := absorbedProblem(data, "session", true)
		p.Absorb = nil
		if absorb == "" {
			p.Terms, p.Columns = append(p.Terms, "intercept"), append(p.Columns, ones(len(p.Response)))
		} else {
			p.Absorb = data.codes(absorb)
		}
		m := mustFit(t, p)
		want := make([][]float64, m.Rank)
		for i := range want {
			want[i] = make([]float64, m.Rank)
		}
		for out := 1; out <= m.Clusters; out++ {
			q := Problem{Terms: p.Terms, Columns: make([][]float64, len(p.Columns))}
			for i, c := range p.Cluster {
				if c == out {
					continue
				}
				q.Response, q.Weights = append(q.Response, p.Response[i]), append(q.Weights, p.Weights[i])
				for j := range q.Columns {
					q.Columns[j] = append(q.Columns[j], p.Columns[j][i])
				}
				if absorb != "" {
					q.Absorb = append(q.Absorb, p.Absorb[i])
				}
			}
			left := mustFit(t, q)
			for i := range want {
				for j := range want {
					want[i][j] += (left.Estimates[i] - m.Estimates[i]) * (left.Estimates[j] - m.Estimates[j])
				}
			}
		}
		checkCovariance(t, "CR3 with "+absorb, mustCR(t, m, CR3), want, 1e-9)
	}
}

func TestWaldOfDegenerateInput(t *testing.T) {
	data := readFrame(t, "absorbed.csv")
	m := mustFit(t, absorbedProblem(data, "session", false, "solo"))
	nan := math.NaN()
	for name, c := range map[string]struct {
		rows [][]float64
		want error
	}{
		"none":      {nil, ErrArgument},
		"short":     {[][]float64{{1, 0}}, ErrArgument},
		"zero":      {[][]float64{{0, 0, 0, 0}}, ErrArgument},
		"NaN":       {[][]float64{{nan, 0, 0, 0}}, ErrNotFinite},
		"dependent": {[][]float64{{1, 2, 0, 0}, {2, 4, 0, 0}}, ErrArgument},
		"too many":  {[][]float64{{1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}, {0, 0, 0, 1}, {1, 1, 1, 1}}, ErrArgument},
	} {
		if w, err := m.WaldClustered(CR2, c.rows); !errors.Is(err, c.want) {
			t.Errorf("%s: %+v, %v", name, w, err)
		}
		if w, err := m.Wald(m.Classical(), c.rows); !errors.Is(err, c.want) {
			t.Errorf("%s, classical: %+v, %v", name, w, err)
		}
	}
	rows := mustSelect(t, m, "x")
	if _, err := m.Wald(mustCR(t, m, CR2), rows); !errors.Is(err, ErrArgument) {
		t.Errorf("clustered covariance: %v", err)
	}
	if _, err := m.Wald(Covariance{}, rows); !errors.Is(err, ErrArgument) {
		t.Errorf("no covariance: %v", err)
	}
	if _, err := m.Select("nothing"); !errors.Is(err, ErrTerm) {
		t.Errorf("unknown term: %v", err)
	}
	if _, err := m.Select(); !errors.Is(err, ErrArgument) {
		t.Errorf("no term: %v", err)
	}
	// Three clusters cannot test three coefficients.
	few := mustFit(t, Problem{
		Response: []float64{1, 3, 2, 5, 4, 7, 6, 9, 8, 9, 12, 10},
		Terms:    []string{"a", "b", "c"},
		Columns: [][]float64{
			{1, 2, 3, 4, 2, 4, 1, 3, 3, 1, 2, 4}, {0, 1, 1, 3, 2, 1, 1, 0, 0, 2, 3, 1}, {5, 3, 1, 2, 1, 4, 2, 6, 2, 2, 1, 3},
		},
		Cluster: []int{1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3},
	})
	if w, err := few.WaldClustered(CR2, mustSelect(t, few, "a", "b", "c")); !errors.Is(err, ErrNoInformation) {
		t.Errorf("three clusters, three constraints: %+v, %v", w, err)
	}
}

// TestWaldLevel counts false alarms at 0.05 of the joint test of three slopes in
// 10 clusters of 8 rows that share errors (1500 sets). The plain F on 3 and 9
// degrees of freedom must do visibly worse, or nothing is shown.
func TestWaldLevel(t *testing.T) {
	const sets, clusters, size = 1500, 10, 8
	r := rand.New(rand.NewPCG(2, 26))
	matched, plain := 0, 0
	for range sets {
		p := Problem{Terms: []string{"intercept", "a", "b", "c"}, Columns: make([][]float64, 4)}
		for c := range clusters {
			level := r.NormFloat64()
			shared := [3]float64{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}
			for range size {
				p.Cluster = append(p.Cluster, c)
				p.Response = append(p.Response, level+r.NormFloat64())
				p.Columns[0] = append(p.Columns[0], 1)
				for j, s := range shared {
					p.Columns[j+1] = append(p.Columns[j+1], s+r.NormFloat64())
				}
			}
		}
		m := mustFit(t, p)
		w, err := m.WaldClustered(CR2, mustSelect(t, m, "a", "b", "c"))
		if err != nil {
			t.Fatal(err)
		}
		if w.PValue < 0.05 {
			matched++
		}
		eta := w.DF2 + 2
		if naive := waldTest("", w.Statistic*eta/w.DF2, 3, clusters-1); naive.PValue < 0.05 {
			plain++
		}
	}
	got, naive := float64(matched)/sets, float64(plain)/sets
	t.Logf("false alarms at 0.05: matched %.3f, plain %.3f", got, naive)
	if got > 0.07 || got < 0.01 {
		t.Errorf("false alarms at 0.05: %.3f", got)
	}
	if naive < got+0.05 {
		t.Errorf("the plain F is no worse: %.3f", naive)
	}
}

func BenchmarkWaldClustered(b *testing.B) {
	for _, s := range sizes {
		for _, crossed := range []bool{false, true} {
			m, err := Fit(benchProblem(s.clusters, s.rows, s.k, false, crossed))
			if err != nil {
				b.Fatal(err)
			}
			rows := mustSelect(b, m, "x0", "x1", "x2")
			b.Run(fmt.Sprintf("clusters=%d/rows=%d/terms=%d/crossed=%v", s.clusters, s.rows, s.k, crossed), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if _, err := m.WaldClustered(CR2, rows); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
