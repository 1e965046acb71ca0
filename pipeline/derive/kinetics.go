package derive

import (
	"math"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/study"
	"lengthwise/stats/kinetics"
)

// Steady heart rate by kinetics: H(t) = H_ss + (H_0 - H_ss) exp(-t/tau), with one
// tau a swimmer and H_ss and H_0 a bout's own. Samples of short bouts then give the
// steady value that the bout did not reach.
const (
	// tau lies between 30 and 60 s in most healthy people (Hunt, Fankhauser and
	// Saengsuwan 2015 measured 56 to 60 s on a treadmill). Within these bounds a
	// drift of minutes is not mistaken for it.
	shortestTau = 15.0
	longestTau  = 90.0
	// riseSeconds is how much of a bout is asked for tau. What happens later is
	// drift, and drift would lengthen it.
	riseSeconds = 150.0
	// settleSeconds after the start are left out: recorders smooth and start late,
	// and an exponential is one from any moment on. Against a recorder that smooths
	// over 3 s this takes away the error; ten seconds more would cost precision in
	// short bouts (testdata/steady.md of pipeline/trial).
	settleSeconds = 10.0
	// A bout without samples for its first gapStart or its last endSeconds shows
	// too little of its course.
	gapStart = 30.0
	// fewestSamples is how many samples a bout's course needs.
	fewestSamples = 4
)

// sampleNoise is how errors of samples are taken to hang together: two thirds of
// their variance wanders over 20 s. No source: what the simulator of datasets/squad
// does; it enters the standard error of a bout's own value, never the value.
var sampleNoise = kinetics.Noise{Share: 0.7, Seconds: 20}

// approach is what the samples of a bout say of the value its heart rate
// approaches, at every tau.
type approach struct {
	profile *kinetics.Profile // nil where samples are too few
	rise    *kinetics.Rise    // nil but for the first block of a swim; let go by FirstTau
	// window is the mean of the bout's end, timed from the start of the swim; its
	// Start is what samples there say, NaN where there are none.
	window kinetics.Window
}

// tracer lays the approaches of a session's bouts.
type tracer struct {
	grid        *kinetics.Grid
	samples     []normalise.Sample
	times, bpms []float64 // scratch
}

// newTracer is nil where nothing is to be traced: the study asks for windows, or
// there are no samples, or the session's times are guesses.
func newTracer(samples []normalise.Sample, clockSure bool, cost study.Cost) *tracer {
	if cost.Steady == study.SteadyWindow || len(samples) == 0 || !clockSure {
		return nil
	}
	return &tracer{grid: tauGrid(), samples: samples}
}

// tauGrid is the range of time constants; it is cheap to make.
func tauGrid() *kinetics.Grid {
	g, err := kinetics.NewGrid(shortestTau, longestTau)
	if err != nil {
		panic(err) // the bounds are constants
	}
	return g
}

// trace lays the approach of an effort; first says whether it begins its swim.
func (t *tracer) trace(e effort, first bool) *approach {
	if t == nil {
		return nil
	}
	a := &approach{window: kinetics.Window{Mean: math.NaN(), Start: math.NaN()}}
	swimStart := e.endS - e.sinceS
	a.window.Start, _ = meanBetween(t.samples, swimStart-settleSeconds, swimStart+settleSeconds)
	from := e.startS
	if first {
		from += settleSeconds
	}
	t.times, t.bpms = t.times[:0], t.bpms[:0]
	for i := firstAfter(t.samples, from); i < len(t.samples) && t.samples[i].TimeS <= e.endS; i++ {
		t.times = append(t.times, t.samples[i].TimeS-e.startS)
		t.bpms = append(t.bpms, t.samples[i].BPM)
	}
	n := len(t.times)
	if n < fewestSamples || t.times[0] > gapStart || t.times[n-1] < e.endS-e.startS-endSeconds {
		return a
	}
	profile, rise, err := t.grid.Profile(t.times, t.bpms, riseSeconds, sampleNoise)
	if err != nil {
		return a // samples at one time: no course
	}
	a.profile = profile
	if first {
		a.rise = rise
	}
	return a
}
