package analyse

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/schemas"
	"lengthwise/stats/pooled"
)

// What stands behind a difference between the mixed model and the two-stage
// result, as the table spells it.
const (
	differsSwimmers = "swimmers" // swimmers of too little data, who are in the mixed model alone
	differsCounts   = "counts"   // slopes that the two-stage result corrects for counting error
	differsCurve    = "curve"    // slopes that the two-stage result reads from curves
	differsWeights  = "weights"  // swimmers weighed by their own scatter over sessions, or by one scatter for all
	differsSeveral  = "several"  // no single step takes most of it away
	differsWidth    = "width"    // the estimates agree and the intervals do not
)

const (
	// differBy is the distance of the two estimates, in standard errors of the
	// surer one, from which they are said to differ. Both rest on the same
	// bouts, so that they agree far better than their intervals. Our own choice.
	differBy = 0.5
	// widerBy is the ratio of the intervals' widths from which they are said to
	// differ. Our own choice.
	widerBy = 1.5
	// mostOf is the share of the distance that a step must take away to stand
	// behind most of it.
	mostOf = 0.5
)

// difference says what stands behind a difference between the mixed model and
// the two-stage result, and what the changed one of the two then reads; nothing
// when they agree. It is measured and not guessed: each step from one to the
// other is fitted, and the one that takes most of the distance away is named.
func (m *squadModel) difference(family []*Answer, two schemas.ScoreOverall) (what string, changed *float64) {
	if two.Estimate == nil || two.ConfLow == nil || two.ConfHigh == nil || two.StdError == nil {
		return "", nil
	}
	if math.Abs(m.effect.Estimate-*two.Estimate) > differBy*math.Min(m.effect.StdError, *two.StdError) {
		return m.step(family, *two.Estimate)
	}
	width, other := m.effect.ConfHigh-m.effect.ConfLow, *two.ConfHigh-*two.ConfLow
	decided := func(low, high float64) bool { return low > 0 || high < 0 }
	if width > widerBy*other || other > widerBy*width ||
		decided(m.effect.ConfLow, m.effect.ConfHigh) != decided(*two.ConfLow, *two.ConfHigh) {
		return differsWidth, nil
	}
	return "", nil
}

// step names the first step that takes most of the distance away.
func (m *squadModel) step(family []*Answer, two float64) (what string, changed *float64) {
	most := mostOf * math.Abs(m.effect.Estimate-two)
	var enough []*Answer
	for _, a := range family {
		if a.enough {
			enough = append(enough, a)
		}
	}
	if same, err := fitSquad(enough, variantOf{}); err == nil && len(same.units) < len(m.units) {
		if math.Abs(same.effect.Estimate-two) <= most {
			return differsSwimmers, &same.effect.Estimate
		}
	}
	for _, step := range []struct {
		name string
		of   func(*Answer) (estimate, stdError float64)
	}{
		{differsCounts, (*Answer).plainEffect},
		{differsCurve, func(a *Answer) (float64, float64) { return a.share.straight.Estimate, a.share.straight.StdError }},
		{differsWeights, func(a *Answer) (float64, float64) { return a.share.straight.Estimate, a.share.ordinary.StdError }},
	} {
		if v, ok := poolOver(enough, step.of); ok && math.Abs(m.effect.Estimate-v) <= most {
			return step.name, &v
		}
	}
	return differsSeveral, nil
}

// plainEffect is the two-stage number as the counts stand.
func (a *Answer) plainEffect() (estimate, stdError float64) {
	row := a.Row
	if row.EffectPlain == nil || row.EffectPlainLow == nil || row.EffectPlainHigh == nil {
		return a.effect.Estimate, a.effect.StdError
	}
	return *row.EffectPlain, (*row.EffectPlainHigh - *row.EffectPlainLow) / 2 / studentQuantile(a.effect.DF)
}

// poolOver pools a slope of the swimmers as the two-stage result pools its own.
func poolOver(family []*Answer, of func(*Answer) (estimate, stdError float64)) (float64, bool) {
	var estimates, variances []float64
	for _, a := range family {
		if a.share != nil && a.share.hasStraight {
			estimate, stdError := of(a)
			estimates, variances = append(estimates, estimate), append(variances, stdError*stdError)
		}
	}
	if len(estimates) < 2 {
		return 0, false
	}
	fit, err := pooled.Fit(estimates, variances, squadAverage())
	return fit.Estimate, err == nil
}

// studentQuantile is the half width of a 95 % interval in standard errors.
func studentQuantile(df float64) float64 {
	if math.IsInf(df, 1) {
		return distuv.UnitNormal.Quantile((1 + level) / 2)
	}
	return distuv.StudentsT{Sigma: 1, Nu: df}.Quantile((1 + level) / 2)
}
