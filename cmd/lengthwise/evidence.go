package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/publish/evidence"
	"lengthwise/pipeline/run"
	"lengthwise/pipeline/share"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// evidenceOptions are the flags of evidence.
type evidenceOptions struct{ title, licence string }

func newEvidence(c *common) *cobra.Command {
	var o evidenceOptions
	cmd := &cobra.Command{
		Use:   "evidence [FILE]",
		Short: "make an evidence pack for a workshop, without names or dates",
		Long: `Make a zip of what the study can hand to a room outside the squad: claims with
their intervals, limits and numbers of swimmers (CSV, JSON), figures (SVG, PNG)
with the data behind each, a handout, slides (one claim a screen), an explorer
over pairs of bouts at one pace, sources and terms. FILE is evidence.zip in the
study's output folder unless named; the next run removes that one.

Nothing in it tells of fewer swimmers than the study's smallest_group, or than
half as many again where swimmers are, or may be, under 18. No name, pseudonym,
session or date is in it: the pack is searched for all of them before it is
written, and is not written where one is found.

Exit codes: 0 done; 1 failed, or the study has no result yet; 2 wrong usage;
3 too few swimmers stand behind every claim.`,
		Example: "  lengthwise evidence\n  lengthwise evidence workshop.zip --title \"What a stroke costs\"",
		Args:    arguments(cobra.MaximumNArgs(1)),
		RunE: func(_ *cobra.Command, args []string) error {
			s, err := c.load()
			if err != nil {
				return err
			}
			path := filepath.Join(s.Path(s.Output), run.EvidencePack)
			if len(args) > 0 {
				path = args[0]
				if !filepath.IsAbs(path) {
					path = filepath.Join(c.folder, path)
				}
			}
			return writeEvidence(c, s, path, o)
		},
	}
	usual := usualEvidence()
	cmd.Flags().StringVar(&o.title, "title", usual.title, "what heads the pack; the study's name is not in it")
	cmd.Flags().StringVar(&o.licence, "licence", usual.licence, "on what terms the pack is given, in words")
	return cmd
}

// usualEvidence is what a pack is called and given by unless told.
func usualEvidence() evidenceOptions {
	return evidenceOptions{title: "What a stroke costs: a squad's evidence",
		licence: "Given for this workshop. Ask whoever gave it to you before you pass it on."}
}

// packed is a pack as a file.
type packed struct {
	data     []byte
	files    int
	smallest int // swimmers of the smallest group in it
}

// packEvidence makes a pack of a study's result.
func packEvidence(s *study.Study, o evidenceOptions) (packed, error) {
	before, err := resultOf(s)
	if err != nil {
		return packed{}, err
	}
	in, secrets, err := readEvidence(s)
	if err != nil {
		return packed{}, err
	}
	in.Title, in.Licence = o.title, o.licence
	files, err := evidence.Files(in)
	switch {
	case errors.Is(err, evidence.ErrNothing):
		return packed{}, refusedError{fmt.Errorf("%w; nothing was written", err)}
	case err != nil:
		return packed{}, err
	}
	if err := secrets.search(files); err != nil {
		return packed{}, fmt.Errorf("%w; nothing was written", err)
	}
	data, err := evidence.Zip(files)
	if err != nil {
		return packed{}, err
	}
	if now, err := resultOf(s); err != nil || !bytes.Equal(now, before) {
		return packed{}, fmt.Errorf("the result in %s was replaced meanwhile; nothing was written, try again", s.Path(s.Output))
	}
	return packed{data: data, files: len(files), smallest: in.SmallestGroup}, nil
}

func writeEvidence(c *common, s *study.Study, path string, o evidenceOptions) error {
	pack, err := packEvidence(s, o)
	if err != nil {
		return err
	}
	beside := filepath.Dir(path)
	if beside == filepath.Clean(s.Path(s.Output)) { // nothing half done is left in a result
		beside = filepath.Dir(beside)
	}
	if err := replaceFile(beside, path, pack.data); err != nil {
		return err
	}
	if c.json {
		encoder := json.NewEncoder(c.stdout)
		encoder.SetIndent("", "  ")
		return encoder.Encode(map[string]any{"file": path, "files": pack.files, "bytes": len(pack.data), "smallest_group": pack.smallest})
	}
	fmt.Fprintln(c.stdout, path)
	c.say("%s, %s, nothing of fewer than %d swimmers.\nHand it to a room; do not publish it without asking those it is about.",
		count(pack.files, "file"), kilobytes(len(pack.data)), pack.smallest)
	return nil
}

func kilobytes(n int) string { return fmt.Sprintf("%d kB", (n+999)/1000) }

// resultOf reads the record of the study's result.
func resultOf(s *study.Study) ([]byte, error) {
	record, err := os.ReadFile(filepath.Join(s.Path(s.Output), "run.json"))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no result in %s yet; \"lengthwise run\" makes one", s.Path(s.Output))
	}
	return record, err
}

// replaceFile writes a file whole or not at all; until then it lies in the folder
// beside.
func replaceFile(beside, path string, data []byte) error {
	if err := clearWriting(beside); err != nil {
		return err
	}
	temporary, err := os.CreateTemp(beside, writingPrefix+"*")
	if err != nil {
		return err
	}
	defer os.Remove(temporary.Name())
	_, err = temporary.Write(data)
	if err := errors.Join(err, temporary.Sync(), temporary.Chmod(0o644), temporary.Close()); err != nil {
		return err
	}
	return os.Rename(temporary.Name(), path)
}

// What is being written has a name of its own until it is whole. Whoever is killed at it
// leaves that behind; after writingTakes nobody can still be at it.
const (
	writingPrefix = ".lengthwise-evidence-" // in somebody's folder, where other names are others'
	writingTakes  = 10 * time.Minute
)

// clearWriting removes what killed commands have left in a folder.
func clearWriting(folder string) error {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), writingPrefix) {
			continue
		}
		info, err := e.Info()
		if err == nil && time.Since(info.ModTime()) > writingTakes {
			err = os.Remove(filepath.Join(folder, e.Name()))
		}
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

// secrets are what no file of a pack may hold.
type secrets struct {
	marks []string     // pseudonyms, ids, days
	names *share.Guard // names and aliases; nil where nobody swam on a known day
}

func (s secrets) search(files []evidence.File) error {
	if err := evidence.Search(files, s.marks); err != nil || s.names == nil {
		return err
	}
	for _, f := range files {
		if !f.Words() {
			continue
		}
		if _, err := s.names.Text(string(f.Data)); err != nil {
			return fmt.Errorf("%s of the pack: %w", f.Name, err)
		}
	}
	return nil
}

// readEvidence reads what a pack is made from, and what must not be in it.
func readEvidence(s *study.Study) (evidence.Input, secrets, error) {
	var hide secrets
	in := evidence.Input{Version: run.Version, Cost: s.Cost, Strokes: s.Analysis.Strokes, Seed: s.Seed}
	var bouts []schemas.Bout
	var sessions []schemas.Session
	var swimmers []schemas.Swimmer
	err := errors.Join(
		readInto(s, "findings", &in.Findings), readInto(s, "score_overall", &in.Overall), readInto(s, "cost_by_rate", &in.ByRate),
		readInto(s, "advice_overall", &in.Advice), readInto(s, "contrasts", &in.Contrasts), readInto(s, "changes", &in.Changes),
		readInto(s, "reliability", &in.Days), readInto(s, "sensitivity", &in.Choices), readInto(s, "sensitivity_summary", &in.Summaries),
		readInto(s, "bouts", &bouts), readInto(s, "sessions", &sessions), readInto(s, "swimmers", &swimmers))
	if err != nil {
		return in, hide, err
	}
	in.SmallestGroup = share.Threshold(s.Privacy.SmallestGroup, mayBeMinors(swimmers, sessions))
	in.Pairs = analyse.MatchedPairs(bouts, s)

	firstDay := ""
	for _, one := range sessions {
		hide.marks = append(hide.marks, one.Session, one.LocalDate, one.FileID)
		if firstDay == "" || one.LocalDate < firstDay {
			firstDay = one.LocalDate
		}
	}
	var names []string
	for _, one := range swimmers {
		if s.Privacy.AsGiven { // what stands for a swimmer is a name then
			names = append(names, one.Swimmer)
		} else {
			hide.marks = append(hide.marks, one.Swimmer)
		}
	}
	who, err := readPeople(s)
	if err != nil && !(errors.Is(err, fs.ErrNotExist) && s.Privacy.AsGiven) {
		return in, hide, err
	}
	names = append(names, who.known...)
	for name := range rosterNames(s) {
		names = append(names, name)
	}
	if firstDay != "" {
		hide.names, err = share.NewGuard(firstDay, names, nil, hide.marks)
	}
	return in, hide, err
}

// mayBeMinors reports whether a swimmer is under 18 in the study's last year, or
// may be.
func mayBeMinors(swimmers []schemas.Swimmer, sessions []schemas.Session) bool {
	year := 0
	for _, one := range sessions {
		if len(one.LocalDate) >= 4 {
			if y, err := strconv.Atoi(one.LocalDate[:4]); err == nil {
				year = max(year, y)
			}
		}
	}
	return slices.ContainsFunc(swimmers, func(one schemas.Swimmer) bool {
		return one.BirthYear == nil || share.Band(int(*one.BirthYear), year) == share.Minor
	})
}

// readInto reads all rows of a table of the result.
func readInto[T any](s *study.Study, name string, into *[]T) (err error) {
	*into, err = rowsOf[T](s, name)
	return err
}
