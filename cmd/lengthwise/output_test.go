package main

import (
	"bytes"
	"context"
	"os"
	"strings"
	"syscall"
	"testing"
	"time"
)

// fullDisk takes some bytes and no more.
type fullDisk struct{ room int }

func (d *fullDisk) Write(p []byte) (int, error) {
	n := min(d.room, len(p))
	d.room -= n
	if n < len(p) {
		return n, syscall.ENOSPC
	}
	return n, nil
}

// What cannot be printed is a failure, whatever the command and wherever the
// room runs out.
func TestFullStandardOutput(t *testing.T) {
	for _, c := range []struct {
		args []string
		room int
	}{
		{[]string{"version"}, 0},
		{[]string{"version"}, 5},
		{[]string{"help"}, 0},
		{[]string{"help", "check"}, 40},
		{[]string{"completion", "bash"}, 100},
		{[]string{"init", "."}, 0},
		{[]string{"init", "."}, 3},
	} {
		var words bytes.Buffer
		folder := t.TempDir()
		if err := os.WriteFile(folder+"/a.fit", []byte("x"), 0o644); err != nil {
			t.Fatal(err)
		}
		o := outside{stdout: &fullDisk{c.room}, stderr: &words, folder: folder, width: 80}
		if code := runCommand(context.Background(), c.args, o); code != exitFailed {
			t.Errorf("%q with room for %d: exit code %d", c.args, c.room, code)
		}
		if n := strings.Count(words.String(), "standard output: no space left on device"); n != 1 {
			t.Errorf("%q with room for %d says %q", c.args, c.room, words.String())
		}
	}
}

func TestTerminateInterrupts(t *testing.T) {
	for _, s := range []os.Signal{os.Interrupt, syscall.SIGTERM} {
		ctx, stop := interruptible(context.Background())
		own, err := os.FindProcess(os.Getpid())
		if err != nil {
			t.Fatal(err)
		}
		if err := own.Signal(s); err != nil {
			t.Skipf("this system cannot send %v: %v", s, err)
		}
		select {
		case <-ctx.Done():
		case <-time.After(10 * time.Second):
			t.Errorf("%v does not end the command", s)
		}
		stop()
		if code := exitCode(ctx, ctx.Err()); code != exitInterrupted {
			t.Errorf("%v ends with %d", s, code)
		}
	}
}
