package main

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
)

// adversity is what goes wrong in a file system of its own, that of a small disk.
// Each case is a line of shell between a first run (seed 1) and a look at what is
// left: the study's result must be the old one whole, and once the trouble is over
// the next run (seed 2) must complete.
const adversity = `set -e
disk=$1 lengthwise=$2 squad=$3 trouble=$4
mount -t tmpfs -o size=16m tmpfs "$disk"
cp -r "$squad"/. "$disk"
cd "$disk"
"$lengthwise" run -q --study study-1.yaml
cp out/run.json "$squad/old.json"
` + `if [ "$trouble" = read-only ]; then
  mount -o remount,ro "$disk"
else
  free=$(df -k --output=avail "$disk" | tail -1)
  dd if=/dev/zero of=filler bs=1k count=$((free - trouble)) 2>/dev/null
fi
code=0
"$lengthwise" run -q --study study-2.yaml 2> "$squad/words.txt" || code=$?
echo "code $code"
cmp out/run.json "$squad/old.json" && echo old
"$lengthwise" verify --tables out > /dev/null && echo whole
if [ "$trouble" = read-only ]; then mount -o remount,rw "$disk"; else rm filler; fi
"$lengthwise" run -q --study study-2.yaml && echo completes
cmp -s out/run.json "$squad/old.json" || echo new
ls -A | grep -E '\.out\.(staging|ready|swap|next|aside)' || echo tidy
`

// A disk that is full, or a folder that may not be written, leaves the old result
// whole; then the next run completes.
func TestFullAndReadOnlyDisks(t *testing.T) {
	if testing.Short() {
		t.Skip("runs a study several times")
	}
	if out, err := exec.Command("unshare", "-rm", "mount", "-t", "tmpfs", "tmpfs", t.TempDir()).CombinedOutput(); err != nil {
		t.Skipf("no file system of its own can be made here: %v: %s", err, out)
	}
	lengthwise := program(t)
	folder := crashStudy(t, lengthwise)
	seeded(t, folder)
	for _, c := range []struct{ trouble, says string }{
		{"0", "no space left"}, {"300", "no space left"}, {"read-only", "read-only file system"},
	} {
		t.Run(c.trouble, func(t *testing.T) {
			out, err := exec.Command("unshare", "-rm", "sh", "-c", adversity, "sh", t.TempDir(), lengthwise, folder, c.trouble).CombinedOutput()
			if err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			if got := string(out); got != "code 1\nold\nwhole\ncompletes\nnew\ntidy\n" {
				t.Errorf("%s", got)
			}
			words, err := os.ReadFile(filepath.Join(folder, "words.txt"))
			if err != nil || !strings.Contains(string(words), c.says) || strings.Contains(string(words), "panic") {
				t.Errorf("it says %q (%v), want %q in it", words, err, c.says)
			}
		})
	}
}

// seeded writes study-1.yaml and study-2.yaml, which differ in their seed.
func seeded(t *testing.T, folder string) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(folder, "study.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	for _, seed := range []string{"1", "2"} {
		if err := os.WriteFile(filepath.Join(folder, "study-"+seed+".yaml"), append([]byte("seed: "+seed+"\n"), withoutSeed(text)...), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// An input that vanishes while others are read fails the run by name and leaves the
// old result; what its clock says of inputs changes nothing.
func TestVanishedInputAndOddClocks(t *testing.T) {
	lengthwise := program(t)
	folder := crashStudy(t, lengthwise)
	s, err := study.Load(filepath.Join(folder, "study.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	record := func() string {
		t.Helper()
		data, err := os.ReadFile(filepath.Join(folder, "out", "run.json"))
		if err != nil {
			t.Fatal(err)
		}
		return string(data)
	}
	ctx := context.Background()
	if _, err := run.Study(ctx, s, run.Options{Workers: 1}); err != nil {
		t.Fatal(err)
	}
	before := record()
	sheets, err := filepath.Glob(filepath.Join(folder, "sheets", "*.csv"))
	if err != nil || len(sheets) < 3 {
		t.Fatal(sheets, err)
	}
	for i, sheet := range sheets {
		at := []time.Time{time.Unix(0, 0), time.Date(2199, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(1901, 1, 1, 0, 0, 0, 0, time.UTC)}[i%3]
		if err := os.Chtimes(sheet, at, at); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := run.Study(ctx, s, run.Options{Workers: 1}); err != nil {
		t.Fatal(err)
	}
	if record() != before {
		t.Error("the times of files change the result")
	}
	last := sheets[len(sheets)-1]
	progress := func(phase run.Phase, done, _ int) {
		if phase == run.ReadPhase && done == 1 {
			if err := os.Remove(last); err != nil {
				t.Error(err)
			}
		}
	}
	_, err = run.Study(ctx, s, run.Options{Workers: 1, Progress: progress})
	if err == nil || !strings.Contains(err.Error(), filepath.Base(last)) {
		t.Errorf("an input vanished: %v", err)
	}
	if record() != before {
		t.Error("the old result is gone")
	}
	if _, err := run.Study(ctx, s, run.Options{Workers: 1}); err != nil {
		t.Error(err)
	}
	if record() == before {
		t.Error("the study without the input has the same result")
	}
}

// An interrupted run ends with 130, says so and leaves the old result.
func TestInterruptedRun(t *testing.T) {
	lengthwise := program(t)
	folder := crashStudy(t, lengthwise)
	seeded(t, folder)
	start := time.Now()
	call(t, lengthwise, "run", "-q", "--anew", "--study", filepath.Join(folder, "study-1.yaml"))
	took := time.Since(start)
	old, err := os.ReadFile(filepath.Join(folder, "out", "run.json"))
	if err != nil {
		t.Fatal(err)
	}
	interrupted := 0
	for k := range 6 {
		cmd := exec.Command(lengthwise, "run", "-q", "--anew", "--study", filepath.Join(folder, "study-2.yaml"))
		var words strings.Builder
		cmd.Stderr = &words
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(took * time.Duration(2*k+1) / 16) // up to eleven sixteenths of a run
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			t.Skipf("this system cannot interrupt: %v", err)
		}
		cmd.Wait() // its code is looked at
		now, err := os.ReadFile(filepath.Join(folder, "out", "run.json"))
		if err != nil {
			t.Fatal(err)
		}
		switch code := cmd.ProcessState.ExitCode(); {
		case code == exitInterrupted && string(now) == string(old) && strings.Contains(words.String(), "interrupted; no result was changed"):
			interrupted++
		case code == exitDone: // it was quicker
			old = now
		case code < 0: // before the program listens
		default:
			t.Errorf("code %d, result changed: %v, %q", code, string(now) != string(old), words.String())
		}
	}
	if interrupted == 0 {
		t.Error("no run was interrupted: nothing was tried")
	}
}
