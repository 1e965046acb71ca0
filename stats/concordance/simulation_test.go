package concordance_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"lengthwise/stats/concordance"
)

// TestSimulation draws 400 subjects of 12 blocks of 10 rows. With nothing
// between a and b the mean estimate is one half to three Monte-Carlo standard
// errors, and p of at most 0.05 happens to 0.048 of subjects (measured on
// 12,000; ties of the statistic cost a little), here within three standard
// errors of that. With a shared part the mean is the concordance
// 1/2 + asin(rho)/pi of normal pairs (Kruskal 1958, JASA 53:814). Intervals: 400
// subjects, 0.95 to four standard errors of a share.
func TestSimulation(t *testing.T) {
	const subjects = 400
	for _, rho := range []float64{0, 0.6} {
		truth := 0.5 + math.Asin(rho)/math.Pi
		r := rand.New(rand.NewPCG(9, uint64(100*rho)))
		var mean, square, covered, significant float64
		for k := range subjects {
			d := draw(r, 12, 10, rho)
			p, err := concordance.NewPairs(d.block, nil)
			if err != nil {
				t.Fatal(err)
			}
			tally, err := p.Count(d.a, d.b, 0)
			if err != nil {
				t.Fatal(err)
			}
			estimate, err1 := tally.Estimate()
			interval, err2 := tally.Interval(0.95)
			null, err3 := p.Null(d.a, d.b, 0, 199, uint64(k))
			if err := errors.Join(err1, err2, err3); err != nil {
				t.Fatal(err)
			}
			mean += estimate / subjects
			square += estimate * estimate / subjects
			if interval.Low <= truth && truth <= interval.High {
				covered += 1. / subjects
			}
			if null.P <= 0.05 {
				significant += 1. / subjects
			}
		}
		se := math.Sqrt((square - mean*mean) / subjects)
		t.Logf("rho %v: mean %.4f (SE %.4f) of %.4f, coverage %.3f, significant %.3f", rho, mean, se, truth, covered, significant)
		if math.Abs(mean-truth) > 3*se {
			t.Errorf("rho %v: mean %.4f, want %.4f within three SE of %.4f", rho, mean, truth, se)
		}
		if covered < 0.906 || covered > 0.994 {
			t.Errorf("rho %v: interval covers %.3f, want 0.95", rho, covered)
		}
		if rho == 0 && (significant < 0.016 || significant > 0.08) || rho > 0 && significant < 0.9 {
			t.Errorf("rho %v: p under 0.05 in %.3f", rho, significant)
		}
	}
}

// draw makes blocks of normal pairs with correlation rho.
func draw(r *rand.Rand, blocks, size int, rho float64) rows {
	var d rows
	for k := range blocks {
		for range size {
			a := r.NormFloat64()
			d.add(k, a, rho*a+math.Sqrt(1-rho*rho)*r.NormFloat64())
		}
	}
	return d
}
