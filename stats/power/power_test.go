package power

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// Values by R 4.2.2: 1 - pt(q, df, delta) + pt(-q, df, delta) with q = qt(.975, df).
func TestAgainstR(t *testing.T) {
	for _, c := range []struct{ delta, df, want float64 }{
		{2, 5, 0.3681575141}, {3, 9, 0.7611566204}, {1, 4, 0.1222491521}, {0, 7, 0.05},
		{4.5, 23, 0.9904939342}, {2.8, 200, 0.7957597219}, {3.2, 2, 0.4233347255},
	} {
		got, err := T(c.delta, c.df, 0.05)
		if err != nil || math.Abs(got-c.want) > 1e-9 {
			t.Errorf("T(%v, %v) = %.10f, %v; R has %.10f", c.delta, c.df, got, err, c.want)
		}
		if mirrored, _ := T(-c.delta, c.df, 0.05); math.Abs(mirrored-got) > 1e-12 {
			t.Errorf("T(-%v) = %v, want %v", c.delta, mirrored, got)
		}
	}
}

// The formula against draws.
func TestAgainstDraws(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	const n = 40_000
	for _, c := range []struct{ delta, df, alpha float64 }{{1.5, 3, 0.05}, {2.5, 11, 0.01}, {2, math.Inf(1), 0.05}} {
		critical := distuv.UnitNormal.Quantile(1 - c.alpha/2)
		chi2 := distuv.ChiSquared{K: c.df, Src: r}
		if !math.IsInf(c.df, 1) {
			critical = distuv.StudentsT{Sigma: 1, Nu: c.df}.Quantile(1 - c.alpha/2)
		}
		found := 0
		for range n {
			s := 1.0
			if !math.IsInf(c.df, 1) {
				s = math.Sqrt(chi2.Rand() / c.df)
			}
			if math.Abs(r.NormFloat64()+c.delta) > critical*s {
				found++
			}
		}
		want, err := T(c.delta, c.df, c.alpha)
		share := float64(found) / n
		if err != nil || math.Abs(share-want) > 4*math.Sqrt(want*(1-want)/n) {
			t.Errorf("%+v: %v of draws, by formula %v (%v)", c, share, want, err)
		}
	}
}

func TestNoSuchTest(t *testing.T) {
	for _, c := range [][3]float64{{math.NaN(), 5, 0.05}, {math.Inf(1), 5, 0.05}, {1, 0, 0.05}, {1, -1, 0.05}, {1, math.NaN(), 0.05}, {1, 5, 0}, {1, 5, 1}, {1, 5, math.NaN()}} {
		if v, err := T(c[0], c[1], c[2]); !errors.Is(err, ErrInput) || !math.IsNaN(v) {
			t.Errorf("T(%v) = %v, %v", c, v, err)
		}
	}
	for _, delta := range []float64{1e3, 1e300} {
		if v, err := T(delta, 3, 0.05); err != nil || v < 0.999 {
			t.Errorf("T(%v) = %v, %v", delta, v, err)
		}
	}
	for _, df := range []float64{1e-3, 0.5, 1e6, 1e9} {
		if v, err := T(2, df, 0.05); err != nil || !(v >= 0 && v <= 1) {
			t.Errorf("df %v: %v, %v", df, v, err)
		}
	}
}

func TestSize(t *testing.T) {
	asked := 0
	grows := func(n int) float64 { asked++; return float64(n) / 100 }
	if n, ok := Size(2, 100, 0.8, grows); !ok || n != 80 || asked > 10 {
		t.Errorf("%d, %v after %d questions", n, ok, asked)
	}
	if _, ok := Size(2, 70, 0.8, grows); ok {
		t.Error("a size that is not there")
	}
	if _, ok := Size(5, 4, 0, grows); ok {
		t.Error("an empty range")
	}
}
