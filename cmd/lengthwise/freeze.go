package main

import (
	"encoding/json"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/study"
)

func newFreeze(c *common) *cobra.Command {
	return &cobra.Command{
		Use:   "freeze",
		Short: "freeze the analysis plan before the data are looked at",
		Long: `Write the study's analysis plan (how records are screened, how cost is measured,
what is asked, which changes are looked at) to ` + study.FrozenFile + ` beside the study file,
and its SHA-256 as the line "frozen:" at the end of the study file.

From then on every run compares itself with the plan, and pages, findings and
run.json say whether it was followed and what differs. A departure is no error:
plans change for good reasons, and readers must be able to see that they did. How
many input files there were when the plan was frozen is kept and told with it.

A plan is worth the more the earlier it is frozen, and most where somebody else
holds a copy of ` + study.FrozenFile + ` too: whoever can write the study file can write both.

Exit codes: 0 done; 1 failed, or a plan is frozen already; 2 wrong usage or study
file.`,
		Example: "  lengthwise freeze --study squad",
		Args:    arguments(noArguments),
		RunE: func(*cobra.Command, []string) error {
			s, err := c.load()
			if err != nil {
				return err
			}
			files, err := s.Find()
			if err != nil {
				return err
			}
			n := len(files.Found)
			if err := files.Close(); err != nil {
				return err
			}
			hash, err := s.Freeze(n)
			if err != nil {
				return err
			}
			if c.json {
				return json.NewEncoder(c.stdout).Encode(map[string]any{"sha256": hash, "files_then": n, "file": study.FrozenFile})
			}
			if !c.quiet {
				fmt.Fprintln(c.stdout, strings.Join(wrap(fmt.Sprintf("The plan is frozen in %s, with %s in the folder. SHA-256, now in the study file:", study.FrozenFile, count(n, "input file")), c.width, "", ""), "\n"))
				fmt.Fprintln(c.stdout, hash)
			}
			return nil
		},
	}
}

// frozenLine says how the study stands to the plan it froze.
func frozenLine(f *study.Frozen) string {
	if f.Followed() {
		return fmt.Sprintf("Analysis plan: frozen with %s, and followed.", count(f.FilesThen, "input file"))
	}
	return "Analysis plan: frozen, and departed from: " + strings.Join(f.Departures, "; ") + "."
}
