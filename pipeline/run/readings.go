package run

import (
	"context"
	"errors"

	"lengthwise/pipeline/cache"
	"lengthwise/pipeline/cache/wire"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// reading is what is kept of a file that was read. It holds names, and leaves the
// private folder never.
type reading struct {
	ID      string
	Counts  read.Counts
	Entries []read.Entry
	Input   Input
	Seen    []identity.Seen
	Heads   []head
}

// reader reads a study's files, or finds what reading them gave before.
type reader struct {
	study *study.Study
	src   *Sources
	shelf *shelf
	codec *wire.Codec[reading]
	known map[string]madeFile // hashes of files by path, for the stamps that they had
	turn  turn
	who   string // see whoIsWho
	how   howToRead

	now map[string]surveyed // the files on disk that inputs lie in, by relative path
}

// bucket reads the files of one bucket, given by their numbers.
func (r *reader) bucket(ctx context.Context, number int, files []int, seen [][]identity.Seen, done func()) error {
	if r.shelf.store == nil {
		for _, i := range files {
			from, got, err := r.read(ctx, i)
			if err != nil {
				return err
			}
			r.take(i, got, seen)
			err = from.each(func(about *read.Recording, packed []byte) error {
				h, err := r.src.packed.add(about, packed)
				r.src.held[i] = append(r.src.held[i], h)
				return err
			})
			if err = errors.Join(err, from.close()); err != nil {
				return err
			}
			done()
		}
		return nil
	}
	old, err := r.shelf.open(readStage, number, byVersion(readStage))
	if err != nil {
		return err
	}
	if len(files) == 0 {
		if old != nil {
			return old.Close() // the manifest goes when the run is done
		}
		return nil
	}
	keys, before := make([]cache.Key, len(files)), make([]*reading, len(files))
	all := old != nil
	records := 0
	for k, i := range files {
		keys[k] = r.key(i)
		if before[k] = r.before(old, keys[k]); before[k] == nil {
			all = false
		} else {
			records += 1 + len(before[k].Heads)
		}
	}
	if all && records+1 == old.Len() { // and the stamps
		for k, i := range files {
			r.take(i, before[k], seen)
			r.place(i, before[k], old, keys[k])
			done()
		}
		r.src.keepOpen(old)
		return nil
	}
	if r.turn.phase == LookPhase {
		return r.look(number, old, files, keys, before, seen)
	}
	if !r.turn.makes(readStage, number) {
		r.turn.miss(readStage, number)
		if old != nil {
			return old.Close()
		}
		return nil
	}
	fresh, made, err := r.write(ctx, number, files, keys, before, old, done)
	if old != nil {
		err = errors.Join(err, old.Close())
	}
	if err != nil {
		return err
	}
	for k, i := range files {
		r.take(i, made[k], seen)
		r.place(i, made[k], fresh, keys[k])
	}
	r.src.keepOpen(fresh)
	return nil
}

// look takes what was read before, and notes which files would be read.
func (r *reader) look(number int, old *cache.Segment, files []int, keys []cache.Key, before []*reading, seen [][]identity.Seen) error {
	why := whyWho
	if old == nil {
		why = r.shelf.why(readStage, number, byVersion(readStage))
	}
	for k, i := range files {
		if before[k] == nil {
			rel := r.src.Found[i].Rel
			onDisk := holder(rel, r.now)
			if was, known := r.known[onDisk]; !known || was.SHA256 != r.now[onDisk].sum {
				r.turn.lacks.file(rel, whyFile)
			} else {
				r.turn.lacks.file(rel, why)
			}
			continue
		}
		r.take(i, before[k], seen)
		r.place(i, before[k], old, keys[k])
	}
	if old == nil {
		return nil
	}
	r.src.keepOpen(old)
	return nil
}

// write makes a bucket's segment anew, of what was read before and is still good and
// what is read now.
func (r *reader) write(ctx context.Context, number int, files []int, keys []cache.Key, before []*reading, old *cache.Segment, done func()) (*cache.Segment, []*reading, error) {
	w, err := r.shelf.store.Create(string(readStage), number)
	if err != nil {
		return nil, nil, err
	}
	defer w.Abort()
	made := make([]*reading, len(files))
	for k, i := range files {
		if before[k] != nil {
			if made[k], err = before[k], r.copy(w, old, keys[k], before[k]); err != nil && r.shelf.again(err) != nil {
				return nil, nil, err
			}
			if err == nil {
				done()
				continue
			}
			// Damaged: it is read again, and what was copied of it is passed over.
			keys[k] = cache.KeyOf("again", string(keys[k][:]))
		}
		from, got, err := r.read(ctx, i)
		if err != nil {
			return nil, nil, err
		}
		if !r.unchanged(i, got) { // since its hash was taken: it must not be found under it
			keys[k] = cache.KeyOf("changed", string(keys[k][:]))
		}
		err = from.each(func(about *read.Recording, packed []byte) error {
			got.Heads = append(got.Heads, headOf(about, packed))
			return w.Append(recordingKey(keys[k], len(got.Heads)-1), packed)
		})
		if err = errors.Join(err, from.close()); err != nil {
			return nil, nil, err
		}
		if err := w.Append(keys[k], r.codec.Append(nil, got)); err != nil {
			return nil, nil, err
		}
		made[k] = got
		done()
	}
	if err := r.leaveStamps(w, files); err != nil {
		return nil, nil, err
	}
	ref, err := w.Close()
	if err != nil {
		return nil, nil, err
	}
	m := cache.Manifest{For: byVersion(readStage), Segments: []cache.Ref{ref}}
	if err := r.shelf.store.Publish(manifestOf(readStage, number), m); err != nil {
		return nil, nil, err
	}
	segment, err := r.shelf.store.Open(ref)
	return segment, made, err
}

// copy carries a reading and its recordings over to another segment.
func (r *reader) copy(w *cache.Writer, old *cache.Segment, key cache.Key, was *reading) error {
	for n := -1; n < len(was.Heads); n++ {
		at := key
		if n >= 0 {
			at = recordingKey(key, n)
		}
		data, err := old.Get(at)
		if err != nil {
			return err
		}
		if err := w.Append(at, data); err != nil {
			return err
		}
	}
	return nil
}

// key is what a file's reading follows from.
func (r *reader) key(i int) cache.Key {
	found := r.src.Found[i]
	return readKey(r.study, found, r.now[holder(found.Rel, r.now)].sum, r.who)
}

// before is what reading a file gave before; nil where it cannot be told.
func (r *reader) before(old *cache.Segment, key cache.Key) *reading {
	if old == nil {
		return nil
	}
	data, err := old.Get(key)
	if err != nil {
		return nil
	}
	got, err := r.codec.Decode(data)
	if err != nil {
		return nil
	}
	for n := range got.Heads {
		if len(old.Find(recordingKey(key, n))) == 0 {
			return nil
		}
	}
	return &got
}

// read reads a file now. The caller closes what it gets.
func (r *reader) read(ctx context.Context, i int) (*readFrom, *reading, error) {
	from, err := readInput(ctx, r.study, r.src.Found[i], r.src.Registry, r.how)
	if err != nil {
		return nil, nil, err
	}
	from.letGoOfText()
	return from, &reading{ID: from.ID, Counts: from.Counts, Entries: from.Entries, Input: from.input, Seen: from.seen}, nil
}

// unchanged says whether a file that was read is still the one whose hash was taken.
func (r *reader) unchanged(i int, got *reading) bool {
	rel := r.src.Found[i].Rel
	onDisk := holder(rel, r.now)
	sum := r.now[onDisk].sum
	if sum == "" {
		return false
	}
	if onDisk == rel && sum == got.Input.SHA256 {
		return true
	}
	now, err := hashOnDisk(r.study.Path(onDisk)) // packed
	return err == nil && now == sum
}

// take takes in a file's reading.
func (r *reader) take(i int, got *reading, seen [][]identity.Seen) {
	r.src.Files[i] = read.File{ID: got.ID, Counts: got.Counts, Entries: got.Entries}
	r.src.Inputs[i], seen[i] = got.Input, got.Seen
	for _, s := range got.Seen { // so that two names of one pseudonym are noticed
		r.src.Registry.ByName(s.Name)
	}
}

// place notes where a file's recordings lie.
func (r *reader) place(i int, got *reading, in *cache.Segment, key cache.Key) {
	for n, h := range got.Heads {
		at := in.Find(recordingKey(key, n))
		r.src.held[i] = append(r.src.held[i], held{Holding: h.Holding, Refused: h.Refused, sum: h.Sum, segment: in, record: at[len(at)-1]})
	}
}
