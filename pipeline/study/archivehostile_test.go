package study

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"hash/crc32"
	"io/fs"
	"reflect"
	"strings"
	"testing"
)

// zipWith packs members whose headers are made by hand; raw ones as they are.
func zipWith(t *testing.T, raw bool, content string, headers ...*zip.FileHeader) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, h := range headers {
		create := w.CreateHeader
		if raw {
			create = w.CreateRaw
		}
		f, err := create(h)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write([]byte(content)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Names as packing programs write them.
func TestNamesInArchives(t *testing.T) {
	named := func(name string) *zip.FileHeader { return &zip.FileHeader{Name: name, NonUTF8: true} }
	byExtra := named("in?s/extra.fit")
	field := append([]byte{1, 0, 0, 0, 0}, "inês/extra.fit"...)
	sum := crc32.ChecksumIEEE([]byte(byExtra.Name))
	for i := range 4 {
		field[1+i] = byte(sum >> (8 * i))
	}
	byExtra.Extra = append([]byte{1, 0, 0, 0, 0x75, 0x70, byte(len(field)), 0}, field...)
	folder := folderOf(t, map[string][]byte{"squad.zip": zipWith(t, false, "x",
		&zip.FileHeader{Name: "inês/flagged.fit"}, named("inês/plain.fit"), named("in\x88s/old.fit"), named("jo\xc6o/old.fit"), byExtra,
		named("deep/"+strings.Repeat("a/", 600)+"a.fit"), named("in\x1b[31ms/colour.fit"))})
	found, left := listed(t, "inputs: [{path: \"*.zip/{swimmer}/*.fit\", kind: activity}]\n", folder)
	want := []string{"squad.zip/inês/extra.fit inês x", "squad.zip/inês/flagged.fit inês x", "squad.zip/inês/old.fit inês x", "squad.zip/inês/plain.fit inês x", "squad.zip/joão/old.fit joão x"}
	if !reflect.DeepEqual(found, want) {
		t.Errorf("found %q, want %q", found, want)
	}
	wantLeft := []string{"squad.zip/deep/a/a/a/a/a/a/a/a...: its path is longer than 1000 bytes", "squad.zip/in?[31ms/colour.fit: its name holds characters that cannot be shown; rename it"}
	if len(left) != 2 || !strings.HasPrefix(left[0], "squad.zip/deep/a/a/") || !strings.HasSuffix(left[0], "longer than 1000 bytes") || left[1] != wantLeft[1] {
		t.Errorf("left %q", left)
	}
}

// Members that are there and not read, each with its reason.
func TestMembersThatAreNotRead(t *testing.T) {
	link := &zip.FileHeader{Name: "link.fit"}
	link.SetMode(fs.ModeSymlink | 0o777)
	headers := map[string]*zip.FileHeader{
		"locked with a password":                       {Name: "a.fit", Flags: 1, CompressedSize64: 1, UncompressedSize64: 1},
		"packed in a way that is not read (method 12)": {Name: "a.fit", Method: 12, CompressedSize64: 1, UncompressedSize64: 1},
		"unpacks to more than 100 times its size":      {Name: "a.fit", Method: zip.Deflate, CompressedSize64: 1, UncompressedSize64: 17 << 20},
		"more than 256 MB":                             {Name: "a.fit", CompressedSize64: 1, UncompressedSize64: 300 << 20},
	}
	for words, h := range headers {
		content := "x"
		if h.UncompressedSize64 > 200<<20 { // not tight
			h.CompressedSize64 = h.UncompressedSize64 / 50
			content = strings.Repeat("x", int(h.CompressedSize64))
		}
		folder := folderOf(t, map[string][]byte{"a.zip": zipWith(t, true, content, h)})
		found, left := listed(t, "inputs: [{path: \"*.zip\", kind: activity}]\n", folder)
		if len(found) != 0 || len(left) != 1 || !strings.Contains(left[0], words) {
			t.Errorf("%s: found %q, left %q", words, found, left)
		}
	}
	folder := folderOf(t, map[string][]byte{"a.zip": zipWith(t, false, "x", link), "b.tar.gz": []byte("x"), "c.rar": []byte("x"), "d.7z": []byte("x")})
	found, left := listed(t, "inputs: [{path: \"*.zip\", kind: activity}, {path: \"*.fit\", kind: activity}]\n", folder)
	want := []string{"a.zip/link.fit: not a plain file"}
	for _, name := range []string{"b.tar.gz", "c.rar", "d.7z"} {
		want = append(want, name+": an archive of a kind that is not looked into; unpack it, or pack it as zip")
	}
	if len(found) != 0 || !reflect.DeepEqual(left, want) {
		t.Errorf("found %q, left %q", found, left)
	}
}

// Archives made to unpack to more than they could hold: files that share their
// bytes, too many files, too long a list, too many archives within archives.
func TestArchivesBeyondTheLimits(t *testing.T) {
	shared := zipWith(t, true, "x", &zip.FileHeader{Name: "a.fit", CompressedSize64: 400, UncompressedSize64: 400}, &zip.FileHeader{Name: "b.fit", CompressedSize64: 400, UncompressedSize64: 400})
	if _, err := openArchive(bytes.NewReader(shared), int64(len(shared))); err == nil || !strings.Contains(err.Error(), "take more bytes than it has") {
		t.Errorf("files that share their bytes: %v", err)
	}
	inner := zipOf(t, [2]string{"a.fit", "x"})
	outer, err := openArchive(bytes.NewReader(zipOf(t, [2]string{"b.zip", string(inner)})), int64(len(zipOf(t, [2]string{"b.zip", string(inner)}))))
	if err != nil {
		t.Fatal(err)
	}
	b := &budget{members: 10, nested: int64(len(inner)) + 5}
	if _, err := b.archiveIn(outer.File[0]); err != nil {
		t.Fatal(err)
	}
	if _, err := b.archiveIn(outer.File[0]); err == nil || !strings.Contains(err.Error(), "archives within archives hold more than 1024 MB") {
		t.Errorf("archives within archives: %v", err)
	}
	files := &Files{budget: &budget{members: 1, nested: 1 << 20}}
	s := mustParse(t, "inputs: [{path: \"*.zip\", kind: activity}]\n")
	s.findIn(files, outer, "a.zip", nil)
	if len(files.Found) != 0 || len(files.Unmatched) != 1 || !strings.Contains(files.Unmatched[0].Reason, "hold more than 200000 files") {
		t.Errorf("too many files: %+v", files)
	}
}

func TestLongListsOfFiles(t *testing.T) {
	if testing.Short() {
		t.Skip("packs 70,000 files")
	}
	many := make([]*zip.FileHeader, 70_000) // more than fit without 64-bit fields
	for i := range many {
		many[i] = &zip.FileHeader{Name: fmt.Sprintf("a%d.fit", i)}
	}
	folder := folderOf(t, map[string][]byte{"a.zip": zipWith(t, false, "x", many...)})
	s := mustParse(t, "inputs: [{path: \"*.zip\", kind: activity}]\n")
	s.Folder, s.File = folder, "study.yaml"
	files, err := s.Find()
	if err != nil {
		t.Fatal(err)
	}
	defer files.Close()
	if len(files.Found) != len(many) || len(files.Unmatched) != 0 {
		t.Errorf("%d files found, %d left: %v", len(files.Found), len(files.Unmatched), files.Unmatched[:min(3, len(files.Unmatched))])
	}
	if data, err := files.Found[69_999].Read(); err != nil || string(data) != "x" {
		t.Errorf("%q, %v", data, err)
	}
	long := make([]*zip.FileHeader, 600)
	for i := range long {
		long[i] = &zip.FileHeader{Name: fmt.Sprintf("%d%s", i, strings.Repeat("a", 60_000))}
	}
	data := zipWith(t, false, "x", long...)
	if _, err := openArchive(bytes.NewReader(data), int64(len(data))); !errors.Is(err, errLongList) {
		t.Errorf("a list of %d MB: %v", len(data)>>21, err)
	}
}

// What could be unpacked before the damage is handed on with the error.
func TestDamagedWherePackedGivesWhatThereIs(t *testing.T) {
	content := strings.Repeat("swim 25 m, turn, swim on\n", 4000)
	packed := gzipOf(t, content)
	archive := zipOf(t, [2]string{"b.fit.gz", string(packed[:len(packed)/2])}, [2]string{"c.fit.gz", string(packed)})
	folder := folderOf(t, map[string][]byte{"a.fit.gz": packed[:len(packed)/2], "b.zip": archive})
	s := mustParse(t, "inputs: [{path: \"*.zip\", kind: activity}, {path: \"*.fit\", kind: activity}]\n")
	s.Folder, s.File = folder, "study.yaml"
	files, err := s.Find()
	if err != nil {
		t.Fatal(err)
	}
	defer files.Close()
	for i, whole := range []bool{false, false, true} {
		data, err := files.Found[i].Read()
		if !strings.HasPrefix(content, string(data)) || len(data) == 0 || errors.Is(err, ErrDamaged) == whole || (string(data) == content) != whole {
			t.Errorf("%s: %d bytes, %v", files.Found[i].Rel, len(data), err)
		}
	}
}

func FuzzArchive(f *testing.F) {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, name := range []string{"ana/a.fit", "../b.fit", "c.fit.gz", "d.zip"} {
		m, err := w.Create(name)
		if err != nil {
			f.Fatal(err)
		}
		_, _ = m.Write([]byte("swim"))
	}
	_ = w.Close()
	f.Add(b.Bytes())
	f.Add([]byte("PK\x05\x06" + strings.Repeat("\x00", 18)))
	s := &Study{Inputs: []Input{{Pattern: "*.zip", Kind: Activity}}}
	f.Fuzz(func(t *testing.T, data []byte) {
		archive, err := openArchive(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			return
		}
		files := &Files{budget: newBudget()}
		s.findIn(files, archive, "a.zip", nil)
		if n := len(files.Found) + len(files.Unmatched); n > mostMembers {
			t.Fatalf("%d files", n)
		}
		for _, found := range files.Found {
			if rel := found.Rel; !strings.HasPrefix(rel, "a.zip/") || strings.Contains(rel, "/../") || strings.HasSuffix(rel, "/..") || strings.ContainsAny(rel, "\x00\x1b") {
				t.Fatalf("found %q", rel)
			}
			if bytes, err := found.Read(); err == nil && len(bytes) > largestMember {
				t.Fatalf("%d bytes", len(bytes))
			}
		}
	})
}
