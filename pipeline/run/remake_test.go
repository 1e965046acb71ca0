package run

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"lengthwise/pipeline/study"
)

// pagesHold makes the demo's pages anew: the same bytes, from tables alone.
func pagesHold(t *testing.T, s *study.Study) {
	ctx, out, private := context.Background(), s.Path(s.Output), filepath.Join(s.Folder, study.PrivateFolder, pagesFolder)
	public, named := hashes(t, out), hashes(t, private)
	if err := os.RemoveAll(private); err != nil {
		t.Fatal(err)
	}
	inbox, away := filepath.Join(s.Folder, "inbox"), filepath.Join(t.TempDir(), "inbox")
	if err := os.Rename(inbox, away); err != nil {
		t.Fatal(err)
	}
	defer os.Rename(away, inbox)
	made, err := Pages(ctx, s, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if made.Changed != 0 || made.Swimmers < 10 || !reflect.DeepEqual(hashes(t, out), public) {
		t.Errorf("public pages have other bytes: %+v", made)
	}
	if now := hashes(t, private); !reflect.DeepEqual(now, named) {
		t.Errorf("%d pages with names, %d before, or of other bytes", len(now), len(named))
	}
	// Pages of another version are put in place whole, and verify holds.
	page := filepath.Join(out, filepath.FromSlash(pageFile))
	data, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	record, err := os.ReadFile(filepath.Join(out, marker))
	if err != nil {
		t.Fatal(err)
	}
	before, err := ReadRecord(out)
	if err != nil {
		t.Fatal(err)
	}
	older := strings.Replace(string(record), before.Other[pageFile], strings.Repeat("0", 64), 1)
	if err := os.WriteFile(filepath.Join(out, marker), []byte(older), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(page, []byte("<p>an older page"), 0o644); err != nil {
		t.Fatal(err)
	}
	if made, err := Pages(ctx, s, Options{}); err != nil || made.Changed != 1 {
		t.Errorf("%+v, %v", made, err)
	}
	if now, err := os.ReadFile(page); err != nil || !bytes.Equal(now, data) {
		t.Errorf("the older page stands: %v", err)
	}
	if v, err := VerifyTables(out); err != nil || len(v.Departures) > 0 {
		t.Errorf("%+v, %v", v.Departures, err)
	}
	if now := hashes(t, out); !reflect.DeepEqual(now, public) {
		t.Error("the result with its pages back is not what it was")
	}
	other := *s
	other.Analysis.SmallestEffect++
	if _, err := Pages(ctx, &other, Options{}); !errors.Is(err, ErrOtherSettings) {
		t.Errorf("another study file: %v", err)
	}
}
