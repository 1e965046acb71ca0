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
// pace, a middle minute and the usual rate. Slopes are those within sessions, so
// that good days do not pass for fast ones; levels are compared only among
// sessions of the same conditions.
type sessionLevels struct {
	sessions  []sessionLevel // in order of swimming
	left      []leftSession  // those without a level, in order of swimming
	order     []leftSession  // all of them in order of swimming, without reasons
	reference float64        // m/s
	low, high float64        // ln v over the reference: 10th and 90th percentile swum
	curve     [2]float64     // slopes on x and x^2
	sigma2    float64        // residual variance of a bout
	between   float64        // variance of sessions' true levels
}

// sessionLevel is one session's.
type sessionLevel struct {
	id, date   string
	conditions string
	alike      int     // sessions of the same conditions have the same number
	day        float64 // days since 1970-01-01; NaN without a date
	bouts      int
	cost       float64 // at the reference pace
	byTau      float64 // how cost moves with the logarithm of the swimmer's time constant
	usual      float64 // what the other sessions of the same conditions cost there, on average, fitted without this one
	apart      float64 // cost, by the fit without this session, minus usual
	stdError   float64 // of apart; NaN where it cannot be had
	phase      string  // the squad's own note, where all its bouts agree
}

// leftSession is a session without a level, and why.
type leftSession struct {
	id, date, reason string
	bouts            int
}

// conditions is what bouts of different sessions must share for their costs to
// be compared: pool, equipment, and how heart rate was read.
func conditions(b *derive.Bout, costMeasure string) string {
	text := strconv.FormatFloat(math.Round(b.PoolM*100)/100, 'f', -1, 64) + " m"
	switch {
	case b.CostStratum == "":
	case (study.Cost{Measure: costMeasure}).ReadsHeartRate() && derive.SteadyStratum(b.CostStratum):
		text += ", " + b.HRSource
	default:
		text += ", " + b.CostStratum
	}
	if b.Tags.Equipment != "" {
		text += ", " + b.Tags.Equipment
	}
	return text
}

// newSessionLevels fits them; ok is false where fewer than two sessions have
// one. Bouts are the usable ones of one stroke in order of swimming.
func newSessionLevels(bouts []*derive.Bout, s *study.Study) (*sessionLevels, bool) {
	l := &sessionLevels{}
	usual := newUsualRate(bouts, referenceSpeed(bouts, s))
	l.reference = usual.referenceMPS
	of := func(b *derive.Bout) string { return conditions(b, s.Cost.Measure) }
	kept := l.comparable(bouts, of, usual)
	r := newRows(kept, usual, s, All)
	if r.sessions < 2 {
		return l, false
	}
	l.layTerms(r, s)
	m, err := linear.Fit(linear.Problem{Response: r.cost, Terms: r.terms, Columns: r.columns, Absorb: r.session})
	if err != nil || m.Exact {
		return l, false
	}
	l.fill(r, m, of)
	return l, true
}

// comparable keeps, of each session, the bouts of its commonest conditions where
// there are enough of them near the reference pace, and says of the other
// sessions why they are left out.
func (l *sessionLevels) comparable(bouts []*derive.Bout, of func(*derive.Bout) string, usual usualRate) []*derive.Bout {
	var kept []*derive.Bout
	for from := 0; from < len(bouts); {
		to := from + 1
		for to < len(bouts) && bouts[to].Session == bouts[from].Session {
			to++
		}
		session := bouts[from:to]
		from = to
		one := leftSession{id: session[0].Session, date: session[0].LocalDate, bouts: len(session)}
		l.order = append(l.order, one)
		commonest := valuesOf(session, of)[0]
		var own []*derive.Bout
		low, high := math.Inf(1), math.Inf(-1)
		for _, b := range session {
			if of(b) == commonest {
				own = append(own, b)
				low, high = math.Min(low, usual.pace(b)), math.Max(high, usual.pace(b))
			}
		}
		switch {
		case len(own) < fewestInSession:
			one.reason = "fewer than " + count(fewestInSession, "comparable bout")
		case low > offReference || high < -offReference:
			one.reason = "not swum near the reference pace"
		default:
			kept = append(kept, own...)
			continue
		}
		l.left = append(l.left, one)
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
func (l *sessionLevels) fill(r *rows, m *linear.Model, of func(*derive.Bout) string) {
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
	l.sigma2 = m.Sigma * m.Sigma
	l.low, l.high = percentiles(r.lnSpeed)

	// Means by session, about the origin.
	y, x := make([]float64, r.sessions), make([][]float64, r.sessions)
	l.sessions = make([]sessionLevel, r.sessions)
	codes := map[string]int{}
	for i, b := range r.bouts {
		k := r.session[i]
		one := &l.sessions[k]
		if x[k] == nil {
			x[k] = make([]float64, m.Rank)
			*one = sessionLevel{id: b.Session, date: b.LocalDate, conditions: of(b), day: dayNumber(b.LocalDate), phase: b.Label(keyPhase)}
			if _, ok := codes[one.conditions]; !ok {
				codes[one.conditions] = len(codes)
			}
			one.alike = codes[one.conditions]
		}
		if one.phase != b.Label(keyPhase) {
			one.phase = ""
		}
		one.bouts++
		one.byTau += r.costByLnTau[i]
		y[k] += r.cost[i]
		for a := range columns {
			x[k][a] += columns[a][i] - origin[a]
		}
	}
	costs, alike, sampling := make([]float64, r.sessions), make([]int, r.sessions), 0.0
	for k := range l.sessions {
		n := float64(l.sessions[k].bouts)
		y[k] /= n
		l.sessions[k].byTau /= n
		for a := range x[k] {
			x[k][a] /= n
		}
		l.sessions[k].cost = y[k] - dot(m.Estimates, x[k])
		costs[k], alike[k] = l.sessions[k].cost, l.sessions[k].alike
		sampling += l.sigma2 / n / float64(r.sessions)
	}
	if df := r.sessions - len(codes); df > 0 {
		own := centred(alike, len(codes), costs)
		l.between = math.Max(0, dot(own, own)/float64(df)-sampling)
	}
	l.leaveOut(m, y, x, sampling, r.lnTauSE)
}

// leaveOut gives each session's cost against the others of its conditions by
// the fit without it. The error of the swimmer's time constant (tauError, of its
// logarithm) counts as far as the session leans on it more or less than others.
func (l *sessionLevels) leaveOut(m *linear.Model, y []float64, x [][]float64, sampling, tauError float64) {
	without, err := m.WithoutGroups() // in order of first appearance, as the sessions are
	covariance := m.Classical().Matrix
	groups := 0
	for _, one := range l.sessions {
		groups = max(groups, one.alike+1)
	}
	n, sumY, sumX := make([]float64, groups), make([]float64, groups), make([][]float64, groups)
	sumTau := make([]float64, groups)
	for k, one := range l.sessions {
		g := one.alike
		if sumX[g] == nil {
			sumX[g] = make([]float64, m.Rank)
		}
		n[g]++
		sumY[g] += y[k]
		sumTau[g] += one.byTau
		for a := range sumX[g] {
			sumX[g][a] += x[k][a]
		}
	}
	for k := range l.sessions {
		one := &l.sessions[k]
		g, others := one.alike, n[one.alike]-1
		one.usual, one.apart, one.stdError = math.NaN(), math.NaN(), math.NaN()
		if err != nil || without[k] == nil || others < 1 {
			continue
		}
		restX, apart := make([]float64, m.Rank), make([]float64, m.Rank)
		for a := range restX {
			restX[a] = (sumX[g][a] - x[k][a]) / others
			apart[a] = x[k][a] - restX[a]
		}
		var slopes float64 // variance by the slopes' errors
		for a := range apart {
			for b := range apart {
				slopes += apart[a] * apart[b] * covariance.At(a, b)
			}
		}
		one.usual = (sumY[g]-y[k])/others - dot(without[k], restX)
		one.apart = y[k] - dot(without[k], x[k]) - one.usual
		byTau := tauError * (one.byTau - (sumTau[g]-one.byTau)/others)
		one.stdError = math.Sqrt(l.sigma2/float64(one.bouts) + (l.between+sampling)/others + slopes + byTau*byTau)
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

// percentiles are the 10th and the 90th.
func percentiles(values []float64) (low, high float64) {
	sorted := append([]float64{}, values...)
	sort.Float64s(sorted)
	at := func(share float64) float64 { return sorted[int(share*float64(len(sorted)-1))] }
	return at(0.1), at(0.9)
}
