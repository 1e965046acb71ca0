package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

func newExplain(c *common) *cobra.Command {
	return &cobra.Command{
		Use:   "explain SESSION[/LENGTH]",
		Short: "tell what became of a session or of one of its lengths",
		Long: `Tell the life of one length: what was recorded, where, which rules met it, what
was used instead, its measures, its bout, and whether that bout entered the
models. Without LENGTH, go through the session.

SESSION is an id from the table sessions, LENGTH its ordinal in the table
lengths. It is read from the study's result; nothing is computed anew.

Exit codes: 0 done; 1 failed; 2 wrong usage, or there is no such session.`,
		Example: `  lengthwise tables sessions --columns session
  lengthwise explain s-k7m2p9qd-20260302-1
  lengthwise explain s-k7m2p9qd-20260302-1/17`,
		Args: arguments(cobra.ExactArgs(1)),
		RunE: func(_ *cobra.Command, args []string) error {
			s, err := c.load()
			if err != nil {
				return err
			}
			return explain(c, s, args[0])
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
}

func explain(c *common, s *study.Study, what string) error {
	id, ordinal, one := strings.Cut(what, "/")
	st, err := readStory(s, id)
	if err != nil {
		return err
	}
	if !one {
		return st.print(c)
	}
	n, err := strconv.Atoi(ordinal)
	if err != nil {
		return usageError{fmt.Errorf("%q is not the ordinal of a length", ordinal)}
	}
	for _, l := range st.lengths {
		if int(l.Ordinal) == n {
			return st.printLength(c, l)
		}
	}
	return usageError{fmt.Errorf("session %s has lengths 1 to %d, not %d", id, len(st.lengths), n)}
}

func readStory(s *study.Study, id string) (*story, error) {
	sessions, err := rowsOf[schemas.Session](s, "sessions")
	if err != nil {
		return nil, err
	}
	at := slices.IndexFunc(sessions, func(r schemas.Session) bool { return r.Session == id })
	if at < 0 {
		var ids []string
		for _, r := range sessions {
			ids = append(ids, r.Session)
		}
		hint := ""
		if near := study.Nearest(id, ids, 1); len(near) > 0 {
			hint = fmt.Sprintf("; did you mean %s?", near[0])
		}
		return nil, usageError{fmt.Errorf("there is no session %q%s (\"lengthwise tables sessions\" lists them)", id, hint)}
	}
	st := &story{session: sessions[at]}
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
	fmt.Fprintf(c.stdout, "Session %s: %s, %s of file %s, pool %s m\n", s.Session, s.LocalDate, s.Kind, s.FileID, shown(s.PoolM, 2))
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
			fmt.Fprintf(c.stdout, "  from        %s record %d of file %s (%s)\n", link.Kind, link.Record, link.FileID, link.Relation)
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
			if b.Usable {
				fmt.Fprintf(c.stdout, "  models      the bout enters this swimmer's %s models, %s\n", b.Stroke, designOf(b))
			} else {
				fmt.Fprintf(c.stdout, "  models      none: %s\n", word(b.Reason))
			}
		}
	}
	return nil
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
