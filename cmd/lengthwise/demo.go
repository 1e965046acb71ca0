package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"lengthwise/datasets"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
)

// demoOptions are the flags of demo.
type demoOptions struct {
	filesOnly bool
	names     bool
}

func newDemo(c *common) *cobra.Command {
	var o demoOptions
	cmd := &cobra.Command{
		Use:   "demo FOLDER",
		Short: "make an invented squad's files and run the study on them",
		Long: `Write the files of an invented squad into FOLDER (activity files, lane sheets,
pulse readings, roster, notes, study file) and run the study there. FOLDER must
be new or empty. The simulator's truth is in FOLDER/truth.json, which the study
never reads.

Exit codes: 0 done; 1 failed; 2 wrong usage, or FOLDER holds files; 130
interrupted.`,
		Example: `  lengthwise demo squad
  lengthwise explain --study squad/study.yaml SESSION`,
		Args: arguments(cobra.ExactArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			runtime, err := c.runtime(cmd)
			if err != nil {
				return err
			}
			return demo(cmd.Context(), c, args[0], runtime, o)
		},
	}
	cmd.Flags().BoolVar(&o.filesOnly, "files-only", false, "write the files and stop")
	cmd.Flags().BoolVar(&o.names, "names", true, "print the invented names instead of pseudonyms")
	return cmd
}

func demo(ctx context.Context, c *common, folder string, runtime study.Runtime, o demoOptions) error {
	if !filepath.IsAbs(folder) {
		folder = filepath.Join(c.folder, folder)
	}
	if err := mustBeEmpty(folder); err != nil {
		return err
	}
	c.say("Making the demo squad's files in %s ...", folder)
	if err := datasets.WriteDemo(folder); err != nil {
		return fmt.Errorf("demo files: %w", err)
	}
	s, err := study.Load(filepath.Join(folder, "study.yaml"))
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(folder, run.IgnoreFile), []byte(run.Ignored), 0o644); err != nil {
		return err
	}
	if err := identity.CreateKey(filepath.Join(folder, s.Privacy.KeyFile)); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if o.filesOnly {
		c.say("Now: lengthwise run --study %s", filepath.Join(folder, "study.yaml"))
		return nil
	}
	return runStudy(ctx, c, s, runtime, runOptions{names: o.names})
}

// mustBeEmpty refuses a folder that holds anything: nothing is overwritten.
func mustBeEmpty(folder string) error {
	entries, err := os.ReadDir(folder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return usageError{err}
	case len(entries) > 0:
		return usageError{fmt.Errorf("%s is not empty; name a new folder, nothing is overwritten", folder)}
	}
	return nil
}
