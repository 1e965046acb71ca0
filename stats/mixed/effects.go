package mixed

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Unit holds the random effects of one unit.
type Unit struct {
	Label string
	Rows  int
	// Effects are the conditional means of the q random effects given the rows
	// (best linear unbiased predictors; Henderson 1975, Biometrics 31:423).
	Effects []float64
	// Conditional is their conditional covariance given the rows, the fixed
	// effects taken as known; nil when q = 0.
	Conditional *mat.SymDense
	// Error is the covariance of Effects less the true effects, the fixed
	// effects being estimated (Henderson 1975); nil when q = 0.
	Error *mat.SymDense
	// Groups are in the order of labels; nil without a group intercept.
	Groups []Group
}

// Group holds the intercept of one group.
type Group struct {
	Label       string
	Rows        int
	Effect      float64
	Conditional float64 // conditional variance, the fixed effects taken as known
}

// Units gives the random effects in the order of the units' labels. Variance
// parameters are taken as known.
func (m *Model) Units() []Unit {
	p, in := m.problem, m.inner
	w := p.newWorkspace()
	y := p.vars[p.m-1].scale
	out := make([]Unit, len(p.units))
	for i := range p.units {
		u := &p.units[i]
		p.condense(u, in.point, w)
		p.posterior(in.point, w) // succeeded at this point before
		v, slope := m.regressed(w)
		unit := Unit{Label: u.label, Rows: u.rows, Effects: multiply(in.lift, v, p.q, p.q, 1)}
		if p.q > 0 {
			unit.Conditional = symmetrised(congruence(in.lift, w.c, p.q, p.q), p.q)
			extra := congruence(multiply(in.lift, slope, p.q, p.q, p.p), in.solved.phi, p.q, p.p)
			unit.Error = symmetrised(extra, p.q)
			unit.Error.AddSym(unit.Error, unit.Conditional)
		}
		if p.layout.GroupIntercept {
			for _, g := range u.groups {
				pull := in.point.between * g.rows / (in.point.residual + g.rows*in.point.between)
				z, xy := g.mean[:p.q], g.mean[p.q:]
				variance := in.point.between*in.point.residual/(in.point.residual+g.rows*in.point.between) +
					pull*pull*quadratic(z, w.c, z)
				unit.Groups = append(unit.Groups, Group{
					Label: g.label, Rows: int(g.rows),
					Effect:      y * pull * (dot(xy, in.solved.residual) - dot(z, v)),
					Conditional: y * y * variance,
				})
			}
		}
		out[i] = unit
	}
	return out
}

// regressed gives, after posterior, the random effects (internal units) and
// their regression on the fixed columns, q x p.
func (m *Model) regressed(w *workspace) (v, slope []float64) {
	p := m.problem
	v, slope = make([]float64, p.q), make([]float64, p.q*p.p)
	for i := range p.q {
		row := w.b[i*p.m+p.q : (i+1)*p.m]
		v[i] = dot(row, m.inner.solved.residual)
		copy(slope[i*p.p:(i+1)*p.p], row)
	}
	return v, slope
}

// UnitCoefficient is a unit's own coefficient: fixed effect plus random effect.
type UnitCoefficient struct {
	Unit     string
	Estimate float64
	// StdError is of the estimate less the unit's true coefficient, with fixed
	// and random effects' errors and their covariance (Henderson 1975);
	// variance parameters are taken as known.
	StdError float64
}

// UnitCoefficients gives each unit's coefficient of a term that is both fixed
// and random, in the order of labels: the partially pooled estimates. It fails
// with ErrTerm.
func (m *Model) UnitCoefficients(term string) ([]UnitCoefficient, error) {
	fixed, random := slices.Index(m.Layout.Fixed, term), slices.Index(m.Layout.Random, term)
	if fixed < 0 || random < 0 {
		return nil, fmt.Errorf("mixed: %w: %q is not both fixed and random", ErrTerm, term)
	}
	p, in := m.problem, m.inner
	w := p.newWorkspace()
	lift := in.lift[random*p.q : (random+1)*p.q]
	out := make([]UnitCoefficient, len(p.units))
	for i := range p.units {
		p.condense(&p.units[i], in.point, w)
		p.posterior(in.point, w)
		v, slope := m.regressed(w)
		// back beta + lift v, whose error in beta is (back - lift slope)(beta^ - beta).
		x := multiply(lift, slope, 1, p.q, p.p)
		for j := range x {
			x[j] = in.back[fixed*p.p+j] - x[j]
		}
		out[i] = UnitCoefficient{
			Unit:     p.units[i].label,
			Estimate: m.Estimates[fixed] + dot(lift, v),
			StdError: math.Sqrt(quadratic(x, in.solved.phi, x) + quadratic(lift, w.c, lift)),
		}
	}
	return out, nil
}

// Correlation gives the correlation of two random effects between units. ok is
// false when one of them has no variance: the correlation is not defined then.
// It fails with ErrTerm.
func (m *Model) Correlation(a, b string) (r float64, ok bool, err error) {
	i, j := slices.Index(m.Layout.Random, a), slices.Index(m.Layout.Random, b)
	if i < 0 || j < 0 {
		return 0, false, fmt.Errorf("mixed: %w: %q and %q are not both random", ErrTerm, a, b)
	}
	r, ok = correlation(m.Random, i, j)
	return r, ok, nil
}

func correlation(s *mat.SymDense, i, j int) (float64, bool) {
	d := math.Sqrt(s.At(i, i)) * math.Sqrt(s.At(j, j))
	if !(d > 0) {
		return 0, false
	}
	return math.Max(-1, math.Min(1, s.At(i, j)/d)), true
}

// SD gives the standard deviation of a random effect between units. It fails
// with ErrTerm.
func (m *Model) SD(term string) (float64, error) {
	i := slices.Index(m.Layout.Random, term)
	if i < 0 {
		return 0, fmt.Errorf("mixed: %w: %q is not random", ErrTerm, term)
	}
	return math.Sqrt(m.Random.At(i, i)), nil
}

// Prediction is what is expected of a unit that was not among the rows.
type Prediction struct {
	Mean              float64 // of all units: x' b
	StdError          float64 // of Mean
	DF                float64 // of StdError, by Satterthwaite
	ConfLow, ConfHigh float64 // for the mean of all units
	// SD is that of one new response about Mean: the square root of
	// x' Cov(b) x + z' S z + t^2 + s^2. The interval takes it with PredictDF
	// degrees of freedom (Satterthwaite for the sum of variances).
	SD, PredictDF           float64
	PredictLow, PredictHigh float64
	// UnitSD is that of a new unit's own mean at these values, sqrt of
	// x' Cov(b) x + z' S z, with its interval likewise.
	UnitSD, UnitDF    float64
	UnitLow, UnitHigh float64
}

// PredictNew predicts for a new unit (and a new group in it) at a row of values
// in the order of Layout.Columns. Errors: ErrShape, *[NotFiniteError] (or
// ErrNotFinite when the prediction overflows), ErrArgument for the level.
func (m *Model) PredictNew(row []float64, level float64) (Prediction, error) {
	columns := m.Layout.Columns()
	if len(row) != len(columns) {
		return Prediction{}, fmt.Errorf("mixed: %w: a row has %d values, the layout %d columns", ErrShape, len(row), len(columns))
	}
	for j, v := range row {
		if notFinite(v) {
			return Prediction{}, &NotFiniteError{Column: columns[j], Value: v}
		}
	}
	if err := checkLevel(level); err != nil {
		return Prediction{}, err
	}
	p, in := m.problem, m.inner
	out := Prediction{Mean: dot(row[:p.p], m.Estimates)}
	x := multiply(row[:p.p], in.back, 1, p.p, p.p)
	z := make([]float64, p.q)
	for i, name := range m.Layout.Random {
		z[i] = row[slices.Index(columns, name)]
	}
	z = multiply(z, in.lift, 1, p.q, p.q)
	g := make([]float64, in.pieces.n)
	for a, t := range in.pieces.t {
		g[a] = m.sandwiched(x, t)
	}
	interval := func(variance float64, slope []float64) (sd, df, low, high float64) {
		sd = math.Sqrt(variance)
		df = m.satterthwaite(variance, m.toFree(slope))
		_, low, high = student(out.Mean, sd, df, level)
		return sd, df, low, high
	}
	variance := quadratic(x, in.solved.phi, x)
	out.StdError, out.DF, out.ConfLow, out.ConfHigh = interval(variance, g)

	own := multiply(z, in.point.factor, 1, p.q, p.q)
	variance += dot(own, own)
	for a, c := range p.components {
		if c != groupComponent {
			c.each(func(i, j int) { g[a] += z[i] * z[j] })
		}
	}
	out.UnitSD, out.UnitDF, out.UnitLow, out.UnitHigh = interval(variance, g)

	y2 := p.vars[p.m-1].scale * p.vars[p.m-1].scale
	variance += y2 * (in.point.between + in.point.residual)
	if p.layout.GroupIntercept {
		g[len(p.components)-1] += y2
	}
	g[len(g)-1] += y2
	out.SD, out.PredictDF, out.PredictLow, out.PredictHigh = interval(variance, g)
	for _, v := range []float64{out.Mean, out.StdError, out.SD, out.PredictHigh - out.PredictLow} {
		if notFinite(v) {
			return Prediction{}, fmt.Errorf("mixed: %w: the prediction overflows", ErrNotFinite)
		}
	}
	return out, nil
}
