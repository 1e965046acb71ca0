package analyse

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"lengthwise/stats/linear"
)

// fitCost fits the rows' cost on columns within sessions. Errors are CR2 by session
// with Satterthwaite degrees of freedom, and hold what is not known of the time
// constant behind the costs.
func (r *rows) fitCost(terms []string, columns [][]float64) (*linear.Model, linear.Covariance, error) {
	p := linear.Problem{Response: r.cost, Terms: terms, Columns: columns, Absorb: r.session, Cluster: r.session}
	m, err := linear.Fit(p)
	if err != nil {
		return nil, linear.Covariance{}, err
	}
	covariance, err := m.Clustered(linear.CR2)
	if err != nil {
		return nil, linear.Covariance{}, err
	}
	covariance, err = r.carryTau(p, m, covariance)
	return m, covariance, err
}

// carryTau adds to a covariance the error of the swimmer's time constant of heart
// rate, which is shared by all bouts, so that no scatter between them shows it. The
// estimates are linear in the costs: when ln tau moves by one, they move by g, the
// estimates of the same model for the costs' derivatives. With s the standard error
// of ln tau the covariance grows by s^2 g g' (the delta method), and degrees of
// freedom are those of the sum (Satterthwaite 1946).
func (r *rows) carryTau(p linear.Problem, m *linear.Model, c linear.Covariance) (linear.Covariance, error) {
	if r.lnTauSE == 0 {
		return c, nil
	}
	p.Response = r.costByLnTau
	moved, err := linear.Fit(p)
	switch {
	case errors.Is(err, linear.ErrNoVariance): // all costs move alike
		return c, nil
	case err != nil:
		return c, fmt.Errorf("error of the time constant: %w", err)
	}
	k := len(m.Estimates)
	sum := linear.Covariance{Kind: c.Kind, Matrix: mat.NewSymDense(k, nil), DF: make([]float64, k)}
	for i := range k {
		for j := i; j < k; j++ {
			sum.Matrix.SetSym(i, j, c.Matrix.At(i, j)+r.lnTauSE*r.lnTauSE*moved.Estimates[i]*moved.Estimates[j])
		}
		own, all := c.Matrix.At(i, i), sum.Matrix.At(i, i)
		added := all - own
		if c.DF[i] > 0 && all > 0 {
			sum.DF[i] = all * all / (own*own/c.DF[i] + added*added/r.lnTauDF)
		}
	}
	return sum, nil
}

// carryUsual adds to a slope read at the usual rate what the rates set leave open of
// that rate, by their rounding and by how they were held, where it was found from those: where cost curves by
// curvature r^2, the slope moves by twice that for each unit. A usual rate of the
// swimmer's own choice is taken as found: the slope is the one at that rate.
func (r *rows) carryUsual(c linear.Coefficient, curvature float64) linear.Coefficient {
	if r.usual.own {
		return c
	}
	open, _ := r.usual.variance(0)
	open += r.usual.heldVariance
	added := 4 * curvature * curvature * open
	if added == 0 || !(c.StdError > 0) || !(c.DF > 0) {
		return c
	}
	own := c.StdError * c.StdError
	c.DF = summedDF(own, c.DF, added, math.Inf(1))
	c.StdError = math.Sqrt(own + added)
	return tested(c)
}

// curvatureOf is a model's coefficient of the squared rate, 0 where it has none.
func curvatureOf(m *linear.Model) float64 {
	if at := slices.Index(m.Terms, termRateSquared); at >= 0 {
		return m.Estimates[at]
	}
	return 0
}
