package read

import (
	"bytes"
	"encoding/binary"

	"github.com/muktihari/fit/proto"
)

// longer is a sequence whose header states fewer bytes of messages than follow
// it, with its true end and where to go on; it is false where nothing shows that. Behind the stated
// end there must be more messages: up to the next sequence or the file's end,
// with a checksum that holds once the end is right; else as far as definitions
// lead, without a break, from the first message over the stated end. Bytes that
// merely stand behind a damaged sequence are none of it.
func (s *fitSums) longer(data []byte, seq fitSequence) (longer fitSequence, next int64, ok bool) {
	size := int64(len(data))
	if seq.end+fitChecksum >= size || fitHeaderAt(data, seq.end+fitChecksum) {
		return seq, 0, false
	}
	limit := size
	if at := s.sequenceWithin(data, seq.end-fitShortestHeader, size); at >= 0 {
		limit = at
	}
	stated := seq.end
	if seq.end = limit - fitChecksum; seq.end > stated && s.left > 0 && (s.holds(data, seq) || s.holdsResized(data, seq)) {
		return seq, limit, true
	}
	w := fitWalk(data, seq.body, limit, stated)
	behind := data[stated:limit]
	filling := len(bytes.TrimLeft(behind, string(behind[:1]))) == 0
	switch {
	case w.end <= stated, w.through && (w.undefined || filling):
		return seq, 0, false
	case w.undefined:
		seq.end = w.end
		return seq, w.end, true
	case w.end != limit-fitChecksum: // no checksum, or cut within a message
		seq.end, seq.cut = limit, true
	}
	return seq, limit, true
}

// holdsResized accepts a checksum over the header that the recorder would have
// written with the right size.
func (s *fitSums) holdsResized(data []byte, seq fitSequence) bool {
	header := bytes.Clone(data[seq.header:seq.body])
	binary.LittleEndian.PutUint32(header[4:], uint32(seq.end-seq.body))
	return binary.LittleEndian.Uint16(data[seq.end:]) == s.add(s.add(0, header), data[seq.body:seq.end])
}

// fitWalked is how far messages follow each other.
type fitWalked struct {
	end       int64 // of the last whole message, or before a checksum at the limit
	through   bool  // a message ends at the byte that was asked for
	undefined bool  // what follows is a message of no defined kind, not a cut one
}

// fitWalk follows messages from a byte on to a limit. Nothing but their lengths
// is looked at.
func fitWalk(data []byte, from, limit, by int64) (w fitWalked) {
	var lengths [proto.LocalMesgNumMask + 1]int64 // of a data message, by local number; 0: not defined
	at := from
	for at < limit {
		w.end = at
		w.through = w.through || at == by
		if at == limit-fitChecksum && at > by {
			return w // the next two bytes are the checksum
		}
		header := data[at]
		if header&(proto.MesgCompressedHeaderMask|proto.MesgDefinitionMask) != proto.MesgDefinitionMask {
			n := lengths[proto.LocalMesgNum(header)]
			if n == 0 {
				w.undefined = true
				return w
			}
			if at += n; at > limit {
				return w
			}
			continue
		}
		total, end := int64(1), at+6
		sizes := func(n int64) bool { // of n field definitions
			if end+3*n > limit {
				return false
			}
			for i := range n {
				total += int64(data[end+3*i+1])
			}
			end += 3 * n
			return true
		}
		if end > limit {
			return w
		}
		if data[at+2] > proto.BigEndian {
			w.undefined = true // no definition has such a byte order
			return w
		}
		if !sizes(int64(data[at+5])) {
			return w
		}
		if header&proto.DevDataMask != 0 {
			if end++; end > limit || !sizes(int64(data[end-1])) {
				return w
			}
		}
		lengths[header&proto.LocalMesgNumMask] = total
		at = end
	}
	w.end = at
	return w
}
