package run

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// publicSettings is the resolved study file as it may be published: without
// what may hold names or belongs to one machine: paths stay in the private
// folder.
func publicSettings(s *study.Study, r *Result) string {
	public := *s
	for _, path := range []*string{&public.Roster, &public.Assign, &public.Notes} {
		if *path != "" {
			*path = "given"
		}
	}
	public.Output, public.Privacy.KeyFile = "out", "given"
	public.Inputs = slices.Clone(s.Inputs)
	for i := range public.Inputs {
		public.Inputs[i].Pattern = fmt.Sprintf("input-%d", i+1)
	}
	pseudonyms := map[string]string{}
	for pseudonym, name := range r.Names {
		pseudonyms[identity.Fold(name)] = pseudonym
	}
	return string(public.ResolvedAs(func(name string) string {
		if s.Privacy.AsGiven {
			return name
		}
		if pseudonym, ok := pseudonyms[identity.Fold(name)]; ok {
			return pseudonym
		}
		return "somebody"
	}))
}

// privateMaps are the files of the private folder that lead from ids back to names and
// paths.
func privateMaps() []string { return []string{"swimmers.csv", "files.csv", "study.resolved.yaml"} }

// writePrivateMaps writes what maps ids back to names and paths.
func writePrivateMaps(s *study.Study, src *Sources) error {
	var files []identity.FileName
	for i, f := range src.Found {
		if !src.Registry.IsForgotten(f.Swimmer) { // the path holds the name
			files = append(files, identity.FileName{ID: src.Files[i].ID, Path: f.Rel})
		}
	}
	settings := s.ResolvedAs(func(name string) string {
		if src.Registry.IsForgotten(name) {
			return "somebody"
		}
		return name
	})
	for _, list := range []string{s.Roster, s.Assign, s.Notes} {
		if list != "" {
			files = append(files, identity.FileName{ID: src.Registry.FileID(list), Path: list})
		}
	}
	for name, data := range map[string][]byte{
		".gitignore":          []byte("*\n"),
		"swimmers.csv":        identity.SwimmerMap(src.Seen),
		"files.csv":           identity.FileMap(files),
		"study.resolved.yaml": settings,
	} {
		if err := writePrivate(s, name, data); err != nil {
			return err
		}
	}
	return nil
}

// Name is what the squad calls a swimmer: the name behind a pseudonym, or the
// pseudonym where no name is known.
func (r *Result) Name(pseudonym string) string {
	if name, ok := r.Names[pseudonym]; ok {
		return name
	}
	return pseudonym
}

// writePrivate writes one file of the private folder, whole or not at all,
// readable by its owner alone. A file that is the same already is left alone.
func writePrivate(s *study.Study, name string, data []byte) (err error) {
	target := filepath.Join(s.Folder, study.PrivateFolder, filepath.FromSlash(name))
	if old, err := os.ReadFile(target); err == nil && bytes.Equal(old, data) {
		return nil
	}
	wrap := func(err error) error { return fmt.Errorf("private folder: %w", err) }
	if err := os.MkdirAll(filepath.Dir(target), 0o700); err != nil {
		return wrap(err)
	}
	temporary, err := os.CreateTemp(filepath.Dir(target), "."+filepath.Base(target)+".*")
	if err != nil {
		return wrap(err)
	}
	defer func() {
		if err != nil {
			err = wrap(errors.Join(err, os.Remove(temporary.Name())))
		}
	}()
	_, err = temporary.Write(data)
	if err == nil {
		err = temporary.Sync()
	}
	if err = errors.Join(err, temporary.Close()); err != nil {
		return err
	}
	return os.Rename(temporary.Name(), target)
}

func sortFiles(files []tableFile) {
	slices.SortFunc(files, func(a, b tableFile) int { return strings.Compare(a.Path, b.Path) })
}

// readNames reads the private list of names that a run has written: pseudonym and
// name. The error wraps fs.ErrNotExist where there is none.
func readNames(s *study.Study) ([][]string, error) {
	file, err := os.Open(filepath.Join(s.Folder, study.PrivateFolder, "swimmers.csv"))
	if err != nil {
		return nil, fmt.Errorf("%w (\"lengthwise run\" writes it)", err)
	}
	rows, err := csv.NewReader(file).ReadAll()
	if err = errors.Join(err, file.Close()); err != nil {
		return nil, fmt.Errorf("%s: %w", file.Name(), err)
	}
	return rows[min(1, len(rows)):], nil
}
