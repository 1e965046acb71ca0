package run

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lengthwise/pipeline/cache"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// tombstoneFile is the private list of those whom a study must not take back:
// keyed hashes of their names, one a line.
const tombstoneFile = "forgotten.txt"

// ErrNobody says that a study knows nobody of a name.
var ErrNobody = errors.New("nobody in this study is called so")

// Forgetting is what is left to do when a swimmer was removed from a study.
type Forgetting struct {
	Names   int      `json:"names"`           // names and aliases that have a tombstone now
	Files   []string `json:"files"`           // inputs that still hold recordings of theirs
	Lists   []string `json:"lists"`           // the study's own files that still name them
	Nothing bool     `json:"nothing_is_left"` // the study has no other length: its result was removed
}

// Forget removes a swimmer, by name, alias or pseudonym, from a study: a tombstone
// first, so that no later run takes them back, then the whole result anew. Inputs
// and lists are left alone; Forgetting names those that still hold something.
// Where it is interrupted the old result stands, and the next run removes them.
func Forget(ctx context.Context, s *study.Study, who string, o Options) (Forgetting, error) {
	names, err := namesOf(s, who)
	if err != nil {
		return Forgetting{}, err
	}
	path := s.Path(s.Privacy.KeyFile)
	if _, err := os.Stat(path); s.Privacy.AsGiven && errors.Is(err, fs.ErrNotExist) {
		if err := identity.CreateKey(path); err != nil {
			return Forgetting{}, err
		}
	}
	key, err := identity.LoadKey(path)
	if err != nil {
		return Forgetting{}, err
	}
	fresh, err := identity.Tombstones(key, names)
	if err != nil {
		return Forgetting{}, err
	}
	old, err := readTombstones(s)
	if err != nil {
		return Forgetting{}, err
	}
	all := append(old, fresh...)
	slices.Sort(all)
	all = slices.Compact(all)
	if err := writePrivate(s, tombstoneFile, []byte(strings.Join(all, "\n")+"\n")); err != nil {
		return Forgetting{}, err
	}
	out := Forgetting{Names: len(fresh)}
	r, err := Study(ctx, s, o)
	switch {
	case errors.Is(err, ErrNothing):
		out.Nothing = true
		if err := removeResult(s); err != nil {
			return out, err
		}
	case err != nil:
		return out, fmt.Errorf("the tombstone stands, and the next run removes the swimmer; this one failed: %w", err)
	}
	if r != nil {
		out.Files = r.ForgottenFiles
	}
	out.Lists, err = listsThatName(s, names)
	return out, err
}

// namesOf are all names of somebody: the roster's row with its aliases, and those
// of the private list that the last run wrote.
func namesOf(s *study.Study, who string) ([]string, error) {
	var groups [][]string // names of one swimmer
	var known []string
	if s.Roster != "" {
		data, err := readList(s, "roster", s.Roster)
		if err != nil {
			return nil, err
		}
		members, _, err := read.Roster(data)
		if err != nil {
			return nil, fmt.Errorf("roster %s: %w", s.Roster, err)
		}
		for _, m := range members {
			groups = append(groups, append([]string{m.Name}, m.Aliases...))
		}
	}
	rows, err := readNames(s)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	bySwimmer := map[string][]string{}
	for _, row := range rows {
		bySwimmer[row[0]] = append(bySwimmer[row[0]], row[1])
	}
	for pseudonym, names := range bySwimmer {
		if pseudonym != "" {
			groups = append(groups, append([]string{pseudonym}, names...))
		}
	}
	called := map[string]bool{identity.Fold(who): true}
	for grew := true; grew; {
		grew = false
		for _, group := range groups {
			if !slices.ContainsFunc(group, func(n string) bool { return called[identity.Fold(n)] }) {
				continue
			}
			for _, name := range group {
				if folded := identity.Fold(name); folded != "" && !called[folded] {
					called[folded], grew = true, true
				}
			}
		}
	}
	var names []string
	for _, group := range groups {
		known = append(known, group...)
		for _, name := range group {
			if called[identity.Fold(name)] {
				names = append(names, name)
			}
		}
	}
	if len(names) == 0 {
		slices.Sort(known)
		known = slices.Compact(known)
		return nil, fmt.Errorf("%q: %w%s", who, ErrNobody, didYouMean(study.Nearest(identity.Tidy(who), known, 3)))
	}
	slices.Sort(names)
	return slices.Compact(names), nil
}

// dropCaches deletes the caches of all studies of a folder, which have a folder each
// beside each other: any of them may hold recordings of somebody who was removed.
func dropCaches(one string) error {
	if one == "" {
		return nil
	}
	all, err := filepath.Glob(filepath.Join(filepath.Dir(one), "*"))
	if err != nil {
		return err
	}
	for _, folder := range all {
		if err := cache.Remove(folder); err != nil {
			return err
		}
	}
	return nil
}

func readTombstones(s *study.Study) ([]string, error) {
	data, err := os.ReadFile(filepath.Join(s.Folder, study.PrivateFolder, tombstoneFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("private folder: %w", err)
	}
	return strings.Fields(string(data)), nil
}

// forget tells the registry whom the study must not take back.
func (src *Sources) forget(s *study.Study, key []byte) error {
	tombstones, err := readTombstones(s)
	if err != nil || len(tombstones) == 0 {
		return err
	}
	if key == nil {
		if key, err = identity.LoadKey(s.Path(s.Privacy.KeyFile)); err != nil {
			return fmt.Errorf("swimmers were removed from this study, and the key tells who: %w", err)
		}
	}
	src.Registry.Forget(key, tombstones)
	return nil
}

// forgottenFiles are the paths of inputs that still hold recordings of those who
// were removed.
func (src *Sources) forgottenFiles(entries []read.Entry) []string {
	holds := map[string]bool{}
	for _, e := range entries {
		if e.Rule == identity.Forgotten {
			holds[e.FileID] = true
		}
	}
	var out []string
	for i, f := range src.Found {
		if holds[src.Files[i].ID] {
			out = append(out, f.Rel)
		}
	}
	return out
}

// removeResult takes away what an earlier run of the study has left.
func removeResult(s *study.Study) error {
	folder := s.Path(s.Output)
	if _, err := ReadRecord(folder); err == nil {
		if err := os.RemoveAll(folder); err != nil {
			return fmt.Errorf("removing the result: %w", err)
		}
	}
	private := filepath.Join(s.Folder, study.PrivateFolder)
	for _, name := range append(privateMaps(), pagesFolder, madeFromFile) {
		if err := os.RemoveAll(filepath.Join(private, name)); err != nil {
			return fmt.Errorf("removing private files: %w", err)
		}
	}
	return nil
}

// listsThatName are the study's own files that hold one of the names.
func listsThatName(s *study.Study, names []string) ([]string, error) {
	called := map[string]bool{}
	for _, name := range names {
		called[strings.Join(wordsOf(name), " ")] = true
	}
	delete(called, "")
	var out []string
	for _, list := range []string{s.Roster, s.Assign, s.Notes, filepath.Base(s.File)} {
		if list == "" {
			continue
		}
		data, err := os.ReadFile(s.Path(list))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if slices.ContainsFunc(strings.Split(string(data), "\n"), func(line string) bool { return holdsName(line, called) }) {
			out = append(out, list)
		}
	}
	return out, nil
}
