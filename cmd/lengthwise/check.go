package main

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// checkOptions are the flags of check.
type checkOptions struct {
	all bool
}

func newCheck(c *common) *cobra.Command {
	var o checkOptions
	cmd := &cobra.Command{
		Use:   "check",
		Short: "say what the study's files hold and whether they can answer",
		Long: `Read the study file and all inputs, and say: what was understood, whose consent
is waited for, which files and names have no owner, file by file what was left
out and why, what is missing, and for each swimmer whether the study's question
can be answered. Nothing is written.

The output names files and swimmers: it is for the squad's own eyes.

Exit codes: 0 the question can be answered for somebody; 1 failed; 2 wrong
usage or study file; 3 it cannot be answered for anybody; 130 interrupted.`,
		Example: `  lengthwise check
  lengthwise check --study squad/study.yaml --json`,
		Args: arguments(noArguments),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, runtime, err := c.prepare(cmd)
			if err != nil {
				return err
			}
			return check(cmd.Context(), c, s, runtime, o)
		},
	}
	cmd.Flags().BoolVar(&o.all, "all", false, "show the reasons of every file, not of the first only")
	return cmd
}

func check(ctx context.Context, c *common, s *study.Study, runtime study.Runtime, o checkOptions) error {
	progress := c.progress()
	r, err := run.Assess(ctx, s, run.Options{Workers: runtime.Workers, Progress: progress.report()})
	progress.clear()
	if err != nil {
		return err
	}
	answerable := 0
	for _, row := range r.Answers.BySwimmer {
		if row.Verdict != findings.TooLittleData {
			answerable++
		}
	}
	if c.json {
		if err := checkJSON(c, s, r, answerable > 0); err != nil {
			return err
		}
	} else {
		checkText(c, s, r, o)
	}
	if answerable == 0 {
		return refusedError{errors.New("the study's question cannot be answered for any swimmer yet")}
	}
	return nil
}

func checkText(c *common, s *study.Study, r *run.Result, o checkOptions) {
	print := func(lines ...string) { fmt.Fprintln(c.stdout, strings.Join(lines, "\n")) }
	wrapped := func(text, indent, rest string) { print(wrap(text, c.width, indent, rest)...) }
	if r.Attention.Roster == "" { // before anything else
		wrapped(noRoster, "", "  ")
		print("")
	}
	wrapped(fmt.Sprintf("Study %s: %s", s.Name, countKinds(r.Inputs)), "", "  ")
	for _, line := range accountLines(r, c.width) {
		print(line)
	}
	for _, line := range append(consentLines(r.Attention), declinedLines(r.Attention)...) {
		if line == noRoster {
			continue
		}
		print("")
		wrapped(line, "", "  ")
	}
	if lines := unknownLines(s, r.Attention); len(lines) > 0 {
		print("", "Not understood:")
		for _, line := range lines {
			wrapped(line, "  ", "    ")
		}
	}
	if len(r.NoOwner) > 0 {
		print("")
		wrapped(fmt.Sprintf("Nobody owns these files. Name their swimmer in %s, or the device in the roster:", cmp.Or(s.Assign, "an assign file (assign: assign.csv)")), "", "")
		for _, f := range r.NoOwner {
			wrapped(f.File+nearest(f.Nearest), "  ", "    ")
		}
	}
	if len(r.Unmatched) > 0 {
		print("", "Not read:")
		for _, f := range r.Unmatched {
			wrapped(fmt.Sprintf("%s (%s)", f.Rel, f.Reason), "  ", "    ")
		}
	}
	if lines := reasonLines(r.Attention, o.all, c.width); len(lines) > 0 {
		print("", "What the rules met, file by file (left out unless it says otherwise):")
		print(lines...)
	}
	print("", "What can be answered:")
	width := 0
	for _, row := range r.Answers.BySwimmer {
		width = max(width, len([]rune(r.Name(row.Swimmer))))
	}
	for _, line := range answers(r, width) {
		wrapped(line, "  ", "    ")
	}
	for _, gap := range gaps(s, r) {
		print("")
		wrapped(gap, "", "")
	}
}

func nearest(names []string) string {
	if len(names) == 0 {
		return ""
	}
	return " (nearest: " + strings.Join(names, ", ") + ")"
}

func countKinds(inputs []run.Input) string {
	counts := map[string]int{}
	for _, in := range inputs {
		counts[string(in.Kind)]++
	}
	var parts []string
	for _, kind := range []study.InputKind{study.Activity, study.Sheet, study.HeartRate} {
		if n := counts[string(kind)]; n > 0 {
			noun := map[study.InputKind]string{study.Activity: "activity file", study.Sheet: "sheet", study.HeartRate: "heart-rate log"}[kind]
			parts = append(parts, count(n, noun))
		}
	}
	if len(parts) == 0 {
		return "no file that an input claims"
	}
	return strings.Join(parts, ", ")
}

// answers says for each swimmer, stroke and design whether there is enough.
func answers(r *run.Result, width int) []string {
	spread := map[string]string{}
	key := func(swimmer, stroke, design string) string { return path.Join(swimmer, stroke, design) }
	for _, f := range r.Answers.Fits {
		if f.RateSpread != nil {
			spread[key(f.Swimmer, f.Stroke, f.Design)] = fmt.Sprintf(", stroke rate varies by %.1f %% at fixed pace", 100**f.RateSpread)
		}
	}
	rows := slices.Clone(r.Answers.BySwimmer)
	slices.SortStableFunc(rows, func(a, b schemas.ScoreBySwimmer) int { return cmp.Compare(r.Name(a.Swimmer), r.Name(b.Swimmer)) })
	var lines []string
	for _, row := range rows {
		state := "yes"
		if row.Verdict == findings.TooLittleData && row.Reason != nil {
			state = "not yet: " + *row.Reason
		}
		lines = append(lines, fmt.Sprintf("%-*s  %s, %-8s  %s in %s%s: %s", width, r.Name(row.Swimmer), row.Stroke, row.Design,
			count(int(row.Bouts), "bout"), count(int(row.Sessions), "session"), spread[key(row.Swimmer, row.Stroke, row.Design)], state))
	}
	if len(lines) == 0 {
		lines = append(lines, "nothing: no usable bout of the study's strokes")
	}
	return lines
}

// gaps says what would make the study better, in plain words.
func gaps(s *study.Study, r *run.Result) []string {
	var out []string
	designed, source := 0, map[string]int{}
	for _, b := range r.Bouts {
		if b.Designed && b.Usable {
			designed++
		}
		if b.Usable && b.HRSource != nil {
			source[*b.HRSource]++
		}
	}
	if designed == 0 {
		out = append(out, "No bout had its stroke rate or instruction set beforehand. Such bouts alone can say what a rate costs; without them only what goes together with it. Fill in rate_target or instruction in a sheet or in the notes.")
	}
	if source["optical"] > 0 {
		out = append(out, fmt.Sprintf("Heart rate comes from the wrist in %s. Its error moves with the stroke rate itself; a strap is safer.", count(source["optical"], "usable bout")))
	}
	if source["unknown"] > 0 {
		out = append(out, fmt.Sprintf("The source of the heart rate is not stated in %s. Write hr_source in the study file's inputs.", count(source["unknown"], "usable bout")))
	}
	basis := 0
	for _, b := range r.Bouts {
		if b.StrokeCountBasis == string(study.UnknownBasis) {
			basis++
		}
	}
	if basis > 0 {
		out = append(out, fmt.Sprintf("What the recorder counts is not stated in %s. Write stroke_count: arms or cycles in the study file's inputs; a length counted by hand tells.", count(basis, "bout")))
	}
	if n := unnamedStrokes(r.Bouts); n > 0 {
		out = append(out, fmt.Sprintf("The stroke is not stated in %s: such a bout stays out of every stroke's answer. Fill in the column stroke.", count(n, "bout")))
	}
	for _, lack := range r.Lacks {
		out = append(out, lack.Named(r.Name))
	}
	if s.Roster == "" {
		out = append(out, "Without a roster resting heart rates and medication are not known either.")
	}
	return out
}

// unnamedStrokes counts the bouts of which nobody says what stroke they are.
func unnamedStrokes(bouts []schemas.Bout) int {
	n := 0
	for _, b := range bouts {
		if b.Stroke == "unknown" {
			n++
		}
	}
	return n
}

func checkJSON(c *common, s *study.Study, r *run.Result, answerable bool) error {
	rows := make([]map[string]any, 0, len(r.Answers.BySwimmer))
	for _, row := range r.Answers.BySwimmer {
		rows = append(rows, map[string]any{"swimmer": r.Name(row.Swimmer), "stroke": row.Stroke, "design": row.Design, "bouts": row.Bouts,
			"sessions": row.Sessions, "answerable": row.Verdict != findings.TooLittleData, "reason": row.Reason})
	}
	encoder := json.NewEncoder(c.stdout)
	encoder.SetIndent("", "  ")
	return encoder.Encode(map[string]any{"study": s.Name, "files": len(r.Inputs), "accounts": r.Accounts, "ledger": r.Rules,
		"no_owner": r.NoOwner, "not_read": r.Unmatched, "answers": rows, "answerable": answerable, "gaps": gaps(s, r), "attention": r.Attention})
}
