package linear

import "math"

// weightedBlock is one cluster for CR2 with weights, in coordinates of its
// rows. With D = W^(-1/2) and B = W^-1 - X M X', groups included, the adjustment
// of Pustejovsky and Tipton (2018, equation 7) is
//
//	A = D (D B D)^(+1/2) D
//
// where +1/2 is the symmetric root of the pseudo-inverse. In terms of the
// weighted residual u = W^(1/2) e and the basis Z of the weighted columns,
// D B D = G = W^-1 (I - Z Z') W^-1, and the cluster's part of the estimates is
// R^-1 Q' G^(+1/2) W^-1 u. Unlike without weights, W^-1 does not commute with
// the rest, so G itself is needed, and groups nested in a cluster do not cancel.
type weightedBlock struct {
	m       *Model
	crossed bool

	groups groupPlaces
	g      []float64 // G, n x n by row for n rows
	eigen  eigen     // of g
	load   []float64 // Q_c' V, Rank x n by row
	left   []float64 // W^-1 G^(+1/2) Q_c a, n values
	part   []float64
	z      []float64
	score  []float64
	row    []float64
}

func (b *weightedBlock) contribute(s *satterthwaite, c int, rows []int) []float64 {
	m, k, n := b.m, b.m.Rank, len(rows)
	b.prepare(rows)
	v := b.eigen.vectors
	top := b.eigen.values[n-1]
	root := func(l float64) float64 { // of the pseudo-inverse
		if l <= singularTolerance*top {
			return 0
		}
		return 1 / math.Sqrt(l)
	}

	b.load = zeros(b.load, k*n)
	for r, i := range rows {
		for l := range k {
			q := m.q[l*m.N+i]
			for e := range n {
				b.load[l*n+e] += q * v[r*n+e]
			}
		}
	}
	// The score, Q' G^(+1/2) W^-1 u.
	b.part = zeros(b.part, n)
	b.score = zeros(b.score, k)
	for r, i := range rows {
		u := m.scaled[i] / (m.rootWeight[i] * m.rootWeight[i])
		for e := range n {
			b.part[e] += v[r*n+e] * u
		}
	}
	for e, l := range b.eigen.values {
		f := root(l)
		for j := range k {
			b.score[j] += b.load[j*n+e] * f * b.part[e]
		}
	}
	// The moments: P_cc is the length of Q a outside the null space of G.
	b.left = zeros(b.left, n)
	b.z = zeros(b.z, k+len(b.groups.groups))
	for j := range k {
		var own float64
		clear(b.part)
		for l, a := range s.unitRow(j) {
			for e := range n {
				b.part[e] += a * b.load[l*n+e]
			}
		}
		for e, l := range b.eigen.values {
			f := root(l)
			if f > 0 {
				own += b.part[e] * b.part[e]
			}
			b.part[e] *= f
		}
		b.eigen.from(b.left, b.part)
		clear(b.z)
		for r, i := range rows {
			g := b.left[r] / (m.rootWeight[i] * m.rootWeight[i])
			for l := range k {
				b.z[l] += m.q[l*m.N+i] * g
			}
			if b.crossed {
				b.z[k+b.groups.place[m.absorb.code[i]]] += m.groupLoading(i) * g
			}
		}
		s.set(j, c, own, b.z, b.groups.groups)
	}
	return b.score
}

// prepare forms G and its eigenvectors. Groups nested in the cluster enter G
// but need no place in z: no other cluster shares them.
func (b *weightedBlock) prepare(rows []int) {
	m, n := b.m, len(rows)
	b.groups.reset()
	if b.crossed {
		b.groups.find(m, rows)
	}
	b.g = zeros(b.g, n*n)
	b.row = zeros(b.row, m.Rank)
	for r, i := range rows {
		m.row(b.row, i)
		wi := m.rootWeight[i] * m.rootWeight[i]
		for t := r; t < n; t++ {
			j := rows[t]
			var g float64
			if i == j {
				g = 1
			}
			for l, q := range b.row {
				g -= q * m.q[l*m.N+j]
			}
			if m.absorb.count > 0 && m.absorb.code[i] == m.absorb.code[j] {
				g -= m.groupLoading(i) * m.groupLoading(j)
			}
			b.g[r*n+t] = g / (wi * m.rootWeight[j] * m.rootWeight[j])
		}
	}
	b.eigen.of(b.g, n)
}
