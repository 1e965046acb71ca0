package mixed_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"lengthwise/stats/mixed"
)

// rowsOf is a set of invented rows, kept whole for the textbook's road.
type rowsOf struct {
	layout        mixed.Layout
	units, groups []string
	columns       [][]float64
	y             []float64
}

func (r rowsOf) sums(t testing.TB) *mixed.Sums {
	t.Helper()
	return summed(t, r.layout, r.units, r.groups, r.columns, r.y)
}

func (r rowsOf) column(name string) []float64 {
	for j, c := range r.layout.Columns() {
		if c == name {
			return r.columns[j]
		}
	}
	return nil
}

// invent makes unbalanced rows with columns 1, a, b and the random ones of the
// layout, variances as given.
func invent(r *rand.Rand, l mixed.Layout, units int, effectSD, groupSD, residualSD float64) rowsOf {
	out := rowsOf{layout: l, columns: make([][]float64, len(l.Columns()))}
	for u := range units {
		effects := make([]float64, len(l.Random))
		for i := range effects {
			effects[i] = effectSD * r.NormFloat64()
			if i > 0 && !l.Independent {
				effects[i] += 0.4 * effects[0]
			}
		}
		for g := range 2 + r.IntN(3) {
			shift := groupSD * r.NormFloat64()
			for range 2 + r.IntN(4) {
				values := map[string]float64{"1": 1, "a": r.NormFloat64(), "b": 2 + 0.5*r.NormFloat64(), "c": r.Float64()}
				y := 10 + shift + residualSD*r.NormFloat64()
				for k, name := range l.Fixed {
					y += float64(k) * values[name]
				}
				for k, name := range l.Random {
					y += effects[k] * values[name]
				}
				out.units = append(out.units, fmt.Sprintf("u%d", u))
				out.groups = append(out.groups, fmt.Sprintf("g%d", g))
				for j, name := range l.Columns() {
					out.columns[j] = append(out.columns[j], values[name])
				}
				out.y = append(out.y, y)
			}
		}
	}
	return out
}

var layouts = map[string]mixed.Layout{
	"intercept":           {Fixed: []string{"1", "a"}, Random: []string{"1"}},
	"slope only":          {Fixed: []string{"1", "a"}, Random: []string{"a"}},
	"correlated":          {Fixed: []string{"1", "a", "b"}, Random: []string{"1", "a"}},
	"independent":         {Fixed: []string{"1", "a", "b"}, Random: []string{"1", "b"}, Independent: true},
	"nested":              {Fixed: []string{"1", "a"}, Random: []string{"1"}, GroupIntercept: true},
	"nested, correlated":  {Fixed: []string{"1", "a", "b"}, Random: []string{"1", "a", "b"}, GroupIntercept: true},
	"nested, independent": {Fixed: []string{"1", "a"}, Random: []string{"1", "a"}, Independent: true, GroupIntercept: true},
	"no constant":         {Fixed: []string{"a", "b"}, Random: []string{"b"}, GroupIntercept: true},
	"random column apart": {Fixed: []string{"1", "a"}, Random: []string{"1", "c"}, GroupIntercept: true},
	"groups only":         {Fixed: []string{"1", "a"}, GroupIntercept: true},
}

// dense is the textbook's likelihood: V written out, factorised, inverted.
type dense struct {
	x, v, inverse *mat.Dense
	beta          *mat.VecDense
	phi           mat.Dense // (X' V^-1 X)^-1
	criterion     float64
	residual      *mat.VecDense // y - X beta
}

// covariances: random is q x q, variances of group and residual.
func (r rowsOf) covariance(random mat.Matrix, group, residual float64) *mat.Dense {
	n := len(r.y)
	v := mat.NewDense(n, n, nil)
	for i := range n {
		for j := range n {
			var s float64
			if r.units[i] == r.units[j] {
				for a, p := range r.layout.Random {
					for b, q := range r.layout.Random {
						s += r.column(p)[i] * random.At(a, b) * r.column(q)[j]
					}
				}
				if r.groups[i] == r.groups[j] && r.layout.GroupIntercept {
					s += group
				}
			}
			if i == j {
				s += residual
			}
			v.Set(i, j, s)
		}
	}
	return v
}

func (r rowsOf) dense(random mat.Matrix, group, residual float64, method mixed.Method) dense {
	n, p := len(r.y), len(r.layout.Fixed)
	x := mat.NewDense(n, p, nil)
	for j, name := range r.layout.Fixed {
		x.SetCol(j, r.column(name))
	}
	y := mat.NewVecDense(n, r.y)
	d := dense{x: x, v: r.covariance(random, group, residual), inverse: new(mat.Dense), beta: new(mat.VecDense), residual: new(mat.VecDense)}
	if err := d.inverse.Inverse(d.v); err != nil {
		panic(err)
	}
	var vx, xvx mat.Dense
	vx.Mul(d.inverse, x)
	xvx.Mul(x.T(), &vx)
	if err := d.phi.Inverse(&xvx); err != nil {
		panic(err)
	}
	var xvy mat.VecDense
	xvy.MulVec(vx.T(), y)
	d.beta.MulVec(&d.phi, &xvy)
	d.residual.MulVec(x, d.beta)
	d.residual.SubVec(y, d.residual)
	var vr mat.VecDense
	vr.MulVec(d.inverse, d.residual)
	logV, _ := mat.LogDet(d.v)
	d.criterion = logV + mat.Dot(d.residual, &vr) + float64(n)*math.Log(2*math.Pi)
	if method == mixed.REML {
		logX, _ := mat.LogDet(&xvx)
		d.criterion += logX - float64(p)*math.Log(2*math.Pi)
	}
	return d
}

func randomOf(m *mixed.Model) mat.Matrix {
	if m.Random == nil {
		return mat.NewDense(1, 1, nil)
	}
	return m.Random
}

// TestEqualsTextbook: at the estimates the dense likelihood, generalised least
// squares and Henderson's predictors agree with the fast road, and no step away
// from them in any parameter lowers the dense likelihood.
func TestEqualsTextbook(t *testing.T) {
	for name, l := range layouts {
		for _, method := range []mixed.Method{mixed.REML, mixed.ML} {
			t.Run(name+"/"+method.String(), func(t *testing.T) {
				data := invent(rand.New(rand.NewPCG(7, uint64(len(name)))), l, 8, 2, 1.5, 1)
				m := fitted(t, data.sums(t), method)
				g2, s2 := m.GroupSD*m.GroupSD, m.ResidualSD*m.ResidualSD
				d := data.dense(randomOf(m), g2, s2, method)
				near(t, "criterion", m.Criterion, d.criterion, 1e-11, 1)
				for i := range m.Estimates {
					near(t, "estimate", m.Estimates[i], d.beta.AtVec(i), 1e-9, 1e-3)
					for j := range m.Estimates {
						near(t, "covariance", m.Covariance.At(i, j), d.phi.At(i, j), 1e-9, 1e-3)
					}
				}
				data.compareEffects(t, m, d)

				// Every direction from here goes up (a step beyond the boundary is none).
				r := rand.New(rand.NewPCG(1, 2))
				for range 12 {
					random := mat.DenseCopyOf(randomOf(m))
					for i := range l.Random {
						for j := range i + 1 {
							if i == j || !l.Independent {
								step := 0.01 * r.NormFloat64() * math.Sqrt(random.At(i, i)*random.At(j, j))
								random.Set(i, j, random.At(i, j)+step)
								random.Set(j, i, random.At(i, j))
							}
						}
					}
					var e mat.EigenSym
					if len(l.Random) > 0 && e.Factorize(symmetric(random), false) && e.Values(nil)[0] < 0 {
						continue
					}
					near := data.dense(random, math.Abs(g2*(1+0.01*r.NormFloat64())), s2*(1+0.01*r.NormFloat64()), method)
					if near.criterion < d.criterion-1e-10 {
						t.Fatalf("a step away the criterion is lower by %v", d.criterion-near.criterion)
					}
				}
			})
		}
	}
}

func symmetric(a *mat.Dense) *mat.SymDense {
	n, _ := a.Dims()
	out := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			out.SetSym(i, j, a.At(i, j))
		}
	}
	return out
}

// compareEffects checks random effects and their covariances against the joint
// normal distribution of effects and rows.
func (r rowsOf) compareEffects(t *testing.T, m *mixed.Model, d dense) {
	t.Helper()
	n, q, p := len(r.y), len(r.layout.Random), len(r.layout.Fixed)
	g2 := m.GroupSD * m.GroupSD
	var vr mat.VecDense
	vr.MulVec(d.inverse, d.residual)
	for _, u := range m.Units() {
		if q > 0 {
			c := mat.NewDense(q, n, nil) // Cov(effects, y)
			for i := range n {
				if r.units[i] != u.Label {
					continue
				}
				for a := range q {
					var s float64
					for b, name := range r.layout.Random {
						s += m.Random.At(a, b) * r.column(name)[i]
					}
					c.Set(a, i, s)
				}
			}
			var effects mat.VecDense
			effects.MulVec(c, &vr)
			var cv, ccv, k, kpk mat.Dense
			cv.Mul(c, d.inverse)
			ccv.Mul(&cv, c.T())
			k.Mul(&cv, d.x)
			kpk.Product(&k, &d.phi, k.T())
			for a := range q {
				near(t, "effect", u.Effects[a], effects.AtVec(a), 1e-8, 1e-2)
				for b := range q {
					conditional := m.Random.At(a, b) - ccv.At(a, b)
					near(t, "conditional", u.Conditional.At(a, b), conditional, 1e-8, 1e-1)
					near(t, "error", u.Error.At(a, b), conditional+kpk.At(a, b), 1e-8, 1e-1)
				}
			}
			for k, term := range r.layout.Fixed {
				for a, name := range r.layout.Random {
					if name != term {
						continue
					}
					own, err := m.UnitCoefficients(term)
					if err != nil {
						t.Fatal(err)
					}
					for _, o := range own {
						if o.Unit != u.Label {
							continue
						}
						near(t, "own coefficient", o.Estimate, d.beta.AtVec(k)+effects.AtVec(a), 1e-8, 1e-2)
						x := mat.NewVecDense(p, nil)
						x.SetVec(k, 1)
						row := mat.NewVecDense(p, mat.Row(nil, a, multiplied(&cv, d.x)))
						x.SubVec(x, row)
						variance := mat.Inner(x, &d.phi, x) + m.Random.At(a, a) - ccv.At(a, a)
						near(t, "its error", o.StdError, math.Sqrt(variance), 1e-8, 0)
					}
				}
			}
		}
		for _, g := range u.Groups {
			c := mat.NewVecDense(n, nil)
			rows := 0
			for i := range n {
				if r.units[i] == u.Label && r.groups[i] == g.Label {
					c.SetVec(i, g2)
					rows++
				}
			}
			near(t, "group effect", g.Effect, mat.Dot(c, &vr), 1e-8, 1e-2)
			near(t, "group conditional", g.Conditional, g2-mat.Inner(c, d.inverse, c), 1e-8, 1e-1)
			if rows != g.Rows {
				t.Errorf("group of %d rows, want %d", g.Rows, rows)
			}
		}
	}
}

func multiplied(a, b mat.Matrix) *mat.Dense {
	var out mat.Dense
	out.Mul(a, b)
	return &out
}

// TestSatterthwaiteEqualsNumericalDerivatives takes the Hessian of the dense
// criterion and the gradient of the variance of a coefficient by differences.
func TestSatterthwaiteEqualsNumericalDerivatives(t *testing.T) {
	l := layouts["nested"]
	for _, method := range []mixed.Method{mixed.REML, mixed.ML} {
		data := invent(rand.New(rand.NewPCG(21, 4)), l, 8, 2, 1.5, 1)
		m := fitted(t, data.sums(t), method)
		at := []float64{m.Random.At(0, 0), m.GroupSD * m.GroupSD, m.ResidualSD * m.ResidualSD}
		f := func(v []float64) dense {
			return data.dense(mat.NewDense(1, 1, v[:1]), v[1], v[2], method)
		}
		shifted := func(i, j int, a, b float64) dense {
			v := append([]float64(nil), at...)
			v[i] += a * at[i]
			v[j] += b * at[j]
			return f(v)
		}
		const h = 1e-3
		hessian := mat.NewDense(3, 3, nil)
		for i := range 3 {
			for j := range 3 {
				hessian.Set(i, j, (shifted(i, j, h, h).criterion-shifted(i, j, h, -h).criterion-
					shifted(i, j, -h, h).criterion+shifted(i, j, -h, -h).criterion)/(4*h*h*at[i]*at[j]))
			}
		}
		var a mat.Dense
		if err := a.Inverse(hessian); err != nil {
			t.Fatal(err)
		}
		rows, err := m.Coefficients(mixed.Satterthwaite, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		for c := range rows {
			g := mat.NewVecDense(3, nil)
			for i := range 3 {
				up, down := shifted(i, i, h, 0), shifted(i, i, -h, 0)
				g.SetVec(i, (up.phi.At(c, c)-down.phi.At(c, c))/(2*h*at[i]))
			}
			v := m.Covariance.At(c, c)
			near(t, "df", rows[c].DF, v*v/mat.Inner(g, &a, g), 1e-4, 0)
		}
	}
}
