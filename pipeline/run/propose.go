package run

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// Proposal is what a look through a folder suggests for a study of its files.
type Proposal struct {
	Activities, Sheets, Logs []string // paths relative to the folder
	Archives                 []string // zip archives, read in place
	Foreign                  []string // files that no reader knows
	Roster, Assign, Notes    string   // lists that are there already
	Patterns                 []study.Input
	Swimmers                 []string         // names that folders, file names and sheets show
	Unowned                  []string         // activity files whose path names nobody
	Refused                  []FileLedger     // sheets of which no row can be used as it is, and why
	Blanks                   map[string]Blank // by pattern: what sheets lack that only a person can say
	Zones                    []string         // time zones that the watches' clocks agree with, the likeliest first
	ZoneSeen                 string           // what that rests on, in words
}

// Blank is what the sheets of a pattern lack, by our columns, and their headers
// that stand for nothing known.
type Blank struct{ Missing, Headers []string }

// blank remembers what a sheet lacks. Sheets of one pattern share an input, so
// that what one of them lacks is asked for all.
func (p *Proposal) blank(rel string, data []byte) {
	missing, headers := read.SheetBlanks(data)
	if len(missing) == 0 || len(headers) == 0 {
		return
	}
	b := p.Blanks[tablePattern(rel)]
	for _, m := range missing {
		if !slices.Contains(b.Missing, m) {
			b.Missing = append(b.Missing, m)
		}
	}
	for _, h := range headers {
		if !slices.Contains(b.Headers, h) {
			b.Headers = append(b.Headers, h)
		}
	}
	p.Blanks[tablePattern(rel)] = b
}

// Propose looks through a folder: every file is tried with the readers, and
// what the paths and sheets say of swimmers is put together. Nothing is
// guessed that a person must know: who swam is proposed only where a folder
// or a file name holds it.
func Propose(folder string) (*Proposal, error) {
	p := &Proposal{Blanks: map[string]Blank{}}
	names := map[string]string{}
	err := filepath.WalkDir(folder, func(full string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if full != folder && strings.HasPrefix(entry.Name(), ".") || entry.IsDir() && entry.Name() == study.PrivateFolder {
			if entry.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if !entry.Type().IsRegular() {
			return nil
		}
		rel, err := filepath.Rel(folder, full)
		if err != nil {
			return err
		}
		return p.look(full, filepath.ToSlash(rel), names)
	})
	if err != nil {
		return nil, fmt.Errorf("looking through %s: %w", folder, err)
	}
	p.activityPatterns(names)
	for _, rel := range p.Archives {
		if err := p.archivePattern(folder, rel, names); err != nil {
			return nil, err
		}
	}
	slices.Sort(p.Unowned)
	if err := p.zone(folder, time.Local.String()); err != nil {
		return nil, err
	}
	p.tablePatterns(study.Sheet, p.Sheets)
	p.tablePatterns(study.HeartRate, p.Logs)
	for _, name := range names {
		p.Swimmers = append(p.Swimmers, name)
	}
	slices.Sort(p.Swimmers)
	return p, nil
}

// activityPatterns proposes how paths name swimmers: a folder each
// (inbox/{swimmer}/*.fit) where two folders or more lie side by side, or one
// alone in a folder that holds no activity file itself; or a name before an
// underscore (inbox/{swimmer}_*.fit) where two names or more occur twice. A
// lone folder at the top is nobody's: it may as well be called watch.
func (p *Proposal) activityPatterns(names map[string]string) {
	type place struct {
		parent string
		below  int // folders without a letter, such as years, between the owner's and the files
	}
	byPlace := map[place][]string{}        // folders with activity files
	owners := map[string]map[string]bool{} // the owners' folders by what holds them
	byFolder := map[string][]string{}
	for _, rel := range p.Activities {
		byFolder[path.Dir(rel)] = append(byFolder[path.Dir(rel)], rel)
	}
	for folder, files := range byFolder {
		owner, below := ownersFolder(folder)
		if owner == "." || len(prefixesOf(files)) >= 2 { // a folder of several names is nobody's own
			continue
		}
		parent := path.Dir(owner)
		byPlace[place{parent, below}] = append(byPlace[place{parent, below}], folder)
		if owners[parent] == nil {
			owners[parent] = map[string]bool{}
		}
		owners[parent][owner] = true
	}
	var patterns []string
	claimed := map[string]bool{}
	for at, folders := range byPlace {
		if len(owners[at.parent]) < 2 && (at.parent == "." || len(byFolder[at.parent]) > 0) {
			continue
		}
		patterns = append(patterns, path.Join(at.parent, "{swimmer}", strings.Repeat("*/", at.below), "*.fit"))
		for _, folder := range folders {
			claimed[folder] = true
			owner, _ := ownersFolder(folder)
			remember(names, path.Base(owner))
		}
	}
	for folder, files := range byFolder {
		if claimed[folder] {
			continue
		}
		if prefixes := prefixesOf(files); len(prefixes) >= 2 {
			patterns = append(patterns, path.Join(folder, "{swimmer}_*.fit"))
			for _, prefix := range prefixes {
				remember(names, prefix)
			}
			for _, rel := range files {
				if !slices.Contains(prefixes, prefixOf(rel)) {
					p.Unowned = append(p.Unowned, rel)
				}
			}
		} else {
			p.Unowned = append(p.Unowned, files...)
		}
		patterns = append(patterns, path.Join(folder, "*.fit"))
	}
	slices.SortFunc(patterns, func(a, b string) int { // patterns that name swimmers first: the first that fits claims a file
		if n, m := strings.Contains(a, "{swimmer}"), strings.Contains(b, "{swimmer}"); n != m {
			if n {
				return -1
			}
			return 1
		}
		return strings.Compare(a, b)
	})
	for _, pattern := range patterns {
		p.Patterns = append(p.Patterns, study.Input{Pattern: pattern, Kind: study.Activity, StrokeCount: study.Cycles})
	}
}

// ownersFolder is the folder whose name may be a swimmer's: that of the files, or
// above folders without a letter, such as years and months; "." where there is none.
func ownersFolder(folder string) (owner string, below int) {
	for owner = folder; owner != "." && strings.IndexFunc(path.Base(owner), isLetter) < 0; owner = path.Dir(owner) {
		below++
	}
	return owner, below
}

// archivePattern proposes how to read one archive of activity files: by the
// folders in it where each file lies in one of several, or else whole, its
// owners to be assigned.
func (p *Proposal) archivePattern(folder, rel string, names map[string]string) error {
	probe := study.Default()
	probe.Folder = folder
	probe.Inputs = []study.Input{{Pattern: rel, Kind: study.Activity, StrokeCount: study.Cycles}}
	files, err := probe.Find()
	if err != nil {
		return err
	}
	defer files.Close()
	owners := map[string]bool{}
	patterns := map[string]bool{}
	for _, f := range files.Found {
		owner, below := ownersFolder(path.Dir(strings.TrimPrefix(f.Rel, rel+"/")))
		if owner == "." {
			patterns[""] = true // nobody's
			continue
		}
		owners[path.Base(owner)] = true
		patterns[path.Join(rel, path.Dir(owner), "{swimmer}", strings.Repeat("*/", below), "*.fit")] = true
	}
	switch {
	case len(files.Found) == 0:
		p.Foreign = append(p.Foreign, rel)
		return nil
	case len(patterns) == 1 && !patterns[""] && len(owners) > 1:
		for pattern := range patterns {
			probe.Inputs[0].Pattern = pattern
		}
		for owner := range owners {
			remember(names, owner)
		}
	default:
		for _, f := range files.Found {
			p.Unowned = append(p.Unowned, f.Rel)
		}
	}
	p.Patterns = append(p.Patterns, probe.Inputs[0])
	return nil
}

func prefixOf(rel string) string {
	prefix, _, found := strings.Cut(path.Base(rel), "_")
	if !found {
		return ""
	}
	return prefix
}

// prefixesOf lists the names before an underscore that occur twice or more
// and hold a letter.
func prefixesOf(files []string) []string {
	counts := map[string]int{}
	for _, rel := range files {
		if prefix := prefixOf(rel); strings.IndexFunc(prefix, isLetter) >= 0 {
			counts[prefix]++
		}
	}
	var out []string
	for prefix, n := range counts {
		if n >= 2 {
			out = append(out, prefix)
		}
	}
	slices.Sort(out)
	return out
}

func isLetter(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r > 127 }

// tablePatterns proposes one pattern a folder and ending.
func (p *Proposal) tablePatterns(kind study.InputKind, files []string) {
	var patterns []string
	for _, rel := range files {
		pattern := tablePattern(rel)
		if !slices.Contains(patterns, pattern) {
			patterns = append(patterns, pattern)
		}
	}
	slices.Sort(patterns)
	for _, pattern := range patterns {
		basis := study.UnknownBasis
		if kind == study.Sheet {
			basis = study.Arms
		}
		p.Patterns = append(p.Patterns, study.Input{Pattern: pattern, Kind: kind, StrokeCount: basis})
	}
}

// tablePattern is the pattern that stands for a sheet or log in the study file.
func tablePattern(rel string) string {
	if path.Dir(rel) == "." {
		return rel // beside the study's own lists: name the file
	}
	return path.Join(path.Dir(rel), "*"+path.Ext(rel))
}

// ErrNoFiles says that a folder holds nothing that a study could read.
var ErrNoFiles = errors.New("no activity file, lane sheet or heart-rate log was found")

// Write puts study file, key, roster and assign file into the folder and
// lists what it wrote. A file that is there already is never changed: beside a
// study file only what it cannot do without is added, the key.
func (p *Proposal) Write(folder, timeZone string) ([]string, error) {
	drafts := []draft{{IgnoreFile, []byte(Ignored)}}
	_, err := os.Stat(filepath.Join(folder, "study.yaml"))
	switch {
	case err == nil: // a study is there
	case len(p.Patterns) == 0:
		return nil, ErrNoFiles
	default:
		drafts = append(drafts, draft{"study.yaml", p.StudyFile(filepath.Base(folder), timeZone)})
		if p.Roster == "" {
			drafts = append(drafts, draft{"roster.csv", p.RosterFile()})
		}
		if p.Assign == "" && len(p.Unowned) > 0 {
			drafts = append(drafts, draft{"assign.csv", p.AssignFile()})
		}
	}
	var written []string
	for _, d := range drafts {
		wrote, err := d.write(folder)
		if err != nil {
			return written, err
		}
		if wrote {
			written = append(written, d.name)
		}
	}
	err = identity.CreateKey(filepath.Join(folder, "study.key"))
	switch {
	case err == nil:
		written = append(written, "study.key")
	case !errors.Is(err, fs.ErrExist):
		return written, err
	}
	if len(written) == 0 {
		return nil, fmt.Errorf("%s: study file and key are there already (%w); they are left as they are", folder, fs.ErrExist)
	}
	return written, nil
}

// IgnoreFile keeps what must stay with the squad out of version control;
// Ignored is what it holds.
const (
	IgnoreFile = ".gitignore"
	Ignored    = "study.key\nprivate/\nout/\n.out.*\n"
)

// draft is a file to be written.
type draft struct {
	name string
	data []byte
}

// write writes the file unless it is there already.
func (d draft) write(folder string) (bool, error) {
	file, err := os.OpenFile(filepath.Join(folder, d.name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	_, err = file.Write(d.data)
	return true, errors.Join(err, file.Close())
}
