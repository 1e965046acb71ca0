package study

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

// zipOf makes an archive; names ending in / are folders.
func zipOf(t *testing.T, members ...[2]string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, m := range members {
		to, err := w.Create(m[0])
		if err == nil {
			_, err = to.Write([]byte(m[1]))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func gzipOf(t *testing.T, content string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	if _, err := w.Write([]byte(content)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// folderOf writes files into a new folder.
func folderOf(t *testing.T, files map[string][]byte) string {
	t.Helper()
	folder := t.TempDir()
	for name, data := range files {
		full := filepath.Join(folder, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(full, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return folder
}

// listed is what Find makes of a folder: path, swimmer and content of the
// found files; path and reason of the others.
func listed(t *testing.T, inputs, folder string) (found, left []string) {
	t.Helper()
	s := mustParse(t, inputs)
	s.Folder, s.File = folder, "study.yaml"
	files, err := s.Find()
	if err != nil {
		t.Fatal(err)
	}
	defer files.Close()
	for _, f := range files.Found {
		data, err := f.Read()
		if err != nil {
			t.Errorf("%s: %v", f.Rel, err)
		}
		found = append(found, strings.TrimSpace(f.Rel+" "+f.Swimmer+" "+string(data)))
	}
	for _, u := range files.Unmatched {
		left = append(left, u.Rel+": "+u.Reason)
	}
	return found, left
}

func TestArchivesAreFolders(t *testing.T) {
	inner := zipOf(t, [2]string{"2026/may.fit", "may"})
	folder := folderOf(t, map[string][]byte{
		"inbox/squad.zip": zipOf(t, [2]string{"ana/", ""}, [2]string{"ana/a.fit", "one"}, [2]string{"ben/b.FIT", "two"},
			[2]string{"ben/readme.txt", "x"}, [2]string{"__MACOSX/ana/._a.fit", "x"}, [2]string{"ana/.DS_Store", "x"}),
		"export/cleo.zip": zipOf(t, [2]string{"deep/er/c.fit", "three"}, [2]string{"older.zip", string(inner)}, [2]string{"list.csv", "x"}),
		"inbox/d.fit.gz":  gzipOf(t, "four"),
		"inbox/e.zip":     []byte("not an archive"),
	})
	found, left := listed(t, `
inputs:
  - {path: "inbox/*.zip/{swimmer}/*.fit", kind: activity}
  - {path: "export/{swimmer}.zip", kind: activity}
  - {path: "inbox/*.fit", kind: activity}
`, folder)
	wantFound := []string{
		"export/cleo.zip/deep/er/c.fit cleo three",
		"export/cleo.zip/older.zip/2026/may.fit cleo may",
		"inbox/d.fit.gz  four",
		"inbox/squad.zip/ana/a.fit ana one",
		"inbox/squad.zip/ben/b.FIT ben two",
	}
	if !reflect.DeepEqual(found, wantFound) {
		t.Errorf("found\n%q\nwant\n%q", found, wantFound)
	}
	wantLeft := []string{
		"export/cleo.zip/list.csv: no input's path fits",
		"inbox/e.zip: an archive that cannot be opened: zip: not a valid zip file",
		"inbox/squad.zip/ben/readme.txt: no input's path fits",
	}
	if !reflect.DeepEqual(left, wantLeft) {
		t.Errorf("left\n%q\nwant\n%q", left, wantLeft)
	}
}

func TestHostileArchives(t *testing.T) {
	deep := zipOf(t, [2]string{"a.fit", "x"})
	for range deepestArchive {
		deep = zipOf(t, [2]string{"more.zip", string(deep)})
	}
	folder := folderOf(t, map[string][]byte{
		"inbox/paths.zip": zipOf(t, [2]string{"../../up.fit", "x"}, [2]string{"/etc/abs.fit", "x"}, [2]string{`..\..\win.fit`, "x"},
			[2]string{"a//b.fit", "x"}, [2]string{"nul\x00.fit", "x"}, [2]string{"twice.fit", "first"}, [2]string{"twice.fit", "second"}),
		"inbox/deep.zip": deep,
	})
	found, left := listed(t, "inputs: [{path: \"inbox/*.zip\", kind: activity}]\n", folder)
	if want := []string{"inbox/paths.zip/twice.fit  first"}; !reflect.DeepEqual(found, want) {
		t.Errorf("found %q, want %q", found, want)
	}
	all := strings.Join(left, "\n")
	if strings.Count(all, "leads out of it") != 4 || !strings.Contains(all, "nul?.fit: its name holds characters") || !strings.Contains(all, "a second file of this path") ||
		!strings.Contains(all, "an archive in 3 others") {
		t.Errorf("left:\n%s", all)
	}
}

func TestDamagedMembersAreSaidToBe(t *testing.T) {
	archive := zipOf(t, [2]string{"a.fit", strings.Repeat("swim", 5000)})
	archive[60] ^= 0xff // inside the packed bytes
	packed := gzipOf(t, strings.Repeat("swim", 5000))
	folder := folderOf(t, map[string][]byte{
		"inbox/a.zip":    archive,
		"inbox/b.fit.gz": packed[:len(packed)/2],
		"inbox/c.fit.gz": []byte("plain"),
	})
	s := mustParse(t, "inputs: [{path: \"inbox/*.zip\", kind: activity}, {path: \"inbox/*.fit\", kind: activity}]\n")
	s.Folder, s.File = folder, "study.yaml"
	files, err := s.Find()
	if err != nil {
		t.Fatal(err)
	}
	defer files.Close()
	if len(files.Found) != 3 {
		t.Fatalf("found %d files, want 3", len(files.Found))
	}
	for _, f := range files.Found {
		if _, err := f.Read(); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s: %v is not ErrDamaged", f.Rel, err)
		}
	}
}

// A small archive that unpacks to more than an input may hold is refused
// before the memory is full.
func TestBombsAreRefused(t *testing.T) {
	if testing.Short() {
		t.Skip("packs 257 MB of zeros")
	}
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	zeros := make([]byte, 1<<20)
	for range largestMember>>20 + 1 {
		if _, err := w.Write(zeros); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	folder := folderOf(t, map[string][]byte{"a.fit.gz": b.Bytes()})
	s := mustParse(t, "inputs: [{path: \"*.fit\", kind: activity}]\n")
	s.Folder, s.File = folder, "study.yaml"
	files, err := s.Find()
	if err != nil {
		t.Fatal(err)
	}
	defer files.Close()
	if _, err := files.Found[0].Read(); err == nil || !strings.Contains(err.Error(), "more than 256 MB") {
		t.Errorf("error %v", err)
	}
}
