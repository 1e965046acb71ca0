package activityfile

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/muktihari/fit/encoder"
	"github.com/muktihari/fit/kit/hash/crc16"
	"github.com/muktihari/fit/proto"
)

// epoch is the protocol's: seconds count from 1989-12-31T00:00:00Z.
var epoch = time.Date(1989, 12, 31, 0, 0, 0, 0, time.UTC)

// ErrActivity marks an activity that cannot be written.
var ErrActivity = errors.New("activityfile: activity cannot be written")

// Write encodes the activity with the quirks given and writes it to w in one
// piece.
func Write(w io.Writer, a Activity, q Quirks) error {
	b, err := Encode(a, q)
	if err != nil {
		return err
	}
	_, err = w.Write(b)
	return err
}

// Encode returns the bytes that [Write] writes. It changes neither the activity
// nor anything it points to.
func Encode(a Activity, q Quirks) ([]byte, error) {
	if err := check(&a, &q); err != nil {
		return nil, err
	}
	a.StartUTC = a.StartUTC.UTC().Truncate(time.Second)
	if q.OneLap {
		a.Laps = oneLap(&a)
	}
	out, err := encodeSequence(activityMessages(&a, &q), &q)
	if err != nil {
		return nil, err
	}
	for _, block := range beatBlocks(a.Beats, q.BeatBlocks) {
		seq, err := encodeSequence(beatMessages(&a, block, &q), &q)
		if err != nil {
			return nil, err
		}
		out = append(out, seq...)
	}
	if q.TruncateAt > 0 && q.TruncateAt < len(out) {
		out = out[:q.TruncateAt]
	}
	return out, nil
}

// check refuses activities whose laps point outside the lengths.
func check(a *Activity, q *Quirks) error {
	if a.StartUTC.Before(epoch) {
		return fmt.Errorf("%w: it starts at %v, before the protocol's first second", ErrActivity, a.StartUTC)
	}
	for i, l := range a.Laps {
		if l.FirstLength < 0 || l.Lengths < 0 || l.FirstLength+l.Lengths > len(a.Lengths) {
			return fmt.Errorf("%w: lap %d owns lengths %d to %d of %d", ErrActivity,
				i, l.FirstLength, l.FirstLength+l.Lengths-1, len(a.Lengths))
		}
	}
	if q.ShortTimestamps && q.Order == Shuffled {
		return fmt.Errorf("%w: time stamps of 5 bits count on from message to message, which shuffled ones do not", ErrActivity)
	}
	if n := q.BeatsPerPacket; n < 0 || n > 8 || n%2 != 0 {
		return fmt.Errorf("%w: %d beats a packet; 12-bit times are packed in pairs, at most 8", ErrActivity, n)
	}
	return nil
}

func oneLap(a *Activity) []Lap {
	if len(a.Laps) == 0 {
		return nil
	}
	first, last := a.Laps[0], a.Laps[len(a.Laps)-1]
	lap := Lap{StartSeconds: first.StartSeconds, Lengths: len(a.Lengths)}
	lap.DurationSeconds = last.StartSeconds + last.DurationSeconds - first.StartSeconds
	for _, l := range a.Laps {
		lap.DistanceMetres += l.DistanceMetres
	}
	return []Lap{lap}
}

// encodeSequence encodes one header, data and checksum, then patches header and
// checksum as the quirks ask.
func encodeSequence(messages []proto.Message, q *Quirks) ([]byte, error) {
	header, locals := encoder.HeaderOptionNormal, byte(15)
	if q.ShortTimestamps {
		header, locals = encoder.HeaderOptionCompressedTimestamp, 3
	}
	if q.OneLocalType {
		locals = 0
	}
	options := []encoder.Option{
		encoder.WithHeaderOption(header, locals),
		encoder.WithMessageValidator(encoder.NewMessageValidator(encoder.ValidatorWithPreserveInvalidValues())),
	}
	if q.BigEndian {
		options = append(options, encoder.WithBigEndian())
	}
	if q.DeveloperFields {
		options = append(options, encoder.WithProtocolVersion(proto.V2))
	}
	var buf bytes.Buffer
	if err := encoder.New(&buf, options...).Encode(&proto.FIT{Messages: messages}); err != nil {
		return nil, fmt.Errorf("activityfile: encode: %w", err)
	}
	return patch(buf.Bytes(), q), nil
}

// patch rewrites header and checksum of one encoded sequence. The protocol's file
// checksum runs over header and data; with a valid header checksum in its place
// that equals the checksum over the data alone, otherwise it does not.
func patch(seq []byte, q *Quirks) []byte {
	const header = 14
	from := 0
	switch {
	case q.Header12:
		seq = append(seq[:12], seq[header:]...)
		seq[0] = 12
		from = 12
	case q.HeaderChecksumZero:
		seq[12], seq[13] = 0, 0
		from = header
	default:
		from = header
	}
	if (q.Header12 || q.HeaderChecksumZero) && !q.ChecksumOverData {
		from = 0
	}
	end := len(seq) - 2
	if size := len(seq) - int(seq[0]) - 2; q.StatedSizeShort > 0 && q.StatedSizeShort < size {
		binary.LittleEndian.PutUint32(seq[4:], uint32(size-q.StatedSizeShort))
	}
	sum := crc16.New()
	_, _ = sum.Write(seq[from:end])
	value := sum.Sum16()
	if q.CorruptChecksum {
		value ^= 0x5a5a
	}
	binary.LittleEndian.PutUint16(seq[end:], value)
	return seq
}
