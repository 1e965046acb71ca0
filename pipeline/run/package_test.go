package run

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"lengthwise/pipeline/table"
)

// TestForeignReaders gives a published set to software that we did not write:
// frictionless (the descriptor, and every row against its Table Schema),
// cffconvert, rocrate, and pyarrow, polars, pandas, DuckDB and hyparquet, whose values, nulls and
// types must be those of a CSV twin.
func TestForeignReaders(t *testing.T) {
	python := os.Getenv("LENGTHWISE_PYTHON")
	if python == "" {
		t.Skip("LENGTHWISE_PYTHON names no Python interpreter; make tools installs one with the packages")
	}
	s := demoStudy(t)
	inbox, err := os.ReadDir(filepath.Join(s.Folder, "inbox"))
	if err != nil {
		t.Fatal(err)
	}
	for i, swimmer := range inbox {
		folder := filepath.Join(s.Folder, "inbox", swimmer.Name())
		if !swimmer.IsDir() {
			if err := os.Remove(folder); err != nil {
				t.Fatal(err)
			}
			continue
		}
		recordings, err := os.ReadDir(folder)
		if err != nil {
			t.Fatal(err)
		}
		for k, recording := range recordings {
			if i%8 != 0 || k >= 7 { // a few swimmers and sessions are enough
				if err := os.Remove(filepath.Join(folder, recording.Name())); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	if _, err := Study(context.Background(), s, Options{}); err != nil {
		t.Fatal(err)
	}
	out, twin := s.Path(s.Output), t.TempDir()
	record, err := ReadRecord(out)
	if err != nil {
		t.Fatal(err)
	}
	for _, files := range record.Tables {
		for _, f := range files {
			twinOf(t, filepath.Join(out, f.Path), filepath.Join(twin, strings.TrimSuffix(f.Path, ".parquet")+".csv"))
		}
	}
	args := []string{"testdata/foreign_readers.py", out, twin}
	if modules := os.Getenv("LENGTHWISE_NODE_MODULES"); modules != "" {
		args = append(args, modules)
	}
	cmd := exec.Command(python, args...)
	cmd.Stderr = os.Stderr
	said, err := cmd.Output()
	if err != nil {
		t.Errorf("%v\n%s", err, said)
	}
	t.Logf("%s", said)
}

func twinOf(t *testing.T, parquet, csv string) {
	t.Helper()
	f, err := table.Open(parquet)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := os.MkdirAll(filepath.Dir(csv), 0o755); err != nil {
		t.Fatal(err)
	}
	file, err := os.Create(csv)
	if err != nil {
		t.Fatal(err)
	}
	if err := table.Print(file, f, table.CSV, nil, -1); err != nil {
		t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
}
