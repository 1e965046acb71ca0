package derive

import (
	"math"

	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
)

// Athlete is what the measures need to know of a swimmer. Missing numbers are
// NaN.
type Athlete struct {
	HRRestBPM, HRMaxBPM float64
	VO2Rest             float64 // mL/kg/min
}

// Session computes the measures of a session's lengths and forms its bouts.
// Lengths come back in the order of s.Kept, bouts in order of swimming.
//
// Heart rates and costs are those that the session alone can give: of windows and
// end readings. Steady reads them by kinetics, once the swimmer's time constant is
// known from all sessions (FirstTau) and all swimmers (Settle).
func Session(s *screen.Session, who Athlete, cost study.Cost) ([]Length, []Bout) {
	lengths := make([]Length, len(s.Kept))
	for i := range s.Kept {
		lengths[i] = measureLength(s.Kept[i])
		lengths[i].HRBPM, _ = meanBetween(s.KeptSamples, s.Kept[i].StartS, s.Kept[i].StartS+s.Kept[i].DurationS)
	}
	trace := newTracer(s.KeptSamples, s.ClockSure, cost)
	var bouts []Bout
	for from := 0; from < len(s.Kept); {
		to := from + 1
		for to < len(s.Kept) && s.Kept[to].Swim == s.Kept[from].Swim && !s.Kept[to].AfterGap {
			to++
		}
		start := from
		for block, end := range blockEnds(s.Kept[from:to], cost) {
			end += from
			b := makeBout(s, s.Kept, from, start, end, trace, who, cost)
			b.Bout, b.Block = len(bouts)+1, block+1
			for i := start; i < end; i++ {
				lengths[i].Bout = b.Bout
			}
			bouts = append(bouts, b)
			start = end
		}
		from = to
	}
	markDesigned(bouts)
	return lengths, bouts
}

// markDesigned says which bouts of a session are designed: their rate or
// instruction was set beforehand, and not the same for all of them. Where one
// setting holds for a whole session, what moves the rate within it is the
// swimmer, and the bouts are read like any others.
func markDesigned(bouts []Bout) {
	type setting struct {
		instruction string
		target      float64 // 0 for none
	}
	of := func(b *Bout) setting {
		s := setting{instruction: b.Tags.Instruction}
		if !math.IsNaN(b.Tags.RateTargetSPM) {
			s.target = b.Tags.RateTargetSPM
		}
		return s
	}
	settings := map[setting]bool{}
	for i := range bouts {
		if s := of(&bouts[i]); s != (setting{}) {
			settings[s] = true
		}
	}
	for i := range bouts {
		bouts[i].Designed = len(settings) > 1 && of(&bouts[i]) != setting{}
	}
}

func measureLength(l screen.Length) Length {
	v := Speed(l.PoolM, l.DurationS)
	m := Length{
		Length:             l,
		SpeedMPS:           v,
		PaceSPer100M:       Pace(v),
		StrokeRateSPM:      StrokeRate(l.Strokes, l.DurationS),
		DistancePerStrokeM: DistancePerStroke(l.PoolM, l.Strokes),
		ScoreRecorded:      StrokesPlusSeconds(recordedInUse(l), l.DurationS),
		Score:              math.NaN(),
		Score25:            math.NaN(),
		StrokeIndex:        math.NaN(),
	}
	if l.Basis != study.UnknownBasis {
		m.Score = StrokesPlusSeconds(l.Strokes, l.DurationS)
		m.Score25 = m.Score * 25 / l.PoolM
		m.StrokeIndex = StrokeIndex(v, m.DistancePerStrokeM, armsPerCycle(l.SwimStroke))
	}
	return m
}

// recordedInUse is the length's strokes in the recorder's own counting, after
// repairs: a split length has half the strokes that its record shows, and one
// that was counted by hand has the hand's.
func recordedInUse(l screen.Length) float64 {
	basis := l.Basis
	if l.CountFileID != "" {
		basis = l.RecorderBasis
	}
	switch {
	case basis == study.Cycles && armsPerCycle(l.SwimStroke) == 2:
		return l.Strokes / 2
	case basis == study.UnknownBasis && l.CountFileID != "":
		return l.StrokesRecorded // nobody can tell the hand's count in its units
	}
	return l.Strokes
}

const (
	longestBout = 240.0 // seconds; a longer swim is cut into equal blocks
)

// blockEnds cuts an unbroken swim of more than four minutes into the fewest
// blocks of at most four minutes that are as equal as length ends allow, which
// makes them two to four minutes long. It returns the index after each
// block's last length. What is measured once a swim, as oxygen and exertion are,
// holds for the swim as a whole, which is then not cut.
func blockEnds(lengths []screen.Length, cost study.Cost) []int {
	if !cost.ReadsHeartRate() {
		return []int{len(lengths)}
	}
	var total float64
	for _, l := range lengths {
		total += l.DurationS
	}
	blocks := int(math.Ceil(total / longestBout))
	if blocks < 1 {
		blocks = 1
	}
	if blocks > len(lengths) {
		blocks = len(lengths)
	}
	share := total / float64(blocks)
	ends := make([]int, 0, blocks)
	var swum float64
	for i, l := range lengths {
		// A length belongs to the block its middle falls in.
		if i > 0 && len(ends) < blocks-1 && swum+l.DurationS/2 > share*float64(len(ends)+1) {
			ends = append(ends, i)
		}
		swum += l.DurationS
	}
	return append(ends, len(lengths))
}

// makeBout forms the bout of lengths[start:end], a block of the unbroken
// swimming that began with lengths[from].
func makeBout(s *screen.Session, lengths []screen.Length, from, start, end int, trace *tracer, who Athlete, cost study.Cost) Bout {
	first, last := lengths[start], lengths[end-1]
	b := Bout{
		Swimmer: s.Swimmer, Session: s.ID, LocalDate: s.LocalDate,
		Swim: first.Swim, PoolM: first.PoolM, Lengths: end - start,
		RestBeforeS: first.RestBeforeS, MinutesIn: first.StartS / 60,
		Basis: first.Basis, Tags: first.Tags, Labels: labelsOf(s.Free, first.Swim), Stroke: first.SwimStroke,
	}
	if start > from || first.AfterGap {
		b.RestBeforeS = 0
	}
	var strokes, recorded float64
	for _, l := range lengths[start:end] {
		b.DistanceM += l.PoolM
		b.DurationS += l.DurationS
		strokes += l.Strokes // NaN as soon as one length has no count
		recorded += recordedInUse(l)
		if l.Rule != "" {
			b.RepairedLengths++
		}
		if l.Basis != b.Basis {
			b.Basis = study.UnknownBasis
		}
	}
	b.SpeedMPS = Speed(b.DistanceM, b.DurationS)
	b.PaceSPer100M = Pace(b.SpeedMPS)
	b.StrokeRateSPM = StrokeRate(strokes, b.DurationS)
	b.DistancePerStrokeM = DistancePerStroke(b.DistanceM, strokes)
	b.Count = countOf(s.Kind, lengths[start:end])
	per25 := 25 / b.DistanceM
	b.Strokes25 = strokes * per25
	b.ScoreRecorded25 = StrokesPlusSeconds(recorded, b.DurationS) * per25
	b.Score25, b.StrokeIndex = math.NaN(), math.NaN()
	if b.Basis != study.UnknownBasis {
		b.Score25 = StrokesPlusSeconds(strokes, b.DurationS) * per25
		b.StrokeIndex = StrokeIndex(b.SpeedMPS, b.DistancePerStrokeM, armsPerCycle(b.Stroke))
	}

	e := effort{startS: first.StartS, endS: last.StartS + last.DurationS,
		restBeforeS: first.RestBeforeS, end: last.End}
	for _, l := range lengths[from:end] {
		e.sinceS += l.DurationS
		e.distanceM += l.PoolM
	}
	r := endOfBout(e, s.KeptSamples, s.HRSource, cost)
	b.sampleSource = orUnknown(s.HRSource)
	if b.approach = trace.trace(e, start == from && !first.AfterGap); b.approach != nil && r.method == methodWindow {
		b.approach.window.Mean, b.approach.window.From, b.approach.window.To = r.bpm, e.sinceS-r.windowS, e.sinceS
	}
	b.take(r, who, cost)
	return b
}

// take gives the bout a heart rate and what follows from it.
func (b *Bout) take(r reading, who Athlete, cost study.Cost) {
	b.HRSteadyBPM, b.HRMethod, b.HRSource, b.HRStepBPM = r.bpm, r.method, r.source, r.stepBPM
	b.HRSamples, b.HRStratum = r.samples, r.stratum
	b.HROwnSE, b.HRByLnTau = r.ownSE, r.byLnTau
	b.HRReserve = HeartRateReserve(r.bpm, who.HRRestBPM, who.HRMaxBPM)
	b.NetBeats100M = NetBeats(r.bpm, who.HRRestBPM, b.SpeedMPS)
	b.Cost, b.CostStratum = costOf(b, who, cost)
	b.CostByLnTau = b.HRByLnTau * costPerBPM(b, who, cost.Measure)
	b.Reason = whyUnusable(b, r, who, cost)
	b.Usable = b.Reason == ""
}

// costOf is the bout's cost by the study's measure, and what it may be compared with.
func costOf(b *Bout, who Athlete, cost study.Cost) (value float64, stratum string) {
	switch cost.Measure {
	case "hr-reserve":
		return 100 * b.HRReserve, b.HRStratum
	case "net-beats":
		return b.NetBeats100M, b.HRStratum
	case "lab":
		return labCost(b, who, cost)
	case "rpe":
		return b.Tags.RPE, ""
	}
	return b.HRSteadyBPM, b.HRStratum
}

// What a lab's cost was made of.
const (
	stratumOxygen        = "lab/oxygen"
	stratumOxygenLactate = "lab/oxygen and lactate"
)

// labCost is the energy cost from what was measured with the bout. Without lactate
// both before and after it is the oxidative part alone, which must not be compared
// with the whole.
func labCost(b *Bout, who Athlete, cost study.Cost) (value float64, stratum string) {
	rest := who.VO2Rest
	if math.IsNaN(rest) {
		rest = cost.VO2Rest
	}
	rise, stratum := b.Tags.LactateMMOL-b.Tags.LactateBefore, stratumOxygenLactate
	if math.IsNaN(rise) {
		rise, stratum = 0, stratumOxygen
	}
	return EnergyCost(b.Tags.VO2, rest, rise, cost.LactateEquivalent, b.DurationS, b.SpeedMPS), stratum
}

// costPerBPM is how much the cost rises with a beat a minute: 0 where it is not
// read from heart rate.
func costPerBPM(b *Bout, who Athlete, measure string) float64 {
	switch measure {
	case "hr-reserve":
		return 100 / (who.HRMaxBPM - who.HRRestBPM)
	case "net-beats":
		return 100 / (60 * b.SpeedMPS)
	case "bpm":
		return 1
	}
	return 0
}

// whyUnusable is the first reason that keeps a bout out of the models, "" when
// there is none.
func whyUnusable(b *Bout, r reading, who Athlete, cost study.Cost) string {
	needsHeartRate := cost.ReadsHeartRate()
	switch {
	case math.IsNaN(b.StrokeRateSPM):
		return "strokes-missing"
	case b.StrokeRateSPM <= 0:
		return "no-strokes"
	case b.DurationS < cost.ShortestBout.Seconds():
		return "too-short"
	case needsHeartRate && math.IsNaN(b.HRSteadyBPM):
		return r.reason
	case needsHeartRate && cost.HRSource != study.AnySource && b.HRSource != cost.HRSource:
		return "other-heart-rate-source"
	case !math.IsNaN(b.Cost):
		return ""
	case cost.Measure == "rpe":
		return "no-exertion-rating"
	case cost.Measure == "lab":
		return "no-oxygen-uptake"
	case math.IsNaN(who.HRRestBPM):
		return "no-resting-heart-rate"
	default:
		return "no-maximum-heart-rate"
	}
}
