package read

import (
	"regexp"
	"slices"
	"time"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// The rules that exclude or note rows of sheets, logs and lists.
const (
	RuleUnreadable    = "unreadable"         // a cell says nothing that can be read
	RuleMissingCell   = "missing-cell"       // a cell that every row needs is empty
	RuleMissingColumn = "missing-column"     // so is a column
	RuleUnknownColumn = "unknown-column"     // a header of a list is none of its columns
	RuleTooManyCells  = "too-many-cells"     // more cells than the header: nothing is where it should be
	RuleNotWhole      = "distance-not-whole" // the distance is no whole number of pool lengths
	RuleTotalsRow     = "totals-row"         // a sum of other rows
	RuleHeaderAgain   = "header-again"       // the header once more
	RuleWideSheet     = "wide-sheet"         // several repeats side by side in one row
	RuleTwiceColumn   = "column-twice"       // a column stands twice; the first is used
	RuleDistance      = "distance-ignored"   // a row of one length states another distance
	RuleNamesSomebody = "names-somebody"     // a note that names a swimmer
	RuleFirstRest     = "rest-before-first"  // a rest before anything was swum
	RuleClockChange   = "clock-change"       // a local time that was twice or never
)

// SheetSource says what is known of a sheet or log before its bytes are read.
type SheetSource struct {
	FileID  string
	Input   study.Input
	Zone    *time.Location // the study's; Input.TimeZone overrides it; nil means UTC
	Content string         // hex SHA-256 of the bytes

	// Owner answers who a name in the file is; nil: nobody is known.
	Owner func(name string) identity.Owner
	// FileOwner owns the rows that name nobody (identity.Registry.ByFile); its
	// zero value is nobody.
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

// basis is what the file counts unless a row says otherwise.
func (s SheetSource) basis() study.CountBasis {
	if s.Input.StrokeCount == "" {
		return study.UnknownBasis
	}
	return s.Input.StrokeCount
}

// Sheet reads a lane sheet: one row a length, or one row a repeat where the
// length is empty. Rows become recordings by swimmer, day, session and start,
// in their order. Every row below the header that is not blank counts as a
// record, numbered from 1, and is either in a recording or excluded by an
// entry; a cell that cannot be read is left out with a note when the row can do
// without it. The rows of swimmers who may not be used are still in a
// recording, marked Refused.
//
// StartS counts from 0 by times and rests; a rest before the first swim of a
// recording is noted and left out. StartS is NaN from the first swim on
// before which no rest is stated, and after a row whose time is not known.
//
// The names seen, in order, each spelling once, are for private files alone.
// The error is a *NotTableError.
func Sheet(data []byte, src SheetSource) (File, []identity.Seen, error) {
	s, err := readSheet(data, src, 0)
	if err != nil {
		return File{}, nil, err
	}
	return s.file, s.names.seen, nil
}

// readSheet reads a lane sheet and keeps its first rows for Understood.
func readSheet(data []byte, src SheetSource, keep int) (*sheetReader, error) {
	table, err := csvOpen(data, "lane sheet", src.FileID, study.ColumnNames(study.Sheet), src.Input.Columns)
	if err != nil {
		return nil, err
	}
	s := &sheetReader{src: src, table: table, zone: src.zone(), names: newSheetNames(src), file: File{ID: src.FileID},
		newest: map[string]*sheetGroup{}, started: map[sheetStart]*sheetGroup{}}
	for _, column := range table.twice {
		s.file.Entries = append(s.file.Entries, Entry{FileID: src.FileID, Records: 1, Kind: KindFile, Rule: RuleTwiceColumn,
			Action: Noted, Detail: "column " + column + " stands twice; the first is used"})
	}
	unfit := s.unfit()
	for i, row := range table.rows {
		r := s.read(int64(i)+1, row, unfit)
		if i < keep {
			s.first = append(s.first, r)
		}
	}
	s.build()
	slices.SortStableFunc(s.file.Entries, func(a, b Entry) int { return int(a.Record - b.Record) })
	return s, nil
}

// SheetNames reports whether bytes have the header of a lane sheet, whatever
// its rows hold, and gives the names under it, each spelling once. They are for
// private files alone.
func SheetNames(data []byte) (names []string, ok bool) {
	table, err := csvOpen(data, "lane sheet", "", study.ColumnNames(study.Sheet), nil)
	if err != nil || !table.has("time") || !table.has("strokes") {
		return nil, false
	}
	seen := map[string]bool{}
	for _, row := range table.rows {
		if name := table.cell(row, "swimmer"); name != "" && !seen[name] && !table.repeatsHeader(row) && !table.overflows(row) {
			seen[name] = true
			names = append(names, name)
		}
	}
	return names, true
}

// sheetReader gathers a sheet's rows.
type sheetReader struct {
	src    SheetSource
	table  *csvTable
	zone   *time.Location
	names  *sheetNames
	file   File
	groups []*sheetGroup

	newest  map[string]*sheetGroup     // of a swimmer, day and session
	started map[sheetStart]*sheetGroup // with its start
	lost    []int64                    // rows that could belong to any group, in order
	first   []sheetRow                 // the first rows as parsed

	distanceNoted bool
}

// sheetUnfit is why no row of a sheet can be used.
type sheetUnfit struct{ rule, column, text string }

// wideHeader is a header of a sheet with its repeats side by side.
var wideHeader = regexp.MustCompile(`^rep\d+(time|strokes|hr)$`)

// unfit looks for what makes a whole sheet unusable, nil when nothing does.
func (s *sheetReader) unfit() *sheetUnfit {
	for _, header := range s.table.header {
		if wideHeader.MatchString(csvHeader(header)) {
			return &sheetUnfit{RuleWideSheet, "", "several repeats side by side are not read: write one row a repeat"}
		}
	}
	required := []string{"date", "time", "strokes"}
	if s.src.Input.PoolM == 0 {
		required = append(required, "pool")
	}
	if s.src.FileOwner == (identity.Owner{}) {
		required = append(required, "swimmer")
	}
	for _, column := range required {
		if !s.table.has(column) {
			return &sheetUnfit{RuleMissingColumn, column, "the sheet has no such column; if it goes by another name, say so under columns of the input"}
		}
	}
	if !s.table.has("length") && !s.table.has("distance_m") {
		return &sheetUnfit{RuleMissingColumn, "length", "the sheet has neither length nor distance_m; if they go by other names, say so under columns of the input"}
	}
	return nil
}

// read takes one row into its group, or excludes it.
func (s *sheetReader) read(record int64, row csvRow, unfit *sheetUnfit) (r sheetRow) {
	r = sheetRow{record: record, row: row}
	r.kind = KindRepeat
	if s.table.cell(row, "length") != "" {
		r.kind = KindLength
		s.file.Counts.Lengths++
	} else {
		s.file.Counts.Repeats++
	}
	switch {
	case unfit != nil:
		s.exclude(r, unfit.rule, unfit.column, "%s", unfit.text)
		return r
	case s.table.repeatsHeader(row):
		s.exclude(r, RuleHeaderAgain, "", "the header stands here again")
		return r
	case s.table.overflows(row):
		s.exclude(r, RuleTooManyCells, "", "%d cells under %d headers; put numbers with a decimal comma in quotes, or separate cells with ;",
			len(row.cells), len(s.table.header))
		s.lost = append(s.lost, record)
		return r
	case s.isTotals(row):
		s.exclude(r, RuleTotalsRow, "", "a sum of other rows")
		return r
	}
	s.parse(&r)
	if r.date == "" || r.name == "" && r.owner.Swimmer == "" {
		s.lost = append(s.lost, record)
	}
	if r.date != "" {
		s.group(r)
	}
	return r
}

// exclude writes the entry of a row that is not used.
func (s *sheetReader) exclude(r sheetRow, rule, column, format string, args ...any) {
	s.enter(r, rule, Excluded, csvDetail(r.row, column, format, args...))
}

// note writes an entry of a row that is used.
func (s *sheetReader) note(r sheetRow, rule, column, format string, args ...any) {
	s.enter(r, rule, Noted, csvDetail(r.row, column, format, args...))
}

func (s *sheetReader) enter(r sheetRow, rule string, action Action, detail string) {
	s.file.Entries = append(s.file.Entries, Entry{FileID: s.src.FileID, Record: r.record, Records: 1, Kind: r.kind,
		Swimmer: r.owner.Swimmer, Rule: rule, Action: action, Detail: detail})
}

// sheetNames answers for the names of one file and remembers them.
type sheetNames struct {
	src    SheetSource
	owners map[string]identity.Owner
	seen   []identity.Seen
}

func newSheetNames(src SheetSource) *sheetNames {
	return &sheetNames{src: src, owners: map[string]identity.Owner{}}
}

// owner answers for a cell; an empty one is the file's owner.
func (n *sheetNames) owner(name string) identity.Owner {
	if name == "" {
		owner := n.src.FileOwner
		if owner.Swimmer == "" && owner.Refused == "" {
			owner.Refused = identity.NoSwimmer
		}
		return owner
	}
	owner, known := n.owners[name]
	if !known {
		owner.Refused = identity.NoSwimmer
		if n.src.Owner != nil {
			owner = n.src.Owner(name)
		}
		n.owners[name] = owner
		n.seen = append(n.seen, identity.Seen{Swimmer: owner.Swimmer, Name: name})
	}
	return owner
}

// sheetOwnerKey keeps swimmers apart, those whom nobody knows by their names.
func sheetOwnerKey(owner identity.Owner, name string) string {
	if owner.Swimmer != "" {
		return "s\x00" + owner.Swimmer
	}
	return "n\x00" + identity.Fold(name)
}
