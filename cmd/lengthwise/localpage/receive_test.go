package localpage

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestPlaceFor(t *testing.T) {
	for _, c := range []struct{ name, want string }{ // want "": not taken
		{"monday.fit", "inbox/monday.fit"},
		{"monday.FIT.gz", "inbox/monday.FIT.gz"},
		{"squad.zip", "inbox/squad.zip"},
		{"Ana Duarte/monday.fit", "Ana Duarte/monday.fit"},
		{`Ana Duarte\monday.fit`, "Ana Duarte/monday.fit"},
		{"sets.csv", "sheets/sets.csv"},
		{"pulse/ana.csv", "pulse/ana.csv"},
		{"roster.csv", "roster.csv"},
		{"Notes.csv", "Notes.csv"},
		{"", ""},
		{".", ""},
		{"..", ""},
		{"../sets.csv", ""},
		{"a/../../sets.csv", ""},
		{"/etc/sets.csv", ""},
		{"C:/sets.csv", ""},
		{`..\sets.csv`, ""},
		{".hidden/sets.csv", ""},
		{"a/.sets.csv", ""},
		{"private/sets.csv", ""},
		{"out/tables/sets.csv", ""},
		{"study.yaml", ""},
		{"study.key", ""},
		{"photo.jpg", ""},
		{"a\x00.csv", ""},
		{"a\n.csv", ""},
	} {
		got, err := placeFor(c.name)
		if (err != nil) != (c.want == "") || got != c.want {
			t.Errorf("%q goes to %q (%v), want %q", c.name, got, err, c.want)
		}
	}
}

func TestReceiveNeverChangesAFile(t *testing.T) {
	s := &Server{folder: t.TempDir()}
	put := func(name, content string) Received {
		t.Helper()
		got, err := s.receive(name, strings.NewReader(content))
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	if got := put("a.csv", "one"); !got.Taken || got.Words != "taken" {
		t.Errorf("new file: %+v", got)
	}
	if got := put("a.csv", "one"); !got.Taken || got.Words != "was there already" {
		t.Errorf("the same again: %+v", got)
	}
	if got := put("a.csv", "two"); got.Taken {
		t.Errorf("another of the same name: %+v", got)
	}
	if got := put("../a.csv", "three"); got.Taken {
		t.Errorf("a path out of the folder: %+v", got)
	}
	data, err := os.ReadFile(filepath.Join(s.folder, "sheets", "a.csv"))
	if err != nil || string(data) != "one" {
		t.Errorf("the first file holds %q (%v)", data, err)
	}
	left, err := os.ReadDir(filepath.Join(s.folder, "sheets"))
	if err != nil || len(left) != 1 {
		t.Errorf("files left over: %v (%v)", left, err)
	}
	if _, err := os.Stat(filepath.Join(filepath.Dir(s.folder), "a.csv")); err == nil {
		t.Error("a file was written outside the folder")
	}
}

// brokenReader fails after some bytes, as a connection does that is cut.
type brokenReader struct{ given bool }

func (b *brokenReader) Read(p []byte) (int, error) {
	if b.given {
		return 0, os.ErrDeadlineExceeded
	}
	b.given = true
	return copy(p, "swimmer,date"), nil
}

func TestReceiveLeavesNothingOfABrokenFile(t *testing.T) {
	s := &Server{folder: t.TempDir()}
	if _, err := s.receive("a.csv", &brokenReader{}); err == nil {
		t.Error("a broken connection gave no error")
	}
	left, err := os.ReadDir(filepath.Join(s.folder, "sheets"))
	if err != nil || len(left) != 0 {
		t.Errorf("files left over: %v (%v)", left, err)
	}
}

// Whatever a browser calls a file, its place lies within the folder and outside
// those that results are written into.
func FuzzPlaceFor(f *testing.F) {
	for _, name := range []string{"monday.fit", "../sets.csv", `..\\sets.csv`, "a/b/roster.csv", "private/x.csv", "./private/x.csv", "C:/x.csv", "a//b.zip", "\x00.csv", "..csv", "OUT/x.csv"} {
		f.Add(name)
	}
	f.Fuzz(func(t *testing.T, name string) {
		place, err := placeFor(name)
		if err != nil {
			return
		}
		first, _, _ := strings.Cut(place, "/")
		if !filepath.IsLocal(filepath.FromSlash(place)) || strings.EqualFold(first, "private") || strings.EqualFold(first, "out") || strings.Contains(place, "..") && strings.HasPrefix(place, "..") || strings.ContainsAny(place, "\x00\\") {
			t.Errorf("%q goes to %q", name, place)
		}
	})
}
