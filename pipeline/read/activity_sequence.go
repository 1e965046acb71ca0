package read

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"github.com/muktihari/fit/decoder"
	"github.com/muktihari/fit/proto"
)

const (
	fitShortestHeader = 12 // bytes; later headers are longer, their first byte says how long
	fitLongerHeader   = 14 // of all known recorders since: with a checksum of the header
	fitChecksum       = 2  // bytes after the data
)

// fitSequence is one sequence of a file: header, messages, checksum. Offsets
// are bytes from the start of the file.
type fitSequence struct {
	header, body, end int64 // end is the first byte after the messages
	cut               bool  // the file ends before the sequence does
}

// fitDamage is something wrong with a file's bytes.
type fitDamage struct{ rule, detail string }

// fitNoSequence says why bytes are no sequence.
type fitNoSequence struct {
	offset int64
	reason string
}

// fitSplit finds the sequences of a file. Where something else stands
// between or after them it goes on at the next header. A sequence whose size or
// checksum is wrong ends where another begins within it.
func fitSplit(data []byte) (sequences []fitSequence, damage []fitDamage, bad *fitNoSequence) {
	switch {
	case len(data) == 0:
		return nil, nil, &fitNoSequence{0, "the file is empty"}
	case len(data) < fitShortestHeader:
		return nil, nil, &fitNoSequence{int64(len(data)), fmt.Sprintf("the file ends within its header of at least %d bytes", fitShortestHeader)}
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		return nil, nil, &fitNoSequence{0, "it is a zip archive: let its name end in .zip"}
	case bytes.HasPrefix(data, []byte{0x1F, 0x8B}):
		return nil, nil, &fitNoSequence{0, "it is packed by gzip: let its name end in .gz"}
	case !fitHeaderAt(data, 0):
		return nil, nil, &fitNoSequence{8, `the file does not say ".FIT" there`}
	}
	size := int64(len(data))
	sums := newFitSums(size)
	for at := int64(0); at < size; {
		if !fitHeaderAt(data, at) {
			next := fitNextHeader(data, at)
			damage = append(damage, fitDamage{"unreadable", fmt.Sprintf("bytes %d to %d are not part of any sequence and are skipped", at, next-1)})
			at = next
			continue
		}
		seq := fitSequence{header: at, body: min(at+int64(data[at]), size)}
		stated := int64(binary.LittleEndian.Uint32(data[at+4:]))
		seq.end = seq.body + stated
		whole := stated > 0 && seq.end+fitChecksum <= size
		if whole && sums.holds(data, seq) {
			sequences = append(sequences, seq)
			at = seq.end + fitChecksum
			continue
		}
		limit := size // of where another sequence may begin
		if whole {
			limit = seq.end + fitChecksum
		}
		if next := sums.sequenceWithin(data, at, limit); next >= 0 {
			detail := fmt.Sprintf("the next sequence begins at byte %d, before the end of the %d bytes of messages and the checksum that the header at byte %d states", next, stated, at)
			if stated == 0 {
				detail = fmt.Sprintf("the recorder never closed the sequence at byte %d; the next begins at byte %d", at, next)
			}
			damage = append(damage, fitDamage{"truncated", detail})
			sequences = append(sequences, sums.endedBy(data, seq, next))
			at = next
			continue
		}
		switch {
		case stated == 0 || seq.end > size:
			seq.end, seq.cut = size, true
			detail := fmt.Sprintf("the file ends at byte %d: %d of the %d bytes of messages that its header states", size, seq.end-seq.body, stated)
			if stated == 0 {
				detail = fmt.Sprintf("the recorder never closed the file, which ends at byte %d", size)
			}
			damage = append(damage, fitDamage{"truncated", detail})
		case !whole:
			damage = append(damage, fitDamage{"truncated", fmt.Sprintf("the file ends at byte %d, within its checksum", size)})
		default:
			if longer, next, ok := sums.longer(data, seq); ok {
				damage = append(damage, fitDamage{"stated-size", fmt.Sprintf("the header at byte %d states %d bytes of messages; they go on to byte %d, and all were read", at, stated, longer.end-1)})
				sequences = append(sequences, longer)
				at = next
				continue
			}
			damage = append(damage, fitDamage{"checksum", fmt.Sprintf("the checksum at byte %d does not belong to bytes %d to %d: what can be read of them is used", seq.end, at, seq.end-1)})
		}
		sequences = append(sequences, seq)
		at = min(seq.end+fitChecksum, size)
	}
	return sequences, damage, nil
}

// fitHeaderAt tells whether a sequence starts at a byte.
func fitHeaderAt(data []byte, at int64) bool {
	return at+fitShortestHeader <= int64(len(data)) && data[at] >= fitShortestHeader &&
		string(data[at+8:at+12]) == proto.DataTypeFIT
}

// fitNextHeader is where the next sequence starts after a byte, the file's
// end when there is none.
func fitNextHeader(data []byte, after int64) int64 {
	for at := after; ; {
		i := bytes.Index(data[at:], []byte(proto.DataTypeFIT))
		if i < 0 {
			return int64(len(data))
		}
		at += int64(i)
		if start := at - 8; start > after && fitHeaderAt(data, start) {
			return start
		}
		at++
	}
}

// fitDecoder hands the messages of sequences to a collector. It uses the
// library's lowest level, which cuts bytes into messages: fields that nobody
// wants are then never decoded, and a damaged definition costs no more than
// its own messages.
type fitDecoder struct {
	raw    *decoder.RawDecoder
	source fitReader
}

func newFitDecoder() *fitDecoder { return &fitDecoder{raw: decoder.NewRaw()} }

// decode reads one sequence as far as it goes.
func (d *fitDecoder) decode(data []byte, seq fitSequence, c *activityCollector) []fitDamage {
	body := data[seq.body:seq.end]
	// The library trusts the header's sizes, so it gets one that is true.
	header := [14]byte{0: 14, 8: '.', 9: 'F', 10: 'I', 11: 'T'}
	binary.LittleEndian.PutUint32(header[4:], uint32(len(body)))
	d.source = fitReader{header: header[:], body: body}

	at := seq.body
	c.startSequence()
	_, err := d.raw.Decode(&d.source, func(flag decoder.RawFlag, b []byte) error {
		switch flag {
		case decoder.RawFlagMesgDef:
			c.define(b)
			at += int64(len(b))
		case decoder.RawFlagMesgData:
			c.message(b, at)
			at += int64(len(b))
		}
		return nil
	})
	if at == seq.end || seq.cut && !errors.Is(err, decoder.ErrMesgDefMissing) {
		return nil // the end of the messages, or the cut that is already noted
	}
	reason := "a message is longer than what is left"
	if errors.Is(err, decoder.ErrMesgDefMissing) {
		reason = "a message of no defined kind"
	}
	return []fitDamage{{"unreadable", fmt.Sprintf("from byte %d to byte %d nothing could be read: %s", at, seq.end-1, reason)}}
}

// fitReader reads a header and a body without copying them together.
type fitReader struct{ header, body []byte }

func (r *fitReader) Read(p []byte) (int, error) {
	if len(p) == 0 {
		return 0, nil
	}
	if len(r.header) > 0 {
		n := copy(p, r.header)
		r.header = r.header[n:]
		return n, nil
	}
	if len(r.body) == 0 {
		return 0, io.EOF
	}
	n := copy(p, r.body)
	r.body = r.body[n:]
	return n, nil
}
