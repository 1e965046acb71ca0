package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// people leads from pseudonyms to names and back, for the terminal alone.
type people struct {
	names      map[string]string // pseudonym -> the name to show
	pseudonyms map[string]string // folded name -> pseudonym
	known      []string          // every name, in order of the file
}

// name is what the squad calls a swimmer, or the pseudonym.
func (p people) name(pseudonym string) string {
	if name, ok := p.names[pseudonym]; ok {
		return name
	}
	return pseudonym
}

// readPeople reads the private list of who is who that a run has written. The
// roster's spelling of a name is shown before others. An error wraps
// fs.ErrNotExist where there is no such list.
func readPeople(s *study.Study) (people, error) {
	p := people{names: map[string]string{}, pseudonyms: map[string]string{}}
	rows, err := privateRows(s, "swimmers.csv")
	if err != nil {
		return p, err
	}
	listed := map[string]bool{}
	if s.Roster != "" {
		listed = rosterNames(s)
	}
	for _, row := range rows {
		pseudonym, name := row[0], row[1]
		if pseudonym == "" {
			continue
		}
		if _, ok := p.names[pseudonym]; !ok || listed[name] {
			p.names[pseudonym] = name
		}
		p.pseudonyms[identity.Fold(name)] = pseudonym
		p.known = append(p.known, name)
	}
	return p, nil
}

// rosterNames are the names as the roster spells them; none where it cannot be
// read any more.
func rosterNames(s *study.Study) map[string]bool {
	names := map[string]bool{}
	data, err := os.ReadFile(s.Path(s.Roster))
	if err != nil {
		return names
	}
	members, _, err := read.Roster(data)
	if err != nil {
		return names
	}
	for _, m := range members {
		names[m.Name] = true
	}
	return names
}

// readPaths reads the private list of files: id to path, empty where a run has
// written none.
func readPaths(s *study.Study) (map[string]string, error) {
	paths := map[string]string{}
	rows, err := privateRows(s, "files.csv")
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	for _, row := range rows {
		paths[row[0]] = row[1]
	}
	return paths, nil
}

// privateRows reads a list of pairs from the private folder, without its
// header.
func privateRows(s *study.Study, name string) ([][]string, error) {
	path := filepath.Join(s.Folder, study.PrivateFolder, name)
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s is not there, so that no name is known; \"lengthwise run\" writes it: %w", path, fs.ErrNotExist)
	}
	if err != nil {
		return nil, err
	}
	reader := csv.NewReader(bytes.NewReader(data))
	reader.FieldsPerRecord = 2
	rows, err := reader.ReadAll()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return rows[min(1, len(rows)):], nil
}
