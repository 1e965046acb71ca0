package normalise

import (
	"math"
	"slices"
	"testing"
	"time"

	"lengthwise/pipeline/read"
)

func TestClocks(t *testing.T) {
	for _, c := range []struct {
		name   string
		build  func() read.Recording
		starts []float64
		swims  []int
		rests  []float64 // before each length's swim
	}{
		{"whole seconds drift within a lap", func() read.Recording {
			r := activity("f", morning, 30.6, 30.6, 30.6, 30.6)
			for i, s := range []float64{0, 31, 62, 94} {
				r.Lengths[i].StartS, r.Lengths[i].Lap = s, 0
			}
			r.Laps = []read.Lap{{StartS: 0, DurationS: 122.4, PoolLengths: 4}}
			return r
		}, []float64{0, 30.6, 61.2, 91.8}, []int{1, 1, 1, 1}, repeat(4, nan)},
		{"two lengths share a start", func() read.Recording {
			r := activity("f", morning, 30, 30, 30, 30)
			r.Lengths[1].StartS = 0
			return r
		}, []float64{0, 30, 60, 90}, []int{1, 1, 1, 1}, repeat(4, nan)},
		{"no recorded starts at all", func() read.Recording {
			r := activity("f", morning, 30, 31, 32)
			for i := range r.Lengths {
				r.Lengths[i].StartS = nan
			}
			return r
		}, []float64{0, 30, 61}, []int{1, 1, 1}, repeat(3, nan)},
		{"no recorded starts, the lap has one", func() read.Recording {
			r := activity("f", morning, 30, 31, 32)
			for i := range r.Lengths {
				r.Lengths[i].StartS, r.Lengths[i].Lap = nan, 0
			}
			r.Laps = []read.Lap{{StartS: 12, DurationS: 93, PoolLengths: 3}}
			return r
		}, []float64{12, 42, 73}, []int{1, 1, 1}, repeat(3, nan)},
		{"a pause of the recorder", func() read.Recording {
			r := activity("f", morning, 30, 30, 30)
			r.Lengths[2].StartS = 375
			return r
		}, []float64{0, 30, 375}, []int{1, 1, 2}, []float64{nan, nan, 315}},
		{"a gap of a turn", func() read.Recording {
			r := activity("f", morning, 30, 30, 30)
			r.Lengths[2].StartS = 64
			return r
		}, []float64{0, 30, 60}, []int{1, 1, 1}, repeat(3, nan)},
		{"an idle length", func() read.Recording {
			r := activity("f", morning, 30, 30, 30)
			r.Rests = []read.Rest{{Record: 1, StartS: 60, DurationS: 20.4}}
			r.Lengths[2].StartS = 80
			return r
		}, []float64{0, 30, 80}, []int{1, 1, 2}, []float64{nan, nan, 20.4}},
		{"an idle length of no duration", func() read.Recording {
			r := activity("f", morning, 30, 30, 30)
			r.Rests = []read.Rest{{Record: 1, StartS: 60, DurationS: 0}}
			return r
		}, []float64{0, 30, 60}, []int{1, 1, 1}, repeat(3, nan)},
		{"a rest that is its own lap", func() read.Recording {
			r := activity("f", morning, 30, 30, 30)
			r.Lengths[2].StartS, r.Lengths[2].Lap = 62, 2
			r.Lengths[0].Lap, r.Lengths[1].Lap = 0, 0
			r.Laps = []read.Lap{lap(0, 60, 2), lap(60, 2, 0), lap(62, 30, 1)}
			r.Rests = []read.Rest{{Record: 1, StartS: 60, DurationS: 2}}
			return r
		}, []float64{0, 30, 62}, []int{1, 1, 2}, []float64{nan, nan, 2}},
		{"a short idle length in a lap of its swim", func() read.Recording {
			r := activity("f", morning, 30, 30, 30)
			r.Lengths[2].StartS = 62
			r.Laps = []read.Lap{lap(0, 92, 3)}
			for i := range r.Lengths {
				r.Lengths[i].Lap = 0
			}
			r.Rests = []read.Rest{{Record: 1, StartS: 60, DurationS: 2}}
			return r
		}, []float64{0, 30, 62}, []int{1, 1, 1}, repeat(3, nan)},
		{"a lap of 0.435 s pressed by mistake", func() read.Recording {
			r := activity("f", morning, 30, 30, 30)
			r.Laps = []read.Lap{lap(0, 60, 2), lap(60, 0.435, 0), lap(60.435, 30, 1)}
			r.Lengths[0].Lap, r.Lengths[1].Lap, r.Lengths[2].Lap = 0, 0, 2
			r.Rests = []read.Rest{{Record: 1, StartS: 60, DurationS: 0.435}}
			return r
		}, []float64{0, 30, 60.435}, []int{1, 1, 1}, repeat(3, nan)},
		{"a length of no duration", func() read.Recording {
			return activity("f", morning, 30, 0, 30)
		}, []float64{0, 30, 30}, []int{1, 1, 1}, repeat(3, nan)},
		{"a length without a duration", func() read.Recording {
			r := activity("f", morning, 30, 30, 30)
			r.Lengths[1].DurationS = nan
			return r
		}, []float64{0, 30, 60}, []int{1, 1, 1}, repeat(3, nan)},
		{"starts that run backwards", func() read.Recording {
			r := activity("f", morning, 30, 30, 30)
			r.Lengths[0].StartS, r.Lengths[1].StartS, r.Lengths[2].StartS = 500, 100, 50
			return r
		}, []float64{500, 500, 500}, []int{1, 1, 1}, repeat(3, nan)},
		{"all lengths in one lap with idle lengths between", func() read.Recording {
			r := activity("f", morning, 30, 30, 30, 30)
			r.Laps = []read.Lap{lap(0, 180, 4)}
			for i, s := range []float64{0, 30, 100, 130} {
				r.Lengths[i].Lap, r.Lengths[i].StartS = 0, s
			}
			r.Rests = []read.Rest{{Record: 1, StartS: 60, DurationS: 40}}
			return r
		}, []float64{0, 30, 100, 130}, []int{1, 1, 2, 2}, []float64{nan, nan, 40, 40}},
		{"a sheet with starts and rests", func() read.Recording {
			r := sheet("s", morning, 30, 31, 32, 33)
			for i := range r.Lengths {
				l := &r.Lengths[i]
				l.Kind, l.Covers, l.RestS = read.KindLength, 1, nan
			}
			r.Lengths[0].StartS, r.Lengths[1].RestS, r.Lengths[2].StartS = 10, 20, 120
			return r
		}, []float64{10, 60, 120, 152}, []int{1, 2, 3, 4}, []float64{nan, 20, 29, nan}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, _ := sessions(t, nil, c.build())
			s := got[0]
			if starts := startsOf(s); !slices.EqualFunc(starts, c.starts, func(a, b float64) bool { return math.Abs(a-b) < 1e-9 }) {
				t.Errorf("starts %v, want %v", starts, c.starts)
			}
			if swims := swimsOf(s); !slices.Equal(swims, c.swims) {
				t.Errorf("swims %v, want %v", swims, c.swims)
			}
			for i, l := range s.Lengths {
				if !same(l.RestBeforeS, c.rests[i]) && math.Abs(l.RestBeforeS-c.rests[i]) > 1e-9 {
					t.Errorf("rest before length %d: %v, want %v", i, l.RestBeforeS, c.rests[i])
				}
			}
		})
	}
}

func TestRestsKnowTheLengthTheyPrecede(t *testing.T) {
	r := sheet("f", morning, 80, 80) // rows that cover four lengths, read from a watch
	r.Kind = read.FromActivity
	r.Lengths[0].StartS, r.Lengths[1].StartS = 0, 110
	r.Rests = []read.Rest{{Record: 3, StartS: 190, DurationS: 60}, {Record: 1, StartS: 0, DurationS: 0}, {Record: 2, StartS: 80, DurationS: 30}}
	got, _ := sessions(t, nil, r)
	before := map[int64]int{}
	for _, x := range got[0].Rests {
		before[x.Record] = x.Before
	}
	if before[1] != 0 || before[2] != 4 || before[3] != 8 {
		t.Errorf("rests precede %v", before)
	}
}

func TestLongDriftFollowsTheRecordedStarts(t *testing.T) {
	// 0.4 s at each wall are too little to be called left out, but over 100
	// lengths they come to 40 s.
	r := activity("f", morning)
	for i := range 100 {
		r.Lengths = append(r.Lengths, length(int64(i+1), math.Floor(30.4*float64(i)), 30, 10))
	}
	got, _ := sessions(t, nil, r)
	for i, l := range got[0].Lengths {
		if off := math.Abs(l.StartS - 30.4*float64(i)); off > agreeS+1 {
			t.Fatalf("length %d starts %.1f s off the clock", i, off)
		}
	}
	if n := swimsOf(got[0])[99]; n != 1 {
		t.Errorf("the swim is cut into %d", n)
	}
}

func TestWallTimeLeftOut(t *testing.T) {
	for _, c := range []struct {
		wall  float64
		noted bool
	}{{0, false}, {0.3, false}, {1, true}, {1.4, true}, {1.8, true}, {4, false}} {
		r := activity("f", morning)
		at := 0.0
		for i := range 40 {
			s := 28 + float64(i%5)*0.37
			r.Lengths = append(r.Lengths, length(int64(i+1), math.Floor(at), s, 10))
			at += s + c.wall
		}
		got, entries := sessions(t, nil, r)
		if w := got[0].WallTimeS; math.Abs(w-c.wall) > 0.3 {
			t.Errorf("wall time %v, want about %v", w, c.wall)
		}
		if noted := count(entries, "f", RuleWallTime, read.Noted) == 1; noted != c.noted {
			t.Errorf("wall time %v: noted %v, want %v", c.wall, noted, c.noted)
		}
		if c.wall < 3 && swimsOf(got[0])[39] != 1 {
			t.Errorf("wall time %v cuts the swim: %v", c.wall, swimsOf(got[0]))
		}
		for i, l := range got[0].Lengths {
			if l.DurationS != r.Lengths[i].DurationS {
				t.Fatal("a duration was changed")
			}
		}
	}
}

func TestSheetWithoutRestsHasNoSureClock(t *testing.T) {
	r := sheet("s", morning, 80, 80)
	r.Lengths[1].RestS = nan
	log := read.Recording{FileID: "log", Part: 1, Kind: read.FromHeartRateLog, Swimmer: "ada", Start: morning, PoolM: nan}
	beats(&log, 0, 100, 1, 140)
	got, entries := sessions(t, nil, r, log)
	if got[0].ClockSure || len(got[0].Samples) != 0 || count(entries, "log", RuleOutsideSession, read.Excluded) != 100 {
		t.Errorf("sure %v, %d samples, %v", got[0].ClockSure, len(got[0].Samples), brief(entries))
	}
	r.Lengths[1].RestS, r.Lengths[0].StartS = 30, 30 // it states starts, but not this one
	if got, _ = sessions(t, nil, r, log); got[0].ClockSure {
		t.Error("a start that the sheet could not state is taken for sure")
	}
	r.Lengths[0].StartS = nan
	got, _ = sessions(t, nil, r, log)
	if !got[0].ClockSure || len(got[0].Samples) != 100 {
		t.Errorf("sure %v, %d samples", got[0].ClockSure, len(got[0].Samples))
	}
}

func TestSwims(t *testing.T) {
	type set func(r *read.Recording)
	strokes := func(words ...string) set {
		return func(r *read.Recording) {
			long := map[byte]string{'f': "freestyle", 'b': "backstroke", 'r': "breaststroke", 'y': "butterfly", 'm': "mixed"}
			r.Lengths = nil
			for i, w := range words {
				l := length(int64(i+1), 30*float64(i), 30, 10)
				l.Stroke, l.Drill = long[w[0]], w == "d"
				if l.Drill {
					l.Stroke = "unknown"
				}
				r.Lengths = append(r.Lengths, l)
			}
		}
	}
	for _, c := range []struct {
		name  string
		set   set
		kind  read.RecordingKind
		swims []int
		flips int64
	}{
		{"one flip", strokes("f", "f", "b", "f", "f"), read.FromActivity, []int{1, 1, 1, 1, 1}, 1},
		{"a flip of two", strokes("f", "f", "f", "m", "m", "f", "f"), read.FromActivity, []int{1, 1, 1, 1, 1, 1, 1}, 2},
		{"two flips", strokes("f", "f", "b", "f", "r", "f"), read.FromActivity, []int{1, 1, 1, 1, 1, 1}, 2},
		{"three of another stroke", strokes("f", "f", "f", "b", "b", "b", "f", "f"), read.FromActivity, []int{1, 1, 1, 2, 2, 2, 3, 3}, 0},
		{"in turn", strokes("f", "b", "f", "b", "f", "b"), read.FromActivity, []int{1, 2, 3, 4, 5, 6}, 0},
		{"a change for good", strokes("f", "f", "b", "b"), read.FromActivity, []int{1, 1, 2, 2}, 0},
		{"at the end", strokes("f", "f", "f", "b"), read.FromActivity, []int{1, 1, 1, 2}, 0},
		{"a medley of one length each", strokes("y", "b", "r", "f"), read.FromActivity, []int{1, 2, 3, 4}, 0},
		{"a drill between equal strokes", strokes("f", "f", "d", "d", "d", "f"), read.FromActivity, []int{1, 1, 1, 1, 1, 1}, 0},
		{"a drill between strokes", strokes("f", "f", "d", "b", "b"), read.FromActivity, []int{1, 1, 1, 2, 2}, 0},
		{"a flip across a rest", func(r *read.Recording) {
			strokes("f", "f", "b", "f", "f")(r)
			r.Rests = []read.Rest{{Record: 1, StartS: 60, DurationS: 10}}
			for i := 2; i < 5; i++ {
				r.Lengths[i].StartS += 10
			}
		}, read.FromActivity, []int{1, 1, 2, 3, 3}, 0},
		{"a sheet's change of stroke", strokes("f", "f", "b", "f", "f"), read.FromSheet, []int{1, 1, 2, 3, 3}, 0},
		{"a sheet's swim numbers", func(r *read.Recording) {
			strokes("f", "f", "f", "f")(r)
			for i := range r.Lengths {
				r.Lengths[i].Swim = 1 + i/2
			}
		}, read.FromSheet, []int{1, 1, 2, 2}, 0},
		{"tags change, swims not numbered", func(r *read.Recording) {
			strokes("f", "f", "f", "f")(r)
			r.Lengths[2].Tags.Kick = "none"
			r.Lengths[3].Tags.Kick = "none"
		}, read.FromSheet, []int{1, 1, 2, 2}, 0},
		{"a blank tag within a numbered swim", func(r *read.Recording) {
			strokes("f", "f", "f", "f")(r)
			for i := range r.Lengths {
				r.Lengths[i].Swim = 1
			}
			r.Lengths[0].Tags.RateTargetSPM = 60
			r.Lengths[3].Tags.RateTargetSPM = 66
		}, read.FromSheet, []int{1, 1, 1, 2}, 0},
		{"a reading closes an unnumbered swim", func(r *read.Recording) {
			strokes("f", "f", "f")(r)
			r.Lengths[1].End.HRBPM = 150
		}, read.FromSheet, []int{1, 1, 2}, 0},
		{"rows of several lengths", func(r *read.Recording) {
			strokes("f", "f")(r)
			for i := range r.Lengths {
				r.Lengths[i].Kind, r.Lengths[i].Covers = read.KindRepeat, 2
			}
		}, read.FromSheet, []int{1, 1, 2, 2}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := activity("f", morning)
			r.Kind = c.kind
			c.set(&r)
			got, entries := sessions(t, nil, r)
			if swims := swimsOf(got[0]); !slices.Equal(swims, c.swims) {
				t.Errorf("swims %v, want %v", swims, c.swims)
			}
			if n := count(entries, "f", RuleStrokeFlip, read.Noted); n != c.flips {
				t.Errorf("%d flips noted, want %d", n, c.flips)
			}
		})
	}
}

func TestTagsHoldForTheSwim(t *testing.T) {
	r := activity("s", morning, 30, 30, 30)
	r.Kind = read.FromSheet
	for i := range r.Lengths {
		r.Lengths[i].Swim = 1
	}
	r.Lengths[0].Tags.Kick, r.Lengths[2].Tags.RPE = "light", 6
	got, _ := sessions(t, nil, r)
	for i, l := range got[0].Lengths {
		if l.Tags.Kick != "light" || l.Tags.RPE != 6 {
			t.Errorf("length %d: %+v", i, l.Tags)
		}
	}
	if r.Lengths[1].Tags.Kick != "" {
		t.Error("the recording was changed")
	}
}

func TestHeartRate(t *testing.T) {
	logAt := func(file string, start time.Time, n int, bpm float64) read.Recording {
		r := read.Recording{FileID: file, Part: 1, Kind: read.FromHeartRateLog, Swimmer: "ada", Start: start,
			HRSource: "strap", Content: file, PoolM: nan}
		beats(&r, 0, float64(n), 1, bpm)
		return r
	}
	watch := func() read.Recording { return activity("w", morning, repeat(10, 30)...) } // 300 s
	for _, c := range []struct {
		name           string
		own            func(*read.Recording)
		logs           []read.Recording
		from           string
		samples        int
		source         string
		outside, other int64 // records excluded of any file
	}{
		{"a log alone, clipped a minute after the end", nil,
			[]read.Recording{logAt("l", morning.Add(-100*time.Second), 600, 150)}, "l", 361, "strap", 239, 0},
		{"own samples win", func(r *read.Recording) { beats(r, 0, 300, 1, 140) },
			[]read.Recording{logAt("l", morning, 300, 150)}, "w", 300, "optical", 0, 300},
		{"fewer than a tenth", func(r *read.Recording) { beats(r, 0, 300, 30, 140) },
			[]read.Recording{logAt("l", morning, 300, 150)}, "l", 300, "strap", 0, 10},
		{"own samples that say missing", func(r *read.Recording) { beats(r, 0, 300, 1, 255) },
			[]read.Recording{logAt("l", morning, 300, 150)}, "l", 300, "strap", 0, 300},
		{"own samples before and after", func(r *read.Recording) { beats(r, -10, 400, 1, 140) }, nil, "w", 361, "optical", 49, 0},
		{"the log with more beats", nil,
			[]read.Recording{logAt("short", morning.Add(time.Second), 100, 150), logAt("long", morning, 200, 151)}, "long", 200, "strap", 0, 100},
		{"a log without a clock", nil, []read.Recording{logAt("l", time.Time{}, 50, 150)}, "", 0, "optical", 50, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := watch()
			if c.own != nil {
				c.own(&r)
			}
			got, entries := sessions(t, nil, append([]read.Recording{r}, c.logs...)...)
			s := got[0]
			if len(s.Samples) != c.samples || s.HRSource != c.source {
				t.Errorf("%d samples from %s, want %d from %s", len(s.Samples), s.HRSource, c.samples, c.source)
			}
			var outside, other int64
			for _, e := range entries {
				switch e.Rule {
				case RuleOutsideSession:
					outside += e.Records
				case RuleSecondSource:
					other += e.Records
				}
			}
			if outside != c.outside || other != c.other {
				t.Errorf("outside %d, second source %d, want %d, %d: %v", outside, other, c.outside, c.other, brief(entries))
			}
			for i, x := range s.Samples {
				if x.FileID != c.from || i > 0 && x.TimeS < s.Samples[i-1].TimeS {
					t.Fatalf("sample %d: %+v", i, x)
				}
			}
		})
	}
}

func TestALogMayServeTwoSessions(t *testing.T) {
	a, b := activity("a", morning, repeat(4, 30)...), activity("b", morning.Add(150*time.Second), repeat(4, 31)...)
	log := read.Recording{FileID: "l", Part: 1, Kind: read.FromHeartRateLog, Swimmer: "ada", Start: morning, PoolM: nan}
	beats(&log, 0, 400, 1, 150)
	got, entries := sessions(t, nil, a, b, log)
	// a runs 0-120 s and takes recovery until b starts at 150 s; b ends at 274 s.
	if len(got[0].Samples) != 150 || len(got[1].Samples) != 185 || got[1].Samples[0].TimeS != 0 {
		t.Errorf("%d and %d samples", len(got[0].Samples), len(got[1].Samples))
	}
	if n := count(entries, "l", RuleOutsideSession, read.Excluded); n != 65 {
		t.Errorf("%d outside", n)
	}
}
