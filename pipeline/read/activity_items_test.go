package read

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"lengthwise/datasets/activityfile"
	"lengthwise/datasets/activityfile/randomfile"
)

// What real recordings hold, one row a finding: the fixture that the simulated
// recorder writes of it and what must come of it. Where a finding has several
// sides, further tests are named beside it.
//
//	 1 checksums            also TestActivityChecksumVariants, TestActivityStatedSizeTooShort
//	 2 cut files            also TestActivityCutAtEveryByteOfARecording
//	 3 chained sequences    also TestActivityTwoInOneFile, TestActivitySequencesBehindDamage
//	 4 strap heart rate     also TestActivityStrapWithinHalfABeat, activity_beats_test.go
//	 5 numbers of lengths   also TestActivityLengthTypeDecides
//	 6 times                also TestActivitySortsByStart, normalise.TestClocks, activity_clockback_test.go
//	 7 no strokes           also TestActivityNoStrokesThreeWays
//	 8 counting basis       also TestActivityBasisFromTheStudyFile, normalise.TestArmStrokes
//	 9 cadence, speed       also TestActivityContradictions
//	10 wall time            normalise.TestWallTimeFound
//	11 fields twice         also TestActivityFieldTwice, TestActivityLengthsOfOneSecond
//	12 laps                 also TestActivityLapsOwnLengths, TestActivityRecorderLaps
//	13 pools                also TestActivityPoolIsMetres
//	14 what identifies      also TestActivityDropsWhatIdentifies
//	15 clocks               also TestActivityClock, TestActivityClockNeverSet
//	16 other sports         also TestActivityRefusesOtherSports, TestActivitySwimAndRunInOneSequence
//	17 duplicates           normalise.TestDuplicatesOfARecorder
//	18 missing heart rate   also TestActivityMissingHeartRateStays
//	19 widths, unknown      also TestActivitySkipsWhatItDoesNotKnow
func TestActivityItems(t *testing.T) {
	plain := itemSwim()
	type quirks = activityfile.Quirks
	write := func(a activityfile.Activity, q quirks) []byte { return activityEncoded(t, a, q) }
	rules := func(want ...string) func(*testing.T, File) {
		return func(t *testing.T, f File) {
			if got := activityRules(f); !slices.Equal(got, want) {
				t.Errorf("entries %v, want %v", got, want)
			}
		}
	}
	as := func(change func(*activityfile.Activity)) activityfile.Activity {
		a := itemSwim()
		change(&a)
		return a
	}
	strap := as(func(a *activityfile.Activity) {
		for i := range a.Records {
			a.Records[i].BPM = -1
		}
		for k := range 500 {
			a.Beats = append(a.Beats, activityfile.Beat{Seconds: float64(k)*0.5 - 10.25, BPM: 120})
		}
	})
	open := activityfile.Activity{StartUTC: plain.StartUTC, NotPoolSwimming: true, Sport: activityfile.SportSwimming,
		SubSport: activityfile.SubSportOpenWater, Serial: 7, Records: plain.Records}
	triathlon := open
	triathlon.SubSport = activityfile.SubSportGeneric
	triathlon.Legs = []activityfile.Leg{{StartSeconds: 900, DurationSeconds: 3000, Sport: activityfile.SportCycling}, {StartSeconds: 4000, DurationSeconds: 2000, Sport: activityfile.SportRunning}}

	for _, c := range []struct {
		item  int
		words string
		data  []byte
		swims int // recordings that hold the swim as it was written; the last of them is checked
		check func(*testing.T, File)
	}{
		{1, "header checksum 0, sum over header and data", write(plain, quirks{HeaderChecksumZero: true}), 1, rules()},
		{1, "header checksum 0, sum over data", write(plain, quirks{HeaderChecksumZero: true, ChecksumOverData: true}), 1, rules()},
		{1, "header of 12 bytes", write(plain, quirks{Header12: true}), 1, rules()},
		{1, "header of 12 bytes, sum over data", write(plain, quirks{Header12: true, ChecksumOverData: true}), 1, rules()},
		{1, "no checksum fits", write(plain, quirks{CorruptChecksum: true}), 1, rules("file noted checksum")},
		{1, "stated size too short", write(plain, quirks{StatedSizeShort: 1000}), 1, rules("file noted stated-size")},
		{2, "cut before the summary", write(plain, quirks{TruncateAt: len(write(plain, quirks{})) - 150}), 1, func(t *testing.T, f File) {
			if !activityHasRule(f, KindFile, Noted, "truncated") || !activityHasRule(f, KindFile, Noted, "no-session") || !math.IsNaN(f.Recordings[0].PoolM) {
				t.Errorf("pool %v, entries %v", f.Recordings[0].PoolM, activityRules(f))
			}
		}},
		{3, "strap's log in four sequences", write(strap, quirks{BeatBlocks: 4}), 1, func(t *testing.T, f File) {
			if r := f.Recordings[0]; len(r.Samples) != 479 || r.HRSource != "strap" {
				t.Errorf("%d samples from a %s", len(r.Samples), r.HRSource)
			}
		}},
		{3, "two activities in one file", slices.Concat(write(plain, quirks{}), write(as(func(a *activityfile.Activity) { a.StartUTC = a.StartUTC.Add(9 * time.Hour) }), quirks{Header12: true})), 2, rules()},
		{4, "start value, padding, second anchor, beats around the session", write(strap, quirks{BeatBlocks: 2, BeatSecondAnchor: true, BeatStartValue: 71}), 1, func(t *testing.T, f File) {
			for _, s := range f.Recordings[0].Samples {
				if s.BPM != 120 || s.TimeS < 0 {
					t.Fatalf("sample %+v", s)
				}
			}
			if !activityHasRule(f, KindHeartRate, Excluded, "outside-session") || !activityHasRule(f, KindHeartRate, Excluded, "padding") {
				t.Errorf("entries %v", activityRules(f))
			}
		}},
		{5, "active and idle", write(plain, quirks{}), 1, rules()},
		{5, "active and idle within intervals", write(plain, quirks{NumLengths: activityfile.ActiveAndIdleInInterval}), 1, rules()},
		{5, "active only, no number of active lengths", write(plain, quirks{NumLengths: activityfile.ActiveOnly, OmitNumActive: true}), 1, rules()},
		{6, "written 540 s late", write(plain, quirks{LengthTimestamps: activityfile.TimestampLate, LateSeconds: 540}), 1, rules()},
		{6, "no time of writing", write(plain, quirks{LengthTimestamps: activityfile.TimestampInvalid}), 1, rules()},
		{6, "summary first", write(plain, quirks{Order: activityfile.SummaryFirst}), 1, rules()},
		{6, "lengths and laps in no order", write(plain, quirks{Order: activityfile.Shuffled}), 1, rules()},
		{6, "rests of 0 s", write(plain, quirks{ZeroIdleDurations: true}), 1, func(t *testing.T, f File) {
			if got := f.Recordings[0].Rests; got[0].DurationS != 0 || got[1].DurationS != 20 {
				t.Errorf("rests %+v", got)
			}
		}},
		{6, "starts that drift by 4 s in a lap", write(plain, quirks{StartDriftSeconds: 4}), 1, rules()},
		{7, "strokes not defined", write(plain, quirks{}), 1, rules()},
		{7, "strokes invalid", write(plain, quirks{NoStrokes: activityfile.StrokesInvalid}), 1, rules()},
		{7, "strokes 0 on a drill", write(plain, quirks{NoStrokes: activityfile.StrokesZero}), 1, rules()},
		{8, "basis from the study file", write(plain, quirks{}), 1, func(t *testing.T, f File) {
			if got := f.Recordings[0].Basis; got != "cycles" {
				t.Errorf("basis %s", got)
			}
		}},
		{9, "cadence and speed follow from the rest", write(plain, quirks{}), 1, rules()},
		{10, "1.5 s left out at each wall", write(plain, quirks{WallSecondsOut: 1.5}), 1, func(t *testing.T, f File) {
			if l := f.Recordings[0].Lengths; l[0].DurationS != 15.625 || l[3].DurationS != 17.5 || l[1].StartS != 17 {
				t.Errorf("%+v", l[:4])
			}
		}},
		{11, "speed twice", write(plain, quirks{DuplicateField: true}), 1, rules("file noted field-twice")},
		{11, "strokes twice, the second wrong", write(plain, quirks{StrokesTwice: true}), 1, rules("file noted field-twice")},
		{11, "two lengths of one second", write(as(func(a *activityfile.Activity) { activityfile.FalseTurn(a, 1, 0.02) }), quirks{}), 1, func(t *testing.T, f File) {
			if l := f.Recordings[0].Lengths; l[1].StartS != l[2].StartS || l[1].DurationS >= 1 {
				t.Errorf("%+v, %+v", l[1], l[2])
			}
		}},
		{12, "all lengths in one lap", write(plain, quirks{OneLap: true}), 1, func(t *testing.T, f File) {
			if r := f.Recordings[0]; len(r.Laps) != 1 || r.Laps[0].PoolLengths != len(r.Lengths) {
				t.Errorf("laps %+v", r.Laps)
			}
		}},
		{12, "a lap of 0.435 s", write(plain, quirks{StrayLap: true}), 1, rules()},
		{12, "laps at the end", write(plain, quirks{LapsTogether: true}), 1, rules()},
		{13, "25 yards", write(as(func(a *activityfile.Activity) { a.PoolMetres, a.PoolYards = 22.86, true }), quirks{}), 1, func(t *testing.T, f File) {
			if got := f.Recordings[0].PoolM; got != 22.86 {
				t.Errorf("pool %v", got)
			}
		}},
		{13, "20 m", write(as(func(a *activityfile.Activity) { a.PoolMetres = 20 }), quirks{}), 1, rules()},
		{14, "a wearer", write(as(func(a *activityfile.Activity) {
			a.Profile = &activityfile.Profile{Name: "Quillon Tarraby", MassKG: 71.3, RestingBPM: 0, MaxBPM: 0}
			a.ProductName = "Verwechsel 9"
		}), quirks{}), 1, func(t *testing.T, f File) {
			if shown := fmt.Sprintf("%+v", f); strings.Contains(shown, "Quillon") || strings.Contains(shown, "Verwechsel") || strings.Contains(shown, "71.3") {
				t.Errorf("something of the wearer is in %s", shown)
			}
		}},
		{15, "local time three weeks off", write(as(func(a *activityfile.Activity) { a.LocalOffset = -528 * time.Hour }), quirks{}), 1, rules("file noted unknown-zone")},
		{15, "local time of another zone", write(as(func(a *activityfile.Activity) { a.LocalOffset = 345 * time.Minute }), quirks{}), 1, rules("file noted zone-differs")},
		{15, "created two hours later", write(plain, quirks{CreatedDelaySeconds: 7200}), 1, rules()},
		{15, "set back by a minute in mid-session", write(plain, quirks{ClockBackSeconds: 60, ClockBackAt: 71}), 1, rules("length noted clock-set-back")},
		{16, "a run behind the swim", write(as(func(a *activityfile.Activity) {
			a.Legs = []activityfile.Leg{{StartSeconds: 900, DurationSeconds: 600, Sport: activityfile.SportRunning}}
		}), quirks{}), 1, rules("file noted not-pool-swimming")},
		{16, "open water", write(open, quirks{}), 0, func(t *testing.T, f File) {
			if !activityHasRule(f, KindFile, Excluded, "open-water") || !strings.Contains(f.Entries[0].Detail, "open water has no pool, no lengths") {
				t.Errorf("%+v", f.Entries)
			}
		}},
		{16, "a triathlon", write(triathlon, quirks{}), 0, func(t *testing.T, f File) {
			var words []string
			for _, e := range f.Entries {
				if e.Kind == KindFile {
					words = append(words, e.Detail)
				}
			}
			want := []string{"a session of swimming without pool lengths", "a session of cycling, which is not swimming in a pool", "a session of running, which is not swimming in a pool"}
			if !slices.Equal(words, want) {
				t.Errorf("%q", words)
			}
		}},
		{17, "exported again", write(plain, quirks{OtherSoftware: true}), 1, func(t *testing.T, f File) {
			if r := f.Recordings[0]; r.Device != "hash-of-4711" || r.Created != plain.StartUTC.Unix() {
				t.Errorf("recorder %s, created %d", r.Device, r.Created)
			}
		}},
		{18, "0, 255, and no field at all", write(as(func(a *activityfile.Activity) {
			a.Records[3].BPM, a.Records[4].BPM, a.Records[5].BPM = 0, 255, -1
		}), quirks{}), 1, func(t *testing.T, f File) {
			r := f.Recordings[0]
			if len(r.Samples) != len(plain.Records)-1 || r.Samples[3].BPM != 0 || r.Samples[4].BPM != 255 || r.Samples[5].TimeS != 6 {
				t.Errorf("%+v", r.Samples[:7])
			}
		}},
		{19, "narrower fields", write(plain, quirks{Widths: activityfile.Narrower}), 1, rules()},
		{19, "arrays", write(plain, quirks{Widths: activityfile.Wider}), 1, rules()},
		{19, "unknown messages, developer fields of two apps with one index", write(plain, quirks{UnknownMessages: true, DeveloperFields: true}), 1, rules()},
		{19, "big-endian", write(plain, quirks{BigEndian: true}), 1, rules()},
		{19, "one local message type, defined anew each time", write(plain, quirks{OneLocalType: true}), 1, rules()},
		{19, "time stamps of 5 bits", write(plain, quirks{ShortTimestamps: true}), 1, rules()},
		{19, "the same in other bytes", randomfile.Rewrite(write(plain, quirks{DeveloperFields: true}), 19), 1, rules()},
	} {
		t.Run(fmt.Sprintf("%d %s", c.item, c.words), func(t *testing.T) {
			f := activityRead(t, c.data)
			activitySound(t, f)
			if len(f.Recordings) != c.swims {
				t.Fatalf("%d recordings, want %d; entries %+v", len(f.Recordings), c.swims, f.Entries)
			}
			if c.swims > 0 {
				itemIsWhole(t, f.Recordings[c.swims-1])
			}
			c.check(t, f)
		})
	}
}

// itemSwim is 3 x 100 m in a 25 m pool and 50 m of a drill, a rest of 20 s
// after each, with a heart rate each second.
func itemSwim() activityfile.Activity {
	a := activityfile.Activity{StartUTC: time.Date(2026, 1, 10, 6, 30, 0, 0, time.UTC), Serial: 4711, ProductName: "poolside recorder", PoolMetres: 25}
	clock := 0.0
	for k := range 4 {
		lap := activityfile.Lap{StartSeconds: clock, FirstLength: len(a.Lengths)}
		for i := range 4 - 2*(k/3) {
			l := activityfile.Length{StartSeconds: clock, DurationSeconds: 17.125 + float64(k)/4 + float64(i)/8, Strokes: 8 + i}
			if k == 3 {
				l.DurationSeconds, l.Strokes, l.Stroke = 30, -1, activityfile.Drill
			}
			a.Lengths = append(a.Lengths, l)
			clock += l.DurationSeconds
		}
		lap.Lengths = len(a.Lengths) - lap.FirstLength
		lap.DurationSeconds, lap.DistanceMetres = clock-lap.StartSeconds, 25*float64(lap.Lengths)
		a.Lengths = append(a.Lengths, activityfile.Length{StartSeconds: clock, DurationSeconds: 20, Idle: true, Strokes: -1})
		a.Laps = append(a.Laps, lap, activityfile.Lap{StartSeconds: clock, DurationSeconds: 20, FirstLength: len(a.Lengths) - 1, Lengths: 1})
		clock += 20
	}
	for t := 0.0; t < clock; t++ {
		a.Records = append(a.Records, activityfile.Record{Seconds: t, BPM: 100 + int(t)%40, DistanceMetres: -1})
	}
	return a
}

// itemIsWhole checks that nothing of itemSwim is lost, whatever its quirk: all
// but the times of a drift, the seconds of a wall and one length cut in two.
func itemIsWhole(t *testing.T, r Recording) {
	t.Helper()
	strokes, drills, seconds := 0.0, 0, 0.0
	for i, l := range r.Lengths {
		if l.Drill {
			drills++
			if !math.IsNaN(l.Strokes) {
				t.Errorf("length %d: %v strokes on a drill", i, l.Strokes)
			}
			continue
		}
		strokes += l.Strokes
		seconds += l.DurationS
		if i > 0 && l.StartS < r.Lengths[i-1].StartS {
			t.Errorf("length %d starts at %v, before the one before it", i, l.StartS)
		}
	}
	whole := 4*(17.125+17.375+17.625) + 3*0.75
	if n := len(r.Lengths) - drills; n != 12 && n != 13 || drills != 2 || len(r.Rests) != 4 || strokes != 3*(8+9+10+11) || seconds != whole && seconds != whole-9*1.5 {
		t.Errorf("%d lengths, %d drills, %d rests, %v strokes in %v s (of %v)", n, drills, len(r.Rests), strokes, seconds, whole)
	}
}

// A recording of every kind of message, cut at every byte: nothing panics, the
// account balances, and a longer piece never gives less.
func TestActivityCutAtEveryByteOfARecording(t *testing.T) {
	a := itemSwim()
	var few []activityfile.Record
	for i := 0; i < len(a.Records); i += 15 {
		few = append(few, a.Records[i])
	}
	a.Records = few
	for k := range 60 {
		a.Beats = append(a.Beats, activityfile.Beat{Seconds: float64(k)*4.1 - 8, BPM: 120})
	}
	for _, q := range []activityfile.Quirks{
		{BeatBlocks: 3, DeveloperFields: true, UnknownMessages: true},
		{BigEndian: true, Header12: true, Order: activityfile.Shuffled, OneLocalType: true, BeatSecondAnchor: true},
		{Order: activityfile.SummaryFirst, HeaderChecksumZero: true, ShortTimestamps: true, Widths: activityfile.Wider},
		{ClockBackSeconds: 60, ClockBackAt: 130},
	} {
		data := activityEncoded(t, a, q)
		before, steps := Counts{}, 0
		for cut := 12; cut <= len(data); cut++ {
			f := activityRead(t, data[:cut])
			now := f.Counts
			if now.Lengths < before.Lengths || now.Rests < before.Rests || now.HeartRate < before.HeartRate {
				t.Fatalf("%+v, cut at %d: %+v after %+v", q, cut, now, before)
			}
			if now.Lengths > before.Lengths {
				steps++
			}
			if len(f.Recordings) > 1 || len(f.Recordings) == 1 && len(f.Recordings[0].Lengths) != int(now.Lengths) {
				t.Fatalf("%+v, cut at %d: %d recordings, counts %+v", q, cut, len(f.Recordings), now)
			}
			before = now
		}
		if before.Lengths != 14 || steps != 14 {
			t.Errorf("%+v: %d lengths in %d steps", q, before.Lengths, steps)
		}
	}
}
