package run

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"lengthwise/datasets/activityfile"
)

// exported is a swim of some lengths on a day of June.
func exported(t *testing.T, serial uint32, day, lengths int) []byte {
	t.Helper()
	a := activityfile.Activity{StartUTC: time.Date(2026, 6, day, 6, 30, 0, 0, time.UTC), Serial: serial, PoolMetres: 25}
	for i := range lengths {
		a.Lengths = append(a.Lengths, activityfile.Length{StartSeconds: float64(24 * i), DurationSeconds: 24 - float64(i%3)/8, Strokes: 9 + i%2})
	}
	a.Laps = []activityfile.Lap{{DurationSeconds: float64(24 * lengths), Lengths: lengths, DistanceMetres: float64(25 * lengths)}}
	data, err := activityfile.Encode(a, activityfile.Quirks{})
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func gzipped(t *testing.T, data []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	if _, err := w.Write(data); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func zipped(t *testing.T, members map[string][]byte) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	names := make([]string, 0, len(members))
	for name := range members {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		m, err := w.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := m.Write(members[name]); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// A squad's export in one archive: folders, an archive and packed files in it,
// the same file twice, a file that was cut where it was packed, files that are
// none of it. All that is there is read, and accounted for.
func TestSquadExport(t *testing.T) {
	cut := gzipped(t, exported(t, 11, 4, 60))
	folder := t.TempDir()
	put(t, folder, map[string]string{
		"study.yaml": "study: export\ninputs: [{path: export.zip, kind: activity, stroke_count: cycles, pool: 25m}]\nroster: roster.csv\n",
		"roster.csv": "swimmer,device,consent\nana,11,yes\nben,22,yes\n",
		"export.zip": string(zipped(t, map[string][]byte{
			"ana/2026/06/one.fit":  exported(t, 11, 1, 20),
			"ana/two.FIT.gz":       gzipped(t, exported(t, 11, 2, 24)),
			"ana/copy of one.fit":  exported(t, 11, 1, 20),
			"ana/older.zip":        zipped(t, map[string][]byte{"may/three.fit": exported(t, 11, 3, 28), "may/notes.txt": []byte("x")}),
			"ana/cut.fit.gz":       cut[:len(cut)/2],
			"ben/four.fit":         exported(t, 22, 1, 32),
			"ben/photo.jpg":        []byte("x"),
			"__MACOSX/ben/._a.fit": []byte("x"),
			"readme.txt":           []byte("x"),
		})),
	})
	s := withKey(t, folder)
	r, err := Assess(context.Background(), s, Options{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	lengths := map[string]int{}
	for _, l := range r.Lengths {
		lengths[l.Session]++
	}
	var counts []int
	for _, n := range lengths {
		counts = append(counts, n)
	}
	slices.Sort(counts)
	part := slices.IndexFunc(counts, func(n int) bool { return !slices.Contains([]int{20, 24, 28, 32}, n) })
	if len(counts) != 5 || part < 0 || counts[part] >= 60 || !slices.Equal(slices.Delete(slices.Clone(counts), part, part+1), []int{20, 24, 28, 32}) {
		t.Errorf("sessions of %v lengths", counts)
	}
	rules := map[string]int64{}
	for _, e := range r.Ledger {
		rules[e.Rule+" "+e.Action] += e.Records
	}
	if rules["duplicate excluded"] != 20 || rules["truncated noted"] != 1 || rules["unreadable noted"] != 1 || rules["unreadable excluded"] != 0 {
		t.Errorf("ledger %v", rules)
	}
	var left []string
	for _, u := range r.Unmatched {
		left = append(left, fmt.Sprintf("%s: %s", u.Rel, u.Reason))
	}
	want := []string{"export.zip/ana/older.zip/may/notes.txt", "export.zip/ben/photo.jpg", "export.zip/readme.txt"}
	if len(left) != 3 || !slices.EqualFunc(left, want, strings.HasPrefix) {
		t.Errorf("left %q", left)
	}
}
