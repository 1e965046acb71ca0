package analyse

import (
	"cmp"
	"math"
	"slices"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/linear"
	"lengthwise/stats/pooled"
	"lengthwise/stats/resample"
)

// What shares are read over.
const (
	overSessions = "within-sessions"
	overPaces    = "all-paces"
)

// RateLength is one swimmer's curve of rate and length over speed, with what the
// squad's shares need of it.
type RateLength struct {
	Shares []schemas.RateLengthSpeed // within sessions, over all paces
	Curve  []schemas.RateLengthCurve

	content uint64 // hash of the bouts' numbers: an order free of names
}

const (
	// fewestCurve bouts in fewestCurveSessions sessions make a curve, and speeds
	// must spread by leastSpeedSpread in ln (standard deviation).
	fewestCurve         = 12
	fewestCurveSessions = 3
	leastSpeedSpread    = 0.01
	curvePoints         = 5
)

// rateLength asks how stroke rate and distance per stroke make speed, where the
// swimmer chose them: ln R on ln v and ln D on ln v, whose slopes sum to 1 since
// v = R D/60. They are the shares of a small gain in speed that come from rate and
// from length. Heart rate takes no part, so that bouts without one count too.
// Bouts with equipment are left out: it alters the length of a stroke.
func rateLength(bouts []derive.Bout, s *study.Study) []RateLength {
	var out []RateLength
	for _, stroke := range s.Analysis.Strokes {
		own := ownChoice(bouts, stroke)
		if len(own) == 0 {
			continue
		}
		c := newSpeedCurve(own)
		l := RateLength{content: resample.SeedOf(s.Seed, "rate-length/"+stroke, c.lnRate, c.lnSpeed)}
		base := schemas.RateLengthSpeed{Scope: OneSwimmer, Swimmer: bouts[0].Swimmer, Stroke: stroke, Swimmers: 1}
		l.Shares = []schemas.RateLengthSpeed{c.share(base, overSessions), c.share(base, overPaces)}
		if l.Shares[1].RateShare != nil {
			l.Curve = c.points(schemas.RateLengthCurve{Swimmer: bouts[0].Swimmer, Stroke: stroke})
		}
		out = append(out, l)
	}
	return out
}

// ownChoice picks the bouts of a stroke whose rate was the swimmer's own.
func ownChoice(bouts []derive.Bout, stroke string) []*derive.Bout {
	var own []*derive.Bout
	for i := range bouts {
		b := &bouts[i]
		told := b.Tags.Instruction != "" && b.Tags.Instruction != "usual"
		if b.Stroke == stroke && b.StrokeRateSPM > 0 && !told && math.IsNaN(b.Tags.RateTargetSPM) && b.Tags.Equipment == "" {
			own = append(own, b)
		}
	}
	return own
}

// speedCurve is the bouts of one swimmer and stroke by column.
type speedCurve struct {
	bouts           []*derive.Bout
	session         []int
	sessions        int
	lnRate, lnSpeed []float64
	pools           []string // the commonest first
}

func newSpeedCurve(bouts []*derive.Bout) speedCurve {
	c := speedCurve{bouts: bouts, pools: valuesOf(bouts, poolName)}
	codes := map[string]int{}
	for _, b := range bouts {
		if _, known := codes[b.Session]; !known {
			codes[b.Session] = len(codes)
		}
		c.session = append(c.session, codes[b.Session])
		c.lnRate = append(c.lnRate, math.Log(b.StrokeRateSPM))
		c.lnSpeed = append(c.lnSpeed, math.Log(b.SpeedMPS))
	}
	c.sessions = len(codes)
	return c
}

// share is the slope of ln rate on ln speed over sessions or all paces.
func (c speedCurve) share(row schemas.RateLengthSpeed, over string) schemas.RateLengthSpeed {
	row.Over, row.Bouts, row.Sessions, row.PooledOver = over, int32(len(c.bouts)), int32(c.sessions), c.pooledOver()
	slowest, fastest := 100/math.Exp(slices.Min(c.lnSpeed)), 100/math.Exp(slices.Max(c.lnSpeed))
	row.SlowestSPer100M, row.FastestSPer100M = &slowest, &fastest
	refuse := func(reason string) schemas.RateLengthSpeed {
		row.Reason = &reason
		return row
	}
	var w warnings
	if over == overPaces {
		if n := c.unknownBasis(); n > 0 {
			return refuse("it is not known what was counted in " + count(n, "bout"))
		}
		w.add("day differs from day in more than pace")
	}
	row.Warnings = w.String()
	if len(c.bouts) < fewestCurve || c.sessions < fewestCurveSessions {
		return refuse(count(len(c.bouts), "bout") + " at a rate of the swimmer's own choice in " + count(c.sessions, "session"))
	}
	p := c.problem(0, 1)
	if over == overSessions {
		p.Terms, p.Columns, p.Absorb = p.Terms[1:2], p.Columns[1:2], c.session
	}
	if spread := c.spread(p.Absorb != nil); spread < leastSpeedSpread {
		return refuse("speed hardly differs between these bouts")
	}
	m, err := linear.Fit(p)
	if err != nil {
		return refuse("no fit: " + plain(err))
	}
	covariance, err := m.Clustered(linear.CR2)
	if err != nil {
		return refuse("no fit: " + plain(err))
	}
	e, err := m.Coefficient(termCurveSpeed, covariance, level)
	if err != nil || !(e.StdError > 0) || e.DF < 2 {
		return refuse("too few sessions tell of it")
	}
	length, low, high := 1-e.Estimate, 1-e.ConfHigh, 1-e.ConfLow
	row.RateShare, row.RateShareLow, row.RateShareHigh = &e.Estimate, &e.ConfLow, &e.ConfHigh
	row.LengthShare, row.LengthShareLow, row.LengthShareHigh = &length, &low, &high
	row.StdError, row.DF = &e.StdError, &e.DF
	return row
}

const termCurveSpeed = "ln_speed"

// problem regresses ln rate on powers of ln speed about x, with a level for each
// pool.
func (c speedCurve) problem(x float64, degree int) linear.Problem {
	n := len(c.bouts)
	columns := make([][]float64, 1+degree)
	for k := range columns {
		columns[k] = make([]float64, n)
		for i, v := range c.lnSpeed {
			columns[k][i] = math.Pow(v-x, float64(k))
		}
	}
	p := linear.Problem{Response: c.lnRate, Terms: []string{"level", termCurveSpeed, "ln_speed_squared"}[:1+degree], Columns: columns, Cluster: c.session}
	for _, pool := range c.pools[1:] {
		column := make([]float64, n)
		for i, b := range c.bouts {
			if poolName(b) == pool {
				column[i] = 1
			}
		}
		p.Terms, p.Columns = append(p.Terms, "pool "+pool), append(p.Columns, column)
	}
	return p
}

// spread is the standard deviation of ln speed, about the sessions' means where
// within.
func (c speedCurve) spread(within bool) float64 {
	sum, n := make([]float64, c.sessions), make([]float64, c.sessions)
	for i, v := range c.lnSpeed {
		at := 0
		if within {
			at = c.session[i]
		}
		sum[at] += v
		n[at]++
	}
	var squares float64
	for i, v := range c.lnSpeed {
		at := 0
		if within {
			at = c.session[i]
		}
		d := v - sum[at]/n[at]
		squares += d * d
	}
	return math.Sqrt(squares / float64(len(c.lnSpeed)))
}

func (c speedCurve) unknownBasis() int {
	n := 0
	for _, b := range c.bouts {
		if b.Basis == study.UnknownBasis {
			n++
		}
	}
	return n
}

// pooledOver names what differs among the bouts and bears on rate and length.
func (c speedCurve) pooledOver() string {
	keys := countKeys(c.bouts)
	for k, key := range pooledKeys() {
		if key.name == "heart-rate source" || key.name == "heart-rate method" {
			keys[k] = nil
		}
	}
	return keys.String()
}

// points reads rate and length off a quadratic at evenly spaced speeds within
// those swum (one bout in twenty lies beyond at either end).
func (c speedCurve) points(row schemas.RateLengthCurve) []schemas.RateLengthCurve {
	low, high := quantile(c.lnSpeed, 0.05), quantile(c.lnSpeed, 0.95)
	row.PoolM = c.bouts[slices.IndexFunc(c.bouts, func(b *derive.Bout) bool { return poolName(b) == c.pools[0] })].PoolM
	row.Bouts, row.Sessions = int32(len(c.bouts)), int32(c.sessions)
	var out []schemas.RateLengthCurve
	for k := range curvePoints {
		x := low + (high-low)*float64(k)/(curvePoints-1)
		m, err := linear.Fit(c.problem(x, 2))
		if err != nil {
			return nil
		}
		covariance, err := m.Clustered(linear.CR2)
		if err != nil {
			return nil
		}
		e, err := m.Coefficient("level", covariance, level)
		if err != nil || !(e.StdError > 0) || e.DF < 2 {
			continue
		}
		speed := math.Exp(x)
		row.Point, row.SpeedMPS, row.PaceSPer100M = int32(k+1), speed, derive.Pace(speed)
		row.StrokeRateSPM, row.StrokeRateLowSPM, row.StrokeRateHighSPM = math.Exp(e.Estimate), math.Exp(e.ConfLow), math.Exp(e.ConfHigh)
		row.DistancePerStrokeM = 60 * speed / row.StrokeRateSPM
		row.DistancePerStrokeLowM, row.DistancePerStrokeHighM = 60*speed/row.StrokeRateHighSPM, 60*speed/row.StrokeRateLowSPM
		out = append(out, row)
	}
	return out
}

// rateLengthTables joins the swimmers' rows and pools the shares over the squad.
func rateLengthTables(swimmers []RateLength, s *study.Study) (shares []schemas.RateLengthSpeed, curves []schemas.RateLengthCurve) {
	for _, l := range swimmers {
		shares, curves = append(shares, l.Shares...), append(curves, l.Curve...)
	}
	for _, stroke := range s.Analysis.Strokes {
		var family []RateLength
		for _, l := range swimmers {
			if l.Shares[0].Stroke == stroke {
				family = append(family, l)
			}
		}
		if len(family) == 0 {
			continue
		}
		slices.SortStableFunc(family, func(a, b RateLength) int { return cmp.Compare(a.content, b.content) })
		for k, over := range []string{overSessions, overPaces} {
			shares = append(shares, poolSpeedShares(family, k, schemas.RateLengthSpeed{Scope: WholeSquad, Stroke: stroke, Over: over}))
		}
	}
	return shares, curves
}

// poolSpeedShares pools the swimmers' shares: random effects by REML, bias-reduced.
func poolSpeedShares(family []RateLength, k int, row schemas.RateLengthSpeed) schemas.RateLengthSpeed {
	var estimates, variances []float64
	for _, l := range family {
		own := l.Shares[k]
		if own.RateShare == nil {
			continue
		}
		estimates, variances = append(estimates, *own.RateShare), append(variances, *own.StdError**own.StdError)
		row.Bouts, row.Sessions = row.Bouts+own.Bouts, row.Sessions+own.Sessions
		if row.SlowestSPer100M == nil || *own.SlowestSPer100M > *row.SlowestSPer100M {
			row.SlowestSPer100M = own.SlowestSPer100M
		}
		if row.FastestSPer100M == nil || *own.FastestSPer100M < *row.FastestSPer100M {
			row.FastestSPer100M = own.FastestSPer100M
		}
	}
	row.Swimmers = int32(len(estimates))
	fit, err := pooled.Fit(estimates, variances, squadAverage())
	if len(estimates) < 2 || err != nil {
		reason := "fewer than two swimmers have enough bouts"
		row.Reason = &reason
		return row
	}
	var w warnings
	for _, text := range fit.Warnings {
		w.add(text)
	}
	row.Warnings = w.String()
	length, low, high := 1-fit.Estimate, 1-fit.ConfHigh, 1-fit.ConfLow
	row.RateShare, row.RateShareLow, row.RateShareHigh = &fit.Estimate, &fit.ConfLow, &fit.ConfHigh
	row.LengthShare, row.LengthShareLow, row.LengthShareHigh = &length, &low, &high
	row.StdError, row.DF = &fit.StdError, &fit.DF
	row.PredictLow, row.PredictHigh = finite(fit.PredictLow), finite(fit.PredictHigh)
	return row
}
