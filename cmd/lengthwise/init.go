package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/run"
)

// initOptions are the flags of init.
type initOptions struct {
	timeZone string
	given    bool // the time zone was typed
}

func newInit(c *common) *cobra.Command {
	var o initOptions
	cmd := &cobra.Command{
		Use:   "init FOLDER",
		Short: "look through a folder and write a study file for it",
		Long: `Look through FOLDER's files and write a commented study file, a roster and,
where files have no owner, an assign file: blanks to complete, no syntax to
learn. Also a key for the pseudonyms (study.key), which must stay with the
squad. A file that is there already is never changed.

The consent column of the roster starts empty: fill in yes for everyone who
agreed (for minors, whose guardians did). An empty cell is a no.

Exit codes: 0 done; 1 failed; 2 wrong usage, or study file and key are there already;
3 no file was found that a study could read.`,
		Example: "  lengthwise init squad\n  lengthwise check --study squad/study.yaml",
		Args:    arguments(cobra.ExactArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.given = cmd.Flags().Changed("timezone")
			return initialise(c, args[0], o)
		},
	}
	cmd.Flags().StringVar(&o.timeZone, "timezone", "", "IANA time zone where the squad swims, such as Europe/Lisbon; without it, one that the watches' clocks agree with, or UTC")
	return cmd
}

func initialise(c *common, folder string, o initOptions) error {
	if !filepath.IsAbs(folder) {
		folder = filepath.Join(c.folder, folder)
	}
	if info, err := os.Stat(folder); err != nil || !info.IsDir() {
		return usageError{fmt.Errorf("%s is not a folder; put the squad's files into one first", folder)}
	}
	if o.given {
		if err := checkZone(o.timeZone); err != nil {
			return usageError{err}
		}
	}
	p, err := run.Propose(folder)
	if err != nil {
		return err
	}
	if !o.given {
		o.timeZone = "UTC"
		if len(p.Zones) > 0 {
			o.timeZone = p.Zones[0]
		}
	}
	written, err := p.Write(folder, o.timeZone)
	switch {
	case errors.Is(err, run.ErrNoFiles):
		return refusedError{fmt.Errorf("%s: %w", folder, err)}
	case errors.Is(err, fs.ErrExist):
		return usageError{err}
	case err != nil:
		return err
	}
	c.say("Found %s, %s, %s, %s; %s named.", count(len(p.Activities), "activity file"), count(len(p.Archives), "archive"), count(len(p.Sheets), "sheet"),
		count(len(p.Logs), "heart-rate log"), count(len(p.Swimmers), "swimmer"))
	if len(p.Foreign) > 0 {
		c.say("Left alone: %s", strings.Join(p.Foreign, ", "))
	}
	const most = 3 // sheets of one kind repeat themselves
	for i, refused := range p.Refused {
		if i == most {
			c.say("No row of %s more can be used as it is; \"lengthwise check\" lists them.", count(len(p.Refused)-most, "sheet"))
			break
		}
		c.say("No row of this sheet can be used as it is:\n%s", strings.Join(fileLines(refused, true, c.width), "\n"))
	}
	for _, name := range written {
		fmt.Fprintln(c.stdout, filepath.Join(folder, name))
	}
	if !o.given && slices.Contains(written, "study.yaml") {
		why := "no watch file tells"
		if len(p.Zones) > 0 {
			why = p.ZoneSeen
		}
		c.say("The timezone is %s (%s); change it in study.yaml if wrong.", o.timeZone, why)
	}
	c.say("Complete them, the consent column of the roster above all, then:\n  lengthwise check --study %s", filepath.Join(folder, "study.yaml"))
	return nil
}
