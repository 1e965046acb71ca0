package run

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// TestVerifyElsewhere takes a published set for one made by another release:
// bytes may differ there, values may not.
func TestVerifyElsewhere(t *testing.T) {
	s := sheetStudy(t)
	ctx := context.Background()
	if _, err := Study(ctx, s, Options{}); err != nil {
		t.Fatal(err)
	}
	out := s.Path(s.Output)
	d, err := description("bouts")
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(out, "tables", "bouts.parquet")
	rows, err := table.ReadRows[schemas.Bout](path)
	if err != nil {
		t.Fatal(err)
	}
	publish := func(change func(*schemas.Bout)) Verification {
		t.Helper()
		changed := slices.Clone(rows)
		change(&changed[0])
		file, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		digest, err := table.Write(file, d, changed, table.WithRowsPerGroup(1)) // other bytes for the same rows
		if err != nil {
			t.Fatal(err)
		}
		if err := file.Close(); err != nil {
			t.Fatal(err)
		}
		record, err := ReadRecord(out)
		if err != nil {
			t.Fatal(err)
		}
		record.Go, record.Tables["bouts"][0].Digest = "go0", digest
		data, err := json.MarshalIndent(record, "", "  ")
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(out, marker), append(data, '\n'), 0o644); err != nil {
			t.Fatal(err)
		}
		v, err := Verify(ctx, s, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if v.SameMaker || !v.Recomputed {
			t.Fatalf("%+v: taken for the same maker", v)
		}
		return v
	}
	if v := publish(func(b *schemas.Bout) { b.DurationS *= 1 + 5e-10 }); len(v.Departures) > 0 {
		t.Errorf("a number within 1e-9: %+v", v.Departures)
	}
	v := publish(func(b *schemas.Bout) { b.DurationS *= 1 + 5e-9 })
	if len(v.Departures) != 1 || v.Departures[0].Stage != "derive" || !strings.Contains(v.Departures[0].How, `column "duration_s", row 1`) {
		t.Errorf("a number beyond 1e-9: %+v", v.Departures)
	}
}

// TestVerifySeesAnAlteredRecord alters the one file that no hash covers.
func TestVerifySeesAnAlteredRecord(t *testing.T) {
	s := sheetStudy(t)
	if _, err := Study(context.Background(), s, Options{}); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(s.Path(s.Output), marker)
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	altered := strings.Replace(string(data), `"cost_unit": "bpm"`, `"cost_unit": "rpm"`, 1)
	if altered == string(data) {
		t.Fatal("nothing to alter in run.json")
	}
	if err := os.WriteFile(path, []byte(altered), 0o644); err != nil {
		t.Fatal(err)
	}
	v, err := Verify(context.Background(), s, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(v.Departures) != 1 || v.Departures[0].What != marker {
		t.Errorf("%+v, want the record alone", v.Departures)
	}
}

// TestVerifyTablesSeesWhatNobodyHashed lists files in the record that no hash
// covers: a page whose hash was taken out, and a table of another version.
func TestVerifyTablesSeesWhatNobodyHashed(t *testing.T) {
	s := sheetStudy(t)
	if _, err := Study(context.Background(), s, Options{}); err != nil {
		t.Fatal(err)
	}
	out := s.Path(s.Output)
	record, err := ReadRecord(out)
	if err != nil {
		t.Fatal(err)
	}
	delete(record.Other, pageFile)
	record.Tables["turns"] = record.Tables["bouts"]
	delete(record.Tables, "bouts")
	data, err := json.Marshal(record)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(out, marker), data, 0o644); err != nil {
		t.Fatal(err)
	}
	v, err := VerifyTables(out)
	if err != nil {
		t.Fatal(err)
	}
	var what []string
	for _, d := range v.Departures {
		what = append(what, d.What)
	}
	if want := []string{pageFile, "tables/bouts.parquet"}; !slices.Equal(what, want) {
		t.Errorf("departures %q, want %q", what, want)
	}
}

// sheetStudy is a small study of one lane sheet.
func sheetStudy(t *testing.T) *study.Study {
	t.Helper()
	return attentionStudy(t, map[string]string{
		"sheets/monday.csv": "swimmer,date,start,rep,distance_m,pool,stroke,time,strokes,hr,hr_source,rest\n" +
			"Ada Quayle,2026-03-02,18:05,1,200,25m,freestyle,2:40.0,128,148,strap,\n" +
			"Ada Quayle,2026-03-02,18:05,2,200,25m,freestyle,2:41.2,131,150,strap,30\n",
	})
}

// FuzzRecord checks published sets whose run.json is anything: nothing panics, and
// nothing outside the folder is read.
func FuzzRecord(f *testing.F) {
	for _, text := range []string{`{}`, `{"program":"lengthwise"}`, `{"program":"lengthwise","files":["../x","run.json"],"tables":{"bouts":[{"path":"../../etc/passwd"}]},"other_files_sha256":{"/etc/passwd":"00"}}`,
		`{"program":"lengthwise","tables":{"bouts":null,"":[]},"settings_yaml":"\u0000"}`} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		folder := t.TempDir()
		if err := os.WriteFile(filepath.Join(folder, marker), data, 0o644); err != nil {
			t.Fatal(err)
		}
		v, err := VerifyTables(folder)
		if err != nil {
			return
		}
		for _, d := range v.Departures {
			if strings.Contains(d.How, "cannot be read") || strings.Contains(d.How, "holds") {
				t.Errorf("a file outside the set was read: %+v", d)
			}
		}
	})
}
