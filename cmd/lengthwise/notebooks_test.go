package main

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// TestHandedOn runs the demo study once and makes of it what others get: the
// evidence pack and the notebooks.
func TestHandedOn(t *testing.T) {
	if testing.Short() {
		t.Skip("runs the whole demo")
	}
	t.Parallel() // beside the scripts
	folder := filepath.Join(t.TempDir(), "squad")
	quietly(t, "demo", folder, "--quiet")
	t.Run("pages", func(t *testing.T) { pagesInABrowser(t, filepath.Join(folder, "out", "pages")) })
	t.Run("evidence", func(t *testing.T) { evidencePack(t, folder) })
	t.Run("notebooks", func(t *testing.T) { notebooksRun(t, folder) })
}

// notebooksRun writes the notebooks beside a study, executes them with a Jupyter
// kernel and looks at what they say. LENGTHWISE_KEEP_NOTEBOOKS names a folder
// that keeps them as HTML (make notebooks).
func notebooksRun(t *testing.T, folder string) {
	python := os.Getenv("LENGTHWISE_PYTHON")
	if python == "" {
		t.Skip("LENGTHWISE_PYTHON names no Python interpreter; make tools installs one with Jupyter's kernel")
	}
	if err := exec.Command(python, "-c", "import nbclient, nbconvert, ipykernel, statsmodels, vl_convert").Run(); err != nil {
		t.Skip("this Python lacks what testdata/tools/requirements.txt lists for notebooks; make tools installs it")
	}
	where := filepath.Join(folder, "notebooks")
	quietly(t, "notebooks", where, "--study", folder, "--quiet")

	keep := os.Getenv("LENGTHWISE_KEEP_NOTEBOOKS")
	if keep == "" {
		keep = t.TempDir()
	} else if !filepath.IsAbs(keep) {
		t.Fatalf("LENGTHWISE_KEEP_NOTEBOOKS=%s is no absolute path", keep)
	}
	script, err := filepath.Abs("../../testdata/tools/execute_notebooks.py")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
	defer cancel()
	said, err := exec.CommandContext(ctx, python, script, where, keep).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	t.Logf("%s", said)

	people := namesOf(t, folder)
	for name, wants := range map[string][]string{
		"squad":    {"Does the score track|It depends on the swimmer", `23 swimmers, \d+ sessions`, "What these data cannot say", "No breath-holding", "image/svg"},
		"analysis": {`\d\d fits of 23 swimmers agree with the tables to \d`, `corrected numbers agree to \d`, `q values agree to \d`, `pooled estimates and intervals agree to \d`, `mixed models agree to \d`},
		"workshop": {`give the pairs and the share of the table for all \d\d swimmers`, "Exercise 5", "image/svg"},
		"tables":   {"stroke_rate_spm", "length records both used and left out"},
	} {
		page, err := os.ReadFile(filepath.Join(keep, name+".html"))
		if err != nil {
			t.Error(err)
			continue
		}
		text := string(page)
		for _, want := range wants {
			if !regexp.MustCompile(want).MatchString(text) {
				t.Errorf("%s does not say %q", name, want)
			}
		}
		if at := regexp.MustCompile(`<(script|link|img|iframe)[^>]+(src|href)="?https?:`).FindString(text); at != "" {
			t.Errorf("%s loads from elsewhere: %s", name, at)
		}
		for _, person := range people {
			if strings.Contains(text, person) {
				t.Errorf("%s holds the name %q", name, person)
			}
		}
	}
}

// namesOf reads the names of a study's swimmers from its private folder.
func namesOf(t *testing.T, folder string) []string {
	t.Helper()
	list, err := os.ReadFile(filepath.Join(folder, "private", "swimmers.csv"))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, line := range strings.Split(strings.TrimSpace(string(list)), "\n")[1:] {
		_, name, _ := strings.Cut(strings.TrimSpace(line), ",")
		names = append(names, strings.Trim(name, `"`))
	}
	if len(names) < 20 {
		t.Fatalf("only %d names in %s", len(names), folder)
	}
	return names
}

// quietly runs a command line that must succeed.
func quietly(t *testing.T, args ...string) {
	t.Helper()
	var said strings.Builder
	o := outside{stdout: &said, stderr: &said, folder: t.TempDir(), width: 80}
	if code := runCommand(context.Background(), args, o); code != exitDone {
		t.Fatalf("lengthwise %s: exit code %d\n%s", strings.Join(args, " "), code, said.String())
	}
}
