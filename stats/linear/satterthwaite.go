package linear

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// satterthwaite gathers what the degrees of freedom of each coefficient need.
//
// With a the row of R^-1 of a coefficient over its length (a scale the degrees
// of freedom do not depend on), the variance estimator is the sum
// over clusters of (g_c' e)^2, where g_c = A_c Z_c a lives on the rows of
// cluster c. Under the working model its first two moments follow from
//
//	P_cd = g_c' (I - H) g_d = [c = d] g_c' g_c - z_c' z_d,  z_c = Z_c' g_c,
//
// and the degrees of freedom are (sum P_cc)^2 / sum P_cd^2. In the eigenbasis of
// S_c, with w = V' a and f the factor of the adjustment,
//
//	P_cc = sum f^2 lambda (1 - lambda) w^2,  z_c = V (f lambda w).
type satterthwaite struct {
	m        *Model
	clusters int
	width    int       // length of a z vector
	unit     []float64 // rows of R^-1 over their lengths
	z        []float64 // by coefficient, by cluster, width each
	own      []float64 // P_cc by coefficient, by cluster
}

func newSatterthwaite(m *Model, clusters int, crossed bool) *satterthwaite {
	s := &satterthwaite{m: m, clusters: clusters, width: m.Rank}
	if crossed {
		s.width += m.absorb.count
	}
	k := m.Rank
	arena := make([]float64, k*clusters*(s.width+1)+k*k)
	s.unit, arena = arena[:k*k], arena[k*k:]
	s.own, s.z = arena[:k*clusters], arena[k*clusters:]
	copy(s.unit, m.rinv)
	for j := range k {
		row := s.unit[j*k : (j+1)*k]
		floats.Scale(1/floats.Norm(row, 2), row)
	}
	return s
}

// unitRow is a for coefficient j.
func (s *satterthwaite) unitRow(j int) []float64 {
	return s.unit[j*s.m.Rank : (j+1)*s.m.Rank]
}

// set takes in P_cc and z_c of coefficient j and cluster c. The first Rank
// values of z belong to the columns, those after to the groups named.
func (s *satterthwaite) set(j, c int, own float64, z []float64, groups []int) {
	k := s.m.Rank
	s.own[j*s.clusters+c] = own
	full := s.z[(j*s.clusters+c)*s.width:][:s.width]
	copy(full, z[:k])
	for i, g := range groups {
		full[k+g] = z[k+i]
	}
}

// degrees gives the degrees of freedom, 0 for coefficients without information.
func (s *satterthwaite) degrees() []float64 {
	k := s.m.Rank
	df := make([]float64, k)
	for j := range k {
		own := s.own[j*s.clusters : (j+1)*s.clusters]
		z := s.z[j*s.clusters*s.width : (j+1)*s.clusters*s.width]
		var trace, squares float64
		for c, p := range own {
			trace += p
			squares += p * p
			zc := z[c*s.width : (c+1)*s.width]
			for d := range c {
				var dot float64
				for i, v := range z[d*s.width : (d+1)*s.width] {
					dot += v * zc[i]
				}
				squares += 2 * dot * dot
			}
		}
		// Under the working model trace is the share of the coefficient's
		// variance that the estimator sees: 1 for CR2 without singular blocks.
		if trace > informationTolerance {
			// At least 1, since (P_cd) is positive semi-definite; rounding aside.
			df[j] = math.Max(1, trace*trace/squares)
		}
	}
	return df
}
