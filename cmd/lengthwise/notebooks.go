package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"lengthwise/notebooks"
	"lengthwise/pipeline/study"
)

// notebooksOptions are the flags of notebooks.
type notebooksOptions struct{ names bool }

func newNotebooks(c *common) *cobra.Command {
	var o notebooksOptions
	cmd := &cobra.Command{
		Use:   "notebooks FOLDER",
		Short: "write notebooks that read this study's tables",
		Long: `Write four Jupyter notebooks, the charts that they draw and the list of packages
that they need into FOLDER, which is made if need be: squad (for the coaching group), analysis (for
the researcher: the headline again in statsmodels), workshop (for an educator)
and tables (SQL). Each has one cell of parameters, set to this study's output.

A file that is there already and differs is never written over; then nothing
is written.

--names lets the squad's notebook show names in place of pseudonyms: what it then
shows is for the squad's own eyes.

Exit codes: 0 done; 1 failed, or the study has no result yet; 2 wrong usage, or
files in FOLDER were changed.`,
		Example: `  lengthwise notebooks notebooks
  python -m venv here && here/bin/pip install -r notebooks/requirements.txt
  here/bin/jupyter lab notebooks`,
		Args: arguments(cobra.ExactArgs(1)),
		RunE: func(_ *cobra.Command, args []string) error {
			s, err := c.load()
			if err != nil {
				return err
			}
			folder := args[0]
			if !filepath.IsAbs(folder) {
				folder = filepath.Join(c.folder, folder)
			}
			return writeNotebooks(c, s, folder, o)
		},
	}
	cmd.Flags().BoolVar(&o.names, "names", false, "let the squad's notebook show names")
	return cmd
}

func writeNotebooks(c *common, s *study.Study, folder string, o notebooksOptions) error {
	out := s.Path(s.Output)
	if _, err := os.Stat(filepath.Join(out, "run.json")); err != nil {
		return fmt.Errorf("there is no result in %s yet; \"lengthwise run\" makes one", out)
	}
	p := notebooks.Parameters{Out: from(folder, out)}
	if o.names {
		private := filepath.Join(s.Folder, study.PrivateFolder, "swimmers.csv")
		if _, err := os.Stat(private); err != nil {
			return fmt.Errorf("names: %w", err)
		}
		p.Names = from(folder, private)
	}
	files, err := notebooks.Files(p)
	if err != nil {
		return err
	}
	missing, err := notThere(folder, files)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return usageError{err}
	}
	for _, f := range missing {
		path := filepath.Join(folder, filepath.FromSlash(f.Name))
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), writeNew(path, f.Data)); err != nil {
			return err
		}
	}
	for _, f := range files {
		fmt.Fprintln(c.stdout, filepath.Join(folder, filepath.FromSlash(f.Name)))
	}
	c.say("To read them:\n  python -m venv here\n  here/bin/pip install -r %s\n  here/bin/jupyter lab %s",
		filepath.Join(folder, notebooks.Requirements), folder)
	return nil
}

// from is a path as seen from a folder, with forward slashes; absolute where
// there is no way from one to the other.
func from(folder, path string) string {
	base, err1 := filepath.Abs(folder)
	goal, err2 := filepath.Abs(path)
	if err := errors.Join(err1, err2); err != nil {
		return filepath.ToSlash(path)
	}
	relative, err := filepath.Rel(base, goal)
	if err != nil {
		return filepath.ToSlash(goal)
	}
	return filepath.ToSlash(relative)
}

// notThere lists the files that the folder lacks, and refuses where it holds
// one that differs.
func notThere(folder string, files []notebooks.File) ([]notebooks.File, error) {
	var missing []notebooks.File
	var changed []string
	for _, f := range files {
		there, err := os.ReadFile(filepath.Join(folder, filepath.FromSlash(f.Name)))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			missing = append(missing, f)
		case err != nil:
			return nil, err
		case !bytes.Equal(there, f.Data):
			changed = append(changed, f.Name)
		}
	}
	if len(changed) > 0 {
		return nil, usageError{fmt.Errorf("%s in %s: changed or executed since, or of another study or version; nothing was written. Move them away, or name another folder",
			strings.Join(changed, ", "), folder)}
	}
	return missing, nil
}

// writeNew writes a file that must not be there yet, whole or not at all.
func writeNew(path string, data []byte) error {
	temporary, err := os.CreateTemp(filepath.Dir(path), ".writing-*")
	if err != nil {
		return err
	}
	defer os.Remove(temporary.Name())
	_, err = temporary.Write(data)
	if err := errors.Join(err, temporary.Chmod(0o644), temporary.Close()); err != nil {
		return err
	}
	return os.Rename(temporary.Name(), path)
}
