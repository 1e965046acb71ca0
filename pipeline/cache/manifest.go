package cache

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Manifest names the segments that count and what they were made for.
type Manifest struct {
	// For is what must be equal for the segments to be of use: the program's
	// version, the hash of the study file and so on, by name.
	For      map[string]string `json:"for"`
	Segments []Ref             `json:"segments"`
}

// OtherError says that a manifest was written for something else.
type OtherError struct {
	Manifest, Field, Have, Want string
}

func (e *OtherError) Error() string {
	return fmt.Sprintf("cache manifest %s was made for another %s (%q, here it is %q)", e.Manifest, e.Field, e.Have, e.Want)
}

// sealed is a manifest's file: the text of the manifest and its checksum.
type sealed struct {
	Manifest json.RawMessage `json:"manifest"`
	SHA256   string          `json:"sha256"`
}

// Publish makes a manifest count in place of the one of that name. Its segments
// must be there.
func (s *Store) Publish(name string, m Manifest) error {
	for _, ref := range m.Segments {
		if _, err := os.Stat(filepath.Join(s.dir, segmentFolder, ref.File)); err != nil {
			return fmt.Errorf("cache manifest %s names a segment that is not there: %w", name, err)
		}
	}
	body, err := json.Marshal(m)
	if err != nil {
		return fmt.Errorf("cache manifest %s: %w", name, err)
	}
	sum := sha256.Sum256(body)
	data, err := json.Marshal(sealed{body, hex.EncodeToString(sum[:])})
	if err != nil {
		return fmt.Errorf("cache manifest %s: %w", name, err)
	}
	return s.replace(manifestName(name), append(data, '\n'))
}

// Manifest reads the manifest of a name: ErrMissing where there is none, a
// DamagedError where it is not as written, an OtherError where it was made for
// something else than want, with the first field by name that differs.
func (s *Store) Manifest(name string, want map[string]string) (Manifest, error) {
	m, err := s.manifest(name)
	if err != nil {
		return Manifest{}, err
	}
	fields := slices.Concat(slices.Collect(maps.Keys(want)), slices.Collect(maps.Keys(m.For)))
	slices.Sort(fields)
	for _, field := range fields {
		if m.For[field] != want[field] {
			return Manifest{}, &OtherError{name, field, m.For[field], want[field]}
		}
	}
	return m, nil
}

func (s *Store) manifest(name string) (Manifest, error) {
	file := manifestName(name)
	data, err := os.ReadFile(filepath.Join(s.dir, file))
	if errors.Is(err, fs.ErrNotExist) {
		return Manifest{}, fmt.Errorf("cache manifest %s: %w", name, ErrMissing)
	}
	if err != nil {
		return Manifest{}, fmt.Errorf("cache: %w", err)
	}
	var outer sealed
	if err := json.Unmarshal(data, &outer); err != nil {
		return Manifest{}, &DamagedError{file, err.Error()}
	}
	if sum := sha256.Sum256(outer.Manifest); hex.EncodeToString(sum[:]) != outer.SHA256 {
		return Manifest{}, &DamagedError{file, "its checksum is another one"}
	}
	var m Manifest
	if err := json.Unmarshal(outer.Manifest, &m); err != nil {
		return Manifest{}, &DamagedError{file, err.Error()}
	}
	return m, nil
}

// Unpublish takes a manifest away; one that is not there is no error. What it named
// counts for nothing then, and goes with the next Collect.
func (s *Store) Unpublish(name string) error {
	if err := os.Remove(filepath.Join(s.dir, manifestName(name))); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("cache: %w", err)
	}
	return nil
}

// Manifests lists the names of all manifests in order.
func (s *Store) Manifests() ([]string, error) {
	entries, err := os.ReadDir(filepath.Join(s.dir, manifestFolder))
	if err != nil {
		return nil, fmt.Errorf("cache: %w", err)
	}
	var names []string
	for _, e := range entries {
		if name, ok := strings.CutSuffix(e.Name(), ".json"); ok {
			names = append(names, name)
		}
	}
	return names, nil
}

func manifestName(name string) string { return filepath.Join(manifestFolder, name+".json") }
