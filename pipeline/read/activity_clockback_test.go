package read

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"lengthwise/datasets/activityfile"
)

// A clock that is set back at any second of a session, by a little or a lot, is
// found wherever lengths or samples show it; lengths and heart rate keep their
// places.
func TestActivityClockSetBack(t *testing.T) {
	plain := itemSwim()
	clean := activityOne(t, activityRead(t, activityEncoded(t, plain, activityfile.Quirks{})))
	for _, back := range []float64{30, 61, 300, 3600} {
		for at := 20.0; at < 320; at += 7 {
			for _, q := range []activityfile.Quirks{{}, {Order: activityfile.Shuffled}, {Order: activityfile.SummaryFirst}, {OmitSession: true, StrayLap: true}} {
				q.ClockBackSeconds, q.ClockBackAt = back, at
				name := fmt.Sprintf("%v s at %v, order %d", back, at, q.Order)
				f := activityRead(t, activityEncoded(t, plain, q))
				activitySound(t, f)
				r := activityOne(t, f)
				if !r.Start.Equal(clean.Start) || len(r.Lengths) != len(clean.Lengths) || len(r.Rests) != len(clean.Rests) {
					t.Fatalf("%s: starts %v, %d lengths, %d rests", name, r.Start, len(r.Lengths), len(r.Rests))
				}
				told := 0
				for _, e := range f.Entries {
					if e.Rule == "clock-set-back" && e.Action == Noted {
						told++
					}
				}
				if told != 1 {
					t.Fatalf("%s: told %d times: %+v", name, told, f.Entries)
				}
				for i, l := range r.Lengths {
					if want := clean.Lengths[i]; math.Abs(l.StartS-want.StartS) > 2 || l.DurationS != want.DurationS || l.Lap != want.Lap {
						t.Fatalf("%s: length %d: %+v, want %+v", name, i, l, want)
					}
				}
				if len(r.Samples) != len(clean.Samples) {
					t.Fatalf("%s: %d samples of %d: %v", name, len(r.Samples), len(clean.Samples), activityRules(f))
				}
				for i, s := range r.Samples {
					if want := clean.Samples[i]; math.Abs(s.TimeS-want.TimeS) > 1 || s.BPM != want.BPM {
						t.Fatalf("%s: sample %d: %+v, want %+v", name, i, s, want)
					}
				}
			}
		}
	}
}

// Where no sample shows the step, what may be of either clock is left out and
// the rest stays.
func TestActivityClockSetBackWithoutSamplesThatShowIt(t *testing.T) {
	for _, c := range []struct {
		name string
		make func(a *activityfile.Activity)
		kept func(n int) bool
	}{
		{"a sample every 50 s", func(a *activityfile.Activity) {
			var few []activityfile.Record
			for i := 0; i < len(a.Records); i += 50 {
				few = append(few, a.Records[i])
			}
			a.Records = few
		}, func(n int) bool { return n == 1 }}, // one at 0 s, before all that may be of either
		{"a strap's log", func(a *activityfile.Activity) {
			a.Records = nil
			for i := range 300 {
				a.Beats = append(a.Beats, activityfile.Beat{Seconds: float64(i), BPM: 130})
			}
		}, func(n int) bool { return n == 0 }},
		{"nothing", func(a *activityfile.Activity) { a.Records = nil }, func(n int) bool { return n == 0 }},
	} {
		a := itemSwim()
		c.make(&a)
		f := activityRead(t, activityEncoded(t, a, activityfile.Quirks{ClockBackSeconds: 200, ClockBackAt: 210}))
		activitySound(t, f)
		r := activityOne(t, f)
		if len(r.Lengths) != 14 || !activityHasRule(f, KindLength, Noted, "clock-set-back") || !c.kept(len(r.Samples)) {
			t.Errorf("%s: %d lengths, %d samples, entries %+v", c.name, len(r.Lengths), len(r.Samples), f.Entries)
		}
		for i := 1; i < len(r.Lengths); i++ {
			if r.Lengths[i].StartS < r.Lengths[i-1].StartS {
				t.Errorf("%s: length %d starts before the one before it", c.name, i)
			}
		}
	}
}

// What only looks like a clock set back: lengths in no order without numbers,
// a start that is wrong, seconds that are wrong.
func TestActivityNoClockSetBack(t *testing.T) {
	s := fitTestStart
	for _, c := range []struct {
		name  string
		make  func(f *fitTest)
		want  []int64
		rule  string
		words string
	}{
		{"no order, no numbers", func(f *fitTest) {
			for _, i := range []uint32{3, 0, 2, 1} {
				f.length(0xFFFF, s+30*i, 30, 12)
			}
		}, []int64{2, 4, 3, 1}, "", ""},
		{"numbers that are not in order of time", func(f *fitTest) {
			for i, k := range []uint32{3, 0, 2, 1} {
				f.length(uint16(i), s+30*k, 30, 12)
			}
		}, []int64{2, 4, 3, 1}, "", ""},
		{"one start is wrong", func(f *fitTest) {
			f.length(0, s, 30, 12).length(1, s-500, 30, 12).length(2, s+60, 30, 12)
		}, []int64{1, 2, 3}, "lengths-overlap", "its start is wrong"},
		{"seconds that are too many", func(f *fitTest) {
			f.length(0, s, 30, 12).length(1, s+30, 50, 12).length(2, s+60, 30, 12)
		}, []int64{1, 2, 3}, "lengths-overlap", "or the seconds are wrong"},
	} {
		f := &fitTest{}
		f.fileID(1)
		c.make(f)
		file := activityRead(t, f.pool(s, 120, 0xFFFF).close(fitTestGood))
		activitySound(t, file)
		got := activityRecords(activityOne(t, file))
		if fmt.Sprint(got) != fmt.Sprint(c.want) || (len(file.Entries) == 1) != (c.rule != "") ||
			c.rule != "" && (file.Entries[0].Rule != c.rule || !strings.Contains(file.Entries[0].Detail, c.words)) {
			t.Errorf("%s: lengths %v, want %v, entries %+v", c.name, got, c.want, file.Entries)
		}
	}
}

// Files in which every length and sample goes back are read in good time, and
// laps without numbers go with their lengths.
func TestActivityClockSetBackOverAndOver(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1)
	for i := range uint32(20_000) {
		f.record(s+7919*i%90_000, 120)
		f.lengthOf(0xFFFF, s+7919*i%90_000, 30, 1)
		if i%8 == 0 {
			f.lap(s+7919*i%90_000, 240, 0xFFFF, 0xFFFF)
		}
	}
	began := time.Now()
	activitySound(t, activityRead(t, f.pool(s, 90_000, 0xFFFF).close(fitTestGood)))
	if took := time.Since(began); took > 20*time.Second { // half a second here
		t.Errorf("%v", took)
	}

	f = &fitTest{}
	f.fileID(1)
	for i, start := range []uint32{s, s + 30, s + 60, s + 90 - 70, s + 120 - 70} {
		f.lengthOf(0xFFFF, start, 30, 1, f.u16(5, 12), f.enum(7, 0))
		if i == 2 {
			f.lap(s, 90, 0xFFFF, 0xFFFF)
		}
	}
	r := activityOne(t, activityRead(t, f.lap(s+20, 60, 0xFFFF, 0xFFFF).pool(s, 150, 5).close(fitTestGood)))
	if got := activityLaps(r); fmt.Sprint(got) != "[0 0 0 1 1]" || r.Laps[1].StartS != 90 {
		t.Errorf("laps %v, %+v, starts %v", got, r.Laps, activityStarts(r))
	}
}

// A pause that no length tells of does not hide how far the clock was set back:
// the samples do.
func TestActivityClockSetBackInAPause(t *testing.T) {
	plain := itemSwim()
	a := plain
	a.Laps, a.Lengths = nil, nil
	for _, lap := range plain.Laps { // rests are not written
		if lap.DistanceMetres == 0 {
			continue
		}
		first := len(a.Lengths)
		a.Lengths = append(a.Lengths, plain.Lengths[lap.FirstLength:lap.FirstLength+lap.Lengths]...)
		lap.FirstLength = first
		a.Laps = append(a.Laps, lap)
	}
	clean := activityOne(t, activityRead(t, activityEncoded(t, a, activityfile.Quirks{})))
	r := activityOne(t, activityRead(t, activityEncoded(t, a, activityfile.Quirks{ClockBackSeconds: 300, ClockBackAt: a.Laps[1].StartSeconds - 8})))
	for i, l := range r.Lengths {
		if math.Abs(l.StartS-clean.Lengths[i].StartS) > 1 {
			t.Errorf("length %d starts at %v, want %v", i, l.StartS, clean.Lengths[i].StartS)
		}
	}
	for i, s := range r.Samples {
		if math.Abs(s.TimeS-clean.Samples[i].TimeS) > 1 {
			t.Fatalf("sample %d at %v, want %v", i, s.TimeS, clean.Samples[i].TimeS)
		}
	}
}
