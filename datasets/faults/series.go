package faults

import "math"

// SimulateSeries returns sessions of one swimmer with one recorder, some days
// apart, each otherwise as [Simulate] gives it. The pool of the first `wrong` of
// them is set wrongly, in the ratio of a grade of [WrongPool]. Which sessions
// come first in time is for whoever reads them.
func SimulateSeries(seed uint64, ratio float64, sessions, wrong int) []Session {
	r := newRandom(seed, 21)
	swimmer := newSwimmer(r)
	first := newRecorder(r, 25)
	out := make([]Session, sessions)
	for i := range out {
		own := newRandom(seed, 30+uint64(i))
		pool := own.oneOf(25, 25, 25, 50) // the home pool, and another one now and then
		if i < wrong {
			pool = 25
			if ratio == 0.5 {
				pool = 50
			}
		}
		p := &planner{random: own, swimmer: swimmer, pool: pool}
		p.speed *= math.Exp(own.clipped(0, 0.03, 2)) // form of the day
		p.session(70)
		rec := newRecorder(newRandom(seed, 60+uint64(i)), pool)
		rec.arms, rec.wallTime, rec.resolution = first.arms, first.wallTime, first.resolution
		s := Session{Seed: seed + uint64(i), PoolM: pool, PoolSwumM: pool, CountsArms: rec.arms, WallTimeOutS: rec.wallTime}
		if i < wrong {
			s.PoolM, s.Planted = pool*ratio, 1
			for k := range p.out {
				p.out[k].kind, p.out[k].fault = WrongPool, 0
			}
		}
		s.Lengths = rec.record(p.out, s.PoolM)
		out[i] = s
	}
	return out
}
