package read

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"lengthwise/pipeline/study"
)

// activityNear compares numbers, NaN being equal to NaN.
func activityNear(got, want float64) bool {
	return math.IsNaN(got) && math.IsNaN(want) || math.Abs(got-want) < 1e-6
}

func TestActivityPlainSwim(t *testing.T) {
	f := activityRead(t, fitTestSwim().close(fitTestGood))
	if len(f.Entries) != 0 {
		t.Errorf("entries on a plain file: %+v", f.Entries)
	}
	if f.Counts != (Counts{Lengths: 4, Rests: 1, HeartRate: 16}) {
		t.Errorf("counts %+v", f.Counts)
	}
	r := activityOne(t, f)
	if r.FileID != "f1" || r.Part != 1 || r.Kind != FromActivity || r.Swimmer != "s1" || r.Refused != "" || r.Content != "abc" ||
		r.Basis != study.Cycles || r.HRSource != "unknown" || r.PoolM != 25 || r.LocalDate != "2026-01-10" || r.Zone != time.UTC ||
		r.Device != "hash-of-4711" || r.Created != 1768026593 || !r.Start.Equal(time.Date(2026, 1, 10, 6, 30, 0, 0, time.UTC)) {
		t.Errorf("recording %+v", r)
	}
	wantLaps := []Lap{{0, 61.75, 2}, {61, 20, 0}, {82, 65, 2}}
	if !slices.Equal(r.Laps, wantLaps) {
		t.Errorf("laps %+v, want %+v", r.Laps, wantLaps)
	}
	for i, want := range []struct{ start, seconds, strokes, lap float64 }{{0, 30.25, 12, 0}, {30, 31.5, 13, 0}, {82, 32, 13, 2}, {114, 33, 14, 2}} {
		l := r.Lengths[i]
		if l.StartS != want.start || l.DurationS != want.seconds || l.Strokes != want.strokes || l.Lap != int(want.lap) ||
			l.Record != int64(i+1) || l.Kind != KindLength || l.Covers != 1 || l.Swim != 0 || l.Stroke != "freestyle" || l.Drill || l.Basis != "" {
			t.Errorf("length %d: %+v", i, l)
		}
		for _, missing := range []float64{l.PoolM, l.RestS, l.WallTimeS, l.End.HRBPM, l.End.DelayS, l.Tags.RateTargetSPM,
			l.Tags.Breathing, l.Tags.RPE, l.Tags.LactateMMOL, l.Tags.LactateBefore, l.Tags.VO2} {
			if !math.IsNaN(missing) {
				t.Errorf("length %d: a number that no activity file states is %v", i, missing)
			}
		}
	}
	if len(r.Rests) != 1 || r.Rests[0] != (Rest{Record: 1, StartS: 61, DurationS: 20}) {
		t.Errorf("rests %+v", r.Rests)
	}
	for i, s := range r.Samples {
		if s != (Sample{Record: int64(i + 1), TimeS: float64(10 * i), BPM: float64(100 + i)}) {
			t.Errorf("sample %d: %+v", i, s)
		}
	}
}

func TestActivityBigEndianReadsTheSame(t *testing.T) {
	f := &fitTest{big: true}
	f.fileID(4711).length(0, fitTestStart, 30.25, 12).lap(fitTestStart, 30.25, 0, 1).pool(fitTestStart, 31, 1)
	r := activityOne(t, activityRead(t, f.close(fitTestGood)))
	if l := r.Lengths[0]; l.DurationS != 30.25 || l.Strokes != 12 || r.PoolM != 25 || r.Device != "hash-of-4711" || l.Lap != 0 {
		t.Errorf("%+v", r)
	}
}

// Headers and checksums as recorders write them.
func TestActivityChecksumVariants(t *testing.T) {
	// CRC-16/ARC, check value of the CRC RevEng catalogue.
	if got := fitTestCRC([]byte("123456789")); got != 0xBB3D {
		t.Fatalf("the fixtures' checksum is wrong: %04X", got)
	}
	for _, c := range []struct {
		how  fitTestHeader
		rule string
	}{
		{fitTestGood, ""}, {fitTestNoHeader, ""}, {fitTestShort, ""}, {fitTestDataOnly, ""}, {fitTestLong, ""},
		{fitTestWrong, "checksum"}, {fitTestNotClosed, "truncated"},
	} {
		f := activityRead(t, fitTestSwim().close(c.how))
		r := activityOne(t, f)
		if len(r.Lengths) != 4 || len(r.Samples) != 16 {
			t.Errorf("header %d: %d lengths, %d samples", c.how, len(r.Lengths), len(r.Samples))
		}
		var want []string
		if c.rule != "" {
			want = []string{"file noted " + c.rule}
		}
		if got := activityRules(f); !slices.Equal(got, want) {
			t.Errorf("header %d: entries %v, want %v", c.how, got, want)
		}
	}
}

// A file cut anywhere gives what it holds up to there.
func TestActivityCutAtEveryByte(t *testing.T) {
	data := fitTestSwim().close(fitTestGood)
	seen := map[int]bool{}
	for n := range data {
		f, err := Activity(data[:n], activityTestSource())
		if n < 12 {
			var not *NotActivityError
			if !errors.As(err, &not) || not.Offset != int64(n) || not.FileID != "f1" {
				t.Fatalf("cut at %d: %v", n, err)
			}
			continue
		}
		if err != nil {
			t.Fatalf("cut at %d: %v", n, err)
		}
		activityBalanced(t, f)
		if !activityHasRule(f, KindFile, Noted, "truncated") {
			t.Fatalf("cut at %d: %v", n, activityRules(f))
		}
		seen[int(f.Counts.Lengths)] = true
		if f.Counts.Lengths > 0 {
			if r := activityOne(t, f); len(r.Lengths) != int(f.Counts.Lengths) {
				t.Fatalf("cut at %d: %d of %d lengths", n, len(r.Lengths), f.Counts.Lengths)
			}
		} else if !activityHasRule(f, KindFile, Excluded, "no-session") {
			t.Fatalf("cut at %d: %v", n, activityRules(f))
		}
	}
	if len(seen) != 5 {
		t.Errorf("cuts gave %v lengths, want 0 to 4", seen)
	}
}

func TestActivityCutBeforeTheSession(t *testing.T) {
	data := fitTestSwim().close(fitTestGood)
	cut := data[:len(data)-40]
	pool := func(src *ActivitySource) { src.Input.PoolM = 50 }
	for _, c := range []struct {
		change func(*ActivitySource)
		pool   float64
	}{{func(*ActivitySource) {}, math.NaN()}, {pool, 50}} {
		f := activityRead(t, cut, c.change)
		r := activityOne(t, f)
		if !activityNear(r.PoolM, c.pool) || r.LocalDate != "2026-01-10" || !r.Start.Equal(time.Date(2026, 1, 10, 6, 30, 0, 0, time.UTC)) {
			t.Errorf("pool %v, start %v", r.PoolM, r.Start)
		}
		if len(r.Samples) != 16 || len(r.Lengths) != 4 || len(r.Laps) != 3 {
			t.Errorf("%d samples, %d lengths, %d laps", len(r.Samples), len(r.Lengths), len(r.Laps))
		}
		want := []string{"file noted truncated", "file noted no-session", "file noted no-pool"}
		if got := activityRules(f); !slices.Equal(got, want) {
			t.Errorf("entries %v, want %v", got, want)
		}
	}
}

// A stated pool is never overruled by the study file.
// Two activities chained in one file are two recordings with
// record numbers over the whole file.
// Two sessions in one sequence: each gets the lengths, laps and samples of
// its time; the one that is no pool swim is refused in words.
// Summaries count lengths each in their way; the messages decide.
func TestActivityLengthTypeDecides(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1).length(0, s, 30, 12).idle(1, s+30, 0).idle(2, s+30, 15)
	f.lengthOf(3, s+45, 30, 0xFF, f.u16(5, 12), f.enum(7, 0)).length(4, s+75, 30, 12)
	f.pool(s, 105, 5)
	file := activityRead(t, f.close(fitTestGood))
	r := activityOne(t, file)
	if file.Counts != (Counts{Lengths: 3, Rests: 2}) || len(r.Lengths) != 2 || len(r.Rests) != 2 || r.Rests[0].DurationS != 0 {
		t.Errorf("counts %+v, recording %+v", file.Counts, r)
	}
	want := []string{"file noted length-count", "length excluded length-type"}
	if got := activityRules(file); !slices.Equal(got, want) {
		t.Errorf("entries %v, want %v", got, want)
	}
}

// Messages interleave, a summary can come first, two lengths can
// share a second; the written time stamp says nothing.
// A length without a start keeps its place.
// Laps of every make, by index where it is right, else by time.
// Three ways of saying that strokes were not measured, and 0 on a
// length that is no drill, which stays as recorded.
func TestActivityNoStrokesThreeWays(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1)
	f.lengthOf(0, s, 30, 1, f.enum(7, 0))
	f.lengthOf(1, s+30, 30, 1, f.u16(5, 0xFFFF), f.enum(7, 0))
	f.lengthOf(2, s+60, 30, 1, f.u16(5, 0), f.enum(7, 4))
	f.lengthOf(3, s+90, 30, 1, f.u16(5, 9), f.enum(7, 4))
	f.lengthOf(4, s+120, 30, 1, f.u16(5, 0), f.enum(7, 0))
	f.pool(s, 150, 5)
	r := activityOne(t, activityRead(t, f.close(fitTestGood)))
	for i, want := range []float64{math.NaN(), math.NaN(), math.NaN(), 9, 0} {
		if l := r.Lengths[i]; !activityNear(l.Strokes, want) || l.Drill != (i == 2 || i == 3) {
			t.Errorf("length %d: %+v, want %v strokes", i, l, want)
		}
	}
}

func TestActivityStrokes(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1)
	want := []string{"freestyle", "backstroke", "breaststroke", "butterfly", "unknown", "mixed", "medley", "medley", "medley", "unknown", "unknown"}
	for i := range want {
		code := byte(i)
		if i == len(want)-1 {
			code = 0xFF
		}
		f.lengthOf(uint16(i), s+uint32(30*i), 30, 1, f.enum(7, code))
	}
	f.pool(s, 330, uint16(len(want)))
	for i, l := range activityOne(t, activityRead(t, f.close(fitTestGood))).Lengths {
		if l.Stroke != want[i] || l.Drill != (i == 4) {
			t.Errorf("stroke %d: %q, drill %v", i, l.Stroke, l.Drill)
		}
	}
}

// The counting basis comes from the study file alone.
func TestActivityBasisFromTheStudyFile(t *testing.T) {
	for given, want := range map[study.CountBasis]study.CountBasis{study.Cycles: study.Cycles, study.Arms: study.Arms, "": study.UnknownBasis, study.UnknownBasis: study.UnknownBasis} {
		r := activityOne(t, activityRead(t, fitTestSwim().close(fitTestGood), func(s *ActivitySource) { s.Input.StrokeCount = given }))
		if r.Basis != want || r.Lengths[0].Strokes != 12 {
			t.Errorf("basis %q from %q, strokes %v", r.Basis, given, r.Lengths[0].Strokes)
		}
	}
}

// Recorded rate and speed are checks only.
func TestActivityContradictions(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1)
	f.lengthOf(0, s, 30, 1, f.u16(5, 12), f.enum(7, 0), f.u8(9, 24), f.u16(6, 833))
	f.lengthOf(1, s+30, 30, 1, f.u16(5, 12), f.enum(7, 0), f.u8(9, 40), f.u16(6, 500))
	f.lengthOf(2, s+60, 30, 1, f.u16(5, 0), f.enum(7, 4), f.u8(9, 0), f.u16(6, 0))
	f.pool(s, 90, 3)
	file := activityRead(t, f.close(fitTestGood))
	want := []string{"length noted cadence-contradicts", "length noted speed-contradicts"}
	if got := activityRules(file); !slices.Equal(got, want) || file.Entries[0].Record != 2 || file.Entries[0].Records != 1 {
		t.Errorf("entries %+v", file.Entries)
	}
	if len(activityOne(t, file).Lengths) != 3 {
		t.Error("a contradiction must not cost a length")
	}
}

// The same field twice in one message; the first is used.
func TestActivityFieldTwice(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1)
	f.lengthOf(0, s, 30, 1, f.u16(5, 12), f.u16(5, 25), f.enum(7, 0))
	f.lengthOf(1, s+30, 30, 1, f.u16(5, 12), f.u16(5, 12), f.enum(7, 0))
	f.lengthOf(2, s+60, 30, 1, f.u16(5, 0xFFFF), f.u16(5, 14), f.enum(7, 0))
	f.pool(s, 90, 3)
	file := activityRead(t, f.close(fitTestGood))
	r := activityOne(t, file)
	if r.Lengths[0].Strokes != 12 || r.Lengths[2].Strokes != 14 {
		t.Errorf("%+v", r.Lengths)
	}
	if len(file.Entries) != 1 || file.Entries[0].Rule != "field-twice" || !strings.Contains(file.Entries[0].Detail, "in 1 length messages") {
		t.Errorf("entries %+v", file.Entries)
	}
}

// Pool length is metres whatever the display unit.
// Nothing that names or places the swimmer gets through.
func TestActivityDropsWhatIdentifies(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.message(0, f.enum(0, 4), f.u32z(3, 30415926), f.text(8, "Verwechsel 9"))
	f.message(3, f.text(0, "Quillon Tarraby"), f.u16(4, 713), f.u8(8, 47))
	f.message(20, f.u32(253, s), f.u32(0, 555001122), f.u32(1, 555003344), f.u8(3, 101))
	f.length(0, s, 30, 12).pool(s, 30, 1)
	file := activityRead(t, f.close(fitTestGood))
	shown := fmt.Sprintf("%+v", file)
	for _, secret := range []string{"Quillon", "Verwechsel", "713", "71.3", "555001122", "555003344"} {
		if strings.Contains(shown, secret) {
			t.Errorf("%q gets through", secret)
		}
	}
	if strings.Contains(strings.ReplaceAll(shown, "hash-of-30415926", ""), "30415926") {
		t.Error("the serial number gets through")
	}
}

// The recorder's offset from UTC is checked, the zone of the study
// file decides.
// What is no pool swim is refused in words, with its records.
func TestActivityNotAnActivityFile(t *testing.T) {
	workout := &fitTest{}
	workout.message(0, workout.enum(0, 5), workout.u32z(3, 1)).message(26, workout.enum(4, 5))
	for _, c := range []struct {
		name   string
		data   []byte
		offset int64
		says   string
	}{
		{"empty", nil, 0, "empty"},
		{"text", []byte("swimmer,date,pool,time,strokes\n"), 8, ".FIT"},
		{"zip", []byte("PK\x03\x04 and the rest of an archive"), 0, "let its name end in .zip"},
		{"gzip", []byte("\x1f\x8b\x08 and the rest of it"), 0, "let its name end in .gz"},
		{"workout", workout.close(fitTestGood), 26, "workout"},
	} {
		_, err := Activity(c.data, activityTestSource())
		var not *NotActivityError
		if !errors.As(err, &not) || not.Offset != c.offset || not.FileID != "f1" || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// Bytes between and after sequences are skipped and said.
func TestActivityRubbishBetweenSequences(t *testing.T) {
	second := &fitTest{}
	start := fitTestStart + 7200
	second.fileID(99).length(0, start, 40, 20).pool(start, 40, 1)
	data := append(fitTestSwim().close(fitTestGood), "rubbish"...)
	data = append(append(data, second.close(fitTestGood)...), 0, 0, 0)
	f := activityRead(t, data)
	if len(f.Recordings) != 2 {
		t.Fatalf("%d recordings", len(f.Recordings))
	}
	if got := activityRules(f); !slices.Equal(got, []string{"file noted unreadable", "file noted unreadable"}) {
		t.Errorf("entries %v", got)
	}
}

// A message of no defined kind ends its sequence, not the file.
func TestActivityUndefinedMessage(t *testing.T) {
	bad := fitTestSwim()
	bad.body = append(bad.body, 0x0F, 1, 2, 3)
	second := &fitTest{}
	start := fitTestStart + 7200
	second.fileID(99).length(0, start, 40, 20).pool(start, 40, 1)
	f := activityRead(t, append(bad.close(fitTestGood), second.close(fitTestGood)...))
	if len(f.Recordings) != 2 || len(f.Recordings[0].Lengths) != 4 {
		t.Fatalf("%d recordings", len(f.Recordings))
	}
	if len(f.Entries) != 1 || f.Entries[0].Rule != "unreadable" || !strings.Contains(f.Entries[0].Detail, fmt.Sprintf("from byte %d ", 14+len(bad.body)-4)) {
		t.Errorf("entries %+v", f.Entries)
	}
}

// Unknown messages, developer fields, fields wider or narrower than
// the profile's, types that are not the profile's.
func TestActivitySkipsWhatItDoesNotKnow(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.message(0xFF00, f.u32(1, 5), f.text(2, "unknown"))
	f.fileID(1)
	f.messageWith(101, []fitTestField{{num: 0, value: []byte{1, 2, 3}}, {num: 5, value: []byte{9, 9}}},
		f.u32(2, s), f.array(99, 0x0D, 1, 2, 3, 4, 5), f.u32(3, 30000), f.enum(12, 1), f.u16(5, 12))
	f.message(101, f.u32(2, s+30), f.u32(3, 31000), f.enum(12, 1), f.array(5, 0x84, 13, 0, 99, 0)) // strokes as an array
	f.message(101, f.u32(2, s+61), f.u32(3, 32000), f.enum(12, 1), f.array(5, 0x84, 14))           // strokes of one byte
	f.message(101, f.u32(2, s+93), f.u32(3, 33000), f.enum(12, 1), f.array(5, 0x86, 15, 0, 0, 0))  // as 32 bits
	f.message(101, f.u32(2, s+126), f.u32(3, 34000), f.enum(12, 1), f.array(5, 0x88, 0, 0, 128, 65))
	f.message(101, f.u32(2, s+160), f.u32(3, 35000), f.enum(12, 1), f.array(5, 0x42, 17, 0)) // no base type at all
	f.pool(s, 200, 6)
	r := activityOne(t, activityRead(t, f.close(fitTestGood)))
	for i, want := range []float64{12, 13, math.NaN(), 15, math.NaN(), math.NaN()} {
		if l := r.Lengths[i]; !activityNear(l.Strokes, want) || l.DurationS != float64(30+i) {
			t.Errorf("length %d: %+v, want %v strokes", i, l, want)
		}
	}
}
