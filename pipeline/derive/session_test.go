package derive

import (
	"math"
	"testing"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
)

var nan = math.NaN()

func noTags() read.Tags {
	return read.Tags{RateTargetSPM: nan, Breathing: nan, RPE: nan, LactateMMOL: nan, LactateBefore: nan, VO2: nan}
}

// swim appends a swim of n lengths of 25 m to a session, each of the given
// seconds and arm strokes, after a rest.
func swim(s *screen.Session, n int, seconds, strokes, rest float64) {
	start, number := 0.0, 1
	if k := len(s.Kept); k > 0 {
		last := s.Kept[k-1]
		start, number = last.StartS+last.DurationS+rest, last.Swim+1
	} else {
		rest = nan
	}
	for range n {
		s.Kept = append(s.Kept, screen.Length{Ordinal: len(s.Kept) + 1, Length: normalise.Length{
			Swim: number, StartS: start, DurationS: seconds, DurationRecordedS: seconds, PoolM: 25,
			Stroke: "freestyle", SwimStroke: "freestyle", Strokes: strokes, StrokesRecorded: strokes, Basis: study.Arms,
			RestBeforeS: rest, WallTimeS: nan, End: read.Reading{HRBPM: nan, DelayS: nan}, Tags: noTags(), Covers: 1, Share: 1,
		}})
		start += seconds
	}
}

// pulse adds a sample each second at a heart rate that f gives.
func pulse(s *screen.Session, f func(second float64) float64) {
	end := s.Kept[len(s.Kept)-1].StartS + s.Kept[len(s.Kept)-1].DurationS
	for t := 0.0; t <= end; t++ {
		s.KeptSamples = append(s.KeptSamples, screenSample(t, f(t)))
	}
}

func screenSample(second, bpm float64) normalise.Sample {
	return normalise.Sample{TimeS: second, BPM: bpm}
}

func settings() study.Cost {
	return study.Default().Cost
}

func newSession() *screen.Session {
	s := &screen.Session{}
	s.Swimmer, s.ID, s.HRSource, s.ClockSure = "s-test", "s-test-20260302-1", "strap", true
	return s
}

func athlete() Athlete { return Athlete{HRRestBPM: 60, HRMaxBPM: 190, VO2Rest: nan} }

func TestBoutMeasures(t *testing.T) {
	s := newSession()
	swim(s, 8, 20, 16, 0)
	pulse(s, func(t float64) float64 { return 100 + t/4 })
	lengths, bouts := Session(s, athlete(), settings())
	if len(bouts) != 1 || len(lengths) != 8 {
		t.Fatalf("%d bouts of %d lengths, want 1 of 8", len(bouts), len(lengths))
	}
	b := bouts[0]
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"distance", b.DistanceM, 200},
		{"duration", b.DurationS, 160},
		{"speed", b.SpeedMPS, 1.25},
		{"pace", b.PaceSPer100M, 80},
		{"rate", b.StrokeRateSPM, 48},
		{"distance per stroke", b.DistancePerStrokeM, 1.5625},
		{"strokes per 25 m", b.Strokes25, 16},
		{"score per 25 m", b.Score25, 36},
		{"stroke index", b.StrokeIndex, 1.25 * 3.125},
		// samples at 131 to 160 s: 100 + mean/4
		{"steady heart rate", b.HRSteadyBPM, 100 + 145.5/4},
		{"cost", b.Cost, 100 + 145.5/4},
		{"reserve", b.HRReserve, (100 + 145.5/4 - 60) / 130},
		{"net beats", b.NetBeats100M, 100 * (100 + 145.5/4 - 60) / 75},
		{"samples", float64(b.HRSamples), 30},
		{"first length's heart rate", lengths[0].HRBPM, 100 + 10.5/4},
	} {
		if math.Abs(c.got-c.want) > 1e-9 {
			t.Errorf("%s: %v, want %v", c.name, c.got, c.want)
		}
	}
	if b.HRMethod != "window" || b.HRStratum != "window/strap" || !b.Usable || b.Designed {
		t.Errorf("method %q, stratum %q, usable %v, designed %v", b.HRMethod, b.HRStratum, b.Usable, b.Designed)
	}
}

func TestLongSwimsAreCutIntoBlocks(t *testing.T) {
	for _, c := range []struct {
		lengths int
		seconds float64
		want    []int // lengths a block
	}{
		{8, 20, []int{8}},                   // 160 s
		{12, 20, []int{12}},                 // 240 s: not over four minutes
		{13, 20, []int{7, 6}},               // 260 s
		{32, 20, []int{11, 10, 11}},         // 640 s
		{60, 20, []int{12, 12, 12, 12, 12}}, // 1,200 s
		{1, 300, []int{1}},                  // one length of five minutes stays whole
	} {
		s := newSession()
		swim(s, c.lengths, c.seconds, 16, 0)
		pulse(s, func(float64) float64 { return 140 })
		lengths, bouts := Session(s, athlete(), settings())
		if len(bouts) != len(c.want) {
			t.Errorf("%d lengths of %v s: %d blocks, want %d", c.lengths, c.seconds, len(bouts), len(c.want))
			continue
		}
		sum := 0
		for i, b := range bouts {
			sum += b.Lengths
			if b.Lengths != c.want[i] || b.Block != i+1 || b.Swim != 1 {
				t.Errorf("%d lengths: block %d has %d lengths (swim %d, block %d), want %d", c.lengths, i+1, b.Lengths, b.Swim, b.Block, c.want[i])
			}
			if len(c.want) > 1 && (b.DurationS < 110 || b.DurationS > 250) {
				t.Errorf("%d lengths: block %d lasts %v s", c.lengths, i+1, b.DurationS)
			}
			if i > 0 && b.RestBeforeS != 0 {
				t.Errorf("block %d has a rest of %v s before it", i+1, b.RestBeforeS)
			}
		}
		if sum != c.lengths || lengths[len(lengths)-1].Bout != len(bouts) {
			t.Errorf("%d lengths: blocks hold %d; the last length is in bout %d", c.lengths, sum, lengths[len(lengths)-1].Bout)
		}
	}
}

func TestLaterBlocksAreSteady(t *testing.T) {
	s := newSession()
	swim(s, 13, 20, 16, 0) // blocks of 140 and 120 s
	pulse(s, func(float64) float64 { return 140 })
	_, bouts := Session(s, athlete(), settings())
	if bouts[0].HRMethod != "reported" || bouts[1].HRMethod != "window" {
		t.Errorf("methods %q and %q: the first block ends after 140 s, the second after 260 s", bouts[0].HRMethod, bouts[1].HRMethod)
	}
}

func TestEndReadingsAndStrata(t *testing.T) {
	base := effort{startS: 0, endS: 80, sinceS: 80, distanceM: 100, restBeforeS: 22, end: read.Reading{HRBPM: nan, DelayS: nan}}
	samples := []normalise.Sample{{TimeS: 60, BPM: 120}, {TimeS: 71, BPM: 130}, {TimeS: 80, BPM: 140}, {TimeS: 90, BPM: 100}}
	withEnd := base
	withEnd.end = read.Reading{HRBPM: 150, Source: "palpated", DelayS: 11}
	steady := withEnd
	steady.sinceS, steady.endS = 160, 160
	first := base
	first.restBeforeS = nan
	for _, c := range []struct {
		name    string
		e       effort
		samples []normalise.Sample
		want    reading
	}{
		{"samples of a short bout: the last ten seconds", base, samples,
			reading{bpm: 135, method: "reported", source: "strap", samples: 2, stratum: "reported/strap/100 m/rest to 30 s"}},
		{"the first bout has no rest before it", first, samples,
			reading{bpm: 135, method: "reported", source: "strap", samples: 2, stratum: "reported/strap/100 m/first"}},
		{"a reading written down wins over samples that are not steady", withEnd, samples,
			reading{bpm: 150, method: "reported", source: "palpated", stratum: "reported/palpated/100 m/rest to 30 s/after 10 s"}},
		{"long enough to be steady: distance and rest do not matter", steady, nil,
			reading{bpm: 150, method: "reported", source: "palpated", stratum: "reported/palpated/steady/after 10 s"}},
		{"no heart rate at all", base, nil, reading{bpm: nan, reason: "no-heart-rate"}},
		{"none at the end", base, samples[:1], reading{bpm: nan, reason: "no-heart-rate-at-end"}},
	} {
		got := endOfBout(c.e, c.samples, "strap", settings())
		if !(got.bpm == c.want.bpm || math.IsNaN(got.bpm) && math.IsNaN(c.want.bpm)) ||
			got.method != c.want.method || got.source != c.want.source || got.samples != c.want.samples ||
			got.stratum != c.want.stratum || got.reason != c.want.reason {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
}

func TestEveryUnusableBoutHasItsReason(t *testing.T) {
	cases := []struct {
		name, measure, want string
		who                 Athlete
		change              func(*screen.Session)
	}{
		{"usable", "bpm", "", athlete(), func(*screen.Session) {}},
		{"no count in one length", "bpm", "strokes-missing", athlete(), func(s *screen.Session) { s.Kept[3].Strokes = nan }},
		{"no strokes", "bpm", "no-strokes", athlete(), func(s *screen.Session) {
			for i := range s.Kept {
				s.Kept[i].Strokes = 0
			}
		}},
		{"short", "bpm", "too-short", athlete(), func(s *screen.Session) { s.Kept = s.Kept[:2] }},
		{"the one source asked for", "bpm", "", athlete(), func(*screen.Session) {}},
		{"another source", "bpm", "other-heart-rate-source", athlete(), func(s *screen.Session) { s.HRSource = "optical" }},
		{"no samples", "bpm", "no-heart-rate", athlete(), func(s *screen.Session) { s.KeptSamples = nil }},
		{"no resting rate", "hr-reserve", "no-resting-heart-rate", Athlete{nan, 190, nan}, func(*screen.Session) {}},
		{"no highest rate", "hr-reserve", "no-maximum-heart-rate", Athlete{60, nan, nan}, func(*screen.Session) {}},
		{"resting rate above the highest", "hr-reserve", "no-maximum-heart-rate", Athlete{200, 190, nan}, func(*screen.Session) {}},
		{"net beats need rest alone", "net-beats", "", Athlete{60, nan, nan}, func(*screen.Session) {}},
		{"no rating", "rpe", "no-exertion-rating", athlete(), func(s *screen.Session) { s.KeptSamples = nil }},
		{"no oxygen uptake", "lab", "no-oxygen-uptake", athlete(), func(s *screen.Session) {}},
		{"oxygen without a heart rate", "lab", "", athlete(), func(s *screen.Session) {
			s.KeptSamples = nil
			for i := range s.Kept {
				s.Kept[i].Tags.VO2 = 40
			}
		}},
		{"a rating without a heart rate", "rpe", "", athlete(), func(s *screen.Session) {
			s.KeptSamples = nil
			for i := range s.Kept {
				s.Kept[i].Tags.RPE = 6
			}
		}},
	}
	for _, c := range cases {
		s := newSession()
		swim(s, 8, 20, 16, 0)
		pulse(s, func(float64) float64 { return 140 })
		c.change(s)
		cost := settings()
		cost.Measure, cost.HRSource = c.measure, "strap"
		_, bouts := Session(s, c.who, cost)
		if got := bouts[0].Reason; got != c.want || bouts[0].Usable != (c.want == "") {
			t.Errorf("%s: reason %q, usable %v, want %q", c.name, got, bouts[0].Usable, c.want)
		}
	}
}

func TestDesignedBoutsAreThoseSetBeforehand(t *testing.T) {
	s := newSession()
	for range 4 {
		swim(s, 8, 20, 16, 30)
	}
	pulse(s, func(float64) float64 { return 140 })
	for i := range s.Kept {
		switch s.Kept[i].Swim {
		case 1:
			s.Kept[i].Tags.RateTargetSPM = 50
		case 2:
			s.Kept[i].Tags.Instruction = "usual"
		case 3:
			s.Kept[i].Tags.Kick = "none" // a note, not a set rate
		}
	}
	_, bouts := Session(s, athlete(), settings())
	for i, want := range []bool{true, true, false, false} {
		if bouts[i].Designed != want {
			t.Errorf("bout %d: designed %v, want %v", i+1, bouts[i].Designed, want)
		}
	}
}

func TestUnknownBasisHasNoScoreAndCyclesDouble(t *testing.T) {
	s := newSession()
	swim(s, 8, 20, 16, 0)
	for i := range s.Kept {
		s.Kept[i].Basis = study.UnknownBasis
	}
	lengths, bouts := Session(s, athlete(), settings())
	if !math.IsNaN(bouts[0].Score25) || !math.IsNaN(lengths[0].Score) || bouts[0].ScoreRecorded25 != 36 {
		t.Errorf("unknown basis: score %v, recorded score %v", bouts[0].Score25, bouts[0].ScoreRecorded25)
	}
	for i := range s.Kept {
		s.Kept[i].Basis = study.Cycles // 16 arm strokes came from 8 cycles
	}
	_, bouts = Session(s, athlete(), settings())
	if bouts[0].Score25 != 36 || bouts[0].ScoreRecorded25 != 28 {
		t.Errorf("cycles: score %v, recorded score %v, want 36 and 28", bouts[0].Score25, bouts[0].ScoreRecorded25)
	}
	for _, c := range []struct {
		recorder study.CountBasis
		want     float64
	}{{study.Cycles, 28}, {study.Arms, 36}, {study.UnknownBasis, 27}} { // 16 arm strokes by hand, 7 of whatever by the recorder
		for i := range s.Kept {
			l := &s.Kept[i].Length
			l.Basis, l.RecorderBasis, l.CountFileID, l.StrokesRecorded = study.Arms, c.recorder, "sheet", 7
		}
		_, bouts = Session(s, athlete(), settings())
		if bouts[0].Score25 != 36 || bouts[0].ScoreRecorded25 != c.want {
			t.Errorf("by hand beside a recorder of %s: score %v, recorded score %v, want 36 and %v", c.recorder, bouts[0].Score25, bouts[0].ScoreRecorded25, c.want)
		}
	}
}

func TestGapInASwimStartsANewBout(t *testing.T) {
	s := newSession()
	swim(s, 16, 20, 16, 0)
	s.Kept[8].AfterGap = true // a drill length before it was left out
	pulse(s, func(float64) float64 { return 140 })
	_, bouts := Session(s, athlete(), settings())
	if len(bouts) != 2 || bouts[1].Lengths != 8 || bouts[1].Swim != 1 || bouts[1].RestBeforeS != 0 {
		t.Fatalf("bouts %+v, want two of eight lengths in one swim", bouts)
	}
}

func BenchmarkSession(b *testing.B) {
	s := newSession()
	for range 12 {
		swim(s, 8, 20, 16, 30)
	}
	pulse(s, func(t float64) float64 { return 140 + math.Mod(t, 7) })
	b.ReportAllocs()
	for b.Loop() {
		Session(s, athlete(), settings())
	}
}

// A lab's cost is of the swim as a whole, with the swimmer's own resting uptake or the
// study's; without both lactates it is the oxidative part, kept apart.
func TestLabCost(t *testing.T) {
	cost := study.Default().Cost
	cost.Measure = "lab"
	for _, c := range []struct {
		name                string
		rest, before, after float64
		want                float64
		stratum             string
	}{
		// 300 s at 1.25 m/s: net 35 mL/kg/min are 12.191667 W/kg, 3 mmol/L 0.627 W/kg
		{"with lactate", 5, 1, 4, (35.0/60*20.9 + 3*3*20.9/300) / 1.25, "lab/oxygen and lactate"},
		{"no lactate before", 5, nan, 4, 35.0 / 60 * 20.9 / 1.25, "lab/oxygen"},
		{"no lactate", 5, nan, nan, 35.0 / 60 * 20.9 / 1.25, "lab/oxygen"},
		{"lactate falls", 5, 4, 3, 35.0 / 60 * 20.9 / 1.25, "lab/oxygen and lactate"},
		{"the study's resting uptake", nan, nan, nan, 36.5 / 60 * 20.9 / 1.25, "lab/oxygen"},
	} {
		s := newSession()
		swim(s, 15, 20, 16, 0)
		for i := range s.Kept {
			s.Kept[i].Tags.VO2, s.Kept[i].Tags.LactateBefore, s.Kept[i].Tags.LactateMMOL = 40, c.before, c.after
		}
		_, bouts := Session(s, Athlete{nan, nan, c.rest}, cost)
		if len(bouts) != 1 || bouts[0].Lengths != 15 {
			t.Fatalf("%s: %d bouts: a swim measured as a whole is cut", c.name, len(bouts))
		}
		b := bouts[0]
		if !b.Usable || math.Abs(b.Cost-c.want) > 1e-12 || b.CostStratum != c.stratum || !SteadyStratum(b.CostStratum) {
			t.Errorf("%s: cost %v in %q (%s), want %v in %q", c.name, b.Cost, b.CostStratum, b.Reason, c.want, c.stratum)
		}
	}
}
