package main

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
)

// dryRun says what a run would do, and why.
func dryRun(ctx context.Context, c *common, s *study.Study, runtime study.Runtime, o runOptions) error {
	progress := c.progress()
	changed, err := run.Changes(ctx, s, run.Options{Workers: runtime.Workers, Progress: progress.report(), Rehash: o.rehash})
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
		}{redo, changed})
	}
	for _, line := range changedLines(changed, redo) {
		fmt.Fprintln(c.stdout, strings.Join(wrap(line, c.width, "", "  "), "\n"))
	}
	return nil
}

// shownChanges is how many files of a kind of change are named.
const shownChanges = 20

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
