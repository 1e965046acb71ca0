package activityfile

import (
	"bytes"
	"errors"
	"math"
	"testing"
	"time"

	"github.com/muktihari/fit/decoder"
	"github.com/muktihari/fit/profile/mesgdef"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/profile/untyped/fieldnum"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"
)

type collector struct{ lengths int }

func (c *collector) OnMesg(m proto.Message) {
	if m.Num == mesgnum.Length {
		c.lengths++
	}
}

func TestTruncatedFileStillYieldsLengthsToAListener(t *testing.T) {
	s, sw := sample(t)
	a := FromSession(s, sw, Options{})
	whole, _ := Encode(a, Quirks{})
	cut, err := Encode(a, Quirks{TruncateAt: len(whole) / 2})
	if err != nil || len(cut) != len(whole)/2 {
		t.Fatalf("%d bytes, error %v", len(cut), err)
	}
	var c collector
	_, err = decoder.New(bytes.NewReader(cut), decoder.WithMesgListener(&c), decoder.WithIgnoreChecksum()).Decode()
	if err == nil {
		t.Error("a cut file decodes without error")
	}
	if c.lengths == 0 || c.lengths >= len(a.Lengths) {
		t.Errorf("listener saw %d of %d lengths", c.lengths, len(a.Lengths))
	}
}

// readBeats applies the published rule: time = anchor + fraction +
// (event_timestamp - anchor's)/1024, the anchor renewed only by a timestamp. The
// strap's clock wraps at 2^32 ticks, hence the difference in uint32.
func readBeats(t *testing.T, fit *proto.FIT, start time.Time) (out []Beat) {
	t.Helper()
	var anchor float64
	var event0 uint32
	for _, m := range messagesOf(fit, mesgnum.Hr) {
		h := mesgdef.NewHr(m)
		events := h.EventTimestamp
		if h.FractionalTimestamp != math.MaxUint16 {
			anchor = h.Timestamp.Sub(start).Seconds() + h.FractionalTimestampScaled()
			event0 = events[0]
		}
		if len(events) != len(h.FilteredBpm) {
			t.Fatalf("%d times for %d rates", len(events), len(h.FilteredBpm))
		}
		for i, e := range events {
			out = append(out, Beat{anchor + float64(e-event0)/1024, h.FilteredBpm[i]})
		}
	}
	return out
}

func TestStrapBeats(t *testing.T) {
	s, sw := sample(t)
	a := FromSession(s, sw, Options{Strap: true, StrapLeadSeconds: 90, StrapTailSeconds: 45})
	// A gap too long for a 12-bit time.
	kept := a.Beats[:0:0]
	for _, b := range a.Beats {
		if b.Seconds < 300 || b.Seconds > 309 {
			kept = append(kept, b)
		}
	}
	a.Beats = kept
	for _, q := range []Quirks{
		{},
		{BeatBlocks: 6, BeatStartValue: 71, BeatSecondAnchor: true, BeatClockSeconds: 4_194_000},
		{BeatBlocks: 2, BeatsPerPacket: 4, BigEndian: true},
	} {
		fits := encode(t, a, q)
		if want := 1 + max(1, q.BeatBlocks); len(fits) != want {
			t.Fatalf("%d sequences, want %d", len(fits), want)
		}
		var got []Beat
		anchors := 0
		for _, fit := range fits[1:] {
			if len(messagesOf(fit, mesgnum.FileId)) > 0 {
				t.Error("a beat sequence has a file_id")
			}
			for _, m := range messagesOf(fit, mesgnum.Hr) {
				if m.FieldValueByNum(fieldnum.HrTimestamp).Uint32() != math.MaxUint32 {
					anchors++
				}
			}
			got = append(got, readBeats(t, fit, s.StartUTC)...)
		}
		if anchors != max(1, q.BeatBlocks) {
			t.Errorf("%d anchors for %d blocks", anchors, q.BeatBlocks)
		}
		checkBeats(t, got, a.Beats, q)
	}
}

// checkBeats compares beats read with those written, padding dropped.
func checkBeats(t *testing.T, got, want []Beat, q Quirks) {
	t.Helper()
	unique := got[:0:0]
	for i, b := range got {
		if i == 0 || b.Seconds > got[i-1].Seconds+1e-9 {
			unique = append(unique, b)
		}
	}
	if len(unique) != len(want) {
		t.Fatalf("%d beats read, %d written", len(unique), len(want))
	}
	for i, b := range unique {
		if math.Abs(b.Seconds-want[i].Seconds) > 0.0016 { // 1/1024 s twice rounded, fraction cut
			t.Fatalf("beat %d at %v s, written at %v s", i, b.Seconds, want[i].Seconds)
		}
		if i == 0 && q.BeatStartValue > 0 {
			if b.BPM != q.BeatStartValue {
				t.Errorf("first beat %d bpm, want the start value", b.BPM)
			}
		} else if b.BPM != want[i].BPM {
			t.Fatalf("beat %d: %d bpm, written %d", i, b.BPM, want[i].BPM)
		}
	}
}

func TestNumLengthsConventions(t *testing.T) {
	s, sw := sample(t)
	active := 0
	for _, b := range s.Bouts {
		active += b.LengthCount
	}
	rests := len(s.Bouts) - 1
	for name, c := range map[string]struct {
		rests RestStyle
		count NumLengths
		want  int
	}{
		"gaps":                            {RestGap, ActiveAndIdle, active},
		"own laps, all":                   {RestOwnLap, ActiveAndIdle, active + rests},
		"own laps, in intervals":          {RestOwnLap, ActiveAndIdleInInterval, active},
		"rests in intervals, all":         {RestInInterval, ActiveAndIdleInInterval, active + rests},
		"rests in intervals, active only": {RestInInterval, ActiveOnly, active},
	} {
		a := FromSession(s, sw, Options{NoRecords: true, Rests: c.rests})
		fit := encode(t, a, Quirks{NumLengths: c.count})[0]
		ses := sessionOf(t, fit)
		if int(ses.NumLengths) != c.want || int(ses.NumActiveLengths) != active {
			t.Errorf("%s: num_lengths %d (want %d), active %d (want %d)", name, ses.NumLengths, c.want, ses.NumActiveLengths, active)
		}
		idle := 0
		for _, l := range lengthsOf(fit) {
			if l.LengthType == typedef.LengthTypeIdle {
				idle++
			}
		}
		if want := len(a.Lengths) - active; idle != want {
			t.Errorf("%s: %d idle lengths, want %d", name, idle, want)
		}
	}
	a := FromSession(s, sw, Options{NoRecords: true})
	if ses := sessionOf(t, encode(t, a, Quirks{OmitNumActive: true})[0]); ses.NumActiveLengths != math.MaxUint16 {
		t.Errorf("num_active_lengths %d, want none", ses.NumActiveLengths)
	}
}

func TestLengthTimes(t *testing.T) {
	s, sw := sample(t)
	a := FromSession(s, sw, Options{NoRecords: true, Rests: RestOwnLap})
	clean := lengthsOf(encode(t, a, Quirks{})[0])

	for i, l := range lengthsOf(encode(t, a, Quirks{LengthTimestamps: TimestampInvalid})[0]) {
		if !l.Timestamp.Before(epoch) && !l.Timestamp.IsZero() {
			t.Fatalf("length %d has timestamp %v", i, l.Timestamp)
		}
	}
	late := lengthsOf(encode(t, a, Quirks{LengthTimestamps: TimestampLate, LateSeconds: 540})[0])
	for i, l := range late {
		if lag := l.Timestamp.Sub(clean[i].Timestamp); lag < 539*time.Second {
			t.Fatalf("length %d is %v late", i, lag)
		}
	}
	drift := lengthsOf(encode(t, a, Quirks{StartDriftSeconds: 4})[0])
	most := time.Duration(0)
	for i, l := range drift {
		d := l.StartTime.Sub(clean[i].StartTime)
		if d < 0 || d > 4*time.Second {
			t.Fatalf("length %d starts %v off", i, d)
		}
		most = max(most, d)
	}
	if most < 3*time.Second {
		t.Errorf("start times drift by %v at most", most)
	}
	zeros, idle := 0, 0
	for _, l := range lengthsOf(encode(t, a, Quirks{ZeroIdleDurations: true})[0]) {
		if l.LengthType == typedef.LengthTypeIdle {
			idle++
			if l.TotalElapsedTime == 0 {
				zeros++
			}
		}
	}
	if want := (idle + 1) / 2; zeros != want || idle == 0 {
		t.Errorf("%d of %d rests last 0 s, want %d", zeros, idle, want)
	}
	out := 0
	for i, l := range lengthsOf(encode(t, a, Quirks{WallSecondsOut: 1.4})[0]) {
		if d := clean[i].TotalElapsedTimeScaled() - l.TotalElapsedTimeScaled(); math.Abs(d-1.4) < 0.0021 {
			out++
		} else if d != 0 {
			t.Fatalf("length %d is %v s shorter", i, d)
		}
	}
	want := 0
	for _, b := range s.Bouts {
		want += b.LengthCount - 1
	}
	if out != want {
		t.Errorf("wall time is out of %d lengths, want %d", out, want)
	}
	created := mesgdef.NewFileId(&encode(t, a, Quirks{CreatedDelaySeconds: 4000})[0].Messages[0]).TimeCreated
	if got := created.Sub(s.StartUTC); got != 4000*time.Second {
		t.Errorf("created %v after the start", got)
	}
}

// Strokes go missing three ways; raw messages tell them apart.
func TestNoStrokesThreeWays(t *testing.T) {
	s, sw := sample(t)
	a := FromSession(s, sw, Options{NoRecords: true})
	for name, c := range map[string]struct {
		way     NoStrokes
		present bool
		value   uint16
	}{
		"undefined": {StrokesUndefined, false, math.MaxUint16},
		"invalid":   {StrokesInvalid, true, math.MaxUint16},
		"zero":      {StrokesZero, true, 0},
	} {
		drills := 0
		for _, m := range messagesOf(encode(t, a, Quirks{NoStrokes: c.way})[0], mesgnum.Length) {
			if m.FieldValueByNum(fieldnum.LengthSwimStroke).Uint8() != uint8(Drill) {
				continue
			}
			drills++
			present := m.FieldByNum(fieldnum.LengthTotalStrokes) != nil
			if present != c.present || m.FieldValueByNum(fieldnum.LengthTotalStrokes).Uint16() != c.value {
				t.Errorf("%s: field present %v, value %d", name, present, m.FieldValueByNum(fieldnum.LengthTotalStrokes).Uint16())
			}
		}
		if drills != 4 {
			t.Errorf("%s: %d drill lengths", name, drills)
		}
	}
}

func TestOrderAndLaps(t *testing.T) {
	s, sw := sample(t)
	a := FromSession(s, sw, Options{RecordEverySeconds: 10, Rests: RestOwnLap})
	first := encode(t, a, Quirks{Order: SummaryFirst})[0]
	seen := map[typedef.MesgNum]int{}
	for i, m := range first.Messages {
		if _, ok := seen[m.Num]; !ok {
			seen[m.Num] = i
		}
	}
	if !(seen[mesgnum.Session] < seen[mesgnum.Lap] && seen[mesgnum.Lap] < seen[mesgnum.Length] && seen[mesgnum.Length] < seen[mesgnum.Record]) {
		t.Errorf("order of first messages: %v", seen)
	}
	byTime := encode(t, a, Quirks{})[0]
	changes := 0
	for i := 1; i < len(byTime.Messages); i++ {
		if byTime.Messages[i].Num != byTime.Messages[i-1].Num {
			changes++
		}
	}
	if changes < len(a.Lengths) {
		t.Errorf("messages are not interleaved: %d changes of kind", changes)
	}
	if n := len(messagesOf(encode(t, a, Quirks{OneLap: true})[0], mesgnum.Lap)); n != 1 {
		t.Errorf("%d laps, want all in one", n)
	}
	laps := messagesOf(encode(t, a, Quirks{StrayLap: true})[0], mesgnum.Lap)
	if last := mesgdef.NewLap(laps[len(laps)-1]); last.TotalElapsedTime != 435 || len(laps) != len(a.Laps)+1 {
		t.Errorf("%d laps, the last of %d ms", len(laps), last.TotalElapsedTime)
	}
	together := encode(t, a, Quirks{LapsTogether: true})[0].Messages
	for i := len(together) - 2 - len(a.Laps); i < len(together)-2; i++ {
		if together[i].Num != mesgnum.Lap {
			t.Fatalf("message %d of %d is %v, want a lap", i, len(together), together[i].Num)
		}
	}
	if n := len(messagesOf(encode(t, a, Quirks{OmitSession: true})[0], mesgnum.Session)); n != 0 {
		t.Errorf("%d session messages, want none", n)
	}
}

func TestContentToSkip(t *testing.T) {
	s, sw := sample(t)
	a := FromSession(s, sw, Options{RecordEverySeconds: 30})
	fit := encode(t, a, Quirks{DuplicateField: true, UnknownMessages: true, DeveloperFields: true})[0]
	twice := 0
	for _, m := range messagesOf(fit, mesgnum.Length) {
		n := 0
		for _, f := range m.Fields {
			if f.Num == fieldnum.LengthAvgSpeed && !f.IsExpandedField {
				n++
			}
		}
		if n == 2 {
			twice++
		}
	}
	if twice != len(a.Lengths) {
		t.Errorf("%d of %d lengths hold a field twice", twice, len(a.Lengths))
	}
	if n := len(messagesOf(fit, 0xFF00)); n != 1 {
		t.Errorf("%d unknown messages", n)
	}
	if n := len(messagesOf(fit, mesgnum.DeveloperDataId)); n != 2 {
		t.Errorf("%d developer apps", n)
	}
	if r := messagesOf(fit, mesgnum.Record)[0]; len(r.DeveloperFields) != 1 {
		t.Errorf("%d developer fields in a record", len(r.DeveloperFields))
	}
	plain, _ := Encode(a, Quirks{})
	again, _ := Encode(a, Quirks{OtherSoftware: true})
	if bytes.Equal(plain, again) {
		t.Error("a re-export has the same bytes")
	}
}

func TestPoolsAndOtherSports(t *testing.T) {
	s, sw := sample(t)
	a := FromSession(s, sw, Options{NoRecords: true})
	a.PoolMetres, a.PoolYards = 22.86, true
	ses := sessionOf(t, encode(t, a, Quirks{})[0])
	if ses.PoolLength != 2286 || ses.PoolLengthUnit != typedef.DisplayMeasureStatute {
		t.Errorf("yards pool: length %d cm, unit %v", ses.PoolLength, ses.PoolLengthUnit)
	}
	sea := Activity{StartUTC: s.StartUTC, NotPoolSwimming: true, Sport: SportSwimming, SubSport: SubSportOpenWater,
		Records: []Record{{Seconds: 0, BPM: 120, DistanceMetres: 0, Position: true, Lat: 45, Lon: -30}, {Seconds: 60, BPM: 0, DistanceMetres: 70}}}
	fit := encode(t, sea, Quirks{})[0]
	ses = sessionOf(t, fit)
	if ses.SubSport != typedef.SubSportOpenWater || ses.PoolLength != math.MaxUint16 || ses.NumLengths != math.MaxUint16 {
		t.Errorf("open water: %v, pool %d, lengths %d", ses.SubSport, ses.PoolLength, ses.NumLengths)
	}
	r := mesgdef.NewRecord(messagesOf(fit, mesgnum.Record)[0])
	if math.Abs(r.PositionLatDegrees()-45) > 1e-6 || math.Abs(r.PositionLongDegrees()+30) > 1e-6 {
		t.Errorf("position %v %v", r.PositionLatDegrees(), r.PositionLongDegrees())
	}
	if r := mesgdef.NewRecord(messagesOf(fit, mesgnum.Record)[1]); r.HeartRate != 0 || math.Abs(ses.TotalDistanceScaled()-70) > 1e-9 {
		t.Errorf("heart rate %d, distance %v", r.HeartRate, ses.TotalDistanceScaled())
	}
}

func TestChainedActivities(t *testing.T) {
	s, sw := sample(t)
	a := FromSession(s, sw, Options{NoRecords: true})
	var buf bytes.Buffer
	if err := errors.Join(Write(&buf, a, Quirks{}), Write(&buf, a, Quirks{Header12: true})); err != nil {
		t.Fatal(err)
	}
	fits, err := decode(t, buf.Bytes(), true)
	if err != nil || len(fits) != 2 || len(lengthsOf(fits[1])) != len(a.Lengths) {
		t.Errorf("%d sequences, error %v", len(fits), err)
	}
}
