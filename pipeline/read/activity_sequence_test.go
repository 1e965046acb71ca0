package read

import (
	"bytes"
	"encoding/binary"
	"slices"
	"testing"
	"time"
)

// fitTestLengths is a swim of some lengths of 30 s.
func fitTestLengths(serial, start uint32, n int) *fitTest {
	f := &fitTest{}
	f.fileID(serial)
	for i := range uint32(n) {
		f.record(start+30*i, 120).length(uint16(i), start+30*i, 30, 12)
	}
	return f.lap(start, float64(30*n), 0, uint16(n)).pool(start, float64(30*n), uint16(n))
}

// fitTestResized states another size in a sequence's header, and nothing else.
func fitTestResized(data []byte, by int32) []byte {
	data = bytes.Clone(data)
	size := binary.LittleEndian.Uint32(data[4:])
	binary.LittleEndian.PutUint32(data[4:], uint32(int32(size)+by))
	return data
}

// A size or checksum that is wrong costs no activity that follows.
func TestActivitySequencesBehindDamage(t *testing.T) {
	const many, more = 99, 92
	secondStart := fitTestStart + 86400
	start := time.Unix(int64(secondStart)+fitEpoch, 0)
	long := fitTestLengths(1, fitTestStart, many)
	second := fitTestLengths(2, secondStart, more)
	whole, short := long.close(fitTestGood), long.close(fitTestShort)
	size := int32(len(long.body))
	cut := func(data []byte) []byte { return data[:2*len(data)/3] }
	truncated := []string{"file noted truncated"}
	unsure := []string{"file noted truncated", "file noted no-session", "file noted no-pool"}
	for _, how := range []fitTestHeader{fitTestGood, fitTestNoHeader, fitTestShort, fitTestDataOnly} {
		next := second.close(how)
		for _, c := range []struct {
			name     string
			data     []byte
			from, to int // lengths of the first
			rules    []string
		}{
			{"cut at two thirds", cut(whole), 62, 68, unsure},
			{"cut at two thirds, short header", cut(short), 62, 68, unsure},
			{"cut at a tenth", whole[:len(whole)/10], 6, 10, unsure},
			{"both bytes of the checksum missing", whole[:len(whole)-2], many, many, truncated},
			{"one byte of the checksum missing", whole[:len(whole)-1], many, many, truncated},
			{"stated size 500 bytes too long", fitTestResized(whole, 500), many, many, truncated},
			{"stated size 500 bytes too long, short header", fitTestResized(short, 500), many, many, truncated},
			{"stated size beyond the end", fitTestResized(whole, 1<<30), many, many, truncated},
			{"size 0, closed", fitTestResized(whole, -size), many, many, truncated},
			{"never closed", long.close(fitTestNotClosed), many, many, truncated},
		} {
			file := activityRead(t, append(bytes.Clone(c.data), next...))
			activitySound(t, file)
			if len(file.Recordings) != 2 {
				t.Errorf("%s, header %d: %d recordings, entries %v", c.name, how, len(file.Recordings), activityRules(file))
				continue
			}
			a, b := file.Recordings[0], file.Recordings[1]
			if n := len(a.Lengths); n < c.from || n > c.to || !a.Start.Equal(time.Unix(int64(fitTestStart)+fitEpoch, 0)) || a.Device != "hash-of-1" {
				t.Errorf("%s, header %d: first has %d lengths and starts %v", c.name, how, n, a.Start)
			}
			if len(b.Lengths) != more || len(b.Samples) != more || !b.Start.Equal(start) || b.Device != "hash-of-2" {
				t.Errorf("%s, header %d: second has %d lengths and starts %v", c.name, how, len(b.Lengths), b.Start)
			}
			if got := activityRules(file); !slices.Equal(got, c.rules) {
				t.Errorf("%s, header %d: entries %v, want %v", c.name, how, got, c.rules)
			}
		}
	}
}

// Three in a row, all cut: a header's own checksum is enough to find the next.
func TestActivitySequencesAllCut(t *testing.T) {
	var data []byte
	for i := range uint32(3) {
		whole := fitTestLengths(i+1, fitTestStart+86400*i, 30).close(fitTestGood)
		data = append(data, whole[:len(whole)/2]...)
	}
	file := activityRead(t, data)
	if len(file.Recordings) != 3 {
		t.Fatalf("%d recordings; entries %v", len(file.Recordings), activityRules(file))
	}
	for i, r := range file.Recordings {
		if n := len(r.Lengths); n < 13 || n > 15 || r.Lengths[0].StartS != 0 {
			t.Errorf("recording %d has %d lengths", i, n)
		}
	}
}

// Bytes that only look like a header end no sequence.
func TestActivityNoSequenceWithin(t *testing.T) {
	for name, text := range map[string]string{
		"the mark alone":              "..........FIT.............................",
		"a header without a checksum": "\x0e\x20\x00\x00\x05\x00\x00\x00.FIT\x00\x00 and what follows",
		"a header of another length":  "\x10\x20\x00\x00\x05\x00\x00\x00.FIT\x00\x00 and what follows",
	} {
		f := &fitTest{}
		f.fileID(1).message(1000, f.text(1, text)).length(0, fitTestStart, 30, 12).pool(fitTestStart, 30, 1)
		file := activityRead(t, f.close(fitTestWrong))
		if r := activityOne(t, file); len(r.Lengths) != 1 || !slices.Equal(activityRules(file), []string{"file noted checksum"}) {
			t.Errorf("%s: %d lengths, entries %v", name, len(r.Lengths), activityRules(file))
		}
	}
	// Where the checksum holds, nothing is looked for, not even a whole file.
	f, inner := &fitTest{}, &fitTest{}
	inner.fileID(2)
	f.fileID(1).message(1000, f.text(1, string(inner.close(fitTestGood)))).length(0, fitTestStart, 30, 12).pool(fitTestStart, 30, 1)
	if file := activityRead(t, f.close(fitTestGood)); len(activityOne(t, file).Lengths) != 1 || len(file.Entries) != 0 {
		t.Errorf("entries %v", activityRules(file))
	}
}

// The search for headers sums no more bytes than its allowance and one
// sequence more, whatever the file holds.
func TestActivitySequenceSearchIsBounded(t *testing.T) {
	const size = 1 << 18
	liars := make([]byte, 0, size) // headers that all claim the rest of the file
	claims := make([]byte, 0, size)
	for len(liars)+16 < size {
		header := append([]byte{14, 0x20, 0, 0}, 0, 0, 0, 0, '.', 'F', 'I', 'T', 0, 0)
		binary.LittleEndian.PutUint32(header[4:], uint32(size-len(liars)-32))
		liars = append(liars, header...)
		claims = append(claims, binary.LittleEndian.AppendUint16(header[:12:12], fitTestCRC(header[:12]))...)
	}
	for name, data := range map[string][]byte{"without a checksum": liars, "with a checksum of their own": claims} {
		data = append(data, make([]byte, size-len(data))...)
		sums := newFitSums(size)
		found := sums.sequenceWithin(data, 0, size)
		if sums.left < -2*size {
			t.Errorf("%s: %d bytes beyond the allowance", name, -sums.left)
		}
		if (found >= 0) != (name != "without a checksum") {
			t.Errorf("%s: found at %d", name, found)
		}
		sequences, _, bad := fitSplit(data)
		if bad != nil || len(sequences) == 0 || len(sequences) > 100 {
			t.Errorf("%s: %d sequences, %v", name, len(sequences), bad)
		}
	}
}
