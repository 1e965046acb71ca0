package stats_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"lengthwise/stats/concordance"
	"lengthwise/stats/linear"
	"lengthwise/stats/mixed"
	"lengthwise/stats/pooled"
)

// coverageFrom gives, by interval, the sessions from which it covers 0.93 to 0.97
// with 20 to 40 swimmers.
var coverageFrom = map[string]int{
	"slope of a swimmer": 2, "pooled slope": 2, "SD of slopes": 6, "slope of a further swimmer": 3,
	"concordance of a swimmer": 2, "pooled concordance": 2, "SD of concordances": 6,
	"slope": 2, "slope, Kenward-Roger": 2, "SD of intercepts": 2, "SD of slopes, mixed": 2,
	"correlation": 2, "SD of sessions": 2, "residual SD": 2,
}

var twoStepSizes = sizesOf([]int{20, 30, 40}, []int{2, 3, 4, 6, 8, 12})

func studies() []study {
	return []study{slopeStudy(), concordanceStudy(0.5), concordanceStudy(0.65), concordanceStudy(0.8), mixedStudy()}
}

func holds(low, truth, high float64) float64 {
	if low <= truth && truth <= high {
		return 1
	}
	return 0
}

// slopeStudy is the two-step road: a slope for each swimmer, with sessions absorbed
// and CR2 by session, then random effects.
func slopeStudy() study {
	const mean, between, bySession = 0.5, 0.3, 0.15
	return study{
		title: "Two steps: slopes",
		about: "y = session + slope x + e, slopes N(0.5, 0.3) over swimmers and N(0, 0.15) over a swimmer's sessions,\n" +
			"e N(0, 1), 6 to 12 bouts a session. Each swimmer: linear.Fit with sessions absorbed, CR2 by session,\n" +
			"Satterthwaite. Squad: pooled.Fit by REML, Hartung-Knapp, Q-profile, prediction interval.",
		sizes: twoStepSizes,
		names: []string{"slope of a swimmer", "pooled slope", "SD of slopes", "slope of a further swimmer"},
		draw: func(r *rand.Rand, swimmers, sessions int) ([]float64, error) {
			own := 0.
			var estimates, variances []float64
			for range swimmers {
				slope := mean + between*r.NormFloat64()
				var x, y []float64
				var session []int
				for s := range sessions {
					here, level := slope+bySession*r.NormFloat64(), r.NormFloat64()
					for range 6 + r.IntN(7) {
						v := r.NormFloat64()
						x, session = append(x, v), append(session, s)
						y = append(y, level+here*v+r.NormFloat64())
					}
				}
				m, err := linear.Fit(linear.Problem{Response: y, Terms: []string{"x"}, Columns: [][]float64{x}, Absorb: session, Cluster: session})
				if err != nil {
					return nil, err
				}
				v, err := m.Clustered(linear.CR2)
				if err != nil {
					return nil, err
				}
				c := m.Coefficients(v, 0.95)[0]
				own += holds(c.ConfLow, slope, c.ConfHigh) / float64(swimmers)
				estimates, variances = append(estimates, c.Estimate), append(variances, c.StdError*c.StdError)
			}
			f, err := pooled.Fit(estimates, variances, pooled.Options{Test: pooled.HartungKnapp})
			if err != nil {
				return nil, err
			}
			return []float64{
				own, holds(f.ConfLow, mean, f.ConfHigh), holds(f.Tau2Low, between*between, f.Tau2High),
				holds(f.PredictLow, mean+between*r.NormFloat64(), f.PredictHigh),
			}, nil
		},
	}
}

// concordanceStudy is the same road for the concordance, whose true value lies about
// centre.
func concordanceStudy(centre float64) study {
	const between, bySession = 0.06, 0.04
	// A share of normal pairs is 1/2 + asin(rho)/pi (Kruskal 1958, JASA 53:814).
	rho := func(share float64) float64 { return math.Sin(math.Pi * (share - 0.5)) }
	clamp := func(share float64) float64 { return math.Min(0.99, math.Max(0.01, share)) }
	return study{
		title: fmt.Sprintf("Two steps: concordance about %.2f", centre),
		about: fmt.Sprintf("Concordance N(%.2f, 0.06) over swimmers and N(0, 0.04) over a swimmer's sessions, 6 to 14 bouts a session\n"+
			"(some swimmers swim more), pairs when a third value lies close (about half of them). Each swimmer: Tally.Interval.\n"+
			"Squad: pooled.Fit by REML, Hartung-Knapp and Q-profile, with concordance.CommonVariances.", centre),
		sizes: twoStepSizes,
		names: []string{"concordance of a swimmer", "pooled concordance", "SD of concordances"},
		draw: func(r *rand.Rand, swimmers, sessions int) ([]float64, error) {
			own, counted := 0., 0.
			var estimates []float64
			var tallies []concordance.Tally
			for range swimmers {
				share := centre + between*r.NormFloat64()
				fewest := 6 + r.IntN(5)
				var a, b, third []float64
				var session []int
				for s := range sessions {
					c := rho(clamp(share + bySession*r.NormFloat64()))
					for range fewest + r.IntN(5) {
						v := r.NormFloat64()
						a, b = append(a, v), append(b, c*v+math.Sqrt(1-c*c)*r.NormFloat64())
						third, session = append(third, r.Float64()), append(session, s)
					}
				}
				tally, err := concordance.Count(session, a, b, func(i, j int) bool { return math.Abs(third[i]-third[j]) < 0.3 }, 0)
				if err != nil {
					return nil, err
				}
				e, err := tally.Estimate()
				if err != nil {
					return nil, err
				}
				tallies, estimates = append(tallies, tally), append(estimates, e)
				interval, err := tally.Interval(0.95)
				var same *concordance.NoVariationError
				if errors.As(err, &same) {
					counted++ // no interval counts as a miss
					continue
				}
				if err != nil {
					return nil, err
				}
				counted++
				own += holds(interval.Low, share, interval.High)
			}
			variances, err := concordance.CommonVariances(tallies)
			if err != nil {
				return nil, err
			}
			f, err := pooled.Fit(estimates, variances, pooled.Options{Test: pooled.HartungKnapp})
			if err != nil {
				return nil, err
			}
			return []float64{own / counted, holds(f.ConfLow, centre, f.ConfHigh), holds(f.Tau2Low, between*between, f.Tau2High)}, nil
		},
	}
}

// mixedStudy is the one-step road.
func mixedStudy() study {
	const slope, unitSD, slopeSD, correlation, sessionSD, residualSD = 0.5, 2., 0.8, 0.3, 1., 1.5
	truth := []struct {
		q mixed.Parameter
		v float64
	}{
		{mixed.Parameter{Kind: mixed.UnitSD, Term: "1"}, unitSD},
		{mixed.Parameter{Kind: mixed.UnitSD, Term: "a"}, slopeSD},
		{mixed.Parameter{Kind: mixed.UnitCorrelation, Term: "1", Other: "a"}, correlation},
		{mixed.Parameter{Kind: mixed.GroupSD}, sessionSD},
		{mixed.Parameter{Kind: mixed.ResidualSD}, residualSD},
	}
	return study{
		title: "One step: mixed model",
		about: "y = 10 + 0.5 a + (v0 + v1 a) + c + e by swimmer and session: SDs 2 and 0.8 (correlation 0.3) between swimmers,\n" +
			"1 between sessions, 1.5 within, 3 to 6 bouts a session. mixed.Fit by REML; slope by Satterthwaite and\n" +
			"Kenward-Roger, the rest by profile; a correlation that is not defined counts as missed.",
		// Profiles take their time: fewer sizes of the larger squads.
		sizes: slices.Concat([]size{{8, 2}, {8, 6}, {12, 6}},
			sizesOf([]int{20}, []int{2, 3, 4, 6, 8, 12}), sizesOf([]int{30, 40}, []int{2, 4, 8})),
		names: []string{"slope", "slope, Kenward-Roger", "SD of intercepts", "SD of slopes, mixed", "correlation", "SD of sessions", "residual SD"},
		draw: func(r *rand.Rand, swimmers, sessions int) ([]float64, error) {
			s, err := mixed.NewSums(mixed.Layout{Fixed: []string{"1", "a"}, Random: []string{"1", "a"}, GroupIntercept: true})
			if err != nil {
				return nil, err
			}
			for u := range swimmers {
				z := r.NormFloat64()
				v0, v1 := unitSD*z, slopeSD*(correlation*z+math.Sqrt(1-correlation*correlation)*r.NormFloat64())
				for g := range sessions {
					c := sessionSD * r.NormFloat64()
					for range 3 + r.IntN(4) {
						a := r.NormFloat64()
						y := 10 + slope*a + v0 + v1*a + c + residualSD*r.NormFloat64()
						if err := s.Add(fmt.Sprint(u), fmt.Sprint(g), []float64{1, a}, y); err != nil {
							return nil, err
						}
					}
				}
			}
			m, err := mixed.Fit(s, mixed.Options{})
			if err != nil {
				return nil, err
			}
			var held []float64
			for _, a := range []mixed.Approximation{mixed.Satterthwaite, mixed.KenwardRoger} {
				rows, err := m.Coefficients(a, 0.95)
				if err != nil {
					return nil, err
				}
				held = append(held, holds(rows[1].ConfLow, slope, rows[1].ConfHigh))
			}
			for _, p := range truth {
				interval, err := m.Profile(p.q, 0.95)
				switch {
				case errors.Is(err, mixed.ErrNoVariance):
					held = append(held, 0)
				case err != nil:
					return nil, fmt.Errorf("%v: %w", p.q, err)
				default:
					held = append(held, holds(interval.Low, p.v, interval.High))
				}
			}
			return held, nil
		},
	}
}
