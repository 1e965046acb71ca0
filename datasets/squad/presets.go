package squad

import (
	"math"
	"time"
)

// DesignedBar is the scenario against which recovery and coverage are judged:
// every session designed, 12 sessions of 12 bouts of 200 m in a 25 m pool, set
// rates from -20 to +20 % of usual, bout noise 3 bpm, session noise 4 bpm, no
// fatigue, no counting error beyond whole strokes, steady readings, no lengths.
// effect is the truth for every swimmer, bpm per +10 % of stroke rate, negative
// where the score's claim runs against the cost.
func DesignedBar(effect float64, seed uint64, swimmers int) Scenario {
	return Scenario{
		Seed: seed, Swimmers: swimmers, SessionsPerSwimmer: 12, BoutsPerSession: 12,
		Distances: []float64{200}, RestSeconds: 40,
		PaceLevels:    []float64{-0.05, 0, 0.05},
		DesignedShare: 1, RateLow: -0.20, RateHigh: 0.20, RateLevels: 5,
		InstructionRate: 0.12,
		RateHoldSD:      0.015, PaceHoldSD: 0.01,
		OwnRateSD: 0.04, OwnPaceSD: 0.02, LengthPaceSD: 0.01,
		Truths: signed(effect), EffectBPMPer10Pct: math.Abs(effect),
		BestCurveBPM: 3, BestSD: 0.05, BestShift: 0.5,
		SessionNoiseBPM: 4, BoutNoiseBPM: 3,
		DriftBPM: 2, PaceSlopeBPM: 150, PaceCurveBPM: 150,
		HeartRate: HeartRateSteady, Kinetics: true,
	}
}

// ObservedFatigue is DesignedBar with nothing set: swimmers swim as they like, and
// fatigue that differs by session (mean and SD fatigueBPM at the session's end)
// moves rate and heart rate up together, 0.6 % of rate per bpm.
func ObservedFatigue(effect, fatigueBPM float64, seed uint64, swimmers int) Scenario {
	sc := DesignedBar(effect, seed, swimmers)
	sc.DesignedShare = 0
	sc.FatigueSDBPM, sc.FatigueRatePerBPM = fatigueBPM, 0.006
	return sc
}

// BestRateBar is DesignedBar with swimmers who all have a cheapest rate, spread
// about their usual one and moving with pace: the bar for the economical rate.
func BestRateBar(seed uint64, swimmers int) Scenario {
	sc := DesignedBar(0, seed, swimmers)
	sc.Truths = Mix{BestRate: 1}
	return sc
}

// InstructionBar is DesignedBar with an instruction in every session, dealt
// over its bouts: usual, fewest strokes (the rate down by 12 %), quicker rate (up
// by as much). kicked is the share of the bouts of fewest strokes in which the
// legs work harder, unasked, at a cost of kickBPM.
func InstructionBar(effect, kicked, kickBPM float64, seed uint64, swimmers int) Scenario {
	sc := DesignedBar(effect, seed, swimmers)
	sc.InstructionShare, sc.InstructionKick, sc.KickBPM = 1, kicked, kickBPM
	return sc
}

// KickBar is DesignedBar with the kick set bout by bout in every session: light,
// full, which costs kickBPM more, and none, which costs as much less.
func KickBar(kickBPM float64, seed uint64, swimmers int) Scenario {
	sc := DesignedBar(0, seed, swimmers)
	sc.KickShare, sc.KickBPM = 1, kickBPM
	return sc
}

// Demo is the demo squad's world: 24 swimmers over 14 weeks, 45 % of the sessions
// designed (in 100 m repeats never, since those are too short for a steady heart
// rate), everything that makes real recordings hard switched on.
func Demo(seed uint64) Scenario {
	return Scenario{
		Seed: seed, Swimmers: 24, SessionsPerSwimmer: 16, BoutsPerSession: 9,
		FirstDay: time.Date(2026, 1, 12, 0, 0, 0, 0, time.UTC), Days: 98,
		Distances: []float64{200, 300, 400, 300, 200, 100}, SetDistances: []float64{300, 400, 300, 200},
		Pools: []PoolShare{
			{Metres: 25, Weight: 0.64}, {Metres: 50, Weight: 0.28}, {Metres: 22.86, Yards: true, Weight: 0.08},
		},
		RestSeconds: 35, PaceLevels: []float64{-0.05, 0, 0.04},
		WarmUp: true, DrillShare: 0.25,
		DesignedShare: 0.45, InstructionShare: 0.3,
		RateLow: -0.16, RateHigh: 0.16, RateLevels: 5, InstructionRate: 0.12,
		RateHoldSD: 0.02, PaceHoldSD: 0.012, OwnRateSD: 0.035, OwnPaceSD: 0.02, LengthPaceSD: 0.012,
		Truths:            Mix{Tracks: 0.12, Against: 0.40, None: 0.18, BestRate: 0.30},
		EffectBPMPer10Pct: 4.5, EffectSD: 1.2,
		BestCurveBPM: 3.5, BestMean: 0.03, BestSD: 0.05, BestShift: 0.4,
		KickShare: 0.3, KickBPM: 2.5,
		Change:          Change{On: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), Share: 1, BPM: -2},
		SessionNoiseBPM: 4, BoutNoiseBPM: 2.5, FatigueSDBPM: 4, FatigueRatePerBPM: 0.006,
		DriftBPM: 1.5, PaceSlopeBPM: 150, PaceCurveBPM: 150,
		HeartRate: HeartRateSamples, Kinetics: true, ReadingNoiseBPM: 0.8, WanderBPM: 1.2,
		WatchCount:   CountError{MissPerStroke: 0.02, AddPerStroke: 0.01, BiasSD: 0.02},
		HandCount:    CountError{MissPerStroke: 0.004, AddPerStroke: 0.004},
		LengthDetail: true, JuniorShare: 0.15,
	}
}

func signed(effect float64) Mix {
	switch {
	case effect > 0:
		return Mix{Tracks: 1}
	case effect < 0:
		return Mix{Against: 1}
	}
	return Mix{None: 1}
}
