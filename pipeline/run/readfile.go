package run

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"strings"
	"time"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// longSheetFrom is from how many bytes on a sheet is read in parts: below, the hundred
// thousand rows that it holds at most take a few hundred megabytes.
const longSheetFrom = 8 << 20

// howToRead is what of the run the reading of a file depends on, though not its result.
type howToRead struct {
	workers  int // for one long sheet
	zones    []*time.Location
	longFrom int64
}

// readFrom is what one file gave.
type readFrom struct {
	read.File
	input Input
	seen  []identity.Seen

	zones []*time.Location
	long  *read.LongSheet // nil: File has the recordings
	room  *os.File        // where they lie
}

// each gives the recordings in order: what they are, and packed.
func (r *readFrom) each(take func(about *read.Recording, packed []byte) error) error {
	if r.long != nil {
		return r.long.Each(take)
	}
	packer := read.Packer{Zones: r.zones}
	var packed []byte
	for i := range r.Recordings {
		packed = packer.Pack(packed[:0], &r.Recordings[i])
		if err := take(&r.Recordings[i], packed); err != nil {
			return err
		}
	}
	return nil
}

// close lets go of the recordings.
func (r *readFrom) close() error {
	if r.room == nil {
		return nil
	}
	return letGo(r.room)
}

// letGoOfText copies what texts are kept of a file, which may be pieces of the
// text of all of it.
func (r *readFrom) letGoOfText() {
	for i := range r.seen {
		r.seen[i].Name = strings.Clone(r.seen[i].Name)
	}
	for i := range r.Entries {
		r.Entries[i].Detail = strings.Clone(r.Entries[i].Detail)
		r.Entries[i].Swimmer = strings.Clone(r.Entries[i].Swimmer)
	}
}

// readInput reads one file. What is wrong with its content is in its entries;
// an error is one of the file system, or the context's. The caller closes what it gets.
func readInput(ctx context.Context, s *study.Study, found study.Found, registry *identity.Registry, how howToRead) (*readFrom, error) {
	in := s.Inputs[found.Input]
	got := &readFrom{input: Input{FileID: registry.FileID(found.Rel), Kind: in.Kind}, zones: how.zones}
	if in.Kind == study.Sheet {
		long, err := found.LongerThan(how.longFrom)
		if err != nil {
			return nil, err
		}
		if long {
			return got, got.readLong(ctx, s, found, registry, how)
		}
	}
	data, err := found.Read()
	damaged := errors.Is(err, study.ErrDamaged)
	if damaged && (in.Kind != study.Activity || len(data) == 0) { // an activity file can be read as far as it goes
		got.File = unreadable(got.input.FileID, "the file is "+study.ErrDamaged.Error())
		return got, nil
	}
	if err != nil && !damaged {
		return nil, err
	}
	sum := sha256.Sum256(data)
	got.input.Bytes, got.input.SHA256 = int64(len(data)), hex.EncodeToString(sum[:])
	if err := got.read(data, in, s, found, registry); err != nil {
		got.File = unreadable(got.input.FileID, withoutNames(err))
	}
	if damaged {
		got.Entries = append(got.Entries, read.Entry{FileID: got.input.FileID, Kind: read.KindFile, Records: 1, Rule: read.RuleUnreadable, Action: read.Noted,
			Detail: "the file is " + study.ErrDamaged.Error() + ": what could be unpacked of it was read"})
	}
	return got, nil
}

// read reads a file's bytes by its kind.
func (r *readFrom) read(data []byte, in study.Input, s *study.Study, found study.Found, registry *identity.Registry) (err error) {
	switch in.Kind {
	case study.Activity:
		r.File, err = read.Activity(data, read.ActivitySource{
			FileID: r.input.FileID, Input: in, Zone: s.TimeZone, Content: r.input.SHA256, DeviceHash: registry.DeviceHash,
			Owner: func(device string) identity.Owner {
				owner := registry.ByFile(found.Swimmer, found.Rel, device)
				if owner.Swimmer != "" && owner.How == "path" {
					r.seen = append(r.seen, identity.Seen{Swimmer: owner.Swimmer, Name: found.Swimmer})
				}
				return owner
			},
		})
	case study.Sheet:
		r.File, r.seen, err = read.Sheet(data, sheetSource(registry, in, found, s, r.input.SHA256))
	case study.HeartRate:
		r.File, r.seen, err = read.HeartRateLog(data, sheetSource(registry, in, found, s, r.input.SHA256))
	default:
		err = fmt.Errorf("an input of a kind that is not read: %q", in.Kind)
	}
	return err
}

// readLong reads a sheet in parts.
func (r *readFrom) readLong(ctx context.Context, s *study.Study, found study.Found, registry *identity.Registry, how howToRead) error {
	damaged, err := r.hash(found)
	if damaged {
		r.File = unreadable(r.input.FileID, "the file is "+study.ErrDamaged.Error())
		return nil
	}
	if err != nil {
		return err
	}
	if r.room, err = hiddenFile(); err != nil {
		return err
	}
	r.long, err = read.LongSheetOf(ctx, found.Open, sheetSource(registry, s.Inputs[found.Input], found, s, r.input.SHA256),
		read.LongSheetOptions{Room: r.room, Workers: how.workers, Zones: how.zones})
	var not *read.NotTableError
	switch {
	case errors.As(err, &not):
		r.File = unreadable(r.input.FileID, withoutNames(err))
	case err != nil:
		return errors.Join(err, r.close())
	default:
		r.File, r.seen = r.long.File, r.long.Seen
	}
	// It was read several times, and must have been the same each time.
	was := r.input.SHA256
	if _, err := r.hash(found); err != nil || r.input.SHA256 != was {
		return errors.Join(fmt.Errorf("%s has changed while it was read; run again", found.Rel), err, r.close())
	}
	return nil
}

// hash takes the hash of a file without holding it.
func (r *readFrom) hash(found study.Found) (damaged bool, err error) {
	from, err := found.Open()
	if err != nil {
		return errors.Is(err, study.ErrDamaged), err
	}
	sum := sha256.New()
	r.input.Bytes, err = io.Copy(sum, from)
	if err = errors.Join(err, from.Close()); err != nil {
		return errors.Is(err, study.ErrDamaged), err
	}
	r.input.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return false, nil
}

// hiddenFile makes a temporary file that holds health data under pseudonyms: nobody
// else may read it, and where the system allows it has no name as long as it is there.
func hiddenFile() (*os.File, error) {
	file, err := os.CreateTemp("", "lengthwise-*")
	if err == nil && runtime.GOOS != "windows" {
		err = os.Remove(file.Name())
	}
	if err != nil {
		return nil, fmt.Errorf("a temporary file for what was read (TMPDIR says where): %w", err)
	}
	return file, nil
}

// letGo closes a file that hiddenFile made.
func letGo(file *os.File) error {
	err := file.Close()
	if runtime.GOOS == "windows" {
		err = errors.Join(err, os.Remove(file.Name()))
	}
	return err
}

// unreadable is a file of which nothing could be read, and why.
func unreadable(id, why string) read.File {
	return read.File{ID: id, Entries: []read.Entry{{FileID: id, Kind: read.KindFile, Records: 1,
		Rule: read.RuleUnreadable, Action: read.Excluded, Detail: why}}}
}
