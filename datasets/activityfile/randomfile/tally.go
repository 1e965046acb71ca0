package randomfile

import (
	"encoding/binary"
	"slices"
)

// Length is a length message. Numbers that are missing or marked as invalid
// are -1.
type Length struct {
	Sequence  int // in which of the chained sequences, from 0
	Active    bool
	Idle      bool
	Number    int64 // its message index
	StartS    int64 // seconds of the protocol's clock
	Millis    int64 // elapsed
	Strokes   int64
	Stroke    int64
	Timestamp int64
}

// Tally is what a file of whole sequences with true sizes holds.
type Tally struct {
	Sequences int
	Lengths   []Length // in order of the file
	Sessions  int
	Rates     int // heart rates of record messages, 0 and 255 among them
	Beats     int // heart rates of hr messages, padding among them
}

// Order is the lengths of a sequence by their message index.
func (t *Tally) Order(sequence int) []Length {
	var all []Length
	for _, l := range t.Lengths {
		if l.Sequence == sequence {
			all = append(all, l)
		}
	}
	slices.SortStableFunc(all, func(a, b Length) int { return int(a.Number - b.Number) })
	return all
}

// Of counts what bytes hold. It knows nothing of checksums; at the first byte
// that is no message it stops.
func Of(data []byte) Tally {
	var t Tally
	for len(data) >= 12 && string(data[8:12]) == ".FIT" {
		size := int(binary.LittleEndian.Uint32(data[4:]))
		from := int(data[0])
		to := min(from+size, len(data))
		t.messages(data[min(from, to):to])
		t.Sequences++
		data = data[min(to+2, len(data)):]
	}
	return t
}

type field struct{ number, size, base byte }

type definition struct {
	message   uint64
	order     binary.ByteOrder
	fields    []field
	developer []byte // definitions of developer fields, three bytes each; nil for none
	more      int    // bytes of developer fields
}

// define reads a definition message and returns what follows it.
func define(b []byte) (*definition, []byte) {
	head := b[0]
	d := &definition{order: binary.LittleEndian}
	if b[2] == 1 {
		d.order = binary.BigEndian
	}
	d.message = uint64(d.order.Uint16(b[3:]))
	n := int(b[5])
	for f := range slices.Chunk(b[6:6+3*n], 3) {
		d.fields = append(d.fields, field{f[0], f[1], f[2]})
	}
	b = b[6+3*n:]
	if head&0x20 == 0 {
		return d, b
	}
	n = int(b[0])
	d.developer = b[1 : 1+3*n]
	for f := range slices.Chunk(d.developer, 3) {
		d.more += int(f[1])
	}
	return d, b[1+3*n:]
}

func (t *Tally) messages(b []byte) {
	var defined [16]*definition
	for len(b) > 0 {
		head := b[0]
		if head&0xC0 == 0x40 {
			d, rest := define(b)
			b = rest
			defined[head&15] = d
			continue
		}
		local := head & 15
		if head&0x80 != 0 {
			local = head >> 5 & 3
		}
		d := defined[local]
		if d == nil {
			return
		}
		b = t.message(d, b[1:])
	}
}

// message counts one message and returns what follows it.
func (t *Tally) message(d *definition, b []byte) []byte {
	first := map[byte]int64{} // value of the first field of each number that has one
	raw := map[byte][]byte{}
	for _, f := range d.fields {
		value := b[:f.size]
		b = b[f.size:]
		if _, ok := raw[f.number]; !ok {
			raw[f.number] = value
		}
		if v, ok := number(value, f.base, d.order); ok {
			if _, had := first[f.number]; !had {
				first[f.number] = v
			}
		}
	}
	b = b[d.more:]
	get := func(n byte) int64 {
		if v, ok := first[n]; ok {
			return v
		}
		return -1
	}
	switch d.message {
	case 18:
		t.Sessions++
	case 20:
		if _, ok := raw[3]; ok {
			t.Rates++
		}
	case 101:
		kind := get(12)
		t.Lengths = append(t.Lengths, Length{Sequence: t.Sequences, Active: kind == 1, Idle: kind == 0, Number: get(254),
			StartS: get(2), Millis: get(3), Strokes: get(5), Stroke: get(7), Timestamp: get(253)})
	case 132:
		t.Beats += len(raw[6])
	}
	return b
}

// number is the first element of a field; false for a mark of invalid and for
// what is no whole number.
func number(b []byte, base byte, order binary.ByteOrder) (int64, bool) {
	switch base {
	case 0x00, 0x02, 0x0D:
		if len(b) >= 1 && b[0] != 0xFF {
			return int64(b[0]), true
		}
	case 0x84:
		if len(b) >= 2 && order.Uint16(b) != 0xFFFF {
			return int64(order.Uint16(b)), true
		}
	case 0x86:
		if len(b) >= 4 && order.Uint32(b) != 0xFFFFFFFF {
			return int64(order.Uint32(b)), true
		}
	}
	return 0, false
}
