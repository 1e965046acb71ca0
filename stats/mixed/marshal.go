package mixed

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"
)

// sumsFormat opens every marshalled Sums; the digit is the version.
const sumsFormat = "mixedsums1"

// MarshalBinary gives the sums as bytes, to be merged elsewhere. Groups are in
// the order of labels, so equal sums give equal bytes. Implements
// encoding.BinaryMarshaler; the error is always nil.
func (s *Sums) MarshalBinary() ([]byte, error) {
	b := []byte(sumsFormat)
	number := func(n int) { b = binary.AppendUvarint(b, uint64(n)) }
	text := func(t string) {
		number(len(t))
		b = append(b, t...)
	}
	for _, names := range [][]string{s.layout.Fixed, s.layout.Random} {
		number(len(names))
		for _, n := range names {
			text(n)
		}
	}
	for _, flag := range []bool{s.layout.Independent, s.layout.GroupIntercept} {
		if flag {
			b = append(b, 1)
		} else {
			b = append(b, 0)
		}
	}
	number(len(s.groups))
	for _, at := range s.order() {
		text(s.groups[at].unit)
		text(s.groups[at].group)
		number(s.counts[at])
		for _, v := range s.values[at*s.stride : (at+1)*s.stride] {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
	}
	return b, nil
}

// UnmarshalSums reads what MarshalBinary wrote. It fails with ErrShape when the
// bytes are cut short or not of this form, with ErrLayout or ErrNotFinite when
// they hold an impossible layout or number.
func UnmarshalSums(data []byte) (*Sums, error) {
	r := reader{rest: data}
	if string(r.take(len(sumsFormat))) != sumsFormat {
		return nil, fmt.Errorf("mixed: %w: not marshalled sums, or of another version", ErrShape)
	}
	l := Layout{Fixed: r.names(), Random: r.names(), Independent: r.flag(), GroupIntercept: r.flag()}
	if r.bad {
		return nil, r.failed(data)
	}
	s, err := NewSums(l)
	if err != nil {
		return nil, err
	}
	for range r.number() {
		unit, group, count := r.text(), r.text(), r.number()
		numbers := r.take(8 * s.stride)
		if r.bad || count < 1 || s.rows > math.MaxInt-count || group != "" && !l.GroupIntercept {
			return nil, r.failed(data)
		}
		at := s.place(unit, group)
		if s.counts[at] != 0 {
			return nil, fmt.Errorf("mixed: %w: group %q of unit %q comes twice", ErrShape, group, unit)
		}
		s.counts[at] = count
		s.rows += count
		for i := range s.stride {
			v := math.Float64frombits(binary.LittleEndian.Uint64(numbers[8*i:]))
			if notFinite(v) {
				return nil, fmt.Errorf("mixed: %w: sums of unit %q hold %v", ErrNotFinite, unit, v)
			}
			s.values[at*s.stride+i] = v
		}
	}
	if r.bad || len(r.rest) > 0 {
		return nil, r.failed(data)
	}
	return s, nil
}

// reader takes pieces off bytes; after one that is not there it is bad and
// gives zeros.
type reader struct {
	rest []byte
	bad  bool
}

func (r *reader) failed(data []byte) error {
	return fmt.Errorf("mixed: %w: marshalled sums are damaged at byte %d of %d", ErrShape, len(data)-len(r.rest), len(data))
}

func (r *reader) take(n int) []byte {
	if r.bad || n < 0 || n > len(r.rest) {
		r.bad = true
		return nil
	}
	out := r.rest[:n]
	r.rest = r.rest[n:]
	return out
}

func (r *reader) number() int {
	v, n := binary.Uvarint(r.rest)
	// Nothing counted here takes less than a byte, but for rows in a group.
	if r.bad || n <= 0 || v > math.MaxInt32 {
		r.bad = true
		return 0
	}
	r.rest = r.rest[n:]
	return int(v)
}

func (r *reader) text() string { return string(r.take(r.number())) }

func (r *reader) flag() bool {
	b := r.take(1)
	if r.bad || b[0] > 1 {
		r.bad = true
		return false
	}
	return b[0] == 1
}

func (r *reader) names() []string {
	var out []string
	for range r.number() {
		if r.bad {
			break
		}
		out = append(out, r.text())
	}
	return slices.Clip(out)
}
