package run

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// ErrForeign says that the output folder holds what no run wrote there.
var ErrForeign = errors.New("holds files that no run wrote")

// EvidencePack is the file of the output folder that no run writes and that belongs
// to its result all the same: a run that replaces the result takes it away, and
// what verify asks of a published set is not asked of it.
const EvidencePack = "evidence.zip"

// checkOutput refuses an output folder in which a new result would take
// somebody's files with it: one without a run.json of this program, or with
// files that the run.json does not list.
func checkOutput(folder string) error {
	entries, err := os.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(entries) == 0 {
		return nil
	}
	if err != nil {
		return fmt.Errorf("the output folder: %w", err)
	}
	listed := map[string]bool{}
	if data, err := os.ReadFile(filepath.Join(folder, marker)); err == nil {
		var record Record
		if json.Unmarshal(data, &record) == nil && record.Program == programName {
			for _, name := range record.Files {
				listed[name] = true
			}
		}
	}
	var foreign []string
	err = filepath.WalkDir(folder, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		rel, err := filepath.Rel(folder, path)
		if rel = filepath.ToSlash(rel); err == nil && !listed[rel] && !(rel == EvidencePack && listed[marker]) {
			foreign = append(foreign, rel)
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("the output folder: %w", err)
	}
	if len(foreign) == 0 {
		return nil
	}
	slices.Sort(foreign)
	shown := strings.Join(foreign[:min(3, len(foreign))], ", ")
	if more := len(foreign) - 3; more > 0 {
		shown += fmt.Sprintf(" and %d more", more)
	}
	return fmt.Errorf("%s %w: %s; a run replaces the folder whole, so move them, or name another output in the study file", folder, ErrForeign, shown)
}
