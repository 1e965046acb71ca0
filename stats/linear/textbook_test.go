package linear

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// textbook is the second road: normal equations with every indicator written
// out, n x n hat matrix, the adjustment cluster by cluster, and the degrees of
// freedom from the full covariance matrix of the residuals.
type textbook struct {
	beta, residual []float64
	classical      *mat.Dense
	hc             map[HCKind]*mat.Dense
	cr             map[CRKind]*mat.Dense
	df             map[CRKind][]float64
	partial        []float64               // partial correlation of each column with the response
	scores         map[CRKind][]*mat.Dense // by cluster, the k x n matrix from residuals to the score

	estimator, bread, sigma mat.Dense // (X'WX)^-1 X'W, (X'WX)^-1, covariance of the residuals at variance 1/w
	phi                     *mat.DiagDense
}

func newTextbook(t testing.TB, p Problem) textbook {
	t.Helper()
	columns := p.Columns
	if p.Absorb != nil {
		columns = append(append([][]float64{}, columns...), indicators(p.Absorb)...)
	}
	n, k := len(p.Response), len(columns)
	x := mat.NewDense(n, k, nil)
	for j, c := range columns {
		x.SetCol(j, c)
	}
	w, phi := mat.NewDiagDense(n, nil), mat.NewDiagDense(n, nil)
	for i := range n {
		v := 1.0
		if p.Weights != nil {
			v = p.Weights[i]
		}
		w.SetDiag(i, v)
		phi.SetDiag(i, 1/v)
		if p.Working == EqualVariances {
			phi.SetDiag(i, 1)
		}
	}
	var xw, m, bread mat.Dense
	xw.Mul(x.T(), w)
	m.Mul(&xw, x)
	if err := bread.Inverse(&m); err != nil {
		t.Fatal(err)
	}
	var estimator, beta, fitted, hat mat.Dense
	estimator.Mul(&bread, &xw)
	beta.Mul(&estimator, mat.NewDense(n, 1, append([]float64{}, p.Response...)))
	fitted.Mul(x, &beta)
	hat.Mul(x, &estimator)
	out := textbook{
		hc: map[HCKind]*mat.Dense{}, cr: map[CRKind]*mat.Dense{}, df: map[CRKind][]float64{},
		partial: partials(t, columns, p.Response, w), scores: map[CRKind][]*mat.Dense{},
	}
	var rss float64
	for i := range n {
		e := p.Response[i] - fitted.At(i, 0)
		out.residual = append(out.residual, e)
		rss += w.At(i, i) * e * e
	}
	for j := range k {
		out.beta = append(out.beta, beta.At(j, 0))
	}
	out.classical = &mat.Dense{}
	out.classical.Scale(rss/float64(n-k), &bread)

	mean, highest := float64(k)/float64(n), 0.
	for i := range n {
		highest = math.Max(highest, hat.At(i, i))
	}
	for kind := HC0; kind <= HC5; kind++ {
		u := mat.NewDiagDense(n, nil)
		for i, e := range out.residual {
			u.SetDiag(i, e*e*map[HCKind]float64{
				HC0: 1, HC1: float64(n) / float64(n-k),
				HC2: 1 / (1 - hat.At(i, i)), HC3: math.Pow(1-hat.At(i, i), -2),
				HC4: math.Pow(1-hat.At(i, i), -math.Min(4, hat.At(i, i)/mean)),
				HC5: math.Pow(1-hat.At(i, i), -math.Min(math.Max(4, 0.7*highest/mean), hat.At(i, i)/mean)/2),
			}[kind])
		}
		v := &mat.Dense{}
		v.Product(&estimator, u, estimator.T())
		out.hc[kind] = v
	}
	if p.Cluster == nil {
		return out
	}

	// Covariance of the residuals under the working model.
	maker := mat.NewDense(n, n, nil)
	for i := range n {
		maker.Set(i, i, 1)
	}
	maker.Sub(maker, &hat)
	var sigma mat.Dense
	sigma.Product(maker, phi, maker.T())
	out.estimator, out.bread, out.sigma, out.phi = estimator, bread, sigma, phi

	g := group(p.Cluster)
	order, start := g.rows()
	for kind := CR0; kind <= CR3; kind++ {
		v := mat.NewDense(k, k, nil)
		// l holds, by cluster, the k x n matrix that takes residuals to the score.
		l := make([]*mat.Dense, g.count)
		for c := range g.count {
			rows := order[start[c]:start[c+1]]
			a := adjustment(t, kind, rows, &sigma, phi, p.Working == InverseWeightsPublished)
			if kind == CR3 {
				a = cutOff(t, rows, maker, w)
			}
			l[c] = mat.NewDense(k, n, nil)
			for r, i := range rows {
				for s, h := range rows {
					for j := range k {
						l[c].Set(j, h, l[c].At(j, h)+estimator.At(j, i)*a.At(r, s))
					}
				}
			}
			var score, outer mat.Dense
			score.Mul(l[c], mat.NewDense(n, 1, append([]float64{}, out.residual...)))
			outer.Mul(&score, score.T())
			v.Add(v, &outer)
		}
		if kind == CR1 {
			v.Scale(float64(g.count)/float64(g.count-1), v)
		}
		out.cr[kind], out.scores[kind] = v, l
		for j := range k {
			var trace, squares float64
			for c := range g.count {
				for d := range g.count {
					var half mat.VecDense
					half.MulVec(&sigma, l[d].RowView(j))
					p := mat.Dot(l[c].RowView(j), &half)
					squares += p * p
					if c == d {
						trace += p
					}
				}
			}
			out.df[kind] = append(out.df[kind], trace*trace/squares)
		}
	}
	return out
}

// adjustment is A = D (D^-1 B D^-1)^(+1/2) D^-1 with D the root of phi, B the
// cluster's block of sigma, so that A B A' = phi; for CR0 and CR1 the identity.
// The published root is A = D (D B D)^(+1/2) D.
func adjustment(t testing.TB, kind CRKind, rows []int, sigma mat.Matrix, phi *mat.DiagDense, published bool) *mat.Dense {
	t.Helper()
	n := len(rows)
	a := mat.NewDense(n, n, nil)
	if kind != CR2 {
		for i := range n {
			a.Set(i, i, 1)
		}
		return a
	}
	d := mat.NewDiagDense(n, nil)
	for r, i := range rows {
		d.SetDiag(r, 1/math.Sqrt(phi.At(i, i)))
		if published {
			d.SetDiag(r, math.Sqrt(phi.At(i, i)))
		}
	}
	g := mat.NewSymDense(n, nil)
	for r, i := range rows {
		for s, j := range rows {
			g.SetSym(r, s, d.At(r, r)*sigma.At(i, j)*d.At(s, s))
		}
	}
	var e mat.EigenSym
	if !e.Factorize(g, true) {
		t.Fatal("no eigenvalues")
	}
	values := e.Values(nil)
	var v, half mat.Dense
	e.VectorsTo(&v)
	root := mat.NewDiagDense(n, nil)
	for i, l := range values {
		if l > 1e-9*values[n-1] {
			root.SetDiag(i, 1/math.Sqrt(l))
		}
	}
	half.Product(&v, root, v.T())
	for r := range n {
		for s := range n {
			left := 1 / d.At(r, r)
			if published {
				left = d.At(r, r)
			}
			a.Set(r, s, left*half.At(r, s)*d.At(s, s))
		}
	}
	return a
}

// cutOff is the pseudo-inverse of the cluster's block of the residual maker, taken
// where the block is symmetric: on rows times the roots of their weights.
func cutOff(t testing.TB, rows []int, maker mat.Matrix, w *mat.DiagDense) *mat.Dense {
	t.Helper()
	n := len(rows)
	block := mat.NewDense(n, n, nil)
	up, down := mat.NewDiagDense(n, nil), mat.NewDiagDense(n, nil)
	for r, i := range rows {
		root := math.Sqrt(w.At(i, i))
		up.SetDiag(r, root)
		down.SetDiag(r, 1/root)
		for s, j := range rows {
			block.Set(r, s, root*maker.At(i, j)/math.Sqrt(w.At(j, j)))
		}
	}
	var svd mat.SVD
	if !svd.Factorize(block, mat.SVDThin) {
		t.Fatal("no singular values")
	}
	var u, v, a mat.Dense
	svd.UTo(&u)
	svd.VTo(&v)
	inverse := mat.NewDiagDense(n, nil)
	for i, value := range svd.Values(nil) {
		if value > 1e-9 {
			inverse.SetDiag(i, 1/value)
		}
	}
	a.Product(down, &v, inverse, u.T(), up)
	return &a
}

// partials correlates what the other columns leave of each column with what they
// leave of y: two regressions and one sum each.
func partials(t testing.TB, columns [][]float64, y []float64, w *mat.DiagDense) []float64 {
	t.Helper()
	n := len(y)
	out := make([]float64, len(columns))
	for j := range columns {
		others := mat.NewDense(n, len(columns)-1, nil)
		for l, at := 0, 0; l < len(columns); l++ {
			if l != j {
				others.SetCol(at, columns[l])
				at++
			}
		}
		left := func(v []float64) []float64 {
			var scaled, beta, fitted mat.Dense
			scaled.Apply(func(i, l int, v float64) float64 { return v * math.Sqrt(w.At(i, i)) }, others)
			to := mat.NewDense(n, 1, nil)
			for i := range v {
				to.Set(i, 0, v[i]*math.Sqrt(w.At(i, i)))
			}
			if err := beta.Solve(&scaled, to); err != nil {
				t.Fatal(err)
			}
			fitted.Mul(&scaled, &beta)
			to.Sub(to, &fitted)
			return to.RawMatrix().Data
		}
		a, b := mat.NewVecDense(n, left(columns[j])), mat.NewVecDense(n, left(y))
		out[j] = mat.Dot(a, b) / math.Sqrt(mat.Dot(a, a)*mat.Dot(b, b))
	}
	return out
}

// wald is the statistic and the degrees of freedom of the test that some
// coefficients are zero, from the n x n covariance of the residuals.
func (b textbook) wald(t testing.TB, kind CRKind, coefficients []int) (f, df float64) {
	t.Helper()
	q := len(coefficients)
	expected, actual := mat.NewSymDense(q, nil), mat.NewSymDense(q, nil)
	n := len(b.residual)
	picked := make([]*mat.Dense, len(b.scores[kind]))
	for c, l := range b.scores[kind] {
		picked[c] = mat.NewDense(q, n, nil)
		for s, j := range coefficients {
			picked[c].SetRow(s, mat.Row(nil, j, l))
		}
		var own mat.Dense
		own.Product(picked[c], &b.sigma, picked[c].T())
		for s := range q {
			for u := s; u < q; u++ {
				expected.SetSym(s, u, expected.At(s, u)+own.At(s, u))
			}
		}
	}
	value := mat.NewVecDense(q, nil)
	for s, j := range coefficients {
		value.SetVec(s, b.beta[j])
		for u := s; u < q; u++ {
			actual.SetSym(s, u, b.cr[kind].At(j, coefficients[u]))
		}
	}
	var cholesky mat.Cholesky
	if !cholesky.Factorize(expected) {
		t.Fatal("the expectation is singular")
	}
	var lower mat.TriDense
	cholesky.LTo(&lower)
	var unit mat.Dense
	if err := unit.Inverse(&lower); err != nil {
		t.Fatal(err)
	}
	for c := range picked {
		var turned mat.Dense
		turned.Mul(&unit, picked[c])
		picked[c] = &turned
	}
	variances := 0.
	for _, one := range picked {
		for _, other := range picked {
			var p mat.Dense
			p.Product(one, &b.sigma, other.T())
			for s := range q {
				for u := range q {
					variances += p.At(s, s)*p.At(u, u) + p.At(s, u)*p.At(u, s)
				}
			}
		}
	}
	eta := float64(q*(q+1)) / variances
	var inverse mat.Dense
	if err := inverse.Inverse(actual); err != nil {
		t.Fatal(err)
	}
	return (eta - float64(q) + 1) / (eta * float64(q)) * mat.Inner(value, &inverse, value), eta - float64(q) + 1
}

// indicators gives a column of zeros and ones for each group.
func indicators(codes []int) [][]float64 {
	g := group(codes)
	out := make([][]float64, g.count)
	for k := range out {
		out[k] = make([]float64, len(codes))
	}
	for i, k := range g.code {
		out[k][i] = 1
	}
	return out
}

// TestTextbook: every covariance and all degrees of freedom equal the textbook
// algebra with indicators written out. This also proves that absorbing is exact
// for nested groups, crossed groups and weights.
func TestTextbook(t *testing.T) {
	drawn(t, func(t *testing.T, p Problem) {
		m := mustFit(t, p)
		want := newTextbook(t, p)
		for i, v := range m.Estimates {
			checkClose(t, m.Terms[i], v, want.beta[i], 1e-9)
		}
		for i, e := range m.Residuals {
			if math.Abs(e-want.residual[i]) > 1e-9 {
				t.Errorf("residual %d: %v, want %v", i, e, want.residual[i])
			}
		}
		checkCovariance(t, "classical", m.Classical(), leading(want.classical, m.Rank), 1e-9)
		for l, term := range m.Terms {
			r, df, err := m.PartialCorrelation(term)
			if err != nil || df != m.DFResidual {
				t.Fatal(df, err)
			}
			checkClose(t, "partial correlation of "+term, r, want.partial[l], 1e-8)
		}
		for kind := HC0; kind <= HC5; kind++ {
			checkCovariance(t, kind.String(), mustHC(t, m, kind), leading(want.hc[kind], m.Rank), 1e-8)
		}
		for kind := CR0; kind <= CR3; kind++ {
			test, err := m.WaldClustered(kind, mustSelect(t, m, "a", "c"))
			if err != nil {
				t.Fatal(err)
			}
			f, df := want.wald(t, kind, []int{0, 2})
			checkClose(t, kind.String()+" F", test.Statistic, f, 1e-7)
			checkClose(t, kind.String()+" df of F", test.DF2, df, 1e-7)
			got := mustCR(t, m, kind)
			checkCovariance(t, kind.String(), got, leading(want.cr[kind], m.Rank), 1e-8)
			for i, df := range got.DF {
				checkClose(t, kind.String()+" df of "+m.Terms[i], df, want.df[kind][i], 1e-8)
			}
		}
	})
}

// leading gives the first k rows and columns.
func leading(m *mat.Dense, k int) [][]float64 {
	out := make([][]float64, k)
	for i := range out {
		for j := range k {
			out[i] = append(out[i], m.At(i, j))
		}
	}
	return out
}

// TestWeightedRoot backs what InverseWeights documents: with weights and an effect
// for each cluster, the expectation of CR2 over y with variance 1/w is the true
// covariance for its root, and misses it by more than one in a hundred for the
// published one. Without weights both hold.
func TestWeightedRoot(t *testing.T) {
	for _, c := range []struct {
		name                string
		weighted, published bool
		low, high           float64 // of the ratio of expected to true variance
	}{
		{"equal weights, root used", false, false, 1 - 1e-9, 1 + 1e-9},
		{"equal weights, published root", false, true, 1 - 1e-9, 1 + 1e-9},
		{"weights, root used", true, false, 1 - 1e-9, 1 + 1e-9},
		{"weights, published root", true, true, 0.8, 0.99},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := drawProblem(rand.New(rand.NewPCG(0, 1)), groupsAreClusters, c.weighted)
			p.Working = InverseWeights
			b := newTextbook(t, p)
			g := group(p.Cluster)
			order, start := g.rows()
			var expected float64 // of the variance of the first coefficient
			for k := range g.count {
				rows := order[start[k]:start[k+1]]
				a := adjustment(t, CR2, rows, &b.sigma, b.phi, c.published)
				l := make([]float64, len(rows))
				for r, i := range rows {
					for s := range rows {
						l[s] += b.estimator.At(0, i) * a.At(r, s)
					}
				}
				for r, i := range rows {
					for s, j := range rows {
						expected += l[r] * b.sigma.At(i, j) * l[s]
					}
				}
			}
			if ratio := expected / b.bread.At(0, 0); ratio < c.low || ratio > c.high {
				t.Errorf("expected over true variance %v, want within %v and %v", ratio, c.low, c.high)
			}
		})
	}
}
