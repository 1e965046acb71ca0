package study

import (
	"bytes"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

func TestResolvedGolden(t *testing.T) {
	for _, name := range []string{"full", "smallest"} {
		text := []byte(smallest)
		if name == "full" {
			var err error
			if text, err = os.ReadFile("testdata/full.yaml"); err != nil {
				t.Fatal(err)
			}
		}
		golden := filepath.Join("testdata", name+".resolved.yaml")
		got := mustParse(t, string(text)).Resolved()
		if *update {
			if err := os.WriteFile(golden, got, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s: got\n%s\nwant\n%s", golden, got, want)
		}
		// It reads back as the same study, line numbers aside.
		first, second := mustParse(t, string(text)), mustParse(t, string(got))
		first.offLines, second.offLines = nil, nil
		if !reflect.DeepEqual(first, second) {
			t.Errorf("%s does not read back: %+v\nwant %+v", golden, second, first)
		}
	}
}

func TestHashFollowsTheSettingsAlone(t *testing.T) {
	a := mustParse(t, smallest)
	b := mustParse(t, "# a comment\nseed: 1\n"+smallest+"cost: {window: 30s}\n")
	b.Folder = "/elsewhere"
	if a.Hash() != b.Hash() {
		t.Error("the same settings written differently have different hashes")
	}
	if c := mustParse(t, smallest+"seed: 2\n"); c.Hash() == a.Hash() {
		t.Error("another seed has the same hash")
	}
}

func TestResolvedAsHidesNames(t *testing.T) {
	s := mustParse(t, smallest+"changes: [{name: c, on: 2026-03-02, swimmers: [Ana Lima]}]\n")
	if got := string(s.ResolvedAs(func(string) string { return "s-abc" })); strings.Contains(got, "Ana") || !strings.Contains(got, "s-abc") {
		t.Errorf("got\n%s", got)
	}
}

func FuzzStudy(f *testing.F) {
	full, err := os.ReadFile("testdata/full.yaml")
	if err != nil {
		f.Fatal(err)
	}
	for _, seed := range []string{string(full), smallest, "inputs: &a [*a]\n", "a: &b {c: *b}\n<<: *b\n", "inputs: [{path: a, kind: sheet, columns: {time: 1}}]"} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Parse(data, "study.yaml")
		if err != nil {
			return
		}
		resolved := s.Resolved()
		again, err := Parse(resolved, "resolved.yaml")
		if err != nil {
			t.Fatalf("resolved settings do not read back: %v\n%s", err, resolved)
		}
		if !bytes.Equal(again.Resolved(), resolved) {
			t.Fatalf("resolved twice gives\n%s\nafter\n%s", again.Resolved(), resolved)
		}
	})
}
