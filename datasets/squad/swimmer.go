package squad

import (
	"math"
	"time"
)

// goldenStep is the fractional part of the golden ratio: multiples of it fill the
// unit interval evenly however many are taken.
const goldenStep = 0.6180339887498949

// drawSwimmer fills everything about a swimmer but the sessions. The draws and
// their order do not depend on the scenario's values, so that two scenarios with
// one seed have the same people. Magnitudes: datasets/README.md.
func drawSwimmer(sw *Swimmer, sc *Scenario, st stream) {
	nameSwimmer(sw, st, sc.Seed)
	st.aim(sc.Seed, sw.Index, -1, forBody)

	junior := st.Float64() < sc.JuniorShare
	u, v := st.Float64(), st.Float64()
	age := 18 + math.Floor(52*u*v) // skewed to the young end, 18 to 69
	if junior {
		age = 13 + math.Floor(5*u)
	}
	sw.BirthYear = sc.FirstDay.Year() - int(age)

	height, heightSD := 179.0, 6.5
	if sw.Sex == "f" {
		height, heightSD = 167.0, 6.0
	}
	if age < 16 {
		height -= 3 * (16 - age)
	}
	sw.HeightCM = math.Round(st.normal(height, heightSD))
	sw.ArmSpanCM = math.Round(sw.HeightCM * st.normal(1.02, 0.015))
	sw.MassKG = math.Round(st.normal(22, 1.8)*sw.HeightCM*sw.HeightCM/1e4*10) / 10
	sw.RestBPM = math.Round(min(75, max(44, st.normal(58, 6))))
	sw.MaxBPM = math.Round(208 - 0.7*age - 9 + min(12, max(-12, st.normal(0, 6))))
	sw.Device = 3_900_000_000 + uint32(sw.Index)*104_729 + uint32(st.IntN(100_000))

	sw.RefSpeedMPS = min(1.5, max(0.95, st.normal(1.22, 0.12)))
	if age > 45 {
		sw.RefSpeedMPS -= 0.005 * (age - 45)
	}
	distancePerStroke := sw.ArmSpanCM / 100 * min(0.75, max(0.5, st.normal(0.62, 0.04)))
	sw.RateRefSPM = 60 * sw.RefSpeedMPS / distancePerStroke
	sw.RateExponent = st.normal(0.7, 0.08)
	sw.BaseBPM = sw.RestBPM + min(0.8, max(0.6, st.normal(0.70, 0.035)))*(sw.MaxBPM-sw.RestBPM)
	sw.RecoveryBPM = sw.RestBPM + st.between(0.25, 0.35)*(sw.MaxBPM-sw.RestBPM)
	sw.TauSeconds = st.between(sc.TauLow, sc.TauHigh)
	if !sc.Kinetics {
		sw.TauSeconds = 0
	}
	sw.GlideMetres = st.between(5, 7)
	sw.GlideSpeedRatio = st.between(1.2, 1.4)
	sw.Changed = st.Float64() < sc.Change.Share
	sw.WatchBias = st.normal(0, sc.WatchCount.BiasSD)
	sw.HandBias = st.normal(0, sc.HandCount.BiasSD)
	sw.Truth = drawTruth(sw.Index, sc, st)
	if sw.Changed && !sc.Change.On.IsZero() {
		days := append([]time.Time{sc.Change.On}, sc.Change.Staggered...)
		sw.ChangedFrom = days[sw.Index%len(days)]
	}
	st.aim(sc.Seed, sw.Index, -1, forTrend)
	sw.TrendBPM = st.normal(sc.TrendBPM, sc.TrendSDBPM)
}

// sloped is the truth of an effect of either sign. A slope of nothing keeps the kind
// of its deal, that of the score.
func sloped(slope float64) Truth {
	if slope < 0 || slope == 0 && math.Signbit(slope) {
		return Truth{Kind: KindAgainst, Slope: slope}
	}
	return Truth{Kind: KindTracks, Slope: slope}
}

// drawTruth deals the kind evenly along the golden-ratio sequence and draws the
// sizes.
func drawTruth(index int, sc *Scenario, st stream) Truth {
	size := st.normal(sc.EffectBPMPer10Pct, sc.EffectSD) / ln10Pct
	if !sc.EffectsCross {
		size = max(0, size)
	}
	best := st.normal(sc.BestMean, sc.BestSD)

	st.aim(sc.Seed, -1, -1, forBody)
	_, u := math.Modf(st.Float64() + goldenStep*float64(index))
	m := sc.Truths
	u *= m.Tracks + m.Against + m.None + m.BestRate
	switch {
	case u < m.Tracks:
		return sloped(size)
	case u < m.Tracks+m.Against:
		return sloped(-size)
	case u < m.Tracks+m.Against+m.BestRate:
		return Truth{Kind: KindBestRate, Curve: sc.BestCurveBPM / (ln10Pct * ln10Pct), BestLn: best, BestShift: sc.BestShift}
	}
	return Truth{Kind: KindNone}
}
