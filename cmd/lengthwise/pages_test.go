package main

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// browserTools skips a test where there is no browser, or nothing to steer it by.
func browserTools(t *testing.T) (modules, browser string) {
	t.Helper()
	browser, modules = os.Getenv("LENGTHWISE_CHROMIUM"), os.Getenv("LENGTHWISE_NODE_MODULES")
	if browser == "" || modules == "" {
		t.Skip("LENGTHWISE_CHROMIUM and LENGTHWISE_NODE_MODULES name no browser and modules; make tools installs both")
	}
	for _, module := range []string{"playwright-core", "axe-core"} {
		if _, err := os.Stat(filepath.Join(modules, module)); err != nil {
			t.Skipf("%s is not in %s; make tools installs it", module, modules)
		}
	}
	return modules, browser
}

// pagesInABrowser lets testdata/tools/pages.mjs open the squad's page and three
// swimmers', from the smallest file to the largest; all of them with LENGTHWISE_LONG.
func pagesInABrowser(t *testing.T, folder string) {
	modules, browser := browserTools(t)
	some, looked := "3", "looked at 5 pages"
	if os.Getenv("LENGTHWISE_LONG") != "" {
		some, looked = "0", "looked at 25 pages"
	}
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Minute)
	defer cancel()
	said, err := exec.CommandContext(ctx, "node", "../../testdata/tools/pages.mjs", modules, browser, folder, some).CombinedOutput()
	if err != nil || strings.TrimSpace(string(said)) != looked {
		t.Errorf("%v\n%s", err, said)
	}
}
