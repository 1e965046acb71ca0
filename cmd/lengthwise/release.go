package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/run"
	"lengthwise/pipeline/share"
)

// releaseOptions are the flags of release.
type releaseOptions struct{ label, licence string }

func newRelease(c *common) *cobra.Command {
	var o releaseOptions
	cmd := &cobra.Command{
		Use:   "release FOLDER",
		Short: "make the set that may be passed on",
		Long: `Write into FOLDER the set of a finished study that may be passed on: tables,
codebook, Data Package, and notes on what was changed. FOLDER is made if need be;
one that holds anything but an earlier release or result is left alone.

Swimmers get pseudonyms of this release alone, which without the key lead to no
others, of the study or of a release with another --label. The numbers are as they
were measured: whoever has two sets of the same swims can join them by those.
Dates become study days, years of birth age bands. Names, files, recorders, body
measures, resting and highest heart rates, medication, notes, sentences about
single swimmers, their cheapest rates (whose are missing would tell medication),
and what was recorded length by length or second by second are not in it.

What is told of a swimmer's sex, age band and squad (privacy: quasi_identifiers in
the study file) is shared by as many swimmers as privacy: smallest_group says, or
more; half as many again where swimmers are, or may be, under 18. What is rarer is
not told, and counts and results of fewer swimmers are left out. A study of fewer
swimmers is not released at all.

It is still a set of data about people: ask them, and for swimmers under 18 a
parent or guardian, before it leaves the squad. Local rules come first.

Exit codes: 0 done; 1 failed; 2 wrong usage or study file; 3 too few swimmers.`,
		Example: `  lengthwise release squad-2026 --licence CC-BY-4.0
  lengthwise verify --tables squad-2026`,
		Args: arguments(cobra.ExactArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := c.load()
			if err != nil {
				return err
			}
			folder := args[0]
			if !filepath.IsAbs(folder) {
				folder = filepath.Join(c.folder, folder)
			}
			label := o.label
			if label == "" {
				label = filepath.Base(folder)
			}
			released, err := run.Release(cmd.Context(), s, folder, run.ReleaseOptions{Label: label, Licence: o.licence})
			if errors.Is(err, share.ErrTooFew) {
				return refusedError{fmt.Errorf("%w: swimmers could be told apart; ask more swimmers to take part, or set a smaller group if those who answer for the data allow it", err)}
			}
			if err != nil {
				return err
			}
			return c.printReleased(released)
		},
	}
	cmd.Flags().StringVar(&o.label, "label", "", "what the release's pseudonyms are made by; FOLDER's name unless told")
	cmd.Flags().StringVar(&o.licence, "licence", "", "under which the squad releases the set, in words or by its SPDX id; none unless told")
	return cmd
}

func (c *common) printReleased(r run.Released) error {
	if c.json {
		encoder := json.NewEncoder(c.stdout)
		encoder.SetIndent("", "  ")
		return encoder.Encode(r)
	}
	if c.quiet {
		return nil
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s of %s, no group smaller than %d", count(r.Tables, "table"), count(r.Swimmers, "swimmer"), r.Threshold)
	switch r.Minors {
	case "some":
		b.WriteString(" (half as many again, as swimmers are under 18)")
	case "not-known":
		b.WriteString(" (half as many again, as it is not known of all swimmers that they are 18 or older)")
	}
	b.WriteString(". ")
	if len(r.Quasi) == 0 {
		b.WriteString("Neither sex nor age nor squad is told.")
	} else {
		fmt.Fprintf(&b, "The rarest combination of what is told is shared by %s.", count(r.Smallest, "swimmer"))
		for _, q := range r.Quasi {
			fmt.Fprintf(&b, " %s is not told of %d.", capital(strings.ReplaceAll(q, "_", " ")), r.Hidden[q])
		}
	}
	fmt.Fprintf(&b, " Hidden counts: %d; rows of results left out: %d.", r.CellsHidden, r.RowsLeftOut)
	text := strings.Join(wrap(b.String(), c.width, "", ""), "\n")
	_, err := fmt.Fprintf(c.stdout, "%s\n\nReleased set: %s\nRead first:   %s\n", text, r.Folder, filepath.Join(r.Folder, "README.md"))
	return err
}
