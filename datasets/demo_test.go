package datasets

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"

	"github.com/muktihari/fit/decoder"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"
)

// demo writes the demo once for all tests and returns its files by name.
var demo = sync.OnceValues(func() (map[string][]byte, error) {
	dir, err := os.MkdirTemp("", "demo")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	if err := WriteDemo(dir); err != nil {
		return nil, err
	}
	return tree(dir)
})

func tree(dir string) (map[string][]byte, error) {
	files := map[string][]byte{}
	err := fs.WalkDir(os.DirFS(dir), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		files[name], err = os.ReadFile(filepath.Join(dir, name))
		return err
	})
	return files, err
}

func demoFiles(t *testing.T) map[string][]byte {
	t.Helper()
	files, err := demo()
	if err != nil {
		t.Fatal(err)
	}
	return files
}

func TestDemoBytesDoNotDependOnWorkers(t *testing.T) {
	files := demoFiles(t)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	dir := t.TempDir()
	if err := WriteDemo(dir); err != nil {
		t.Fatal(err)
	}
	again, err := tree(dir)
	if err != nil || len(again) != len(files) {
		t.Fatalf("%d files, then %d (%v)", len(files), len(again), err)
	}
	for name, b := range files {
		if sha256.Sum256(b) != sha256.Sum256(again[name]) {
			t.Errorf("%s differs", name)
		}
	}
	if err := WriteDemo(dir); !errors.Is(err, ErrDemoFolder) {
		t.Errorf("writing into a full folder: %v", err)
	}
}

type truthFile struct {
	Swimmers []swimmerTruth
}

func readTruth(t *testing.T, files map[string][]byte) truthFile {
	t.Helper()
	var doc truthFile
	if err := json.Unmarshal(files["truth.json"], &doc); err != nil {
		t.Fatal(err)
	}
	return doc
}

// The story in demo/README.md and the cast must come true.
func TestDemoHoldsWhatItPromises(t *testing.T) {
	files := demoFiles(t)
	total := 0
	for _, b := range files {
		total += len(b)
	}
	if total > 40<<20 {
		t.Errorf("the demo takes %d bytes", total)
	}
	doc := readTruth(t, files)
	if len(doc.Swimmers) != 26 {
		t.Fatalf("%d swimmers, want 24 and two strays", len(doc.Swimmers))
	}
	sessions, designed, few := 0, 0, 0
	kinds := map[string]int{}
	faults := map[string]int{}
	for _, s := range doc.Swimmers[:24] {
		sessions += len(s.Sessions)
		kinds[string(s.Kind)]++
		if len(s.Sessions) < 6 {
			few++
		}
		for _, ses := range s.Sessions {
			if ses.Designed {
				designed++
			}
			for _, f := range ses.Faults {
				faults[f.Kind]++
			}
			for _, name := range ses.Files {
				if files[name] == nil {
					t.Errorf("%s: %s is not there", s.Swimmer, name)
				}
			}
		}
		for _, o := range s.Others {
			if files[o.File] == nil {
				t.Errorf("%s: %s is not there", s.Swimmer, o.File)
			}
		}
	}
	if sessions < 290 || sessions > 350 {
		t.Errorf("%d sessions, want about 320", sessions)
	}
	if share := float64(designed) / float64(sessions); share < 0.38 || share > 0.5 {
		t.Errorf("%.2f of the sessions are designed", share)
	}
	if few != 2 {
		t.Errorf("%d swimmers came too rarely, want 2", few)
	}
	for _, kind := range []string{"tracks", "against", "none", "best-rate"} {
		if kinds[kind] < 2 {
			t.Errorf("%d swimmers of kind %s", kinds[kind], kind)
		}
	}
	for _, kind := range []string{"missed turn", "false turn", "early turn", "stop inside a length", "impossible count",
		"start value", "heart-rate dropout", "locked on the stroke rate"} {
		if faults[kind] == 0 {
			t.Errorf("no %s anywhere", kind)
		}
	}
	t.Logf("%d files, %d bytes, %d sessions, %d designed, kinds %v, faults %v", len(files), total, sessions, designed, kinds, faults)
}

type counts struct{ lengths, records, beats, sessions int }

func (c *counts) OnMesg(m proto.Message) {
	switch m.Num {
	case mesgnum.Length:
		c.lengths++
	case mesgnum.Record:
		c.records++
	case mesgnum.Hr:
		c.beats++
	case mesgnum.Session:
		c.sessions++
	}
}

// Every activity file must be readable, bar those that truth.json lists as odd.
func TestDemoActivityFiles(t *testing.T) {
	files := demoFiles(t)
	odd := map[string]string{}
	for _, s := range readTruth(t, files).Swimmers {
		for _, o := range s.Others {
			odd[o.File] = o.What
		}
	}
	straps, same := 0, map[[32]byte]string{}
	copies := 0
	for name, b := range files {
		if path.Ext(name) != ".fit" {
			continue
		}
		if _, ok := same[sha256.Sum256(b)]; ok {
			copies++
		}
		same[sha256.Sum256(b)] = name
		var c counts
		dec := decoder.New(bytes.NewReader(b), decoder.WithIgnoreChecksum(), decoder.WithMesgListener(&c))
		var err error
		for err == nil && dec.Next() {
			_, err = dec.Decode()
		}
		if c.beats > 0 {
			straps++
		}
		switch what := odd[name]; {
		case what == "cut short":
			if err == nil || c.lengths == 0 || c.sessions != 0 {
				t.Errorf("%s (%s): error %v, %+v", name, what, err, c)
			}
		case what == "not an activity file":
			if err == nil && c != (counts{}) {
				t.Errorf("%s (%s) decodes", name, what)
			}
		case strings.HasPrefix(what, "open-water"), what == "another sport":
			if err != nil || c.lengths != 0 || c.records == 0 {
				t.Errorf("%s (%s): error %v, %+v", name, what, err, c)
			}
		default:
			if err != nil || c.lengths < 20 || c.sessions != 1 {
				t.Errorf("%s: error %v, %+v", name, err, c)
			}
		}
	}
	if copies != 1 {
		t.Errorf("%d byte-identical copies, want 1", copies)
	}
	if straps < 20 {
		t.Errorf("%d files with a strap's beats", straps)
	}
}

// Every CSV file must parse, and each name in it must be known to the roster.
func TestDemoLists(t *testing.T) {
	files := demoFiles(t)
	parse := func(name string) [][]string {
		text := bytes.TrimPrefix(files[name], []byte("\ufeff"))
		r := csv.NewReader(bytes.NewReader(text))
		if bytes.HasPrefix(text, []byte("swimmer;")) {
			r.Comma = ';'
		}
		rows, err := r.ReadAll()
		if err != nil || len(rows) < 2 {
			t.Fatalf("%s: %d rows, error %v", name, len(rows), err)
		}
		return rows
	}
	known := map[string]bool{}
	refused := 0
	for _, row := range parse("roster.csv")[1:] {
		known[row[0]] = true
		for _, alias := range strings.Split(row[1], ";") {
			known[alias] = true
		}
		if row[len(row)-1] == "no" {
			refused++
		}
	}
	if refused != 1 {
		t.Errorf("%d swimmers refused consent, want 1", refused)
	}
	for name := range files {
		if path.Ext(name) != ".csv" || name == "roster.csv" {
			continue
		}
		for i, row := range parse(name)[1:] {
			who := row[0]
			if name == "assign.csv" {
				who = row[1]
				if files[row[0]] == nil {
					t.Errorf("%s gives away %s, which is not there", name, row[0])
				}
			}
			if !known[who] {
				t.Fatalf("%s row %d: the roster does not know %q", name, i+2, who)
			}
		}
	}
}

// The simulator is the world outside: it may not know the pipeline.
func TestNoPipelineInside(t *testing.T) {
	out, err := exec.Command("go", "list", "-deps", "lengthwise/datasets/...").Output()
	if err != nil {
		t.Skipf("go list: %v", err)
	}
	for _, dep := range strings.Fields(string(out)) {
		if strings.HasPrefix(dep, "lengthwise/") && !strings.HasPrefix(dep, "lengthwise/datasets") {
			t.Errorf("datasets imports %s", dep)
		}
	}
}

func BenchmarkWriteDemo(b *testing.B) {
	for range b.N {
		if err := WriteDemo(filepath.Join(b.TempDir(), "demo")); err != nil {
			b.Fatal(err)
		}
	}
}
