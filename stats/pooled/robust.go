package pooled

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// RobustResult holds coefficients with standard errors that do not rest on the
// model for the variances.
type RobustResult struct {
	Clusters     int
	DF           float64 // Clusters less the coefficients, for Student's t
	Coefficients []Coefficient
	Covariance   *mat.SymDense
}

// Robust gives the coefficients of r with the sandwich covariance over clusters
// of estimates (Hedges, Tipton and Johnson 2010, Research Synthesis Methods 1:39),
//
//	m/(m-p) (X'WX)^-1 (sum over clusters of X_c'W_c e_c e_c'W_c X_c) (X'WX)^-1,
//
// m the number of clusters, and t on m - p degrees of freedom. cluster[i] labels
// the cluster of estimate i; with a label of its own for each this is the form
// for variances that are wrong. The factor and the degrees of freedom are a
// common small-sample rule; below about 20 clusters they are too bold.
//
// It fails with a *[TermError] for another number of labels, a *[TooFewError] when m - p is under 1, and
// a *[NoSpreadError] when a standard error would be zero.
func (r *Regression) Robust(cluster []int) (RobustResult, error) {
	return robust(r.design, r.Tau2, r.Coefficients, r.Level, cluster)
}

// RobustMean is [Regression.Robust] for the mean of [Fit]: the between-variance
// is estimated by o, and the standard error of the mean is the sandwich over
// clusters of estimates. It fails as Fit and Robust do.
func RobustMean(estimates, variances []float64, cluster []int, o Options) (RobustResult, error) {
	fit, err := Fit(estimates, variances, o)
	if err != nil {
		return RobustResult{}, err
	}
	d, _ := newDesign(estimates, variances, nil)
	return robust(d, fit.Tau2, []Coefficient{{Term: Intercept, Estimate: fit.Estimate}}, fit.Level, cluster)
}

func robust(d design, tau2 float64, coefficients []Coefficient, level float64, cluster []int) (RobustResult, error) {
	if len(cluster) != len(d.y) {
		return RobustResult{}, &TermError{Why: fmt.Sprintf("%d labels of clusters for %d estimates", len(cluster), len(d.y))}
	}
	number := make(map[int]int)
	var scores [][]float64 // by cluster: q'W^(1/2) e
	f := d.fitAt(tau2, d.newFitted())
	p := len(f.q)
	for i, o := range d.order {
		c, known := number[cluster[o]]
		if !known {
			c = len(scores)
			number[cluster[o]] = c
			scores = append(scores, make([]float64, p))
		}
		for j, q := range f.q {
			scores[c][j] += q[i] * f.residual[i]
		}
	}
	m := len(scores)
	if m-p < 1 {
		return RobustResult{}, &TooFewError{K: m, Coefficients: p, What: "clusters"}
	}
	meat := mat.NewSymDense(p, nil)
	for _, s := range scores {
		meat.SymRankOne(meat, float64(m)/float64(m-p), mat.NewVecDense(p, s))
	}
	var rinv mat.TriDense
	_ = rinv.InverseTri(f.r)
	var half, full mat.Dense
	half.Mul(&rinv, meat)
	full.Mul(&half, rinv.T())
	out := RobustResult{Clusters: m, DF: float64(m - p), Covariance: mat.NewSymDense(p, nil)}
	for i := range p {
		for j := i; j < p; j++ {
			out.Covariance.SetSym(i, j, (full.At(i, j)+full.At(j, i))/2)
		}
	}
	for j, c := range coefficients {
		se := math.Sqrt(out.Covariance.At(j, j))
		if !(se > 0) {
			return RobustResult{}, &NoSpreadError{K: len(d.y)}
		}
		out.Coefficients = append(out.Coefficients, coefficient(c.Term, c.Estimate, se, out.DF, level))
	}
	return out, nil
}
