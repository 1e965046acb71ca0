package study

import (
	"fmt"
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
	Path    string // absolute
	Input   int    // index into Study.Inputs: the first that fits
	Swimmer string // what stood at {swimmer}, "" when the pattern has none
}

// Unmatched is a file that no input claims.
type Unmatched struct {
	Rel    string
	Reason string // why, in words
}

// Find walks the study's folder and returns the files that inputs claim and
// those that none does, both in order of their composed path, so that the
// order is the same on every file system.
//
// Not looked at, and in neither list: the output folder, private/, hidden
// files and folders, and the files that the study names itself (study file,
// roster, assign, notes, key). A symbolic link to a file in the study's folder
// is followed; one to a folder, or out of the study's folder, never.
func (s *Study) Find() ([]Found, []Unmatched, error) {
	root, err := filepath.EvalSymlinks(s.Folder)
	if err != nil {
		return nil, nil, fmt.Errorf("looking through the study's folder: %w", err)
	}
	own := s.ownFiles()
	var found []Found
	var unmatched []Unmatched
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
			unmatched = append(unmatched, Unmatched{rel, "cannot be opened"})
			if entry != nil && entry.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if entry.IsDir() {
			return nil
		}
		if reason := unreadable(root, full, entry); reason != "" {
			unmatched = append(unmatched, Unmatched{rel, reason})
			return nil
		}
		for i, in := range s.Inputs {
			if swimmer, ok := in.Match(rel); ok {
				found = append(found, Found{Rel: rel, Path: filepath.Join(s.Folder, filepath.FromSlash(rel)), Input: i, Swimmer: swimmer})
				return nil
			}
		}
		unmatched = append(unmatched, Unmatched{rel, "no input's path fits"})
		return nil
	})
	if err != nil {
		return nil, nil, fmt.Errorf("looking through the study's folder: %w", err)
	}
	sort.Slice(found, func(i, j int) bool { return pathBefore(found[i].Rel, found[j].Rel) })
	sort.Slice(unmatched, func(i, j int) bool { return pathBefore(unmatched[i].Rel, unmatched[j].Rel) })
	return found, unmatched, nil
}

// ownFiles are the composed relative paths that are no inputs: the output
// folder, private/ and the files that the study names.
func (s *Study) ownFiles() map[string]bool {
	own := map[string]bool{PrivateFolder: true}
	for _, name := range []string{s.File, s.Roster, s.Assign, s.Notes, s.Privacy.KeyFile, s.Output} {
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
