package table

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync"

	"golang.org/x/sync/errgroup"

	"lengthwise/schemas"
)

// A Stage collects a result, file by file, in a folder beside its target and
// puts it in place whole. The folders are siblings of the target, so they are
// on the same file system and a rename moves them at once:
//
//	out            the result in force
//	.out.staging   a result being written
//	.out.ready     a result written whole and safe on disk, to be put in place
//	.out.swap      a ready result about to change places with the old one; then the old one
//	.out.next      names the result that is to be in force, while there is a swap
//	.out.aside     the old result, where folders cannot change places at once
//	.out.lock      held while a stage is open
//
// Where the system lets two folders change places in one step, Commit goes
// staging -> ready, ready -> swap, swap <-> out, remove swap: at every moment
// the old result or the new one is in force. Elsewhere it goes staging ->
// ready, out -> aside, ready -> out, remove aside, and between two renames
// there is an instant without a result under the target's name. A reader never
// finds a mixture. Each step is made durable before the next. What [Recover]
// does follows from which folders a crash left:
//
//	staging            never finished: removed
//	ready, out         complete, not yet in place: put in place
//	ready, aside       the same, between the two renames: put in place
//	ready              the same, with no result before it: put in place
//	out, swap          next tells which of the two is new: it is put in place, the other removed
//	out, aside         in place: what is left of the old result is removed
//	aside alone        no new result survived: the old one is put back
//
// Files may be created by several goroutines at once.
type Stage struct {
	place  place
	lock   *Lock
	mu     sync.Mutex
	open   map[string]bool
	failed error
	done   bool
	after  stepHook
}

// place names a target and its siblings. The marker is a file that every
// result has at its top; a folder without it is not ours to replace.
type place struct {
	parent, target, staging, ready, swap, next, aside, lock, marker string

	// exchange lets two folders change places in one step; nil where the
	// system has no such call.
	exchange func(a, b string) error
}

// ErrForeign says that the target holds something other than a result.
var ErrForeign = errors.New("not a result of this tool")

func placeOf(target, marker string) (place, error) {
	if marker == "" || filepath.Base(marker) != marker {
		return place{}, fmt.Errorf("the marker %q is not a plain file name", marker)
	}
	abs, err := filepath.Abs(target)
	if err != nil {
		return place{}, fmt.Errorf("the folder for the result: %w", err)
	}
	// A target that is a link stays one: what it points to is replaced.
	if real, err := filepath.EvalSymlinks(abs); err == nil {
		abs = real
	} else if !errors.Is(err, fs.ErrNotExist) {
		return place{}, fmt.Errorf("the folder for the result: %w", err)
	}
	parent, name := filepath.Split(abs)
	if name == "" {
		return place{}, fmt.Errorf("%s cannot be the folder for the result: it has no folder above it", abs)
	}
	sibling := func(role string) string { return filepath.Join(parent, "."+name+"."+role) }
	return place{
		parent: parent, target: abs, marker: marker,
		staging: sibling("staging"), ready: sibling("ready"), swap: sibling("swap"), next: sibling("next"),
		aside: sibling("aside"), lock: sibling("lock"), exchange: exchange,
	}, nil
}

// Begin locks the target, settles what a crash left behind and opens an empty
// stage for a new result. The marker is the name of a file at the top of every
// result (run.json): a target that exists, is not empty and lacks it is
// somebody's folder, and is refused with [ErrForeign]. A second run gets a
// [*LockedError]. The caller ends the stage with Commit or Abort.
func Begin(target, marker string) (*Stage, error) {
	p, err := placeOf(target, marker)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(p.parent, 0o755); err != nil {
		return nil, fmt.Errorf("the folder for the result: %w", err)
	}
	lock, err := AcquireLock(p.lock)
	if err != nil {
		return nil, err
	}
	err = p.ours()
	if err == nil {
		_, err = p.settle()
	}
	if err == nil {
		err = os.Mkdir(p.staging, 0o755)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("preparing %s: %w", target, err), lock.Release())
	}
	return &Stage{place: p, lock: lock, open: make(map[string]bool)}, nil
}

// ours returns nil when the target is absent, empty or a result.
func (p place) ours() error {
	entries, err := os.ReadDir(p.target)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return fmt.Errorf("the folder for the result: %w", err)
	case len(entries) == 0:
		return nil
	}
	if _, err := os.Stat(filepath.Join(p.target, p.marker)); err != nil {
		return fmt.Errorf("%s holds files but no %s: %w; it is left as it is, choose another folder or empty it",
			p.target, p.marker, ErrForeign)
	}
	return nil
}

// Create opens a new file of the result for writing; rel is its path within
// it. Folders are made as needed. Commit makes the file durable, and closing it
// Commit refuses as long as one is open.
func (s *Stage) Create(rel string) (io.WriteCloser, error) {
	rel = filepath.FromSlash(rel)
	if !filepath.IsLocal(rel) {
		return nil, fmt.Errorf("%q is not a path within the result", rel)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.done {
		return nil, errors.New("the stage is closed")
	}
	path := filepath.Join(s.place.staging, rel)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return nil, fmt.Errorf("staging %s: %w", rel, err)
	}
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return nil, fmt.Errorf("staging %s: %w", rel, err)
	}
	s.open[path] = true
	return &stagedFile{stage: s, file: file}, nil
}

// WriteFile puts a whole file into the result.
func (s *Stage) WriteFile(rel string, content []byte) error {
	w, err := s.Create(rel)
	if err != nil {
		return err
	}
	_, err = w.Write(content)
	return errors.Join(err, w.Close())
}

// Path is where a file of the result is while it is staged.
func (s *Stage) Path(rel string) string {
	return filepath.Join(s.place.staging, filepath.FromSlash(rel))
}

// StageTable writes a table into the result, reads it back
// and compares it with what was meant.
func StageTable[T any](s *Stage, rel string, d schemas.Description, rows []T, options ...WriterOption) (Digest, error) {
	t, err := StageRows[T](s, rel, d, options...)
	if err != nil {
		return Digest{}, err
	}
	if err := t.Write(rows); err != nil {
		return Digest{}, errors.Join(err, t.Abandon())
	}
	return t.Close()
}

// Staged is a table of the result that is being written, for rows that are not
// in memory all at once.
type Staged[T any] struct {
	stage *Stage
	rel   string
	file  io.WriteCloser
	rows  *Writer[T]
	err   error
}

// StageRows begins a table of the result. The caller ends it with Close.
func StageRows[T any](s *Stage, rel string, d schemas.Description, options ...WriterOption) (*Staged[T], error) {
	file, err := s.Create(rel)
	if err != nil {
		return nil, err
	}
	rows, err := NewWriter[T](file, d, options...)
	if err != nil {
		return nil, s.fail(errors.Join(err, file.Close()))
	}
	return &Staged[T]{stage: s, rel: rel, file: file, rows: rows}, nil
}

// Write adds rows; see [Writer.Write]. A failure keeps the stage from being
// committed.
func (t *Staged[T]) Write(rows []T) error {
	if err := t.rows.Write(rows); err != nil {
		t.err = t.stage.fail(err)
	}
	return t.err
}

// Abandon closes the file of a table that will not be finished; the stage cannot
// be committed any more.
func (t *Staged[T]) Abandon() error {
	t.stage.fail(fmt.Errorf("%s was not finished", t.rel))
	return t.file.Close()
}

// Close finishes the table, reads it back and compares it with what was
// meant.
func (t *Staged[T]) Close() (Digest, error) {
	digest, err := t.rows.Close()
	if err = errors.Join(err, t.file.Close()); err != nil {
		return Digest{}, t.stage.fail(err)
	}
	if err := VerifyDigest(t.stage.Path(t.rel), digest); err != nil {
		return Digest{}, t.stage.fail(err)
	}
	return digest, nil
}

// fail keeps a stage with a bad file from being committed.
func (s *Stage) fail(err error) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.failed == nil {
		s.failed = err
	}
	return err
}

// stagedFile remembers in its stage that it is open, or could not be written.
type stagedFile struct {
	stage *Stage
	file  *os.File
}

func (f *stagedFile) Write(p []byte) (int, error) {
	n, err := f.file.Write(p)
	if err != nil {
		f.stage.fail(err)
	}
	return n, err
}

// Close closes the file; Commit makes it durable.
func (f *stagedFile) Close() error {
	if err := f.file.Close(); err != nil {
		return f.stage.fail(fmt.Errorf("staging: %w", err))
	}
	f.stage.mu.Lock()
	defer f.stage.mu.Unlock()
	delete(f.stage.open, f.file.Name())
	return nil
}

// Abort removes what was staged and leaves the old result as it is. After
// Commit or a first Abort it does nothing, so that it can be deferred.
func (s *Stage) Abort() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.done {
		return nil
	}
	s.done = true
	return errors.Join(os.RemoveAll(s.place.staging), s.lock.Release())
}

// atOnce is how many files are made durable at the same time: file systems with a
// journal write many at once in hardly more time than one.
const atOnce = 16

// syncTree makes a folder's files and entries durable.
func syncTree(dir string) error {
	var group errgroup.Group
	group.SetLimit(atOnce)
	var folders []string
	err := filepath.WalkDir(dir, func(path string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case entry.IsDir():
			folders = append(folders, path)
		default:
			group.Go(func() error { return syncFile(path) })
		}
		return nil
	})
	if err := errors.Join(err, group.Wait()); err != nil {
		return err
	}
	for _, folder := range folders {
		if err := syncDir(folder); err != nil {
			return err
		}
	}
	return nil
}

// syncFile makes a file's content durable.
func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0) // some systems sync no file that is open for reading alone
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// syncDir makes the names in a folder durable. Windows offers no such call and
// journals renames itself.
func syncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
