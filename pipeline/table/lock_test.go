package table

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// TestLockOfAnotherRun starts a run that holds the lock, is refused, kills it
// and is let in.
func TestLockOfAnotherRun(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a process")
	}
	target := filepath.Join(t.TempDir(), "out")
	publish(t, target, "old")
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), crashEnv+"="+target+"|hold")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer cmd.Process.Kill()
	if line, err := bufio.NewReader(out).ReadString('\n'); line != "holding\n" {
		t.Fatalf("%q (%v)", line, err)
	}
	_, err = Begin(target, "run.json")
	locked := asError[*LockedError](t, err)
	if locked.PID != cmd.Process.Pid {
		t.Errorf("process %d instead of %d", locked.PID, cmd.Process.Pid)
	}
	wantError(t, err, "is writing this result", "wait until it has ended")
	_, err = Recover(target, "run.json")
	asError[*LockedError](t, err)
	if !exists(filepath.Join(filepath.Dir(target), ".out.staging")) {
		t.Error("the refused run removed the other's staging folder")
	}
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	cmd.Wait()
	publish(t, target, "new")
	if got := result(t, target); got != "new" {
		t.Errorf("result %q", got)
	}
}

func TestLockTwice(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lock")
	first, err := AcquireLock(path)
	if err != nil {
		t.Fatal(err)
	}
	_, err = AcquireLock(path)
	if locked := asError[*LockedError](t, err); locked.PID != os.Getpid() || locked.Path != path {
		t.Errorf("%+v", locked)
	}
	for range 2 {
		if err := first.Release(); err != nil {
			t.Fatal(err)
		}
	}
	second, err := AcquireLock(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := second.Release(); err != nil {
		t.Fatal(err)
	}
	if exists(path) {
		t.Error("the lock file stays")
	}
	if _, err := AcquireLock(filepath.Join(path, "deeper", "lock")); err == nil {
		t.Error("a lock in no folder")
	}
}

// TestLockAlone lets many take and release the lock: the removal of its file
// must never let two in.
func TestLockAlone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lock")
	var inside, taken atomic.Int64
	var wait sync.WaitGroup
	for range 8 {
		wait.Go(func() {
			for range 200 {
				l, err := AcquireLock(path)
				if err != nil {
					continue // held, or changing hands
				}
				if inside.Add(1) != 1 {
					t.Error("two hold the lock")
				}
				taken.Add(1)
				time.Sleep(20 * time.Microsecond) // let others try
				inside.Add(-1)
				if err := l.Release(); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wait.Wait()
	if taken.Load() == 0 {
		t.Error("nobody got it")
	}
}

func TestStillThere(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lock")
	ours, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer ours.Close()
	check := func(want bool) {
		t.Helper()
		if got, err := stillThere(ours, path); got != want || err != nil {
			t.Errorf("still there: %t (%v), want %t", got, err, want)
		}
	}
	check(true)
	if err := os.Rename(path, path+".old"); err != nil { // ours keeps its inode
		t.Skip("an open file cannot be moved here: ", err)
	}
	check(false)
	if err := os.WriteFile(path, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	check(false)
}
