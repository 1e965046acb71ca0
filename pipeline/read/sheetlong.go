package read

import (
	"cmp"
	"context"
	"hash/fnv"
	"slices"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"lengthwise/pipeline/identity"
)

// LongSheet is a sheet that is read in parts, each with the rows of some swimmers, so
// that memory does not grow with its length: what was read of it lies in a Room.
type LongSheet struct {
	File File // without recordings
	Seen []identity.Seen

	front  *sheetFront
	blocks *blocks
	first  []sheetRow        // the first rows, as parsed or left out, for words
	packed []packedRecording // in the order of their first rows
}

// packedRecording is where a recording lies.
type packedRecording struct {
	start int64     // the first record of its group
	about Recording // without what is in it
	place blockPlace
}

// LongSheetOptions says where and how a long sheet is read.
type LongSheetOptions struct {
	Room     Room
	Workers  int              // parts at once
	Zones    []*time.Location // of the Packer that unpacks the recordings
	PartRows int              // about so many rows a part, nought: rowsAPart
}

// rowsAPart is about how many rows of a long sheet are read at once by one worker: a
// row takes about two kilobytes until it is packed.
const rowsAPart = 1 << 14

// mostParts bounds the parts, each of which has a buffer while they are written.
const mostParts = 4096

// LongSheetOf reads a lane sheet as Sheet does and gives the same records, entries and
// recordings, but in parts, several at once. A sheet's habits (whether rests stand in
// the row before them, say) show only in all parts together: they are first taken to
// be the usual ones, and where the parts together show others, the parts are read
// again by those.
//
// The error is a *NotTableError, of the context, or of the bytes or the room.
func LongSheetOf(ctx context.Context, open Bytes, src SheetSource, o LongSheetOptions) (*LongSheet, error) {
	return readLong(ctx, open, src, o, 0)
}

// readLong reads a long sheet and keeps its first records as rows.
func readLong(ctx context.Context, open Bytes, src SheetSource, o LongSheetOptions, keep int) (*LongSheet, error) {
	in, err := longInput(open)
	if err != nil {
		return nil, err
	}
	front, err := newSheetFront(in, src)
	if err != nil {
		return nil, err
	}
	perPart := cmp.Or(o.PartRows, rowsAPart)
	parts := min(1+front.traits.rows/perPart, mostParts)
	l := &LongSheet{front: front, blocks: newBlocks(o.Room, parts)}
	partOf := []int{} // of a name by its number
	err = front.run(in, func(r *sheetRow) error {
		for len(partOf) <= r.named {
			named := front.names.all[len(partOf)]
			h := fnv.New32a()
			_, _ = h.Write([]byte(sheetOwnerKey(named.owner, named.name)))
			partOf = append(partOf, int(h.Sum32()%uint32(parts)))
		}
		if r.record&0xfff == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		return l.blocks.write(partOf[r.named], func(b []byte) []byte { return appendRow(b, r) })
	}, func(r *sheetRow) {
		if r.record <= int64(keep) {
			l.first = append(l.first, *r)
		}
	})
	if err != nil {
		return nil, err
	}
	left := len(l.first)
	for k := range parts {
		if err := l.blocks.flush(k); err != nil {
			return nil, err
		}
		l.blocks.streams[k].buffer = nil
	}
	var entries [][]sheetEntry
	habits := front.habitsFrom(sheetSigns{})
	for {
		var signs sheetSigns
		l.first = l.first[:left]
		if entries, signs, err = l.read(ctx, habits, o, int64(keep)); err != nil {
			return nil, err
		}
		shown := front.habitsFrom(signs)
		if shown == habits {
			break
		}
		habits = shown // each habit depends on those before it alone: this ends
	}
	front.noteHabits(habits)
	l.File = File{ID: src.FileID, Counts: front.file.Counts, Entries: inOrder(append([][]sheetEntry{front.entries}, entries...)...)}
	l.Seen = front.names.seen
	return l, nil
}

// read reads all parts by the given habits.
func (l *LongSheet) read(ctx context.Context, habits sheetHabits, o LongSheetOptions, keep int64) (entries [][]sheetEntry, signs sheetSigns, err error) {
	n := len(l.blocks.streams)
	entries = make([][]sheetEntry, n)
	recordings := make([][]packedRecording, n)
	var mu sync.Mutex
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(max(1, o.Workers))
	for k := range n {
		group.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			part, packed, err := l.part(k, habits, o.Zones, func(r *sheetRow) {
				if r.record <= keep {
					mu.Lock()
					defer mu.Unlock()
					l.first = append(l.first, *r)
				}
			})
			if err != nil {
				return err
			}
			entries[k], recordings[k] = part.entries, packed
			mu.Lock()
			defer mu.Unlock()
			signs = signs.and(part.signs)
			return nil
		})
	}
	if err := group.Wait(); err != nil {
		return nil, signs, err
	}
	l.packed = slices.Concat(recordings...)
	slices.SortFunc(l.packed, func(a, b packedRecording) int { return cmp.Compare(a.start, b.start) })
	for i := range l.packed {
		l.packed[i].about.Part = i + 1
	}
	return entries, signs, nil
}

// part reads one part, and lays its recordings aside.
func (l *LongSheet) part(k int, habits sheetHabits, zones []*time.Location, see func(*sheetRow)) (*sheetPart, []packedRecording, error) {
	data, err := l.blocks.read(k)
	if err != nil {
		return nil, nil, err
	}
	rows := rowsAside{front: l.front, text: string(data)}
	part := newSheetPart(l.front.sheetFacts)
	part.lost = l.front.lost
	for {
		r, ok, err := rows.next()
		if err != nil {
			return nil, nil, err
		}
		if !ok {
			break
		}
		part.take(&r)
		see(&r)
	}
	starts := part.build(&habits)
	part.groups, part.newest, part.grouped = nil, nil, nil
	packed := make([]packedRecording, len(starts))
	packer := Packer{Zones: zones}
	var all []byte
	for i := range part.file.Recordings {
		r := &part.file.Recordings[i]
		before := len(all)
		all = packer.Pack(all, r)
		packed[i] = packedRecording{start: starts[i], about: *r, place: blockPlace{int64(before), len(all) - before}}
		packed[i].about.Lengths = nil
	}
	part.file.Recordings = nil
	at, err := l.blocks.put(all)
	for i := range packed {
		packed[i].place.at += at
	}
	return part, packed, err
}

// Recordings is how many there are.
func (l *LongSheet) Recordings() int { return len(l.packed) }

// Each gives the recordings in order: what they are, without their lengths, and packed.
func (l *LongSheet) Each(take func(about *Recording, packed []byte) error) error {
	var data []byte
	for i := range l.packed {
		p := &l.packed[i]
		data = slices.Grow(data[:0], p.place.bytes)[:p.place.bytes]
		if err := l.blocks.at(p.place, data); err != nil {
			return err
		}
		if err := take(&p.about, data); err != nil {
			return err
		}
	}
	return nil
}
