package table

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// stepHook is called between the steps of Commit; tests die there.
type stepHook func(step string)

func (h stepHook) call(step string) {
	if h != nil {
		h(step)
	}
}

const (
	stepReady = "ready" // staging has become ready
	stepSwap  = "swap"  // ready has become swap, and next names it
	stepAside = "aside" // the old result, if any, has become aside
	stepPlace = "place" // ready has become the target
)

// Commit puts the staged result in place of the old one and ends the stage. On
// an error before the new result is in place, the old one is in force as
// before and the staged one is gone. It refuses a result that lacks the
// marker, has an open file or one that could not be written or verified.
func (s *Stage) Commit() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.done {
		return errors.New("the stage is closed")
	}
	s.done = true
	p := s.place
	err := s.ready()
	if err == nil {
		err = p.finish(s.after)
	}
	if err != nil {
		err = errors.Join(fmt.Errorf("committing %s: %w", p.target, err),
			os.RemoveAll(p.staging), os.RemoveAll(p.ready))
	}
	return errors.Join(err, s.lock.Release())
}

// ready checks the staged result, makes it durable and renames it to ready.
func (s *Stage) ready() error {
	p := s.place
	if s.failed != nil {
		return fmt.Errorf("a file of the result is bad: %w", s.failed)
	}
	if len(s.open) > 0 {
		names := make([]string, 0, len(s.open))
		for name := range s.open {
			names = append(names, filepath.Base(name))
		}
		slices.Sort(names)
		return fmt.Errorf("files are still being written: %s", strings.Join(names, ", "))
	}
	if _, err := os.Stat(filepath.Join(p.staging, p.marker)); err != nil {
		return fmt.Errorf("the result lacks its %s: %w", p.marker, err)
	}
	if err := syncTree(p.staging); err != nil {
		return err
	}
	if err := p.rename(p.staging, p.ready); err != nil {
		return err
	}
	s.after.call(stepReady)
	return nil
}

// finish puts a ready result in place. It serves Commit and Recover.
func (p place) finish(after stepHook) error {
	if err := p.ours(); err != nil {
		return err
	}
	if exists(p.target) && p.exchange != nil {
		if err := p.changePlaces(after); !errors.Is(err, errors.ErrUnsupported) {
			return err
		}
	}
	if exists(p.target) {
		if err := p.rename(p.target, p.aside); err != nil {
			return err
		}
	}
	after.call(stepAside)
	if err := p.rename(p.ready, p.target); err != nil {
		if !exists(p.target) && exists(p.aside) {
			err = errors.Join(err, p.rename(p.aside, p.target))
		}
		return err
	}
	after.call(stepPlace)
	return p.removeAside()
}

func (p place) removeAside() error {
	if err := os.RemoveAll(p.aside); err != nil {
		return fmt.Errorf("the result is in place, but the old one could not be removed from %s: %w", p.aside, err)
	}
	return syncDir(p.parent)
}

// changePlaces puts a ready result in the old one's place in one step. It
// returns [errors.ErrUnsupported], with ready as it was, where the file system
// cannot.
func (p place) changePlaces(after stepHook) error {
	id, err := p.identity(p.ready)
	if err != nil {
		return err
	}
	if err := writeDurable(p.next, []byte(id)); err != nil {
		return err
	}
	if err := p.rename(p.ready, p.swap); err != nil {
		return errors.Join(err, os.Remove(p.next))
	}
	after.call(stepSwap)
	if err := p.exchange(p.swap, p.target); err != nil {
		return errors.Join(err, p.rename(p.swap, p.ready), os.Remove(p.next))
	}
	if err := syncDir(p.parent); err != nil {
		return err
	}
	after.call(stepPlace)
	return p.removeSwap()
}

// identity tells results apart: the hash of the marker, which records what the
// result holds.
func (p place) identity(folder string) (string, error) {
	data, err := os.ReadFile(filepath.Join(folder, p.marker))
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:]), nil
}

func (p place) removeSwap() error {
	if err := errors.Join(os.RemoveAll(p.swap), removeIfThere(p.next)); err != nil {
		return fmt.Errorf("the result is in place, but the old one could not be removed from %s: %w", p.swap, err)
	}
	return syncDir(p.parent)
}

// settleSwap ends an exchange that a crash interrupted. Whichever of the two
// folders is the one that next names is put in force.
func (p place) settleSwap() (Recovery, error) {
	if !exists(p.swap) {
		return NothingToRecover, removeIfThere(p.next)
	}
	if err := p.ours(); err != nil {
		return "", err
	}
	os.Remove(p.target) // an empty folder is no result: somebody made it since
	if !exists(p.target) {
		if err := p.rename(p.swap, p.target); err != nil {
			return "", err
		}
		return Finished, removeIfThere(p.next)
	}
	next, err := os.ReadFile(p.next)
	if err != nil {
		return "", err
	}
	if id, err := p.identity(p.target); err != nil || id == string(next) {
		if err == nil {
			err = p.removeSwap()
		}
		return Cleaned, err
	}
	if id, err := p.identity(p.swap); err != nil || id != string(next) {
		return "", fmt.Errorf("neither %s nor %s is the result that %s names: move one of them away", p.target, p.swap, p.next)
	}
	// The folders never changed places: from here on as with a ready result.
	if err := p.rename(p.swap, p.ready); err != nil {
		return "", err
	}
	return NothingToRecover, removeIfThere(p.next)
}

func removeIfThere(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

func writeDurable(path string, data []byte) error {
	file, err := os.Create(path)
	if err != nil {
		return err
	}
	_, err = file.Write(data)
	return errors.Join(err, file.Sync(), file.Close())
}

// rename moves a folder and makes the move durable.
func (p place) rename(from, to string) error {
	if err := os.Rename(from, to); err != nil {
		return err
	}
	return syncDir(p.parent)
}

// exists also holds for what cannot be looked at, so that nothing is taken for
// absent that may be there.
func exists(path string) bool {
	_, err := os.Lstat(path)
	return !errors.Is(err, fs.ErrNotExist)
}

// Recovery says what [Recover] found and did.
type Recovery string

// What a crash can have left, see [Stage].
const (
	NothingToRecover Recovery = "nothing to recover"
	RolledBack       Recovery = "removed a result that was never finished"
	Finished         Recovery = "put a finished result in place"
	Cleaned          Recovery = "removed the rest of a replaced result"
	Restored         Recovery = "put the old result back"
)

// Recover settles what a crashed run left beside the target: a finished result
// is put in place, an unfinished one removed, an old one without successor put
// back. It is safe to call at any time; while another run is writing it
// returns that run's [*LockedError] and touches nothing. Begin does the same
// by itself.
func Recover(target, marker string) (Recovery, error) {
	p, err := placeOf(target, marker)
	if err != nil {
		return "", err
	}
	if !exists(p.parent) {
		return NothingToRecover, nil
	}
	lock, err := AcquireLock(p.lock)
	if err != nil {
		return "", err
	}
	done, err := p.settle()
	if err = errors.Join(err, lock.Release()); err != nil {
		return "", fmt.Errorf("recovering %s: %w", target, err)
	}
	return done, nil
}

// settle is Recover under the lock.
func (p place) settle() (Recovery, error) {
	done := NothingToRecover
	if exists(p.staging) {
		if err := os.RemoveAll(p.staging); err != nil {
			return "", err
		}
		done = RolledBack
	}
	swapped, err := p.settleSwap()
	if err != nil {
		return "", err
	}
	if swapped != NothingToRecover {
		done = swapped
	}
	target, ready, aside := exists(p.target), exists(p.ready), exists(p.aside)
	if target && aside {
		if err := p.ours(); err != nil {
			return "", err
		}
		// An empty folder is no successor: somebody made it since.
		if os.Remove(p.target) == nil {
			target = false
		}
	}
	if target && aside { // the old result has a successor in place
		if err := p.removeAside(); err != nil {
			return "", err
		}
		done = Cleaned
	}
	switch {
	case ready:
		if err := p.finish(nil); err != nil {
			return "", err
		}
		done = Finished
	case aside && !target:
		if err := p.rename(p.aside, p.target); err != nil {
			return "", err
		}
		done = Restored
	}
	return done, nil
}
