package main

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

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
	all := prospects(s, r)
	answerable := slices.ContainsFunc(all, func(p prospect) bool { return p.Answerable })
	if c.json {
		if err := checkJSON(c, s, r, all, answerable); err != nil {
			return err
		}
	} else {
		checkText(c, s, r, all, o)
	}
	if !answerable {
		return refusedError{errors.New("the study's question cannot be answered for any swimmer yet")}
	}
	return nil
}

func checkText(c *common, s *study.Study, r *run.Result, all []prospect, o checkOptions) {
	print := func(lines ...string) { fmt.Fprintln(c.stdout, strings.Join(lines, "\n")) }
	wrapped := func(text, indent, rest string) { print(wrap(text, c.width, indent, rest)...) }
	if r.Attention.Roster == "" { // before anything else
		wrapped(noRoster, "", "  ")
		print("")
	}
	wrapped(fmt.Sprintf("Study %s: %s", s.Name, countKinds(r.Inputs)), "", "  ")
	wrapped(answerLine(all), "", "  ")
	if r.Frozen != nil {
		wrapped(frozenLine(r.Frozen), "", "  ")
	}
	print("")
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
	if len(r.Understood) > 0 {
		print("", "How the sheets were read:")
	}
	for i, w := range r.Understood {
		if i == mostLayouts && !o.all {
			wrapped(fmt.Sprintf("... and %s; \"lengthwise check --all\" shows them", count(len(r.Understood)-mostLayouts, "other layout")), "  ", "    ")
			break
		}
		sheetText(wrapped, w, o.all)
	}
	print("", "What can be answered:")
	if len(all) == 0 {
		wrapped("nothing: no bout of the study's strokes", "  ", "    ")
	}
	for i := range all {
		if i == 0 || all[i].Swimmer != all[i-1].Swimmer {
			wrapped(all[i].Swimmer, "  ", "    ")
		}
		wrapped(all[i].words(), "    ", "      ")
	}
	for _, q := range reaches(s, r) {
		wrapped(q.words(s.Cost.Unit()), "  ", "    ")
	}
	for _, gap := range gaps(s, r) {
		print("")
		wrapped(gap, "", "")
	}
}

// mostLayouts is how many layouts of sheets are shown.
const mostLayouts = 4

// sheetText shows how a sheet was read, and which others were read alike.
func sheetText(wrapped func(text, indent, rest string), w run.SheetWords, all bool) {
	names := w.Files
	if more := len(names) - mostAlike; more > 0 && !all {
		names = append(slices.Clone(names[:mostAlike]), fmt.Sprintf("and %d more", more))
	}
	wrapped(strings.Join(names, ", ")+":", "  ", "  ")
	for _, line := range w.Table {
		wrapped(line, "    ", "      ")
	}
	for _, line := range w.Rows {
		wrapped(line, "    ", "      ")
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
	if n, strokes := otherStrokes(s, r.Bouts); n > 0 {
		out = append(out, fmt.Sprintf("The study asks about %s (analysis.strokes). There are also %s of %s that would be usable: add the strokes there to ask about them too.",
			strings.Join(s.Analysis.Strokes, ", "), count(n, "bout"), strokes))
	}
	if names := withoutHeartRates(s, r); len(names) > 0 {
		out = append(out, fmt.Sprintf("The cost %s needs %s in the roster, which %s: %s.", s.Cost.Measure,
			map[bool]string{true: "hr_rest and hr_max", false: "hr_rest"}[s.Cost.Measure == "hr-reserve"],
			map[bool]string{true: "lack", false: "lacks"}[len(names) > 1], strings.Join(names, ", ")))
	}
	if n := medicationUnknown(r); n > 0 && s.Roster != "" {
		out = append(out, fmt.Sprintf("Whether medication alters the heart rate is not stated for %s (rate_altering_medication: yes or no in the roster). It decides whether anything is said of their rates; ask, and leave the answer to them and their doctor.", count(n, "swimmer")))
	}
	if s.Roster == "" {
		out = append(out, "Without a roster resting heart rates and medication are not known either.")
	}
	return out
}

// otherStrokes counts the bouts that only their stroke keeps out of the models, and
// names the strokes.
func otherStrokes(s *study.Study, bouts []schemas.Bout) (n int, strokes string) {
	var names []string
	for _, b := range bouts {
		if b.Usable && b.Stroke != "unknown" && !slices.Contains(s.Analysis.Strokes, b.Stroke) {
			n++
			if !slices.Contains(names, b.Stroke) {
				names = append(names, b.Stroke)
			}
		}
	}
	slices.Sort(names)
	return n, strings.Join(names, ", ")
}

// withoutHeartRates names the swimmers without the roster's heart rates where the
// cost needs them.
func withoutHeartRates(s *study.Study, r *run.Result) []string {
	var names []string
	for _, row := range r.Swimmers {
		reserve := s.Cost.Measure == "hr-reserve"
		if (reserve || s.Cost.Measure == "net-beats") && (row.HRRestBPM == nil || reserve && row.HRMaxBPM == nil) {
			names = append(names, r.Name(row.Swimmer))
		}
	}
	slices.Sort(names)
	return names
}

func medicationUnknown(r *run.Result) (n int) {
	for _, row := range r.Swimmers {
		if row.RateAlteringMedication == nil {
			n++
		}
	}
	return n
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

func checkJSON(c *common, s *study.Study, r *run.Result, all []prospect, answerable bool) error {
	encoder := json.NewEncoder(c.stdout)
	encoder.SetIndent("", "  ")
	return encoder.Encode(map[string]any{"study": s.Name, "files": len(r.Inputs), "accounts": r.Accounts, "ledger": r.Rules,
		"no_owner": r.NoOwner, "not_read": r.Unmatched, "sheets": orEmpty(r.Understood), "answers": orEmpty(all), "squad": orEmpty(reaches(s, r)), "answerable": answerable,
		"gaps": gaps(s, r), "attention": r.Attention})
}
