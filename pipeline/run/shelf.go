package run

import (
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"lengthwise/pipeline/cache"
	"lengthwise/pipeline/cache/wire"
)

// shelf is where a run finds what earlier ones made of the same, and leaves what it
// makes: a cache, or nothing.
type shelf struct {
	store *cache.Store // nil: nothing is found, and nothing is left
	blind bool         // nothing is found
}

func openShelf(o Options) (*shelf, error) {
	if o.Cache == "" {
		return &shelf{}, nil
	}
	store, err := cache.Open(o.Cache)
	return &shelf{store, o.Anew}, err
}

// manifestOf names the manifest of a stage and bucket.
func manifestOf(s stage, bucket int) string { return fmt.Sprintf("%s-%02d", s, bucket) }

// find opens the segment that a stage made of a bucket under a key; nil where there is
// none, or only one of something else. The caller closes it.
func (h *shelf) find(s stage, bucket int, key cache.Key) (*cache.Segment, error) {
	return h.open(s, bucket, map[string]string{"key": hex.EncodeToString(key[:])})
}

// open opens the one segment of a manifest that was made for what is wanted.
func (h *shelf) open(s stage, bucket int, want map[string]string) (*cache.Segment, error) {
	if h.store == nil || h.blind {
		return nil, nil
	}
	m, err := h.store.Manifest(manifestOf(s, bucket), want)
	if err != nil {
		return nil, h.again(err)
	}
	if len(m.Segments) != 1 {
		return nil, nil
	}
	segment, err := h.store.Open(m.Segments[0])
	if err != nil {
		return nil, h.again(err)
	}
	return segment, nil
}

// again takes what a cache lacks, or holds of something else or damaged, for what it
// is: a reason to make it again, and no failure.
func (h *shelf) again(err error) error {
	var other *cache.OtherError
	var damaged *cache.DamagedError
	if errors.Is(err, cache.ErrMissing) || errors.As(err, &other) || errors.As(err, &damaged) || errors.Is(err, wire.ErrBytes) {
		return nil
	}
	return err
}

// publish makes a finished segment what counts for its stage and bucket.
func (h *shelf) publish(s stage, bucket int, key cache.Key, w *cache.Writer) error {
	return h.publishFor(s, bucket, map[string]string{"key": hex.EncodeToString(key[:])}, w)
}

func (h *shelf) publishFor(s stage, bucket int, made map[string]string, w *cache.Writer) error {
	ref, err := w.Close()
	if err != nil {
		return err
	}
	return h.store.Publish(manifestOf(s, bucket), cache.Manifest{For: made, Segments: []cache.Ref{ref}})
}

// tidy deletes what nothing counts of any more and was there before a run began.
func (h *shelf) tidy(began time.Time) error {
	if h.store == nil {
		return nil
	}
	_, err := h.store.Collect(time.Since(began))
	return err
}
