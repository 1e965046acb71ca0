package squad

import "math"

const (
	wanderSeconds = 20 // time constant of the slow wander, s (no source: a plausible value)
	afterSeconds  = 60 // samples go on for this long after the last touch
)

// sampleHeartRate appends samples at 1 Hz for a session that has just been swum:
// the exact solution of the kinetics through bouts and rests, plus wander and
// noise, smoothed where the recorder does, held below the swimmer's highest heart
// rate.
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
	shown, stay := math.NaN(), 0.0
	if sc.SmoothSeconds > 0 {
		stay = math.Exp(-1 / sc.SmoothSeconds)
	}
	segment := func(target, creep, tau, until float64, last bool) {
		for ; next < until || (last && next == until); next++ {
			v := creeping(bpm, target, creep, next-at, tau) + wander + st.normal(0, sc.ReadingNoiseBPM)
			if stay > 0 && !math.IsNaN(shown) {
				v = stay*shown + (1-stay)*v
			}
			shown = v
			sw.samples = append(sw.samples, Sample{next, min(v, sw.MaxBPM)})
			wander = keep*wander + st.normal(0, kick)
		}
		bpm, at = creeping(bpm, target, creep, until-at, tau), until
	}
	rest := sw.TauSeconds * sc.RecoveryRatio
	for i := range bouts {
		b := &bouts[i]
		segment(sw.RecoveryBPM, 0, rest, b.StartSeconds, false)
		segment(b.SteadyBPM, sc.CreepBPMPerMinute/60, sw.TauSeconds, b.StartSeconds+b.DurationSeconds, false)
	}
	segment(sw.RecoveryBPM, 0, rest, at+afterSeconds, true)
}
