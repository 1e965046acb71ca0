package main

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"lengthwise/pipeline/run"
)

// program makes the test binary into the program: testscript runs main when
// the binary is called by its name.
func program(t *testing.T) string {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "lengthwise")
	if err := os.Symlink(self, path); err != nil {
		t.Skip("this system makes no links: ", err)
	}
	return path
}

// crashStudy is a study of many sheets, so that a run takes long enough to be
// killed in every part of it.
func crashStudy(t *testing.T, program string) string {
	t.Helper()
	folder := filepath.Join(t.TempDir(), "squad")
	if err := os.MkdirAll(filepath.Join(folder, "sheets"), 0o755); err != nil {
		t.Fatal(err)
	}
	for k := range 12 {
		var sheet strings.Builder
		sheet.WriteString("swimmer,date,start,rep,distance_m,pool,stroke,time,strokes,count,hr,hr_source,rest,rate_target\n")
		for swimmer := range 4 {
			for rep := range 10 {
				rate := 50 + 3*((rep*7+k)%5)
				fmt.Fprintf(&sheet, "Swimmer %c,2026-03-%02d,18:05,%d,200,25m,freestyle,%d,%d,arms,%d,strap,30,%d\n",
					'A'+swimmer, k+1, rep+1, 160+rep%3, rate*160/60, 140+rate/5+(rep*k)%4, rate)
			}
		}
		if err := os.WriteFile(filepath.Join(folder, "sheets", fmt.Sprintf("day-%02d.csv", k)), []byte(sheet.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	call(t, program, "init", folder, "-q")
	if err := os.WriteFile(filepath.Join(folder, "roster.csv"), []byte("swimmer,consent\nSwimmer A,yes\nSwimmer B,yes\nSwimmer C,yes\nSwimmer D,yes\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	return folder
}

func call(t *testing.T, program string, args ...string) {
	t.Helper()
	if out, err := exec.Command(program, args...).CombinedOutput(); err != nil {
		t.Fatalf("%v: %v\n%s", args, err, out)
	}
}

// killsAsked is how often LENGTHWISE_KILLS asks to kill.
func killsAsked(t *testing.T) int {
	t.Helper()
	text := os.Getenv("LENGTHWISE_KILLS")
	if text == "" {
		return 12
	}
	kills, err := strconv.Atoi(text)
	if err != nil {
		t.Fatal(err)
	}
	return kills
}

// TestKilledRuns kills runs at random moments. After each the result is, byte
// for byte, that of one seed or of the other, and nothing else; and the next
// run completes and leaves nothing beside it. LENGTHWISE_KILLS says how often;
// the bar was measured with 200.
func TestKilledRuns(t *testing.T) {
	if testing.Short() {
		t.Skip("runs a study many times")
	}
	kills := killsAsked(t)
	lengthwise := program(t)
	folder := crashStudy(t, lengthwise)
	out := filepath.Join(folder, "out")
	text, err := os.ReadFile(filepath.Join(folder, "study.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	whole := map[string]bool{}  // run.json of the two results
	made := map[string]string{} // the same by seed
	var took time.Duration
	seeds := []string{"1", "2"}
	for _, seed := range seeds {
		study := append([]byte("seed: "+seed+"\n"), withoutSeed(text)...)
		if err := os.WriteFile(filepath.Join(folder, "study-"+seed+".yaml"), study, 0o644); err != nil {
			t.Fatal(err)
		}
		start := time.Now()
		call(t, lengthwise, "run", "-q", "--anew", "--study", filepath.Join(folder, "study-"+seed+".yaml"))
		took = time.Since(start)
		record, err := os.ReadFile(filepath.Join(out, "run.json"))
		if err != nil {
			t.Fatal(err)
		}
		whole[string(record)], made[seed] = true, string(record)
	}
	if len(whole) != 2 {
		t.Fatal("the two seeds give one result: a new one could not be told from the old")
	}
	rng := rand.New(rand.NewPCG(1, 2))
	killed, replaced, last := 0, 0, ""
	for k := range kills {
		args := []string{"run", "-q", "--study", filepath.Join(folder, "study-"+seeds[k%2]+".yaml")}
		if k/2%2 == 0 { // everything made again, or taken from what runs before it left
			args = append(args, "--anew")
		}
		cmd := exec.Command(lengthwise, args...)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(rng.Float64() * 1.1 * float64(took)))
		if err := cmd.Process.Signal(syscall.SIGKILL); err != nil && !errors.Is(err, os.ErrProcessDone) {
			t.Fatal(err)
		}
		if err := cmd.Wait(); err != nil {
			killed++
		}
		record, err := os.ReadFile(filepath.Join(out, "run.json"))
		if err != nil || !whole[string(record)] {
			t.Fatalf("kill %d: the result is neither the old one nor the new one (%v)", k+1, err)
		}
		v, err := run.VerifyTables(out)
		if err != nil || len(v.Departures) > 0 {
			t.Fatalf("kill %d: a torn result: %+v (%v)", k+1, v.Departures, err)
		}
		if string(record) != last {
			replaced++
		}
		last = string(record)
		if k%4 == 3 {
			seed := seeds[(k/4)%2]
			call(t, lengthwise, "run", "-q", "--study", filepath.Join(folder, "study-"+seed+".yaml"))
			record, err := os.ReadFile(filepath.Join(out, "run.json"))
			if err != nil || string(record) != made[seed] {
				t.Fatalf("kill %d: the run after it left another result alone (%v)", k+1, err)
			}
			last = string(record)
		}
	}
	killShards(t, lengthwise, rng, folder, kills/4, took, made["2"])
	call(t, lengthwise, "run", "-q", "--anew", "--study", filepath.Join(folder, "study-1.yaml"))
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".out.") {
			t.Errorf("%s is left beside the result", e.Name())
		}
	}
	t.Logf("%d runs, %d killed before their end, %d changes of the result, none torn", kills, killed, replaced)
	if killed == 0 {
		t.Error("no run was killed: the test has seen nothing")
	}
}

func withoutSeed(text []byte) []byte {
	var kept [][]byte
	for line := range bytes.Lines(text) {
		if !bytes.HasPrefix(line, []byte("seed:")) {
			kept = append(kept, line)
		}
	}
	return bytes.Join(kept, nil)
}

// TestTwoRunsAtOnce starts a second run while the first holds the lock.
func TestTwoRunsAtOnce(t *testing.T) {
	if testing.Short() {
		t.Skip("runs a study several times")
	}
	lengthwise := program(t)
	folder := crashStudy(t, lengthwise)
	study := filepath.Join(folder, "study.yaml")
	for range 20 {
		first := exec.Command(lengthwise, "run", "-q", "--anew", "--study", study)
		if err := first.Start(); err != nil {
			t.Fatal(err)
		}
		second := exec.Command(lengthwise, "run", "-q", "--anew", "--study", study)
		said, secondErr := second.CombinedOutput()
		firstErr := first.Wait()
		v, err := run.VerifyTables(filepath.Join(folder, "out"))
		if err != nil || len(v.Departures) > 0 {
			t.Fatalf("a torn result: %+v (%v)", v.Departures, err)
		}
		if firstErr != nil && secondErr != nil {
			t.Fatalf("neither of two runs was carried out: %v, %v\n%s", firstErr, secondErr, said)
		}
		if secondErr != nil {
			if !strings.Contains(string(said), "another run") {
				t.Errorf("the second run is refused without saying why: %s", said)
			}
			return
		}
	}
	t.Skip("two runs never met on this machine")
}

// killShards kills shards of all phases at random moments, then runs them all to
// their end: what comes out is what one process makes.
func killShards(t *testing.T, lengthwise string, rng *rand.Rand, folder string, kills int, took time.Duration, want string) {
	t.Helper()
	study, of := filepath.Join(folder, "study-2.yaml"), 3
	shard := func(phase string, i int) []string {
		if phase == run.PhaseReduce {
			return []string{"run", "-q", "--study", study, "--phase", phase, "--shards", strconv.Itoa(of)}
		}
		return []string{"run", "-q", "--study", study, "--phase", phase, "--shard", fmt.Sprintf("%d/%d", i, of)}
	}
	phases := []string{run.PhaseRead, run.PhaseMeasure, run.PhaseAnswer, run.PhaseReduce}
	killed := 0
	for k := range kills {
		if k%12 == 0 {
			if err := os.RemoveAll(filepath.Join(folder, "private", "cache", "study-2")); err != nil {
				t.Fatal(err)
			}
		}
		phase := phases[k/3%4]
		cmd := exec.Command(lengthwise, shard(phase, k%of+1)...)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(rng.Float64() * 0.4 * float64(took)))
		if err := cmd.Process.Signal(syscall.SIGKILL); err != nil && !errors.Is(err, os.ErrProcessDone) {
			t.Fatal(err)
		}
		if err := cmd.Wait(); err != nil {
			killed++
		}
		if v, err := run.VerifyTables(filepath.Join(folder, "out")); err != nil || len(v.Departures) > 0 {
			t.Fatalf("kill %d of phase %s: a torn result: %+v (%v)", k+1, phase, v.Departures, err)
		}
	}
	for _, phase := range phases[:3] {
		for i := range of {
			call(t, lengthwise, shard(phase, i+1)...)
		}
	}
	call(t, lengthwise, shard(run.PhaseReduce, 0)...)
	record, err := os.ReadFile(filepath.Join(folder, "out", "run.json"))
	if err != nil || string(record) != want {
		t.Fatalf("after %d kills of shards another result came out (%v)", kills, err)
	}
	t.Logf("%d of %d shards were killed before their end", killed, kills)
}
