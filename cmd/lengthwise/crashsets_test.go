package main

import (
	"bytes"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"lengthwise/pipeline/run"
)

// killedAt starts a command and kills it at a random moment; false where it had ended.
func killedAt(t *testing.T, rng *rand.Rand, took time.Duration, program string, args ...string) bool {
	t.Helper()
	cmd := exec.Command(program, args...)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(time.Duration(rng.Float64() * 1.1 * float64(took)))
	if err := cmd.Process.Signal(syscall.SIGKILL); err != nil && !errors.Is(err, os.ErrProcessDone) {
		t.Fatal(err)
	}
	return cmd.Wait() != nil
}

// TestKilledSets kills release, evidence and forget at random moments. After each, the
// set or pack is one of the two that were asked for, whole; and of somebody who was to
// be forgotten either all or nothing is there once the next run is done.
// LENGTHWISE_KILLS says how often.
func TestKilledSets(t *testing.T) {
	if testing.Short() {
		t.Skip("runs a study many times")
	}
	kills := killsAsked(t) / 2
	lengthwise := program(t)
	folder := crashStudy(t, lengthwise)
	study := filepath.Join(folder, "study.yaml")
	text, err := os.ReadFile(study)
	if err != nil {
		t.Fatal(err)
	}
	if text = regexp.MustCompile(`smallest_group: \d+`).ReplaceAll(text, []byte("smallest_group: 2")); !bytes.Contains(text, []byte("smallest_group: 2")) {
		t.Fatalf("init wrote no smallest_group:\n%s", text)
	}
	if err := os.WriteFile(study, text, 0o644); err != nil {
		t.Fatal(err)
	}
	call(t, lengthwise, "run", "-q", "--study", study)
	rng := rand.New(rand.NewPCG(3, 4))
	t.Run("release", func(t *testing.T) {
		set := filepath.Join(t.TempDir(), "set")
		release := func(label string) []string {
			return []string{"release", set, "-q", "--study", study, "--label", label}
		}
		killWhole(t, rng, kills, lengthwise, filepath.Join(set, "run.json"), release, func() error {
			v, err := run.VerifyTables(set)
			if err == nil && len(v.Departures) > 0 {
				err = errors.New(v.Departures[0].What)
			}
			return err
		})
		nothingBeside(t, set)
	})
	t.Run("evidence", func(t *testing.T) {
		pack := filepath.Join(t.TempDir(), "pack.zip")
		evidence := func(licence string) []string {
			return []string{"evidence", pack, "-q", "--study", study, "--licence", licence}
		}
		killWhole(t, rng, kills, lengthwise, pack, evidence, func() error { return nil })
		nothingBeside(t, pack)
	})
	t.Run("forget", func(t *testing.T) { killForget(t, rng, max(3, kills/3), lengthwise, folder) })
}

// killWhole makes one of two things over and over, and kills the making: the file that
// tells them apart is always one of the two, and sound.
func killWhole(t *testing.T, rng *rand.Rand, kills int, lengthwise, file string, args func(which string) []string, sound func() error) {
	t.Helper()
	made := map[string]string{}
	var took time.Duration
	for _, which := range []string{"one", "two"} {
		start := time.Now()
		call(t, lengthwise, args(which)...)
		took = time.Since(start)
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		made[which] = string(data)
	}
	if made["one"] == made["two"] {
		t.Fatal("both are alike: a new one could not be told from the old")
	}
	killed, replaced, last := 0, 0, made["two"]
	for k := range kills {
		which := []string{"one", "two"}[k%2]
		if killedAt(t, rng, took, lengthwise, args(which)...) {
			killed++
		}
		data, err := os.ReadFile(file)
		if err != nil || string(data) != made["one"] && string(data) != made["two"] {
			t.Fatalf("kill %d: neither the old one nor the new one (%v)", k+1, err)
		}
		if err := sound(); err != nil {
			t.Fatalf("kill %d: torn: %v", k+1, err)
		}
		if string(data) != last {
			replaced++
		}
		last = string(data)
	}
	left, err := filepath.Glob(filepath.Join(filepath.Dir(file), writingPrefix+"*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range left { // as if the next command came later
		if then := time.Now().Add(-2 * writingTakes); os.Chtimes(path, then, then) != nil {
			t.Fatal("the time of what is left cannot be set")
		}
	}
	call(t, lengthwise, args("one")...)
	if data, err := os.ReadFile(file); err != nil || string(data) != made["one"] {
		t.Errorf("after %d kills another one was made (%v)", kills, err)
	}
	t.Logf("%d of %d were killed before their end, %d replaced the one before", killed, kills, replaced)
	if killed == 0 {
		t.Error("nothing was killed: the test has seen nothing")
	}
}

// nothingBeside holds that no half-made file is left beside what was made.
func nothingBeside(t *testing.T, made string) {
	t.Helper()
	entries, err := os.ReadDir(filepath.Dir(made))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if e.Name() != filepath.Base(made) && !strings.HasSuffix(e.Name(), ".lock") {
			t.Errorf("%s is left beside %s", e.Name(), filepath.Base(made))
		}
	}
}

// killForget kills the forgetting of a swimmer at random moments. The result that stands
// is always whole; and when the next run is done, whoever has a tombstone is in no file
// that the program wrote, and whoever has none is as before.
func killForget(t *testing.T, rng *rand.Rand, kills int, lengthwise, folder string) {
	t.Helper()
	study, out, tombstones := filepath.Join(folder, "study.yaml"), filepath.Join(folder, "out"), filepath.Join(folder, "private", "forgotten.txt")
	record := func() string {
		t.Helper()
		data, err := os.ReadFile(filepath.Join(out, "run.json"))
		if err != nil {
			t.Fatal(err)
		}
		return string(data)
	}
	again := func() {
		t.Helper()
		if err := os.Remove(tombstones); err != nil && !errors.Is(err, fs.ErrNotExist) {
			t.Fatal(err)
		}
		call(t, lengthwise, "run", "-q", "--study", study)
	}
	again()
	with := record()
	start := time.Now()
	call(t, lengthwise, "forget", "Swimmer B", "--yes", "-q", "--study", study)
	took := time.Since(start)
	without := record()
	if with == without {
		t.Fatal("forgetting changes nothing")
	}
	killed, stones := 0, 0
	for k := range kills {
		again()
		if killedAt(t, rng, took, lengthwise, "forget", "Swimmer B", "--yes", "-q", "--study", study) {
			killed++
		}
		if got := record(); got != with && got != without {
			t.Fatalf("kill %d: the result is neither the old one nor the new one", k+1)
		}
		if v, err := run.VerifyTables(out); err != nil || len(v.Departures) > 0 {
			t.Fatalf("kill %d: a torn result: %+v (%v)", k+1, v.Departures, err)
		}
		_, err := os.Stat(tombstones)
		call(t, lengthwise, "run", "-q", "--study", study)
		want := with
		if err == nil {
			stones++
			want = without
			namesNobody(t, "Swimmer B", out, filepath.Join(folder, "private"))
		}
		if record() != want {
			t.Fatalf("kill %d, a tombstone %t: the run after it made another result", k+1, err == nil)
		}
	}
	t.Logf("%d of %d were killed before their end, %d had left a tombstone", killed, kills, stones)
	if killed == 0 {
		t.Error("nothing was killed: the test has seen nothing")
	}
}

// namesNobody holds that no file of some folders holds a name.
func namesNobody(t *testing.T, name string, folders ...string) {
	t.Helper()
	for _, folder := range folders {
		err := filepath.WalkDir(folder, func(path string, entry fs.DirEntry, err error) error {
			if err != nil || entry.IsDir() {
				return err
			}
			data, err := os.ReadFile(path)
			if bytes.Contains(data, []byte(name)) {
				t.Errorf("%s still names who was forgotten", path)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}
