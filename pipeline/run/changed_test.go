package run

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"lengthwise/pipeline/study"
)

// keptFiles is a study of two sheets and a roster.
func keptFiles() map[string]string {
	return map[string]string{
		"sheets/lane1.csv": smallSheet + "Otto Brack,2026-03-02,1,100,25m,free,80,60\nOtto Brack,2026-03-02,2,100,25m,free,81,61\n",
		"sheets/lane2.csv": smallSheet + "Tess Vane,2026-03-02,1,100,25m,free,80,60\nTess Vane,2026-03-02,2,100,25m,free,82,60\n",
		"roster.csv":       "swimmer,squad,consent\nOtto Brack,a,yes\nTess Vane,a,yes\n",
	}
}

// aged gives every file of a study a time that lies far enough back to be trusted.
// The time of a change cannot be set, so the note's word for it is.
func aged(t *testing.T, s *study.Study) {
	t.Helper()
	note, err := readMadeFrom(s)
	if err != nil || note == nil {
		t.Fatalf("no note: %v", err)
	}
	for name, f := range note.Files {
		f.Settled = true
		note.Files[name] = f
	}
	if err := note.write(s); err != nil {
		t.Fatal(err)
	}
}

func TestChanged(t *testing.T) {
	write := func(t *testing.T, s *study.Study, name, text string) {
		t.Helper()
		if err := os.WriteFile(s.Path(name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	remove := func(t *testing.T, s *study.Study, name string) {
		t.Helper()
		if err := os.Remove(s.Path(name)); err != nil {
			t.Fatal(err)
		}
	}
	files := keptFiles()
	lane1 := files["sheets/lane1.csv"]
	for _, c := range []struct {
		name   string
		change func(t *testing.T, s *study.Study)
		rehash bool
		want   Changed
	}{
		{"nothing", func(*testing.T, *study.Study) {}, false, Changed{Same: 5}},
		{"nothing, every content compared", func(*testing.T, *study.Study) {}, true, Changed{Same: 5, Compare: 5}},
		{"touched", func(t *testing.T, s *study.Study) {
			if err := os.Chtimes(s.Path("sheets/lane1.csv"), time.Now(), time.Now().Add(-time.Hour)); err != nil {
				t.Fatal(err)
			}
		}, false, Changed{Same: 5, Compare: 1}},
		{"other content of the same size", func(t *testing.T, s *study.Study) {
			write(t, s, "sheets/lane1.csv", strings.Replace(lane1, "81,61", "83,62", 1))
		}, false, Changed{Same: 4, Compare: 1, Other: []string{"sheets/lane1.csv"}}},
		{"a new file and one gone", func(t *testing.T, s *study.Study) {
			write(t, s, "sheets/lane3.csv", lane1)
			remove(t, s, "sheets/lane2.csv")
		}, false, Changed{Same: 4, New: []string{"sheets/lane3.csv"}, Gone: []string{"sheets/lane2.csv"}}},
		{"a new file that no input claims", func(t *testing.T, s *study.Study) { write(t, s, "photo.jpg", "x") },
			false, Changed{Same: 5, New: []string{"photo.jpg"}}},
		{"roster", func(t *testing.T, s *study.Study) {
			write(t, s, "roster.csv", "swimmer,squad,consent\nOtto Brack,a,yes\nTess Vane,a,no\n")
		}, false, Changed{Same: 4, Compare: 1, Study: []string{"roster.csv"}}},
		{"study file", func(t *testing.T, s *study.Study) {
			data, err := os.ReadFile(s.Path("study.yaml"))
			if err != nil {
				t.Fatal(err)
			}
			write(t, s, "study.yaml", string(data)+"seed: 7\n")
		}, false, Changed{Same: 4, Compare: 1, Study: []string{"study.yaml"}}},
		{"a frozen plan that was not there", func(t *testing.T, s *study.Study) { write(t, s, study.FrozenFile, "x") },
			false, Changed{Same: 5, Study: []string{study.FrozenFile}}},
		{"a table written over", func(t *testing.T, s *study.Study) { write(t, s, "out/tables/fits.parquet", "x") },
			false, Changed{Same: 5, Result: []string{"tables/fits.parquet"}}},
		{"a page gone", func(t *testing.T, s *study.Study) { remove(t, s, "private/pages/index.html") },
			false, Changed{Same: 5, Result: []string{"private/pages/index.html"}}},
		{"the list of names gone", func(t *testing.T, s *study.Study) { remove(t, s, "private/swimmers.csv") },
			false, Changed{Same: 5, Result: []string{"private/swimmers.csv"}}},
		{"an evidence pack", func(t *testing.T, s *study.Study) { write(t, s, "out/"+EvidencePack, "x") }, false, Changed{Same: 5}},
		{"a file beside the result", func(t *testing.T, s *study.Study) { write(t, s, "out/more.txt", "x") },
			false, Changed{Same: 5, Result: []string{"more.txt"}}},
		{"a note that is none", func(t *testing.T, s *study.Study) { write(t, s, "private/"+madeFromFile, "{\"files\": 3") },
			false, Changed{Never: true}},
		{"no note", func(t *testing.T, s *study.Study) { remove(t, s, "private/"+madeFromFile) }, false, Changed{Never: true}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := attentionStudy(t, keptFiles())
			if _, err := Study(context.Background(), s, Options{Workers: 1}); err != nil {
				t.Fatal(err)
			}
			aged(t, s)
			c.change(t, s)
			got, err := Changes(context.Background(), s, Options{Workers: 2, Rehash: c.rehash})
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(got, c.want) {
				t.Fatalf("%+v\nwant %+v", got, c.want)
			}
			if want := len(c.want.Study)+len(c.want.New)+len(c.want.Other)+len(c.want.Gone)+len(c.want.Result) == 0 && !c.want.Never; got.Nothing() != want {
				t.Errorf("nothing has changed: %t", got.Nothing())
			}
		})
	}
}

// inJSON writes a value for comparison; a list without anything is one, nil or not.
func inJSON(t *testing.T, v any) string {
	t.Helper()
	data, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return strings.ReplaceAll(string(data), "[]", "null")
}

// TestKept compares what a result that stands tells with what its run told.
func TestKept(t *testing.T) {
	s := attentionStudy(t, keptFiles())
	ctx := context.Background()
	first, err := Study(ctx, s, Options{Workers: 1, Keep: true})
	if err != nil {
		t.Fatal(err)
	}
	if first.Kept {
		t.Fatal("there was nothing to keep")
	}
	before := hashes(t, s.Path(s.Output))
	again, err := Study(ctx, s, Options{Workers: 1, Keep: true})
	if err != nil {
		t.Fatal(err)
	}
	if !again.Kept {
		t.Fatal("the study was run though nothing had changed")
	}
	if !reflect.DeepEqual(hashes(t, s.Path(s.Output)), before) {
		t.Error("the result that stands is another")
	}
	for _, part := range []struct {
		name      string
		got, want any
	}{
		{"told", again.told(), first.told()},
		{"findings", again.Findings, first.Findings},
		{"accounts", again.Accounts, first.Accounts},
		{"names", again.Names, first.Names},
		{"sentences", again.FindingsInput(s), first.FindingsInput(s)},
	} {
		if got, want := inJSON(t, part.got), inJSON(t, part.want); got != want {
			t.Errorf("%s: %s\nwant %s", part.name, got, want)
		}
	}

	// Who is forgotten is not named by a note.
	if _, err := Forget(ctx, s, "Tess Vane", Options{Workers: 1}); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(s.Folder, study.PrivateFolder, madeFromFile)); !os.IsNotExist(err) {
		t.Errorf("a note is left: %v", err)
	}
	after, err := Study(ctx, s, Options{Workers: 1, Keep: true})
	if err != nil {
		t.Fatal(err)
	}
	if after.Kept {
		t.Error("a study that forgot somebody was not run anew")
	}
}

// TestOtherStudyFile runs two study files of one folder in turn: neither file changes,
// and the result of the one is not that of the other.
func TestOtherStudyFile(t *testing.T) {
	files := keptFiles()
	other := attentionStudy(t, files)
	put(t, other.Folder, map[string]string{"second.yaml": "seed: 5\n" + files["study.yaml"]})
	second, err := study.Load(other.Path("second.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	for i, s := range []*study.Study{other, second, other, second} {
		r, err := Study(ctx, s, Options{Workers: 1, Keep: true})
		if err != nil {
			t.Fatal(err)
		}
		record, err := ReadRecord(s.Path(s.Output))
		if err != nil {
			t.Fatal(err)
		}
		if r.Kept || record.Seed != s.Seed {
			t.Errorf("run %d: kept %t, the result has seed %d and the study %d", i+1, r.Kept, record.Seed, s.Seed)
		}
	}
	if r, err := Study(ctx, second, Options{Workers: 1, Keep: true}); err != nil || !r.Kept {
		t.Errorf("the same study file again: %v", err)
	}
}

// TestChangedMeanwhile changes a file while a study is run: its content was not
// noted, so that the next run does not take it for known.
func TestChangedMeanwhile(t *testing.T) {
	s := attentionStudy(t, keptFiles())
	changed := false
	progress := func(phase Phase, done, total int) {
		if phase == ReducePhase && !changed {
			changed = true
			if err := os.WriteFile(s.Path("sheets/lane2.csv"), []byte(smallSheet+"Tess Vane,2026-03-02,1,100,25m,free,99,60\n"), 0o644); err != nil {
				t.Error(err)
			}
		}
	}
	if _, err := Study(context.Background(), s, Options{Workers: 1, Progress: progress}); err != nil {
		t.Fatal(err)
	}
	got, err := Changes(context.Background(), s, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if want := []string{"sheets/lane2.csv"}; !reflect.DeepEqual(got.Other, want) {
		t.Errorf("changed: %v", got.Other)
	}
}
