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
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"

	"lengthwise/datasets/squad"
)

// sample returns a simulated session of the demo's world and its swimmer.
func sample(t testing.TB) (*squad.Session, *squad.Swimmer) {
	t.Helper()
	sc := squad.Demo(5)
	sc.Swimmers, sc.SessionsPerSwimmer, sc.BoutsPerSession = 1, 3, 4
	sc.Pools = []squad.PoolShare{{Metres: 25, Weight: 1}}
	sc.DrillShare = 1
	sw := squad.SimulateSwimmer(sc, 0)
	return &sw.Sessions[1], &sw
}

// decode reads every sequence; lenient leaves the checksum out.
func decode(t testing.TB, b []byte, lenient bool) ([]*proto.FIT, error) {
	t.Helper()
	var options []decoder.Option
	if lenient {
		options = append(options, decoder.WithIgnoreChecksum())
	}
	dec := decoder.New(bytes.NewReader(b), options...)
	var out []*proto.FIT
	for dec.Next() {
		fit, err := dec.Decode()
		if err != nil {
			return out, err
		}
		out = append(out, fit)
	}
	return out, nil
}

// encode writes and decodes, failing the test on any error.
func encode(t testing.TB, a Activity, q Quirks) []*proto.FIT {
	t.Helper()
	b, err := Encode(a, q)
	if err != nil {
		t.Fatal(err)
	}
	fits, err := decode(t, b, true)
	if err != nil {
		t.Fatal(err)
	}
	return fits
}

func messagesOf(fit *proto.FIT, num typedef.MesgNum) (out []*proto.Message) {
	for i := range fit.Messages {
		if fit.Messages[i].Num == num {
			out = append(out, &fit.Messages[i])
		}
	}
	return out
}

func lengthsOf(fit *proto.FIT) (out []*mesgdef.Length) {
	for _, m := range messagesOf(fit, mesgnum.Length) {
		out = append(out, mesgdef.NewLength(m))
	}
	return out
}

func sessionOf(t testing.TB, fit *proto.FIT) *mesgdef.Session {
	t.Helper()
	m := messagesOf(fit, mesgnum.Session)
	if len(m) != 1 {
		t.Fatalf("%d session messages", len(m))
	}
	return mesgdef.NewSession(m[0])
}

// A clean file must pass the library's own checksum and give every length back.
func TestCleanFileRoundTrip(t *testing.T) {
	s, sw := sample(t)
	a := FromSession(s, sw, Options{Profile: true})
	b, err := Encode(a, Quirks{})
	if err != nil {
		t.Fatal(err)
	}
	fits, err := decode(t, b, false)
	if err != nil || len(fits) != 1 {
		t.Fatalf("%d sequences, error %v", len(fits), err)
	}
	fit := fits[0]
	if id := mesgdef.NewFileId(&fit.Messages[0]); id.Type != typedef.FileActivity || id.SerialNumber != sw.Device ||
		!id.TimeCreated.Equal(s.StartUTC) {
		t.Errorf("file_id %+v", id)
	}
	ses := sessionOf(t, fit)
	if ses.SubSport != typedef.SubSportLapSwimming || ses.PoolLengthScaled() != 25 ||
		int(ses.NumActiveLengths) != len(a.Lengths) || int(ses.NumLaps) != len(s.Bouts) {
		t.Errorf("session: sub-sport %v, pool %v, %d active lengths, %d laps",
			ses.SubSport, ses.PoolLengthScaled(), ses.NumActiveLengths, ses.NumLaps)
	}
	got := lengthsOf(fit)
	if len(got) != len(a.Lengths) {
		t.Fatalf("%d lengths, want %d", len(got), len(a.Lengths))
	}
	drills := 0
	for i, l := range got {
		want := a.Lengths[i]
		if int(l.MessageIndex) != i || l.LengthType != typedef.LengthTypeActive {
			t.Errorf("length %d: index %d, type %v", i, l.MessageIndex, l.LengthType)
		}
		if math.Abs(l.TotalElapsedTimeScaled()-want.DurationSeconds) > 0.0005001 || l.TotalElapsedTime != l.TotalTimerTime {
			t.Errorf("length %d lasts %v (timer %v), want %v", i, l.TotalElapsedTimeScaled(), l.TotalTimerTimeScaled(), want.DurationSeconds)
		}
		if wantStart := s.StartUTC.Add(time.Duration(math.Floor(want.StartSeconds)) * time.Second); !l.StartTime.Equal(wantStart) {
			t.Errorf("length %d starts %v, want %v", i, l.StartTime, wantStart)
		}
		if want.Stroke == Drill {
			drills++
			if l.TotalStrokes != math.MaxUint16 || l.AvgSpeed != 0 {
				t.Errorf("drill length %d: strokes %d, speed %d", i, l.TotalStrokes, l.AvgSpeed)
			}
			continue
		}
		if int(l.TotalStrokes) != want.Strokes {
			t.Errorf("length %d: %d strokes, want %d", i, l.TotalStrokes, want.Strokes)
		}
	}
	if drills != 4 {
		t.Errorf("%d drill lengths, want 4", drills)
	}
	records := messagesOf(fit, mesgnum.Record)
	if want := int(s.DurationSeconds()) + 1; len(records) != want {
		t.Errorf("%d records, want %d", len(records), want)
	}
	r := mesgdef.NewRecord(records[100])
	if int(r.HeartRate) != int(math.Round(s.HeartRate[100].BPM)) || !r.Timestamp.Equal(s.StartUTC.Add(100*time.Second)) {
		t.Errorf("record 100: %d bpm at %v", r.HeartRate, r.Timestamp)
	}
	act := mesgdef.NewActivity(messagesOf(fit, mesgnum.Activity)[0])
	_, offset := s.Local.Zone()
	if got := act.LocalTimestamp.Sub(act.Timestamp); got != time.Duration(offset)*time.Second {
		t.Errorf("local clock %v ahead, want %d s", got, offset)
	}
	p := mesgdef.NewUserProfile(messagesOf(fit, mesgnum.UserProfile)[0])
	if p.FriendlyName != sw.Given || math.Abs(p.WeightScaled()-sw.MassKG) > 1e-9 {
		t.Errorf("profile %q, %v kg; want %q, %v kg", p.FriendlyName, p.WeightScaled(), sw.Given, sw.MassKG)
	}
}

func TestEncodeIsDeterministicAndLeavesItsInputAlone(t *testing.T) {
	s, sw := sample(t)
	a := FromSession(s, sw, Options{Strap: true, Rests: RestOwnLap})
	lengths, laps := append([]Length(nil), a.Lengths...), append([]Lap(nil), a.Laps...)
	q := Quirks{BeatBlocks: 3, StrayLap: true, ZeroIdleDurations: true, WallSecondsOut: 1.4, OneLap: true}
	one, err := Encode(a, q)
	if err != nil {
		t.Fatal(err)
	}
	two, _ := Encode(a, q)
	if !bytes.Equal(one, two) {
		t.Error("two encodings differ")
	}
	for i := range lengths {
		if a.Lengths[i] != lengths[i] {
			t.Fatalf("Encode changed length %d", i)
		}
	}
	for i := range laps {
		if a.Laps[i] != laps[i] {
			t.Fatalf("Encode changed lap %d", i)
		}
	}
}

func TestRefusedActivities(t *testing.T) {
	start := time.Date(2026, 1, 1, 7, 0, 0, 0, time.UTC)
	for name, c := range map[string]struct {
		a Activity
		q Quirks
	}{
		"lap beyond the lengths": {a: Activity{StartUTC: start, Laps: []Lap{{FirstLength: 0, Lengths: 2}}, Lengths: make([]Length, 1)}},
		"before the epoch":       {a: Activity{StartUTC: epoch.Add(-time.Hour)}},
		"odd packets":            {a: Activity{StartUTC: start}, q: Quirks{BeatsPerPacket: 3}},
	} {
		var buf bytes.Buffer
		if err := Write(&buf, c.a, c.q); !errors.Is(err, ErrActivity) {
			t.Errorf("%s: error %v", name, err)
		}
		if buf.Len() > 0 {
			t.Errorf("%s: %d bytes written", name, buf.Len())
		}
	}
}

func BenchmarkEncode(b *testing.B) {
	s, sw := sample(b)
	a := FromSession(s, sw, Options{})
	b.ReportAllocs()
	size := 0
	for range b.N {
		out, err := Encode(a, Quirks{})
		if err != nil {
			b.Fatal(err)
		}
		size = len(out)
	}
	b.SetBytes(int64(size))
	b.ReportMetric(float64(len(a.Records)), "records/op")
}
