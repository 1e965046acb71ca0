package main

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"

	"lengthwise/pipeline/run"
)

func newMan(c *common) *cobra.Command {
	return &cobra.Command{
		Use:   "man FOLDER",
		Short: "write the manual pages",
		Long: `Write the manual pages, one a command, into FOLDER, which is made if need be.
Read one with "man FOLDER/lengthwise-run.1", or put them where your system looks
for section 1.

Completions for a shell: "lengthwise completion --help".

Exit codes: 0 done; 1 failed; 2 wrong usage.`,
		Example: "  lengthwise man ~/.local/share/man/man1",
		Args:    arguments(cobra.ExactArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			folder := args[0]
			if !filepath.IsAbs(folder) {
				folder = filepath.Join(c.folder, folder)
			}
			if err := os.MkdirAll(folder, 0o755); err != nil {
				return usageError{err}
			}
			root := cmd.Root()
			root.DisableAutoGenTag = true
			// A date of the version's, not today's: the same program writes the
			// same pages.
			date := time.Date(2026, time.November, 26, 0, 0, 0, 0, time.UTC)
			header := &doc.GenManHeader{Section: "1", Date: &date, Source: "lengthwise " + run.Version, Manual: "lengthwise"}
			if err := doc.GenManTree(root, header, folder); err != nil {
				return fmt.Errorf("manual pages: %w", err)
			}
			c.say("Manual pages: %s", folder)
			return nil
		},
	}
}
