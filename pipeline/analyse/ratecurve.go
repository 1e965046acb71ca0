package analyse

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/stats/linear"
	"lengthwise/stats/measurement"
	"lengthwise/stats/ratio"
)

// rateCurve is cost along the stroke rate at a fixed pace, within session:
// slope r + curve r^2 + byPace r x, with the covariance of the three. r is the ln
// rate over the usual one, x the ln speed over the reference speed.
type rateCurve struct {
	slope, curve, byPace float64
	covariance           *mat.SymDense // 3 x 3; zero where byPace could not be told
}

// at gives the coefficients of r and r^2 at pace x with their covariance.
func (c rateCurve) at(x float64) (b1, b2, v11, v12, v22 float64) {
	v := c.covariance
	return c.slope + x*c.byPace, c.curve,
		v.At(0, 0) + 2*x*v.At(0, 2) + x*x*v.At(2, 2),
		v.At(0, 1) + x*v.At(1, 2),
		v.At(1, 1)
}

// change is the cost at r over that at the usual rate, at pace x, with its
// standard error.
func (c rateCurve) change(r, x float64) (estimate, stdError float64) {
	b1, b2, v11, v12, v22 := c.at(x)
	return b1*r + b2*r*r, math.Sqrt(math.Max(0, r*r*v11+2*r*r*r*v12+r*r*r*r*v22))
}

// slopeAt is the cost of a unit of r at r and x, with its standard error.
func (c rateCurve) slopeAt(r, x float64) (estimate, stdError float64) {
	b1, b2, v11, v12, v22 := c.at(x)
	return b1 + 2*b2*r, math.Sqrt(math.Max(0, v11+4*r*v12+4*r*r*v22))
}

// turning is the rate at which cost turns at pace x, with its Fieller set. df is
// that of the slope there; the usual rate that r is measured from is an estimate
// too, whose error and degrees of freedom join in.
func (c rateCurve) turning(x, df float64, usual usualRate) (ratio.TurningPoint, error) {
	b1, b2, v11, v12, v22 := c.at(x)
	variance, usualDF := usual.variance(x)
	added := 4 * b2 * b2 * variance
	if b2 != 0 {
		_, stdError := c.slopeAt(-b1/(2*b2), x)
		df = summedDF(stdError*stdError, df, added, usualDF)
	}
	return ratio.TurningPointOf(b1, b2, v11+added, v12, v22, df, level)
}

// newRateCurve reads the curve off a fitted model. It fails where the square of
// the rate could not be told from the other terms.
func newRateCurve(m *linear.Model, c linear.Covariance) (rateCurve, error) {
	out := rateCurve{covariance: mat.NewSymDense(3, nil)}
	names := [3]string{termRate, termRateSquared, termRateByPace}
	values := [3]*float64{&out.slope, &out.curve, &out.byPace}
	var place [3]int
	for k, name := range names {
		place[k] = slices.Index(m.Terms, name)
		if place[k] < 0 {
			if name == termRateByPace {
				continue
			}
			return rateCurve{}, fmt.Errorf("%w: %s cannot be told from the other terms", linear.ErrTerm, name)
		}
		*values[k] = m.Estimates[place[k]]
	}
	for a := range place {
		for b := a; b < 3; b++ {
			if place[a] >= 0 && place[b] >= 0 {
				out.covariance.SetSym(a, b, c.Matrix.At(place[a], place[b]))
			}
		}
	}
	return out, nil
}

// solved turns a solution of measurement into a curve.
func solved(s measurement.Solution, byPace bool) rateCurve {
	out := rateCurve{covariance: mat.NewSymDense(3, nil)}
	values := []*float64{&out.slope, &out.curve, &out.byPace}
	place := []int{0, 1, 2}[:len(s.Estimates)]
	if byPace && len(s.Estimates) == 2 {
		place = []int{0, 2}
	}
	for a, at := range place {
		*values[at] = s.Estimates[a]
		for b := a; b < len(place); b++ {
			out.covariance.SetSym(at, place[b], s.Covariance.At(a, b))
		}
	}
	return out
}

// moments lays the rows out for corrections along the rate: the terms but the
// rate's that the plain model kept, with the rate's square and its product with
// pace where the plain model holds them.
func (r *rows) moments(plain *linear.Model) measurement.Moments {
	m := measurement.Moments{Response: r.cost, X: r.rate, Degree: 1, Absorb: r.session, Cluster: r.session}
	for j, term := range r.terms {
		if slices.Contains(plain.Terms, term) {
			m.Columns = append(m.Columns, r.columns[j])
		}
	}
	if slices.Contains(plain.Terms, termRateSquared) {
		m.Degree = 2
	}
	if slices.Contains(plain.Terms, termRateByPace) {
		m.By = r.lnSpeed
	}
	return m
}

// degrees is the Satterthwaite degrees of freedom of the curve's slope at r and
// x under the plain model: that of the combination of terms which is zero where
// cost turns. It is 0 where it cannot be told.
func (r *rows) degrees(rate, pace float64) float64 {
	n := len(r.rate)
	columns := [3][]float64{make([]float64, n), make([]float64, n), make([]float64, n)}
	for i, v := range r.rate {
		v -= rate
		columns[0][i], columns[1][i], columns[2][i] = v, v*v, v*(r.lnSpeed[i]-pace)
	}
	m, c, err := r.fitCost(append(slices.Clone(r.terms), termRate, termRateSquared, termRateByPace), append(slices.Clone(r.columns), columns[:]...))
	if err != nil {
		return 0
	}
	at := slices.Index(m.Terms, termRate)
	if at < 0 {
		return 0
	}
	return c.DF[at]
}

// limits is estimate -+ t stdError at the level of all intervals.
func limits(estimate, stdError, df float64) (low, high float64) {
	half := distuv.StudentsT{Sigma: 1, Nu: df}.Quantile((1+level)/2) * stdError
	return estimate - half, estimate + half
}
