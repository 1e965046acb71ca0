package read

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"time"

	"lengthwise/pipeline/study"
)

// A Packer turns recordings into bytes and back, for the time between the
// reading of files and the work on one swimmer: a packed recording takes a
// fifth of the room. Bytes are good for a Packer of the same Zones, and for no
// other version of the program. A Packer is not safe for concurrent use.
type Packer struct {
	// Zones are the time zones that bytes name by their number: all that change
	// their offset. Of others, which lists state as an offset, the offset is kept.
	Zones []*time.Location

	texts map[string]uint64
	order []string
	body  []byte
}

// ErrPacked says that bytes are no packed recording of this Packer.
var ErrPacked = errors.New("not a packed recording")

// Pack appends a recording to dst and returns it. Every field is kept to the
// bit but Part, which is known only when all of a file is read and is kept by who
// packs; the recording is not changed.
func (p *Packer) Pack(dst []byte, r *Recording) []byte {
	p.texts, p.order, p.body = make(map[string]uint64), p.order[:0], p.body[:0]
	b := p.body
	for _, text := range []string{r.FileID, string(r.Kind), r.Swimmer, r.Refused, r.LocalDate, string(r.Basis), r.HRSource, r.Content, r.Device} {
		b = p.text(b, text)
	}
	b = binary.AppendVarint(b, r.Start.Unix())
	b = binary.AppendUvarint(b, uint64(r.Start.Nanosecond()))
	b = p.zone(b, r.Start.Location(), r.Start)
	b = p.zone(b, r.Zone, r.Start)
	b = binary.AppendVarint(b, r.Created)
	b = appendFloats(b, r.PoolM)
	b = binary.AppendUvarint(b, uint64(len(r.Laps)))
	for _, l := range r.Laps {
		b = appendFloats(b, l.StartS, l.DurationS)
		b = binary.AppendVarint(b, int64(l.PoolLengths))
	}
	b = binary.AppendUvarint(b, uint64(len(r.Lengths)))
	for i := range r.Lengths {
		b = p.length(b, &r.Lengths[i])
	}
	b = binary.AppendUvarint(b, uint64(len(r.Rests)))
	for _, x := range r.Rests {
		b = binary.AppendVarint(b, x.Record)
		b = appendFloats(b, x.StartS, x.DurationS)
	}
	b = binary.AppendUvarint(b, uint64(len(r.Samples)))
	for _, x := range r.Samples {
		b = binary.AppendVarint(b, x.Record)
		b = append(b, boolByte(x.First))
		b = appendFloats(b, x.TimeS, x.BPM)
	}
	p.body = b

	dst = binary.AppendUvarint(dst, uint64(len(p.order)))
	for _, text := range p.order {
		dst = binary.AppendUvarint(dst, uint64(len(text)))
		dst = append(dst, text...)
	}
	return append(dst, b...)
}

func (p *Packer) length(b []byte, l *Length) []byte {
	for _, n := range []int64{l.Record, int64(l.Lap), int64(l.Swim), int64(l.Rep), int64(l.Covers)} {
		b = binary.AppendVarint(b, n)
	}
	t := &l.Tags
	for _, text := range []string{string(l.Kind), l.Set, l.Stroke, string(l.Basis), l.End.Source, t.Instruction, t.Kick, t.Equipment, t.Effort} {
		b = p.text(b, text)
	}
	b = append(b, boolByte(l.Drill))
	b = appendFloats(b, l.StartS, l.DurationS, l.PoolM, l.Strokes, l.RestS, l.WallTimeS, l.End.HRBPM, l.End.DelayS, l.End.StepBPM)
	return appendFloats(b, t.RateTargetSPM, t.Breathing, t.RPE, t.LactateMMOL, t.LactateBefore, t.VO2)
}

// text appends the number of a text; texts stand once, before the body.
func (p *Packer) text(b []byte, text string) []byte {
	n, ok := p.texts[text]
	if !ok {
		n = uint64(len(p.order))
		p.texts[text] = n
		p.order = append(p.order, text)
	}
	return binary.AppendUvarint(b, n)
}

// zone appends a time zone: 0 for none, its number, or one more than there are
// numbers with the name and the offset that it has at an instant.
func (p *Packer) zone(b []byte, z *time.Location, at time.Time) []byte {
	if z == nil {
		return append(b, 0)
	}
	for i, known := range p.Zones {
		if known == z {
			return binary.AppendUvarint(b, uint64(i)+1)
		}
	}
	name, offset := at.In(z).Zone()
	b = binary.AppendUvarint(b, uint64(len(p.Zones))+1)
	return binary.AppendVarint(p.text(b, name), int64(offset))
}

// appendFloats appends numbers: first two bits each, which say whether a number
// is 0, the usual NaN, a whole number not too large, or written out behind them.
func appendFloats(b []byte, numbers ...float64) []byte {
	var kinds uint32
	nan := math.Float64bits(math.NaN())
	for i, x := range numbers {
		switch math.Float64bits(x) {
		case 0:
		case nan:
			kinds |= 1 << (2 * i)
		default:
			if n := int32(x); x != 0 && float64(n) == x {
				kinds |= 3 << (2 * i)
			} else {
				kinds |= 2 << (2 * i)
			}
		}
	}
	b = binary.AppendUvarint(b, uint64(kinds))
	for i, x := range numbers {
		switch kinds >> (2 * i) & 3 {
		case 2:
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
		case 3:
			b = binary.AppendVarint(b, int64(x))
		}
	}
	return b
}

func boolByte(is bool) byte {
	if is {
		return 1
	}
	return 0
}

// Unpack gives back the recording of bytes that Pack appended to nothing. The
// error wraps ErrPacked.
func (p *Packer) Unpack(data []byte) (Recording, error) {
	u := unpacker{rest: data, zones: p.Zones}
	n := u.count(1)
	u.texts = make([]string, n)
	for i := range u.texts {
		u.texts[i] = string(u.take(u.count(1)))
	}
	var r Recording
	r.FileID, r.Kind, r.Swimmer, r.Refused = u.text(), RecordingKind(u.text()), u.text(), u.text()
	r.LocalDate, r.Basis, r.HRSource, r.Content, r.Device = u.text(), study.CountBasis(u.text()), u.text(), u.text(), u.text()
	seconds, nanoseconds := u.varint(), u.uvarint()
	if z := u.zone(); z != nil {
		r.Start = time.Unix(seconds, int64(nanoseconds)).In(z)
	}
	r.Zone = u.zone()
	r.Created = u.varint()
	u.floats(&r.PoolM)
	r.Laps = make([]Lap, u.count(2))
	for i := range r.Laps {
		u.floats(&r.Laps[i].StartS, &r.Laps[i].DurationS)
		r.Laps[i].PoolLengths = int(u.varint())
	}
	r.Lengths = make([]Length, u.count(17))
	for i := range r.Lengths {
		u.length(&r.Lengths[i])
	}
	r.Rests = make([]Rest, u.count(2))
	for i := range r.Rests {
		r.Rests[i].Record = u.varint()
		u.floats(&r.Rests[i].StartS, &r.Rests[i].DurationS)
	}
	r.Samples = make([]Sample, u.count(3))
	for i := range r.Samples {
		r.Samples[i].Record = u.varint()
		r.Samples[i].First = u.bool()
		u.floats(&r.Samples[i].TimeS, &r.Samples[i].BPM)
	}
	if len(r.Laps) == 0 {
		r.Laps = nil
	}
	if len(r.Lengths) == 0 {
		r.Lengths = nil
	}
	if len(r.Rests) == 0 {
		r.Rests = nil
	}
	if len(r.Samples) == 0 {
		r.Samples = nil
	}
	if u.wrong == "" && len(u.rest) > 0 {
		u.wrong = fmt.Sprintf("%d bytes too many", len(u.rest))
	}
	if u.wrong != "" {
		return Recording{}, fmt.Errorf("%w: %s", ErrPacked, u.wrong)
	}
	return r, nil
}

// unpacker takes bytes apart. After the first fault it gives zeros.
type unpacker struct {
	rest  []byte
	texts []string
	zones []*time.Location
	wrong string
}

func (u *unpacker) fail(wrong string) {
	if u.wrong == "" {
		u.wrong = wrong
	}
	u.rest = nil
}

func (u *unpacker) uvarint() uint64 {
	v, n := binary.Uvarint(u.rest)
	if n <= 0 {
		u.fail("cut off")
		return 0
	}
	u.rest = u.rest[n:]
	return v
}

func (u *unpacker) varint() int64 {
	v, n := binary.Varint(u.rest)
	if n <= 0 {
		u.fail("cut off")
		return 0
	}
	u.rest = u.rest[n:]
	return v
}

// count reads how many things follow that take some bytes each at the least.
func (u *unpacker) count(each int) int {
	n := u.uvarint()
	if n > uint64(len(u.rest)/each) {
		u.fail("more is announced than is there")
		return 0
	}
	return int(n)
}

func (u *unpacker) take(n int) []byte {
	if n > len(u.rest) {
		u.fail("cut off")
		return nil
	}
	taken := u.rest[:n]
	u.rest = u.rest[n:]
	return taken
}

func (u *unpacker) bool() bool {
	b := u.take(1)
	return len(b) == 1 && b[0] != 0
}

func (u *unpacker) text() string {
	n := u.uvarint()
	if n >= uint64(len(u.texts)) {
		u.fail("a text that is not there")
		return ""
	}
	return u.texts[n]
}

func (u *unpacker) zone() *time.Location {
	n := u.uvarint()
	switch all := uint64(len(u.zones)); {
	case n == 0:
		return nil
	case n <= all:
		return u.zones[n-1]
	case n > all+1:
		u.fail("a time zone that is not there")
		return nil
	}
	name, offset := u.text(), u.varint()
	if offset <= -24*3600 || offset >= 24*3600 {
		u.fail("an offset of a day and more")
		return nil
	}
	return time.FixedZone(name, int(offset))
}

func (u *unpacker) floats(into ...*float64) {
	kinds := u.uvarint()
	for i, x := range into {
		switch kinds >> (2 * i) & 3 {
		case 0:
			*x = 0
		case 1:
			*x = math.NaN()
		case 2:
			if b := u.take(8); b != nil {
				*x = math.Float64frombits(binary.LittleEndian.Uint64(b))
			}
		default:
			*x = float64(u.varint())
		}
	}
}

func (u *unpacker) length(l *Length) {
	l.Record, l.Lap, l.Swim, l.Rep, l.Covers = u.varint(), int(u.varint()), int(u.varint()), int(u.varint()), int(u.varint())
	t := &l.Tags
	l.Kind, l.Set, l.Stroke, l.Basis, l.End.Source = RecordKind(u.text()), u.text(), u.text(), study.CountBasis(u.text()), u.text()
	t.Instruction, t.Kick, t.Equipment, t.Effort = u.text(), u.text(), u.text(), u.text()
	l.Drill = u.bool()
	u.floats(&l.StartS, &l.DurationS, &l.PoolM, &l.Strokes, &l.RestS, &l.WallTimeS, &l.End.HRBPM, &l.End.DelayS, &l.End.StepBPM)
	u.floats(&t.RateTargetSPM, &t.Breathing, &t.RPE, &t.LactateMMOL, &t.LactateBefore, &t.VO2)
}
