package publish

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestPageInABrowser opens the golden pages from disk in a real browser. They must
// render and say nothing in the console, where a refused load or a broken
// policy would show: the same page with a picture from elsewhere says so.
func TestPageInABrowser(t *testing.T) {
	browser := os.Getenv("LENGTHWISE_CHROMIUM")
	if browser == "" {
		t.Skip("LENGTHWISE_CHROMIUM names no browser; make test installs one where it may")
	}
	swimmer, err := os.ReadFile("testdata/swimmer.html")
	if err != nil {
		t.Fatal(err)
	}
	dom, console := openPage(t, browser, swimmer)
	if !strings.Contains(dom, "From day to day") || !strings.Contains(dom, "</svg>") || len(console) > 0 {
		t.Errorf("the swimmer's page: %d bytes rendered; the console says %q", len(dom), console)
	}
	page, err := os.ReadFile("testdata/page.html")
	if err != nil {
		t.Fatal(err)
	}
	dom, console = openPage(t, browser, page)
	for _, want := range []string{"<main", "</svg>", "Does strokes plus seconds track what a swim costs?"} {
		if !strings.Contains(dom, want) {
			t.Errorf("the rendered page lacks %q", want)
		}
	}
	if len(console) > 0 {
		t.Errorf("the console says: %s", strings.Join(console, "\n"))
	}
	loading := bytes.Replace(page, []byte("</main>"), []byte(`<img alt="" src="https://elsewhere.invalid/x.png"/></main>`), 1)
	if _, console := openPage(t, browser, loading); len(console) == 0 {
		t.Error("a picture from elsewhere was not refused in the console: this test would see nothing")
	}
}

// openPage opens a page at the width of a phone and returns its elements as
// rendered and what the console said.
func openPage(t *testing.T, browser string, page []byte) (dom string, console []string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "index.html")
	if err := os.WriteFile(path, page, 0o644); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-quic",
		"--disable-background-networking", "--disable-component-update", "--disable-sync", "--user-data-dir="+t.TempDir(),
		"--enable-logging=stderr", "--window-size=360,800", "--dump-dom", "file://"+path)
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	if err := cmd.Run(); err != nil {
		t.Fatalf("%s: %v\n%.2000s", browser, err, stderr.String())
	}
	for _, line := range strings.Split(stderr.String(), "\n") {
		if strings.Contains(line, ":CONSOLE") {
			console = append(console, line)
		}
	}
	return stdout.String(), console
}
