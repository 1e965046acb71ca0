package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/publish"
	"lengthwise/pipeline/run"
	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
)

// runOptions are the flags of run.
type runOptions struct {
	names  bool
	words  bool
	dryRun bool
	rehash bool
	anew   bool
	phase  string
	shard  string
	shards int
	wait   time.Duration
}

func newRun(c *common) *cobra.Command {
	var o runOptions
	cmd := &cobra.Command{
		Use:   "run",
		Short: "run the study and write its result",
		Long: `Read the study's files, screen and measure them, answer the study's question
and write tables and a page into the study's output folder. The result appears
whole or not at all; until then the old one stays.

Of the swimmers in a roster only those with a yes in its column consent are
used, and nobody who is not in it. Without any roster everybody is used, and run
says so.

When nothing has changed since the result was made, it is left alone and told
again: not the program, the study file, roster, assign file, notes, key, nor any
other file in the folder. Files count as unchanged whose size and times are what
they were; of others the content is compared, and of all with --rehash. --dry-run
says what has changed and writes nothing. Of a study that has changed only what
the change reaches is made again: what was made of each file and swimmer is kept
in the cache (--cache, LENGTHWISE_CACHE; none keeps nothing), and all comes out
as if nothing had been kept. --anew makes all of it again.

A study too large for one machine is dealt out over several that see the same
folder: --phase read --shard 1/8 to 8/8, when all are done --phase measure for
every shard, then --phase answer, then --phase reduce --shards 8 once. The result
has the same bytes. A shard that is run again changes nothing; what is missing is
named.

Tables, ledger and page carry pseudonyms. The page with names is in the
study's private folder, and so is the list of who is who.

Exit codes: 0 done; 1 failed; 2 wrong usage or study file; 3 the files hold no
length to use; 130 interrupted.`,
		Example: `  lengthwise run
  lengthwise run --study squad/study.yaml --names`,
		Args: arguments(noArguments),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, runtime, err := c.prepare(cmd)
			if err != nil {
				return err
			}
			if o.phase != "" || o.shard != "" || o.shards != 0 {
				return runPhase(cmd.Context(), c, s, runtime, o)
			}
			if o.dryRun {
				return dryRun(cmd.Context(), c, s, runtime, o)
			}
			return runStudy(cmd.Context(), c, s, runtime, o)
		},
	}
	cmd.Flags().BoolVar(&o.dryRun, "dry-run", false, "say what has changed since the result was made, and write nothing")
	cmd.Flags().BoolVar(&o.rehash, "rehash", false, "compare the content of every file, whatever its size and times say")
	cmd.Flags().BoolVar(&o.anew, "anew", false, "make all of it again, whatever was kept")
	cmd.Flags().String("cache", "", "folder of the cache, from the study's folder on, which no other study's folder may share; none keeps nothing (default private/cache)")
	cmd.Flags().StringVar(&o.phase, "phase", "", "of a run dealt out over machines: read, measure, answer or reduce")
	cmd.Flags().StringVar(&o.shard, "shard", "", "which share of the phase this is, as 2/8")
	cmd.Flags().IntVar(&o.shards, "shards", 0, "for reduce: how many shares there are")
	cmd.Flags().DurationVar(&o.wait, "wait", 0, "of a phase: how long to wait for shards of the one before that are missing")
	cmd.Flags().BoolVar(&o.words, "words", false, "print every answer in sentences instead of the table of swimmers")
	cmd.Flags().BoolVar(&o.names, "names", false, "print names instead of pseudonyms")
	return cmd
}

// prepare reads the study file and how to run it.
func (c *common) prepare(cmd *cobra.Command) (*study.Study, study.Runtime, error) {
	s, err := c.load()
	if err != nil {
		return nil, study.Runtime{}, err
	}
	runtime, err := c.runtime(cmd)
	return s, runtime, err
}

// load reads the study file.
func (c *common) load() (*study.Study, error) {
	path := c.studyFile
	if !filepath.IsAbs(path) {
		path = filepath.Join(c.folder, path)
	}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		path = filepath.Join(path, "study.yaml")
	}
	return loadStudy(path)
}

// loadStudy reads one study file.
func loadStudy(path string) (*study.Study, error) {
	s, err := study.Load(path)
	if err != nil {
		var problems *study.Problems
		if !errors.As(err, &problems) {
			return nil, usageError{fmt.Errorf("%w; \"lengthwise init FOLDER\" writes a study file, --study names one", err)}
		}
		return nil, err
	}
	if err := s.CheckOff(screen.Switchable()); err != nil {
		return nil, err
	}
	return s, nil
}

// runtime merges flags and environment; nothing in it changes a number.
func (c *common) runtime(cmd *cobra.Command) (study.Runtime, error) {
	r, err := study.LoadRuntime(cmd.Flags(), c.emphasis)
	if err != nil {
		return r, usageError{err}
	}
	return r, nil
}

// runStudy runs a study and prints what it found.
func runStudy(ctx context.Context, c *common, s *study.Study, runtime study.Runtime, o runOptions) error {
	progress := c.progress()
	options := run.Options{Workers: runtime.Workers, Progress: progress.report(), Cache: runtime.CacheFolder(s), Keep: !o.anew, Anew: o.anew, Rehash: o.rehash}
	var r *run.Result
	var err error
	if o.phase == run.PhaseReduce {
		err = waiting(ctx, o.wait, func() error {
			var err error
			r, err = run.Reduce(ctx, s, options, o.shards)
			return err
		})
	} else {
		r, err = run.Study(ctx, s, options)
	}
	progress.clear()
	if errors.Is(err, run.ErrNothing) {
		for _, rule := range r.Rules {
			c.say("  %s", ledgerLine(rule))
		}
		sayWhy(c, s, r)
		return refusedError{fmt.Errorf("%w; nothing was written. \"lengthwise check\" says what was found", err)}
	}
	if err != nil {
		return err
	}
	if r.Kept {
		c.say("Nothing has changed since this result was made, and it was left alone (--anew runs the study all the same).")
	}
	sayConsent(c, s, r)
	out := s.Path(s.Output)
	if c.json {
		return printRunJSON(c, s, r, out)
	}
	name := func(pseudonym string) string { return pseudonym }
	if o.names {
		name = r.Name
	}
	if !c.quiet {
		for _, line := range accountLines(r, c.width) {
			fmt.Fprintln(c.stdout, line)
		}
		fmt.Fprintln(c.stdout)
		text := findings.Brief(r.FindingsInput(s), r.Findings, c.width, name)
		if o.words {
			text = findings.Summary(r.Findings, c.width, name)
		}
		fmt.Fprint(c.stdout, emphasised(text, runtime.Colour))
	}
	c.say("\nTables and page: %s", out)
	c.say("Page to open:    %s", filepath.Join(out, "pages", "index.html"))
	if !s.Privacy.AsGiven {
		c.say("With names:      %s", filepath.Join(s.Folder, study.PrivateFolder, "pages", "index.html"))
	}
	return nil
}

// sayWhy says why nothing could be used: whose consent is waited for, who is
// not known, and file by file what was left out.
func sayWhy(c *common, s *study.Study, r *run.Result) {
	for _, line := range slices.Concat(consentLines(r.Attention), declinedLines(r.Attention), unknownLines(s, r.Attention)) {
		c.say("%s", strings.Join(wrap(line, c.width, "", "  "), "\n"))
	}
	if lines := reasonLines(r.Attention, false, c.width); len(lines) > 0 {
		c.say("File by file (left out unless it says otherwise):\n%s", strings.Join(lines, "\n"))
	}
}

// sayConsent says before an answer on whom it cannot rest.
func sayConsent(c *common, s *study.Study, r *run.Result) {
	lines := consentLines(r.Attention)
	if n := len(unknownLines(s, r.Attention)); n > 0 {
		lines = append(lines, fmt.Sprintf("Names, files or headers in the study's lists that are not understood: %d. \"lengthwise check\" lists them.", n))
	}
	for _, line := range lines {
		c.say("%s", strings.Join(wrap(line, c.width, "", "  "), "\n"))
	}
	if len(lines) > 0 {
		c.say("")
	}
}

// emphasised makes the headings of a summary (lines that are not indented, above
// some that are) stand out on a terminal.
func emphasised(summary string, colour bool) string {
	if !colour {
		return summary
	}
	flush := func(line string) bool { return line != "" && line[0] != ' ' }
	lines := strings.Split(summary, "\n")
	for from := 0; from < len(lines); {
		to := from
		for to < len(lines) && flush(lines[to]) {
			to++
		}
		if to < len(lines) && strings.HasPrefix(lines[to], " ") {
			for i := from; i < to; i++ {
				lines[i] = "\x1b[1m" + lines[i] + "\x1b[0m"
			}
		}
		from = to + 1
	}
	return strings.Join(lines, "\n")
}

// accountLines says in words what was read, used and left out.
func accountLines(r *run.Result, width int) []string {
	lines := []string{fmt.Sprintf("%s, %s, %s, %s (%d usable).", count(len(r.Swimmers), "swimmer"), count(len(r.Sessions), "session"),
		count(r.InUse, "length"), count(r.Counts.Bouts, "bout"), r.Counts.Usable)}
	for _, a := range r.Accounts {
		lines = append(lines, fmt.Sprintf("%s records: %d read = %d used + %d left out.", capital(a.Kind), a.Read, a.Used, a.Excluded))
	}
	outcomes := map[string][]string{}
	for _, rule := range r.Rules {
		outcomes[rule.Action] = append(outcomes[rule.Action], fmt.Sprintf("%s %d", rule.Rule, rule.Records))
	}
	for _, outcome := range []struct{ action, words string }{{"excluded", "Left out"}, {"repaired", "Repaired"}, {"noted", "Noted"}} {
		if rules := outcomes[outcome.action]; len(rules) > 0 {
			lines = append(lines, wrap(outcome.words+": "+strings.Join(rules, ", ")+".", width, "", "  ")...)
		}
	}
	return lines
}

func ledgerLine(l publish.LedgerCount) string {
	words := map[string]string{"excluded": "left out", "repaired": "repaired", "noted": "noted"}
	return fmt.Sprintf("%-27s %8d %s", l.Rule, l.Records, words[l.Action])
}

// runSummary is what --json prints.
type runSummary struct {
	Study    string                `json:"study"`
	Output   string                `json:"output"`
	Kept     bool                  `json:"kept"`   // nothing had changed, and the result was left alone
	Roster   bool                  `json:"roster"` // false: everybody is used, without a record of consent
	Swimmers int                   `json:"swimmers"`
	Sessions int                   `json:"sessions"`
	Lengths  int                   `json:"lengths"`
	Bouts    int                   `json:"bouts"`
	Usable   int                   `json:"usable_bouts"`
	Accounts []publish.Account     `json:"accounts"`
	Ledger   []publish.LedgerCount `json:"ledger"`
	Findings []map[string]any      `json:"findings"`
}

func printRunJSON(c *common, s *study.Study, r *run.Result, out string) error {
	summary := runSummary{Study: s.Name, Output: out, Kept: r.Kept, Roster: s.Roster != "", Swimmers: len(r.Swimmers), Sessions: len(r.Sessions), Lengths: r.InUse,
		Bouts: r.Counts.Bouts, Usable: r.Counts.Usable, Accounts: r.Accounts, Ledger: r.Rules}
	for _, f := range r.Findings {
		summary.Findings = append(summary.Findings, map[string]any{"finding": f.Finding, "question": f.Question, "swimmer": f.Swimmer,
			"stroke": f.Stroke, "design": f.Design, "sentence": f.Sentence, "estimate": f.Estimate, "conf_low": f.ConfLow, "conf_high": f.ConfHigh, "n": f.N})
	}
	encoder := json.NewEncoder(c.stdout)
	encoder.SetIndent("", "  ")
	return encoder.Encode(summary)
}

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
