package main

import (
	"encoding/json"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/run"
)

func newPages(c *common) *cobra.Command {
	return &cobra.Command{
		Use:   "pages",
		Short: "make the pages anew from a finished study's tables",
		Long: `Make the pages of a finished study anew, those by pseudonym in its output and those
with names in private/pages, from its tables alone: nothing is read or computed
again. "lengthwise run" makes them too; this is for pages that were lost, or for a
newer version's. By the version that ran the study they come out the same to the
byte. Public pages take the place of the old ones whole or not at all, with their
hashes in run.json.

Exit codes: 0 done; 1 failed, or the study file was changed since the run; 2 wrong
usage or study file.`,
		Example: "  lengthwise pages --study squad",
		Args:    arguments(noArguments),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, runtime, err := c.prepare(cmd)
			if err != nil {
				return err
			}
			progress := c.progress()
			made, err := run.Pages(cmd.Context(), s, run.Options{Workers: runtime.Workers, Progress: progress.report()})
			progress.clear()
			if errors.Is(err, run.ErrNoResult) {
				return fmt.Errorf("%w; \"lengthwise run\" makes one", err)
			}
			if err != nil {
				return err
			}
			if c.json {
				encoder := json.NewEncoder(c.stdout)
				encoder.SetIndent("", "  ")
				return encoder.Encode(made)
			}
			if !c.quiet {
				fmt.Fprintf(c.stdout, "Page to open:    %s\nWith names:      %s\n", made.Public, made.Private)
			}
			return nil
		},
	}
}
