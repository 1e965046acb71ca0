package study

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// PrivateFolder is the folder in the study's folder that maps pseudonyms and
// file ids back to names and paths.
const PrivateFolder = "private"

// Found is a file that an input claims.
type Found struct {
	Rel     string // slash-separated, relative to the study's folder, spelled as on disk
	Input   int    // index into Study.Inputs: the first that fits
	Swimmer string // what stood at {swimmer}, "" when the pattern has none

	source source
}

// Read returns the file's bytes, unpacked where its name ends in .gz. An error
// that wraps ErrDamaged comes with the bytes that could be unpacked before it.
func (f Found) Read() ([]byte, error) {
	data, err := f.source.read()
	if err != nil {
		return data, fmt.Errorf("reading %s: %w", f.Rel, err)
	}
	return data, nil
}

// Open gives the file's bytes as Read does, but as a stream, so that a file that is
// packed in nothing may be of any length. What goes wrong in unpacking is an error that
// wraps ErrDamaged.
func (f Found) Open() (io.ReadCloser, error) {
	from, limit, err := f.source.open()
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", f.Rel, f.source.damaged(err))
	}
	if f.source.plain() {
		return from, nil
	}
	return &bounded{ReadCloser: from, source: f.source, left: limit, limit: limit}, nil
}

// LongerThan reports whether a file holds more bytes than that, unpacked. What is
// damaged counts by what can be unpacked of it.
func (f Found) LongerThan(n int64) (bool, error) {
	switch {
	case f.source.packed:
		from, err := f.Open()
		if errors.Is(err, ErrDamaged) {
			return false, nil
		}
		if err != nil {
			return false, err
		}
		got, err := io.Copy(io.Discard, io.LimitReader(from, n+1))
		if errors.Is(err, ErrDamaged) {
			err = nil
		}
		return got > n, errors.Join(err, from.Close())
	case f.source.member != nil:
		return f.source.member.UncompressedSize64 > uint64(n), nil
	}
	info, err := os.Stat(f.source.path)
	if err != nil {
		return false, fmt.Errorf("reading %s: %w", f.Rel, err)
	}
	return info.Size() > n, nil
}

// Unmatched is a file that no input claims.
type Unmatched struct {
	Rel    string
	Reason string // why, in words
}

// Files is what a study's folder holds, both lists in order of the composed
// path, so that the order is the same on every file system. Archives stay open
// for reading until Close.
type Files struct {
	Found     []Found
	Unmatched []Unmatched
	OnDisk    []string // what was looked at to find them, archives as one file; relative paths

	open   []io.Closer
	budget *budget
}

// Close closes the archives. Found files in them cannot be read afterwards.
func (f *Files) Close() error {
	var errs []error
	for _, c := range f.open {
		errs = append(errs, c.Close())
	}
	f.open = nil
	return errors.Join(errs...)
}

// Find walks the study's folder and sorts its files into those that inputs
// claim and those that none does.
//
// A zip archive is looked into like a folder (inbox/squad.zip/marta/a.fit),
// archives within it too. An input may name the files in it, or the archive
// itself: then all files in it of the input's kind, at any depth, are claimed,
// and {swimmer} may stand in the archive's name. A name that ends in .gz fits
// a pattern with or without that ending.
//
// Not looked at, and in neither list: the output folder, private/, hidden
// files and folders, and the files that the study names itself (study file,
// roster, assign, notes, key). A symbolic link to a file in the study's folder
// is followed; one to a folder, or out of the study's folder, never.
func (s *Study) Find() (files *Files, err error) {
	root, err := filepath.EvalSymlinks(s.Folder)
	if err != nil {
		return nil, fmt.Errorf("looking through the study's folder: %w", err)
	}
	own := s.ownFiles()
	files = &Files{budget: newBudget()}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("looking through the study's folder: %w", err), files.Close())
			files = nil
		}
	}()
	err = filepath.WalkDir(root, func(full string, entry fs.DirEntry, err error) error {
		if full == root {
			return err
		}
		rel, relErr := filepath.Rel(root, full)
		if relErr != nil {
			return relErr
		}
		rel = filepath.ToSlash(rel)
		if strings.HasPrefix(path.Base(rel), ".") || own[norm.NFC.String(rel)] {
			if entry != nil && entry.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if err != nil {
			files.leave(rel, "cannot be opened")
			if entry != nil && entry.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if entry.IsDir() {
			return nil
		}
		if reason := unreadable(root, full, entry); reason != "" {
			files.leave(rel, reason)
			return nil
		}
		files.OnDisk = append(files.OnDisk, rel)
		if isArchive(rel) {
			s.findInFile(files, rel, full)
			return nil
		}
		s.claim(files, rel, nil, source{path: full})
		return nil
	})
	if err != nil {
		return nil, err
	}
	sort.Slice(files.OnDisk, func(i, j int) bool { return pathBefore(files.OnDisk[i], files.OnDisk[j]) })
	sort.Slice(files.Found, func(i, j int) bool { return pathBefore(files.Found[i].Rel, files.Found[j].Rel) })
	sort.Slice(files.Unmatched, func(i, j int) bool { return pathBefore(files.Unmatched[i].Rel, files.Unmatched[j].Rel) })
	return files, nil
}

func (f *Files) leave(rel, reason string) {
	f.Unmatched = append(f.Unmatched, Unmatched{rel, reason})
}

// claim gives a file to the first input that fits it, or that names one of the
// archives it lies in.
func (s *Study) claim(files *Files, rel string, archives []string, from source) {
	plain, packed := withoutPacking(rel)
	from.packed = packed
	for i, in := range s.Inputs {
		swimmer, ok := in.Match(rel)
		if !ok && packed {
			swimmer, ok = in.Match(plain)
		}
		for _, archive := range archives {
			if !ok && fitsKind(rel, in.Kind) {
				swimmer, ok = in.Match(archive)
			}
		}
		if ok {
			files.Found = append(files.Found, Found{Rel: rel, Input: i, Swimmer: swimmer, source: from})
			return
		}
	}
	if otherArchive(rel) {
		files.leave(rel, "an archive of a kind that is not looked into; unpack it, or pack it as zip")
		return
	}
	files.leave(rel, "no input's path fits")
}

// ownFiles are the composed relative paths that are no inputs: the output
// folder, private/ and the files that the study names.
func (s *Study) ownFiles() map[string]bool {
	own := map[string]bool{PrivateFolder: true}
	for _, name := range []string{s.File, FrozenFile, s.Roster, s.Assign, s.Notes, s.Privacy.KeyFile, s.Output} {
		if name == "" {
			continue
		}
		if filepath.IsAbs(name) {
			rel, err := filepath.Rel(s.Folder, name)
			if err != nil {
				continue
			}
			name = rel
		}
		own[cleanPath(filepath.ToSlash(name))] = true
	}
	return own
}

// unreadable says why an entry that is no folder is not read, "" when it is.
func unreadable(root, full string, entry fs.DirEntry) string {
	if entry.Type()&fs.ModeSymlink == 0 {
		if !entry.Type().IsRegular() {
			return "not a plain file"
		}
		return ""
	}
	target, err := filepath.EvalSymlinks(full)
	if err != nil {
		return "a link that leads nowhere"
	}
	rel, err := filepath.Rel(root, target)
	if err != nil || rel == ".." || strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
		return "a link out of the study's folder"
	}
	info, err := os.Stat(target)
	if err != nil || !info.Mode().IsRegular() {
		return "a link to something that is no plain file"
	}
	return ""
}

// pathBefore orders paths by their composed spelling, then as on disk.
func pathBefore(a, b string) bool {
	x, y := norm.NFC.String(a), norm.NFC.String(b)
	if x != y {
		return x < y
	}
	return a < b
}
