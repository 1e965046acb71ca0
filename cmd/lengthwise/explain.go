package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

func newExplain(c *common) *cobra.Command {
	return &cobra.Command{
		Use:   "explain SESSION[/LENGTH] | SWIMMER DATE[/LENGTH] | FILE[:RECORD]",
		Short: "tell what became of a session, a length or a record",
		Long: `Tell the life of one length: what was recorded, in which file, what every rule
made of it and what it was held against, what was used instead, its heart rate,
measures and bout, and the models that the bout entered. Without LENGTH, go
through the session.

SESSION is an id from the table sessions, LENGTH its ordinal in the table
lengths. A session can also be named by its swimmer (a name or a pseudonym) and
its date. A record that was left out has no length: name it by its file (path or
id) and number, FILE:RECORD; FILE alone tells what became of the whole file.

What was measured and answered is read from the study's result. How the rules
went is worked out anew from the swimmer's files; where these have changed since
the run, explain says so. Names and paths come from the study's private folder:
the output is for the squad's own eyes.

Exit codes: 0 done; 1 failed; 2 wrong usage, or there is no such session or
record; 130 interrupted.`,
		Example: `  lengthwise tables sessions --columns session,swimmer,local_date --names
  lengthwise explain "Otto Brack" 2026-03-02
  lengthwise explain "Otto Brack" 2026-03-02/17
  lengthwise explain s-k7m2p9qd-20260302-1/17
  lengthwise explain inbox/otto/morning.fit:18`,
		Args: arguments(cobra.RangeArgs(1, 2)),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, runtime, err := c.prepare(cmd)
			if err != nil {
				return err
			}
			e, err := newExplainer(c, s, runtime)
			if err != nil {
				return err
			}
			return e.explain(cmd.Context(), args)
		},
	}
}

// explainer answers for one study's result.
type explainer struct {
	c       *common
	s       *study.Study
	runtime study.Runtime
	paths   map[string]string // file ids to paths, where they are known
	names   people

	sessions []schemas.Session
	ledger   []schemas.LedgerEntry
}

func newExplainer(c *common, s *study.Study, runtime study.Runtime) (*explainer, error) {
	e := &explainer{c: c, s: s, runtime: runtime}
	var err1, err2, err3, err4 error
	e.sessions, err1 = rowsOf[schemas.Session](s, "sessions")
	e.ledger, err2 = rowsOf[schemas.LedgerEntry](s, "ledger")
	e.paths, err3 = readPaths(s)
	if e.names, err4 = readPeople(s); errors.Is(err4, fs.ErrNotExist) {
		err4 = nil // pseudonyms are shown
	}
	return e, cmp.Or(err1, errors.Join(err2, err3, err4))
}

// file is a file's path with its id, or the id alone.
func (e *explainer) file(id string) string {
	if path, ok := e.paths[id]; ok {
		return fmt.Sprintf("%s (%s)", path, id)
	}
	return "file " + id
}

// explain tells of a file, a record, a session or a length, by what is named.
func (e *explainer) explain(ctx context.Context, args []string) error {
	if len(args) == 1 {
		if id, record, ok := e.fileNamed(args[0]); ok {
			if record == 0 {
				return e.explainFile(id)
			}
			return e.explainRecord(ctx, id, record)
		}
	}
	what, ordinal, one := strings.Cut(args[len(args)-1], "/")
	n := 0
	if one {
		var err error
		if n, err = strconv.Atoi(ordinal); err != nil {
			return usageError{fmt.Errorf("%q is neither the ordinal of a length nor a file of the study", ordinal)}
		}
	}
	var chosen []schemas.Session
	var err error
	if len(args) == 2 {
		chosen, err = e.sessionsOfDay(args[0], what)
	} else {
		chosen, err = e.sessionOfID(what)
	}
	if err != nil {
		return err
	}
	if one && len(chosen) > 1 {
		return usageError{fmt.Errorf("there are %d sessions on that day; name one: %s", len(chosen), strings.Join(sessionIDs(chosen), ", "))}
	}
	var stories []*story
	for _, session := range chosen {
		st, err := e.story(session)
		if err != nil {
			return err
		}
		stories = append(stories, st)
	}
	if one {
		return e.explainLength(ctx, stories[0], n)
	}
	return e.printSessions(stories)
}

// fileNamed finds the file and record that a word names: a path as the study
// has it or a file id, with :RECORD or without (record 0).
func (e *explainer) fileNamed(word string) (id string, record int64, ok bool) {
	find := func(name string) (string, bool) {
		name = strings.TrimPrefix(filepath.ToSlash(name), "./")
		for id, path := range e.paths {
			if path == name || id == name {
				return id, true
			}
		}
		known := slices.ContainsFunc(e.ledger, func(r schemas.LedgerEntry) bool { return r.FileID == name }) ||
			slices.ContainsFunc(e.sessions, func(r schemas.Session) bool { return r.FileID == name })
		return name, known
	}
	if id, ok := find(word); ok {
		return id, 0, true
	}
	if at := strings.LastIndexByte(word, ':'); at > 0 {
		if n, err := strconv.ParseInt(word[at+1:], 10, 64); err == nil && n > 0 {
			if id, ok := find(word[:at]); ok {
				return id, n, true
			}
		}
	}
	return "", 0, false
}

func sessionIDs(sessions []schemas.Session) []string {
	var ids []string
	for _, r := range sessions {
		ids = append(ids, r.Session)
	}
	return ids
}

// sessionOfID finds a session of the result, or one of which no length is in use:
// the ledger knows it.
func (e *explainer) sessionOfID(id string) ([]schemas.Session, error) {
	if found := of(slices.Clone(e.sessions), func(r schemas.Session) bool { return r.Session == id }); len(found) > 0 {
		return found, nil
	}
	for _, r := range e.ledger {
		if r.Session != nil && *r.Session == id && r.Swimmer != nil {
			return []schemas.Session{{Swimmer: *r.Swimmer, Session: id, FileID: r.FileID}}, nil
		}
	}
	hint := ""
	if near := study.Nearest(id, sessionIDs(e.sessions), 1); len(near) > 0 {
		hint = fmt.Sprintf("; did you mean %s?", near[0])
	}
	return nil, usageError{fmt.Errorf("there is no session %q%s (\"lengthwise tables sessions\" lists them; SWIMMER DATE names one too, and FILE:RECORD a record)", id, hint)}
}

// sessionsOfDay finds the sessions of a swimmer, named or by pseudonym, on a
// day.
func (e *explainer) sessionsOfDay(who, day string) ([]schemas.Session, error) {
	own := of(slices.Clone(e.sessions), func(r schemas.Session) bool { return r.Swimmer == who })
	if len(own) == 0 {
		known, err := readPeople(e.s)
		if err != nil {
			return nil, usageError{fmt.Errorf("there is no swimmer %q; %w", who, err)}
		}
		pseudonym, ok := known.pseudonyms[identity.Fold(who)]
		if !ok {
			return nil, usageError{fmt.Errorf("there is no swimmer %q%s", who, nearest(study.Nearest(who, known.known, 2)))}
		}
		own = of(slices.Clone(e.sessions), func(r schemas.Session) bool { return r.Swimmer == pseudonym })
	}
	var days []string
	for _, r := range own {
		if !slices.Contains(days, r.LocalDate) {
			days = append(days, r.LocalDate)
		}
	}
	found := of(slices.Clone(own), func(r schemas.Session) bool { return r.LocalDate == day })
	switch {
	case len(own) == 0:
		return nil, usageError{fmt.Errorf("%s has no session in use; \"lengthwise check\" says why", who)}
	case len(found) == 0:
		return nil, usageError{fmt.Errorf("%s has no session in use on %q; there are %s", who, day, strings.Join(days, ", "))}
	}
	return found, nil
}

func rowsOf[T any](s *study.Study, name string) (rows []T, err error) {
	file, err := openTable(s, name)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	return table.RowsOf[T](file)
}

func of[T any](rows []T, keep func(T) bool) []T {
	return slices.DeleteFunc(rows, func(r T) bool { return !keep(r) })
}

// shown is a nullable number for reading.
func shown(v *float64, decimals int) string {
	if v == nil {
		return "no"
	}
	return strconv.FormatFloat(*v, 'f', decimals, 64)
}

func word(s *string) string {
	if s == nil {
		return "none"
	}
	return *s
}

func pace(seconds float64) string {
	tenths := int(math.Round(10 * seconds))
	return fmt.Sprintf("%d:%02d.%d", tenths/600, tenths/10%60, tenths%10)
}
