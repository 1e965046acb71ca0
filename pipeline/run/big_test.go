package run

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lengthwise/datasets/deckfile"
	"lengthwise/datasets/squad"
	"lengthwise/pipeline/study"
)

// TestBigStudy runs a study without its specification curve from files to
// tables and tells the time of each phase and the most memory in use. The bar
// is 1,000 swimmers of 50 sessions of 20 bouts in under three minutes and 2 GB
// on two cores. LENGTHWISE_SWIMMERS sets how many swimmers of that size are run,
// a small study runs always.
func TestBigStudy(t *testing.T) {
	swimmers, sessions, bouts := 6, 7, 8
	if n, _ := fmt.Sscan(os.Getenv("LENGTHWISE_SWIMMERS"), &swimmers); n == 1 {
		sessions, bouts = 50, 20
	}
	s := manySheets(t, swimmers, sessions, bouts)
	began := time.Now()
	times := map[Phase]time.Duration{}
	o := Options{Workers: 2, Progress: func(p Phase, done, total int) {
		if done == total {
			times[p] = time.Since(began).Round(time.Millisecond)
		}
	}}
	r, err := Study(context.Background(), s, o)
	if err != nil {
		t.Fatal(err)
	}
	whole, memory := time.Since(began), mostMemory(t)
	t.Logf("%d swimmers, %d bouts: %.1f s (phases done after %v), at most %.2f GB", swimmers, r.Counts.Bouts, whole.Seconds(), times, memory)
	if want := swimmers * sessions * bouts; r.Counts.Bouts != want || len(r.Answers.BySwimmer) != swimmers {
		t.Errorf("%d bouts of %d, %d swimmers answered for", r.Counts.Bouts, want, len(r.Answers.BySwimmer))
	}
	if len(r.Answers.Sensitivity) != 0 {
		t.Error("the curve was asked for, and is switched off")
	}
	if swimmers >= 1000 && (whole > 3*time.Minute || memory > 2) {
		t.Errorf("%.0f s and %.2f GB, want 180 s and 2 GB at most", whole.Seconds(), memory)
	}
}

// manySheets writes a study of one lane sheet a swimmer.
func manySheets(t *testing.T, swimmers, sessions, bouts int) *study.Study {
	t.Helper()
	folder := t.TempDir()
	if err := os.Mkdir(filepath.Join(folder, "sheets"), 0o755); err != nil {
		t.Fatal(err)
	}
	sc := squad.DesignedBar(3, 1, swimmers)
	sc.SessionsPerSwimmer, sc.BoutsPerSession, sc.EffectSD = sessions, bouts, 1
	var sw squad.Swimmer
	for i := range swimmers {
		squad.SimulateInto(sc, i, &sw)
		var rows []deckfile.Row
		for k := range sw.Sessions {
			rows = append(rows, deckfile.RowsFromSession(&sw.Sessions[k], &sw, deckfile.SheetOptions{HeartRate: deckfile.Strap})...)
		}
		writeSheet(t, filepath.Join(folder, "sheets", fmt.Sprintf("%04d.csv", i)), rows)
	}
	file := filepath.Join(folder, "study.yaml")
	text := "study: big\ninputs: [{path: 'sheets/*.csv', kind: sheet, stroke_count: arms}]\nanalysis: {sensitivity: false}\n"
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return withKey(t, folder)
}

func writeSheet(t *testing.T, path string, rows []deckfile.Row) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	w := bufio.NewWriter(f)
	for _, err := range []error{deckfile.WriteSheet(w, rows, deckfile.Format{}), w.Flush(), f.Close()} {
		if err != nil {
			t.Fatal(err)
		}
	}
}

// mostMemory is the most resident memory of this process so far, in GB; 0 where
// the system does not tell.
func mostMemory(t *testing.T) float64 {
	t.Helper()
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for _, line := range strings.Split(string(status), "\n") {
		var kB float64
		if n, _ := fmt.Sscanf(line, "VmHWM: %f kB", &kB); n == 1 {
			return kB / 1e6
		}
	}
	return 0
}
