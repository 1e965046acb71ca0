package run

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// A study whose sheets are read in parts has the bytes of one whose sheets are read at
// once: with a cache and without, found again in it, and read again where what it kept is
// damaged.
func TestLongSheetsGiveTheSameBytes(t *testing.T) {
	k := newKeepingStudy(t)
	s := withKey(t, k.folder)
	run := func(o Options) map[string]string {
		t.Helper()
		if err := os.RemoveAll(s.Path(s.Output)); err != nil {
			t.Fatal(err)
		}
		if _, err := Study(context.Background(), s, o); err != nil {
			t.Fatal(err)
		}
		return hashes(t, s.Path(s.Output))
	}
	want := run(Options{Workers: 2})
	cached := Options{Workers: 3, longFrom: 1, Cache: filepath.Join(s.Folder, "private/cache/study")}
	for name, o := range map[string]Options{"no cache": {Workers: 1, longFrom: 1}, "cache": cached} {
		if !maps.Equal(run(o), want) {
			t.Errorf("%s: other bytes", name)
		}
	}
	if !maps.Equal(run(cached), want) {
		t.Error("found in the cache: other bytes")
	}
	for _, segment := range k.cached("segments") {
		if strings.Contains(segment, string(readStage)) {
			data, err := os.ReadFile(segment)
			if err != nil {
				t.Fatal(err)
			}
			data[len(data)/2] ^= 1
			if err := os.WriteFile(segment, data, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	if !maps.Equal(run(cached), want) {
		t.Error("damaged in the cache: other bytes")
	}
}

// A long sheet that is packed, and one that is cut where it is packed, are told like
// short ones.
func TestLongSheetsThatArePacked(t *testing.T) {
	rows := "swimmer,date,start,set,rep,distance_m,pool,stroke,time,strokes\n" + strings.Repeat("ana,2026-03-02,18:30,1,1,100,25m,freestyle,80.5,60\n", 400)
	var packed bytes.Buffer
	w := gzip.NewWriter(&packed)
	if _, err := w.Write([]byte(rows)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	put(t, folder, map[string]string{
		"study.yaml":   "study: packed\ninputs: [{path: \"*.csv\", kind: sheet, stroke_count: arms}]\nroster: roster.csv\n",
		"roster.csv":   "swimmer,consent\nana,yes\n",
		"whole.csv.gz": packed.String(), "cut.csv.gz": packed.String()[:packed.Len()-6], "none.csv.gz": "", "words.csv": strings.Repeat("no header here\n", 50),
	})
	s := withKey(t, folder)
	ledgers := map[int64]map[string]int64{}
	words := map[int64][]SheetWords{}
	for _, from := range []int64{0, 100} {
		r, err := Assess(context.Background(), s, Options{Workers: 2, longFrom: from})
		if err != nil {
			t.Fatal(err)
		}
		rules := map[string]int64{}
		for _, e := range r.Ledger {
			rules[e.Kind+" "+e.Rule+" "+e.Action] += e.Records
		}
		rules["lengths"] = int64(len(r.Lengths))
		ledgers[from], words[from] = rules, r.Understood
	}
	if !reflect.DeepEqual(words[0], words[100]) || len(words[0]) != 1 || len(words[0][0].Rows) == 0 {
		t.Errorf("in words at once %v, in parts %v", words[0], words[100])
	}
	if !maps.Equal(ledgers[0], ledgers[100]) || ledgers[0]["file unreadable excluded"] != 3 {
		t.Errorf("at once %v, in parts %v", ledgers[0], ledgers[100])
	}
}

// init proposes a long sheet like a short one.
func TestProposeALongSheet(t *testing.T) {
	var rows strings.Builder
	rows.WriteString("swimmer,date,start,set,rep,distance_m,pool,stroke,time,strokes,rest\n")
	for i := 0; rows.Len() < longSheetFrom+1; i++ {
		fmt.Fprintf(&rows, "%s,2026-03-%02d,18:30,1,%d,100,25m,freestyle,80.5,60,20\n", []string{"ana", "ben"}[i%2], 1+i/2000%28, i)
	}
	folder := t.TempDir()
	put(t, folder, map[string]string{"deck.csv": rows.String(), "other.txt": strings.Repeat("no sheet at all\n", longSheetFrom/16+1)})
	p, err := Propose(folder)
	if err != nil || !slices.Equal(p.Sheets, []string{"deck.csv"}) || !slices.Equal(p.Swimmers, []string{"ana", "ben"}) || !slices.Contains(p.Foreign, "other.txt") {
		t.Fatalf("%v: %+v", err, p)
	}
}

// A sheet that changes while it is read in parts is not taken for what it was.
func TestLongSheetThatChangesMeanwhile(t *testing.T) {
	rows := "swimmer,date,start,set,rep,distance_m,pool,stroke,time,strokes\n" + strings.Repeat("ana,2026-03-02,18:30,1,1,100,25m,freestyle,80.5,60\n", 20_000)
	folder := t.TempDir()
	put(t, folder, map[string]string{"study.yaml": "study: changing\ninputs: [{path: deck.csv, kind: sheet, stroke_count: arms}]\n", "deck.csv": rows})
	s := withKey(t, folder)
	stop, stopped := make(chan struct{}), make(chan error)
	go func() {
		f, err := os.OpenFile(filepath.Join(folder, "deck.csv"), os.O_WRONLY, 0)
		for n := 0; err == nil; n++ {
			select {
			case <-stop:
				stopped <- f.Close()
				return
			default: // another time in the last row, again and again
				_, err = f.WriteAt([]byte{byte('0' + n%10)}, int64(len(rows)-5))
			}
		}
		stopped <- err
	}()
	_, err := Assess(context.Background(), s, Options{Workers: 2, longFrom: 100})
	close(stop)
	if wrote := <-stopped; wrote != nil {
		t.Fatal(wrote)
	}
	if err == nil || !strings.Contains(err.Error(), "changed while it was read") {
		t.Errorf("a sheet that was written to all the time is read: %v", err)
	}
}
