package run

import (
	"errors"
	"fmt"
	"io"
	"os"
	"sync"

	"lengthwise/pipeline/read"
)

// spillFrom is how many bytes of packed recordings are held in memory; with
// more, all go into a temporary file. A small study never meets it.
const spillFrom = 16 << 20

// spill keeps packed recordings between the reading of files and the work on
// their swimmers, so that memory does not grow with what was read. Recordings
// may be added from several goroutines at once and, when all are there, loaded
// from several at once.
type spill struct {
	from int // spillFrom, but for tests

	mu     sync.Mutex
	packer read.Packer
	packed []byte   // all that was added, until there is a file; then a buffer
	file   *os.File // nil: all is in packed
	size   int64    // bytes added
}

// place is where a packed recording lies.
type place struct {
	at    int64
	bytes int
}

// add takes a packed recording.
func (s *spill) add(about *read.Recording, packed []byte) (held, error) {
	h := headOf(about, packed)
	s.mu.Lock()
	defer s.mu.Unlock()
	got := held{Holding: h.Holding, Refused: h.Refused, sum: h.Sum, place: place{s.size, len(packed)}}
	s.packed = append(s.packed, packed...)
	s.size += int64(len(packed))
	if len(s.packed) < s.from && (s.file == nil || len(s.packed) < 1<<20) {
		return got, nil
	}
	return got, s.flush()
}

// flush writes what is in memory to the file, which is made when it is needed.
func (s *spill) flush() (err error) {
	if s.file == nil {
		if s.file, err = hiddenFile(); err != nil {
			return err
		}
	}
	if _, err := s.file.WriteAt(s.packed, s.size-int64(len(s.packed))); err != nil {
		return fmt.Errorf("a temporary file for what was read (TMPDIR says where): %w", err)
	}
	s.packed = s.packed[:0]
	return nil
}

// load gives recordings back, in the order asked for, with what was found out
// about them since.
func (s *spill) load(all []held) ([]read.Recording, error) {
	out := make([]read.Recording, len(all))
	var buffer []byte
	for i, h := range all {
		data, err := s.bytes(h.place, &buffer)
		if err != nil {
			return nil, err
		}
		r, err := s.packer.Unpack(data)
		if err != nil {
			return nil, fmt.Errorf("file %s, recording %d: %w", h.FileID, h.Part, err)
		}
		r.Refused, r.Part = h.Refused, h.Part
		out[i] = r
	}
	return out, nil
}

func (s *spill) bytes(p place, buffer *[]byte) ([]byte, error) {
	s.mu.Lock()
	inMemory := s.size - int64(len(s.packed))
	if p.at >= inMemory {
		defer s.mu.Unlock()
		return append((*buffer)[:0], s.packed[p.at-inMemory:][:p.bytes]...), nil
	}
	s.mu.Unlock()
	if cap(*buffer) < p.bytes {
		*buffer = make([]byte, p.bytes)
	}
	data := (*buffer)[:p.bytes]
	if _, err := s.file.ReadAt(data, p.at); err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("the temporary file of what was read: %w", err)
	}
	return data, nil
}

// close lets go of everything.
func (s *spill) close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.packed = nil
	if s.file == nil {
		return nil
	}
	err := letGo(s.file)
	s.file = nil
	return err
}
