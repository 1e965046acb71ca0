package run

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"lengthwise/pipeline/share"
	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// releaseHolds looks at everything that a release of the demo study promises.
func releaseHolds(t *testing.T, s *study.Study) {
	ctx, folder := context.Background(), filepath.Join(t.TempDir(), "set")
	r, err := Release(ctx, s, folder, ReleaseOptions{Label: "one", Licence: "CC-BY-4.0"})
	if err != nil {
		t.Fatal(err)
	}
	if r.Threshold != 15 || r.Minors != "some" || r.Smallest < r.Threshold || r.Tables != len(schemas.Released()) {
		t.Errorf("%+v", r)
	}
	v, err := VerifyTables(folder)
	if err != nil || len(v.Departures) > 0 {
		t.Errorf("%+v, %v", v.Departures, err)
	}
	first := hashes(t, folder)
	if _, err := Release(ctx, s, folder, ReleaseOptions{Label: "one", Licence: "CC-BY-4.0"}); err != nil {
		t.Fatal(err)
	}
	if again := hashes(t, folder); !reflect.DeepEqual(first, again) {
		t.Error("the same release has other bytes")
	}
	other := filepath.Join(t.TempDir(), "other")
	if _, err := Release(ctx, s, other, ReleaseOptions{Label: "two"}); err != nil {
		t.Fatal(err)
	}
	own := swimmersOf[schemas.Swimmer](t, s.Path(s.Output), func(w schemas.Swimmer) string { return w.Swimmer })
	one := swimmersOf[schemas.ReleasedSwimmer](t, folder, func(w schemas.ReleasedSwimmer) string { return w.Swimmer })
	two := swimmersOf[schemas.ReleasedSwimmer](t, other, func(w schemas.ReleasedSwimmer) string { return w.Swimmer })
	if len(own) != r.Swimmers || len(one) != r.Swimmers || len(two) != r.Swimmers {
		t.Fatalf("%d swimmers in the study, %d and %d released, said to be %d", len(own), len(one), len(two), r.Swimmers)
	}
	for name := range one {
		if own[name] || two[name] {
			t.Errorf("%s is in two sets", name)
		}
	}
	sameCosts(t, s, folder)
	nothingLeaves(t, s, folder, own)
	refusesRelease(t, s)
}

func swimmersOf[T any](t *testing.T, out string, name func(T) string) map[string]bool {
	t.Helper()
	rows, err := table.ReadRows[T](filepath.Join(out, tablesFolder, table.TableFile("swimmers")))
	if err != nil {
		t.Fatal(err)
	}
	names := map[string]bool{}
	for _, row := range rows {
		names[name(row)] = true
	}
	return names
}

// sameCosts checks that bouts keep their numbers on the way.
func sameCosts(t *testing.T, s *study.Study, folder string) {
	own, err := table.ReadRows[schemas.Bout](filepath.Join(s.Path(s.Output), tablesFolder, table.TableFile("bouts")))
	if err != nil {
		t.Fatal(err)
	}
	released, err := table.ReadRows[schemas.ReleasedBout](filepath.Join(folder, tablesFolder, table.TableFile("bouts")))
	if err != nil {
		t.Fatal(err)
	}
	var want, got float64
	for _, b := range own {
		if b.Cost != nil {
			want += *b.Cost * b.DurationS
		}
	}
	for _, b := range released {
		if b.Cost != nil {
			got += *b.Cost * b.DurationS
		}
	}
	if len(own) != len(released) || want == 0 || got/want < 1-1e-9 || got/want > 1+1e-9 {
		t.Errorf("%d bouts, weighed cost %v; %d released, %v", len(own), want, len(released), got)
	}
}

var dated = regexp.MustCompile(`20\d\d-\d\d-\d\d`)

// nothingLeaves greps every text of a release: no name, path, serial number, key,
// date, id of the study, medication.
func nothingLeaves(t *testing.T, s *study.Study, folder string, pseudonyms map[string]bool) {
	secrets := secretsOf(t, s)
	for p := range pseudonyms {
		secrets = append(secrets, p)
	}
	look := func(where, text string) {
		lower := strings.ToLower(text)
		for _, secret := range secrets {
			if strings.Contains(lower, secret) {
				t.Fatalf("%s: %q leaves", where, secret)
			}
		}
		if dated.MatchString(text) || strings.Contains(lower, "lisbon") || strings.Contains(lower, "medication") && !strings.HasSuffix(where, ".md") {
			t.Fatalf("%s: a date, a place or a medication leaves: %.200s", where, text)
		}
	}
	files := 0
	for name := range hashes(t, folder) {
		path := filepath.Join(folder, filepath.FromSlash(name))
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		files++
		if !strings.HasSuffix(name, ".parquet") {
			look(name, string(data))
			continue
		}
		f, err := table.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := table.Print(&b, f, table.CSV, textColumns(f), -1); err != nil {
			t.Fatal(err)
		}
		f.Close()
		look(name, b.String())
		look(name, string(data)) // footers and whatever is not compressed
	}
	if files < 25 {
		t.Errorf("only %d files looked at", files)
	}
}

// refusesRelease tries what must not be released.
func refusesRelease(t *testing.T, s *study.Study) {
	ctx, few := context.Background(), *s
	few.Privacy.SmallestGroup = 200
	folder := filepath.Join(t.TempDir(), "few")
	if _, err := Release(ctx, &few, folder, ReleaseOptions{Label: "few"}); !errors.Is(err, share.ErrTooFew) {
		t.Errorf("too few swimmers: %v", err)
	}
	if _, err := os.Stat(folder); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("something was left of it: %v", err)
	}
	foreign := t.TempDir()
	if err := os.WriteFile(filepath.Join(foreign, "theirs.txt"), []byte("x"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Release(ctx, s, foreign, ReleaseOptions{Label: "x"}); !errors.Is(err, table.ErrForeign) {
		t.Errorf("a folder of other files: %v", err)
	}
	path := filepath.Join(s.Path(s.Output), tablesFolder, table.TableFile("bouts"))
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	spoilt := bytes.Clone(data)
	spoilt[len(spoilt)/2] ^= 1
	if err := os.WriteFile(path, spoilt, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Release(ctx, s, folder, ReleaseOptions{Label: "x"}); !errors.Is(err, ErrDamaged) {
		t.Errorf("a spoilt table: %v", err)
	}
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
}

// forgetHolds removes a swimmer from the demo study, by an alias.
func forgetHolds(t *testing.T, s *study.Study) {
	ctx := context.Background()
	before := swimmersOf[schemas.Swimmer](t, s.Path(s.Output), func(w schemas.Swimmer) string { return w.Swimmer })
	if _, err := Forget(ctx, s, "Nobody Here", Options{}); !errors.Is(err, ErrNobody) {
		t.Errorf("nobody: %v", err)
	}
	f, err := Forget(ctx, s, "ebbridge, GIL", Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Files) < 10 || f.Names < 4 || f.Nothing || !reflect.DeepEqual(f.Lists, []string{"roster.csv", "notes.csv"}) {
		t.Errorf("%+v", f)
	}
	gone := ""
	after := swimmersOf[schemas.Swimmer](t, s.Path(s.Output), func(w schemas.Swimmer) string { return w.Swimmer })
	for p := range before {
		if !after[p] {
			gone += p
		}
	}
	if len(after) != len(before)-1 {
		t.Fatalf("%d swimmers before, %d after; gone: %s", len(before), len(after), gone)
	}
	nobodyLeft(t, s, "ebbridge", gone)
	// They do not come back, by whatever road their files lead to them.
	if _, err := Study(ctx, s, Options{}); err != nil {
		t.Fatal(err)
	}
	nobodyLeft(t, s, "ebbridge", gone)
	if v, err := Verify(ctx, s, Options{}); err != nil || len(v.Departures) > 0 {
		t.Errorf("%+v, %v", v.Departures, err)
	}
}

// nobodyLeft greps result and private folder for a name and a pseudonym.
func nobodyLeft(t *testing.T, s *study.Study, words ...string) {
	t.Helper()
	for _, folder := range []string{s.Path(s.Output), filepath.Join(s.Folder, study.PrivateFolder)} {
		for name := range hashes(t, folder) {
			path := filepath.Join(folder, filepath.FromSlash(name))
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			text := strings.ToLower(name + "\n" + string(data))
			if strings.HasSuffix(name, ".parquet") {
				f, err := table.Open(path)
				if err != nil {
					t.Fatal(err)
				}
				var b bytes.Buffer
				if err := table.Print(&b, f, table.CSV, textColumns(f), -1); err != nil {
					t.Fatal(err)
				}
				f.Close()
				text += strings.ToLower(b.String())
			}
			for _, word := range words {
				if strings.Contains(text, word) {
					t.Errorf("%s of %s is left in %s", word, s.Name, name)
				}
			}
		}
	}
}
