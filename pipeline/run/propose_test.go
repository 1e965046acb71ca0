package run

import (
	"archive/zip"
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"lengthwise/datasets"
	"lengthwise/pipeline/study"
)

const oneSheet = "swimmer,date,pool,length,time,strokes\nAda Quayle,2026-03-02,25m,1,20.1,16\nada quayle,2026-03-02,25m,2,20.4,17\nBram Ost,2026-03-02,25m,1,22.0,18\n"

func put(t *testing.T, folder string, files map[string]string) {
	t.Helper()
	for name, text := range files {
		full := filepath.Join(folder, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func archive(t *testing.T, names ...string) string {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, name := range names {
		if _, err := w.Create(name); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestProposeReadsWhatThePathsSay(t *testing.T) {
	folder := t.TempDir()
	put(t, folder, map[string]string{
		"inbox/cleo/1.fit": "x", "inbox/dora/2.fit": "x", "watch/eve_1.fit": "x", "watch/eve_2.fit": "x", "watch/fay_1.fit": "x",
		"watch/fay_2.fit": "x", "watch/20260302.fit": "x", "old/one.fit": "x", "sheets/monday.csv": oneSheet,
		"pulse/a.csv": "swimmer,timestamp,hr\nAda Quayle,2026-03-02 18:00:01,120\n",
		"notes.csv":   "swimmer,date,rep_from,rep_to,key,value\nAda Quayle,2026-03-02,1,2,kick,none\n",
		"plan.txt":    "swim a lot", "photo.jpg": "x", ".git/x.fit": "x",
		"season.zip": archive(t, "gus/a.fit", "hal/b.fit"), "pile.zip": archive(t, "a.fit", "deep/b.fit"), "pictures.zip": archive(t, "a.jpg"),
	})
	p, err := Propose(folder)
	if err != nil {
		t.Fatal(err)
	}
	var patterns []string
	for _, in := range p.Patterns {
		patterns = append(patterns, string(in.Kind)+" "+in.Pattern)
	}
	want := []string{"activity inbox/{swimmer}/*.fit", "activity watch/{swimmer}_*.fit", "activity old/*.fit", "activity watch/*.fit",
		"activity pile.zip", "activity season.zip/{swimmer}/*.fit", "sheet sheets/*.csv", "heart-rate pulse/*.csv"}
	if !reflect.DeepEqual(patterns, want) {
		t.Errorf("patterns\n%q\nwant\n%q", patterns, want)
	}
	if want := []string{"Ada Quayle", "Bram Ost", "cleo", "dora", "eve", "fay", "gus", "hal"}; !reflect.DeepEqual(p.Swimmers, want) {
		t.Errorf("swimmers %q, want %q", p.Swimmers, want)
	}
	if want := []string{"old/one.fit", "pile.zip/a.fit", "pile.zip/deep/b.fit", "watch/20260302.fit"}; !reflect.DeepEqual(p.Unowned, want) {
		t.Errorf("unowned %q, want %q", p.Unowned, want)
	}
	if want := []string{"photo.jpg", "plan.txt", "pictures.zip"}; !reflect.DeepEqual(p.Foreign, want) || p.Notes != "notes.csv" {
		t.Errorf("foreign %q, want %q; notes %q", p.Foreign, want, p.Notes)
	}

	// What was proposed is a study file that loads, and its paths claim the files.
	if _, err := p.Write(folder, "Europe/Lisbon"); err != nil {
		t.Fatal(err)
	}
	s, err := study.Load(filepath.Join(folder, "study.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	files, err := s.Find()
	if err != nil {
		t.Fatal(err)
	}
	defer files.Close()
	if len(files.Found) != 14 || s.TimeZone.String() != "Europe/Lisbon" || s.Notes != "notes.csv" || s.Assign != "assign.csv" {
		t.Errorf("%d files, zone %v, notes %q, assign %q", len(files.Found), s.TimeZone, s.Notes, s.Assign)
	}
	key, err := os.Stat(filepath.Join(folder, "study.key"))
	if err != nil || key.Mode().Perm() != 0o600 {
		t.Errorf("key: %v, %v", key, err)
	}
	ignored, _ := os.ReadFile(filepath.Join(folder, ".gitignore"))
	if !strings.Contains(string(ignored), "study.key") || !strings.Contains(string(ignored), "private/") {
		t.Errorf(".gitignore holds %q", ignored)
	}
	if _, err := p.Write(folder, "UTC"); !errors.Is(err, fs.ErrExist) {
		t.Errorf("a second time: %v", err)
	}
}

func TestProposeOfAnEmptyFolder(t *testing.T) {
	folder := t.TempDir()
	p, err := Propose(folder)
	if err != nil {
		t.Fatal(err)
	}
	if written, err := p.Write(folder, "UTC"); !errors.Is(err, ErrNoFiles) || len(written) > 0 {
		t.Errorf("wrote %q, %v", written, err)
	}
}

// The demo's own files, without its lists, are understood.
func TestProposeOfTheDemo(t *testing.T) {
	if testing.Short() {
		t.Skip("writes the whole demo")
	}
	folder := filepath.Join(t.TempDir(), "squad")
	if err := datasets.WriteDemo(folder); err != nil {
		t.Fatal(err)
	}
	p, err := Propose(folder)
	if err != nil {
		t.Fatal(err)
	}
	if p.Roster != "roster.csv" || p.Assign != "assign.csv" || p.Notes != "notes.csv" {
		t.Errorf("roster %q, assign %q, notes %q", p.Roster, p.Assign, p.Notes)
	}
	if len(p.Activities) < 200 || len(p.Sheets) < 20 || len(p.Logs) < 2 || p.Patterns[0].Pattern != "inbox/{swimmer}/*.fit" {
		t.Errorf("%d activities, %d sheets, %d logs, first pattern %q", len(p.Activities), len(p.Sheets), len(p.Logs), p.Patterns[0].Pattern)
	}
}

func TestProposeOfOneSwimmersFolder(t *testing.T) {
	for _, c := range []struct {
		files     []string
		pattern   string
		swimmers  []string
		unclaimed int
	}{
		{[]string{"inbox/Mina Quill/a.fit"}, "inbox/{swimmer}/*.fit", []string{"Mina Quill"}, 0},
		{[]string{"season/inbox/Mina Quill/a.fit"}, "season/inbox/{swimmer}/*.fit", []string{"Mina Quill"}, 0},
		{[]string{"watch/a.fit"}, "watch/*.fit", nil, 1},
		{[]string{"Export/Mina Quill/2026/a.fit", "Export/Tess Vane/2026/b.fit"}, "Export/{swimmer}/*/*.fit", []string{"Mina Quill", "Tess Vane"}, 0},
		{[]string{"Export/Mina Quill/2026/01/a.fit", "Export/Tess Vane/2026/02/b.fit"}, "Export/{swimmer}/*/*/*.fit", []string{"Mina Quill", "Tess Vane"}, 0},
		{[]string{"watch/2026/a.fit", "watch/2025/a.fit"}, "watch/2025/*.fit", nil, 2},
		{[]string{"watch/a.fit", "watch/old/b.fit"}, "watch/*.fit", nil, 2},
	} {
		folder := t.TempDir()
		files := map[string]string{}
		for _, name := range c.files {
			files[name] = "x"
		}
		put(t, folder, files)
		p, err := Propose(folder)
		if err != nil {
			t.Fatal(err)
		}
		if p.Patterns[0].Pattern != c.pattern || !reflect.DeepEqual(p.Swimmers, c.swimmers) || len(p.Unowned) != c.unclaimed {
			t.Errorf("%q: %+v, swimmers %q, unowned %q", c.files, p.Patterns, p.Swimmers, p.Unowned)
		}
	}
}

func TestProposeOfNestedArchives(t *testing.T) {
	for _, c := range []struct {
		inside   []string
		pattern  string
		swimmers []string
	}{
		{[]string{"export/gus/a.fit", "export/hal/b.fit"}, "season.zip/export/{swimmer}/*.fit", []string{"gus", "hal"}},
		{[]string{"gus/2026/a.fit", "hal/2026/b.fit"}, "season.zip/{swimmer}/*/*.fit", []string{"gus", "hal"}},
		{[]string{"export/gus/a.fit", "export/b.fit"}, "season.zip", nil},
		{[]string{"2026/a.fit", "2025/b.fit"}, "season.zip", nil},
	} {
		folder := t.TempDir()
		put(t, folder, map[string]string{"season.zip": archive(t, c.inside...)})
		p, err := Propose(folder)
		if err != nil {
			t.Fatal(err)
		}
		if p.Patterns[0].Pattern != c.pattern || !reflect.DeepEqual(p.Swimmers, c.swimmers) {
			t.Errorf("%q: %q, swimmers %q", c.inside, p.Patterns[0].Pattern, p.Swimmers)
		}
	}
}

// A sheet is a sheet by its header, whatever its rows hold.
func TestProposeOfASheetWithoutAUsableRow(t *testing.T) {
	folder := t.TempDir()
	put(t, folder, map[string]string{
		"sheets/a.csv": "swimmer,date,pool,length,time,strokes\nAda Quayle,2026-03-02,25,1,20.1,16\nBram Ost,2026-03-02,25,1,20.4,17\n",
		"b.csv":        "swimmer,date,distance_m,time,strokes\nCleo Marsh,2026-03-02,100,80,60\n",
		"notes.csv":    "swimmer,date,rep_from,rep_to,key,value\n",
	})
	p, err := Propose(folder)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(p.Sheets, []string{"b.csv", "sheets/a.csv"}) || !reflect.DeepEqual(p.Swimmers, []string{"Ada Quayle", "Bram Ost", "Cleo Marsh"}) || p.Notes != "notes.csv" {
		t.Errorf("sheets %q, swimmers %q, notes %q", p.Sheets, p.Swimmers, p.Notes)
	}
	want := []FileLedger{
		{Files: []string{"b.csv"}, Rules: []RuleLedger{{"missing-column", "excluded", 1,
			[]string{"line 2, column pool: the sheet has no such column; if it goes by another name, say so under columns of the input; or write it once above the header, as Pool: 25m, or in the study file's input"}, 0}}},
		{Files: []string{"sheets/a.csv"}, Rules: []RuleLedger{{"unreadable", "excluded", 2,
			[]string{"lines 2-3, column pool: a pool length needs its unit: write 25m or 25y"}, 0}}},
	}
	if !reflect.DeepEqual(p.Refused, want) {
		t.Errorf("refused %+v, want %+v", p.Refused, want)
	}
}
