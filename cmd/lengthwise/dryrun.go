package main

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
)

// dryRun says what a run would do, and why.
func dryRun(ctx context.Context, c *common, s *study.Study, runtime study.Runtime, o runOptions) error {
	progress := c.progress()
	changed, err := run.Changes(ctx, s, run.Options{Workers: runtime.Workers, Progress: progress.report(), Rehash: o.rehash})
	var ahead *run.Outlook
	if err == nil && !o.anew && !changed.Nothing() {
		ahead, err = run.Ahead(ctx, s, run.Options{Workers: runtime.Workers, Progress: progress.report(), Cache: runtime.CacheFolder(s)})
	}
	progress.clear()
	if err != nil {
		return err
	}
	redo := o.anew || !changed.Nothing()
	if c.json {
		encoder := json.NewEncoder(c.stdout)
		encoder.SetIndent("", "  ")
		return encoder.Encode(struct {
			Redo bool `json:"redo"`
			run.Changed
			Stages *run.Outlook `json:"stages,omitempty"`
		}{redo, changed, ahead})
	}
	for _, line := range append(aheadLines(ahead), changedLines(changed, redo)...) {
		fmt.Fprintln(c.stdout, strings.Join(wrap(line, c.width, "", "  "), "\n"))
	}
	return nil
}

// shownChanges is how many files of a kind of change are named.
const shownChanges = 20

// aheadLines puts into words what a run would take from the cache and what it would
// make.
func aheadLines(x *run.Outlook) []string {
	if x == nil {
		return nil
	}
	var lines []string
	for _, s := range []struct {
		name, unit, verb string
		of               run.StageOutlook
	}{{"Read", "file", "to read", x.Files}, {"Measure", "swimmer", "to measure", x.Measured}, {"Answer", "swimmer", "to ask", x.Answered}} {
		lines = append(lines, fmt.Sprintf("%-8s %s kept, %s %s.", s.name+":", count(s.of.Kept, s.unit), count(s.of.Redo, s.unit), s.verb))
		for _, why := range slices.Sorted(maps.Keys(s.of.Why)) {
			lines = append(lines, fmt.Sprintf("  %s: %s", count(s.of.Why[why], s.unit), why))
		}
	}
	if len(x.Reading) > 0 {
		lines = append(lines, "  Whom the files to be read belong to is measured and asked again too.")
	}
	return lines
}

// changedLines puts into words what has changed since the result was made.
func changedLines(x run.Changed, redo bool) []string {
	var lines []string
	if x.Never {
		lines = append(lines, "There is no result yet of which is known what it was made from.")
	}
	if x.Maker {
		lines = append(lines, "The result was made by another version of the program, or on another platform.")
	}
	list := func(what string, names []string) {
		if len(names) == 0 {
			return
		}
		lines = append(lines, fmt.Sprintf("%s (%d):", what, len(names)))
		for _, name := range names[:min(len(names), shownChanges)] {
			lines = append(lines, "  "+name)
		}
		if more := len(names) - shownChanges; more > 0 {
			lines = append(lines, fmt.Sprintf("  and %d more", more))
		}
	}
	list("The study's own files that have changed", x.Study)
	list("New files", x.New)
	list("Changed files", x.Other)
	list("Files that are gone", x.Gone)
	list("Files of the result that are not as they were written", x.Result)
	if !x.Never {
		lines = append(lines, fmt.Sprintf("Unchanged: %s (content compared of %d).", count(x.Same, "file"), x.Compare))
	}
	if redo {
		return append(lines, "A run would make the result again, of what was kept and what has changed.")
	}
	return append(lines, "A run would do nothing: the result stands.")
}
