package squad

import "math"

const (
	wanderSeconds = 20 // time constant of the slow wander, s (no source: a plausible value)
	afterSeconds  = 60 // samples go on for this long after the last touch
)

// sampleHeartRate appends samples at 1 Hz for a session that has just been swum:
// the exact solution of the kinetics through bouts and rests, plus wander and
// noise, held below the swimmer's highest heart rate.
func (w *worker) sampleHeartRate(k int, bouts []Bout) {
	if w.sc.HeartRate != HeartRateSamples || len(bouts) == 0 {
		return
	}
	sc, sw, st := w.sc, w.sw, w.heart
	st.aim(sc.Seed, sw.Index, k, forHeart)
	keep := math.Exp(-1.0 / wanderSeconds)
	kick := sc.WanderBPM * math.Sqrt(1-keep*keep)
	wander := st.normal(0, sc.WanderBPM)

	bpm, at := sw.RestBPM+0.2*(sw.MaxBPM-sw.RestBPM), 0.0
	next := 0.0
	segment := func(target, until float64, last bool) {
		for ; next < until || (last && next == until); next++ {
			v := towards(bpm, target, next-at, sw.TauSeconds) + wander + st.normal(0, sc.ReadingNoiseBPM)
			sw.samples = append(sw.samples, Sample{next, min(v, sw.MaxBPM)})
			wander = keep*wander + st.normal(0, kick)
		}
		bpm, at = towards(bpm, target, until-at, sw.TauSeconds), until
	}
	for i := range bouts {
		b := &bouts[i]
		segment(sw.RecoveryBPM, b.StartSeconds, false)
		segment(b.SteadyBPM, b.StartSeconds+b.DurationSeconds, false)
	}
	segment(sw.RecoveryBPM, at+afterSeconds, true)
}
