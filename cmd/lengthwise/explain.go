package main

import (
	"errors"
	"fmt"
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
		Use:   "explain SESSION[/LENGTH] | SWIMMER DATE[/LENGTH]",
		Short: "tell what became of a session or of one of its lengths",
		Long: `Tell the life of one length: what was recorded, where, which rules met it, what
was used instead, its measures, its bout, and whether that bout entered the
models. Without LENGTH, go through the session.

SESSION is an id from the table sessions, LENGTH its ordinal in the table
lengths. A session can also be named by its swimmer (a name or a pseudonym) and
its date. It is read from the study's result; nothing is computed anew. Names
and the paths of files come from the study's private folder: the output is for
the squad's own eyes.

Exit codes: 0 done; 1 failed; 2 wrong usage, or there is no such session.`,
		Example: `  lengthwise tables sessions --columns session,swimmer,local_date --names
  lengthwise explain "Otto Brack" 2026-03-02
  lengthwise explain "Otto Brack" 2026-03-02/17
  lengthwise explain s-k7m2p9qd-20260302-1/17`,
		Args: arguments(cobra.RangeArgs(1, 2)),
		RunE: func(_ *cobra.Command, args []string) error {
			s, err := c.load()
			if err != nil {
				return err
			}
			return explain(c, s, args)
		},
	}
}

// story is what the tables say of one session.
type story struct {
	session schemas.Session
	lengths []schemas.Length
	lineage []schemas.Lineage
	bouts   []schemas.Bout
	ledger  []schemas.LedgerEntry

	paths   map[string]string // file ids to paths, where they are known
	strokes []string          // those that the study asks about
}

// file is a file's path and id, or the id alone.
func (st *story) file(id string) string {
	if path, ok := st.paths[id]; ok {
		return fmt.Sprintf("%s (%s)", path, id)
	}
	return id
}

// printOne prints the length of an ordinal.
func (st *story) printOne(c *common, n int) error {
	for _, l := range st.lengths {
		if int(l.Ordinal) == n {
			return st.printLength(c, l)
		}
	}
	return usageError{fmt.Errorf("session %s has lengths 1 to %d, not %d", st.session.Session, len(st.lengths), n)}
}

func explain(c *common, s *study.Study, args []string) error {
	sessions, err := rowsOf[schemas.Session](s, "sessions")
	if err != nil {
		return err
	}
	what, ordinal, one := strings.Cut(args[len(args)-1], "/")
	n := 0
	if one {
		if n, err = strconv.Atoi(ordinal); err != nil {
			return usageError{fmt.Errorf("%q is not the ordinal of a length", ordinal)}
		}
	}
	var chosen []schemas.Session
	if len(args) == 2 {
		chosen, err = sessionsOfDay(s, sessions, args[0], what)
	} else {
		chosen, err = sessionOfID(sessions, what)
	}
	if err != nil {
		return err
	}
	if one && len(chosen) > 1 {
		return usageError{fmt.Errorf("there are %d sessions on that day; name one: %s", len(chosen), strings.Join(sessionIDs(chosen), ", "))}
	}
	for i, session := range chosen {
		st, err := readStory(s, session)
		if err != nil {
			return err
		}
		if one {
			return st.printOne(c, n)
		}
		if i > 0 {
			fmt.Fprintln(c.stdout)
		}
		if err := st.print(c); err != nil {
			return err
		}
	}
	return nil
}

func sessionIDs(sessions []schemas.Session) []string {
	var ids []string
	for _, r := range sessions {
		ids = append(ids, r.Session)
	}
	return ids
}

func sessionOfID(sessions []schemas.Session, id string) ([]schemas.Session, error) {
	if found := of(slices.Clone(sessions), func(r schemas.Session) bool { return r.Session == id }); len(found) > 0 {
		return found, nil
	}
	hint := ""
	if near := study.Nearest(id, sessionIDs(sessions), 1); len(near) > 0 {
		hint = fmt.Sprintf("; did you mean %s?", near[0])
	}
	return nil, usageError{fmt.Errorf("there is no session %q%s (\"lengthwise tables sessions\" lists them; SWIMMER DATE names one too)", id, hint)}
}

// sessionsOfDay finds the sessions of a swimmer, named or by pseudonym, on a
// day.
func sessionsOfDay(s *study.Study, sessions []schemas.Session, who, day string) ([]schemas.Session, error) {
	own := of(slices.Clone(sessions), func(r schemas.Session) bool { return r.Swimmer == who })
	if len(own) == 0 {
		known, err := readPeople(s)
		if err != nil {
			return nil, usageError{fmt.Errorf("there is no swimmer %q; %w", who, err)}
		}
		pseudonym, ok := known.pseudonyms[identity.Fold(who)]
		if !ok {
			return nil, usageError{fmt.Errorf("there is no swimmer %q%s", who, nearest(study.Nearest(who, known.known, 2)))}
		}
		own = of(slices.Clone(sessions), func(r schemas.Session) bool { return r.Swimmer == pseudonym })
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

func readStory(s *study.Study, session schemas.Session) (*story, error) {
	id := session.Session
	paths, err := readPaths(s)
	if err != nil {
		return nil, err
	}
	st := &story{session: session, paths: paths, strokes: s.Analysis.Strokes}
	lengths, err1 := rowsOf[schemas.Length](s, "lengths")
	lineage, err2 := rowsOf[schemas.Lineage](s, "lineage")
	bouts, err3 := rowsOf[schemas.Bout](s, "bouts")
	ledger, err4 := rowsOf[schemas.LedgerEntry](s, "ledger")
	if err := errors.Join(err1, err2, err3, err4); err != nil {
		return nil, err
	}
	st.lengths = of(lengths, func(r schemas.Length) bool { return r.Session == id })
	st.lineage = of(lineage, func(r schemas.Lineage) bool { return r.Session == id })
	st.bouts = of(bouts, func(r schemas.Bout) bool { return r.Session == id })
	st.ledger = of(ledger, func(r schemas.LedgerEntry) bool { return r.Session != nil && *r.Session == id })
	return st, nil
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

func (st *story) print(c *common) error {
	s := st.session
	fmt.Fprintf(c.stdout, "Session %s: %s, %s of file %s, pool %s m\n", s.Session, s.LocalDate, s.Kind, st.file(s.FileID), shown(s.PoolM, 2))
	fmt.Fprintf(c.stdout, "%s, %s, %d usable, %d designed; %d heart-rate samples, source %s\n\n",
		count(len(st.lengths), "length"), count(len(st.bouts), "bout"), s.UsableBouts, s.DesignedBouts, s.HRSamples, word(s.HRSource))
	for _, b := range st.bouts {
		fmt.Fprintln(c.stdout, boutLine(b))
	}
	if len(st.ledger) > 0 {
		fmt.Fprintln(c.stdout, "\nLedger:")
	}
	for _, e := range st.ledger {
		fmt.Fprintln(c.stdout, "  "+entryLine(e))
	}
	return nil
}

func (st *story) printLength(c *common, l schemas.Length) error {
	fmt.Fprintf(c.stdout, "Length %d of session %s\n", l.Ordinal, l.Session)
	for _, link := range st.lineage {
		if link.Ordinal == l.Ordinal {
			fmt.Fprintf(c.stdout, "  from        %s record %d of file %s (%s)\n", link.Kind, link.Record, st.file(link.FileID), link.Relation)
		}
	}
	fmt.Fprintf(c.stdout, "  recorded    %.1f s, %s strokes (%s counted), as a %s\n", l.DurationRecordedS, shown(l.StrokesRecorded, 1), l.StrokeCountBasis, l.RecordedAs)
	fmt.Fprintf(c.stdout, "  used        %.1f s, %s strokes, %s, %g m pool, %s", l.DurationS, shown(l.Strokes, 1), l.Stroke, l.PoolM, l.Status)
	if l.Rule != nil {
		fmt.Fprintf(c.stdout, " by rule %s", *l.Rule)
	}
	fmt.Fprintln(c.stdout)
	met := 0
	for _, e := range st.ledger {
		if e.FileID == l.FileID && e.Kind != "heart-rate" && e.Record <= l.Record && l.Record < e.Record+max(1, e.Records) {
			fmt.Fprintf(c.stdout, "  rule met    %s\n", entryLine(e))
			met++
		}
	}
	if met == 0 {
		fmt.Fprintln(c.stdout, "  rules met   none")
	}
	fmt.Fprintf(c.stdout, "  measures    %.3f m/s, %s a 100 m, %s strokes/min, %s m a stroke\n", l.SpeedMPS, pace(l.PaceSPer100M), shown(l.StrokeRateSPM, 1), shown(l.DistancePerStrokeM, 2))
	fmt.Fprintf(c.stdout, "              score %s (as the recorder counts: %s), heart rate within it %s\n", shown(l.Score, 1), shown(l.ScoreRecorded, 1), shown(l.HRBPM, 0))
	for _, b := range st.bouts {
		if b.Bout == l.Bout {
			fmt.Fprintf(c.stdout, "  bout        %s\n", strings.TrimSpace(boutLine(b)))
			switch {
			case !b.Usable:
				fmt.Fprintf(c.stdout, "  models      none: %s\n", word(b.Reason))
			case !slices.Contains(st.strokes, b.Stroke):
				fmt.Fprintf(c.stdout, "  models      none: the study asks about %s (analysis.strokes), not about %s\n", strings.Join(st.strokes, ", "), strokeWords(b.Stroke))
			default:
				fmt.Fprintf(c.stdout, "  models      the bout enters this swimmer's %s models, %s\n", b.Stroke, designOf(b))
			}
		}
	}
	return nil
}

// strokeWords is a stroke as it stands in a sentence.
func strokeWords(stroke string) string {
	if stroke == "unknown" {
		return "a stroke that is not stated"
	}
	return stroke
}

func boutLine(b schemas.Bout) string {
	state := designOf(b)
	if !b.Usable {
		state += ", not usable: " + word(b.Reason)
	}
	return fmt.Sprintf("  %2d  %4.0f m %s in %6.1f s, %s strokes/min, end heart rate %s (%s), %s",
		b.Bout, b.DistanceM, b.Stroke, b.DurationS, shown(b.StrokeRateSPM, 1), shown(b.HRSteadyBPM, 0), word(b.HRMethod), state)
}

func designOf(b schemas.Bout) string {
	if b.Designed {
		return "designed"
	}
	return "observed"
}

func entryLine(e schemas.LedgerEntry) string {
	return fmt.Sprintf("%s (%s record %d): %s: %s", e.Rule, e.Kind, e.Record, e.Action, e.Detail)
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
	return fmt.Sprintf("%d:%04.1f", int(seconds)/60, seconds-float64(int(seconds)/60*60))
}
