package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lengthwise/cmd/lengthwise/localpage"
	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
)

// openOptions are the flags of open.
type openOptions struct {
	port    int
	browser bool
}

func newOpen(c *common) *cobra.Command {
	var o openOptions
	cmd := &cobra.Command{
		Use:   "open [FOLDER]",
		Short: "a page in the browser instead of the terminal",
		Long: `Serve a page for FOLDER, or for this folder, to the browser of this machine:
drop files, complete what init proposes in a form, see what check says, run and
read the pages. It does what the commands do and nothing else. A folder that is
not there is made.

The page listens on this machine alone (127.0.0.1), and only for the browser
that opens the whole address that is printed. It ends with its button, or with
Ctrl-C here.

Exit codes: 0 ended by the page; 1 failed; 2 wrong usage; 130 interrupted.`,
		Example: "  lengthwise open squad",
		Args:    arguments(cobra.MaximumNArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			runtime, err := c.runtime(cmd)
			if err != nil {
				return err
			}
			folder := c.folder
			if len(args) > 0 {
				folder = args[0]
			}
			return openPage(cmd.Context(), c, folder, runtime, o)
		},
	}
	cmd.Flags().IntVar(&o.port, "port", 0, "port to listen on; 0 takes any that is free")
	cmd.Flags().BoolVar(&o.browser, "browser", true, "open the machine's browser; --browser=false prints the address alone")
	return cmd
}

func openPage(ctx context.Context, c *common, folder string, r study.Runtime, o openOptions) error {
	if o.port < 0 || o.port > 65535 {
		return usageError{fmt.Errorf("--port %d: a port lies between 0 and 65535", o.port)}
	}
	if !filepath.IsAbs(folder) {
		folder = filepath.Join(c.folder, folder)
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return usageError{err}
	}
	server, err := localpage.New(folder, c.program(r))
	if err != nil {
		return err
	}
	listener, err := localpage.Listen(o.port)
	if err != nil {
		return err
	}
	address := server.Address(listener)
	fmt.Fprintln(c.stdout, address)
	c.say("Open this address in the browser of this machine. Ctrl-C ends it.")
	if o.browser {
		showInBrowser(address)
	}
	if err := server.Serve(ctx, listener); err != nil {
		return err
	}
	return ctx.Err()
}

// showInBrowser asks the system to open an address. Where it cannot, the
// address that was printed has to do.
func showInBrowser(address string) {
	command := map[string][]string{
		"linux":   {"xdg-open", address},
		"darwin":  {"open", address},
		"windows": {"rundll32", "url.dll,FileProtocolHandler", address},
	}[runtime.GOOS]
	if command == nil || runtime.GOOS == "linux" && os.Getenv("DISPLAY") == "" && os.Getenv("WAYLAND_DISPLAY") == "" {
		return
	}
	cmd := exec.Command(command[0], command[1:]...)
	if cmd.Start() == nil {
		go cmd.Wait()
	}
}

// program gives the page the commands, in words.
func (c *common) program(r study.Runtime) localpage.Program {
	options := func(progress localpage.Progress) run.Options {
		return run.Options{Workers: r.Workers, Progress: progress}
	}
	return localpage.Program{
		Load: loadStudy,
		Check: func(ctx context.Context, s *study.Study, progress localpage.Progress) (*localpage.Checked, error) {
			result, err := run.Assess(ctx, s, options(progress))
			if err != nil {
				return nil, err
			}
			return checkedWords(s, result), nil
		},
		Run: func(ctx context.Context, s *study.Study, progress localpage.Progress) (*localpage.Ran, error) {
			o := options(progress)
			o.Cache = r.CacheFolder(s)
			result, err := run.Study(ctx, s, o)
			if errors.Is(err, run.ErrNothing) {
				why := slices.Concat(consentLines(result.Attention), declinedLines(result.Attention), unknownLines(s, result.Attention))
				return nil, fmt.Errorf("%w; nothing was written. The check says what was found.\n%s", err, strings.Join(why, "\n"))
			}
			if err != nil {
				return nil, err
			}
			ran := &localpage.Ran{Account: accountLines(result, wideLine)}
			if len(result.Findings) > 0 {
				ran.Answer = result.Findings[0].Sentence
			}
			return ran, nil
		},
		Pack: func(s *study.Study) ([]byte, error) {
			pack, err := packEvidence(s, usualEvidence())
			return pack.data, err
		},
	}
}

// wideLine is a width at which no line is broken: the page breaks its own.
const wideLine = 1 << 20

// checkedWords is what check prints, for the page.
func checkedWords(s *study.Study, r *run.Result) *localpage.Checked {
	all := prospects(s, r)
	checked := &localpage.Checked{
		Answerable: slices.ContainsFunc(all, func(p prospect) bool { return p.Answerable }),
		Answer:     answerLine(all),
		Account:    accountLines(r, wideLine),
		Needs:      slices.Concat(consentLines(r.Attention), declinedLines(r.Attention), unknownLines(s, r.Attention)),
		Files:      reasonLines(r.Attention, true, wideLine),
		Gaps:       gaps(s, r),
	}
	for _, f := range r.NoOwner {
		checked.Needs = append(checked.Needs, fmt.Sprintf("Nobody owns %s%s.", f.File, nearest(f.Nearest)))
	}
	for _, u := range r.Unmatched {
		checked.Needs = append(checked.Needs, fmt.Sprintf("Not read: %s (%s).", u.Rel, u.Reason))
	}
	for i := range all {
		if i == 0 || all[i].Swimmer != all[i-1].Swimmer {
			checked.Swimmers = append(checked.Swimmers, localpage.SwimmerWords{Name: all[i].Swimmer})
		}
		last := &checked.Swimmers[len(checked.Swimmers)-1]
		last.Lines = append(last.Lines, findings.Printable(strings.TrimSpace(all[i].words())))
	}
	return checked
}
