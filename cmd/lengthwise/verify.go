package main

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/run"
)

// departedError says that a result could not be reproduced.
type departedError struct{ err error }

func (e departedError) Error() string { return e.err.Error() }
func (e departedError) Unwrap() error { return e.err }

func newVerify(c *common) *cobra.Command {
	tables := false
	cmd := &cobra.Command{
		Use:   "verify [FOLDER]",
		Short: "check that a finished study is what its inputs give",
		Long: `Run a finished study again, beside it, and compare: the inputs with those that
were read, the settings, and every table. By the same version on the same
platform every byte must agree; elsewhere every value must, numbers to 1e-9.
What departs is named in the order of the data's way, so that the first line is
where to look. Nothing of the study is changed.

With --tables, check a published set alone, without key and inputs: every file
is there and nothing else, and every table holds, column by column, what run.json
says of it. FOLDER is the published set; without it, the study's output. Whoever
alters a table and its run.json alike is found by the first form only.

Exit codes: 0 reproduced; 1 failed; 2 wrong usage or study file; 4 not
reproduced; 130 interrupted.`,
		Example: `  lengthwise verify --study squad
  lengthwise verify --tables downloads/squad-2026`,
		Args: arguments(cobra.MaximumNArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			if tables {
				return verifyTables(c, args)
			}
			if len(args) > 0 {
				return usageError{fmt.Errorf("a published set is checked with --tables; a study is named with --study %s", args[0])}
			}
			s, runtime, err := c.prepare(cmd)
			if err != nil {
				return err
			}
			progress := c.progress()
			v, err := run.Verify(cmd.Context(), s, run.Options{Workers: runtime.Workers, Progress: progress.report()})
			progress.clear()
			if err != nil {
				return err
			}
			return c.printVerification(cmd.Context(), v)
		},
	}
	cmd.Flags().BoolVar(&tables, "tables", false, "check a published set by its own run.json")
	return cmd
}

func verifyTables(c *common, args []string) error {
	var folder string
	if len(args) > 0 {
		folder = args[0]
		if !filepath.IsAbs(folder) {
			folder = filepath.Join(c.folder, folder)
		}
	} else {
		s, err := c.load()
		if err != nil {
			return err
		}
		folder = s.Path(s.Output)
	}
	v, err := run.VerifyTables(folder)
	if err != nil {
		return err
	}
	return c.printVerification(context.Background(), v)
}

// printVerification prints what was checked and what departs.
func (c *common) printVerification(ctx context.Context, v run.Verification) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if c.json {
		if v.Departures == nil {
			v.Departures = []run.Departure{}
		}
		encoder := json.NewEncoder(c.stdout)
		encoder.SetIndent("", "  ")
		if err := encoder.Encode(v); err != nil {
			return err
		}
	} else if !c.quiet {
		if _, err := fmt.Fprint(c.stdout, verificationText(v, c.width)); err != nil {
			return err
		}
	}
	if n := len(v.Departures); n > 0 {
		first := v.Departures[0]
		return departedError{fmt.Errorf("not reproduced: departures: %d, the first at %s: %s", n, first.Stage, first.What)}
	}
	return nil
}

func verificationText(v run.Verification, width int) string {
	var lines []string
	for _, d := range v.Departures {
		lines = append(lines, wrap(fmt.Sprintf("%s: %s: %s", d.Stage, d.What, d.How), width, "", "  ")...)
	}
	if len(lines) > 0 {
		return strings.Join(lines, "\n") + "\n"
	}
	published := fmt.Sprintf("%s and %s of tables are what run.json says.", count(v.Files, "file"), count(int(v.Rows), "row"))
	text := "The published set is whole: " + published
	switch {
	case v.Recomputed && v.SameMaker:
		text = fmt.Sprintf("Reproduced byte for byte from %s. %s", count(v.Inputs, "input file"), published)
	case v.Recomputed:
		text = fmt.Sprintf("Reproduced to the last value (numbers to %.0e) from %s, by another version or platform. %s", run.Tolerance, count(v.Inputs, "input file"), published)
	}
	return strings.Join(wrap(text, width, "", ""), "\n") + "\n"
}
