package analyse

import (
	"math"
	"sort"
	"strconv"
	"time"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/stats/linear"
)

// fewestInSession is how many comparable bouts make a session's level, and
// offReference how far from the reference pace, in ln v, a session may stay and
// still have a cost there (our own choices).
const (
	fewestInSession = 3
	offReference    = 0.05
)

// sessionLevels is what each of a swimmer's sessions costs at the reference
// pace, its middle minute and the usual rate, from bouts of comparable
// conditions. Slopes are those within sessions, so that good days do not pass
// for fast ones.
type sessionLevels struct {
	sessions   []sessionLevel // in order of swimming
	left       []leftSession  // those without a level, in order of swimming
	order      []leftSession  // all of them, in order of swimming, without reasons
	dropped    map[string]int // bouts left out, by reason
	conditions string         // what the sessions' bouts share
	reference  float64        // m/s
	low, high  float64        // ln v over the reference: 10th and 90th percentile swum
	curve      [2]float64     // slopes on x and x^2
	sigma2     float64        // residual variance of a bout
	df         float64        // its degrees of freedom
	between    float64        // variance of sessions' true levels
}

// sessionLevel is one session's.
type sessionLevel struct {
	id, date string
	day      float64 // days since 1970-01-01; NaN without a date
	bouts    int
	cost     float64 // at the reference pace
	variance float64 // of cost about the session's true level
	usual    float64 // what the other sessions cost there, on average, fitted without this one
	apart    float64 // cost, by the fit without this session, minus usual
	stdError float64 // of apart; NaN where it cannot be had
	phase    string  // the squad's own note, where all its bouts agree
}

// leftSession is a session without a level, and why.
type leftSession struct {
	id, date, reason string
	bouts            int
}

// conditions is what bouts of different sessions must share for their costs to
// be compared: pool, and how heart rate was read.
func conditions(b *derive.Bout, costMeasure string) string {
	pool := strconv.FormatFloat(math.Round(b.PoolM*100)/100, 'f', -1, 64) + " m"
	switch {
	case b.CostStratum == "":
		return pool
	case (study.Cost{Measure: costMeasure}).ReadsHeartRate() && derive.SteadyStratum(b.CostStratum):
		return pool + ", " + b.HRSource
	}
	return pool + ", " + b.CostStratum
}

// newSessionLevels fits them; ok is false where fewer than two sessions have
// one. Bouts are the usable ones of one stroke in order of swimming.
func newSessionLevels(bouts []*derive.Bout, s *study.Study) (*sessionLevels, bool) {
	l := &sessionLevels{dropped: map[string]int{}}
	usual := newUsualRate(bouts, referenceSpeed(bouts, s))
	l.reference = usual.referenceMPS
	for _, b := range bouts {
		if n := len(l.order); n == 0 || l.order[n-1].id != b.Session {
			l.order = append(l.order, leftSession{id: b.Session, date: b.LocalDate})
		}
		l.order[len(l.order)-1].bouts++
	}
	kept := l.comparable(bouts, s)
	if len(kept) == 0 {
		return l, false
	}
	l.conditions = conditions(kept[0], s.Cost.Measure)
	kept = l.withEnough(bouts, kept, usual)
	r := newRows(kept, usual, s, All)
	if r.sessions < 2 {
		return l, false
	}
	l.layTerms(r, s)
	m, err := linear.Fit(linear.Problem{Response: r.cost, Terms: r.terms, Columns: r.columns, Absorb: r.session})
	if err != nil || m.Exact {
		return l, false
	}
	l.fill(r, m)
	return l, true
}

// comparable keeps the bouts of the commonest conditions.
func (l *sessionLevels) comparable(bouts []*derive.Bout, s *study.Study) []*derive.Bout {
	of := func(b *derive.Bout) string { return conditions(b, s.Cost.Measure) }
	keep := func(bouts []*derive.Bout, of func(*derive.Bout) string, why string) []*derive.Bout {
		if len(bouts) == 0 {
			return nil
		}
		commonest := valuesOf(bouts, of)[0]
		var kept []*derive.Bout
		for _, b := range bouts {
			if of(b) == commonest {
				kept = append(kept, b)
			} else {
				l.dropped[why]++
			}
		}
		return kept
	}
	return keep(keep(bouts, of, "in another pool, or heart rate read in another way"), equipmentOf, "with other equipment")
}

// withEnough keeps the bouts of sessions that have enough of them and are swum
// near the reference pace, and says of the others why they are left out.
func (l *sessionLevels) withEnough(all, comparable []*derive.Bout, usual usualRate) []*derive.Bout {
	n, total := map[string]int{}, map[string]int{}
	low, high := map[string]float64{}, map[string]float64{}
	for _, b := range comparable {
		x := usual.pace(b)
		if n[b.Session] == 0 {
			low[b.Session], high[b.Session] = x, x
		}
		n[b.Session]++
		low[b.Session], high[b.Session] = math.Min(low[b.Session], x), math.Max(high[b.Session], x)
	}
	reason := map[string]string{}
	for _, b := range all {
		total[b.Session]++
		switch {
		case n[b.Session] == 0:
			reason[b.Session] = "other conditions than most sessions"
		case n[b.Session] < fewestInSession:
			reason[b.Session] = "fewer than " + count(fewestInSession, "comparable bout")
		case low[b.Session] > offReference || high[b.Session] < -offReference:
			reason[b.Session] = "not swum near the reference pace"
		}
	}
	seen := map[string]bool{}
	for _, b := range all {
		if why := reason[b.Session]; why != "" && !seen[b.Session] {
			l.left = append(l.left, leftSession{b.Session, b.LocalDate, why, total[b.Session]})
			seen[b.Session] = true
		}
	}
	var kept []*derive.Bout
	for _, b := range comparable {
		if why := reason[b.Session]; why == "" {
			kept = append(kept, b)
		} else {
			l.dropped["in a session left out"]++
		}
	}
	return kept
}

const (
	termSetRate        = "ln_rate_as_set" // ln of the rate swum over the usual one where it was set, else 0
	termSetRateSquared = "ln_rate_as_set_squared"
)

// layTerms lays out what a plan moved within sessions: pace, minutes, set rates,
// instructions, and kick where it was set beforehand. What swimmers chose
// themselves is no term: it may be the very thing that a change is about.
func (l *sessionLevels) layTerms(r *rows, s *study.Study) {
	r.layBasics()
	r.indicators(termStratum, stratumOf)
	if setBeforehand(TagKick, s) {
		r.indicators(termKick, kickOf)
	}
	rate, squared := make([]float64, len(r.bouts)), make([]float64, len(r.bouts))
	for i, b := range r.bouts {
		if b.Designed {
			rate[i] = r.rate[i]
			squared[i] = rate[i] * rate[i]
		}
	}
	r.terms, r.columns = append(r.terms, termSetRate, termSetRateSquared), append(r.columns, rate, squared)
}

// fill reads the levels off the fit. At the reference all terms are zero but
// the minutes, which are at their mean over the bouts.
func (l *sessionLevels) fill(r *rows, m *linear.Model) {
	at := map[string]int{}
	for i, term := range r.terms {
		at[term] = i
	}
	columns := make([][]float64, m.Rank)
	origin := make([]float64, m.Rank)
	for a, term := range m.Terms {
		columns[a] = r.columns[at[term]]
		switch term {
		case termMinutes:
			origin[a] = mean(r.lnMinutes)
		case termSpeed:
			l.curve[0] = m.Estimates[a]
		case termSpeedSquared:
			l.curve[1] = m.Estimates[a]
		}
	}
	l.sigma2, l.df = m.Sigma*m.Sigma, float64(m.DFResidual)
	l.low, l.high = percentiles(r.lnSpeed)

	// Means by session, about the origin.
	y, x := make([]float64, r.sessions), make([][]float64, r.sessions)
	l.sessions = make([]sessionLevel, r.sessions)
	for i, b := range r.bouts {
		k := r.session[i]
		if x[k] == nil {
			x[k] = make([]float64, m.Rank)
			l.sessions[k] = sessionLevel{id: b.Session, date: b.LocalDate, day: dayNumber(b.LocalDate), phase: b.Label(keyPhase)}
		}
		if l.sessions[k].phase != b.Label(keyPhase) {
			l.sessions[k].phase = ""
		}
		l.sessions[k].bouts++
		y[k] += r.cost[i]
		for a := range columns {
			x[k][a] += columns[a][i] - origin[a]
		}
	}
	covariance := m.Classical().Matrix
	spread := func(d []float64) float64 { // d' Cov(b) d
		var v float64
		for a := range d {
			for b := range d {
				v += d[a] * d[b] * covariance.At(a, b)
			}
		}
		return v
	}
	costs, sampling := make([]float64, r.sessions), 0.0
	for k := range l.sessions {
		n := float64(l.sessions[k].bouts)
		y[k] /= n
		for a := range x[k] {
			x[k][a] /= n
		}
		l.sessions[k].cost = y[k] - dot(m.Estimates, x[k])
		l.sessions[k].variance = l.sigma2/n + spread(x[k])
		costs[k] = l.sessions[k].cost
		sampling += l.sigma2 / n / float64(r.sessions)
	}
	l.between = math.Max(0, variance(costs)-sampling)
	l.leaveOut(m, y, x, sampling, spread)
}

// leaveOut gives each session's cost against the others' by the fit without it.
func (l *sessionLevels) leaveOut(m *linear.Model, y []float64, x [][]float64, sampling float64, spread func([]float64) float64) {
	without, err := m.WithoutGroups() // in order of first appearance, as the sessions are
	sumY, sumX := 0.0, make([]float64, m.Rank)
	for k := range y {
		sumY += y[k]
		for a := range sumX {
			sumX[a] += x[k][a]
		}
	}
	others := float64(len(y) - 1)
	for k := range l.sessions {
		one := &l.sessions[k]
		one.usual, one.apart, one.stdError = math.NaN(), math.NaN(), math.NaN()
		if err != nil || without[k] == nil {
			continue
		}
		restX, apart := make([]float64, m.Rank), make([]float64, m.Rank)
		for a := range restX {
			restX[a] = (sumX[a] - x[k][a]) / others
			apart[a] = x[k][a] - restX[a]
		}
		one.usual = (sumY-y[k])/others - dot(without[k], restX)
		one.apart = y[k] - dot(without[k], x[k]) - one.usual
		one.stdError = math.Sqrt(l.sigma2/float64(one.bouts) + (l.between+sampling)/others + spread(apart))
	}
}

// keyPhase is the note that names the phase of training.
const keyPhase = "phase"

// dayNumber counts days since 1970-01-01; NaN for a text that is no date.
func dayNumber(date string) float64 {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return math.NaN()
	}
	return float64(t.Unix()) / 86400
}

func dot(a, b []float64) float64 {
	var sum float64
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// variance is that of a sample.
func variance(values []float64) float64 {
	center, sum := mean(values), 0.0
	for _, v := range values {
		sum += (v - center) * (v - center)
	}
	return sum / float64(len(values)-1)
}

// percentiles are the 10th and the 90th.
func percentiles(values []float64) (low, high float64) {
	sorted := append([]float64{}, values...)
	sort.Float64s(sorted)
	at := func(share float64) float64 { return sorted[int(share*float64(len(sorted)-1))] }
	return at(0.1), at(0.9)
}
