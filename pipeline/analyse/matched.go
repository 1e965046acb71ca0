package analyse

import (
	"lengthwise/pipeline/study"
	"lengthwise/stats/concordance"
	"lengthwise/stats/linear"
	"lengthwise/stats/resample"
)

// tieTolerance is how close two adjusted values must be to tie: rounding
// error of values of order one to a hundred.
const tieTolerance = 1e-9

// concordance fills in the matched-pace concordance: of the pairs of bouts of
// one session, pool, stratum, kick and equipment whose speeds differ by at most matched_pace,
// the share in which the bout of fewer strokes costs less.
//
// Stroke count and cost are both adjusted for pace and minutes by the
// swimmer's own slopes first: at a pace that differs by up to 2 % the faster
// bout has both more strokes and more cost or less of either, so that plain
// pairs do not read one half where nothing is there.
func (a *Answer) concordance(r *rows, s *study.Study, w *warnings) {
	strokes, err := r.adjusted(r.lnStrokes)
	if err != nil {
		return
	}
	cost, err := r.adjusted(r.cost)
	if err != nil {
		return
	}
	pairs, err := concordance.NewPairs(r.session, func(i, j int) bool { return r.matched(i, j, s) })
	if err != nil || pairs.Len() == 0 {
		return
	}
	a.Row.Pairs = int32(pairs.Len())
	tally, err := pairs.Count(strokes, cost, tieTolerance)
	if err != nil {
		return
	}
	estimate, err := tally.Estimate()
	if err != nil {
		return
	}
	a.Row.Concordance = &estimate
	a.matched = tally
	if interval, err := tally.Interval(level); err == nil {
		a.Row.ConcordanceLow, a.Row.ConcordanceHigh = &interval.Low, &interval.High
	} else {
		w.add("pairs from too few sessions for an interval of the concordance")
	}
	null, err := pairs.Null(strokes, cost, tieTolerance, s.Analysis.Permutations, resample.SeedOf(s.Seed, "concordance null", strokes, cost))
	if err == nil {
		a.Row.ConcordanceNull, a.Row.ConcordanceP = &null.Mean, &null.P
	}
}

// adjusted returns what pace, drift, stratum and session leave of y.
func (r *rows) adjusted(y []float64) ([]float64, error) {
	m, err := linear.Fit(linear.Problem{Response: y, Terms: r.terms, Columns: r.columns, Absorb: r.session})
	if err != nil {
		return nil, err
	}
	return m.Residuals, nil
}
