package run

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"strings"

	"lengthwise/pipeline/cache"
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
)

// head is what tells a recording from others.
type head struct {
	Holding normalise.Holding
	Refused string
	Sum     [sha256.Size]byte // of the packed recording
}

// held is what the runner keeps in mind of a recording: whose it is, what tells it
// from others, and where the rest lies.
type held struct {
	normalise.Holding
	Refused string
	sum     [sha256.Size]byte // of the packed recording
	place
	segment *cache.Segment // nil: it lies in the spill
	record  int
}

func headOf(r *read.Recording, packed []byte) head {
	return head{Holding: normalise.Holding{FileID: r.FileID, Part: r.Part, Content: r.Content, Device: strings.Clone(r.Device),
		Created: r.Created, Swimmer: strings.Clone(r.Swimmer)}, Refused: strings.Clone(r.Refused), Sum: sha256.Sum256(packed)}
}

func recordingKey(file cache.Key, n int) cache.Key {
	return cache.KeyOf("recording", string(file[:]), string(binary.AppendUvarint(nil, uint64(n))))
}

// keepOpen keeps a segment open for loading, until Close.
func (src *Sources) keepOpen(segment *cache.Segment) {
	src.mu.Lock()
	defer src.mu.Unlock()
	src.segments = append(src.segments, segment)
}

// reread reads a recording from its file again, of which what was kept is damaged,
// and lets go of the segment for the next run.
func (src *Sources) reread(h held) (read.Recording, error) {
	files, err := src.reader.study.Find() // archives are closed by now
	if err != nil {
		return read.Recording{}, err
	}
	defer files.Close()
	for _, found := range files.Found {
		if src.Registry.FileID(found.Rel) != h.FileID {
			continue
		}
		from, err := readInput(context.Background(), src.reader.study, found, src.Registry, src.reader.how)
		if err != nil {
			return read.Recording{}, err
		}
		var again []byte
		err = from.each(func(about *read.Recording, packed []byte) error {
			if about.Part == h.Part && about.Swimmer == h.Swimmer && sha256.Sum256(packed) == h.sum {
				again = slices.Clone(packed)
			}
			return nil
		})
		if err = errors.Join(err, from.close()); err != nil {
			return read.Recording{}, err
		}
		if again != nil {
			_ = h.segment.Discard() // some systems delete no open file: then the next run reads it again too
			packer := read.Packer{Zones: src.zones}
			return packer.Unpack(again)
		}
	}
	return read.Recording{}, errors.New("the file has changed since it was read, and what was kept of it is damaged; run again")
}

// load gives recordings back, in the order asked for, with what was found out about
// them since.
func (src *Sources) load(all []held) ([]read.Recording, error) {
	if len(all) == 0 || all[0].segment == nil {
		return src.packed.load(all)
	}
	out := make([]read.Recording, len(all))
	packer := read.Packer{Zones: src.zones}
	for i, h := range all {
		data, err := h.segment.Record(h.record)
		if err == nil {
			out[i], err = packer.Unpack(data)
		}
		if src.shelf.again(err) == nil && err != nil {
			out[i], err = src.reread(h)
		}
		if err != nil {
			return nil, fmt.Errorf("file %s, recording %d: %w", h.FileID, h.Part, err)
		}
		out[i].Refused, out[i].Part = h.Refused, h.Part
	}
	return out, nil
}
