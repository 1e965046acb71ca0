package read

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"sync"
)

// Room is where a long sheet lays aside what does not have to be in memory: a file
// that nobody else reads or writes.
type Room interface {
	io.ReaderAt
	io.WriterAt
}

// blocks keeps several streams of bytes in one Room. Each is written before it is read.
type blocks struct {
	room Room
	each int // from how many bytes on a stream's buffer is written

	mu      sync.Mutex
	size    int64 // of all that is written
	streams []blockStream
}

type blockStream struct {
	buffer []byte
	places []blockPlace
}

type blockPlace struct {
	at    int64
	bytes int
}

// The buffers of all streams take bufferBytes together, each at most longestBlock.
const (
	bufferBytes  = 64 << 20
	longestBlock = 64 << 10
)

func newBlocks(room Room, streams int) *blocks {
	return &blocks{room: room, each: min(bufferBytes/streams, longestBlock), streams: make([]blockStream, streams)}
}

// write adds to the end of a stream. It is not for several goroutines.
func (b *blocks) write(stream int, encode func([]byte) []byte) error {
	s := &b.streams[stream]
	if s.buffer = encode(s.buffer); len(s.buffer) < b.each {
		return nil
	}
	return b.flush(stream)
}

// flush writes what a stream still has in memory.
func (b *blocks) flush(stream int) error {
	s := &b.streams[stream]
	if len(s.buffer) == 0 {
		return nil
	}
	at, err := b.put(s.buffer)
	s.places = append(s.places, blockPlace{at, len(s.buffer)})
	s.buffer = s.buffer[:0]
	return err
}

// put writes bytes and tells where they lie.
func (b *blocks) put(data []byte) (at int64, err error) {
	b.mu.Lock()
	at = b.size
	b.size += int64(len(data))
	b.mu.Unlock()
	if _, err := b.room.WriteAt(data, at); err != nil {
		return 0, fmt.Errorf("laying a part of a long sheet aside: %w", err)
	}
	return at, nil
}

// read gives a whole stream.
func (b *blocks) read(stream int) ([]byte, error) {
	total := 0
	for _, p := range b.streams[stream].places {
		total += p.bytes
	}
	data := make([]byte, 0, total)
	for _, p := range b.streams[stream].places {
		if err := b.at(p, data[len(data):len(data)+p.bytes]); err != nil {
			return nil, err
		}
		data = data[:len(data)+p.bytes]
	}
	return data, nil
}

func (b *blocks) at(p blockPlace, into []byte) error {
	if _, err := b.room.ReadAt(into, p.at); err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("reading a part of a long sheet that was laid aside: %w", err)
	}
	return nil
}

// The marks of a row that is laid aside.
const (
	rowOpens = 1 << iota
	rowCloses
	rowFollows
	rowIsLength
	rowFilled
)

// appendRow writes a row as sheetFront hands it on.
func appendRow(b []byte, r *sheetRow) []byte {
	marks := byte(0)
	for _, m := range []struct {
		is   bool
		mark byte
	}{{r.opens, rowOpens}, {r.closes, rowCloses}, {r.follows, rowFollows}, {r.kind == KindLength, rowIsLength}, {r.fills != nil, rowFilled}} {
		if m.is {
			marks |= m.mark
		}
	}
	view := 0
	for k := range r.section.layout.views {
		if r.view == &r.section.layout.views[k] {
			view = k
		}
	}
	b = append(b, marks)
	for _, n := range []int{int(r.record), r.row.line, r.section.number, view, r.named} {
		b = binary.AppendUvarint(b, uint64(n))
	}
	if f := r.fills; f != nil {
		b = binary.AppendUvarint(b, uint64(f.from))
		b = binary.AppendUvarint(b, uint64(len(f.names)))
		for _, name := range f.names {
			b = binary.AppendUvarint(b, uint64(slices.Index(fromAbove, name)))
			b = appendText(b, f.texts[name])
		}
	}
	b = binary.AppendUvarint(b, uint64(len(r.row.cells)))
	for _, cell := range r.row.cells {
		b = appendText(b, cell)
	}
	return b
}

func appendText(b []byte, text string) []byte {
	return append(binary.AppendUvarint(b, uint64(len(text))), text...)
}

// rowsAside gives rows that were laid aside back, in their order. Their cells are
// pieces of one text.
type rowsAside struct {
	front *sheetFront
	text  string
	short bool // more was asked for than there is
}

// errAside says that what was laid aside has changed, which no run of ours does.
var errAside = errors.New("what was laid aside of a long sheet has changed on the disk; run again")

// next gives the next row; false after the last.
func (a *rowsAside) next() (r sheetRow, ok bool, err error) {
	if a.text == "" {
		return r, false, nil
	}
	marks := a.text[0]
	a.text = a.text[1:]
	var numbers [5]int
	for i := range numbers {
		numbers[i] = a.number()
	}
	section, view, named := numbers[2], numbers[3], numbers[4]
	if numbers[0] < 0 || numbers[1] < 0 || section < 0 || section >= len(a.front.sections) || named < 0 || named >= len(a.front.names.all) {
		return r, false, errAside
	}
	r = sheetRow{record: int64(numbers[0]), section: a.front.sections[section], named: named, kind: KindRepeat,
		name: a.front.names.all[named].name, owner: a.front.names.all[named].owner,
		opens: marks&rowOpens != 0, closes: marks&rowCloses != 0, follows: marks&rowFollows != 0}
	if marks&rowIsLength != 0 {
		r.kind = KindLength
	}
	if view < 0 || view >= len(r.section.layout.views) {
		return r, false, errAside
	}
	r.view = &r.section.layout.views[view]
	r.row.line, r.row.part = numbers[1], r.view.part()
	if marks&rowFilled != 0 {
		r.fills = &rowFills{from: a.number(), texts: map[string]string{}}
		for range a.count() {
			if k := a.number(); k >= 0 && k < len(fromAbove) {
				r.fills.names = append(r.fills.names, fromAbove[k])
				r.fills.texts[fromAbove[k]] = a.cell()
			}
		}
	}
	cells := a.count()
	r.row.cells = make([]string, cells)
	for i := range r.row.cells {
		r.row.cells[i] = a.cell()
	}
	if a.short {
		return r, false, errAside
	}
	return r, true, nil
}

// number gives the next number, -1 where there is none.
func (a *rowsAside) number() int {
	var n uint64
	for i := 0; i < len(a.text) && i < binary.MaxVarintLen64; i++ {
		n |= uint64(a.text[i]&0x7f) << (7 * i)
		if a.text[i] < 0x80 {
			a.text = a.text[i+1:]
			if n > math.MaxInt32 {
				a.short = true
				return -1
			}
			return int(n)
		}
	}
	a.text, a.short = "", true
	return -1
}

// count gives the next number, of things that take a byte or more each.
func (a *rowsAside) count() int {
	n := a.number()
	if n < 0 || n > len(a.text) {
		a.short = true
		return 0
	}
	return n
}

func (a *rowsAside) cell() string {
	n := a.count()
	cell := a.text[:n]
	a.text = a.text[n:]
	return cell
}
