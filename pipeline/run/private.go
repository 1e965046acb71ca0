package run

import (
	"bytes"
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

// writePrivateMaps writes what maps ids back to names and paths.
func writePrivateMaps(s *study.Study, src *Sources) error {
	files := make([]identity.FileName, len(src.Found))
	for i, f := range src.Found {
		files[i] = identity.FileName{ID: src.Files[i].ID, Path: f.Rel}
	}
	for _, list := range []string{s.Roster, s.Assign, s.Notes} {
		if list != "" {
			files = append(files, identity.FileName{ID: src.Registry.FileID(list), Path: list})
		}
	}
	for name, data := range map[string][]byte{
		".gitignore":          []byte("*\n"),
		"swimmers.csv":        identity.SwimmerMap(src.Seen),
		"files.csv":           identity.FileMap(files),
		"study.resolved.yaml": s.Resolved(),
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
