package table

import (
	"bytes"
	"errors"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"lengthwise/pipeline/table/internal/invent"
)

// result gives the word of the result at target, "" for none, and fails on a
// mixture.
func result(t *testing.T, target string) string {
	t.Helper()
	if _, err := os.Stat(target); errors.Is(err, fs.ErrNotExist) {
		return ""
	}
	a, errA := os.ReadFile(filepath.Join(target, "run.json"))
	b, errB := os.ReadFile(filepath.Join(target, "tables", "notes.txt"))
	if errA != nil || errB != nil || !bytes.Equal(a, b) {
		t.Fatalf("a broken result: %q %v, %q %v", a, errA, b, errB)
	}
	return string(a)
}

// around lists what lies beside and at the target.
func around(t *testing.T, target string) []string {
	t.Helper()
	entries, err := os.ReadDir(filepath.Dir(target))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

func publish(t *testing.T, target, word string) {
	t.Helper()
	s, err := Begin(target, "run.json")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Abort()
	if err := writeResult(s, word); err != nil {
		t.Fatal(err)
	}
	if err := s.Commit(); err != nil {
		t.Fatal(err)
	}
}

func TestCommit(t *testing.T) {
	target := filepath.Join(t.TempDir(), "deep", "out")
	for _, word := range []string{"first", "second", "third"} {
		publish(t, target, word)
		if got := result(t, target); got != word {
			t.Fatalf("result %q instead of %q", got, word)
		}
		if names := around(t, target); !slices.Equal(names, []string{"out"}) {
			t.Fatalf("left %v", names)
		}
	}
}

func TestCommitReplacesWhole(t *testing.T) {
	target := filepath.Join(t.TempDir(), "out")
	publish(t, target, "old")
	extra := filepath.Join(target, "tables", "gone.parquet")
	if err := os.WriteFile(extra, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	publish(t, target, "new")
	if exists(extra) {
		t.Error("a file of the old result is in the new one")
	}
}

func TestAbort(t *testing.T) {
	target := filepath.Join(t.TempDir(), "out")
	publish(t, target, "old")
	s, err := Begin(target, "run.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := writeResult(s, "new"); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if err := s.Abort(); err != nil {
			t.Fatal(err)
		}
	}
	if got, names := result(t, target), around(t, target); got != "old" || len(names) != 1 {
		t.Errorf("result %q among %v", got, names)
	}
	wantError(t, s.Commit(), "closed")
	_, err = s.Create("late")
	wantError(t, err, "closed")
}

// TestRefusedCommits ends with the old result in force and nothing beside it.
func TestRefusedCommits(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(t *testing.T, s *Stage)
		words string
	}{
		"no marker": {func(t *testing.T, s *Stage) { os.Remove(s.Path("run.json")) }, "lacks its run.json"},
		"open file": {func(t *testing.T, s *Stage) {
			w, err := s.Create("tables/slow.parquet")
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { w.Close() })
			if err := s.WriteFile("tables/quick.txt", nil); err != nil {
				t.Fatal(err)
			}
		}, "still being written: slow.parquet"},
		"bad value": {func(t *testing.T, s *Stage) {
			_, err := StageTable(s, "tables/kinds.parquet", kindsTable, []kinds{{Number: math.NaN()}})
			wantError(t, err, "number", "NaN")
		}, "NaN"},
		"failed write": {func(t *testing.T, s *Stage) {
			w, err := s.Create("tables/cut.parquet")
			if err != nil {
				t.Fatal(err)
			}
			w.(*stagedFile).file.Close()
			if _, err := w.Write([]byte("x")); err == nil {
				t.Fatal("written to a closed file")
			}
		}, "bad"},
		"foreign target": {func(t *testing.T, s *Stage) { os.Remove(filepath.Join(s.place.target, "run.json")) }, "not a result"},
	} {
		t.Run(name, func(t *testing.T) {
			target := filepath.Join(t.TempDir(), "out")
			publish(t, target, "old")
			s, err := Begin(target, "run.json")
			if err != nil {
				t.Fatal(err)
			}
			if err := writeResult(s, "new"); err != nil {
				t.Fatal(err)
			}
			c.spoil(t, s)
			wantError(t, s.Commit(), c.words)
			if names := around(t, target); !slices.Equal(names, []string{"out"}) {
				t.Errorf("left %v", names)
			}
			b, err := os.ReadFile(filepath.Join(target, "tables", "notes.txt"))
			if err != nil || string(b) != "old" {
				t.Errorf("the old result has become %q (%v)", b, err)
			}
		})
	}
}

// TestPlaceFails lets the second rename fail: the old result comes back.
func TestPlaceFails(t *testing.T) {
	target := filepath.Join(t.TempDir(), "out")
	publish(t, target, "old")
	s, err := Begin(target, "run.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := writeResult(s, "new"); err != nil {
		t.Fatal(err)
	}
	s.place.exchange = nil
	s.after = func(step string) {
		if step == stepAside {
			os.RemoveAll(s.place.ready)
		}
	}
	wantError(t, s.Commit(), "committing")
	if got, names := result(t, target), around(t, target); got != "old" || !slices.Equal(names, []string{"out"}) {
		t.Errorf("result %q among %v", got, names)
	}
}

func TestForeignTargets(t *testing.T) {
	dir := t.TempDir()
	letter := filepath.Join(dir, "letters", "one.txt")
	if err := os.MkdirAll(filepath.Dir(letter), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(letter, []byte("dear"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, err := Begin(filepath.Dir(letter), "run.json")
	if !errors.Is(err, ErrForeign) {
		t.Errorf("somebody's folder: %v", err)
	}
	if _, err := Begin(letter, "run.json"); err == nil {
		t.Error("a file taken for a folder")
	}
	if names := around(t, letter); !slices.Equal(names, []string{"one.txt"}) {
		t.Errorf("left %v", names)
	}
	if names := around(t, filepath.Dir(letter)); !slices.Equal(names, []string{"letters"}) {
		t.Errorf("left %v", names)
	}
	if _, err := Begin("/", "run.json"); err == nil {
		t.Error("the root taken for a result")
	}
	if _, err := Begin(filepath.Join(dir, "out"), "a/b"); err == nil {
		t.Error("a path taken for a marker")
	}
	empty := filepath.Join(dir, "empty")
	if err := os.Mkdir(empty, 0o755); err != nil {
		t.Fatal(err)
	}
	publish(t, empty, "new")
	if result(t, empty) != "new" {
		t.Error("an empty folder was not filled")
	}
}

func TestLinkedTarget(t *testing.T) {
	dir := t.TempDir()
	real, link := filepath.Join(dir, "disk", "real"), filepath.Join(dir, "out")
	publish(t, real, "old")
	if err := os.Symlink(real, link); err != nil {
		t.Skip("this system makes no links: ", err)
	}
	publish(t, link, "new")
	if result(t, real) != "new" || result(t, link) != "new" {
		t.Error("the link has lost its folder")
	}
	if info, err := os.Lstat(link); err != nil || info.Mode()&fs.ModeSymlink == 0 {
		t.Errorf("the link has become %v (%v)", info, err)
	}
}

func TestStagePaths(t *testing.T) {
	s, err := Begin(filepath.Join(t.TempDir(), "out"), "run.json")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Abort()
	for _, rel := range []string{"../x", "/etc/x", "", "a/../../x"} {
		if _, err := s.Create(rel); err == nil {
			t.Errorf("%q taken", rel)
		}
	}
	if err := s.WriteFile("a", nil); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Create("a"); !errors.Is(err, fs.ErrExist) {
		t.Errorf("a file written twice: %v", err)
	}
}

func TestStageTable(t *testing.T) {
	target := filepath.Join(t.TempDir(), "out")
	s, err := Begin(target, "run.json")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Abort()
	rows := invent.Rows[kinds](100, 1)
	digest, err := StageTable(s, "tables/"+TableFile("kinds"), kindsTable, rows)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.WriteFile("run.json", nil); err != nil {
		t.Fatal(err)
	}
	if err := s.Commit(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(target, "tables", "kinds.parquet")
	if err := errors.Join(VerifyDigest(path, digest), Verify(path, kindsTable, rows)); err != nil {
		t.Error(err)
	}
}

// TestCrash kills a run at each point of Commit, with and without an old
// result, looks at what is left, and recovers by Recover or by a new run.
func TestCrash(t *testing.T) {
	if testing.Short() {
		t.Skip("starts processes")
	}
	const lock = ".out.lock"
	canExchange := exchange(t.TempDir(), t.TempDir()) == nil
	for _, c := range []struct {
		step     string
		old      bool
		left     []string
		recovery Recovery
		after    string
	}{
		{"staging", false, []string{lock, ".out.staging"}, RolledBack, ""},
		{"staging", true, []string{lock, ".out.staging", "out"}, RolledBack, "old"},
		{stepReady, false, []string{lock, ".out.ready"}, Finished, "new"},
		{stepReady, true, []string{lock, ".out.ready", "out"}, Finished, "new"},
		{stepAside, false, []string{lock, ".out.ready"}, Finished, "new"},
		{stepPlace, false, []string{lock, "out"}, NothingToRecover, "new"},
		{stepSwap, true, []string{lock, ".out.next", ".out.swap", "out"}, Finished, "new"},
		{stepPlace, true, []string{lock, ".out.next", ".out.swap", "out"}, Cleaned, "new"},
		{"renames:" + stepReady, true, []string{lock, ".out.ready", "out"}, Finished, "new"},
		{"renames:" + stepAside, true, []string{".out.aside", lock, ".out.ready"}, Finished, "new"},
		{"renames:" + stepPlace, true, []string{".out.aside", lock, "out"}, Cleaned, "new"},
	} {
		if c.old && (c.step == stepSwap || c.step == stepPlace) && !canExchange {
			continue
		}
		for _, byBegin := range []bool{false, true} {
			target := filepath.Join(t.TempDir(), "out")
			if c.old {
				publish(t, target, "old")
			}
			runCrash(t, target, c.step)
			if left := around(t, target); !slices.Equal(left, c.left) {
				t.Errorf("%s, old %t: left %v, want %v", c.step, c.old, left, c.left)
			}
			if byBegin {
				s, err := Begin(target, "run.json")
				if err != nil {
					t.Fatalf("%s, old %t: %v", c.step, c.old, err)
				}
				if err := s.Abort(); err != nil {
					t.Fatal(err)
				}
			} else if got, err := Recover(target, "run.json"); err != nil || got != c.recovery {
				t.Errorf("%s, old %t: %q (%v), want %q", c.step, c.old, got, err, c.recovery)
			}
			if got := result(t, target); got != c.after {
				t.Errorf("%s, old %t: result %q, want %q", c.step, c.old, got, c.after)
			}
			left := around(t, target)
			if c.after == "" && len(left) != 0 || c.after != "" && !slices.Equal(left, []string{"out"}) {
				t.Errorf("%s, old %t: recovery left %v", c.step, c.old, left)
			}
		}
	}
}

// runCrash lets a copy of the test binary die at a step.
func runCrash(t *testing.T, target, step string) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), crashEnv+"="+target+"|"+step)
	out, err := cmd.CombinedOutput()
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.ExitCode() == 3 {
		t.Fatalf("it was to be killed at %s: %v\n%s", step, err, out)
	}
}

// TestOddLeftovers sets up what no single crash leaves.
func TestOddLeftovers(t *testing.T) {
	for name, c := range map[string]struct {
		folders  map[string]string // sibling and word
		recovery Recovery
		after    string
	}{
		"nothing":                {nil, NothingToRecover, ""},
		"aside alone":            {map[string]string{".out.aside": "old"}, Restored, "old"},
		"aside and an empty out": {map[string]string{".out.aside": "old", "out": "-"}, Restored, "old"},
		"everything":             {map[string]string{".out.aside": "old", "out": "mid", ".out.ready": "new", ".out.staging": "x"}, Finished, "new"},
		"ready and an empty out": {map[string]string{".out.ready": "new", "out": "-"}, Finished, "new"},
		"swap alone":             {map[string]string{".out.swap": "new"}, Finished, "new"},
		"swap and an empty out":  {map[string]string{".out.swap": "new", "out": "-"}, Finished, "new"},
		"half an aside":          {map[string]string{".out.aside": "-", "out": "new"}, Cleaned, "new"},
	} {
		dir := t.TempDir()
		for folder, word := range c.folders {
			path := filepath.Join(dir, folder)
			if err := os.MkdirAll(path, 0o755); err != nil {
				t.Fatal(err)
			}
			if word == "-" {
				continue
			}
			os.Mkdir(filepath.Join(path, "tables"), 0o755)
			os.WriteFile(filepath.Join(path, "tables", "notes.txt"), []byte(word), 0o644)
			os.WriteFile(filepath.Join(path, "run.json"), []byte(word), 0o644)
		}
		target := filepath.Join(dir, "out")
		got, err := Recover(target, "run.json")
		if err != nil || got != c.recovery || result(t, target) != c.after {
			t.Errorf("%s: %q (%v), result %q", name, got, err, result(t, target))
		}
		if left := around(t, target); slices.ContainsFunc(left, func(s string) bool { return strings.HasPrefix(s, ".") }) {
			t.Errorf("%s: left %v", name, left)
		}
	}
	if got, err := Recover(filepath.Join(t.TempDir(), "no", "out"), "run.json"); err != nil || got != NothingToRecover {
		t.Errorf("no folder at all: %q (%v)", got, err)
	}
}

// TestSwapOfNobody finds two results of which neither is the one that was to be
// in force, and leaves both.
func TestSwapOfNobody(t *testing.T) {
	target := filepath.Join(t.TempDir(), "out")
	publish(t, target, "one")
	publish(t, filepath.Join(filepath.Dir(target), "two"), "two")
	if err := os.Rename(filepath.Join(filepath.Dir(target), "two"), filepath.Join(filepath.Dir(target), ".out.swap")); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(filepath.Dir(target), ".out.next"), []byte("three"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, err := Recover(target, "run.json")
	wantError(t, err, "neither", "move one of them away")
	if got := result(t, target); got != "one" {
		t.Errorf("the result has become %q", got)
	}
}

// TestRecoverSpares keeps recovery from touching somebody's folder.
func TestRecoverSpares(t *testing.T) {
	for _, sibling := range []string{".out.ready", ".out.aside"} {
		dir := t.TempDir()
		target, letter := filepath.Join(dir, "out"), filepath.Join(dir, "out", "letter.txt")
		os.MkdirAll(filepath.Join(dir, sibling), 0o755)
		os.WriteFile(filepath.Join(dir, sibling, "run.json"), nil, 0o644)
		os.Mkdir(target, 0o755)
		os.WriteFile(letter, []byte("dear"), 0o644)
		if _, err := Recover(target, "run.json"); !errors.Is(err, ErrForeign) {
			t.Errorf("%s: %v", sibling, err)
		}
		if !exists(letter) || !exists(filepath.Join(dir, sibling)) {
			t.Errorf("%s: something is gone: %v", sibling, around(t, target))
		}
	}
}
