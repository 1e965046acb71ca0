package analyse

import (
	"math"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/stats/linear"
)

// usualRate is a swimmer's usual stroke rate by pace: ln R = level + slope x,
// x = ln v - ln v_ref. The cheapest rate moves with pace, and so does the
// usual one: rates are compared with it and not with each other.
type usualRate struct {
	referenceMPS float64
	level, slope float64
}

// FewestUsual is how many bouts at a rate of the swimmer's own choice make a
// usual; with fewer, all bouts stand for it.
const FewestUsual = 8

// newUsualRate finds the usual rate from bouts whose rate was the swimmer's
// own: nothing set beforehand, or told to swim as usual. Bouts of unknown
// counting basis take no part.
func newUsualRate(bouts []*derive.Bout, referenceMPS float64) usualRate {
	u := usualRate{referenceMPS: referenceMPS}
	var own, all []*derive.Bout
	for _, b := range bouts {
		if b.Basis == study.UnknownBasis {
			continue
		}
		all = append(all, b)
		instructed := b.Tags.Instruction != "" && b.Tags.Instruction != "usual"
		if !instructed && math.IsNaN(b.Tags.RateTargetSPM) {
			own = append(own, b)
		}
	}
	if len(own) < FewestUsual {
		own = all
	}
	if len(own) == 0 {
		return u
	}
	lnRate, x, one := make([]float64, len(own)), make([]float64, len(own)), make([]float64, len(own))
	for i, b := range own {
		lnRate[i], x[i], one[i] = math.Log(b.StrokeRateSPM), u.pace(b), 1
	}
	u.level = mean(lnRate)
	m, err := linear.Fit(linear.Problem{Response: lnRate, Terms: []string{"level", "slope"}, Columns: [][]float64{one, x}})
	if err != nil || len(m.Estimates) < 2 {
		return u // all at one pace, or all at one rate
	}
	u.level, u.slope = m.Estimates[0], m.Estimates[1]
	return u
}

func (u usualRate) pace(b *derive.Bout) float64 { return math.Log(b.SpeedMPS / u.referenceMPS) }

// relative is r = ln R - ln R_usual for each row. Where the counting basis is
// unknown the level is too: such bouts are taken about their session's mean.
func (u usualRate) relative(r *rows) []float64 {
	rate := make([]float64, len(r.lnRate))
	var sum, n = make([]float64, r.sessions), make([]float64, r.sessions)
	for i := range rate {
		rate[i] = r.lnRate[i] - u.level - u.slope*r.lnSpeed[i]
		if r.bouts[i].Basis == study.UnknownBasis {
			sum[r.session[i]] += rate[i]
			n[r.session[i]]++
		}
	}
	for i := range rate {
		if r.bouts[i].Basis == study.UnknownBasis {
			rate[i] -= sum[r.session[i]] / n[r.session[i]]
		}
	}
	return rate
}
