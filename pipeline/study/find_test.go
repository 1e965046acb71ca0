package study

import (
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestMatch(t *testing.T) {
	const composed, decomposed = "Jos\u00e9", "Jose\u0301"
	cases := []struct {
		pattern, path, swimmer string
		ok                     bool
	}{
		{"inbox/{swimmer}/*.fit", "inbox/ana/1.fit", "ana", true},
		{"inbox/{swimmer}/*.fit", "inbox/Ana Lima/1.FIT", "Ana Lima", true},
		{"inbox/{swimmer}/*.fit", "inbox/1.fit", "", false},
		{"inbox/{swimmer}/*.fit", "inbox/ana/deep/1.fit", "", false},
		{"inbox/{swimmer}_*.fit", "inbox/ana_2026_03.fit", "ana", true},
		{"inbox/{swimmer}_*.fit", "inbox/_1.fit", "", false},
		{"inbox/*_{swimmer}.fit", "inbox/2026_03_ana.fit", "03_ana", true},
		{"{swimmer}.csv", ".csv", "", false},
		{"{swimmer}", "x", "x", true},
		{"a/?.csv", "a/\u00e9.csv", "", true},
		{"a/?.csv", "a/e\u0301.csv", "", true},
		{"a/?.csv", "a/xy.csv", "", false},
		{"a/*.csv", "a/.csv", "", true},
		{"a/*a*b*.csv", "a/xaybz.csv", "", true},
		{"a/*a*b*.csv", "a/xbya.csv", "", false},
		{"./a//b.csv", "a/b.csv", "", true},
		{"{swimmer}/a.csv", decomposed + "/a.csv", composed, true},
		{composed + "/*.csv", decomposed + "/a.csv", "", true},
		{decomposed + "/*.csv", composed + "/a.csv", "", true},
		{"a/[x].csv", "a/[x].csv", "", true},
		{"a/[x].csv", "a/x.csv", "", false},
	}
	for _, c := range cases {
		swimmer, ok := Input{Pattern: c.pattern}.Match(c.path)
		if swimmer != c.swimmer || ok != c.ok {
			t.Errorf("%s on %s: %q, %v; want %q, %v", c.pattern, c.path, swimmer, ok, c.swimmer, c.ok)
		}
	}
}

// A path made from a pattern fits it, and what stood at {swimmer} comes back
// when nothing around it is ambiguous.
func TestMatchOfMadePaths(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.StringMatching(`[a-z]{1,6}( [a-z]{1,6})?`).Draw(t, "name")
		tail := rapid.StringMatching(`[0-9a-z_.]{0,8}`).Draw(t, "tail")
		swimmer, ok := Input{Pattern: "in/{swimmer}-*.csv"}.Match("in/" + name + "-" + tail + ".csv")
		if !ok || swimmer != name {
			t.Fatalf("%q, %v", swimmer, ok)
		}
	})
}

// The glob agrees with a slow and plain definition.
func TestMatchElementAgainstDefinition(t *testing.T) {
	var slow func(p, s []rune) bool
	slow = func(p, s []rune) bool {
		switch {
		case len(p) == 0:
			return len(s) == 0
		case p[0] == '*':
			return slow(p[1:], s) || len(s) > 0 && slow(p, s[1:])
		}
		return len(s) > 0 && (p[0] == '?' || p[0] == s[0]) && slow(p[1:], s[1:])
	}
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.StringMatching(`[ab?*]{0,6}`).Draw(t, "pattern")
		s := rapid.StringMatching(`[ab]{0,8}`).Draw(t, "name")
		if got, want := matchElement(p, s), slow([]rune(p), []rune(s)); got != want {
			t.Fatalf("%q on %q: %v, want %v", p, s, got, want)
		}
	})
}

func writeFiles(t *testing.T, folder string, names ...string) {
	t.Helper()
	for _, name := range names {
		full := filepath.Join(folder, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(name), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

func TestFind(t *testing.T) {
	folder, elsewhere := t.TempDir(), t.TempDir()
	writeFiles(t, elsewhere, "secret.fit")
	writeFiles(t, folder,
		"inbox/ben/2.fit", "inbox/ben/1.fit", "inbox/ana/1.fit", "inbox/readme.txt", "inbox/.hidden/1.fit",
		"inbox/ana/.2.fit", "out/tables/x.csv", "private/names.csv", "roster.csv", "study.key", "sheets/a.csv", "loose.csv",
		"study.yaml", "inbox/jose\u0301/1.fit")
	links := map[string]string{
		"inbox/ana/linked.fit": filepath.Join(folder, "inbox/.hidden/1.fit"),
		"inbox/ana/out.fit":    filepath.Join(elsewhere, "secret.fit"),
		"inbox/ana/lost.fit":   filepath.Join(folder, "gone.fit"),
		"inbox/eve":            filepath.Join(folder, "inbox/ben"),
	}
	for name, target := range links {
		if err := os.Symlink(target, filepath.Join(folder, name)); err != nil {
			t.Skipf("no symbolic links here: %v", err)
		}
	}
	s := mustParse(t, `
inputs:
  - {path: "inbox/{swimmer}/*.fit", kind: activity}
  - {path: "*/*.fit", kind: activity}
  - {path: "inbox/ana/1.fit", kind: activity}
  - {path: "*.csv", kind: sheet}
  - {path: "*/*.csv", kind: sheet}
roster: ./roster.csv
`)
	s.Folder, s.File = folder, "study.yaml"
	files, err := s.Find()
	if err != nil {
		t.Fatal(err)
	}
	defer files.Close()
	unmatched := files.Unmatched
	var got []string
	for _, f := range files.Found {
		got = append(got, strings.Join([]string{f.Rel, string(s.Inputs[f.Input].Kind), f.Swimmer}, " "))
		if _, err := f.Read(); err != nil {
			t.Errorf("%s: %v", f.Rel, err)
		}
	}
	want := []string{
		"inbox/ana/1.fit activity ana", "inbox/ana/linked.fit activity ana",
		"inbox/ben/1.fit activity ben", "inbox/ben/2.fit activity ben",
		"inbox/jose\u0301/1.fit activity jos\u00e9",
		"loose.csv sheet ", "sheets/a.csv sheet ",
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("found\n%q\nwant\n%q", got, want)
	}
	wantUnmatched := []Unmatched{
		{"inbox/ana/lost.fit", "a link that leads nowhere"},
		{"inbox/ana/out.fit", "a link out of the study's folder"},
		{"inbox/eve", "a link to something that is no plain file"},
		{"inbox/readme.txt", "no input's path fits"},
	}
	if !reflect.DeepEqual(unmatched, wantUnmatched) {
		t.Errorf("unmatched %+v\nwant %+v", unmatched, wantUnmatched)
	}
}

func TestFindWithoutAFolder(t *testing.T) {
	s := mustParse(t, smallest)
	s.Folder = filepath.Join(t.TempDir(), "gone")
	if _, err := s.Find(); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("error %v does not wrap os.ErrNotExist", err)
	}
}
