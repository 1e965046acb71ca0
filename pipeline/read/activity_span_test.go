package read

import (
	"math"
	"slices"
	"testing"
	"time"
)

func activityRecords(r Recording) (records []int64) {
	for _, l := range r.Lengths {
		records = append(records, l.Record)
	}
	return records
}

// lost writes a length without a start.
func (f *fitTest) lost(index uint16, written uint32) *fitTest {
	return f.message(101, f.u32(253, written), f.u16(254, index), f.u32(2, 0xFFFFFFFF), f.u32(3, 30000), f.enum(12, 1), f.u16(5, 12))
}

// A summary that states less than was swum loses no heart rate.
func TestActivityLengthsWidenTheirSession(t *testing.T) {
	s := fitTestStart
	for _, c := range []struct {
		name  string
		make  func(f *fitTest)
		start uint32
		times []float64
	}{
		{"seconds of the timer, not of the clock", func(f *fitTest) {
			f.length(0, s, 30, 12).length(1, s+30, 30, 12).length(2, s+361, 30, 12)
			for i := range uint32(8) {
				f.record(s+56*i, 120)
			}
			f.pool(s, 92, 3)
		}, s, []float64{0, 56, 112, 168, 224, 280, 336, 392}},
		{"stated start after the first length", func(f *fitTest) {
			f.record(s-1, 99).record(s, 100).record(s+10, 101).record(s+20, 102).length(0, s, 30, 12).length(1, s+30, 30, 12).pool(s+20, 40, 2)
		}, s, []float64{0, 10, 20}},
		{"a minute of recovery", func(f *fitTest) {
			f.length(0, s, 30, 12).record(s+30, 100).record(s+60, 101).record(s+91, 102).record(s+92, 103).pool(s, 30, 1)
		}, s, []float64{30, 60, 91}},
		{"a length of another day widens nothing", func(f *fitTest) {
			f.length(0, s, 30, 12).length(1, s-90000, 30, 12).record(s-80000, 100).record(s, 101).pool(s, 60, 2)
		}, s, []float64{0}},
		{"no duration stated", func(f *fitTest) {
			f.length(0, s, 30, 12).record(s, 101).record(s+20, 102).record(s+300, 103).record(s+50000, 104)
			f.message(18, f.u32(2, s), f.enum(5, 5), f.enum(6, 17), f.u16(44, 2500))
		}, s, []float64{0, 20, 300}},
	} {
		f := &fitTest{}
		f.fileID(1)
		c.make(f)
		file := activityRead(t, f.close(fitTestGood))
		activitySound(t, file)
		r := activityOne(t, file)
		if got := activityTimes(r); !slices.Equal(got, c.times) {
			t.Errorf("%s: times %v, want %v", c.name, got, c.times)
		}
		if want := time.Unix(int64(c.start)+fitEpoch, 0); !r.Start.Equal(want) {
			t.Errorf("%s: start %v, want %v", c.name, r.Start, want)
		}
	}
}

// Several sessions in one sequence: no length is lost for a summary that does
// not cover it, or for want of a start.
func TestActivityLengthsOfSeveralSessions(t *testing.T) {
	s := fitTestStart
	for _, c := range []struct {
		name string
		make func(f *fitTest)
		want [][]int64 // records of each recording
	}{
		{"later than its summary says, before a run", func(f *fitTest) {
			f.length(0, s, 30, 12).length(1, s+30, 30, 12).length(2, s+361, 30, 12)
			f.pool(s, 92, 3).sessionOf(s+500, 600, 1, 0, 0xFFFF, 0xFFFF)
		}, [][]int64{{1, 2, 3}}},
		{"no start, between the summaries", func(f *fitTest) {
			f.length(0, s, 30, 12).length(1, s+361, 30, 12).pool(s, 92, 2)
			f.length(2, s+500, 30, 12).lost(3, s+565).pool(s+500, 70, 2)
		}, [][]int64{{1, 2}, {3, 4}}},
		{"the only one of its session", func(f *fitTest) {
			f.length(0, s, 30, 12).pool(s, 92, 1).lost(1, s+565).pool(s+500, 70, 1)
		}, [][]int64{{1}, {2}}},
		{"summaries first", func(f *fitTest) {
			f.pool(s, 92, 2).length(0, s, 30, 12).lost(1, s+60).pool(s+500, 70, 2).length(2, s+500, 30, 12).lost(3, s+565)
		}, [][]int64{{1, 2}, {3, 4}}},
		{"summaries at the end: by time", func(f *fitTest) {
			f.length(0, s, 30, 12).length(1, s+361, 30, 12).length(2, s+500, 30, 12).length(3, s+700, 30, 12).length(4, s-20, 10, 4)
			f.pool(s, 92, 3).pool(s+500, 70, 2)
		}, [][]int64{{5, 1, 2}, {3, 4}}},
		{"summaries at the end: by neighbour", func(f *fitTest) {
			f.length(0, s, 30, 12).lost(1, s+60).length(2, s+500, 30, 12).lost(3, s+565).pool(s, 92, 2).pool(s+500, 70, 2)
		}, [][]int64{{1, 2}, {3, 4}}},
		{"summaries without times", func(f *fitTest) {
			never := uint32(math.MaxUint32)
			f.length(0, s, 30, 12).message(18, f.u32(2, never), f.enum(5, 5), f.enum(6, 17), f.u16(44, 2500))
			f.length(1, s+500, 30, 12).message(18, f.u32(2, never), f.enum(5, 5), f.enum(6, 17), f.u16(44, 2500))
		}, [][]int64{{1}, {2}}},
	} {
		f := &fitTest{}
		f.fileID(1)
		c.make(f)
		file := activityRead(t, f.close(fitTestGood))
		activitySound(t, file)
		var got [][]int64
		for _, r := range file.Recordings {
			got = append(got, activityRecords(r))
		}
		if !slices.EqualFunc(got, c.want, slices.Equal) {
			t.Errorf("%s: lengths %v, want %v; entries %v", c.name, got, c.want, activityRules(file))
		}
	}
}

// Without a summary, the laps and lengths say when the session was. What was
// written before the clock was set does not.
func TestActivitySpanWithoutASummary(t *testing.T) {
	s := fitTestStart
	for _, c := range []struct {
		name   string
		make   func(f *fitTest)
		dated  bool
		starts []float64
		times  []float64
	}{
		{"a sample before the clock was set", func(f *fitTest) {
			f.record(4660, 90).record(s-5, 99).record(s, 100).length(0, s, 30, 12).length(1, s+30, 30, 12).record(s+300, 101)
		}, true, []float64{0, 30}, []float64{-5, 0, 300}},
		{"a length before the clock was set", func(f *fitTest) {
			f.length(0, 4660, 30, 12).length(1, s, 30, 12).record(s, 100)
		}, true, []float64{math.NaN(), 0}, []float64{0}},
		{"a lap before the clock was set", func(f *fitTest) {
			f.lap(4660, 30, 0xFFFF, 0xFFFF).length(0, s, 30, 12).record(s, 100)
		}, true, []float64{0}, []float64{0}},
		{"samples of other days", func(f *fitTest) {
			f.record(s-90000, 90).length(0, s, 30, 12).record(s+20, 100).record(s+90000, 101)
		}, true, []float64{0}, []float64{20}},
		{"samples alone have times", func(f *fitTest) {
			f.record(4660, 90).record(s, 91).lost(0, s+30).record(s+30, 92)
		}, true, []float64{math.NaN()}, []float64{0, 30}},
		{"the clock never set", func(f *fitTest) {
			f.record(4660, 90).length(0, 4665, 30, 12).record(4670, 92)
		}, false, []float64{0}, []float64{-5, 5}},
	} {
		f := &fitTest{}
		f.fileID(1)
		c.make(f)
		file := activityRead(t, f.close(fitTestGood))
		activitySound(t, file)
		r := activityOne(t, file)
		if r.Start.IsZero() == c.dated || c.dated && !r.Start.Equal(time.Unix(int64(s)+fitEpoch, 0)) {
			t.Errorf("%s: start %v", c.name, r.Start)
		}
		if !slices.EqualFunc(activityStarts(r), c.starts, activityNear) || !slices.Equal(activityTimes(r), c.times) {
			t.Errorf("%s: starts %v, samples %v, want %v, %v", c.name, activityStarts(r), activityTimes(r), c.starts, c.times)
		}
		if lost := int(file.Counts.HeartRate) - len(c.times); (lost > 0) != activityHasRule(file, KindHeartRate, Excluded, "outside-session") {
			t.Errorf("%s: entries %v", c.name, activityRules(file))
		}
	}
}

// Lengths of one second go by their number; a message that is there twice
// counts once.
func TestActivityLengthsOfOneSecond(t *testing.T) {
	s := fitTestStart
	for _, c := range []struct {
		name  string
		make  func(f *fitTest)
		want  []int64
		twice []int64
	}{
		{"numbers", func(f *fitTest) { f.length(0, s, 20, 12).length(2, s+20, 25, 12).length(1, s+20, 0.4, 1) }, []int64{1, 3, 2}, nil},
		{"no number on one", func(f *fitTest) {
			f.length(2, s, 25, 12).length(0xFFFF, s, 0.4, 1).length(0, s, 0.3, 1)
		}, []int64{1, 2, 3}, nil},
		{"one number for all", func(f *fitTest) { f.length(0, s, 25, 12).length(0, s, 24, 1).length(0, s+25, 25, 12) }, []int64{1, 2, 3}, nil},
		{"twice", func(f *fitTest) {
			f.length(0, s, 25, 12).length(1, s+25, 25, 12).length(1, s+25, 25, 12).length(0, s, 25, 12)
		}, []int64{1, 2}, []int64{3, 4}},
		{"a length and a rest", func(f *fitTest) { f.length(0, s, 25, 12).idle(0, s, 25) }, []int64{1}, nil},
		{"without a number", func(f *fitTest) { f.length(0xFFFF, s, 25, 12).length(0xFFFF, s, 25, 12) }, []int64{1, 2}, nil},
	} {
		f := &fitTest{}
		f.fileID(1)
		c.make(f)
		file := activityRead(t, f.pool(s, 60, 0xFFFF).close(fitTestGood))
		if got := activityRecords(activityOne(t, file)); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
		var twice []int64
		for _, e := range file.Entries {
			if e.Rule == "length-twice" {
				for i := range e.Records {
					twice = append(twice, e.Record+i)
				}
			}
		}
		if !slices.Equal(twice, c.twice) {
			t.Errorf("%s: twice %v, want %v; entries %v", c.name, twice, c.twice, activityRules(file))
		}
	}
}
