package activityfile

import (
	"encoding/binary"
	"testing"

	"github.com/muktihari/fit/kit/hash/crc16"
)

func crc(b []byte) uint16 {
	c := crc16.New()
	_, _ = c.Write(b)
	return c.Sum16()
}

// The protocol's file checksum covers header and data. Each file must satisfy the
// rule it claims to, and fail the rule it claims to break.
func TestChecksums(t *testing.T) {
	s, sw := sample(t)
	a := FromSession(s, sw, Options{NoRecords: true})
	for name, c := range map[string]struct {
		q             Quirks
		header        int
		overAll, data bool
	}{
		"clean":                   {Quirks{}, 14, true, true},
		"header checksum 0":       {Quirks{HeaderChecksumZero: true}, 14, true, false},
		"header of 12 bytes":      {Quirks{Header12: true}, 12, true, false},
		"0, checksum over data":   {Quirks{HeaderChecksumZero: true, ChecksumOverData: true}, 14, false, true},
		"12, checksum over data":  {Quirks{Header12: true, ChecksumOverData: true}, 12, false, true},
		"corrupt":                 {Quirks{CorruptChecksum: true}, 14, false, false},
		"clean, big-endian":       {Quirks{BigEndian: true}, 14, true, true},
		"clean, developer fields": {Quirks{DeveloperFields: true, UnknownMessages: true}, 14, true, true},
	} {
		b, err := Encode(a, c.q)
		if err != nil {
			t.Fatal(err)
		}
		end := len(b) - 2
		sum := binary.LittleEndian.Uint16(b[end:])
		if int(b[0]) != c.header || int(binary.LittleEndian.Uint32(b[4:]))+c.header != end {
			t.Errorf("%s: header of %d bytes, data size %d in a file of %d", name, b[0], binary.LittleEndian.Uint32(b[4:]), len(b))
		}
		if got := crc(b[:end]) == sum; got != c.overAll {
			t.Errorf("%s: checksum over header and data holds: %v", name, got)
		}
		if got := crc(b[c.header:end]) == sum; got != c.data {
			t.Errorf("%s: checksum over data holds: %v", name, got)
		}
		if _, err := decode(t, b, true); err != nil {
			t.Errorf("%s: not readable without checksum: %v", name, err)
		}
		// The library itself takes the sum over the data alone.
		if _, err := decode(t, b, false); (err == nil) != c.data {
			t.Errorf("%s: strict decoding gives %v", name, err)
		}
	}
}
