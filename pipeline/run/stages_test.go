package run

import (
	"crypto/sha256"
	"encoding/hex"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the fingerprints of the stages' sources")

// TestStageVersions compares the fingerprint of each stage's source with the one that
// its version holds, so that no cache outlives the code that filled it. A stage's
// source is what the stages of the pipeline in it import from this module, this
// package, and the versions of other modules.
func TestStageVersions(t *testing.T) {
	stages := []struct {
		name     stage
		packages []string
	}{
		{readStage, []string{"lengthwise/pipeline/read", "lengthwise/pipeline/identity"}},
		{measureStage, []string{"lengthwise/pipeline/normalise", "lengthwise/pipeline/screen", "lengthwise/pipeline/derive", "lengthwise/pipeline/table"}},
		{answerStage, []string{"lengthwise/pipeline/analyse", "lengthwise/pipeline/findings"}},
	}
	var want strings.Builder
	for _, s := range stages {
		args := append([]string{"list", "-deps", "-f", `{{if .Module}}{{if .Module.Main}}{{.Dir}}{{end}}{{end}}`}, s.packages...)
		out, err := exec.Command("go", args...).Output()
		if err != nil {
			t.Fatal(err)
		}
		here, err := os.Getwd()
		if err != nil {
			t.Fatal(err)
		}
		dirs := append(strings.Fields(string(out)), here)
		slices.Sort(dirs)
		root := filepath.Dir(filepath.Dir(here))
		sum := sha256.New()
		for _, path := range append(sourcesIn(t, dirs), filepath.Join(root, "go.sum")) {
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			rel, err := filepath.Rel(root, path)
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(sum, "%s %d\n", filepath.ToSlash(rel), len(data))
			sum.Write(data)
		}
		fmt.Fprintf(&want, "%s %s\n", s.name, hex.EncodeToString(sum.Sum(nil))[:16])
	}
	if *update {
		if err := os.WriteFile("stages.txt", []byte(want.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if want.String() != stageSources {
		t.Errorf("the source of a stage has changed: go test ./pipeline/run -run TestStageVersions -update, and commit stages.txt\ngot\n%swant\n%s", stageSources, want.String())
	}
}

// sourcesIn lists the Go files of folders that make the program.
func sourcesIn(t *testing.T, dirs []string) (out []string) {
	t.Helper()
	for _, dir := range dirs {
		entries, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			name := e.Name()
			if strings.HasSuffix(name, ".go") && !strings.HasSuffix(name, "_test.go") {
				out = append(out, filepath.Join(dir, name))
			}
		}
	}
	return out
}
