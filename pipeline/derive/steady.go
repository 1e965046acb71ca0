package derive

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// The readings of a bout's end.
const (
	methodWindow   = "window"
	methodReported = "reported"
	methodKinetics = "kinetics"
)

const (
	// fewestWindowSamples is how many samples make a window's mean; fewer
	// are a reading, not a mean.
	fewestWindowSamples = 3
	// endSeconds is how far before the end of a bout a sample may lie and
	// still be an end reading.
	endSeconds = 10.0
)

// reading is the heart rate at the end of a bout and how it was had.
type reading struct {
	bpm     float64 // NaN when there is none
	method  string
	source  string
	stepBPM float64 // of a count of beats, 0 where it is none
	samples int
	windowS float64 // seconds of the window
	stratum string
	// ownSE is the standard error of bpm that is this bout's own, NaN where it is
	// not known; byLnTau is the derivative of bpm in ln tau, 0 where tau is not used.
	ownSE, byLnTau float64
	reason         string // why there is none
}

// effort is the part of a swim that a reading closes.
type effort struct {
	startS, endS float64 // seconds since the session's start
	sinceS       float64 // seconds of unbroken swimming at endS
	distanceM    float64 // distance of that unbroken swimming
	restBeforeS  float64 // NaN before the first swim
	end          read.Reading
}

// endOfBout reads the heart rate at the end of an effort.
//
// Heart rate approaches its steady value exponentially with a time constant
// of 30 to 60 s. Where the swimmer has swum without a break for steady_after
// or more, the mean of the last window's samples stands for the steady value.
// Otherwise the reading depends on how long the bout was and what rest came
// before; it is kept as an end reading and its stratum names both, so that it
// is only ever compared with its like. No correction is made here; where samples
// show the whole course, Steady reads the steady value from it.
func endOfBout(e effort, samples []normalise.Sample, sessionSource string, cost study.Cost) reading {
	steady := e.sinceS >= cost.SteadyAfter.Seconds()
	window := cost.Window.Seconds()
	if !steady {
		window = math.Min(window, endSeconds)
	}
	from := math.Max(e.startS, e.endS-window)
	mean, n := meanBetween(samples, from, e.endS)
	if steady && n >= fewestWindowSamples {
		source := orUnknown(sessionSource)
		return reading{bpm: mean, method: methodWindow, source: source, samples: n, windowS: e.endS - from,
			stratum: methodWindow + "/" + source, ownSE: math.NaN()}
	}
	if !math.IsNaN(e.end.HRBPM) {
		source := orUnknown(e.end.Source)
		stratum := endStratum(e, steady, source)
		if !math.IsNaN(e.end.DelayS) && e.end.DelayS >= endSeconds/2 {
			stratum += fmt.Sprintf(lateMark+"%.0f s", math.Round(e.end.DelayS/5)*5)
		}
		return reading{bpm: e.end.HRBPM, method: methodReported, source: source, stratum: stratum, stepBPM: e.end.StepBPM, ownSE: math.NaN()}
	}
	if steady { // too few samples for a mean: take what lies at the very end
		mean, n = meanBetween(samples, math.Max(e.startS, e.endS-endSeconds), e.endS)
	}
	if n > 0 {
		source := orUnknown(sessionSource)
		return reading{bpm: mean, method: methodReported, source: source, samples: n,
			stratum: endStratum(e, steady, source), ownSE: math.NaN()}
	}
	if len(samples) == 0 {
		return reading{bpm: math.NaN(), ownSE: math.NaN(), reason: "no-heart-rate"}
	}
	return reading{bpm: math.NaN(), ownSE: math.NaN(), reason: "no-heart-rate-at-end"}
}

// endStratum names what end readings must share to be compared: source, and
// unless the bout was long enough to be steady, distance and rest.
func endStratum(e effort, steady bool, source string) string {
	if steady {
		return methodReported + "/" + source + "/steady"
	}
	rest := "first"
	if !math.IsNaN(e.restBeforeS) {
		rest = restClass(e.restBeforeS)
	}
	return fmt.Sprintf("%s/%s/%.0f m/%s", methodReported, source, e.distanceM, rest)
}

// SteadyStratum reports whether the costs of a stratum do not lag behind the effort:
// those not read from heart rate, and those of a steady one, from bouts long enough
// or read by kinetics, and not read so late that it has fallen.
func SteadyStratum(stratum string) bool {
	if !strings.HasPrefix(stratum, methodReported+"/") {
		return true
	}
	return strings.Contains(stratum, "/steady") && !strings.Contains(stratum, lateMark)
}

// lateMark is in the name of a stratum whose readings were taken some time
// after the touch.
const lateMark = "/after "

// restClass groups rests that leave heart rate about equally recovered.
func restClass(seconds float64) string {
	for _, upTo := range []float64{10, 20, 30, 45, 60, 90, 120} {
		if seconds <= upTo {
			return fmt.Sprintf("rest to %.0f s", upTo)
		}
	}
	return "rest over 120 s"
}

// meanBetween is the mean of the samples with from < time <= to; samples are
// in order of time. It is NaN with n = 0 when there are none.
func meanBetween(samples []normalise.Sample, from, to float64) (mean float64, n int) {
	var sum float64
	for i := firstAfter(samples, from); i < len(samples) && samples[i].TimeS <= to; i++ {
		sum += samples[i].BPM
		n++
	}
	if n == 0 {
		return math.NaN(), 0
	}
	return sum / float64(n), n
}

// firstAfter is the index of the first sample with time > from.
func firstAfter(samples []normalise.Sample, from float64) int {
	return sort.Search(len(samples), func(i int) bool { return samples[i].TimeS > from })
}

func orUnknown(source string) string {
	if source == "" {
		return "unknown"
	}
	return source
}
