package read

import (
	"math"
	"slices"
	"testing"
	"time"

	"lengthwise/pipeline/identity"
)

func activityStarts(r Recording) (starts []float64) {
	for _, l := range r.Lengths {
		starts = append(starts, l.StartS)
	}
	return starts
}

func activityLaps(r Recording) (laps []int) {
	for _, l := range r.Lengths {
		laps = append(laps, l.Lap)
	}
	return laps
}

func TestActivityStatedPoolWins(t *testing.T) {
	r := activityOne(t, activityRead(t, fitTestSwim().close(fitTestGood), func(s *ActivitySource) { s.Input.PoolM = 50 }))
	if r.PoolM != 25 {
		t.Errorf("pool %v", r.PoolM)
	}
}

func TestActivityTwoInOneFile(t *testing.T) {
	second := &fitTest{}
	start := fitTestStart + 7200
	second.fileID(99).record(start, 120).length(0, start, 40, 20).lap(start, 40, 0, 1).pool(start, 40, 1)
	data := append(fitTestSwim().close(fitTestGood), second.close(fitTestShort)...)
	var asked []string
	f := activityRead(t, data, func(s *ActivitySource) {
		s.Owner = func(device string) identity.Owner {
			asked = append(asked, device)
			return identity.Owner{Swimmer: "s" + device, Refused: "no-consent"}
		}
	})
	if len(f.Recordings) != 2 || !slices.Equal(asked, []string{"4711", "99"}) {
		t.Fatalf("%d recordings, owners asked for %v", len(f.Recordings), asked)
	}
	a, b := f.Recordings[0], f.Recordings[1]
	if a.Part != 1 || b.Part != 2 || a.Swimmer != "s4711" || b.Swimmer != "s99" || b.Refused != "no-consent" || b.Device != "hash-of-99" {
		t.Errorf("parts %+v, %+v", a, b)
	}
	if len(b.Lengths) != 1 || b.Lengths[0].Record != 5 || b.Lengths[0].Lap != 0 || len(b.Samples) != 1 || b.Samples[0].Record != 17 || b.Samples[0].TimeS != 0 {
		t.Errorf("second recording: %+v", b)
	}
}

func TestActivitySwimAndRunInOneSequence(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1)
	run := s + 200
	f.record(s+5, 120).length(0, s, 30, 12).length(1, s+30, 30, 12).lap(s, 60, 0, 2).pool(s, 60, 2)
	f.record(run+5, 140).record(run+6, 141).lap(run, 600, 2, 0).sessionOf(run, 600, 1, 0, 0xFFFF, 0xFFFF)
	f.record(s+80, 130).record(s+125, 131) // between them: after the swim, and later than recovery
	file := activityRead(t, f.close(fitTestGood))
	r := activityOne(t, file)
	if len(r.Lengths) != 2 || len(r.Laps) != 1 || !slices.Equal(activityTimes(r), []float64{5, 80}) {
		t.Errorf("%+v", r)
	}
	want := []string{"file noted not-pool-swimming", "heart-rate excluded not-pool-swimming", "heart-rate excluded outside-session"}
	if got := activityRules(file); !slices.Equal(got, want) {
		t.Errorf("entries %v, want %v", got, want)
	}
	if e := file.Entries[1]; e.Record != 2 || e.Records != 2 {
		t.Errorf("run of samples %+v", e)
	}
}

func TestActivitySortsByStart(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1).pool(s, 200, 4)
	f.length(2, s+70, 0.4, 1).length(3, s+70, 29, 12).lap(s+70, 30, 2, 2)
	f.lengthOf(0, s, 30, 1, f.u16(5, 11), f.enum(7, 0))
	f.message(101, f.u32(253, s+570), f.u16(254, 1), f.u32(2, s+30), f.u32(3, 31000), f.enum(12, 1), f.u16(5, 12)) // written 509 s late
	f.lap(s, 61, 0, 2)
	r := activityOne(t, activityRead(t, f.close(fitTestGood)))
	if got := activityStarts(r); !slices.Equal(got, []float64{0, 30, 70, 70}) {
		t.Errorf("starts %v", got)
	}
	if r.Lengths[2].DurationS != 0.4 || r.Lengths[3].DurationS != 29 || r.Lengths[0].Record != 3 {
		t.Errorf("order of equal starts or record numbers: %+v", r.Lengths)
	}
	if got := activityLaps(r); !slices.Equal(got, []int{0, 0, 1, 1}) || r.Laps[0].StartS != 0 || r.Laps[1].StartS != 70 {
		t.Errorf("laps of the lengths %v, laps %+v", got, r.Laps)
	}
}

func TestActivityLengthWithoutStart(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1).length(0, s, 30, 12)
	f.message(101, f.u16(254, 1), f.u32(2, 0xFFFFFFFF), f.u32(3, 0xFFFFFFFF), f.u32(4, 30500), f.enum(12, 1), f.u16(5, 12))
	f.length(2, s+61, 30, 12).lap(s, 91, 0xFFFF, 3).pool(s, 91, 3)
	r := activityOne(t, activityRead(t, f.close(fitTestGood)))
	if !activityNear(r.Lengths[1].StartS, math.NaN()) || r.Lengths[1].DurationS != 30.5 || r.Lengths[1].Record != 2 {
		t.Errorf("%+v", r.Lengths)
	}
	if got := activityLaps(r); !slices.Equal(got, []int{0, 0, 0}) {
		t.Errorf("laps %v", got)
	}
}

func TestActivityLapsOwnLengths(t *testing.T) {
	s := fitTestStart
	for _, c := range []struct {
		name string
		make func(f *fitTest)
		want []int
		own  []int
	}{
		{"rest as its own lap with one idle length", func(f *fitTest) {
			f.lap(s, 60, 0, 2).lap(s+60, 20, 2, 1).lap(s+80, 60, 3, 2)
		}, []int{0, 0, 2, 2}, []int{2, 0, 2}},
		{"rest inside the interval's lap", func(f *fitTest) { f.lap(s, 80, 0, 3).lap(s+80, 60, 3, 2) }, []int{0, 0, 1, 1}, []int{2, 2}},
		{"numbers of active lengths only", func(f *fitTest) { f.lap(s, 80, 0, 2).lap(s+80, 60, 3, 2) }, []int{0, 0, 1, 1}, []int{2, 2}},
		{"all in one lap", func(f *fitTest) { f.lap(s, 140, 0, 5) }, []int{0, 0, 0, 0}, []int{4}},
		{"a lap of half a second", func(f *fitTest) {
			f.lap(s, 60, 0, 2).lap(s+60, 20, 2, 1).lap(s+80, 0.435, 3, 0).lap(s+80, 60, 3, 2)
		}, []int{0, 0, 3, 3}, []int{2, 0, 0, 2}},
		{"indices that count from one", func(f *fitTest) { f.lap(s, 60, 1, 2).lap(s+60, 20, 3, 1).lap(s+80, 60, 4, 2) }, []int{0, 0, 2, 2}, []int{2, 0, 2}},
		{"indices that are all the same", func(f *fitTest) { f.lap(s, 60, 0, 2).lap(s+80, 60, 0, 2) }, []int{0, 0, 1, 1}, []int{2, 2}},
		{"numbers that do not fit", func(f *fitTest) { f.lap(s, 60, 0, 7).lap(s+80, 60, 3, 2) }, []int{0, 0, 1, 1}, []int{2, 2}},
		{"indices invalid", func(f *fitTest) { f.lap(s, 60, 0xFFFF, 0xFFFF).lap(s+80, 60, 0xFFFF, 0xFFFF) }, []int{0, 0, 1, 1}, []int{2, 2}},
		{"the last lap never written", func(f *fitTest) { f.lap(s, 60, 0, 2) }, []int{0, 0, -1, -1}, []int{2}},
		{"no laps", func(*fitTest) {}, []int{-1, -1, -1, -1}, nil},
	} {
		f := &fitTest{}
		f.fileID(1).length(0, s, 30, 12).length(1, s+30, 30, 12).idle(2, s+60, 20).length(3, s+80, 30, 12).length(4, s+110, 30, 12)
		c.make(f)
		f.pool(s, 140, 4)
		r := activityOne(t, activityRead(t, f.close(fitTestGood)))
		if got := activityLaps(r); !slices.Equal(got, c.want) {
			t.Errorf("%s: laps %v, want %v", c.name, got, c.want)
		}
		var own []int
		for _, l := range r.Laps {
			own = append(own, l.PoolLengths)
		}
		if !slices.Equal(own, c.own) {
			t.Errorf("%s: laps own %v, want %v", c.name, own, c.own)
		}
	}
}

func TestActivityPoolIsMetres(t *testing.T) {
	for cm, want := range map[uint16]float64{2286: 22.86, 2000: 20, 5000: 50, 3333: 33.33, 0: math.NaN(), 0xFFFF: math.NaN()} {
		f, s := &fitTest{}, fitTestStart
		f.fileID(1).length(0, s, 30, 12)
		f.message(18, f.u32(2, s), f.u32(7, 30000), f.enum(5, 5), f.enum(6, 17), f.u16(44, cm), f.enum(46, 1))
		file := activityRead(t, f.close(fitTestGood))
		if r := activityOne(t, file); !activityNear(r.PoolM, want) {
			t.Errorf("pool of %d cm: %v", cm, r.PoolM)
		}
		if activityHasRule(file, KindFile, Noted, "no-pool") != math.IsNaN(want) {
			t.Errorf("pool of %d cm: %v", cm, activityRules(file))
		}
	}
}

func TestActivityClock(t *testing.T) {
	lisbon := time.FixedZone("two hours ahead", 7200)
	for _, c := range []struct {
		offset int32
		zone   *time.Location
		rule   string
	}{
		{0, time.UTC, ""}, {7200, lisbon, ""}, {7200, time.UTC, "zone-differs"}, {20700, time.FixedZone("", 20700), ""},
		{-528 * 3600, time.UTC, "unknown-zone"}, {14 * 3600, time.UTC, "zone-differs"}, {14*3600 + 900, time.UTC, "unknown-zone"}, {3601, time.UTC, "unknown-zone"},
	} {
		f, s := &fitTest{}, fitTestStart+16*3600 // 22:30 UTC
		f.fileID(1).length(0, s, 30, 12).pool(s, 30, 1).message(34, f.u32(253, s+30), f.u32(5, uint32(int64(s)+30+int64(c.offset))))
		file := activityRead(t, f.close(fitTestGood), func(src *ActivitySource) { src.Input.TimeZone = c.zone })
		var want []string
		if c.rule != "" {
			want = []string{"file noted " + c.rule}
		}
		if got := activityRules(file); !slices.Equal(got, want) {
			t.Errorf("offset %d: entries %v, want %v", c.offset, got, want)
		}
		r := activityOne(t, file)
		if date := r.Start.In(c.zone).Format("2006-01-02"); r.LocalDate != date || r.Zone != c.zone {
			t.Errorf("offset %d: local date %s, want %s", c.offset, r.LocalDate, date)
		}
	}
}

func TestActivityClockNeverSet(t *testing.T) {
	f := &fitTest{}
	f.message(0, f.enum(0, 4)).record(1010, 120).length(0, 1000, 30, 12).lap(1000, 30, 0, 1).pool(1000, 30, 1)
	file := activityRead(t, f.close(fitTestGood))
	r := activityOne(t, file)
	if !r.Start.IsZero() || r.LocalDate != "" || r.Created != 0 || r.Device != "" || r.Lengths[0].StartS != 0 || r.Samples[0].TimeS != 10 {
		t.Errorf("%+v", r)
	}
	if got := activityRules(file); !slices.Equal(got, []string{"file noted clock-not-set"}) {
		t.Errorf("entries %v", got)
	}
}

func TestActivityRefusesOtherSports(t *testing.T) {
	s := fitTestStart
	for _, c := range []struct {
		name       string
		sport, sub byte
		lengths    bool
		rule       string
	}{
		{"pool", 5, 17, true, ""},
		{"pool, kind of swimming not stated", 5, 0xFF, true, ""},
		{"pool, generic", 5, 0, true, ""},
		{"nothing stated but lengths", 0xFF, 0xFF, true, ""},
		{"open water", 5, 18, false, "open-water"},
		{"swim of a triathlon", 5, 0, false, "not-pool-swimming"},
		{"pool without lengths", 5, 17, false, "no-lengths"},
		{"running", 1, 0, false, "not-pool-swimming"},
		{"another sub-sport that carries swimming", 5, 46, true, "not-pool-swimming"},
		{"multisport", 18, 0, true, "not-pool-swimming"},
	} {
		f := &fitTest{}
		f.fileID(1).record(s+1, 100).record(s+2, 101)
		if c.lengths {
			f.length(0, s, 30, 12).idle(1, s+30, 5)
		}
		f.record(s+3, 102).sessionOf(s, 60, c.sport, c.sub, 2500, 1)
		file := activityRead(t, f.close(fitTestGood))
		if c.rule == "" {
			if activityOne(t, file); len(file.Entries) != 0 {
				t.Errorf("%s: entries %v", c.name, activityRules(file))
			}
			continue
		}
		if len(file.Recordings) != 0 {
			t.Errorf("%s: a recording", c.name)
		}
		want := []string{"file excluded " + c.rule, "heart-rate excluded " + c.rule}
		if c.lengths {
			want = []string{"file excluded " + c.rule, "length excluded " + c.rule, "rest excluded " + c.rule, "heart-rate excluded " + c.rule}
		}
		if got := activityRules(file); !slices.Equal(got, want) {
			t.Errorf("%s: entries %v, want %v", c.name, got, want)
		}
		if e := file.Entries[len(file.Entries)-1]; e.Record != 1 || e.Records != 3 || e.Swimmer != "s1" {
			t.Errorf("%s: samples %+v", c.name, e)
		}
	}
}
