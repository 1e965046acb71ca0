package linear

import (
	"fmt"
	"math"
)

// WithoutGroups gives, for each absorbed group in order of first appearance,
// the estimates of the fit to the rows outside that group: AbsorbedGroups
// slices of Rank values in the order of Terms. With Q the orthonormal basis of
// the centred columns, Q_g and e_g the group's rows of it and of the residuals,
//
//	b(g) = b - R^-1 (I - Q_g'Q_g)^-1 Q_g' e_g,
//
// the deletion formula of Cook and Weisberg (1982, Residuals and Influence in
// Regression, section 3.6, for a set of cases), exact because the group's own
// effect leaves with its rows. A slice is nil where the other rows alone do not
// tell the terms apart. Cost is of order N k^2 + G k^3 for G groups.
//
// It returns ErrNoClusters when no groups were absorbed.
func (m *Model) WithoutGroups() ([][]float64, error) {
	if m.absorb.count == 0 {
		return nil, fmt.Errorf("linear: %w: nothing was absorbed", ErrNoClusters)
	}
	order, start := m.absorb.rows()
	k := m.Rank
	out := make([][]float64, m.absorb.count)
	q, score, z, s := make([]float64, k), make([]float64, k), make([]float64, k), make([]float64, k*k)
	var e eigen
	for g := range out {
		score, s = zeros(score, k), zeros(s, k*k)
		for _, i := range order[start[g]:start[g+1]] {
			m.row(q, i)
			for a, qa := range q {
				score[a] += qa * m.scaled[i]
				for b := a; b < k; b++ {
					s[a*k+b] += qa * q[b]
				}
			}
		}
		e.of(s, k) // its eigenvalues are those of I - Q_g'Q_g taken from one
		e.to(z, score)
		decides := false
		for i, l := range e.values {
			decides = decides || 1-l <= singularTolerance
			z[i] /= 1 - l
		}
		if decides {
			continue
		}
		e.from(score, z)
		out[g] = make([]float64, k)
		for a := range k {
			var move float64
			for b := a; b < k; b++ {
				move += m.rinv[a*k+b] * score[b]
			}
			out[g][a] = m.Estimates[a] - math.Ldexp(move, m.shift[a])
		}
	}
	return out, nil
}
