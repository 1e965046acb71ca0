package study

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

func frozenStudy(t *testing.T, text string) *Study {
	t.Helper()
	path := filepath.Join(t.TempDir(), "study.yaml")
	if err := os.WriteFile(path, []byte(text), 0o640); err != nil {
		t.Fatal(err)
	}
	return loaded(t, path)
}

func loaded(t *testing.T, path string) *Study {
	t.Helper()
	s, err := Load(path)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

const planned = `# ours
study: harbour
inputs: [{path: "*.csv", kind: sheet}]
analysis: {smallest_effect: 2}
changes:
  - {name: kick, swimmers: [Mira, Ivo], on: 2026-03-02}`

func TestFreeze(t *testing.T) {
	s := frozenStudy(t, planned)
	path := filepath.Join(s.Folder, s.File)
	if f, err := s.CheckFrozen(); f != nil || err != nil {
		t.Errorf("nothing was frozen: %+v, %v", f, err)
	}
	hash, err := s.Freeze(3)
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(path)
	if err != nil || string(text) != planned+"\nfrozen: "+hash+"\n" {
		t.Errorf("the study file is now %q (%v)", text, err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o640 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	plan, err := os.ReadFile(filepath.Join(s.Folder, FrozenFile))
	if err != nil || HashOf(plan) != hash || strings.Contains(string(plan), "Mira") || !strings.Contains(string(plan), "files_then: 3") {
		t.Errorf("the plan is %q (%v)", plan, err)
	}
	f, err := loaded(t, path).CheckFrozen()
	if err != nil || !f.Followed() || f.FilesThen != 3 || f.SHA256 != hash {
		t.Errorf("%+v, %v", f, err)
	}
	if _, err := loaded(t, path).Freeze(3); err == nil || !strings.Contains(err.Error(), "froze a plan already") {
		t.Errorf("frozen twice: %v", err)
	}
	// What does not belong to the plan may change.
	write := func(text string) *Study {
		t.Helper()
		if err := os.WriteFile(path, []byte(text), 0o640); err != nil {
			t.Fatal(err)
		}
		return loaded(t, path)
	}
	now := string(text)
	if f, err := write(strings.Replace(now, "study: harbour", "study: port", 1)).CheckFrozen(); err != nil || !f.Followed() {
		t.Errorf("another name: %+v, %v", f, err)
	}
	f, err = write(strings.NewReplacer("smallest_effect: 2", "smallest_effect: 3, strokes: [backstroke]", "2026-03-02", "2026-03-09", "Mira, Ivo", "Mira").Replace(now)).CheckFrozen()
	want := []string{
		"analysis.smallest_effect is 3, and was planned as 2",
		"analysis.strokes is [backstroke], and was planned as [freestyle]",
		"changes[1].on is 2026-03-09, and was planned as 2026-03-02",
		"changes[1].swimmers is [somebody], and was planned as [somebody, somebody]",
	}
	if err != nil || !reflect.DeepEqual(f.Departures, want) {
		t.Errorf("%q, %v", f.Departures, err)
	}
	f, err = write(strings.Replace(now, "changes:\n  - {name: kick, swimmers: [Mira, Ivo], on: 2026-03-02}\n", "", 1)).CheckFrozen()
	if err != nil || len(f.Departures) != 3 || !strings.Contains(f.Departures[0], "and is not there") {
		t.Errorf("%q, %v", f.Departures, err)
	}
	s = write(now)
	if err := os.WriteFile(filepath.Join(s.Folder, FrozenFile), append(plan, '#'), 0o644); err != nil {
		t.Fatal(err)
	}
	if f, err := s.CheckFrozen(); err != nil || len(f.Departures) != 1 || !strings.Contains(f.Departures[0], "its SHA-256 is another") {
		t.Errorf("%+v, %v", f, err)
	}
	if err := os.Remove(filepath.Join(s.Folder, FrozenFile)); err != nil {
		t.Fatal(err)
	}
	if f, err := s.CheckFrozen(); err != nil || len(f.Departures) != 1 || !strings.Contains(f.Departures[0], "is not there") {
		t.Errorf("%+v, %v", f, err)
	}
}

// A study file to which no line can be added is left as it is.
func TestFreezeLeavesWhatItCannotAddTo(t *testing.T) {
	text := `{study: harbour, inputs: [{path: "*.csv", kind: sheet}]}`
	s := frozenStudy(t, text)
	if _, err := s.Freeze(0); err == nil || !strings.Contains(err.Error(), "a line cannot be added") {
		t.Errorf("%v", err)
	}
	if now, err := os.ReadFile(filepath.Join(s.Folder, s.File)); err != nil || string(now) != text {
		t.Errorf("%q, %v", now, err)
	}
	if _, err := os.Stat(filepath.Join(s.Folder, FrozenFile)); err == nil {
		t.Error("a plan was left")
	}
	if _, err := Parse([]byte("inputs: []\nfrozen: 12ab\n"), "x"); err == nil || !strings.Contains(err.Error(), "64 hexadecimal digits") {
		t.Errorf("%v", err)
	}
}
