package read

import (
	"strings"
	"time"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// The rules that exclude or note rows of sheets, logs and lists.
const (
	RuleUnreadable     = "unreadable"         // a cell says nothing that can be read
	RuleMissingCell    = "missing-cell"       // a cell that every row needs is empty
	RuleMissingColumn  = "missing-column"     // so is a column
	RuleUnknownColumn  = "unknown-column"     // a header of a list is none of its columns
	RuleTooManyCells   = "too-many-cells"     // more cells than the header: nothing is where it should be
	RuleNotWhole       = "distance-not-whole" // the distance is no whole number of pool lengths
	RuleTotalsRow      = "totals-row"         // a sum of other rows
	RuleHeaderAgain    = "header-again"       // the header once more
	RuleWideSheet      = "wide-sheet"         // several repeats side by side in one row
	RuleTwiceColumn    = "column-twice"       // a column stands twice; the first is used
	RuleDistance       = "distance-ignored"   // a row of one length states another distance
	RuleNamesSomebody  = "names-somebody"     // a note that names a swimmer
	RuleFirstRest      = "rest-before-first"  // a rest before anything was swum
	RuleClockChange    = "clock-change"       // a local time that was twice or never
	RuleHeadingRow     = "heading-row"        // above or between rows, what holds for those below
	RuleFromAbove      = "cell-from-above"    // blank cells that go on with the row above
	RuleDateOrder      = "date-order"         // whether day or month comes first, by the column's other dates
	RuleDayNumber      = "day-number"         // a date as a spreadsheet counts days
	RuleTimeUnit       = "time-unit"          // a time or rest in another unit than it seems
	RulePulseCount     = "pulse-count"        // a heart rate that was counted over some seconds
	RuleStrokesDoubt   = "strokes-doubtful"   // a count that can be no total, or no mean
	RuleLengthDistance = "length-is-distance" // under length stand distances
	RuleDistanceUnit   = "distance-unit"      // a distance in yards, by the pool
	RuleRowTwice       = "row-twice"          // the same row again, with the number of its repeat
	RuleRestAfter      = "rest-after"         // rests that stand in the row before them
	RuleRunningTime    = "running-times"      // times that run on from length to length
	RuleStartAgain     = "start-of-row"       // starts that are of rows, not of sessions
)

// SheetSource says what is known of a sheet or log before its bytes are read.
type SheetSource struct {
	FileID  string
	Input   study.Input
	Zone    *time.Location // the study's; Input.TimeZone overrides it; nil means UTC
	Content string         // hex SHA-256 of the bytes

	// Owner answers who a name in the file is; nil: nobody is known.
	Owner func(name string) identity.Owner
	// FileOwner owns the rows that name nobody (identity.Registry.ByFile);
	// without Swimmer and How it is nobody.
	FileOwner identity.Owner
}

// zone is where the file's local times are.
func (s SheetSource) zone() *time.Location {
	switch {
	case s.Input.TimeZone != nil:
		return s.Input.TimeZone
	case s.Zone != nil:
		return s.Zone
	}
	return time.UTC
}

// ownsRows reports whether somebody owns the rows that name nobody.
func (s SheetSource) ownsRows() bool { return s.FileOwner.Swimmer != "" || s.FileOwner.How != "" }

// basis is what the file counts unless a row says otherwise.
func (s SheetSource) basis() study.CountBasis {
	if s.Input.StrokeCount == "" {
		return study.UnknownBasis
	}
	return s.Input.StrokeCount
}

// Sheet reads a lane sheet: one row a length, one row a repeat where the length
// is empty, or several of either side by side in a row (sheetlayout.go says
// under which headers). Rows become recordings by swimmer, day, session and start, in their
// order. Every row below the header that is not blank counts as a record, or as
// many as it has repeats side by side with anything written, numbered from 1;
// each is either in a recording or excluded by an entry. A cell that cannot be
// read is left out with a note when the row can do without it. The rows of
// swimmers who may not be used are still in a recording, marked Refused.
//
// What a cell states is taken as it stands wherever that can be. Where it can
// not (a speed nobody swims, a count nobody has), another reading is taken only
// if it is the one that is left, and an entry says so; otherwise the cell is
// left out, and the entry says what to do.
//
// StartS counts from 0 by times and rests, or by the rows' own starts where
// these have seconds; a rest before the first swim of a recording is noted and
// left out. StartS is NaN from the first swim on before which no rest is
// stated, and after a row whose time is not known.
//
// The names seen, in order, each spelling once, are for private files alone.
// The error is a *NotTableError.
func Sheet(data []byte, src SheetSource) (File, []identity.Seen, error) {
	s, err := readSheet(data, src, nil)
	if err != nil {
		return File{}, nil, err
	}
	return s.file, s.names.seen, nil
}

// SheetBlanks lists what a sheet's rows must have and no header of it stands for,
// and the headers that stand for nothing known: which is which, only a person
// can say. Both are empty for what is no sheet.
func SheetBlanks(data []byte) (missing, headers []string) {
	s, _, err := lookThrough(data)
	if err != nil {
		return nil, nil
	}
	for _, column := range []string{"date", "time", "strokes", "pool"} {
		if _, above := s.section.constants[column]; !above && !s.has(column) {
			missing = append(missing, column)
		}
	}
	for _, cell := range s.section.layout.unused {
		if header := strings.TrimSpace(s.table.header[cell]); header != "" {
			headers = append(headers, header)
		}
	}
	return missing, headers
}

// SheetNames reports whether bytes have the header of a lane sheet, whatever
// its rows hold and even if a column goes by a name that we do not know, and
// gives the names under it, each spelling once. They are for private files
// alone.
func SheetNames(data []byte) (names []string, ok bool) {
	s, rows, err := lookThrough(data)
	if err != nil {
		return nil, false
	}
	known := 0
	for _, column := range []string{"swimmer", "date", "pool", "length", "distance_m", "stroke", "time", "strokes"} {
		if s.has(column) {
			known++
		}
	}
	if known < 4 && !(s.has("time") && s.has("strokes")) {
		return nil, false
	}
	seen := map[string]bool{}
	for row, ok, _ := rows.next(); ok; row, ok, _ = rows.next() { // the whole text is there: no error
		if s.isHeader(row) || s.isTotals(row) || s.table.overflows(row) {
			continue
		}
		for k := range s.section.layout.views {
			if name := s.nameOf(&sheetRow{row: row, section: s.section, view: &s.section.layout.views[k]}); name != "" && !seen[name] {
				seen[name] = true
				names = append(names, name)
			}
		}
	}
	return names, true
}

// lookThrough goes through the rows of a sheet of which nothing is known, and gives
// them once more.
func lookThrough(data []byte) (*sheetFront, *csvRows, error) {
	in := wholeInput(data)
	s, err := newSheetFront(in, SheetSource{})
	if err != nil {
		return nil, nil, err
	}
	if err := s.run(in, func(*sheetRow) error { return nil }, nil); err != nil {
		return nil, nil, err
	}
	rows, err := s.table.below(in)
	return s, rows, err
}
