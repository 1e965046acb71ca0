package cache

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

func open(t testing.TB) *Store {
	t.Helper()
	s, err := Open(filepath.Join(t.TempDir(), "cache"))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

type record struct {
	key     Key
	payload []byte
}

// some records: an empty one, a long one, and two under one key.
func some() []record {
	return []record{
		{KeyOf("a"), []byte("first")}, {KeyOf("b"), nil}, {KeyOf("c"), bytes.Repeat([]byte("long "), 20)}, {KeyOf("a"), []byte("again")},
	}
}

func write(t testing.TB, s *Store, stage string, bucket int, records []record) Ref {
	t.Helper()
	w, err := s.Create(stage, bucket)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range records {
		if err := w.Append(r.key, r.payload); err != nil {
			t.Fatal(err)
		}
	}
	ref, err := w.Close()
	if err != nil {
		t.Fatal(err)
	}
	return ref
}

// readAll reads every record of a segment; the first error ends it.
func readAll(s *Store, ref Ref) ([]record, error) {
	g, err := s.Open(ref)
	if err != nil {
		return nil, err
	}
	defer g.Close()
	var out []record
	for i := range g.Len() {
		payload, err := g.Record(i)
		if err != nil {
			return nil, err
		}
		out = append(out, record{g.Key(i), payload})
	}
	return out, nil
}

func same(a, b []record) bool {
	return slices.EqualFunc(a, b, func(x, y record) bool { return x.key == y.key && bytes.Equal(x.payload, y.payload) })
}

func TestKeyOfKeepsPartsApart(t *testing.T) {
	if KeyOf("ab", "c") == KeyOf("a", "bc") || KeyOf("a") == KeyOf("a", "") || KeyOf() == KeyOf("") {
		t.Error("two lists of parts share a key")
	}
	if once, again := KeyOf("a", "b"), KeyOf("a", "b"); once != again {
		t.Error("one list of parts has two keys")
	}
}

func TestSegmentGivesBackWhatWasWritten(t *testing.T) {
	s := open(t)
	ref := write(t, s, "read", 7, some())
	got, err := readAll(s, ref)
	if err != nil || !same(got, some()) {
		t.Fatalf("%v, %v", got, err)
	}
	if again := write(t, s, "read", 7, some()); again != ref {
		t.Errorf("the same records became %s and %s", ref.File, again.File)
	}
	if other := write(t, s, "read", 7, some()[1:]); other.File == ref.File {
		t.Error("other records have the same name")
	}
	g, err := s.Open(ref)
	if err != nil {
		t.Fatal(err)
	}
	defer g.Close()
	if found := g.Find(KeyOf("a")); !slices.Equal(found, []int{0, 3}) {
		t.Errorf("records of a: %v", found)
	}
	if last, err := g.Get(KeyOf("a")); err != nil || string(last) != "again" {
		t.Errorf("%q, %v", last, err)
	}
	if _, err := g.Get(KeyOf("z")); !errors.Is(err, ErrMissing) {
		t.Errorf("a key that was never written: %v", err)
	}
	empty := write(t, s, "read", 8, nil)
	if got, err := readAll(s, empty); err != nil || len(got) != 0 {
		t.Errorf("empty segment: %v, %v", got, err)
	}
}

// Whatever byte of a segment or a manifest is changed, and wherever it is cut,
// the cache says so; it never gives other records in silence.
func TestDamageIsSaid(t *testing.T) {
	s := open(t)
	ref := write(t, s, "fit", 0, some())
	made := map[string]string{"version": "1", "study": "x"}
	if err := s.Publish("run", Manifest{For: made, Segments: []Ref{ref}}); err != nil {
		t.Fatal(err)
	}
	segment := func() error { _, err := readAll(s, ref); return err }
	manifest := func() error { _, err := s.Manifest("run", made); return err }
	for _, c := range []struct {
		file string
		read func() error
		free int // bytes that may change without a word: the last newline
	}{
		{filepath.Join(s.dir, segmentFolder, ref.File), segment, 0},
		{filepath.Join(s.dir, manifestFolder, "run.json"), manifest, 1},
	} {
		whole, err := os.ReadFile(c.file)
		if err != nil {
			t.Fatal(err)
		}
		silent := 0
		for i := range whole {
			bad := bytes.Clone(whole)
			bad[i] ^= 0x41
			overwrite(t, c.file, bad)
			var damaged *DamagedError
			if err := c.read(); err == nil {
				silent++
			} else if !errors.As(err, &damaged) {
				t.Fatalf("%s, byte %d: %v is no DamagedError", c.file, i, err)
			}
		}
		if silent > c.free {
			t.Errorf("%s: %d of %d changed bytes went unseen, at most %d may", c.file, silent, len(whole), c.free)
		}
		for cut := range len(whole) - 1 {
			overwrite(t, c.file, whole[:cut])
			if c.read() == nil {
				t.Errorf("%s cut to %d of %d bytes is read", c.file, cut, len(whole))
			}
		}
		overwrite(t, c.file, whole)
		if err := c.read(); err != nil {
			t.Fatalf("whole again: %v", err)
		}
	}
}

func overwrite(t *testing.T, path string, data []byte) {
	t.Helper()
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestManifestIsRefusedForSomethingElse(t *testing.T) {
	s := open(t)
	made := map[string]string{"version": "1", "study": "x"}
	if err := s.Publish("run", Manifest{For: made}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		want  map[string]string
		field string
	}{
		{map[string]string{"version": "1", "study": "y"}, "study"},
		{map[string]string{"version": "2", "study": "x"}, "version"},
		{map[string]string{"version": "1"}, "study"},
		{map[string]string{"version": "1", "study": "x", "shards": "3"}, "shards"},
	} {
		var other *OtherError
		if _, err := s.Manifest("run", c.want); !errors.As(err, &other) || other.Field != c.field || !strings.Contains(err.Error(), c.field) {
			t.Errorf("%v: %v", c.want, err)
		}
	}
	if _, err := s.Manifest("run", made); err != nil {
		t.Error(err)
	}
	if _, err := s.Manifest("shard-2-of-3", made); !errors.Is(err, ErrMissing) {
		t.Errorf("no such manifest: %v", err)
	}
	if err := s.Publish("run", Manifest{Segments: []Ref{{File: "nowhere.seg"}}}); err == nil {
		t.Error("a manifest may name what is not there")
	}
	var damaged *DamagedError
	if _, err := s.Open(Ref{File: "../manifests/run.json"}); !errors.As(err, &damaged) {
		t.Errorf("a segment outside the folder: %v", err)
	}
}

// A killed process leaves a segment begun, and one finished that no manifest
// names. Neither counts; both are collected, and what is named stays.
func TestCollect(t *testing.T) {
	s := open(t)
	named := write(t, s, "read", 1, some())
	unnamed := write(t, s, "read", 2, some()[:1])
	begun, err := s.Create("read", 3)
	if err != nil {
		t.Fatal(err)
	}
	if err := begun.Append(KeyOf("x"), []byte("x")); err != nil {
		t.Fatal(err)
	}
	aborted, err := s.Create("read", 4)
	if err != nil {
		t.Fatal(err)
	}
	aborted.Abort()
	if err := s.Publish("run", Manifest{Segments: []Ref{named}}); err != nil {
		t.Fatal(err)
	}
	if freed, err := s.Collect(time.Hour); err != nil || freed != 0 {
		t.Errorf("young files: %d bytes freed, %v", freed, err)
	}
	path := filepath.Join(s.dir, manifestFolder, "run.json")
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	overwrite(t, path, whole[1:])
	if freed, err := s.Collect(0); err == nil || freed != 0 {
		t.Errorf("with a manifest that cannot be read %d bytes were freed, %v", freed, err)
	}
	overwrite(t, path, whole)
	if freed, err := s.Collect(0); err != nil || freed == 0 {
		t.Errorf("%d bytes freed, %v", freed, err)
	}
	left, err := os.ReadDir(filepath.Join(s.dir, segmentFolder))
	if err != nil || len(left) != 1 || left[0].Name() != named.File {
		t.Errorf("left: %v, %v", left, err)
	}
	if _, err := s.Open(unnamed); !errors.Is(err, ErrMissing) {
		t.Errorf("collected segment: %v", err)
	}
	if got, err := readAll(s, named); err != nil || !same(got, some()) {
		t.Errorf("named segment: %v, %v", got, err)
	}
}

// Shards write the same folder at the same time.
func TestManyWriters(t *testing.T) {
	s := open(t)
	var group sync.WaitGroup
	refs := make([]Ref, 8)
	for i := range refs {
		group.Add(1)
		go func() {
			defer group.Done()
			w, err := s.Create("read", i%2) // two by two the same content
			if err == nil {
				err = w.Append(KeyOf(fmt.Sprint(i%4)), []byte{byte(i % 4)})
			}
			if err == nil {
				refs[i], err = w.Close()
			}
			if err == nil {
				err = s.Publish(fmt.Sprintf("shard-%d", i), Manifest{Segments: []Ref{refs[i]}})
			}
			if err != nil {
				t.Error(err)
			}
		}()
	}
	group.Wait()
	names, err := s.Manifests()
	if err != nil || len(names) != len(refs) {
		t.Fatalf("%v, %v", names, err)
	}
	for i, ref := range refs {
		got, err := readAll(s, ref)
		if err != nil || len(got) != 1 || got[0].payload[0] != byte(i%4) {
			t.Errorf("shard %d: %v, %v", i, got, err)
		}
	}
}

func TestFolderIsClosedToOthers(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "cache")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	ref := write(t, s, "read", 0, some())
	for path, want := range map[string]os.FileMode{"": 0o700, segmentFolder: 0o700, filepath.Join(segmentFolder, ref.File): 0o600} {
		info, err := os.Stat(filepath.Join(dir, path))
		if err != nil || info.Mode().Perm() != want {
			t.Errorf("%q: %v, %v, want %v", path, info.Mode().Perm(), err, want)
		}
	}
	if data, err := os.ReadFile(filepath.Join(dir, tagFile)); err != nil || string(data) != tag {
		t.Errorf("tag: %q, %v", data, err)
	}
}

// A file that is written twice within a step of the clock, at the same length,
// has one stamp: such a stamp is not settled, and must not be trusted.
func TestStamps(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.csv")
	stamp := func() Stamp {
		t.Helper()
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		return StampOf(info)
	}
	overwrite(t, path, []byte("one"))
	first := stamp()
	if first.Settled(time.Now()) {
		t.Error("a file of this moment is settled")
	}
	if !first.Settled(time.Now().Add(3 * time.Second)) {
		t.Error("a file of three seconds ago is not settled")
	}
	overwrite(t, path, []byte("other"))
	if stamp() == first {
		t.Error("another size, the same stamp")
	}
	when := time.Unix(1e9, 0)
	if err := os.Chtimes(path, when, when); err != nil {
		t.Fatal(err)
	}
	old := stamp()
	moved := path + ".2"
	overwrite(t, moved, []byte("thing")) // same size, put in place with the old time
	if err := os.Chtimes(moved, when, when); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(moved, path); err != nil {
		t.Fatal(err)
	}
	if old.Inode != 0 && stamp() == old {
		t.Error("another file of the same size and time, the same stamp")
	}
	old = stamp()
	time.Sleep(50 * time.Millisecond)   // the kernel's clock of changes has steps of some milliseconds
	overwrite(t, path, []byte("tings")) // written over, its time put back
	if err := os.Chtimes(path, when, when); err != nil {
		t.Fatal(err)
	}
	if old.ChangeNS != 0 && stamp() == old {
		t.Error("written over at the same size, its time put back, the same stamp")
	}
	folder, err := os.Stat(t.TempDir())
	if err != nil || StampOf(folder).Settled(time.Now().Add(time.Hour)) {
		t.Error("a folder is settled")
	}
}

func FuzzSegment(f *testing.F) {
	s := open(f)
	ref := write(f, s, "read", 0, some())
	whole, err := os.ReadFile(filepath.Join(s.dir, segmentFolder, ref.File))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(whole)
	f.Add(whole[:len(whole)-1])
	f.Add([]byte(magic))
	f.Fuzz(func(t *testing.T, data []byte) {
		s := open(t)
		overwrite(t, filepath.Join(s.dir, segmentFolder, "x.seg"), data)
		_, err := readAll(s, Ref{File: "x.seg"})
		var damaged *DamagedError
		if err != nil && !errors.As(err, &damaged) {
			t.Fatal(err)
		}
	})
}

func FuzzManifest(f *testing.F) {
	f.Add([]byte(`{"manifest":{"for":{},"segments":[]},"sha256":""}`))
	f.Add([]byte(`{`))
	f.Fuzz(func(t *testing.T, data []byte) {
		s := open(t)
		overwrite(t, filepath.Join(s.dir, manifestFolder, "x.json"), data)
		_, err := s.Manifest("x", nil)
		var damaged *DamagedError
		var other *OtherError
		if err != nil && !errors.As(err, &damaged) && !errors.As(err, &other) {
			t.Fatal(err)
		}
	})
}
