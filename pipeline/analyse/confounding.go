package analyse

import (
	"math"

	"lengthwise/schemas"
	"lengthwise/stats/linear"
)

// What an unseen cause is measured against.
const (
	BenchmarkMinutes = "minutes"
	BenchmarkPace    = "pace"
)

// asStrongAs is how strong an unseen cause is taken to be against a benchmark.
const asStrongAs = 1

// confounding says of the slope on stroke rate in a fitted model what an unseen
// cause as strong as the minutes, or as the pace, would leave of it (Cinelli and
// Hazlett 2020, section 4.4). Rows have no names yet.
func (r *rows) confounding(m *linear.Model) []schemas.Confounding {
	ordinary, err := m.Coefficient(termRate, m.Classical(), level)
	if err != nil || m.Exact {
		return nil
	}
	df := float64(m.DFResidual)
	value, err := linear.RobustnessValue(ordinary.Statistic, df)
	if err != nil {
		return nil
	}
	terms, columns := r.curved() // holds those of the straight model too
	kept := map[string]bool{}
	for _, term := range m.Terms {
		kept[term] = true
	}
	// left is the sum of squares that the model's terms leave of a response,
	// but for those in without.
	left := func(response []float64, without ...string) float64 {
		out := map[string]bool{}
		for _, term := range without {
			out[term] = true
		}
		p := linear.Problem{Response: response, Absorb: r.session}
		for i, term := range terms {
			if kept[term] && !out[term] {
				p.Terms, p.Columns = append(p.Terms, term), append(p.Columns, columns[i])
			}
		}
		fit, err := linear.Fit(p)
		if err != nil {
			return math.NaN()
		}
		return fit.Sigma * fit.Sigma * float64(fit.DFResidual)
	}
	rate, cost := left(r.rate, termRate), left(r.cost)
	var out []schemas.Confounding
	for _, b := range []struct {
		name  string
		terms []string
	}{{BenchmarkMinutes, []string{termMinutes}}, {BenchmarkPace, []string{termSpeed, termSpeedSquared}}} {
		ofRate := 1 - rate/left(r.rate, append(b.terms, termRate)...)
		ofCost := 1 - cost/left(r.cost, b.terms...)
		bound, err := linear.AsStrongAs(asStrongAs, math.Max(0, ofRate), math.Max(0, ofCost))
		if err != nil {
			continue
		}
		remains, err := bound.Adjusted(ordinary.Estimate, ordinary.StdError, df)
		if err != nil {
			continue
		}
		out = append(out, schemas.Confounding{Benchmark: b.name, EffectPer10Pct: ordinary.Estimate * per10Percent, RobustnessValue: value,
			BenchmarkRate: math.Max(0, ofRate), BenchmarkCost: math.Max(0, ofCost), BoundRate: bound.Term, BoundCost: bound.Response,
			EffectLeft: remains * per10Percent})
	}
	return out
}

// confounders names the rows of an answer whose bouts hold observed ones.
func (a *Answer) confounders(r *rows, m *linear.Model) {
	if a.Row.Design == string(Designed) {
		return
	}
	a.confounding = r.confounding(m)
	for i := range a.confounding {
		c := &a.confounding[i]
		c.Swimmer, c.Stroke, c.Design = a.Row.Swimmer, a.Row.Stroke, a.Row.Design
	}
}
