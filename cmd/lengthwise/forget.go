package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/run"
)

func newForget(c *common) *cobra.Command {
	yes := false
	cmd := &cobra.Command{
		Use:   "forget SWIMMER --yes",
		Short: "remove a swimmer from the study for good",
		Long: `Remove a swimmer, by name, alias or pseudonym, from the study: from its tables,
pages, and private lists, which are all made anew without them. A keyed hash of
their names stays in the private folder, so that no later run takes them back,
even while files of theirs are still there.

Inputs and lists are never altered: what still holds something of theirs is named,
for you to delete. Sets that were released, notebooks that were run and copies made
elsewhere are beyond this command's reach.

If it is interrupted the old result stands, and the next run removes them.

Exit codes: 0 done; 1 failed, or nobody is called so; 2 wrong usage or study file;
130 interrupted.`,
		Example: `  lengthwise forget "Gil Ebbridge" --yes`,
		Args:    arguments(cobra.ExactArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			if !yes {
				return usageError{fmt.Errorf("nothing was removed: this cannot be undone, so say --yes as well")}
			}
			s, runtime, err := c.prepare(cmd)
			if err != nil {
				return err
			}
			progress := c.progress()
			f, err := run.Forget(cmd.Context(), s, args[0], run.Options{Workers: runtime.Workers, Progress: progress.report(), Cache: runtime.CacheFolder(s)})
			progress.clear()
			if errors.Is(err, run.ErrNobody) {
				return fmt.Errorf("%w; the roster and the private list of the last run were asked", err)
			}
			if err != nil {
				return err
			}
			return c.printForgetting(f)
		},
	}
	cmd.Flags().BoolVar(&yes, "yes", false, "do it")
	return cmd
}

func (c *common) printForgetting(f run.Forgetting) error {
	if c.json {
		if f.Files == nil {
			f.Files = []string{}
		}
		if f.Lists == nil {
			f.Lists = []string{}
		}
		encoder := json.NewEncoder(c.stdout)
		encoder.SetIndent("", "  ")
		return encoder.Encode(f)
	}
	if c.quiet {
		return nil
	}
	text := fmt.Sprintf("Removed, under %s. No later run takes them back.", count(f.Names, "name"))
	if f.Nothing {
		text += " The study holds no other length: its result was removed."
	}
	lines := wrap(text, c.width, "", "")
	lines = append(lines, left("These inputs still hold recordings of theirs; delete them, or their rows:", f.Files, c.width)...)
	lines = append(lines, left("These lists still name them; delete their rows:", f.Lists, c.width)...)
	_, err := fmt.Fprintln(c.stdout, strings.Join(lines, "\n"))
	return err
}

// left are the lines that name what is left to delete.
func left(heading string, paths []string, width int) []string {
	if len(paths) == 0 {
		return nil
	}
	lines := append([]string{""}, wrap(heading, width, "", "")...)
	for _, path := range paths {
		lines = append(lines, "  "+path)
	}
	return lines
}
