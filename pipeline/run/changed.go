package run

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"time"

	"lengthwise/pipeline/cache"
	"lengthwise/pipeline/study"
)

// madeFromFile is where the private folder notes what the result was made from.
const madeFromFile = "made-from.json"

// madeFrom is everything that a result follows from, and the result as the file
// system shows it. It holds paths, so it stays in the private folder.
type madeFrom struct {
	Maker  string               `json:"maker"`
	Study  string               `json:"study"`  // which file of the folder is the study file, and the hash of its settings
	Files  map[string]madeFile  `json:"files"`  // of the study's folder, by relative path; those of the study itself too
	Result map[string]seenStamp `json:"result"` // by relative path in the output folder
	Told   told                 `json:"told"`
}

// seenStamp is a stamp that can be trusted, or not: see [cache.Stamp.Settled].
type seenStamp struct {
	cache.Stamp
	Settled bool `json:"settled"`
}

// madeFile is a file that a result was made from.
type madeFile struct {
	seenStamp
	SHA256 string `json:"sha256"` // of its bytes on disk; "" where it changed while it was read
}

// Changed says in what a study departs from what its result was made from.
type Changed struct {
	Never   bool     `json:"never_run"` // there is no result of which that is known
	Maker   bool     `json:"program"`   // another version of the program, of Go, or another platform made it
	Study   []string `json:"study_files"`
	New     []string `json:"new_files"`
	Other   []string `json:"changed_files"`
	Gone    []string `json:"gone_files"`
	Same    int      `json:"same_files"`
	Result  []string `json:"result_files"` // of the result: other than they were written, or gone
	Compare int      `json:"compared"`     // files whose content was compared, since size and time did not settle it
}

// Nothing says that a run would make the same result again.
func (c *Changed) Nothing() bool {
	return !c.Never && !c.Maker && len(c.Study)+len(c.New)+len(c.Other)+len(c.Gone)+len(c.Result) == 0
}

// settingsOf tells one study from another of the same folder, whose files are the same.
func settingsOf(s *study.Study) string { return s.File + " " + s.Hash() }

func maker() string {
	sum := sha256.Sum256([]byte(stageSources)) // two builds of one version may differ
	return fmt.Sprintf("%s %s (%x), %s, %s/%s", programName, Version, sum[:4], runtime.Version(), runtime.GOOS, runtime.GOARCH)
}

// Changes compares a study with what its result was made from, and writes nothing.
func Changes(ctx context.Context, s *study.Study, o Options) (Changed, error) {
	c, _, err := changes(ctx, s, o)
	return c, err
}

// changes is Changes with the note it compared with, brought up to the stamps that
// were seen.
func changes(ctx context.Context, s *study.Study, o Options) (Changed, *madeFrom, error) {
	note, err := readMadeFrom(s)
	if err != nil || note == nil {
		return Changed{Never: true}, nil, err
	}
	c := Changed{Maker: note.Maker != maker()}
	c.Result, err = note.resultDeparts(s)
	if err != nil {
		return c, nil, err
	}
	now, err := surveyAll(ctx, s, o, note)
	if err != nil {
		return c, nil, err
	}
	names := slices.Sorted(maps.Keys(now))
	own := ownLists(s)
	for _, name := range names {
		if now[name].compared {
			c.Compare++
		}
		was, known := note.Files[name]
		switch {
		case known && was.SHA256 != "" && was.SHA256 == now[name].sum:
			c.Same++
			note.Files[name] = madeFile{now[name].seenStamp, was.SHA256}
		case slices.Contains(own, name):
			c.Study = append(c.Study, name)
		case known:
			c.Other = append(c.Other, name)
		default:
			c.New = append(c.New, name)
		}
	}
	if len(c.Study) == 0 && note.Study != settingsOf(s) { // another study file of the folder, as it was then
		c.Study = append(c.Study, s.File)
	}
	for _, name := range slices.Sorted(maps.Keys(note.Files)) {
		if _, there := now[name]; there {
			continue
		}
		if slices.Contains(own, name) {
			c.Study = append(c.Study, name)
		} else {
			c.Gone = append(c.Gone, name)
		}
	}
	return c, note, ctx.Err()
}

// ownLists are the files that a study names itself, and those that the program
// keeps for it and that change a result.
func ownLists(s *study.Study) []string {
	var out []string
	for _, name := range []string{s.File, study.FrozenFile, s.Roster, s.Assign, s.Notes, s.Privacy.KeyFile, study.PrivateFolder + "/" + tombstoneFile} {
		if name != "" {
			out = append(out, name)
		}
	}
	return out
}

// stampNow is the stamp of a file; the zero one where there is none.
func stampNow(path string) (cache.Stamp, error) {
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return cache.Stamp{}, nil
	}
	if err != nil {
		return cache.Stamp{}, err
	}
	return cache.StampOf(info), nil
}

// surveyed is a file that a run looks at, with the hash of its bytes on disk.
type surveyed struct {
	seenStamp
	sum      string
	compared bool // its bytes were hashed, since its stamp did not settle whether it is the file that a note knows
}

// survey gives stamps and hashes of files of a study, given by their names. Where one
// is known by the same stamp, and that settles it, its hash is taken from there. Those
// that are not there are left out.
func survey(ctx context.Context, s *study.Study, o Options, names []string, known map[string]madeFile) (map[string]surveyed, error) {
	began := time.Now()
	files := make([]surveyed, len(names))
	there := make([]bool, len(names))
	err := each(ctx, len(names), o, LookPhase, func(i int) error {
		info, err := os.Stat(s.Path(names[i]))
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		stamp := cache.StampOf(info)
		f := surveyed{seenStamp: seenStamp{stamp, stamp.Settled(began)}}
		was, isKnown := known[names[i]]
		if isKnown && !o.Rehash && was.Settled && was.Stamp == stamp {
			f.sum = was.SHA256
		}
		if f.sum == "" {
			f.compared = isKnown
			if f.sum, err = hashOnDisk(s.Path(names[i])); errors.Is(err, fs.ErrNotExist) {
				return nil
			}
		}
		files[i], there[i] = f, true
		return err
	})
	out := map[string]surveyed{}
	for i, name := range names {
		if there[i] {
			out[name] = files[i]
		}
	}
	return out, err
}

// surveyAll is survey of every file that a run of the study would look at.
func surveyAll(ctx context.Context, s *study.Study, o Options, note *madeFrom) (map[string]surveyed, error) {
	files, err := s.Find()
	if err != nil {
		return nil, err
	}
	if err := files.Close(); err != nil {
		return nil, err
	}
	var known map[string]madeFile
	if note != nil {
		known = note.Files
	}
	return survey(ctx, s, o, append(files.OnDisk, ownLists(s)...), known)
}

// madeFiles is what a survey is to another one.
func madeFiles(files map[string]surveyed) map[string]madeFile {
	out := make(map[string]madeFile, len(files))
	for name, f := range files {
		out[name] = madeFile{f.seenStamp, f.sum}
	}
	return out
}

// hashOnDisk is the SHA-256 of a file as it lies there.
func hashOnDisk(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	sum := sha256.New()
	_, err = io.Copy(sum, f)
	return hex.EncodeToString(sum.Sum(nil)), errors.Join(err, f.Close())
}

// resultDeparts lists what of the result in the output folder, and of what a run
// writes into the private folder, is not as it was written.
func (n *madeFrom) resultDeparts(s *study.Study) ([]string, error) {
	now, err := resultStamps(s)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, name := range slices.Sorted(maps.Keys(n.Result)) {
		if was := n.Result[name]; was.Stamp != now[name].Stamp {
			out = append(out, name)
		}
		delete(now, name)
	}
	delete(now, EvidencePack) // made from the result, and no run's
	return append(out, slices.Sorted(maps.Keys(now))...), nil
}

// resultStamps are the stamps of all files of the output folder, of the private maps
// and of the private pages. Times of the result need no settling: it was written by a run, and whoever
// writes it anew within the same tick is a run too.
func resultStamps(s *study.Study) (map[string]seenStamp, error) {
	out := map[string]seenStamp{}
	add := func(folder, prefix string) error {
		err := filepath.WalkDir(folder, func(full string, entry fs.DirEntry, err error) error {
			if err != nil || entry.IsDir() {
				return err
			}
			info, err := entry.Info()
			if err != nil {
				return err
			}
			rel, err := filepath.Rel(folder, full)
			out[path.Join(prefix, filepath.ToSlash(rel))] = seenStamp{cache.StampOf(info), true}
			return err
		})
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		return err
	}
	private := filepath.Join(s.Folder, study.PrivateFolder)
	err := add(s.Path(s.Output), "")
	for _, name := range append(privateMaps(), pagesFolder) {
		err = errors.Join(err, add(filepath.Join(private, name), study.PrivateFolder+"/"+name))
	}
	return out, err
}

// readMadeFrom reads the note; nil where there is none, or one that says nothing to
// this version: then the result is made anew.
func readMadeFrom(s *study.Study) (*madeFrom, error) {
	data, err := os.ReadFile(filepath.Join(s.Folder, study.PrivateFolder, madeFromFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("private folder: %w", err)
	}
	var note madeFrom
	if json.Unmarshal(data, &note) != nil || len(note.Result) == 0 {
		return nil, nil
	}
	return &note, nil
}

// noteMadeFrom notes what a result was made from: the files as they were seen before
// the run, without those that are others by now. Of a study that forgot somebody
// nothing is noted, since paths and lists may still name them; it is always run anew.
func noteMadeFrom(s *study.Study, r *Result, before map[string]surveyed) error {
	tombstones, err := readTombstones(s)
	if err != nil {
		return err
	}
	if len(tombstones) > 0 {
		err := os.Remove(filepath.Join(s.Folder, study.PrivateFolder, madeFromFile))
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		return err
	}
	note := &madeFrom{Maker: maker(), Study: settingsOf(s), Files: map[string]madeFile{}, Told: r.told()}
	for name, was := range before {
		after, err := stampNow(s.Path(name))
		if err != nil {
			return err
		}
		file := madeFile{}
		if after == was.Stamp {
			file = madeFile{was.seenStamp, was.sum}
		}
		note.Files[name] = file
	}
	if note.Result, err = resultStamps(s); err != nil {
		return err
	}
	return note.write(s)
}

func (n *madeFrom) write(s *study.Study) error {
	data, err := json.Marshal(n)
	if err != nil {
		return fmt.Errorf("private folder: %w", err)
	}
	return writePrivate(s, madeFromFile, append(data, '\n'))
}
