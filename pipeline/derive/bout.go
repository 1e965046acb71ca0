// Package derive computes the measures of lengths and of bouts: speed, rate,
// distance per stroke, scores, heart rate at the end of a bout and its cost.
package derive

import (
	"math"

	"lengthwise/pipeline/read"
	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
)

// Length is a screened length with its measures. Missing numbers are NaN.
type Length struct {
	screen.Length
	Bout               int // from 1 within the session
	SpeedMPS           float64
	PaceSPer100M       float64
	StrokeRateSPM      float64
	DistancePerStrokeM float64
	Score              float64 // NaN when the counting basis is unknown
	ScoreRecorded      float64
	Score25            float64
	StrokeIndex        float64
	HRBPM              float64
}

// Bout is one bout with its measures and its cost. Missing numbers are NaN,
// missing words "".
type Bout struct {
	Swimmer, Session   string
	LocalDate          string
	Bout, Swim, Block  int
	Stroke             string
	PoolM              float64
	Lengths            int
	RepairedLengths    int
	DistanceM          float64
	DurationS          float64
	RestBeforeS        float64
	MinutesIn          float64
	SpeedMPS           float64
	PaceSPer100M       float64
	Basis              study.CountBasis
	StrokeRateSPM      float64
	DistancePerStrokeM float64
	Count              Count
	Strokes25          float64
	Score25            float64
	ScoreRecorded25    float64
	StrokeIndex        float64
	HRSteadyBPM        float64
	HRMethod           string // kinetics, window, reported, "" when there is no heart rate
	HRSource           string
	HRStepBPM          float64 // of a count of beats, 0 where the heart rate is none
	HRSamples          int
	HRStratum          string
	HRReserve          float64
	NetBeats100M       float64
	Cost               float64
	CostStratum        string // costs are compared within it: HRStratum, or what a lab's cost was made of; "" when all compare
	// What is not known of HRSteadyBPM: HROwnSE is the bout's own standard error
	// (NaN where it is not known), while the error of the swimmer's time constant
	// is shared by all bouts: HRSteadyBPM moves by HRByLnTau, and Cost by
	// CostByLnTau, for each unit of ln tau, which is known to within LnTauSE on
	// LnTauDF degrees of freedom. All are 0 where no time constant was used.
	HROwnSE, HRByLnTau, CostByLnTau float64
	LnTauSE, LnTauDF                float64
	Tags                            read.Tags
	Labels                          []Label // notes of the squad's own, by key
	Designed                        bool
	Usable                          bool
	Reason                          string

	approach     *approach // nil where nothing was traced
	sampleSource string    // of the session's samples
}

// HRSteadySE is the standard error of HRSteadyBPM as a measurement in beats a
// minute, the bout's own and that of the time constant together; NaN where it is
// not known.
func (b *Bout) HRSteadySE() float64 {
	if b.LnTauSE == 0 {
		return math.NaN()
	}
	return math.Hypot(b.HROwnSE, b.HRByLnTau*b.LnTauSE)
}
