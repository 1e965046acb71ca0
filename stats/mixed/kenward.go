package mixed

import (
	"fmt"
	"math"

	"lengthwise/stats/tail"
)

// kenwardRoger holds what the method needs, in internal units, in all
// components with the residual variance (those at zero among them).
type kenwardRoger struct {
	p        int
	phi      []float64
	w        []float64   // covariance of the components: 2 (expected information)^-1
	minusP   [][]float64 // X' V^-1 V_a V^-1 X
	adjusted []float64
}

func (m *Model) kenwardRoger() (*kenwardRoger, error) {
	if m.Method != REML {
		return nil, fmt.Errorf("mixed: %w: Kenward-Roger needs a fit by REML", ErrMethod)
	}
	pc, sv := m.inner.pieces, m.inner.solved
	p, n, k := m.problem.p, pc.n, pc.k
	kr := &kenwardRoger{p: p, phi: sv.phi}
	information := pc.products(sv).cross
	var ok bool
	if kr.w, ok = scaledInverse(information, n); !ok {
		return nil, fmt.Errorf("mixed: %w", &NotIdentifiedError{Component: "variance components at the optimum"})
	}
	for i := range kr.w {
		kr.w[i] *= 2
	}
	block := func(t []float64) []float64 {
		out := make([]float64, p*p)
		for i := range p {
			copy(out[i*p:(i+1)*p], t[i*k:i*k+p])
		}
		return out
	}
	for _, t := range pc.t {
		kr.minusP = append(kr.minusP, block(t))
	}
	// Phi_A = Phi + 2 Phi (sum of W_ab (Q_ab - P_a Phi P_b)) Phi
	sum := make([]float64, p*p)
	for a := range n {
		for b := range n {
			q := block(pc.second[min(a, b)*n+max(a, b)])
			pp := multiply(multiply(kr.minusP[a], sv.phi, p, p, p), kr.minusP[b], p, p, p)
			for i := range sum {
				sum[i] += kr.w[a*n+b] * (q[i] - pp[i])
			}
		}
	}
	kr.adjusted = congruence(sv.phi, sum, p, p)
	for i, v := range sv.phi {
		kr.adjusted[i] = v + 2*kr.adjusted[i]
	}
	return kr, nil
}

// scaledInverse inverts a positive definite matrix, scaled to unit diagonal on
// the way.
func scaledInverse(a []float64, n int) ([]float64, bool) {
	l := make([]float64, n*n)
	scale := make([]float64, n)
	for i := range n {
		scale[i] = math.Sqrt(a[i*n+i])
	}
	for i := range n {
		for j := range n {
			l[i*n+j] = a[i*n+j] / scale[i] / scale[j]
		}
	}
	if semidefinite(l, n, pivotTolerance) < n {
		return nil, false
	}
	out := invertCholesky(l, n)
	for i := range n {
		for j := range n {
			out[i*n+j] /= scale[i] * scale[j]
		}
	}
	return out, true
}

// df for one contrast x with variance v: 2/A, A = sum of W_ab t_a t_b / v^2 with
// t_a = x' Phi P_a Phi x.
func (kr *kenwardRoger) df(x []float64, v float64) float64 {
	p := kr.p
	phiX := multiply(kr.phi, x, p, p, 1)
	t := make([]float64, len(kr.minusP))
	for a, m := range kr.minusP {
		t[a] = quadratic(phiX, m, phiX) / v
	}
	return 2 / quadratic(t, kr.w, t)
}

// test is the scaled F test of r hypotheses l (r x p) on internal estimates,
// whose value in the units of the data is estimate (Kenward and Roger 1997,
// section 4, with the constants as there).
func (kr *kenwardRoger) test(l []float64, r int, estimate []float64) (Joint, error) {
	p, n := kr.p, len(kr.minusP)
	factor, ok := rankChecked(congruence(l, kr.phi, r, p), r)
	if !ok {
		return Joint{}, fmt.Errorf("mixed: %w: the hypotheses depend on one another", ErrRank)
	}
	// theta = L' (L Phi L')^-1 L
	theta := congruence(transpose(l, r, p), invertCholesky(factor, r), p, r)
	tp := multiply(theta, kr.phi, p, p, p)
	u := make([][]float64, n)
	for a, m := range kr.minusP {
		u[a] = multiply(tp, multiply(m, kr.phi, p, p, p), p, p, p)
	}
	var a1, a2 float64
	for a := range n {
		for b := range n {
			var ta, tb, tab float64
			for i := range p {
				ta += u[a][i*p+i]
				tb += u[b][i*p+i]
				for j := range p {
					tab += u[a][i*p+j] * u[b][j*p+i]
				}
			}
			a1 += kr.w[a*n+b] * ta * tb
			a2 += kr.w[a*n+b] * tab
		}
	}
	q := float64(r)
	b := (a1 + 6*a2) / (2 * q)
	g := ((q+1)*a1 - (q+4)*a2) / ((q + 2) * a2)
	d := 3*q + 2*(1-g)
	c1, c2, c3 := g/d, (q-g)/d, (q+2-g)/d
	v0, v1, v2 := 1+c1*b, 1-c2*b, 1-c3*b
	if math.Abs(v0) < 1e-10 {
		v0 = 0
	}
	ratio := (1 - a2/q) / v1
	rho := ratio * ratio * v0 / v2 / q
	df := 4 + (q+2)/(q*rho-1)
	out := Joint{Rank: q, DF: df, Scale: df * (1 - a2/q) / (df - 2)}
	if r == 1 {
		// E* and V* are those of t^2 with 2/A degrees of freedom: no scaling.
		out.DF, out.Scale = 2/a2, 1
	}
	if !(out.DF > 0) || math.IsInf(out.DF, 0) || !(out.Scale > 0) {
		return Joint{}, fmt.Errorf("mixed: %w: too few units for a joint Kenward-Roger test of %d hypotheses", ErrTooFewRows, r)
	}
	adjusted, ok := rankChecked(congruence(l, kr.adjusted, r, p), r)
	if !ok {
		return Joint{}, fmt.Errorf("mixed: %w: the hypotheses depend on one another", ErrRank)
	}
	out.Statistic = out.Scale * quadratic(estimate, invertCholesky(adjusted, r), estimate) / q
	out.PValue = tail.F(out.Statistic, q, out.DF)
	return out, nil
}
