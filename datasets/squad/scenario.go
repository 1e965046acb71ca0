package squad

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// HeartRateMode says what the simulated swimmers leave as heart-rate evidence.
type HeartRateMode int

const (
	// HeartRateSteady gives one reading a bout: its steady value plus reading
	// noise. No samples are made; it is the fast mode for trials.
	HeartRateSteady HeartRateMode = iota
	// HeartRateEnd gives one reading a bout: the value at the last touch, which
	// lags behind the steady value as the kinetics say.
	HeartRateEnd
	// HeartRateSamples gives samples at 1 Hz over the whole session, and the
	// reading at the last touch as in HeartRateEnd.
	HeartRateSamples
)

// PaceOrder says in which order a session's pace levels come.
type PaceOrder int

const (
	// PaceShuffled deals the levels in random order.
	PaceShuffled PaceOrder = iota
	// PaceAscending goes from the slowest level to the fastest, so that pace and
	// minutes cannot be told apart.
	PaceAscending
)

// Mix gives the weights with which the kinds of truth occur in a squad. The
// weights need not sum to 1. Kinds are dealt evenly (a golden-ratio sequence from
// a seeded start), so a small squad comes close to the stated shares.
type Mix struct {
	Tracks   float64 // the cost falls with fewer strokes: +effect per +10 % rate
	Against  float64 // the cost rises with fewer strokes: -effect per +10 % rate
	None     float64 // the rate costs nothing either way
	BestRate float64 // there is a cheapest rate near the usual one
}

// PoolShare is a pool and how often sessions are held in it.
type PoolShare struct {
	Metres float64 // length of the pool, m
	Yards  bool    // the pool is built in yards; Metres still holds metres
	Weight float64 // relative frequency
}

// CountError describes how one way of counting strokes goes wrong.
type CountError struct {
	MissPerStroke float64 // probability that a stroke is not counted
	AddPerStroke  float64 // probability that a stroke is counted twice
	BiasSD        float64 // SD over swimmers of a lasting bias, as a share of the strokes
	BoutSD        float64 // SD over bouts of the ln of the share counted, the same for all lengths of a bout
}

// Change is something that alters the cost from a day on, for part of the squad.
type Change struct {
	On    time.Time // sessions that start at or after this instant are changed; zero: never
	Share float64   // share of swimmers who change, 0 to 1
	BPM   float64   // added to the steady heart rate of changed sessions, bpm

	// Again lists the instants after On at which it goes off, on, off ...
	Again []time.Time
	// Staggered lists further days on which it begins: those whom it reaches
	// are dealt over On and these.
	Staggered []time.Time
}

// in reports whether the change is in force at an instant for those whom it
// reaches from a day on.
func (c Change) in(from, at time.Time) bool {
	if from.IsZero() || at.Before(from) {
		return false
	}
	on := true
	for _, again := range c.Again {
		if !at.Before(again) {
			on = !on
		}
	}
	return on
}

// Scenario states a world to simulate. Rates are shares of the usual rate at the
// pace swum (-0.2 is 20 % below), paces shares of the reference speed. "SD" is a
// standard deviation of a normal distribution.
type Scenario struct {
	Seed uint64 // everything random follows from it

	// Size.
	Swimmers           int
	SessionsPerSwimmer int
	BoutsPerSession    int // warm-up and drill not counted

	// Calendar. Sessions are spread evenly, with jitter, over Days from FirstDay.
	FirstDay time.Time      // midnight of the first day; zero: 2026-01-12
	Days     int            // length of the season in days; 0: 7 days for each 2 sessions
	Zone     *time.Location // sessions start at a local hour in this zone; nil: UTC

	// What is swum.
	Distances    []float64   // metres a bout, drawn for each session, rounded to whole lengths; empty: 200
	SetDistances []float64   // the same for designed sessions; empty: Distances
	Pools        []PoolShare // drawn for each session; empty: 25 m
	RestSeconds  float64     // rest between bouts, s; 0: 40
	PaceLevels   []float64   // share faster than the reference speed, dealt evenly in a session; empty: {0}
	PaceOrder    PaceOrder
	WarmUp       bool    // begin with an easy 200 m
	DrillShare   float64 // share of sessions with 100 m of drill after the warm-up

	// Design: who decides the rate.
	DesignedShare    float64 // share of sessions whose rate or instruction is set beforehand
	InstructionShare float64 // share of designed sessions that give an instruction, not a rate
	RateLow          float64 // lowest set rate, share of usual (e.g. -0.20)
	RateHigh         float64 // highest set rate (e.g. +0.20)
	RateLevels       int     // number of evenly spaced set rates, dealt evenly; below 2: drawn uniformly
	InstructionKick  float64 // share of the bouts of fewest strokes that are kicked full, unasked, where light is usual; 0: kick is not noted
	InstructionRate  float64 // change of rate on "fewest strokes" (down) and "quicker rate" (up), share

	// How well it is held.
	RateHoldSD   float64 // SD of ln rate about what was set
	PaceHoldSD   float64 // SD of ln speed of a bout about its level, designed sessions
	OwnRateSD    float64 // SD of ln rate about the usual rate, observed sessions
	OwnPaceSD    float64 // SD of ln speed of a bout about its level, observed sessions
	LengthPaceSD float64 // SD of ln duration of a length about its bout's mean

	// Truth.
	Truths            Mix     // all zero: None
	EffectBPMPer10Pct float64 // size of the effect of +10 % rate at fixed pace, bpm, not negative
	EffectSD          float64 // SD of that size over swimmers, bpm
	EffectsCross      bool    // a size drawn below zero is an effect the other way; off: it is none
	BestCurveBPM      float64 // extra bpm at a rate 10 % above the cheapest (BestRate swimmers)
	BestMean          float64 // mean over swimmers of ln(cheapest/usual) at the reference speed
	BestSD            float64 // SD over swimmers of the same
	BestShift         float64 // change of ln(cheapest/usual) per unit of ln speed
	KickShare         float64 // share of designed sessions in which the kick is set bout by bout
	KickBPM           float64 // cost of a full kick over a light one, bpm; no kick costs as much less
	Change            Change

	// Cost of the rest.
	SessionNoiseBPM   float64 // SD of a session's level, bpm
	SessionsAlike     float64 // correlation of a session's level with the last one's
	TrendBPM          float64 // drift of the level over the season, bpm per 30 days
	TrendSDBPM        float64 // SD of that drift over swimmers, bpm per 30 days
	BoutNoiseBPM      float64 // SD of a bout about its session, bpm
	FatigueSDBPM      float64 // mean and SD over sessions of the fatigue at the session's end, bpm
	FatigueRatePerBPM float64 // ln rate taken up per bpm of fatigue when the rate is free
	DriftBPM          float64 // per ln(1 + minutes), bpm
	PaceSlopeBPM      float64 // per unit of ln speed, bpm (150: +10 % speed costs 14 bpm)
	PaceCurveBPM      float64 // per squared unit of ln speed, bpm

	// Heart rate.
	HeartRate       HeartRateMode
	Kinetics        bool    // off: heart rate jumps to its steady value
	TauLow          float64 // s; 0: 30
	TauHigh         float64 // s; 0: 60
	ReadingNoiseBPM float64 // SD of the error of one reading or sample, bpm
	WanderBPM       float64 // SD of the slow wander of samples, bpm
	// What a first-order method does not expect.
	RecoveryRatio     float64 // time constant in rests over that in bouts; 0: 1
	CreepBPMPerMinute float64 // how fast the steady heart rate rises within a bout, bpm/min
	SmoothSeconds     float64 // the recorder shows a running mean with this time constant, s; 0: none

	// Counting.
	WatchCount CountError // one-arm cycles on the wrist
	HandCount  CountError // arm strokes counted from the deck

	LengthDetail bool    // make Lengths; off: bout totals only (the same totals)
	JuniorShare  float64 // share of swimmers aged 13 to 17
}

// withDefaults fills the fields whose zero value stands for a default.
func (sc Scenario) withDefaults() Scenario {
	if sc.FirstDay.IsZero() {
		sc.FirstDay = time.Date(2026, 1, 12, 0, 0, 0, 0, time.UTC)
	}
	if sc.Days == 0 {
		sc.Days = max(1, (7*sc.SessionsPerSwimmer+1)/2)
	}
	if sc.Zone == nil {
		sc.Zone = time.UTC
	}
	if len(sc.Distances) == 0 {
		sc.Distances = []float64{200}
	}
	if len(sc.SetDistances) == 0 {
		sc.SetDistances = sc.Distances
	}
	if len(sc.Pools) == 0 {
		sc.Pools = []PoolShare{{Metres: 25, Weight: 1}}
	}
	if sc.RestSeconds == 0 {
		sc.RestSeconds = 40
	}
	if len(sc.PaceLevels) == 0 {
		sc.PaceLevels = []float64{0}
	}
	if sc.Truths == (Mix{}) {
		sc.Truths.None = 1
	}
	if sc.RecoveryRatio == 0 {
		sc.RecoveryRatio = 1
	}
	if sc.TauLow == 0 {
		sc.TauLow = 30
	}
	if sc.TauHigh == 0 {
		sc.TauHigh = 60
	}
	return sc
}

// Check reports the first field of the scenario that cannot be simulated. A
// scenario that passes can be given to [Simulate].
func (sc Scenario) Check() error {
	for _, f := range []struct {
		name      string
		v, lo, hi float64
	}{
		{"Swimmers", float64(sc.Swimmers), 0, 1e7},
		{"SessionsPerSwimmer", float64(sc.SessionsPerSwimmer), 0, 1e5},
		{"BoutsPerSession", float64(sc.BoutsPerSession), 0, 1e4},
		{"Days", float64(sc.Days), 0, 1e5},
		{"RestSeconds", sc.RestSeconds, 0, 3600},
		{"DrillShare", sc.DrillShare, 0, 1},
		{"DesignedShare", sc.DesignedShare, 0, 1},
		{"InstructionShare", sc.InstructionShare, 0, 1},
		{"KickShare", sc.KickShare, 0, 1},
		{"InstructionKick", sc.InstructionKick, 0, 1},
		{"JuniorShare", sc.JuniorShare, 0, 1},
		{"Change.Share", sc.Change.Share, 0, 1},
		{"RateLow", sc.RateLow, -0.6, 1},
		{"RateHigh", sc.RateHigh, sc.RateLow, 1},
		{"InstructionRate", sc.InstructionRate, 0, 0.6},
		{"RateHoldSD", sc.RateHoldSD, 0, 0.5},
		{"PaceHoldSD", sc.PaceHoldSD, 0, 0.5},
		{"OwnRateSD", sc.OwnRateSD, 0, 0.5},
		{"OwnPaceSD", sc.OwnPaceSD, 0, 0.5},
		{"LengthPaceSD", sc.LengthPaceSD, 0, 0.5},
		{"EffectBPMPer10Pct", sc.EffectBPMPer10Pct, 0, 50},
		{"EffectSD", sc.EffectSD, 0, 50},
		{"BestCurveBPM", sc.BestCurveBPM, 0, 50},
		{"BestMean", sc.BestMean, -0.5, 0.5},
		{"BestSD", sc.BestSD, 0, 0.5},
		{"BestShift", sc.BestShift, -5, 5},
		{"SessionNoiseBPM", sc.SessionNoiseBPM, 0, 50},
		{"BoutNoiseBPM", sc.BoutNoiseBPM, 0, 50},
		{"SessionsAlike", sc.SessionsAlike, 0, 0.99},
		{"TrendBPM", sc.TrendBPM, -50, 50},
		{"TrendSDBPM", sc.TrendSDBPM, 0, 50},
		{"FatigueSDBPM", sc.FatigueSDBPM, 0, 50},
		{"FatigueRatePerBPM", sc.FatigueRatePerBPM, -0.1, 0.1},
		{"ReadingNoiseBPM", sc.ReadingNoiseBPM, 0, 50},
		{"WanderBPM", sc.WanderBPM, 0, 50},
		{"RecoveryRatio", sc.RecoveryRatio, 0, 10},
		{"CreepBPMPerMinute", sc.CreepBPMPerMinute, 0, 50},
		{"SmoothSeconds", sc.SmoothSeconds, 0, 60},
		{"TauLow", sc.TauLow, 0, 600},
		{"TauHigh", sc.TauHigh, sc.TauLow, 600},
		{"WatchCount.MissPerStroke", sc.WatchCount.MissPerStroke, 0, 0.5},
		{"WatchCount.AddPerStroke", sc.WatchCount.AddPerStroke, 0, 0.5},
		{"WatchCount.BiasSD", sc.WatchCount.BiasSD, 0, 0.15},
		{"WatchCount.BoutSD", sc.WatchCount.BoutSD, 0, 0.3},
		{"HandCount.BoutSD", sc.HandCount.BoutSD, 0, 0.3},
		{"HandCount.MissPerStroke", sc.HandCount.MissPerStroke, 0, 0.5},
		{"HandCount.AddPerStroke", sc.HandCount.AddPerStroke, 0, 0.5},
		{"HandCount.BiasSD", sc.HandCount.BiasSD, 0, 0.15},
		{"Truths.Tracks", sc.Truths.Tracks, 0, math.MaxFloat64},
		{"Truths.Against", sc.Truths.Against, 0, math.MaxFloat64},
		{"Truths.None", sc.Truths.None, 0, math.MaxFloat64},
		{"Truths.BestRate", sc.Truths.BestRate, 0, math.MaxFloat64},
	} {
		if !(f.v >= f.lo && f.v <= f.hi) { // also true of NaN
			return fmt.Errorf("squad: scenario field %s is %v; it must lie between %v and %v", f.name, f.v, f.lo, f.hi)
		}
	}
	for i, d := range slices.Concat(sc.Distances, sc.SetDistances) {
		if !(d > 0 && d <= 10000) {
			return fmt.Errorf("squad: distance %d (Distances, then SetDistances) is %v m; it must lie between 0 and 10000", i, d)
		}
	}
	for i, p := range sc.Pools {
		if !(p.Metres >= 10 && p.Metres <= 100) || !(p.Weight >= 0) {
			return fmt.Errorf("squad: scenario field Pools[%d] is %+v; 10 to 100 m and a weight of 0 or more are needed", i, p)
		}
	}
	for i, p := range sc.PaceLevels {
		if !(p > -0.5 && p < 0.5) {
			return fmt.Errorf("squad: scenario field PaceLevels[%d] is %v; it must lie between -0.5 and 0.5", i, p)
		}
	}
	return nil
}
