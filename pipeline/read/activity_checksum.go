package read

import (
	"bytes"
	"encoding/binary"

	"github.com/muktihari/fit/proto"
)

// fitSums works out checksums: CRC-16 with polynomial 8005, reflected, from 0
// (the protocol's; CRC-16/ARC), a byte at a time.
type fitSums struct {
	table [256]uint16
	left  int64 // bytes that may still be summed in search of headers
}

// newFitSums is for a file of some bytes. Summing its sequences once takes two
// of eight times its bytes, finding lost ones a few more: what needs all of
// them was made to.
func newFitSums(size int64) *fitSums {
	s := fitSums{left: 8 * size}
	for i := range s.table {
		sum := uint16(i)
		for range 8 {
			sum = sum>>1 ^ 0xA001*(sum&1)
		}
		s.table[i] = sum
	}
	return &s
}

// add sums further bytes onto a sum.
func (s *fitSums) add(sum uint16, b []byte) uint16 {
	s.left -= int64(len(b))
	for _, v := range b {
		sum = sum>>8 ^ s.table[byte(sum)^v]
	}
	return sum
}

// holds accepts the two checksums in use: over header and messages, as the
// protocol has it, and over the messages alone.
func (s *fitSums) holds(data []byte, seq fitSequence) bool {
	stated := binary.LittleEndian.Uint16(data[seq.end:])
	return stated == s.add(0, data[seq.header:seq.end]) || stated == s.add(0, data[seq.body:seq.end])
}

// sequenceWithin is where, after a header and before a limit, another sequence
// begins; -1 when none does. Its header must have one of the two lengths in
// use and either a checksum of its own or a size and checksum that fit the
// bytes that follow. The search gives up when its bytes are spent.
func (s *fitSums) sequenceWithin(data []byte, header, limit int64) int64 {
	const mark = 8 // bytes of a header before ".FIT"
	size := int64(len(data))
	for at := header + fitShortestHeader; at < limit && s.left > 0; at++ {
		end := min(limit+mark+int64(len(proto.DataTypeFIT))-1, size)
		if at+mark > end {
			return -1
		}
		i := bytes.Index(data[at+mark:end], []byte(proto.DataTypeFIT))
		if i < 0 {
			return -1
		}
		at += int64(i)
		seq := fitSequence{header: at, body: at + int64(data[at])}
		if seq.body-at != fitShortestHeader && seq.body-at != fitLongerHeader || seq.body > size {
			continue
		}
		if seq.body-at == fitLongerHeader {
			own := binary.LittleEndian.Uint16(data[at+fitShortestHeader:])
			if own != 0 && own == s.add(0, data[at:at+fitShortestHeader]) {
				return at
			}
		}
		stated := int64(binary.LittleEndian.Uint32(data[at+4:]))
		if seq.end = seq.body + stated; stated > 0 && seq.end+fitChecksum <= size && s.holds(data, seq) {
			return at
		}
	}
	return -1
}

// endedBy is a sequence that ends where the next begins, or before it: at its
// stated end when that comes first, else before its checksum when that holds
// once the header states the right size.
func (s *fitSums) endedBy(data []byte, seq fitSequence, next int64) fitSequence {
	seq.body = min(seq.body, next)
	if seq.end > seq.body && seq.end <= next {
		return seq // the messages are whole, their checksum is not
	}
	seq.end = next - fitChecksum
	if seq.end > seq.body && s.left > 0 {
		header := bytes.Clone(data[seq.header:seq.body])
		binary.LittleEndian.PutUint32(header[4:], uint32(seq.end-seq.body))
		messages := data[seq.body:seq.end]
		sum := binary.LittleEndian.Uint16(data[seq.end:])
		if sum == s.add(s.add(0, header), messages) || sum == s.add(0, messages) {
			return seq
		}
	}
	seq.end, seq.cut = next, true
	return seq
}
