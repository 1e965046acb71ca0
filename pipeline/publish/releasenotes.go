package publish

import (
	"bytes"
	"fmt"
	"strings"
)

// Release is what a released set hides, for its notes.
type Release struct {
	Swimmers     int
	Threshold    int    // the smallest group
	Smallest     int    // swimmers who share what is told of the rarest
	Minors       string // some, not-known or none
	Hidden       []HiddenColumn
	CountsHidden int
	RowsLeftOut  int
}

// HiddenColumn is a column of the table swimmers with the number of swimmers of
// whom it is known and not told.
type HiddenColumn struct {
	Name     string
	Swimmers int
}

// ReleaseNotes says to whoever gets a released set what it is, what was changed and
// left out, and what it must not be used for. Markdown.
func ReleaseNotes(p Package, r Release) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "# The study %s, as released\n\n", p.Study)
	fmt.Fprintf(&b, "Made by lengthwise %s. %d swimmers. Every column is explained in `%s`; `lengthwise verify --tables .` checks that nothing was lost or altered on the way.\n\n", p.Version, r.Swimmers, "CODEBOOK.md")
	b.WriteString("## These are still data of people\n")
	b.WriteString("Swimmers appear by pseudonyms made for this release alone. Whoever knows somebody's training well may know their rows again. Do not try to find out who a swimmer is, do not join the set with anything that could tell, keep it no longer than you need it, and pass it on only as its terms allow. Records of swimmers under 18 need the consent of a parent or guardian, and the young person's own agreement, for this use too. Local rules on health data and on minors come before all of this.\n\n")
	b.WriteString("## What was changed\n")
	b.WriteString("- Days are counted from the study's first, which is day 1; there are no dates and no times of day.\n")
	b.WriteString("- Names, files, recorders, squads' names, years of birth, body measures, resting and highest heart rates, medication and notes are not there. Nor is what was recorded length by length and second by second.\n")
	b.WriteString("- Sentences about single swimmers are not there, nor the cheapest rates of single swimmers: none are named for who takes medication that alters heart rate, and whose are missing would tell who that is.\n")
	b.WriteString("- The numbers of bouts are as they were measured. Whoever has the squad's own tables, another release of the same swims, or times and distances that swimmers publish elsewhere, can find the same numbers here, whatever the pseudonyms.\n")
	fmt.Fprintf(&b, "- The smallest group is %d%s. ", r.Threshold, map[string]string{
		"some":      ", half as many again as the study asks for, since swimmers are under 18 (our own choice, no source)",
		"not-known": ", half as many again as the study asks for, since it is not known of all swimmers that they are 18 or older (our own choice, no source)",
	}[r.Minors])
	var columns []string
	for _, h := range r.Hidden {
		columns = append(columns, fmt.Sprintf("%s of %d", h.Name, h.Swimmers))
	}
	if len(columns) == 0 {
		b.WriteString("Neither sex nor age nor squad is told. ")
	} else {
		fmt.Fprintf(&b, "What is told of a swimmer's %s is shared by %d swimmers or more; of swimmers with a rarer combination it is not told (%s swimmers). ",
			listOf(r.Hidden), r.Smallest, strings.Join(columns, ", "))
	}
	fmt.Fprintf(&b, "Counts of groups below it are hidden, and others by which those could be had: %d in all. Results of the squad behind which stand fewer swimmers are left out: %d rows.\n\n", r.CountsHidden, r.RowsLeftOut)
	b.WriteString("## What it must not be used for\n")
	b.WriteString("Nothing here is medical advice, and nothing is an instruction to swim at another rate: whoever tries one does so in small steps, under a coach's eye, with attention to the shoulders. Heart rate is no valid cost for breath patterns; nothing here is a reason to breathe less often, or to swim alone. Bouts that swimmers swam as they liked show what goes together, not what costs.\n\n")
	fmt.Fprintf(&b, "## Terms\n%s\n", p.terms())
	return b.Bytes()
}

func listOf(columns []HiddenColumn) string {
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = strings.ReplaceAll(c.Name, "_", " ")
	}
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return strings.Join(names, "")
}
