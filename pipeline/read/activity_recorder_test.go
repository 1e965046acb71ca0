package read

import (
	"bytes"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/muktihari/fit/decoder"
	"github.com/muktihari/fit/profile/basetype"
	"github.com/muktihari/fit/profile/mesgdef"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/profile/untyped/mesgnum"

	"lengthwise/datasets/activityfile"
	"lengthwise/datasets/squad"
)

// The simulated recorder's files are written with the library's encoder, and
// read here by two roads: this reader, and the library's full decoder.

// activityRecorded is a simulated session with drills, rests, records and
// a strap.
func activityRecorded(t testing.TB, o activityfile.Options) activityfile.Activity {
	t.Helper()
	sc := squad.Demo(5)
	sc.Swimmers, sc.SessionsPerSwimmer, sc.BoutsPerSession = 1, 1, 6
	sc.Pools = []squad.PoolShare{{Metres: 25, Weight: 1}}
	sw := squad.SimulateSwimmer(sc, 0)
	return activityfile.FromSession(&sw.Sessions[0], &sw, o)
}

func activityEncoded(t testing.TB, a activityfile.Activity, q activityfile.Quirks) []byte {
	t.Helper()
	data, err := activityfile.Encode(a, q)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// What a recorder writes is what is read, for every quirk that leaves the
// content as it is.
func TestActivityQuirksOfTheRecorder(t *testing.T) {
	options := activityfile.Options{Rests: activityfile.RestOwnLap, Profile: true, Strap: true, StrapLeadSeconds: 95, StrapTailSeconds: 40}
	a := activityRecorded(t, options)
	clean := activityOne(t, activityRead(t, activityEncoded(t, a, activityfile.Quirks{})))
	active, idle := 0, 0
	for _, l := range a.Lengths {
		if l.Idle {
			idle++
		} else {
			active++
		}
	}
	if len(clean.Lengths) != active || len(clean.Rests) != idle || len(clean.Laps) != len(a.Laps) || clean.PoolM != 25 || active < 20 || idle < 3 {
		t.Fatalf("%d lengths, %d rests, %d laps of %d, %d, %d", len(clean.Lengths), len(clean.Rests), len(clean.Laps), active, idle, len(a.Laps))
	}
	for name, q := range map[string]activityfile.Quirks{
		"header checksum 0":                  {HeaderChecksumZero: true},
		"header checksum 0, sum over data":   {HeaderChecksumZero: true, ChecksumOverData: true},
		"header of 12 bytes":                 {Header12: true},
		"header of 12 bytes, sum over data":  {Header12: true, ChecksumOverData: true},
		"wrong checksum":                     {CorruptChecksum: true},
		"big-endian":                         {BigEndian: true},
		"strap log in six sequences":         {BeatBlocks: 6},
		"four beats a packet":                {BeatsPerPacket: 4},
		"second anchor":                      {BeatSecondAnchor: true},
		"strap's clock near its end":         {BeatClockSeconds: 4194304 - 300},
		"idle lengths in intervals counted":  {NumLengths: activityfile.ActiveAndIdleInInterval},
		"active lengths counted":             {NumLengths: activityfile.ActiveOnly},
		"no number of active lengths":        {OmitNumActive: true},
		"time stamps late":                   {LengthTimestamps: activityfile.TimestampLate, LateSeconds: 540},
		"time stamps invalid":                {LengthTimestamps: activityfile.TimestampInvalid},
		"strokes of drills invalid":          {NoStrokes: activityfile.StrokesInvalid},
		"strokes of drills 0":                {NoStrokes: activityfile.StrokesZero},
		"created hours later":                {CreatedDelaySeconds: 7300},
		"summary first":                      {Order: activityfile.SummaryFirst},
		"laps at the end":                    {LapsTogether: true},
		"a field twice":                      {DuplicateField: true},
		"unknown messages, developer fields": {UnknownMessages: true, DeveloperFields: true},
		"re-export":                          {OtherSoftware: true},
	} {
		t.Run(name, func(t *testing.T) {
			f := activityRead(t, activityEncoded(t, a, q))
			activitySound(t, f)
			r := activityOne(t, f)
			activitySameSwim(t, r, clean)
			if created := r.Start.Unix() + int64(q.CreatedDelaySeconds); r.Created != created {
				t.Errorf("created %d, want %d", r.Created, created)
			}
			if q.CorruptChecksum != activityHasRule(f, KindFile, Noted, "checksum") || q.DuplicateField != activityHasRule(f, KindFile, Noted, "field-twice") {
				t.Errorf("entries %v", activityRules(f))
			}
		})
	}
}

// activitySameSwim compares what two readings give of one swim.
func activitySameSwim(t *testing.T, got, want Recording) {
	t.Helper()
	if !got.Start.Equal(want.Start) || got.LocalDate != want.LocalDate || got.PoolM != want.PoolM || got.HRSource != want.HRSource || got.Device != want.Device {
		t.Errorf("recording %v %s %v, want %v %s %v", got.Start, got.LocalDate, got.PoolM, want.Start, want.LocalDate, want.PoolM)
	}
	if !slices.Equal(got.Laps, want.Laps) || !slices.Equal(got.Rests, want.Rests) {
		t.Errorf("laps or rests differ: %+v, want %+v", got.Laps, want.Laps)
	}
	if len(got.Lengths) != len(want.Lengths) || len(got.Samples) != len(want.Samples) {
		t.Fatalf("%d lengths and %d samples, want %d and %d", len(got.Lengths), len(got.Samples), len(want.Lengths), len(want.Samples))
	}
	for i, g := range got.Lengths {
		w := want.Lengths[i]
		if g.StartS != w.StartS || g.DurationS != w.DurationS || !activityNear(g.Strokes, w.Strokes) || g.Stroke != w.Stroke || g.Drill != w.Drill || g.Lap != w.Lap {
			t.Errorf("length %d: %+v, want %+v", i, g, w)
		}
	}
	for i, g := range got.Samples {
		// Another block's anchor rounds a time by up to 1/32768 + 1/1024 s.
		if w := want.Samples[i]; math.Abs(g.TimeS-w.TimeS) > 0.0015 || g.BPM != w.BPM {
			t.Fatalf("sample %d: %+v, want %+v", i, g, w)
		}
	}
}

// The beats come out at the times at which the recorder saw them.
func TestActivityBeatsAtTheirTimes(t *testing.T) {
	a := activityRecorded(t, activityfile.Options{NoRecords: true, Strap: true, StrapLeadSeconds: 95, StrapTailSeconds: 90})
	f := activityRead(t, activityEncoded(t, a, activityfile.Quirks{BeatBlocks: 3, BeatStartValue: 71}))
	r := activityOne(t, f)
	var want []activityfile.Beat
	end := 0.0
	for _, l := range a.Laps {
		end = max(end, l.StartSeconds+l.DurationSeconds)
	}
	for _, beat := range a.Beats {
		if beat.Seconds >= 0 && beat.Seconds < end+1+60 { // with the first minute of recovery
			want = append(want, beat)
		}
	}
	if len(r.Samples) != len(want) || len(want) < 500 || r.HRSource != "strap" {
		t.Fatalf("%d beats, want %d", len(r.Samples), len(want))
	}
	for i, s := range r.Samples {
		if math.Abs(s.TimeS-want[i].Seconds) > 0.0015 || s.BPM != float64(want[i].BPM) || s.First {
			t.Fatalf("beat %d: %+v, want %+v", i, s, want[i])
		}
	}
	var before int64
	for _, beat := range a.Beats {
		if beat.Seconds < 0 {
			before++
		}
	}
	if e := f.Entries[0]; e.Rule != "outside-session" || e.Record != 1 || e.Records != before || before < 90 {
		t.Errorf("beats before the session: %+v, want %d", e, before)
	}
}

// Recorders that write one sample a length, none, or none at all of value.
func TestActivityRecorderWithoutStrap(t *testing.T) {
	per := activityRecorded(t, activityfile.Options{RecordPerLength: true})
	r := activityOne(t, activityRead(t, activityEncoded(t, per, activityfile.Quirks{})))
	if len(r.Samples) != len(per.Records) || len(r.Samples) == 0 {
		t.Errorf("%d samples of %d", len(r.Samples), len(per.Records))
	}
	none := activityRecorded(t, activityfile.Options{NoHeartRate: true})
	if f := activityRead(t, activityEncoded(t, none, activityfile.Quirks{})); f.Counts.HeartRate != 0 || len(f.Recordings[0].Samples) != 0 {
		t.Errorf("counts %+v without a sensor", f.Counts)
	}
}

// One lap for all, a stray lap, a file without its session message.
func TestActivityRecorderLaps(t *testing.T) {
	a := activityRecorded(t, activityfile.Options{Rests: activityfile.RestInInterval})
	one := activityOne(t, activityRead(t, activityEncoded(t, a, activityfile.Quirks{OneLap: true})))
	if len(one.Laps) != 1 || one.Laps[0].PoolLengths != len(one.Lengths) {
		t.Errorf("laps %+v", one.Laps)
	}
	stray := activityOne(t, activityRead(t, activityEncoded(t, a, activityfile.Quirks{StrayLap: true})))
	if last := stray.Laps[len(stray.Laps)-1]; len(stray.Laps) != len(a.Laps)+1 || last.PoolLengths != 0 || math.Abs(last.DurationS-0.435) > 1e-9 {
		t.Errorf("laps %+v", stray.Laps)
	}
	f := activityRead(t, activityEncoded(t, a, activityfile.Quirks{OmitSession: true}))
	if r := activityOne(t, f); len(r.Lengths) != len(one.Lengths) || !math.IsNaN(r.PoolM) || !r.Start.Equal(one.Start) {
		t.Errorf("%d lengths, pool %v, start %v", len(r.Lengths), r.PoolM, r.Start)
	}
}

// The library's full decoder, its message types and its expansion of packed
// times give the same lengths and beats.
func TestActivityAgainstTheFullDecoder(t *testing.T) {
	a := activityRecorded(t, activityfile.Options{Rests: activityfile.RestOwnLap, Strap: true})
	for _, q := range []activityfile.Quirks{{}, {BigEndian: true}, {BeatBlocks: 4, BeatSecondAnchor: true, DeveloperFields: true}} {
		data := activityEncoded(t, a, q)
		c := newActivityCollector(activityDefaultLimits(), len(data))
		d := newFitDecoder()
		sequences, damage, bad := fitSplit(data)
		if bad != nil || len(damage) != 0 {
			t.Fatal(bad, damage)
		}
		for _, seq := range sequences {
			d.decode(data, seq, c)
		}

		var lengths []*mesgdef.Length
		var beats []activityBeat
		dec := decoder.New(bytes.NewReader(data))
		for dec.Next() {
			fit, err := dec.Decode()
			if err != nil {
				t.Fatal(err)
			}
			var anchor *mesgdef.Hr
			for i := range fit.Messages {
				m := &fit.Messages[i]
				switch m.Num {
				case mesgnum.Length:
					lengths = append(lengths, mesgdef.NewLength(m))
				case mesgnum.Record:
					if r := mesgdef.NewRecord(m); m.FieldByNum(3) != nil {
						beats = append(beats, activityBeat{timeS: float64(r.Timestamp.Unix() - fitEpoch), bpm: r.HeartRate})
					}
				case mesgnum.Hr:
					hr := mesgdef.NewHr(m)
					if !hr.Timestamp.IsZero() {
						anchor = hr
					}
					from := float64(anchor.Timestamp.Unix()-fitEpoch) + anchor.FractionalTimestampScaled()
					for k, event := range hr.EventTimestamp {
						beats = append(beats, activityBeat{timeS: from + float64(event-anchor.EventTimestamp[0])/1024, bpm: hr.FilteredBpm[k]})
					}
				}
			}
		}
		if len(lengths) != len(c.lengths) || len(beats) != len(c.beats) || len(beats) < 1000 {
			t.Fatalf("%d lengths and %d samples, the full decoder gives %d and %d", len(c.lengths), len(c.beats), len(lengths), len(beats))
		}
		for i, want := range lengths {
			got := c.lengths[i]
			strokes := uint32(want.TotalStrokes)
			if want.TotalStrokes == basetype.Uint16Invalid {
				strokes = fitNone
			}
			if got.start != float64(want.StartTime.Unix()-fitEpoch) || got.durationS != want.TotalElapsedTimeScaled() || got.strokes != strokes ||
				got.rest != (want.LengthType == typedef.LengthTypeIdle) || got.index != uint32(want.MessageIndex) {
				t.Errorf("length %d: %+v, the full decoder gives %+v", i, got, want)
			}
		}
		for i, want := range beats {
			if got := c.beats[i]; math.Abs(got.timeS-want.timeS) > 1e-5 || got.bpm != want.bpm {
				t.Fatalf("sample %d: %+v, the full decoder gives %+v", i, got, want)
			}
		}
	}
}

func TestActivityLocalDateOfTheStudyZone(t *testing.T) {
	a := activityRecorded(t, activityfile.Options{})
	a.StartUTC = time.Date(2026, 3, 1, 23, 30, 0, 0, time.UTC)
	data := activityEncoded(t, a, activityfile.Quirks{})
	r := activityOne(t, activityRead(t, data, func(s *ActivitySource) { s.Zone = time.FixedZone("", 3600) }))
	if r.LocalDate != "2026-03-02" {
		t.Errorf("local date %s", r.LocalDate)
	}
	r = activityOne(t, activityRead(t, data, func(s *ActivitySource) {
		s.Zone, s.Input.TimeZone = time.FixedZone("", 3600), time.FixedZone("", -3600)
	}))
	if r.LocalDate != "2026-03-01" {
		t.Errorf("local date %s in the input's zone", r.LocalDate)
	}
}
