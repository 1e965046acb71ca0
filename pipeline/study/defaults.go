package study

import "time"

// Default is a study with every default and no inputs. A study file is read
// over it, so a setting left out has the value written here.
//
// Where a number comes from: the screening thresholds are wide limits beyond
// which a recorder must have erred (common practice, no source). min_sessions
// and min_bouts are the least that is looked at; whether an interval by session
// then has four degrees of freedom is asked of the fit (six sessions of four
// bouts rarely do, six of eight mostly). A resting uptake of 3.5 mL/kg/min is the
// usual convention of one MET (from memory); lactate's equivalent of 3 is di
// Prampero's (1981), who gives 2.7 to 3.3.
func Default() *Study {
	return &Study{
		Name:     "study",
		Seed:     1,
		TimeZone: time.UTC,
		Privacy:  Privacy{KeyFile: "study.key", SmallestGroup: 10, QuasiIdentifiers: []string{"sex", "age_band", "squad"}},
		Screen: Screen{
			Off:                  map[string]bool{},
			SlowestMPS:           0.25,
			FastestMPS:           2.6,
			LowestRateSPM:        10,
			HighestRateSPM:       130,
			LowestHRBPM:          30,
			HighestHRBPM:         230,
			MissedTurnLow:        1.7,
			MissedTurnHigh:       2.35,
			MissedTurnStrokesLow: 1.5,
			FalseTurnShare:       0.85,
			FalseTurnTolerance:   0.2,
			EarlyTurnShift:       0.13,
			EarlyTurnTolerance:   0.12,
			StopInsideLow:        1.28,
			CountLow:             0.78,
			CountHigh:            1.25,
			KickRateSPM:          24,
			LockSeconds:          45,
			StrokeIndexLow:       0.3,
			StrokeIndexHigh:      8,
			StepBPM:              9,
			UsualLengths:         3,
		},
		Cost: Cost{Measure: "bpm", Steady: SteadyAuto, SteadyAfter: 150 * time.Second, Window: 30 * time.Second,
			ShortestBout: 45 * time.Second, HRSource: AnySource, VO2Rest: 3.5, LactateEquivalent: 3},
		Analysis: Analysis{
			Strokes:        []string{"freestyle"},
			SmallestEffect: 2,
			MinSessions:    6,
			MinBouts:       24,
			MinRateSpread:  0.02,
			MatchedPace:    0.02,
			Resamples:      2000,
			Permutations:   500,
			Sensitivity:    true,
		},
		Output: "out",
	}
}
