package squad

import "math"

// Warm-up and drill are swum well below the reference speed (common practice, no
// source).
const (
	warmUpMetres = 200
	warmUpPace   = -0.12
	drillMetres  = 100
	drillPace    = -0.25
)

// sessionPlan is what was decided about a session before it began.
type sessionPlan struct {
	distance     float64
	instructions bool // designed by instruction, not by rate
	kicks        bool
	level        float64 // session noise, bpm
	changed      bool
}

// session simulates session k: first the plan, then bout after bout.
func (w *worker) session(k int) {
	sc, sw := w.sc, w.sw
	local := w.startOf(k)
	s := Session{Number: k, StartUTC: local.UTC(), Local: local}

	st := w.plan
	st.aim(sc.Seed, sw.Index, k, forPlan)
	w.level = sc.SessionsAlike*w.level + math.Sqrt(1-sc.SessionsAlike*sc.SessionsAlike)*st.normal(0, sc.SessionNoiseBPM)
	p := sessionPlan{level: w.level + sw.TrendBPM*local.Sub(sc.FirstDay).Hours()/(24*30)}
	s.FatigueBPM = sc.FatigueSDBPM * st.ExpFloat64()
	reach := st.Float64()
	pool := drawPool(sc.Pools, st.Float64())
	s.PoolMetres, s.PoolYards = pool.Metres, pool.Yards
	// Designed sessions are dealt evenly over the season, not drawn, so that a
	// swimmer with few sessions still has the stated share.
	_, u := math.Modf(goldenStep * float64(k+1+3*sw.Index))
	s.Designed = u < sc.DesignedShare
	distances := sc.Distances
	if s.Designed {
		distances = sc.SetDistances
	}
	p.distance = distances[int(reach*float64(len(distances)))]
	_, v := math.Modf(goldenStep * float64(k/2+5*sw.Index+1))
	p.instructions = s.Designed && v < sc.InstructionShare
	p.kicks = s.Designed && st.Float64() < sc.KickShare
	p.changed = sw.Changed && sc.Change.in(sw.ChangedFrom, s.StartUTC)
	drill := st.Float64() < sc.DrillShare
	w.dealLevels(sc, st)

	w.counts.aim(sc.Seed, sw.Index, k, forCounts)
	w.detail.aim(sc.Seed, sw.Index, k, forLengths)
	c := newCounter(sw, sc, w.counts)
	clock, bpm := 0.0, sw.RestBPM+0.2*(sw.MaxBPM-sw.RestBPM)

	add := func(b Bout) {
		if clock > 0 {
			b.RestBeforeSeconds = sc.RestSeconds * math.Exp(st.normal(0, 0.08))
		}
		clock += b.RestBeforeSeconds
		b.StartSeconds, b.MinutesIn = clock, clock/60
		w.cost(&s, &p, &b)
		bpm = towards(bpm, sw.RecoveryBPM, b.RestBeforeSeconds, sw.TauSeconds*sc.RecoveryRatio)
		bpm = creeping(bpm, b.SteadyBPM, sc.CreepBPMPerMinute/60, b.DurationSeconds, sw.TauSeconds)
		b.EndBPM = bpm
		b.ReadingBPM = b.EndBPM
		if sc.HeartRate == HeartRateSteady {
			b.ReadingBPM = b.SteadyBPM
		}
		b.ReadingBPM += st.normal(0, sc.ReadingNoiseBPM)
		w.swim(&s, &b, &c)
		clock += b.DurationSeconds
		sw.bouts = append(sw.bouts, b)
	}
	if sc.WarmUp {
		add(w.pace(&s, Bout{Stroke: Freestyle, WarmUp: true, PaceTarget: warmUpPace}, warmUpMetres))
	}
	if drill {
		add(w.pace(&s, Bout{Stroke: Drill, PaceTarget: drillPace}, drillMetres))
	}
	for j := range sc.BoutsPerSession {
		b := Bout{Stroke: Freestyle, PaceTarget: w.paces[j]}
		if sc.BoutsPerSession > 1 {
			b.Terms.Fatigue = s.FatigueBPM * float64(j) / float64(sc.BoutsPerSession-1)
		}
		if p.kicks {
			b.Kick = [...]Kick{KickLight, KickFull, KickNone}[(j+k)%3]
		}
		w.instruct(&s, &p, &b, j)
		add(w.pace(&s, b, p.distance))
	}
	sw.Sessions = append(sw.Sessions, s)
	w.sampleHeartRate(k, sw.bouts[w.boutsBefore():])
	w.cuts = append(w.cuts, sessionCut{len(sw.bouts), len(sw.lengths), len(sw.samples)})
}

func (w *worker) boutsBefore() int {
	if len(w.cuts) == 0 {
		return 0
	}
	return w.cuts[len(w.cuts)-1].bouts
}

func drawPool(pools []PoolShare, u float64) PoolShare {
	total := 0.0
	for _, p := range pools {
		total += p.Weight
	}
	u *= total
	for _, p := range pools {
		if u < p.Weight {
			return p
		}
		u -= p.Weight
	}
	return pools[len(pools)-1]
}

// dealLevels deals pace and rate levels to the bouts of a session: as even as the
// numbers allow, each shuffled by itself.
func (w *worker) dealLevels(sc *Scenario, st stream) {
	n := sc.BoutsPerSession
	w.rates, w.paces = w.rates[:0], w.paces[:0]
	start := st.IntN(max(1, sc.RateLevels))
	for j := range n {
		if sc.RateLevels < 2 {
			w.rates = append(w.rates, st.between(sc.RateLow, sc.RateHigh))
		} else {
			level := float64((start + j) % sc.RateLevels)
			w.rates = append(w.rates, sc.RateLow+(sc.RateHigh-sc.RateLow)*level/float64(sc.RateLevels-1))
		}
		level := j % len(sc.PaceLevels)
		if sc.PaceOrder == PaceAscending {
			level = j * len(sc.PaceLevels) / n
		}
		w.paces = append(w.paces, sc.PaceLevels[level])
	}
	st.Shuffle(n, func(i, j int) { w.rates[i], w.rates[j] = w.rates[j], w.rates[i] })
	if sc.PaceOrder == PaceShuffled {
		st.Shuffle(n, func(i, j int) { w.paces[i], w.paces[j] = w.paces[j], w.paces[i] })
	}
}

// instruct decides the swimmer's ln rate about the usual rate of the pace, which
// pace turns into a rate: by a set rate, by an instruction, or freely.
func (w *worker) instruct(s *Session, p *sessionPlan, b *Bout, j int) {
	sc, st := w.sc, w.plan
	hold, own := st.normal(0, sc.RateHoldSD), st.normal(0, sc.OwnRateSD)
	switch {
	case p.instructions:
		b.Designed = true
		b.Instruction = [...]Instruction{Usual, FewestStrokes, QuickerRate}[j%3]
		if sc.InstructionKick > 0 && !p.kicks {
			b.Kick = KickLight
			// Dealt, not drawn: switching it on moves no other number.
			if _, u := math.Modf(goldenStep * float64(1+j/3+4*s.Number+7*w.sw.Index)); b.Instruction == FewestStrokes && u < sc.InstructionKick {
				b.Kick = KickFull
			}
		}
		step := [...]float64{0, -sc.InstructionRate, sc.InstructionRate}[j%3]
		b.LnRate = math.Log(1+step) + 2*hold
	case s.Designed:
		b.Designed = true
		speed := w.sw.RefSpeedMPS * (1 + b.PaceTarget)
		usual := w.sw.UsualRateSPM(speed)
		b.RateTargetSPM = math.Round(usual * (1 + w.rates[j]))
		b.LnRate = hold // about the target; pace turns it into the ratio to usual
	default:
		b.LnRate = own + sc.FatigueRatePerBPM*b.Terms.Fatigue
	}
}

// pace draws the speed and fixes duration, rate and distance per stroke.
func (w *worker) pace(s *Session, b Bout, metres float64) Bout {
	sc, sw, st := w.sc, w.sw, w.plan
	sd := sc.OwnPaceSD
	if b.Designed {
		sd = sc.PaceHoldSD
	}
	b.LengthCount = max(1, int(math.Round(metres/s.PoolMetres)))
	b.DistanceMetres = float64(b.LengthCount) * s.PoolMetres
	b.LnSpeed = math.Log(1+b.PaceTarget) + st.normal(0, sd)
	b.SpeedMPS = sw.RefSpeedMPS * math.Exp(b.LnSpeed)
	b.DurationSeconds = b.DistanceMetres / b.SpeedMPS
	usual := sw.UsualRateSPM(b.SpeedMPS)
	if b.RateTargetSPM > 0 {
		b.CleanRateSPM = b.RateTargetSPM * math.Exp(b.LnRate)
		b.LnRate = math.Log(b.CleanRateSPM / usual)
	} else {
		b.CleanRateSPM = usual * math.Exp(b.LnRate)
	}
	b.RateSPM = b.CleanRateSPM * sw.WholeLengthShare(s.PoolMetres)
	b.DistancePerStrokeM = 60 * b.SpeedMPS / b.RateSPM
	return b
}

// cost fills the terms of the bout's steady heart rate and their sum.
func (w *worker) cost(s *Session, p *sessionPlan, b *Bout) {
	sc, sw := w.sc, w.sw
	b.Terms.Base = sw.BaseBPM
	b.Terms.Session = p.level
	b.Terms.Pace = sc.PaceSlopeBPM*b.LnSpeed + sc.PaceCurveBPM*b.LnSpeed*b.LnSpeed
	b.Terms.Drift = sc.DriftBPM * math.Log1p(b.MinutesIn)
	b.Terms.Rate = sw.Truth.RateCost(b.LnRate, b.LnSpeed)
	switch b.Kick {
	case KickFull:
		b.Terms.Kick = sc.KickBPM
	case KickNone:
		b.Terms.Kick = -sc.KickBPM
	}
	if p.changed {
		b.Terms.Change = sc.Change.BPM
	}
	b.Terms.Noise = w.plan.normal(0, sc.BoutNoiseBPM)
	b.SteadyBPM = b.Terms.Sum()
}

// towards moves a heart rate towards its target for some seconds: first-order
// kinetics, at once where tau is 0.
func towards(bpm, target, seconds, tau float64) float64 {
	if tau <= 0 {
		if seconds > 0 {
			return target
		}
		return bpm
	}
	return target + (bpm-target)*math.Exp(-seconds/tau)
}

// creeping is towards a target that moves by creep bpm/s: H' = (S + creep t - H)/tau.
func creeping(bpm, target, creep, seconds, tau float64) float64 {
	return towards(bpm, target-creep*tau, seconds, tau) + creep*seconds
}
