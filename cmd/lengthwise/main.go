// Command lengthwise finds out what a swimmer's stroke costs: it reads a
// squad's recordings, screens and measures them, and tests whether the
// strokes-plus-seconds score tracks heart-rate cost.
//
// Exit codes:
//
//	0    done
//	1    failed
//	2    wrong usage, or something is wrong in the study file
//	3    the data were refused: nothing in them can answer
//	4    a finished study was not reproduced
//	130  interrupted, or told to terminate
//
// Data go to standard output, words to standard error.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	_ "time/tzdata" // the program must not depend on the machine's zone files

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"lengthwise/pipeline/study"
)

// The exit codes.
const (
	exitDone        = 0
	exitFailed      = 1
	exitUsage       = 2
	exitDataRefused = 3
	exitDeparted    = 4
	exitInterrupted = 130
)

func main() {
	ctx, stop := interruptible(context.Background())
	code := runCommand(ctx, os.Args[1:], surroundings())
	stop()
	os.Exit(code)
}

// outside is the program's one door to the world around it; tests fake it
// whole.
type outside struct {
	stdout, stderr io.Writer
	folder         string // working folder
	terminal       bool   // standard error is a terminal: progress may be drawn
	emphasis       bool   // standard output is a terminal: headings may stand out
	width          int    // columns of standard output, 80 when it is not a terminal
}

func surroundings() outside {
	o := outside{stdout: os.Stdout, stderr: os.Stderr, width: 80}
	o.folder, _ = os.Getwd()
	o.emphasis = term.IsTerminal(int(os.Stdout.Fd())) && os.Getenv("TERM") != "dumb"
	o.terminal = term.IsTerminal(int(os.Stderr.Fd())) && os.Getenv("TERM") != "dumb"
	if w, _, err := term.GetSize(int(os.Stdout.Fd())); err == nil && w > 20 {
		o.width = min(w, 100)
	}
	return o
}

// usageError marks an error of the command line.
type usageError struct{ err error }

func (e usageError) Error() string { return e.err.Error() }
func (e usageError) Unwrap() error { return e.err }

// refusedError marks data that cannot answer.
type refusedError struct{ err error }

func (e refusedError) Error() string { return e.err.Error() }
func (e refusedError) Unwrap() error { return e.err }

// runCommand runs one command line and returns its exit code.
func runCommand(ctx context.Context, args []string, o outside) int {
	printed := &output{to: o.stdout}
	o.stdout = printed
	root := newRoot(o)
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if printed.err != nil { // whatever else went wrong: the reader has not got what was asked for
		err = printed.err
	}
	if err == nil {
		return exitDone
	}
	code := exitCode(ctx, err)
	if code == exitInterrupted {
		fmt.Fprintln(o.stderr, "lengthwise: interrupted; no result was changed")
		return code
	}
	for _, line := range strings.Split("lengthwise: "+err.Error(), "\n") {
		if o.terminal {
			line = strings.Join(wrap(line, o.width, "", "  "), "\n")
		}
		fmt.Fprintln(o.stderr, line)
	}
	return code
}

func exitCode(ctx context.Context, err error) int {
	var usage usageError
	var problems *study.Problems
	var refused refusedError
	var departed departedError
	switch {
	case errors.Is(err, context.Canceled) && ctx.Err() != nil:
		return exitInterrupted
	case errors.As(err, &usage), errors.As(err, &problems):
		return exitUsage
	case errors.As(err, &refused):
		return exitDataRefused
	case errors.As(err, &departed):
		return exitDeparted
	}
	return exitFailed
}

// common holds the flags that every command has.
type common struct {
	outside
	studyFile string
	json      bool
	quiet     bool
}

func newRoot(o outside) *cobra.Command {
	c := &common{outside: o}
	root := &cobra.Command{
		Use:   "lengthwise",
		Short: "find out what a swimmer's stroke costs",
		Long: `lengthwise reads a squad's recordings (watch activity files, lane sheets,
pulse readings), screens them with every record accounted for, and tests
whether the strokes-plus-seconds score tracks what the swim costs.

Start with "lengthwise demo FOLDER", or "lengthwise init FOLDER" for your own.`,
		SilenceUsage:  true,
		SilenceErrors: true,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usageError{fmt.Errorf("there is no command %q; \"lengthwise help\" lists them", args[0])}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.SetOut(o.stdout)
	root.SetErr(o.stderr)
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usageError{err} })
	flags := root.PersistentFlags()
	flags.StringVar(&c.studyFile, "study", "study.yaml", "the study file, or the folder of study.yaml; relative paths start there")
	flags.BoolVar(&c.json, "json", false, "print data as JSON")
	flags.BoolVarP(&c.quiet, "quiet", "q", false, "no words but errors")
	flags.Bool("colour", false, "emphasis on the terminal; --colour=false or NO_COLOR in the environment switches it off")
	flags.Int("workers", 0, "how many files and fits at once; as many as there are processors unless told")
	root.AddCommand(newDemo(c), newInit(c), newPlan(c), newSimulate(c), newCheck(c), newRun(c), newDeal(c), newExplain(c), newPages(c), newTables(c), newFreeze(c), newVerify(c), newRelease(c), newForget(c), newEvidence(c), newNotebooks(c), newOpen(c), newMan(c), newVersion(c))
	complete(root)
	narrowHelp(root, c.width)
	return root
}

// arguments wraps cobra's argument check so that a wrong count is a usage error.
func arguments(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if err := check(cmd, args); err != nil {
			return usageError{fmt.Errorf("%w; usage: %s", err, cmd.UseLine())}
		}
		return nil
	}
}

// noArguments refuses arguments, and says where a study is named.
func noArguments(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	return fmt.Errorf("%s takes no arguments; a study is named with --study %s", cmd.Name(), args[0])
}

// say prints words to standard error unless --quiet.
func (c *common) say(format string, args ...any) {
	if !c.quiet {
		fmt.Fprintf(c.stderr, format+"\n", args...)
	}
}
