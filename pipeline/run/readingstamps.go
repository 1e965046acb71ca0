package run

import (
	"context"
	"maps"
	"path"
	"slices"

	"lengthwise/pipeline/cache"
	"lengthwise/pipeline/cache/wire"
	"lengthwise/pipeline/table"
)

// fileStamps is what a segment of readings says of the files on disk that they lie in,
// so that another machine need not hash them again.
type fileStamps map[string]madeFile

// stampsKey is under what it lies there.
var stampsKey = cache.KeyOf("stamps")

// survey takes hashes of the files that are looked at, or trusts those that are known
// for the stamps that they have.
func (r *reader) survey(ctx context.Context, o Options, buckets [][]int) error {
	if r.shelf.store == nil {
		return nil
	}
	onDisk := map[string]bool{}
	for _, name := range r.src.onDisk {
		onDisk[name] = true
	}
	wanted := map[string]bool{}
	for b, files := range buckets {
		if !r.turn.looksAt(readStage, b) {
			continue
		}
		for _, i := range files {
			wanted[holder(r.src.Found[i].Rel, onDisk)] = true
		}
	}
	known := maps.Clone(r.known)
	if r.turn.shared() {
		if known == nil {
			known = map[string]madeFile{}
		}
		if err := r.stampsOfOthers(known); err != nil {
			return err
		}
	}
	if !r.turn.shared() { // all that is known was seen by this run
		o.Rehash = false
	}
	var err error
	r.now, err = survey(ctx, r.study, o, slices.Sorted(maps.Keys(wanted)), known)
	return err
}

// stampsOfOthers adds what other machines saw of the files that they read.
func (r *reader) stampsOfOthers(known map[string]madeFile) error {
	codec, err := wire.For[fileStamps]()
	if err != nil {
		return err
	}
	for b := range table.Buckets {
		segment, err := r.shelf.open(readStage, b, byVersion(readStage))
		if err != nil {
			return err
		}
		if segment == nil {
			continue
		}
		if data, err := segment.Get(stampsKey); err == nil {
			if stamps, err := codec.Decode(data); err == nil {
				maps.Copy(known, stamps)
			}
		}
		if err := segment.Close(); err != nil {
			return err
		}
	}
	return nil
}

// holder is the file on disk that a file lies in, which is the file itself or an
// archive.
func holder[V any](rel string, onDisk map[string]V) string {
	for at := rel; at != "." && at != "/"; at = path.Dir(at) {
		if _, ok := onDisk[at]; ok {
			return at
		}
	}
	return rel
}

// readBucket deals files out by id, so that a file's place does not change with what
// else is there.
func readBucket(fileID string) int { return table.Bucket(fileID) }

// leaveStamps notes what the files looked like whose readings are in a segment.
func (r *reader) leaveStamps(w *cache.Writer, files []int) error {
	codec, err := wire.For[fileStamps]()
	if err != nil {
		return err
	}
	stamps := fileStamps{}
	for _, i := range files {
		name := holder(r.src.Found[i].Rel, r.now)
		stamps[name] = madeFile{r.now[name].seenStamp, r.now[name].sum}
	}
	return w.Append(stampsKey, codec.Append(nil, &stamps))
}
