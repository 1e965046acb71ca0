package read

import (
	"bytes"
	"errors"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"lengthwise/datasets/activityfile/randomfile"
)

// activityFixtures are whole files that hold every kind of message the reader
// knows, as seeds for damage.
func activityFixtures() [][]byte {
	s := fitTestStart
	log := &fitTest{}
	log.anchor(s-1, 16384, 5000, 71).packet(90, 5512, 6024, 7048, 8072, 9096, 10120, 11144, 11144)
	odd := &fitTest{big: true}
	odd.message(0xFF00, odd.u32(1, 5)).fileID(9).message(23, odd.u8(0, 1), odd.u8(1, 120), odd.enum(25, 1))
	odd.messageWith(101, []fitTestField{{num: 0, value: []byte{1, 2, 3}}}, odd.u32(2, s), odd.u32(3, 30000), odd.enum(12, 1), odd.u16(5, 12), odd.u16(5, 13))
	odd.record(s+1, 100).lap(s, 30, 0, 1).sessionOf(s, 30, 5, 17, 2286, 1).sessionOf(s+60, 30, 1, 0, 0xFFFF, 0xFFFF).record(s+70, 150)
	swim := fitTestSwim()
	return [][]byte{
		swim.close(fitTestGood), swim.close(fitTestNotClosed), odd.close(fitTestShort),
		slices.Concat(swim.close(fitTestGood), log.close(fitTestGood), odd.close(fitTestWrong)),
	}
}

// activityDamage changes, inserts, removes and repeats bytes.
func activityDamage(data []byte, r *rand.Rand) []byte {
	data = bytes.Clone(data)
	for range 1 + r.IntN(6) {
		at := r.IntN(len(data))
		switch r.IntN(6) {
		case 0, 1:
			data[at] = byte(r.Uint32())
		case 2:
			data[at] ^= 1 << r.IntN(8)
		case 3:
			data = slices.Insert(data, at, byte(r.Uint32()))
		case 4:
			data = slices.Delete(data, at, min(at+1+r.IntN(4), len(data)))
		case 5:
			end := min(at+1+r.IntN(60), len(data))
			data = slices.Insert(data, at, bytes.Clone(data[at:end])...)
		}
		if len(data) == 0 {
			return data
		}
	}
	return data
}

// activitySound checks what holds for every file that is read at all.
func activitySound(t testing.TB, f File) {
	t.Helper()
	activityBalanced(t, f)
	finite := func(values ...float64) {
		t.Helper()
		for _, v := range values {
			if math.IsInf(v, 0) {
				t.Fatalf("an infinite number in %+v", f)
			}
		}
	}
	for i, r := range f.Recordings {
		if r.Part != i+1 || len(r.Lengths) == 0 {
			t.Fatalf("recording %d is part %d with %d lengths", i, r.Part, len(r.Lengths))
		}
		owned := make([]int, len(r.Laps))
		for _, l := range r.Lengths {
			finite(l.StartS, l.DurationS, l.Strokes)
			if l.Lap < -1 || l.Lap >= len(r.Laps) {
				t.Fatalf("lap %d of %d", l.Lap, len(r.Laps))
			}
			if l.Lap >= 0 {
				owned[l.Lap]++
			}
		}
		for j, l := range r.Laps {
			finite(l.StartS, l.DurationS)
			if l.PoolLengths != owned[j] {
				t.Fatalf("lap %d owns %d lengths, states %d", j, owned[j], l.PoolLengths)
			}
		}
		for j, s := range r.Samples {
			finite(s.TimeS)
			if math.IsNaN(s.TimeS) || j > 0 && s.TimeS < r.Samples[j-1].TimeS {
				t.Fatalf("sample %d at %v", j, s.TimeS)
			}
		}
	}
	excluded := 0
	for _, e := range f.Entries {
		if e.Kind == KindFile && e.Action == Excluded {
			excluded++
		}
	}
	if want := map[bool]int{true: 1, false: 0}[len(f.Recordings) == 0]; excluded != want {
		t.Fatalf("%d recordings, but the file is excluded %d times", len(f.Recordings), excluded)
	}
}

func TestActivityDamagedFiles(t *testing.T) {
	r := rand.New(rand.NewPCG(20261125, 1))
	fixtures := activityFixtures()
	read, refused, recordings := 0, 0, 0
	for i := range 1000 {
		data := activityDamage(fixtures[i%len(fixtures)], r)
		f, err := Activity(data, activityTestSource())
		if err != nil {
			var not *NotActivityError
			if !errors.As(err, &not) || not.Offset < 0 || not.Offset > int64(len(data)) {
				t.Fatalf("file %d: %v", i, err)
			}
			refused++
			continue
		}
		activitySound(t, f)
		read++
		recordings += len(f.Recordings)
		again, err := Activity(data, activityTestSource())
		if err != nil || len(again.Entries) != len(f.Entries) || !slices.Equal(again.Entries, f.Entries) {
			t.Fatalf("file %d reads differently a second time", i)
		}
	}
	if read < 900 || recordings < read/2 {
		t.Errorf("%d files read, %d refused, %d recordings: the damage leaves too little to test", read, refused, recordings)
	}
}

// The reader does not change the bytes it is given.
func TestActivityLeavesTheBytesAlone(t *testing.T) {
	for _, data := range activityFixtures() {
		before := bytes.Clone(data)
		if _, err := Activity(data, activityTestSource()); err != nil || !bytes.Equal(before, data) {
			t.Errorf("changed, or %v", err)
		}
	}
}

// Files made to exhaust memory or time: what is kept is bounded, what is not
// kept is accounted for.
func TestActivityHostileFiles(t *testing.T) {
	empty := func(mesg uint16) *fitTest { // messages of a single byte
		f := &fitTest{}
		f.fileID(1).length(0, fitTestStart, 30, 12).pool(fitTestStart, 30, 1)
		f.message(mesg)
		f.body = append(f.body, bytes.Repeat([]byte{byte(mesg % 16)}, 120_000)...)
		return f
	}
	wide := &fitTest{} // the same field 255 times, each as wide as can be
	wide.fileID(1)
	var fields []fitTestField
	for range 255 {
		fields = append(fields, wide.array(6, 2, bytes.Repeat([]byte{100}, 255)...))
	}
	for range 8 {
		wide.message(132, fields...)
	}
	twice := &fitTest{}
	fields = fields[:0]
	for i := range 255 {
		fields = append(fields, twice.u8(12, byte(i)))
	}
	for range 1500 {
		twice.message(101, fields...)
	}
	beats := &fitTest{}
	beats.fileID(1).length(0, fitTestStart, 30, 12).pool(fitTestStart, 30, 1)
	for range 1500 {
		beats.message(132, beats.u32(253, fitTestStart), beats.u32(9, 1), beats.array(6, 2, bytes.Repeat([]byte{100}, 255)...))
	}
	described := &fitTest{} // developer fields by the thousand
	described.message(206, described.u8(0, 1), described.u8(1, 1), described.u8(2, 2))
	for range 3000 {
		described.message(206, described.u8(0, 1), described.u8(1, 1), described.u8(2, 0x42))
		described.messageWith(20, []fitTestField{{num: 1, value: []byte{1}}}, described.u8(3, 100))
	}
	for name, f := range map[string]*fitTest{
		"lengths of no bytes": empty(101), "laps of no bytes": empty(19), "sessions of no bytes": empty(18), "file ids of no bytes": empty(0),
		"records of no bytes": empty(20), "wide fields": wide, "fields that occur 255 times": twice, "arrays of beats": beats, "developer fields": described,
	} {
		data := f.close(fitTestGood)
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		file, err := Activity(data, activityTestSource())
		runtime.ReadMemStats(&after)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		const most = 64 << 20
		if used := after.TotalAlloc - before.TotalAlloc; used > most {
			t.Errorf("%s: %d bytes allocated for a file of %d", name, used, len(data))
		}
		activitySound(t, file)
	}
}

func TestActivityKeepsWithinItsLimits(t *testing.T) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(1)
	for i := range 6 {
		f.length(uint16(i), s+uint32(30*i), 30, 12).idle(uint16(i), s, 1).record(s+uint32(i), 100).lap(s, 30, 0, 1)
	}
	f.pool(s, 200, 6).sessionOf(s, 200, 1, 0, 0, 0)
	data := f.close(fitTestGood)
	sequences, _, _ := fitSplit(data)
	c := newActivityCollector(activityLimits{sessions: 1, laps: 2, lengths: 5, beats: 3}, len(data))
	newFitDecoder().decode(data, sequences[0], c)
	b := activityBuilder{src: activityTestSource(), c: c}
	b.zone = b.src.Zone
	file := b.build(nil)
	activitySound(t, file)
	r := activityOne(t, file)
	if file.Counts != (Counts{Lengths: 6, Rests: 6, HeartRate: 6}) || len(r.Lengths) != 3 || len(r.Rests) != 2 || len(r.Samples) != 3 || len(r.Laps) != 2 {
		t.Errorf("counts %+v, %d lengths, %d rests, %d samples", file.Counts, len(r.Lengths), len(r.Rests), len(r.Samples))
	}
	want := []string{"rest noted lengths-overlap", "file noted length-count", "length excluded too-many", "rest excluded too-many", "heart-rate excluded too-many"}
	if got := activityRules(file); !slices.Equal(got, want) {
		t.Errorf("entries %v, want %v", got, want)
	}
}

func FuzzActivity(f *testing.F) {
	for _, data := range activityFixtures() {
		f.Add(data)
		f.Add(data[:len(data)/2])
	}
	f.Add([]byte("swimmer,date,pool,time,strokes\n"))
	for seed := range uint64(40) {
		if made, err := randomfile.Make(seed); err == nil && len(made.Bytes) < 6000 {
			f.Add(randomfile.Rewrite(made.Bytes, seed))
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<20 {
			t.Skip("the account's check is by record")
		}
		file, err := Activity(data, activityTestSource())
		if err != nil {
			var not *NotActivityError
			if !errors.As(err, &not) {
				t.Fatal(err)
			}
			return
		}
		activitySound(t, file)
	})
}

// A swim of 200 lengths with 4,000 samples and other fields, as recent
// recorders write it.
func BenchmarkActivity(b *testing.B) {
	f, s := &fitTest{}, fitTestStart
	f.fileID(4711)
	for i := range uint32(4000) {
		f.message(20, f.u32(253, s+i), f.u8(3, uint8(100+i%60)), f.u32(5, 100*i), f.u8(4, 30), f.u16(6, 900), f.array(13, 1, 24), f.u32(73, 900))
		if i%20 == 19 {
			f.length(uint16(i/20), s+i-19, 20, 12)
		}
		if i%80 == 79 {
			f.lap(s+i-79, 80, uint16(i/20-3), 4)
		}
	}
	data := f.pool(s, 4000, 200).close(fitTestGood)
	src := activityTestSource()
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		file, err := Activity(data, src)
		if err != nil || len(file.Recordings[0].Lengths) != 200 || len(file.Recordings[0].Samples) != 4000 || len(file.Entries) != 0 {
			b.Fatal(err, file.Entries)
		}
	}
}
