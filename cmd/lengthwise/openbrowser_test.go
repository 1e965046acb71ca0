package main

import (
	"bufio"
	"context"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"lengthwise/datasets"
)

// TestOpenInABrowser lets testdata/tools/open.mjs use the local page of the program as a
// coach would: a drop, forms, check, run, a swimmer's page, the evidence pack, the end.
func TestOpenInABrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("runs a part of the demo study in a browser")
	}
	modules, browser := browserTools(t)
	demo, recordings, folder := t.TempDir(), filepath.Join(t.TempDir(), "recordings"), filepath.Join(t.TempDir(), "mine")
	if err := datasets.WriteDemo(demo); err != nil {
		t.Fatal(err)
	}
	err := filepath.WalkDir(demo, func(path string, entry fs.DirEntry, err error) error {
		rel, _ := filepath.Rel(demo, path)
		if err != nil || !entry.Type().IsRegular() || !dropped(filepath.ToSlash(rel)) {
			return err
		}
		data, err := os.ReadFile(path)
		to := filepath.Join(recordings, rel)
		return errors.Join(err, os.MkdirAll(filepath.Dir(to), 0o755), os.WriteFile(to, data, 0o644))
	})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
	defer cancel()
	serve := exec.CommandContext(ctx, program(t), "open", folder, "--browser=false")
	out, err := serve.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := serve.Start(); err != nil {
		t.Fatal(err)
	}
	address, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	args := []string{"../../testdata/tools/open.mjs", modules, browser, strings.TrimSpace(address), recordings}
	if pictures := os.Getenv("LENGTHWISE_PICTURES"); pictures != "" {
		args = append(args, pictures)
	}
	said, err := exec.CommandContext(ctx, "node", args...).CombinedOutput()
	if want := regexp.MustCompile(`^looked 24 times; \d\d? swimmers; phases shown: true; pack: true\n$`); err != nil || !want.Match(said) {
		t.Errorf("%v\n%s", err, said)
	}
	if err := serve.Wait(); err != nil {
		t.Errorf("its button ended the program with %v", err)
	}
}
