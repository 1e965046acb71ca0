package cache

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// A segment is a row of records and then an index:
//
//	magic, record..., index entry..., trailer
//	record      payload
//	index entry key (32), offset (8), length (8), SHA-256 of key and payload (32)
//	trailer     offset of the index (8), entries (8), SHA-256 of index and both (32)
//
// Numbers are little-endian. The name is the SHA-256 of all before the trailer.
const (
	magic       = "LWSEG001"
	entrySize   = sha256.Size + 8 + 8 + sha256.Size
	trailerSize = 8 + 8 + sha256.Size
	suffix      = ".seg"
)

// Ref names a segment in a manifest.
type Ref struct {
	Stage  string `json:"stage"`
	Bucket int    `json:"bucket"`
	File   string `json:"file"`
}

// Writer writes one segment; one goroutine at a time.
type Writer struct {
	store  *Store
	ref    Ref
	file   *os.File
	out    *bufio.Writer
	sum    hash.Hash
	at     uint64
	index  []byte
	closed bool
}

// Create begins a segment of a stage and bucket.
func (s *Store) Create(stage string, bucket int) (*Writer, error) {
	f, err := os.CreateTemp(filepath.Join(s.dir, segmentFolder), fmt.Sprintf("%s-%02d%s", stage, bucket, unfinished))
	if err != nil {
		return nil, fmt.Errorf("cache: %w", err)
	}
	w := &Writer{store: s, ref: Ref{Stage: stage, Bucket: bucket}, file: f, out: bufio.NewWriterSize(f, 1<<16), sum: sha256.New()}
	return w, w.write([]byte(magic))
}

func (w *Writer) write(data []byte) error {
	w.sum.Write(data)
	w.at += uint64(len(data))
	if _, err := w.out.Write(data); err != nil {
		return fmt.Errorf("cache: %w", err)
	}
	return nil
}

// Append adds a record. A key may come several times: its records keep their
// order.
func (w *Writer) Append(key Key, payload []byte) error {
	sum := checksum(key, payload)
	w.index = append(w.index, key[:]...)
	w.index = binary.LittleEndian.AppendUint64(w.index, w.at)
	w.index = binary.LittleEndian.AppendUint64(w.index, uint64(len(payload)))
	w.index = append(w.index, sum[:]...)
	return w.write(payload)
}

// Close finishes the segment under its name. It counts from when a manifest names
// it.
func (w *Writer) Close() (Ref, error) {
	if w.closed {
		return Ref{}, errors.New("cache: segment closed twice")
	}
	w.closed = true
	begin := w.at
	err := w.write(w.index)
	name := fmt.Sprintf("%s-%02d-%s%s", w.ref.Stage, w.ref.Bucket, hex.EncodeToString(w.sum.Sum(nil)), suffix)
	trailer := binary.LittleEndian.AppendUint64(nil, begin)
	trailer = binary.LittleEndian.AppendUint64(trailer, uint64(len(w.index)/entrySize))
	sum := sha256.Sum256(append(bytes.Clone(w.index), trailer...))
	if err == nil {
		err = w.write(append(trailer, sum[:]...))
	}
	if err := errors.Join(err, w.out.Flush(), w.file.Close()); err != nil {
		return Ref{}, errors.Join(fmt.Errorf("cache: %w", err), os.Remove(w.file.Name()))
	}
	w.ref.File = name
	return w.ref, w.store.place(w.file.Name(), filepath.Join(segmentFolder, name))
}

// Abort drops a segment that was not closed; after Close it does nothing.
func (w *Writer) Abort() {
	if !w.closed {
		w.closed = true
		w.file.Close()
		os.Remove(w.file.Name())
	}
}

func checksum(key Key, payload []byte) [sha256.Size]byte {
	h := sha256.New()
	h.Write(key[:])
	h.Write(payload)
	return [sha256.Size]byte(h.Sum(nil))
}

// Segment is an open segment. Its index is in memory, its records are not.
// Several goroutines may read.
type Segment struct {
	ref     Ref
	file    *os.File
	entries []entry
	byKey   map[Key][]int
}

type entry struct {
	key            Key
	offset, length uint64
	sum            [sha256.Size]byte
}

// Open opens a segment and checks its index: ErrMissing where it is not there, a
// DamagedError where the index is not as written.
func (s *Store) Open(ref Ref) (*Segment, error) {
	if ref.File != filepath.Base(ref.File) || ref.File == "" {
		return nil, &DamagedError{ref.File, "a manifest names a file outside the folder"}
	}
	f, err := os.Open(filepath.Join(s.dir, segmentFolder, ref.File))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("cache file %s: %w", ref.File, ErrMissing)
	}
	if err != nil {
		return nil, fmt.Errorf("cache: %w", err)
	}
	g := &Segment{ref: ref, file: f, byKey: map[Key][]int{}}
	if why := g.readIndex(); why != "" {
		f.Close()
		return nil, &DamagedError{ref.File, why}
	}
	return g, nil
}

// readIndex says in words why there is no index to trust.
func (g *Segment) readIndex() string {
	info, err := g.file.Stat()
	if err != nil {
		return err.Error()
	}
	if info.Size() < int64(len(magic)+trailerSize) {
		return "cut short"
	}
	begins := make([]byte, len(magic))
	if _, err := g.file.ReadAt(begins, 0); err != nil {
		return err.Error()
	}
	if string(begins) != magic {
		return "it does not begin as a segment does"
	}
	end := uint64(info.Size()) - trailerSize
	trailer := make([]byte, trailerSize)
	if _, err := g.file.ReadAt(trailer, int64(end)); err != nil {
		return err.Error()
	}
	begin, n := binary.LittleEndian.Uint64(trailer), binary.LittleEndian.Uint64(trailer[8:])
	if begin < uint64(len(magic)) || begin > end || (end-begin)%entrySize != 0 || (end-begin)/entrySize != n {
		return "its index is not where it should be"
	}
	index := make([]byte, end-begin+16)
	if _, err := io.ReadFull(io.NewSectionReader(g.file, int64(begin), int64(len(index))), index); err != nil {
		return err.Error()
	}
	if sum := sha256.Sum256(index); !bytes.Equal(sum[:], trailer[16:]) {
		return "the checksum of its index is another one"
	}
	g.entries = make([]entry, n)
	for i := range g.entries {
		row := index[i*entrySize:]
		e := &g.entries[i]
		e.key = Key(row[:32])
		e.offset, e.length = binary.LittleEndian.Uint64(row[32:]), binary.LittleEndian.Uint64(row[40:])
		e.sum = [sha256.Size]byte(row[48:80])
		if e.offset > begin || e.length > begin-e.offset {
			return "a record lies outside"
		}
		g.byKey[e.key] = append(g.byKey[e.key], i)
	}
	return ""
}

// Len is the number of records.
func (g *Segment) Len() int { return len(g.entries) }

// Key is the key of record i, in the order of writing.
func (g *Segment) Key(i int) Key { return g.entries[i].key }

// Find gives the numbers of a key's records in the order of writing; nil when
// there are none.
func (g *Segment) Find(key Key) []int { return g.byKey[key] }

// Record reads record i and checks it: a DamagedError where it is not as written.
func (g *Segment) Record(i int) ([]byte, error) {
	e := &g.entries[i]
	payload := make([]byte, e.length)
	if _, err := g.file.ReadAt(payload, int64(e.offset)); err != nil && !errors.Is(err, io.EOF) {
		return nil, &DamagedError{g.ref.File, err.Error()}
	}
	if checksum(e.key, payload) != e.sum {
		return nil, &DamagedError{g.ref.File, fmt.Sprintf("the checksum of record %d is another one", i+1)}
	}
	return payload, nil
}

// Get reads the only record of a key, or the last of several; ErrMissing when
// there is none.
func (g *Segment) Get(key Key) ([]byte, error) {
	found := g.byKey[key]
	if len(found) == 0 {
		return nil, ErrMissing
	}
	return g.Record(found[len(found)-1])
}

// Discard takes a damaged segment out of the store, so that it is made again; it can
// be read until it is closed. One that is gone already is no error.
func (g *Segment) Discard() error {
	if err := os.Remove(g.file.Name()); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("cache: %w", err)
	}
	return nil
}

// Close closes the file.
func (g *Segment) Close() error { return g.file.Close() }
