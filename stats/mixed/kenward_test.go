package mixed_test

import (
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"lengthwise/stats/mixed"
)

// TestKenwardRogerEqualsTextbook writes out the matrices of Kenward and Roger
// (1997) for all rows.
func TestKenwardRogerEqualsTextbook(t *testing.T) {
	for name, l := range layouts {
		t.Run(name, func(t *testing.T) {
			data := invent(rand.New(rand.NewPCG(9, uint64(len(name)))), l, 7, 1.5, 1, 1)
			m := fitted(t, data.sums(t), mixed.REML)
			d := data.dense(randomOf(m), m.GroupSD*m.GroupSD, m.ResidualSD*m.ResidualSD, mixed.REML)
			// Derivatives of V in each component.
			q := len(l.Random)
			var derivatives []*mat.Dense
			for i := range q {
				for j := i; j < q; j++ {
					if i != j && l.Independent {
						continue
					}
					e := mat.NewDense(q, q, nil)
					e.Set(i, j, 1)
					e.Set(j, i, 1)
					derivatives = append(derivatives, data.covariance(e, 0, 0))
				}
			}
			zero := mat.NewDense(max(q, 1), max(q, 1), nil)
			if l.GroupIntercept {
				derivatives = append(derivatives, data.covariance(zero, 1, 0))
			}
			derivatives = append(derivatives, data.covariance(zero, 0, 1))
			k := len(derivatives)
			a := make([]*mat.Dense, k) // V^-1 V_a
			pm := make([]*mat.Dense, k)
			for i, v := range derivatives {
				a[i] = multiplied(d.inverse, v)
				pm[i] = multiplied(d.x.T(), multiplied(a[i], multiplied(d.inverse, d.x)))
			}
			information := mat.NewDense(k, k, nil)
			qm := make([][]*mat.Dense, k)
			for i := range k {
				qm[i] = make([]*mat.Dense, k)
				for j := range k {
					qm[i][j] = multiplied(d.x.T(), multiplied(a[i], multiplied(a[j], multiplied(d.inverse, d.x))))
					information.Set(i, j, mat.Trace(multiplied(a[i], a[j]))-2*mat.Trace(multiplied(&d.phi, qm[i][j]))+
						mat.Trace(multiplied(multiplied(&d.phi, pm[i]), multiplied(&d.phi, pm[j]))))
				}
			}
			var w mat.Dense
			if err := w.Inverse(information); err != nil {
				t.Fatal(err)
			}
			w.Scale(2, &w)
			p := len(l.Fixed)
			sum := mat.NewDense(p, p, nil)
			for i := range k {
				for j := range k {
					var term mat.Dense
					term.Sub(qm[i][j], multiplied(pm[i], multiplied(&d.phi, pm[j])))
					term.Scale(w.At(i, j), &term)
					sum.Add(sum, &term)
				}
			}
			sum.Scale(2, sum)
			adjusted := multiplied(&d.phi, multiplied(sum, &d.phi))
			adjusted.Add(adjusted, &d.phi)
			got, err := m.AdjustedCovariance()
			if err != nil {
				t.Fatal(err)
			}
			rows, err := m.Coefficients(mixed.KenwardRoger, 0.9)
			if err != nil {
				t.Fatal(err)
			}
			for i := range p {
				for j := range p {
					near(t, "adjusted covariance", got.At(i, j), adjusted.At(i, j), 1e-7, 1e-3)
				}
				var s float64
				v := d.phi.At(i, i)
				for x := range k {
					for y := range k {
						tx := multiplied(&d.phi, multiplied(pm[x], &d.phi)).At(i, i) / v
						ty := multiplied(&d.phi, multiplied(pm[y], &d.phi)).At(i, i) / v
						s += w.At(x, y) * tx * ty
					}
				}
				near(t, "df", rows[i].DF, 2/s, 1e-7, 0)
			}
		})
	}
}
