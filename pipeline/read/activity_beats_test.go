package read

import (
	"math"
	"slices"
	"strings"
	"testing"
)

func activityTimes(r Recording) (times []float64) {
	for _, s := range r.Samples {
		times = append(times, s.TimeS)
	}
	return times
}

// A strap's log in sequences of its own after the activity, each
// block with its anchor, clipped to the session, start value marked, padding
// left out.
func TestActivityStrapLogInFurtherSequences(t *testing.T) {
	s := fitTestStart
	swim := &fitTest{}
	swim.fileID(4711).length(0, s, 30, 12).lap(s, 30, 0, 1).pool(s, 30, 1)

	first := &fitTest{}
	first.anchor(s-1, 16384, 5000, 71) // half a second before the session
	first.packet(90, 5000+512, 5000+1024, 5000+2048, 5000+3072, 5000+4096, 5000+5120, 5000+6144, 5000+7168)
	second := &fitTest{}
	second.anchor(s+20, 0, 1<<31, 120)
	second.packet(121, 1<<31+1024, 1<<31+2048, 1<<31+5*1024, 1<<31+8*1024, 1<<31+11*1024, 1<<31+11*1024, 1<<31+11*1024, 1<<31+11*1024)

	data := slices.Concat(swim.close(fitTestGood), first.close(fitTestGood), second.close(fitTestGood))
	f := activityRead(t, data)
	r := activityOne(t, f)
	if f.Counts.HeartRate != 18 || r.HRSource != "strap" {
		t.Errorf("counts %+v, source %s", f.Counts, r.HRSource)
	}
	// The first block: beats 0.5 s after its anchor and on; its start value is
	// before the session. The second ends with one beat and three of padding.
	want := []float64{0, 0.5, 1.5, 2.5, 3.5, 4.5, 5.5, 6.5, 20, 21, 22, 25, 28, 31}
	if got := activityTimes(r); !slices.EqualFunc(got, want, activityNear) {
		t.Errorf("times %v, want %v", got, want)
	}
	wantRules := []string{"heart-rate excluded outside-session", "heart-rate excluded padding"}
	if got := activityRules(f); !slices.Equal(got, wantRules) || f.Entries[0].Records != 1 || f.Entries[1].Record != 16 || f.Entries[1].Records != 3 {
		t.Errorf("entries %+v", f.Entries)
	}
	for _, sample := range r.Samples {
		if sample.First {
			t.Errorf("sample %+v is marked as start value; the log's first is outside the session", sample)
		}
	}
}

func TestActivityStartValue(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1).length(0, s, 30, 12).pool(s, 30, 1)
	f.anchor(s+1, 0, 0, 71).packet(100, 1024, 2048).anchor(s+10, 0, 77777, 110)
	r := activityOne(t, activityRead(t, f.close(fitTestGood)))
	var first []bool
	for _, sample := range r.Samples {
		first = append(first, sample.First)
	}
	if !slices.Equal(first, []bool{true, false, false, false}) || r.Samples[0].BPM != 71 {
		t.Errorf("%+v", r.Samples)
	}
}

// Event_timestamp without a timestamp keeps the anchor, the strap's
// clock wraps around, a fraction can come in 1/256 s, and blocks can come in
// any order.
func TestActivityAnchors(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1).length(0, s, 60, 12).pool(s, 60, 1)
	f.message(132, f.u32(253, s+30), f.u8(1, 64), f.u32(9, 0xFFFFFC00), f.u8(6, 130)) // a second before the wrap
	f.packet(131, 0, 1024)
	f.message(132, f.u32(9, 20*1024), f.u8(6, 140)) // 21 s on from the anchor, too far for 12 bits
	f.packet(141, 21*1024, 22*1024)
	f.anchor(s+2, 0, 500, 90)
	r := activityOne(t, activityRead(t, f.close(fitTestGood)))
	want := []float64{2, 30.25, 31.25, 32.25, 51.25, 52.25, 53.25}
	if got := activityTimes(r); !slices.EqualFunc(got, want, activityNear) {
		t.Errorf("times %v, want %v", got, want)
	}
	if r.Samples[0].Record != 7 || r.Samples[1].Record != 1 || r.Samples[1].First != true {
		t.Errorf("%+v", r.Samples)
	}
}

// Beats that no anchor gives a time to, and more heart rates than times.
func TestActivityBeatsWithoutTime(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1).length(0, s, 60, 12).pool(s, 60, 1)
	f.packet(99, 100, 200)                                                                                                // before any anchor
	f.message(132, f.u32(253, s+1), f.u32(9, 1024), f.array(6, 2, 100, 101, 102))                                         // one time for three
	f.message(132, f.array(10, 0x0D, 255, 255, 255, 255, 255, 255), f.array(6, 2, 255, 255, 255, 255))                    // an empty packet
	f.message(132, f.array(10, 0x0D, 0, 8), f.array(6, 2, 103, 104))                                                      // times of 16 bits: one
	f.message(132, f.u32(253, s+5), f.array(9, 0x86, 0, 16, 0, 0, 0, 20, 0, 0), f.array(6, 2, 110, 111))                  // two full times
	f.message(132, f.u32(253, 0xFFFFFFFF), f.u32(9, 0xFFFFFFFF), f.u8(6, 255)).message(132, f.u32(253, s+9), f.u8(6, 50)) // nothing; no strap clock
	file := activityRead(t, f.close(fitTestGood))
	r := activityOne(t, file)
	if file.Counts.HeartRate != 10 {
		t.Errorf("counts %+v", file.Counts)
	}
	want := []float64{1, 2, 5, 6}
	if got := activityTimes(r); !slices.EqualFunc(got, want, activityNear) {
		t.Errorf("times %v, want %v", got, want)
	}
	for _, e := range file.Entries {
		if e.Rule != "no-time" {
			t.Errorf("%+v", e)
		}
	}
}

// Where both are there, the strap's log is used and the rest accounted for.
func TestActivityStrapBeforeRecords(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1).record(s+3, 80).record(s+4, 81).length(0, s, 30, 12).pool(s, 30, 1).anchor(s+3, 0, 0, 100).packet(101, 1024, 2048)
	file := activityRead(t, f.close(fitTestGood))
	r := activityOne(t, file)
	if len(r.Samples) != 3 || r.Samples[0].BPM != 100 || r.HRSource != "strap" {
		t.Errorf("%+v", r.Samples)
	}
	want := []string{"file noted second-source", "heart-rate excluded second-source"}
	if got := activityRules(file); !slices.Equal(got, want) || file.Entries[1].Records != 2 || !strings.Contains(file.Entries[0].Detail, "(3 samples)") {
		t.Errorf("entries %+v", file.Entries)
	}
}

// A strap's log that stops, or has gaps, leaves the recorder's own samples in
// place where it has none.
func TestActivityStrapLogThatStops(t *testing.T) {
	s := fitTestStart
	for _, c := range []struct {
		name    string
		devices func(f *fitTest)
		log     func(f *fitTest)
		kept    []uint32 // the recorder's samples, of those at 0 to 59 s
		source  string
		input   string
		says    string
	}{
		{"stops", func(*fitTest) {}, func(f *fitTest) {
			for i := range uint32(20) {
				f.anchor(s+5+i, 16384, 0, 100)
			}
		}, []uint32{0, 1, 2, 3, 4, 5, 25, 26, 27, 28, 29, 30, 31, 32, 33, 34, 35, 36, 37, 38, 39, 40, 41, 42, 43, 44, 45, 46, 47, 48, 49, 50, 51, 52, 53, 54, 55, 56, 57, 58, 59},
			"unknown", "", "the strap's log (20 samples) does not cover the session: 41 of the recorder's own samples, where it has none, are used with it, and 19 beside it are not"},
		{"a gap of 15 s, then one of 16 s", func(*fitTest) {}, func(f *fitTest) {
			for i := range uint32(30) {
				f.anchor(s+i, 0, 0, 100)
			}
			f.anchor(s+44, 0, 0, 101).anchor(s+60, 0, 0, 102)
		}, []uint32{45, 46, 47, 48, 49, 50, 51, 52, 53, 54, 55, 56, 57, 58, 59}, "strap", "", "15 of the recorder's own samples"},
		{"beats that are none", func(f *fitTest) { f.message(23, f.u8(0, 1), f.u8(1, 10), f.enum(25, 5)) }, func(f *fitTest) {
			for i := range uint32(59) {
				f.anchor(s+i, 0, 0, map[bool]uint8{true: 100, false: 0}[i < 2])
			}
		}, nil, "optical", "", "58 of the recorder's own samples"},
		{"a strap and a wrist sensor", func(f *fitTest) {
			f.message(23, f.u8(0, 1), f.u8(1, 10), f.enum(25, 5)).message(23, f.u8(0, 2), f.u8(1, 120), f.enum(25, 1))
		}, func(f *fitTest) { f.anchor(s, 0, 0, 100).anchor(s+1, 0, 0, 101) }, nil, "unknown", "", "58 of the recorder's own samples"},
		{"as before, and the study file says", func(f *fitTest) {
			f.message(23, f.u8(0, 1), f.u8(1, 10), f.enum(25, 5)).message(23, f.u8(0, 2), f.u8(1, 120), f.enum(25, 1))
		}, func(f *fitTest) { f.anchor(s, 0, 0, 100).anchor(s+1, 0, 0, 101) }, nil, "optical", "optical", "58 of the recorder's own samples"},
		{"a strap that the recorder names", func(f *fitTest) { f.message(23, f.u8(0, 2), f.u8(1, 120), f.enum(25, 1)) },
			func(f *fitTest) { f.anchor(s, 0, 0, 100).anchor(s+1, 0, 0, 101) }, nil, "strap", "", "58 of the recorder's own samples"},
	} {
		f := &fitTest{}
		f.fileID(1)
		c.devices(f)
		for i := range uint32(60) {
			f.record(s+i, uint8(150+i))
		}
		f.length(0, s, 60, 12).pool(s, 60, 1)
		c.log(f)
		file := activityRead(t, f.close(fitTestGood), func(src *ActivitySource) { src.Input.HRSource = c.input })
		activitySound(t, file)
		r := activityOne(t, file)
		var kept []uint32
		for _, sample := range r.Samples {
			if sample.Record <= 60 {
				kept = append(kept, uint32(sample.Record-1))
				if sample.TimeS != float64(sample.Record-1) || sample.BPM != float64(149+sample.Record) {
					t.Errorf("%s: %+v", c.name, sample)
				}
			}
		}
		if c.kept != nil && !slices.Equal(kept, c.kept) {
			t.Errorf("%s: kept %v, want %v", c.name, kept, c.kept)
		}
		if r.HRSource != c.source || len(file.Entries) == 0 || file.Entries[0].Rule != "second-source" || !strings.Contains(file.Entries[0].Detail, c.says) {
			t.Errorf("%s: source %q, entries %+v", c.name, r.HRSource, file.Entries)
		}
	}
}

// A log of another day does not cost the session its own samples.
func TestActivityStrapLogElsewhere(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1).record(s, 80).record(s+1, 81).length(0, s, 30, 12).pool(s, 30, 1).anchor(s+86400, 0, 0, 100)
	file := activityRead(t, f.close(fitTestGood))
	r := activityOne(t, file)
	if len(r.Samples) != 2 || r.HRSource != "unknown" || !slices.Equal(activityRules(file), []string{"heart-rate excluded outside-session"}) {
		t.Errorf("%+v, entries %+v", r, file.Entries)
	}
}

// 0 and 255 stay for screening; a record without the field is no
// sample.
func TestActivityMissingHeartRateStays(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1).record(s, 0).record(s+10, 255).record(s+20, 130).message(20, f.u32(253, s+25)).length(0, s, 30, 12).pool(s, 30, 1)
	file := activityRead(t, f.close(fitTestGood))
	r := activityOne(t, file)
	if file.Counts.HeartRate != 3 || len(r.Samples) != 3 || r.Samples[0].BPM != 0 || r.Samples[1].BPM != 255 || r.Samples[2].BPM != 130 {
		t.Errorf("%+v", r.Samples)
	}
}

// Short time stamps: five bits in the message header that count on from the
// last full one.
func TestActivityShortTimeStamps(t *testing.T) {
	f := &fitTest{}
	s := fitTestStart&^31 + 30
	f.fileID(1).length(0, s, 60, 12).pool(s, 60, 1)
	f.message(1000, f.u32(253, s)) // any message sets the clock
	f.message(20, f.u8(3, 100))    // defines a record without a time; this one has none
	f.body = f.body[:len(f.body)-2]
	for i, after := range []uint32{1, 2, 5, 33} {
		// Record is local message 4 here; short headers reach locals 0 to 3 only.
		def := []byte{0x43, 0, 0, 20, 0, 1, 3, 1, 2}
		if i == 0 {
			f.body = append(f.body, def...)
		}
		f.body = append(f.body, 0x80|3<<5|byte((s+after)&31), byte(101+i))
	}
	r := activityOne(t, activityRead(t, f.close(fitTestGood)))
	if got := activityTimes(r); !slices.Equal(got, []float64{1, 2, 5, 33}) {
		t.Errorf("times %v", got)
	}
}

func TestActivityHeartRateSource(t *testing.T) {
	s := fitTestStart
	for _, c := range []struct {
		name    string
		devices func(f *fitTest)
		input   string
		want    string
	}{
		{"nothing", func(*fitTest) {}, "", "unknown"},
		{"study file", func(*fitTest) {}, "optical", "optical"},
		{"strap by radio", func(f *fitTest) { f.message(23, f.u8(0, 1), f.u8(1, 120), f.enum(25, 1)) }, "optical", "strap"},
		{"strap by radio, source not stated", func(f *fitTest) { f.message(23, f.u8(0, 1), f.u8(1, 120)) }, "", "strap"},
		{"strap by short range", func(f *fitTest) { f.message(23, f.u8(0, 1), f.u8(1, 1), f.enum(25, 3)) }, "", "strap"},
		{"wrist sensor", func(f *fitTest) { f.message(23, f.u8(0, 1), f.u8(1, 10), f.enum(25, 5)) }, "", "optical"},
		{"wrist sensor, study file", func(f *fitTest) { f.message(23, f.u8(0, 1), f.u8(1, 10), f.enum(25, 5)) }, "palpated", "palpated"},
		{"another local device", func(f *fitTest) { f.message(23, f.u8(0, 0), f.u8(1, 120), f.enum(25, 5)) }, "", "unknown"},
	} {
		f := &fitTest{}
		f.fileID(1)
		c.devices(f)
		f.record(s, 100).length(0, s, 30, 12).pool(s, 30, 1)
		r := activityOne(t, activityRead(t, f.close(fitTestGood), func(src *ActivitySource) { src.Input.HRSource = c.input }))
		if r.HRSource != c.want {
			t.Errorf("%s: %q, want %q", c.name, r.HRSource, c.want)
		}
	}
}

// A recorder that keeps its serial number in device_info alone.
func TestActivitySerialFromDeviceInfo(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.message(0, f.enum(0, 4), f.u32z(3, 0)).message(23, f.u8(0, 1), f.u32z(3, 55)).message(23, f.u8(0, 0), f.u32z(3, 77))
	f.length(0, s, 30, 12).pool(s, 30, 1)
	if r := activityOne(t, activityRead(t, f.close(fitTestGood))); r.Device != "hash-of-77" {
		t.Errorf("device %q", r.Device)
	}
}

func TestActivityDurationOfNothing(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1)
	f.message(101, f.u32(2, s), f.u32(3, 0xFFFFFFFF), f.enum(12, 1), f.u16(5, 12))
	f.pool(s, 30, 1)
	if r := activityOne(t, activityRead(t, f.close(fitTestGood))); !math.IsNaN(r.Lengths[0].DurationS) {
		t.Errorf("%+v", r.Lengths)
	}
}
