package table

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strconv"
	"strings"
)

// A Lock keeps other runs away from a result while it is written. The
// operating system holds it for the process (flock, or LockFileEx on Windows),
// so a run that dies holds nothing.
type Lock struct{ file *os.File }

// LockedError says that another run holds the lock.
type LockedError struct {
	Path string // of the lock file
	PID  int    // the process that holds it, 0 when not known
}

func (e *LockedError) Error() string {
	who := "another run"
	if e.PID != 0 {
		who = fmt.Sprintf("another run (process %d)", e.PID)
	}
	return fmt.Sprintf("%s is writing this result; wait until it has ended, or stop it, and start again (its lock is %s)", who, e.Path)
}

// errHeld is what tryLock returns when somebody else has the lock.
var errHeld = errors.New("held by another process")

// AcquireLock takes the lock file at path, creating it, or returns a
// [*LockedError] at once when another run has it. The folder must exist.
func AcquireLock(path string) (*Lock, error) {
	for range 100 {
		file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
		if err != nil {
			return nil, fmt.Errorf("taking the lock: %w", err)
		}
		if err := tryLock(file); err != nil {
			defer file.Close()
			if errors.Is(err, errHeld) {
				return nil, &LockedError{Path: path, PID: holder(file)}
			}
			return nil, fmt.Errorf("taking the lock %s: %w", path, err)
		}
		// The last holder removes the file. If that happened between opening
		// and locking, this lock is on a file that nobody else can see.
		if same, err := stillThere(file, path); err != nil {
			file.Close()
			return nil, fmt.Errorf("taking the lock: %w", err)
		} else if !same {
			file.Close()
			continue
		}
		if err := writeHolder(file); err != nil {
			file.Close()
			return nil, fmt.Errorf("taking the lock %s: %w", path, err)
		}
		return &Lock{file: file}, nil
	}
	return nil, fmt.Errorf("taking the lock %s: other runs keep taking and leaving it; try again", path)
}

// Release gives the lock up and removes its file. A second call does nothing.
func (l *Lock) Release() error {
	if l == nil || l.file == nil {
		return nil
	}
	file := l.file
	l.file = nil
	// Removed while still held: nobody can have locked this file meanwhile.
	// Where an open file cannot be removed it stays, empty of meaning.
	os.Remove(file.Name())
	if err := file.Close(); err != nil {
		return fmt.Errorf("releasing the lock: %w", err)
	}
	return nil
}

func stillThere(file *os.File, path string) (bool, error) {
	ours, err := file.Stat()
	if err != nil {
		return false, err
	}
	theirs, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	return os.SameFile(ours, theirs), nil
}

func writeHolder(file *os.File) error {
	if err := file.Truncate(0); err != nil {
		return err
	}
	_, err := file.WriteAt([]byte(strconv.Itoa(os.Getpid())+"\n"), 0)
	return err
}

func holder(file *os.File) int {
	var text [32]byte
	n, _ := file.ReadAt(text[:], 0) // a short read is the normal case
	pid, err := strconv.Atoi(strings.TrimSpace(string(text[:n])))
	if err != nil {
		return 0
	}
	return pid
}
