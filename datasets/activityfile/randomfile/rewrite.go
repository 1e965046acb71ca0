package randomfile

import (
	"encoding/binary"
	"math/rand/v2"
	"slices"
	"sort"
)

// Rewrite says the same in other bytes, as another recorder might: each message
// in the byte order and under the local number that chance gives it, its fields
// in another order, definitions repeated or new in mid-file, messages and fields
// between them that no profile knows. The file must be whole and its sizes true.
func Rewrite(data []byte, seed uint64) []byte {
	r := random{rand.New(rand.NewPCG(seed, 102))}
	var out []byte
	for len(data) >= 12 && string(data[8:12]) == ".FIT" {
		from := int(data[0])
		to := from + int(binary.LittleEndian.Uint32(data[4:]))
		w := rewriter{random: r}
		w.messages(data[from:to])
		out = append(out, closed(w.out, r.chance(0.5))...)
		data = data[to+2:]
	}
	return out
}

// closed puts header and checksum around messages.
func closed(messages []byte, short bool) []byte {
	out := []byte{14, 0x20, 0x54, 0x08}
	if short {
		out[0] = 12
	}
	out = binary.LittleEndian.AppendUint32(out, uint32(len(messages)))
	out = append(out, ".FIT"...)
	if !short {
		out = binary.LittleEndian.AppendUint16(out, checksum(out))
	}
	out = append(out, messages...)
	return binary.LittleEndian.AppendUint16(out, checksum(out))
}

// checksum is the protocol's CRC-16, bit by bit.
func checksum(b []byte) uint16 {
	sum := uint16(0)
	for _, v := range b {
		sum ^= uint16(v)
		for range 8 {
			sum = sum>>1 ^ 0xA001*(sum&1)
		}
	}
	return sum
}

type rewriter struct {
	random
	out     []byte
	defined [16]string // definitions in force in what is written
}

// part is a field's definition and bytes.
type part struct {
	field
	value []byte
}

func (w *rewriter) messages(b []byte) {
	var defined [16]*definition
	for len(b) > 0 {
		head := b[0]
		if head&0xC0 == 0x40 {
			d, rest := define(b)
			defined[head&15], b = d, rest
			continue
		}
		local := head & 15
		if head&0x80 != 0 {
			local = head >> 5 & 3
		}
		d := defined[local]
		b = b[1:]
		parts := make([]part, 0, len(d.fields)+1)
		for _, f := range d.fields {
			parts = append(parts, part{f, b[:f.size]})
			b = b[f.size:]
		}
		developer := b[:d.more]
		b = b[d.more:]
		if w.chance(0.05) {
			w.message(0x80, 0xFF20, []part{{field{1, 3, 0x0D}, []byte{1, 2, 3}}}, false, nil, nil)
		}
		w.message(head, d.message, parts, d.order == binary.BigEndian, d.developer, developer)
	}
}

// message writes one message; head is that of the data message in the original.
func (w *rewriter) message(head byte, number uint64, parts []part, big bool, developer, values []byte) {
	parts = slices.Clone(parts)
	if w.chance(0.1) {
		parts = append(parts, part{field{200, 2, 0x84}, []byte{7, 7}})
	}
	at := make([]int, len(parts)) // fields of one number keep their order
	for i := range at {
		at[i] = w.IntN(1 << 20)
	}
	seen := map[byte]int{}
	for i, p := range parts {
		if had, ok := seen[p.number]; ok {
			at[i] = max(at[i], at[had]+1)
		}
		seen[p.number] = i
	}
	order := make([]int, len(parts))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return at[order[i]] < at[order[j]] })

	local, compressed := byte(w.IntN(16)), head&0x80 != 0 && number != 0xFF20
	if compressed {
		local &= 3
	}
	toBig := w.chance(0.5)
	def := []byte{0x40 | local, 0, 0, byte(number), byte(number >> 8), byte(len(parts))}
	if toBig {
		def[2], def[3], def[4] = 1, def[4], def[3]
	}
	var body []byte
	for _, i := range order {
		p := parts[i]
		def = append(def, p.number, p.size, p.base)
		body = append(body, turned(p, big != toBig)...)
	}
	if developer != nil {
		def[0] |= 0x20
		def = append(append(def, byte(len(developer)/3)), developer...)
	}
	if w.defined[local] != string(def) || w.chance(0.05) {
		w.defined[local] = string(def)
		w.out = append(w.out, def...)
	}
	first := local
	if compressed {
		first = 0x80 | local<<5 | head&31
	}
	w.out = append(append(append(w.out, first), body...), values...)
}

// turned is a field's bytes in the other byte order, element by element.
func turned(p part, turn bool) []byte {
	width := map[byte]int{0x83: 2, 0x84: 2, 0x8B: 2, 0x85: 4, 0x86: 4, 0x88: 4, 0x8C: 4, 0x89: 8, 0x8E: 8, 0x8F: 8, 0x90: 8}[p.base]
	if !turn || width == 0 {
		return p.value
	}
	var out []byte
	for v := p.value; len(v) >= width; v = v[width:] {
		element := slices.Clone(v[:width])
		slices.Reverse(element)
		out = append(out, element...)
	}
	return append(out, p.value[len(out):]...)
}
