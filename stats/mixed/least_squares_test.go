package mixed_test

import (
	"math/rand/v2"
	"testing"

	"lengthwise/stats/linear"
	"lengthwise/stats/mixed"
)

// TestZeroVariancesEqualLeastSquares: when all variances between units and groups
// are estimated at zero, everything equals the linear model.
func TestZeroVariancesEqualLeastSquares(t *testing.T) {
	l := mixed.Layout{Fixed: []string{"1", "a", "b"}, Random: []string{"1", "a"}, GroupIntercept: true}
	data := invent(rand.New(rand.NewPCG(5, 5)), l, 10, 0, 0, 1)
	// Noise that balances out within every group, and along a within every unit.
	data.balance()
	m := fitted(t, data.sums(t), mixed.REML)
	if m.GroupSD != 0 || m.RandomRank != 0 || len(m.Check.Boundary) != 3 {
		t.Fatalf("group sd %v, rank %d, %d scores: want zeros and 3", m.GroupSD, m.RandomRank, len(m.Check.Boundary))
	}
	for _, b := range m.Check.Boundary {
		if b.Score < 0 {
			t.Errorf("score of %s is %v", b.Component, b.Score)
		}
	}
	want, err := linear.Fit(linear.Problem{Response: data.y, Terms: l.Fixed, Columns: data.columns})
	if err != nil {
		t.Fatal(err)
	}
	rows, err := m.Coefficients(mixed.Satterthwaite, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for i, w := range want.Coefficients(want.Classical(), 0.95) {
		near(t, "estimate", rows[i].Estimate, w.Estimate, 1e-10, 0)
		near(t, "standard error", rows[i].StdError, w.StdError, 1e-10, 0)
		near(t, "df", rows[i].DF, w.DF, 1e-9, 0)
		near(t, "p", rows[i].PValue, w.PValue, 1e-7, 0)
		near(t, "low", rows[i].ConfLow, w.ConfLow, 1e-9, 0)
	}
	for _, u := range m.Units() {
		for _, e := range u.Effects {
			if e != 0 {
				t.Errorf("effect %v of %s, want 0", e, u.Label)
			}
		}
	}
}

// balance replaces the response by 3 + a + noise whose sums by group, and whose
// products with a by unit, are zero.
func (r *rowsOf) balance() {
	random := rand.New(rand.NewPCG(8, 8))
	a := r.column("a")
	noise := make([]float64, len(r.y))
	for i := range noise {
		noise[i] = random.NormFloat64()
	}
	// Project, by alternating, on both sets of constraints.
	for range 400 {
		sum, count := map[string]float64{}, map[string]float64{}
		for i := range noise {
			key := r.units[i] + r.groups[i]
			sum[key] += noise[i]
			count[key]++
		}
		for i := range noise {
			key := r.units[i] + r.groups[i]
			noise[i] -= sum[key] / count[key]
		}
		product, square := map[string]float64{}, map[string]float64{}
		for i := range noise {
			product[r.units[i]] += noise[i] * a[i]
			square[r.units[i]] += a[i] * a[i]
		}
		for i := range noise {
			noise[i] -= a[i] * product[r.units[i]] / square[r.units[i]]
		}
	}
	for i := range noise {
		r.y[i] = 3 + a[i] + noise[i]
	}
}
