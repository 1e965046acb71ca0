package main

import (
	_ "embed"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"text/template"
	"time"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/run"
)

//go:embed deal/slurm.sh
var slurmScript string

//go:embed deal/kubernetes.yaml
var kubernetesManifest string

// dealOptions are the flags of deal, and what its templates are given.
type dealOptions struct {
	Shards  int
	CPUs    int
	sbatch  []string
	Image   string
	Claim   string
	Memory  string
	Wait    time.Duration
	Tries   int
	Study   string
	Program string
	Options string
	Phases  []string
}

func newDeal(c *common) *cobra.Command {
	o := dealOptions{Phases: []string{run.PhaseRead, run.PhaseMeasure, run.PhaseAnswer, run.PhaseReduce}, Tries: 6}
	cmd := &cobra.Command{
		Use:   "deal {slurm|kubernetes}",
		Short: "print a script that deals a run out over machines",
		Long: `Print what deals a run of this study out over the machines of a cluster that all
see the study's folder: a script for Slurm, or jobs for Kubernetes. It runs the
phases read, measure and answer for every shard and then reduce; what comes out
has the same bytes as one run on one machine.

Shards cost about a second each to start: take one to four for each processor, and
64 at most. Names and health data lie in the private folder and its cache, so the
shared file system must be as private as the folder is.

Exit codes: 0 done; 2 wrong usage.`,
		Example: `  lengthwise deal slurm --shards 16 --sbatch --time=1:00:00 > deal.sh
  lengthwise deal kubernetes --shards 16 --claim squad > jobs.yaml`,
		Args:      arguments(cobra.ExactArgs(1)),
		ValidArgs: []string{"slurm", "kubernetes"},
		RunE: func(_ *cobra.Command, args []string) error {
			text, err := c.deal(args[0], o)
			if err != nil {
				return usageError{err}
			}
			_, err = c.stdout.Write([]byte(text))
			return err
		},
	}
	flags := cmd.Flags()
	flags.IntVar(&o.Shards, "shards", 8, "into how many shares, 64 at most")
	flags.IntVar(&o.CPUs, "cpus", 2, "processors of each")
	flags.StringArrayVar(&o.sbatch, "sbatch", nil, "Slurm: an option for sbatch; may be given several times")
	flags.StringVar(&o.Image, "image", "lengthwise:"+run.Version, "Kubernetes: the container image that holds the program")
	flags.StringVar(&o.Claim, "claim", "study", "Kubernetes: the persistent volume claim with the study's folder")
	flags.StringVar(&o.Memory, "memory", "2Gi", "Kubernetes: memory of each")
	flags.DurationVar(&o.Wait, "wait", 6*time.Hour, "Kubernetes: how long a phase waits for the one before it")
	return cmd
}

// What may stand in a manifest without quotes.
var (
	imageName  = regexp.MustCompile(`^[a-z0-9][a-zA-Z0-9._/:@-]*$`)
	objectName = regexp.MustCompile(`^[a-z0-9]([a-z0-9.-]*[a-z0-9])?$`)
	quantity   = regexp.MustCompile(`^[0-9]+(\.[0-9]+)?(Mi|Gi|Ti|M|G|T)?$`)
)

func (c *common) deal(to string, o dealOptions) (string, error) {
	if o.Shards < 1 || o.Shards > 64 {
		return "", fmt.Errorf("--shards %d: from 1 to 64, which are the buckets that swimmers are dealt into", o.Shards)
	}
	if o.CPUs < 1 {
		return "", fmt.Errorf("--cpus %d: at least 1", o.CPUs)
	}
	switch to {
	case "slurm":
		study := c.studyFile
		if !filepath.IsAbs(study) {
			study = filepath.Join(c.folder, study)
		}
		program, err := os.Executable()
		if err != nil {
			return "", err
		}
		o.Program, o.Study = shellQuoted(program), shellQuoted(study)
		var options []string
		for _, option := range o.sbatch {
			options = append(options, shellQuoted(option))
		}
		o.Options = strings.Join(options, " ")
		return filled(slurmScript, o)
	case "kubernetes":
		switch {
		case !imageName.MatchString(o.Image):
			return "", fmt.Errorf("--image %q is no name of an image", o.Image)
		case !objectName.MatchString(o.Claim):
			return "", fmt.Errorf("--claim %q is no name of a claim", o.Claim)
		case !quantity.MatchString(o.Memory):
			return "", fmt.Errorf("--memory %q is no amount such as 2Gi", o.Memory)
		}
		file := filepath.Base(c.studyFile)
		if ext := filepath.Ext(file); ext != ".yaml" && ext != ".yml" { // the folder
			file = "study.yaml"
		}
		o.Study = "/study/" + file
		if !imageName.MatchString(file) {
			return "", fmt.Errorf("--study %q: a study file for Kubernetes has letters, digits, dots and dashes in its name", c.studyFile)
		}
		return filled(kubernetesManifest, o)
	}
	return "", errors.New("deal to " + strconv.Quote(to) + ": there are slurm and kubernetes")
}

func filled(text string, o dealOptions) (string, error) {
	t, err := template.New("deal").Option("missingkey=error").Parse(text)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	err = t.Execute(&b, o)
	return b.String(), err
}

// shellQuoted is a text as one word of a shell.
func shellQuoted(text string) string { return "'" + strings.ReplaceAll(text, "'", `'\''`) + "'" }
