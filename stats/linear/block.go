package linear

import "math"

// block is one cluster in coordinates of the orthonormal basis Z = [Q, T]: Q of
// the centred columns and, when groups cut across clusters, T of the groups the
// cluster touches. With S = Z_c' Z_c = V diag(lambda) V' the cluster's block of
// I - H is B = I - Z_c Z_c', and for any power p
//
//	B^p Z_c = Z_c (I - S)^p,
//
// pseudo-inverse included. So nothing larger than S is ever formed. Groups
// nested within the cluster are left out: their part of B is orthogonal to Q.
type block struct {
	m       *Model
	kind    CRKind
	crossed bool

	size   int
	groups []int       // those touched, when crossed
	place  map[int]int // their coordinates
	s      []float64   // size x size by row
	eigen  eigen       // of s
	factor []float64   // (1 - lambda)^(-1/2) for CR2, its square for CR3, 0 where singular; 1 for CR0 and CR1
	score  []float64   // Z_c' e
	q, z   []float64
}

func newBlock(m *Model, kind CRKind) *block {
	return &block{m: m, kind: kind, crossed: m.absorb.count > 0 && !m.absorb.nestedIn(m.cluster)}
}

// contribute hands cluster c's part of the moments to s and gives its part of
// the score, Q' A e; the result is overwritten by the next call.
func (b *block) contribute(s *satterthwaite, c int, rows []int) []float64 {
	b.load(rows)
	b.decompose()
	k := b.m.Rank
	for j := range k {
		b.eigen.to(b.z, s.unitRow(j))
		var own float64
		for i, w := range b.z {
			f, l := b.factor[i], b.eigen.values[i]
			own += f * f * l * (1 - l) * w * w
			b.z[i] = f * l * w
		}
		b.eigen.from(b.q, b.z)
		s.set(j, c, own, b.q, b.groups)
	}
	b.eigen.to(b.z, b.score)
	for i, f := range b.factor {
		b.z[i] *= f
	}
	b.eigen.from(b.score, b.z)
	return b.score[:k]
}

// load sets S and the score.
func (b *block) load(rows []int) {
	m, k := b.m, b.m.Rank
	b.groups = b.groups[:0]
	if b.crossed {
		b.findGroups(rows)
	}
	n := k + len(b.groups)
	b.size = n
	b.s = zeros(b.s, n*n)
	b.score = zeros(b.score, n)
	b.factor = zeros(b.factor, n)
	b.q = zeros(b.q, n)
	b.z = zeros(b.z, n)
	q := b.q[:k]
	for _, i := range rows {
		m.row(q, i)
		e := m.scaled[i]
		for a, qa := range q {
			b.score[a] += qa * e
			line := b.s[a*n : a*n+k]
			for j := a; j < k; j++ {
				line[j] += qa * q[j]
			}
		}
		if b.crossed {
			t, at := m.groupLoading(i), b.place[m.absorb.code[i]]
			b.score[at] += t * e
			for a, qa := range q {
				b.s[a*n+at] += qa * t
			}
			b.s[at*n+at] += t * t
		}
	}
}

func (b *block) findGroups(rows []int) {
	if b.place == nil {
		b.place = make(map[int]int)
	}
	clear(b.place)
	for _, i := range rows {
		code := b.m.absorb.code[i]
		if _, known := b.place[code]; !known {
			b.place[code] = b.m.Rank + len(b.groups)
			b.groups = append(b.groups, code)
		}
	}
}

// decompose finds the eigenvalues of S and the factors of the kind.
func (b *block) decompose() {
	b.eigen.of(b.s, b.size)
	for i, l := range b.eigen.values {
		l = math.Min(1, math.Max(0, l))
		b.eigen.values[i] = l
		switch {
		case b.kind < CR2:
			b.factor[i] = 1
		case 1-l <= singularTolerance:
			b.factor[i] = 0
		case b.kind == CR3:
			b.factor[i] = 1 / (1 - l)
		default:
			b.factor[i] = 1 / math.Sqrt(1-l)
		}
	}
}

// zeros gives n zeros, in v when it is large enough.
func zeros(v []float64, n int) []float64 {
	if cap(v) < n {
		return make([]float64, n)
	}
	v = v[:n]
	clear(v)
	return v
}
