package read

import (
	"encoding/binary"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// The fixtures are bytes built by hand after the published protocol, without
// the library that reads them: a second road to the same file.

// fitTest builds one sequence. Message and field numbers are the protocol's.
type fitTest struct {
	body []byte
	big  bool
	defs [16]string // definitions in force, by local number
}

// fitTestField is a field of a message: its number, base type and bytes.
type fitTestField struct {
	num, base byte
	value     []byte
}

func (f *fitTest) order() binary.AppendByteOrder {
	if f.big {
		return binary.BigEndian
	}
	return binary.LittleEndian
}

func (f *fitTest) u8(num byte, v uint8) fitTestField { return fitTestField{num, 0x02, []byte{v}} }
func (f *fitTest) enum(num byte, v uint8) fitTestField {
	return fitTestField{num, 0x00, []byte{v}}
}
func (f *fitTest) u16(num byte, v uint16) fitTestField {
	return fitTestField{num, 0x84, f.order().AppendUint16(nil, v)}
}
func (f *fitTest) u32(num byte, v uint32) fitTestField {
	return fitTestField{num, 0x86, f.order().AppendUint32(nil, v)}
}
func (f *fitTest) u32z(num byte, v uint32) fitTestField {
	return fitTestField{num, 0x8C, f.order().AppendUint32(nil, v)}
}
func (f *fitTest) array(num, base byte, v ...byte) fitTestField { return fitTestField{num, base, v} }
func (f *fitTest) text(num byte, s string) fitTestField {
	return fitTestField{num, 0x07, append([]byte(s), 0)}
}

// message writes a message, and its definition unless it is in force.
func (f *fitTest) message(mesg uint16, fields ...fitTestField) *fitTest {
	return f.messageWith(mesg, nil, fields...)
}

// messageWith writes a message with developer fields (number, bytes).
func (f *fitTest) messageWith(mesg uint16, developer []fitTestField, fields ...fitTestField) *fitTest {
	local := byte(mesg % 16)
	header := 0x40 | local
	if developer != nil {
		header |= 0x20
	}
	def := []byte{header, 0, 0}
	if f.big {
		def[2] = 1
	}
	def = f.order().AppendUint16(def, mesg)
	def = append(def, byte(len(fields)))
	for _, field := range fields {
		def = append(def, field.num, byte(len(field.value)), field.base)
	}
	if developer != nil {
		def = append(def, byte(len(developer)))
		for _, field := range developer {
			def = append(def, field.num, byte(len(field.value)), 0)
		}
	}
	if f.defs[local] != string(def) {
		f.body = append(f.body, def...)
		f.defs[local] = string(def)
	}
	f.body = append(f.body, local)
	for _, field := range slices.Concat(fields, developer) {
		f.body = append(f.body, field.value...)
	}
	return f
}

// fitTestHeader is a way of writing header and checksum.
type fitTestHeader int

const (
	fitTestGood       fitTestHeader = iota // 14 bytes, both checksums over all they should
	fitTestNoHeader                        // header checksum 0, file checksum over header and data
	fitTestShort                           // header of 12 bytes
	fitTestDataOnly                        // file checksum over the data alone
	fitTestWrong                           // neither
	fitTestLong                            // header of 16 bytes, as a later protocol might have
	fitTestNotClosed                       // no size, no checksum
	fitTestHeaderBits = 14
)

// close is the whole sequence.
func (f *fitTest) close(how fitTestHeader) []byte {
	size := map[fitTestHeader]byte{fitTestShort: 12, fitTestLong: 16}[how]
	if size == 0 {
		size = fitTestHeaderBits
	}
	out := []byte{size, 0x20, 0x54, 0x08}
	if how == fitTestNotClosed {
		return append(append(append(out, 0, 0, 0, 0), ".FIT\x00\x00"...), f.body...)
	}
	out = binary.LittleEndian.AppendUint32(out, uint32(len(f.body)))
	out = append(out, ".FIT"...)
	switch {
	case size == 14 && how == fitTestNoHeader:
		out = append(out, 0, 0)
	case size == 14:
		out = binary.LittleEndian.AppendUint16(out, fitTestCRC(out))
	case size == 16:
		out = append(out, 0, 0, 0, 0)
	}
	out = append(out, f.body...)
	sum := fitTestCRC(out)
	switch how {
	case fitTestDataOnly:
		sum = fitTestCRC(f.body)
	case fitTestWrong:
		sum ^= 0x5A5A
	}
	return binary.LittleEndian.AppendUint16(out, sum)
}

// fitTestCRC is CRC-16 with the reversed polynomial A001, bit by bit.
func fitTestCRC(b []byte) uint16 {
	crc := uint16(0)
	for _, v := range b {
		crc ^= uint16(v)
		for range 8 {
			if crc&1 != 0 {
				crc = crc>>1 ^ 0xA001
			} else {
				crc >>= 1
			}
		}
	}
	return crc
}

// fitTestStart is 2026-01-10 06:30:00 UTC.
const fitTestStart = uint32(1768026600 - 631065600)

func (f *fitTest) fileID(serial uint32) *fitTest {
	return f.message(0, f.enum(0, 4), f.u16(1, 1), f.u32z(3, serial), f.u32(4, fitTestStart-7))
}

// pool writes the session message of a pool swim of some seconds.
func (f *fitTest) pool(start uint32, seconds float64, active uint16) *fitTest {
	return f.sessionOf(start, seconds, 5, 17, 2500, active)
}

func (f *fitTest) sessionOf(start uint32, seconds float64, sport, sub byte, poolCM, active uint16) *fitTest {
	return f.message(18, f.u32(253, start+uint32(seconds)), f.u32(2, start), f.u32(7, uint32(1000*seconds)),
		f.enum(5, sport), f.enum(6, sub), f.u16(44, poolCM), f.u16(47, active))
}

// length writes an active freestyle length.
func (f *fitTest) length(index uint16, start uint32, seconds float64, strokes uint16) *fitTest {
	return f.lengthOf(index, start, seconds, 1, f.u16(5, strokes), f.enum(7, 0))
}

// idle writes a rest.
func (f *fitTest) idle(index uint16, start uint32, seconds float64) *fitTest {
	return f.lengthOf(index, start, seconds, 0)
}

func (f *fitTest) lengthOf(index uint16, start uint32, seconds float64, typ byte, more ...fitTestField) *fitTest {
	fields := append([]fitTestField{f.u32(253, start+uint32(seconds)), f.u16(254, index), f.u32(2, start),
		f.u32(3, uint32(math.Round(1000*seconds))), f.u32(4, uint32(math.Round(1000*seconds))), f.enum(12, typ)}, more...)
	return f.message(101, fields...)
}

func (f *fitTest) lap(start uint32, seconds float64, first, num uint16) *fitTest {
	return f.message(19, f.u32(253, start+uint32(seconds)), f.u32(2, start), f.u32(7, uint32(1000*seconds)),
		f.u32(8, uint32(1000*seconds)), f.u16(35, first), f.u16(32, num))
}

func (f *fitTest) record(at uint32, bpm uint8) *fitTest {
	return f.message(20, f.u32(253, at), f.u8(3, bpm))
}

// anchor writes the hr message that opens a block.
func (f *fitTest) anchor(at uint32, fraction uint16, event uint32, bpm uint8) *fitTest {
	return f.message(132, f.u32(253, at), f.u16(0, fraction), f.u32(9, event), f.u8(6, bpm))
}

// packet writes eight beats at moments of the strap's clock (1/1024 s).
func (f *fitTest) packet(bpm uint8, events ...uint32) *fitTest {
	var bits []byte
	for i := 0; i+1 < len(events); i += 2 {
		x, y := events[i]&0xFFF, events[i+1]&0xFFF
		bits = append(bits, byte(x), byte(x>>8|y<<4), byte(y>>4))
	}
	beats := make([]byte, len(events))
	for i := range beats {
		beats[i] = bpm
	}
	return f.message(132, f.array(10, 0x0D, bits...), f.array(6, 0x02, beats...))
}

// fitTestSwim is a plain pool swim: two intervals of two lengths, a rest
// between them, a sample every ten seconds.
func fitTestSwim() *fitTest {
	f, t := &fitTest{}, fitTestStart
	f.fileID(4711)
	for s := uint32(0); s <= 150; s += 10 {
		f.record(t+s, uint8(100+s/10))
	}
	f.length(0, t, 30.25, 12).length(1, t+30, 31.5, 13).lap(t, 61.75, 0, 2)
	f.idle(2, t+61, 20).lap(t+61, 20, 2, 1)
	f.length(3, t+82, 32, 13).length(4, t+114, 33, 14).lap(t+82, 65, 3, 2)
	f.pool(t, 150, 4)
	return f.message(34, f.u32(253, t+150), f.u32(5, t+150))
}

func activityTestSource() ActivitySource {
	return ActivitySource{
		FileID: "f1", Zone: time.UTC, Content: "abc",
		Input:      study.Input{Kind: study.Activity, StrokeCount: study.Cycles},
		Owner:      func(string) identity.Owner { return identity.Owner{Swimmer: "s1"} },
		DeviceHash: func(serial string) string { return "hash-of-" + serial },
	}
}

// activityRead reads a file that must be an activity file, and checks its
// account.
func activityRead(t testing.TB, data []byte, change ...func(*ActivitySource)) File {
	t.Helper()
	src := activityTestSource()
	for _, c := range change {
		c(&src)
	}
	f, err := Activity(data, src)
	if err != nil {
		t.Fatalf("Activity: %v", err)
	}
	activityBalanced(t, f)
	return f
}

// activityOne is the only recording of a file.
func activityOne(t testing.TB, f File) Recording {
	t.Helper()
	if len(f.Recordings) != 1 {
		t.Fatalf("%d recordings, want 1; entries: %+v", len(f.Recordings), f.Entries)
	}
	return f.Recordings[0]
}

// activityBalanced checks the account of a file: every counted record is in
// one recording or in one excluded entry, never in both, and no number beyond
// the count occurs.
func activityBalanced(t testing.TB, f File) {
	t.Helper()
	type place struct {
		kind   RecordKind
		record int64
	}
	where := map[place]int{}
	for _, r := range f.Recordings {
		for _, l := range r.Lengths {
			where[place{l.Kind, l.Record}]++
		}
		for _, l := range r.Rests {
			where[place{KindRest, l.Record}]++
		}
		for _, l := range r.Samples {
			where[place{KindHeartRate, l.Record}]++
		}
	}
	for _, e := range f.Entries {
		if e.FileID != f.ID || e.Rule == "" || e.Detail == "" || e.Records < 1 || strings.ToLower(e.Rule) != e.Rule {
			t.Fatalf("bad entry %+v", e)
		}
		if e.Kind == KindFile {
			if e.Record != 0 || e.Records != 1 {
				t.Fatalf("entry on the file with record numbers: %+v", e)
			}
			continue
		}
		if e.Action == Excluded {
			for i := range e.Records {
				where[place{e.Kind, e.Record + i}]++
			}
		}
	}
	total := 0
	for _, k := range []struct {
		kind RecordKind
		n    int64
	}{{KindLength, f.Counts.Lengths}, {KindRest, f.Counts.Rests}, {KindHeartRate, f.Counts.HeartRate}, {KindRepeat, f.Counts.Repeats}} {
		total += int(k.n)
		for i := int64(1); i <= k.n; i++ {
			if n := where[place{k.kind, i}]; n != 1 {
				t.Fatalf("%s %d is accounted for %d times, want once (read %d)", k.kind, i, n, k.n)
			}
		}
	}
	if len(where) != total {
		t.Fatalf("%d records in recordings and entries, %d were read", len(where), total)
	}
}

// activityRules are the rules of a file's entries, with action and number of
// records, in order.
func activityRules(f File) []string {
	var out []string
	for _, e := range f.Entries {
		out = append(out, string(e.Kind)+" "+string(e.Action)+" "+e.Rule)
	}
	return out
}

func activityHasRule(f File, kind RecordKind, action Action, rule string) bool {
	return slices.Contains(activityRules(f), string(kind)+" "+string(action)+" "+rule)
}
