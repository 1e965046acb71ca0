package linear

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Working is the model of the errors under which CR2 is unbiased and the degrees
// of freedom of every CR covariance are computed: independent rows with variances
// proportional to theta. The covariance stays valid when it is wrong. Without
// weights all three are one.
type Working int

const (
	// EqualVariances: theta is 1 for every row, whatever the weights stand for.
	// This is the default of R's clubSandwich.
	EqualVariances Working = iota
	// InverseWeights: theta is 1/w, the model of Classical. The residuals times
	// w^(1/2) have then one variance, and CR2 multiplies a cluster's, so scaled, by
	// the symmetric root of the pseudo-inverse of its block of I - H. It is unbiased
	// and absorbing is exact whatever the groups.
	InverseWeights
	// InverseWeightsPublished: theta is 1/w with the root where Pustejovsky and
	// Tipton (2018) have it (clubSandwich with inverse_var = TRUE). It differs from
	// InverseWeights where each cluster has an effect of its own, and is then biased
	// (their correction of 2023, doi:10.1080/07350015.2023.2174123).
	InverseWeightsPublished
)

// String gives the model in words.
func (w Working) String() string {
	names := [...]string{"equal variances", "variances inverse to the weights", "variances inverse to the weights, published root"}
	if w < 0 || int(w) >= len(names) {
		return fmt.Sprintf("Working(%d)", int(w))
	}
	return names[w]
}

// targeted tells whether the working model needs the long way: with weights, and
// any model but the one in which the scaled rows have one variance.
func (m *Model) targeted() bool {
	return m.rootWeight != nil && m.working != InverseWeights
}

// targets holds what the long way needs of the whole model. In the coordinates of
// the scaled rows (times w^(1/2)), with Z = [Q, T] orthonormal over the columns and
// all absorbed groups, the residuals have the covariance
//
//	S = (I - ZZ') O (I - ZZ'),   O = diag(w theta),
//
// and with F = (theta/w)^(1/2), E = (w theta)^(1/2) the adjustment of cluster c is
//
//	A = E (F S_cc F)^(+1/2) F
//
// for CR2 (D (D S D)^(+1/2) D of Pustejovsky and Tipton 2018 for the rows as they
// are), the pseudo-inverse of I - Z_c Z_c' for CR3, and the identity otherwise.
type targets struct {
	m     *Model
	kind  CRKind
	width int        // columns of Z
	n     *mat.Dense // Z'OZ
}

func (m *Model) newTargets(kind CRKind) *targets {
	t := &targets{m: m, kind: kind, width: m.Rank + m.absorb.count}
	t.n = mat.NewDense(t.width, t.width, nil)
	z := make([]float64, t.width)
	for i := range m.N {
		t.row(z, i)
		o := t.omega(i)
		for a := range m.Rank {
			for b := range m.Rank {
				t.n.Set(a, b, t.n.At(a, b)+o*z[a]*z[b])
			}
		}
		if m.absorb.count == 0 {
			continue
		}
		g := m.Rank + m.absorb.code[i]
		for a := range m.Rank {
			t.n.Set(a, g, t.n.At(a, g)+o*z[a]*z[g])
			t.n.Set(g, a, t.n.At(a, g))
		}
		t.n.Set(g, g, t.n.At(g, g)+o*z[g]*z[g])
	}
	return t
}

// row fills z with row i of Z.
func (t *targets) row(z []float64, i int) {
	clear(z)
	t.m.row(z[:t.m.Rank], i)
	if t.m.absorb.count > 0 {
		z[t.m.Rank+t.m.absorb.code[i]] = t.m.groupLoading(i)
	}
}

// omega, left and right are O, E and F of row i.
func (t *targets) omega(i int) float64 {
	if t.m.working == InverseWeightsPublished {
		return 1
	}
	return t.m.rootWeight[i] * t.m.rootWeight[i]
}

func (t *targets) left(i int) float64 { return math.Sqrt(t.omega(i)) }

func (t *targets) right(i int) float64 {
	if t.m.working == InverseWeightsPublished {
		return 1 / (t.m.rootWeight[i] * t.m.rootWeight[i])
	}
	return 1 / t.m.rootWeight[i]
}

// cluster gives Z_c (rows x width), the rows' O and the adjustment A.
func (t *targets) cluster(rows []int) (z *mat.Dense, omega []float64, adjust *mat.Dense, err error) {
	size := len(rows)
	z, omega = mat.NewDense(size, t.width, nil), make([]float64, size)
	for r, i := range rows {
		t.row(z.RawRowView(r), i)
		omega[r] = t.omega(i)
	}
	if t.kind < CR2 {
		return z, omega, nil, nil
	}
	var hat mat.Dense
	hat.Mul(z, z.T())
	block := mat.NewSymDense(size, nil)
	power := -1.0
	if t.kind == CR3 {
		for a := range size {
			for b := a; b < size; b++ {
				block.SetSym(a, b, -hat.At(a, b))
			}
			block.SetSym(a, a, 1+block.At(a, a))
		}
	} else {
		power = -0.5
		var spread mat.Dense
		spread.Product(z, t.n, z.T())
		for a := range size {
			for b := a; b < size; b++ {
				v := spread.At(a, b) - hat.At(a, b)*(omega[a]+omega[b])
				if a == b {
					v += omega[a]
				}
				block.SetSym(a, b, v*t.right(rows[a])*t.right(rows[b]))
			}
		}
	}
	var e mat.EigenSym
	if !e.Factorize(block, true) {
		return nil, nil, nil, fmt.Errorf("linear: %w: eigenvalues of a cluster's block", ErrNotConverged)
	}
	values := e.Values(nil)
	var v mat.Dense
	e.VectorsTo(&v)
	for i, l := range values {
		f := 0.0
		if l > singularTolerance*math.Max(1, values[size-1]) {
			f = math.Pow(l, power/2)
		}
		for r := range size {
			v.Set(r, i, v.At(r, i)*f)
		}
	}
	adjust = &mat.Dense{}
	adjust.Mul(&v, v.T())
	if t.kind == CR2 {
		for a := range size {
			for b := range size {
				adjust.Set(a, b, t.left(rows[a])*adjust.At(a, b)*t.right(rows[b]))
			}
		}
	}
	return z, omega, adjust, nil
}

// targetMoments holds the first two moments of the contributions of the clusters to
// q directions a (in the coordinates of Q): with g = A'Q_c a,
//
//	P_cd = [c = d] g'Og - u_c'v_d - v_c'u_d + u_c'N u_d,   u = Z_c'g, v = Z_c'Og.
type targetMoments struct {
	own      []*mat.Dense // g'Og, q x q
	u, v, nu []*mat.Dense // q x width
}

// contributions gives the moments for the directions in root (q x Rank), and the
// sum over clusters of the outer products of their scores Q_c'A e.
func (t *targets) contributions(root mat.Matrix) (moments *targetMoments, meat []float64, err error) {
	m := t.m
	k := m.Rank
	order, start := m.cluster.rows()
	moments, meat = &targetMoments{}, make([]float64, k*k)
	for c := range m.cluster.count {
		rows := order[start[c]:start[c+1]]
		z, omega, adjust, err := t.cluster(rows)
		if err != nil {
			return nil, nil, err
		}
		q := mat.DenseCopyOf(z.Slice(0, len(rows), 0, k))
		if adjust != nil {
			var turned mat.Dense
			turned.Mul(adjust.T(), q)
			q.Copy(&turned) // A'Q_c
		}
		e := mat.NewVecDense(len(rows), nil)
		for r, i := range rows {
			e.SetVec(r, m.scaled[i])
		}
		var score mat.VecDense
		score.MulVec(q.T(), e)
		for a := range k {
			for b := a; b < k; b++ {
				meat[a*k+b] += score.AtVec(a) * score.AtVec(b)
			}
		}
		var g, og, own, u, v, nu mat.Dense
		g.Mul(root, q.T()) // q x rows
		og.CloneFrom(&g)
		directions, _ := g.Dims()
		for s := range directions {
			for r, o := range omega {
				og.Set(s, r, og.At(s, r)*o)
			}
		}
		own.Mul(&og, g.T())
		u.Mul(&g, z)
		v.Mul(&og, z)
		nu.Mul(&u, t.n)
		moments.own = append(moments.own, &own)
		moments.u, moments.v, moments.nu = append(moments.u, &u), append(moments.v, &v), append(moments.nu, &nu)
	}
	return moments, meat, nil
}

// degrees gives Satterthwaite's degrees of freedom of each direction, 0 where the
// estimator sees none of its variance, which is variance[j] under the working model.
func (p *targetMoments) degrees(variance []float64) []float64 {
	df := make([]float64, len(variance))
	for j := range df {
		var trace, squares float64
		for c := range p.own {
			for d := range c + 1 {
				s := p.entry(c, d, j)
				if c == d {
					trace += s
					squares += s * s
				} else {
					squares += 2 * s * s
				}
			}
		}
		if trace > informationTolerance*variance[j] {
			df[j] = math.Max(1, trace*trace/squares)
		}
	}
	return df
}

// entry is P_cd for direction j with itself.
func (p *targetMoments) entry(c, d, j int) float64 {
	uc, vc, ud, vd, nud := p.u[c].RawRowView(j), p.v[c].RawRowView(j), p.u[d].RawRowView(j), p.v[d].RawRowView(j), p.nu[d].RawRowView(j)
	var s float64
	for i, x := range uc {
		s += x*(nud[i]-vd[i]) - vc[i]*ud[i]
	}
	if c == d {
		s += p.own[c].At(j, j)
	}
	return s
}

// targetClustered is [Model.Clustered] the long way.
func (m *Model) targetClustered(kind CRKind) (Covariance, error) {
	k := m.Rank
	unit := mat.NewDense(k, k, nil) // rows of R^-1 over their lengths
	variance := make([]float64, k)
	t := m.newTargets(kind)
	for j := range k {
		row := unit.RawRowView(j)
		copy(row, newSatterthwaite(m, 0, false).unitRow(j))
		for a, x := range row {
			for b, y := range row {
				variance[j] += x * t.n.At(a, b) * y
			}
		}
	}
	moments, meat, err := t.contributions(unit)
	if err != nil {
		return Covariance{}, err
	}
	m.correct(kind, meat)
	return Covariance{Kind: kind.String(), Matrix: m.sandwich(meat), DF: moments.degrees(variance)}, nil
}

// whitened gives P_cd of all directions in units in which their covariance under
// the estimator is the identity; lower is the Cholesky factor of that covariance.
func (p *targetMoments) whitened(lower *mat.TriDense) (pair func(c, d int) (*mat.Dense, error)) {
	return func(c, d int) (*mat.Dense, error) {
		full, other := p.pair(c, d), &mat.Dense{}
		if err := other.Solve(lower, full); err != nil {
			return nil, err
		}
		out := &mat.Dense{}
		if err := out.Solve(lower, other.T()); err != nil {
			return nil, err
		}
		return mat.DenseCopyOf(out.T()), nil
	}
}

// pair is P_cd, q x q.
func (p *targetMoments) pair(c, d int) *mat.Dense {
	var first, second, out mat.Dense
	first.Sub(p.nu[d], p.v[d])
	out.Mul(p.u[c], first.T())
	second.Mul(p.v[c], p.u[d].T())
	out.Sub(&out, &second)
	if c == d {
		out.Add(&out, p.own[c])
	}
	return &out
}
