package cache

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

const (
	segmentFolder  = "segments"
	manifestFolder = "manifests"
	unfinished     = ".new-*" // pattern of files that are being written
	tagFile        = "CACHEDIR.TAG"
	tag            = "Signature: 8a477f597d28d172789f06886806bc55\n# Intermediate results. It may be deleted: a run makes it again.\n"
)

// Key is what a record was made from: a SHA-256.
type Key [sha256.Size]byte

// KeyOf hashes parts so that no two lists of parts share a key: each part is
// hashed with its length.
func KeyOf(parts ...string) Key {
	h := sha256.New()
	for _, p := range parts {
		fmt.Fprintf(h, "%d:", len(p))
		h.Write([]byte(p))
	}
	return Key(h.Sum(nil))
}

// ErrMissing says that the cache has no such record, segment or manifest.
var ErrMissing = errors.New("not in the cache")

// DamagedError says that a file of the cache is not as it was written.
type DamagedError struct {
	File string // within the folder of the cache
	Why  string
}

func (e *DamagedError) Error() string {
	return fmt.Sprintf("cache file %s is damaged (%s); what it held is made again", e.File, e.Why)
}

// Store is a folder of segments and manifests. Several goroutines, and several
// processes, may use one folder at the same time.
type Store struct{ dir string }

// Open makes the folder where it is not there yet. A folder that others may look
// into is closed to them.
func Open(dir string) (*Store, error) {
	for _, folder := range []string{dir, filepath.Join(dir, segmentFolder), filepath.Join(dir, manifestFolder)} {
		if err := os.MkdirAll(folder, 0o700); err != nil {
			return nil, fmt.Errorf("cache: %w; name another folder by --cache or LENGTHWISE_CACHE", err)
		}
	}
	if err := os.Chmod(dir, 0o700); err != nil {
		return nil, fmt.Errorf("cache: %w", err)
	}
	s := &Store{dir}
	if _, err := os.Stat(filepath.Join(dir, tagFile)); errors.Is(err, fs.ErrNotExist) {
		if err := s.replace(tagFile, []byte(tag)); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// Is reports whether a folder is a store.
func Is(dir string) bool {
	data, err := os.ReadFile(filepath.Join(dir, tagFile))
	return err == nil && string(data) == tag
}

// Remove deletes a store with all it holds. A folder that is not there, or that no
// Store made, is left alone.
func Remove(dir string) error {
	if !Is(dir) {
		return nil
	}
	if err := os.RemoveAll(dir); err != nil {
		return fmt.Errorf("cache: %w", err)
	}
	return nil
}

// replace puts a file in place whole or not at all.
func (s *Store) replace(name string, data []byte) error {
	path := filepath.Join(s.dir, name)
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(name)+unfinished) // 0600
	if err != nil {
		return fmt.Errorf("cache: %w", err)
	}
	_, err = f.Write(data)
	if err := errors.Join(err, f.Close()); err != nil {
		return errors.Join(fmt.Errorf("cache: %w", err), os.Remove(f.Name()))
	}
	return s.place(f.Name(), name)
}

// place gives a finished file its name.
func (s *Store) place(from, name string) error {
	if err := os.Rename(from, filepath.Join(s.dir, name)); err != nil {
		return errors.Join(fmt.Errorf("cache: %w", err), os.Remove(from))
	}
	return nil
}

// Collect deletes the segments that no manifest names and what killed processes
// left unfinished, and gives the bytes that this freed. Files younger than young
// stay: another process may be about to name them. While a manifest cannot be
// read nothing is deleted, since it may name anything.
func (s *Store) Collect(young time.Duration) (freed int64, err error) {
	names, err := s.Manifests()
	if err != nil {
		return 0, err
	}
	named := map[string]bool{}
	for _, name := range names {
		m, err := s.manifest(name)
		if err != nil {
			return 0, fmt.Errorf("nothing was collected: %w", err)
		}
		for _, ref := range m.Segments {
			named[ref.File] = true
		}
	}
	before := time.Now().Add(-young)
	for _, folder := range []string{segmentFolder, manifestFolder} {
		entries, err := os.ReadDir(filepath.Join(s.dir, folder))
		if err != nil {
			return freed, fmt.Errorf("cache: %w", err)
		}
		for _, e := range entries {
			waste := strings.Contains(e.Name(), ".new-") || folder == segmentFolder && !named[e.Name()]
			info, err := e.Info()
			if err != nil || !waste || info.ModTime().After(before) { // gone meanwhile: another process collects too
				continue
			}
			if err := os.Remove(filepath.Join(s.dir, folder, e.Name())); err == nil {
				freed += info.Size()
			} else if !errors.Is(err, fs.ErrNotExist) {
				return freed, fmt.Errorf("cache: %w", err)
			}
		}
	}
	return freed, nil
}
