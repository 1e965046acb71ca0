package derive

import (
	"math"
	"slices"

	"lengthwise/pipeline/study"
	"lengthwise/stats/kinetics"
)

// largestOwnSE is the standard error in bpm above which a steady value is not worth
// having: shorter bouts than about 45 s come out so.
const largestOwnSE = 6.0

// reasonNoKinetics is why a bout is left out of a study that asks for kinetics alone.
const reasonNoKinetics = "no-kinetics"

// Steady gives the bouts of one swimmer the heart rate and the cost that go with the
// swimmer's time constant, the second of the two passes; bouts come from Session and
// are changed in place. Bouts whose samples show their course are read by kinetics,
// whatever their length; windows are corrected for what is still missing; other
// readings stay as they are.
func Steady(bouts []Bout, tau Tau, who Athlete, cost study.Cost) {
	if cost.Steady == study.SteadyWindow {
		return
	}
	grid, start := tauGrid(), usualStart(bouts)
	for i := range bouts {
		b := &bouts[i]
		b.LnTauSE, b.LnTauDF = 0, 0
		if r, ok := b.settled(grid, tau, start); ok {
			b.LnTauSE, b.LnTauDF = tau.StdError, tau.DF
			b.take(r, who, cost)
		}
		if cost.Steady == study.SteadyKinetics && b.HRMethod != methodKinetics && b.Usable && cost.ReadsHeartRate() {
			b.Usable, b.Reason = false, reasonNoKinetics
		}
	}
}

// settled reads a bout with the swimmer's time constant; ok is false where that is
// not to be had and the reading stays what it is.
func (b *Bout) settled(grid *kinetics.Grid, tau Tau, start float64) (r reading, ok bool) {
	a := b.approach
	if a == nil || math.IsNaN(tau.LnSeconds) {
		return reading{}, false
	}
	if p := a.profile; p != nil {
		bpm, slope := grid.At(&p.Steady, tau.LnSeconds)
		factor, _ := grid.At(&p.Factor, tau.LnSeconds)
		if own := tau.NoiseBPM * math.Sqrt(factor); own <= largestOwnSE {
			return reading{bpm: bpm, method: methodKinetics, source: b.sampleSource, samples: p.Samples,
				stratum: methodKinetics + "/" + b.sampleSource, ownSE: own, byLnTau: slope}, true
		}
	}
	w := a.window
	if math.IsNaN(w.Mean) {
		return reading{}, false
	}
	if math.IsNaN(w.Start) {
		w.Start = start
	}
	s, err := kinetics.SteadyFromWindow(w, math.Exp(tau.LnSeconds))
	if err != nil { // nothing to start from
		return reading{}, false
	}
	return reading{bpm: s.Steady, method: methodWindow, source: b.sampleSource, samples: b.HRSamples,
		stratum: methodWindow + "/" + b.sampleSource, ownSE: s.ByMean * tau.NoiseBPM * windowError(w.To-w.From, b.HRSamples),
		byLnTau: s.ByLogTau}, true
}

// usualStart is the median value from which the swimmer's bouts start, NaN where no
// bout shows it.
func usualStart(bouts []Bout) float64 {
	var starts []float64
	for i := range bouts {
		if a := bouts[i].approach; a != nil && a.profile != nil && bouts[i].Block == 1 {
			starts = append(starts, a.profile.Start)
		}
	}
	if len(starts) == 0 {
		return math.NaN()
	}
	slices.Sort(starts)
	return starts[len(starts)/2]
}

// windowError is the standard error of the mean of n samples over some seconds, for
// a sample error of 1: white noise as the mean of n, a wander as its mean over a
// time (Papoulis 1965, Probability, Random Variables, and Stochastic Processes).
func windowError(seconds float64, n int) float64 {
	x := seconds / sampleNoise.Seconds
	wander := 1.0
	if x > 0 {
		wander = 2 * (x + math.Expm1(-x)) / (x * x)
	}
	return math.Sqrt((1-sampleNoise.Share)/math.Max(1, float64(n)) + sampleNoise.Share*wander)
}
