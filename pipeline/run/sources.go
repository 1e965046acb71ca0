package run

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"lengthwise/pipeline/cache"
	"lengthwise/pipeline/cache/wire"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
)

// largestInput bounds what is read into memory at once.
const largestInput = 1 << 30

// Input is one input file as run.json records it: by id, never by path.
type Input struct {
	FileID string          `json:"file_id"`
	Kind   study.InputKind `json:"kind"`
	Bytes  int64           `json:"bytes"`
	SHA256 string          `json:"sha256"`
}

// Sources is everything that the study's files gave, names already replaced.
type Sources struct {
	Files     []read.File // in order of path; their recordings are packed away
	Inputs    []Input     // of the same files
	Notes     []read.Note
	Entries   []read.Entry // of roster, assign file, notes and unreadable files
	Registry  *identity.Registry
	Unmatched []study.Unmatched

	// Private: what maps ids back. It must not leave the private folder and
	// the terminal.
	Found     []study.Found // of the same files
	Seen      []identity.Seen
	Attention Attention

	held   [][]held // recordings of the same files
	zones  []*time.Location
	packed spill // where no cache is
	shelf  *shelf
	onDisk []string // what was looked at to find the files

	inBucket [table.Buckets]int // files in each bucket of the read stage
	reader   *reader

	mu       sync.Mutex
	segments []*cache.Segment // where the recordings lie
}

// Close lets go of the recordings.
func (src *Sources) Close() error {
	err := src.packed.close()
	for _, s := range src.segments {
		err = errors.Join(err, s.Close())
	}
	src.segments = nil
	return err
}

// readPlan says what of a study is read, and how.
type readPlan struct {
	keep  func(fileID string) bool // the files to read; nil for all
	shelf *shelf
	known map[string]madeFile // hashes of files by path, for the stamps that they had
	turn  turn
}

// readSources reads a study's files: roster, assign file and notes, then the inputs on
// several workers. What is on the shelf of files with the same hashes is not read
// again. The caller closes what it gets.
func readSources(ctx context.Context, s *study.Study, o Options, plan readPlan) (_ *Sources, err error) {
	src := &Sources{zones: zonesOf(s), shelf: plan.shelf}
	src.packed = spill{from: spillFrom, packer: read.Packer{Zones: src.zones}}
	defer func() {
		if err != nil {
			err = errors.Join(err, src.Close())
		}
	}()
	members, err := src.roster(s)
	if err != nil {
		return nil, err
	}
	assignments, err := src.assignments(s)
	if err != nil {
		return nil, err
	}
	var key []byte
	if !s.Privacy.AsGiven {
		if key, err = identity.LoadKey(s.Path(s.Privacy.KeyFile)); err != nil {
			return nil, err
		}
	}
	if src.Registry, err = identity.New(s.Privacy, key, members, assignments); err != nil {
		return nil, err
	}
	if err := src.forget(s, key); err != nil {
		return nil, err
	}
	files, err := s.Find()
	if err != nil {
		return nil, err
	}
	if plan.keep != nil {
		files.Found = slices.DeleteFunc(files.Found, func(f study.Found) bool { return !plan.keep(src.Registry.FileID(f.Rel)) })
	}
	src.Found, src.Unmatched, src.onDisk = files.Found, files.Unmatched, files.OnDisk
	src.reader = &reader{study: s, src: src, shelf: plan.shelf, known: plan.known, turn: plan.turn, who: whoIsWho(members, assignments, key)}
	if err := errors.Join(src.inputs(ctx, o), files.Close()); err != nil {
		return nil, err
	}
	if plan.turn.phase == ReadPhase { // that was this machine's part
		return src, nil
	}
	src.assigned(s, assignments)
	if err := src.notes(s); err != nil {
		return nil, err
	}
	src.withoutNamesInNotes(s)
	if err := src.Registry.Collisions(); err != nil {
		return nil, err
	}
	src.refuseTwoOwners()
	src.Seen = append(src.Seen, src.Registry.MemberNames()...)
	return src, nil
}

func (src *Sources) roster(s *study.Study) ([]identity.Member, error) {
	if s.Roster == "" {
		return nil, nil
	}
	data, err := readList(s, "roster", s.Roster)
	if err != nil {
		return nil, err
	}
	members, entries, err := read.Roster(data)
	if err != nil {
		return nil, fmt.Errorf("roster %s: %w", s.Roster, err)
	}
	src.Entries = append(src.Entries, entries...)
	header, err := read.ReadRosterHeader(data)
	if err != nil {
		return nil, fmt.Errorf("roster %s: %w", s.Roster, err)
	}
	src.Attention.Roster, src.Attention.ConsentColumn, src.Attention.RosterColumns = s.Roster, header.Consent, header.Unknown
	src.Attention.members(members)
	if members == nil {
		members = []identity.Member{} // a roster without rows is still a roster
	}
	return members, nil
}

func (src *Sources) assignments(s *study.Study) ([]identity.Assignment, error) {
	if s.Assign == "" {
		return nil, nil
	}
	data, err := readList(s, "assign", s.Assign)
	if err != nil {
		return nil, err
	}
	assignments, entries, err := read.Assignments(data)
	if err != nil {
		return nil, fmt.Errorf("assign file %s: %w", s.Assign, err)
	}
	src.Entries = append(src.Entries, entries...)
	return assignments, nil
}

func (src *Sources) notes(s *study.Study) error {
	if s.Notes == "" {
		return nil
	}
	data, err := readList(s, "notes", s.Notes)
	if err != nil {
		return err
	}
	var seen []identity.Seen
	notes, entries, err := read.Notes(data, func(name string) identity.Owner {
		owner := src.Registry.ByName(name)
		seen = append(seen, identity.Seen{Swimmer: owner.Swimmer, Name: name})
		return owner
	})
	if err != nil {
		return fmt.Errorf("notes %s: %w", s.Notes, err)
	}
	src.Notes = notes
	src.Attention.Unknown = append(src.Attention.Unknown, unknownNames(s.Notes, seen, src.Registry)...)
	src.Entries = append(src.Entries, entries...)
	return nil
}

// inputs reads the found files; results keep the order of the files whatever
// the order in which workers finish.
func (src *Sources) inputs(ctx context.Context, o Options) (err error) {
	r := src.reader
	r.how = howToRead{workers: o.workers(), zones: src.zones, longFrom: cmp.Or(o.longFrom, longSheetFrom)}
	if r.codec, err = wire.For[reading](); err != nil {
		return err
	}
	n := len(src.Found)
	src.Files, src.Inputs, src.held = make([]read.File, n), make([]Input, n), make([][]held, n)
	seen := make([][]identity.Seen, n)
	var buckets [table.Buckets][]int
	for i, found := range src.Found {
		b := readBucket(src.Registry.FileID(found.Rel))
		buckets[b] = append(buckets[b], i)
		src.inBucket[b]++
	}
	if err := r.survey(ctx, o, buckets[:]); err != nil {
		return err
	}
	all := 0
	for b, files := range buckets {
		if r.turn.looksAt(readStage, b) {
			all += len(files)
		}
	}
	err = eachOf(ctx, len(buckets), all, o, ReadPhase, func(b int, done func()) error {
		if !r.turn.looksAt(readStage, b) {
			return nil
		}
		return r.bucket(ctx, b, buckets[b], seen, done)
	})
	if err != nil {
		return err
	}
	for i, names := range seen {
		src.Attention.Unknown = append(src.Attention.Unknown, unknownNames(src.Found[i].Rel, names, src.Registry)...)
		for _, name := range names {
			if name.Swimmer != "" {
				src.Seen = append(src.Seen, name)
			}
		}
	}
	return nil
}

// withoutNames is an error's text as it may stand in a ledger. Readers name
// files by id alone; this takes the chain of wrapping words off.
func withoutNames(err error) string {
	var not *read.NotActivityError
	if errors.As(err, &not) {
		return "not an activity file: " + not.Reason
	}
	return err.Error()
}

// refuseTwoOwners refuses the recordings that two swimmers hold.
func (src *Sources) refuseTwoOwners() {
	var holdings []normalise.Holding
	for _, file := range src.held {
		for _, h := range file {
			holdings = append(holdings, h.Holding)
		}
	}
	type recording struct {
		file string
		part int
	}
	doubtful := map[recording]bool{}
	for _, h := range normalise.AcrossSwimmers(holdings) {
		doubtful[recording{h.FileID, h.Part}] = true
	}
	for _, file := range src.held {
		for i := range file {
			if h := &file[i]; h.Refused == "" && doubtful[recording{h.FileID, h.Part}] {
				h.Refused = normalise.RuleTwoOwners
			}
		}
	}
}

// nameLists gives the entries of roster, assign file and notes the ids of
// their files, which their readers are not told.
func (src *Sources) nameLists(entries []read.Entry, s *study.Study) {
	lists := map[read.RecordKind]string{read.KindRoster: s.Roster, read.KindAssign: s.Assign, read.KindNote: s.Notes}
	for i := range entries {
		if name := lists[entries[i].Kind]; name != "" && entries[i].FileID == "" {
			entries[i].FileID = src.Registry.FileID(name)
		}
	}
}

// bySwimmer sorts recordings by pseudonym; those of nobody are under "".
func (src *Sources) bySwimmer() map[string][]held {
	own := map[string][]held{}
	for _, file := range src.held {
		for _, h := range file {
			own[h.Swimmer] = append(own[h.Swimmer], h)
		}
	}
	return own
}

// readList reads one of the study's own lists; key is its setting in the study
// file.
func readList(s *study.Study, key, name string) ([]byte, error) {
	data, err := readFile(s.Path(name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: %w; put the file there, or name another one or none in the study file (%s: %s)", key, err, key, name)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", key, err)
	}
	return data, nil
}

// errTooLong says that a file is too long to be held.
var errTooLong = errors.New("more than one input may hold")

// readFile reads a whole file and says in words why it cannot.
func readFile(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if info.Size() > largestInput {
		return nil, fmt.Errorf("%s: %d MB is %w (%d MB); split it", path, info.Size()>>20, errTooLong, largestInput>>20)
	}
	return os.ReadFile(path)
}

// names is the private map from pseudonyms to names: the roster's spelling,
// or the first in order where files show several.
func (src *Sources) names() map[string]string {
	names := map[string]string{}
	for _, seen := range src.Seen {
		have, ok := names[seen.Swimmer]
		if !ok || strings.Compare(seen.Name, have) < 0 {
			names[seen.Swimmer] = seen.Name
		}
	}
	for _, m := range src.Registry.MemberNames() { // the roster's spelling wins
		names[m.Swimmer] = m.Name
	}
	return names
}
