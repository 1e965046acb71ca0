package analyse

import (
	"math"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/stats/linear"
)

// usualRate is a swimmer's usual stroke rate by pace and pool: ln R = level +
// slope x + pool, x = ln v - ln v_ref. The cheapest rate moves with pace, and so
// does the usual one: rates are compared with it and not with each other. A rate
// over whole lengths is lower in a shorter pool, where more of each length is
// glide, so that pools have a level each.
type usualRate struct {
	referenceMPS float64
	level, slope float64
	pool         map[float64]float64 // what a pool adds to the level; that of most bouts adds 0
	own          bool                // from bouts at a rate of the swimmer's own choice
	set          bool                // from the middle of the rates set

	bouts []*derive.Bout // that it was found from

	// set: variances of the level, ln rate, at the middle pace, and of the slope.
	setVariance, middlePace, slopeVariance float64
	heldVariance                           float64 // of the mean of the rates swum over those set
}

// FewestUsual is how many bouts at a rate of the swimmer's own choice make a
// usual; with fewer, all bouts stand for it.
const FewestUsual = 8

// newUsualRate finds the usual rate from bouts whose rate was the swimmer's
// own: nothing set beforehand, or told to swim as usual. Bouts of unknown
// counting basis take no part. With too few of them the middle of the rates set
// stands for the usual one, and where rates were not set in numbers, all bouts do.
// A pool in which no bout was the swimmer's own has the level of all bouts in it.
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
	u.own = len(own) >= FewestUsual
	if !u.own {
		if set, ok := usualFromSet(all, u); ok {
			return set
		}
		own = all
	}
	if len(own) == 0 {
		return u
	}
	u.bouts = own
	lnRate := make([]float64, len(own))
	for i, b := range own {
		lnRate[i] = math.Log(b.StrokeRateSPM)
	}
	u.level = mean(lnRate)
	if m, err := u.fit(0); err == nil {
		for i, term := range m.Terms {
			switch term {
			case "level":
				u.level = m.Estimates[i]
			case "slope":
				u.slope = m.Estimates[i]
			}
		}
	} // else all at one pace, or all at one rate
	u.pool = u.pools(all)
	return u
}

// pools finds what each pool adds, from the bouts that the usual rate was found
// from where it has any, else from all.
func (u usualRate) pools(all []*derive.Bout) map[float64]float64 {
	sum := func(bouts []*derive.Bout) (added, count map[float64]float64) {
		added, count = map[float64]float64{}, map[float64]float64{}
		for _, b := range bouts {
			added[b.PoolM] += math.Log(b.StrokeRateSPM) - u.level - u.slope*u.pace(b)
			count[b.PoolM]++
		}
		return added, count
	}
	added, count := sum(u.bouts)
	every, everyCount := sum(all)
	if len(everyCount) == 1 {
		return nil // the level is its own
	}
	out := map[float64]float64{}
	for pool, n := range everyCount {
		out[pool] = every[pool] / n
		if count[pool] > 0 {
			out[pool] = added[pool] / count[pool]
		}
	}
	return out
}

// fit regresses ln rate on pace about ln v = ln v_ref + x and on the pool, the
// commonest first.
func (u usualRate) fit(x float64) (*linear.Model, error) {
	n := len(u.bouts)
	lnRate, pace, one, session := make([]float64, n), make([]float64, n), make([]float64, n), make([]int, n)
	codes := map[string]int{}
	for i, b := range u.bouts {
		lnRate[i], pace[i], one[i] = math.Log(b.StrokeRateSPM), u.pace(b)-x, 1
		if _, known := codes[b.Session]; !known {
			codes[b.Session] = len(codes)
		}
		session[i] = codes[b.Session]
	}
	p := linear.Problem{Response: lnRate, Terms: []string{"level", "slope"}, Columns: [][]float64{one, pace}, Cluster: session}
	for i, pool := range valuesOf(u.bouts, poolName) {
		if i == 0 {
			continue
		}
		column := make([]float64, n)
		for j, b := range u.bouts {
			if poolName(b) == pool {
				column[j] = 1
			}
		}
		p.Terms, p.Columns = append(p.Terms, "pool "+pool), append(p.Columns, column)
	}
	return linear.Fit(p)
}

// variance is that of the usual ln rate at pace x in the commonest pool, by
// sessions, with its degrees of freedom. From the rates set it is how those
// at the ends scatter; where all bouts stand for the usual rate it is 0, for that
// is no estimate of anything, and so it is where it cannot be told.
func (u usualRate) variance(x float64) (variance, df float64) {
	if !u.own {
		away := x - u.middlePace
		return u.setVariance + away*away*u.slopeVariance, math.Inf(1)
	}
	m, err := u.fit(x)
	if err != nil {
		return 0, math.Inf(1)
	}
	c, err := m.Clustered(linear.CR2)
	if err != nil || !(c.DF[0] > 0) {
		c = m.Classical()
	}
	return c.Matrix.At(0, 0), c.DF[0]
}

// summedDF is the degrees of freedom of a sum of two independent variances
// (Satterthwaite 1946).
func summedDF(a, aDF, b, bDF float64) float64 {
	if b == 0 {
		return aDF
	}
	return (a + b) * (a + b) / (a*a/aDF + b*b/bDF)
}

func (u usualRate) pace(b *derive.Bout) float64 { return math.Log(b.SpeedMPS / u.referenceMPS) }

// at is the usual ln rate at pace x in a pool.
func (u usualRate) at(x, pool float64) float64 { return u.level + u.slope*x + u.pool[pool] }

// relative is r = ln R - ln R_usual for each row. Where the counting basis is
// unknown the level is too: such bouts are taken about their session's mean.
func (u usualRate) relative(r *rows) []float64 {
	rate := make([]float64, len(r.lnRate))
	var sum, n = make([]float64, r.sessions), make([]float64, r.sessions)
	for i := range rate {
		rate[i] = r.lnRate[i] - u.at(r.lnSpeed[i], r.bouts[i].PoolM)
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
