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
	blind bool         // nothing is found of what this process is to make
	turn  turn
}

func openShelf(o Options, t turn) (*shelf, error) {
	if o.Cache == "" {
		return &shelf{}, nil
	}
	store, err := cache.Open(o.Cache)
	return &shelf{store, o.Anew, t}, err
}

// manifestOf names the manifest of a stage and bucket.
func manifestOf(s stage, bucket int) string { return fmt.Sprintf("%s-%02d", s, bucket) }

// The fields of manifests, in the order in which they are compared.
const (
	byProgram  = "1 program"
	bySettings = "2 settings"
	bySwimmers = "3 swimmers"
)

// madeOf are the fields of the manifest of a bucket's measures.
func madeOf(settings string, swimmers cache.Key) map[string]string {
	sum := cache.KeyOf(settings)
	return map[string]string{byProgram: versionOf(measureStage), bySettings: hex.EncodeToString(sum[:]), bySwimmers: hex.EncodeToString(swimmers[:])}
}

// byVersion are the fields of the manifests of the other stages, whose records have
// keys of their own.
func byVersion(s stage) map[string]string { return map[string]string{byProgram: versionOf(s)} }

// open opens the one segment of a manifest that was made for what is wanted.
func (h *shelf) open(s stage, bucket int, want map[string]string) (*cache.Segment, error) {
	if h.store == nil || h.blind && h.turn.makes(s, bucket) {
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
func (h *shelf) publish(s stage, bucket int, made map[string]string, w *cache.Writer) error {
	ref, err := w.Close()
	if err != nil {
		return err
	}
	return h.store.Publish(manifestOf(s, bucket), cache.Manifest{For: made, Segments: []cache.Ref{ref}})
}

// tidy deletes what a run has no use for and what was there before it began and counts
// for nothing: no recordings of a swimmer whose files are gone stay behind.
func (h *shelf) tidy(began time.Time, used map[string]bool) error {
	if h.store == nil {
		return nil
	}
	names, err := h.store.Manifests()
	if err != nil {
		return err
	}
	for _, name := range names {
		if !used[name] {
			if err := h.store.Unpublish(name); err != nil {
				return err
			}
		}
	}
	_, err = h.store.Collect(time.Since(began))
	return err
}
