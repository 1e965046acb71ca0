package run

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
)

func TestOutputFolderThatIsNotOurs(t *testing.T) {
	for _, c := range []struct {
		name    string
		files   map[string]string
		refused bool
	}{
		{"empty", nil, false},
		{"a result", map[string]string{"run.json": `{"program":"lengthwise","files":["run.json","tables/bouts.parquet"]}`, "tables/bouts.parquet": "x"}, false},
		{"a result with a note beside it", map[string]string{"run.json": `{"program":"lengthwise","files":["run.json"]}`, "my-notes.txt": "x"}, true},
		{"a result with its evidence pack", map[string]string{"run.json": `{"program":"lengthwise","files":["run.json"]}`, "evidence.zip": "x"}, false},
		{"an evidence pack of nothing", map[string]string{"evidence.zip": "x"}, true},
		{"another program's run.json", map[string]string{"run.json": `{"program":"other","files":["run.json","thesis.txt"]}`, "thesis.txt": "x"}, true},
		{"a run.json that is none", map[string]string{"run.json": "{"}, true},
		{"somebody's folder", map[string]string{"thesis.txt": "x"}, true},
	} {
		folder := t.TempDir()
		put(t, folder, c.files)
		err := checkOutput(folder)
		if errors.Is(err, ErrForeign) != c.refused || (err != nil) != c.refused {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	if err := checkOutput(filepath.Join(t.TempDir(), "none", "yet")); err != nil {
		t.Errorf("a folder to be made: %v", err)
	}
	if os.Geteuid() != 0 {
		folder := t.TempDir()
		if err := os.Chmod(folder, 0); err != nil {
			t.Fatal(err)
		}
		if err := checkOutput(folder); err == nil {
			t.Error("a folder that cannot be read was taken for empty")
		}
	}
}
