package read

import (
	"errors"
	"maps"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"

	"lengthwise/pipeline/study"
)

// sheetFacts is what all rows of a sheet share, once it has been looked through:
// before its rows are read, nothing of it changes any more.
type sheetFacts struct {
	src    SheetSource
	table  *csvTable
	heads  *headings
	zone   *time.Location
	dates  study.DateOrder
	traits columnTraits

	firstHeader []string
	restAfter   bool // by the header, rests stand in the row before them
}

// sheetSection is what holds for a row: the header above it, and what stands above
// that. A row that changes either begins another section.
type sheetSection struct {
	number    int
	layout    *layout
	constants map[string]constant // what stands above the header, by our column
}

// sheetFront goes through a sheet's rows from the first to the last, since what a
// row means depends on those above it: on headers, blank cells, the swimmer. It
// counts records, excludes the rows that are no swims, and hands on the others with
// all that it takes to read them by themselves.
type sheetFront struct {
	*sheetFacts
	sheetLedger
	section  *sheetSection
	sections []*sheetSection
	above    *aboveCells // what rows below may leave out
	names    *sheetNames
	memory   sheetMemory
	previous []string // the row before, for headers of two lines
	unusable *sheetUnfit
	records  int64
	lost     []int64               // records that could belong to any swimmer or session, in order
	hand     func(*sheetRow) error // takes the rows that are swims
	left     func(*sheetRow)       // takes the others, nil: nobody does
}

// sheetUnfit is why no row of a sheet can be used.
type sheetUnfit struct{ rule, column, text string }

// unfit looks for what makes a whole sheet unusable, nil when nothing does.
func (s *sheetFront) unfit() *sheetUnfit {
	required := []string{"date", "time", "strokes"}
	if s.src.Input.PoolM == 0 {
		required = append(required, "pool")
	}
	if !s.src.ownsRows() {
		required = append(required, "swimmer")
	}
	for _, column := range required {
		if !s.has(column) {
			if _, numbered := s.heads.grouped(firstOf(s.table.header, s.heads, column)); numbered {
				return &sheetUnfit{RuleMissingColumn, column, "the numbers of repeats side by side must run from 1 without a gap; otherwise call their columns rep1_time, rep1_strokes and so on"}
			}
			return &sheetUnfit{RuleMissingColumn, column, "the sheet has no such column; if it goes by another name, say so under columns of the input" + once(column)}
		}
	}
	if !s.has("length") && !s.has("distance_m") && s.section.layout.views[0].group != byLength {
		return &sheetUnfit{RuleMissingColumn, "length", "the sheet has neither length nor distance_m; if they go by other names, say so under columns of the input"}
	}
	return nil
}

// once is what else may be done about a column that is the same in every row.
func once(column string) string {
	switch column {
	case "date":
		return "; or write it once above the header, as Date: 2026-03-02"
	case "pool":
		return "; or write it once above the header, as Pool: 25m, or in the study file's input"
	case "swimmer":
		return "; or give the file an owner in the assign file"
	}
	return ""
}

// firstOf is the first header that numbers a column, "" when none does.
func firstOf(header []string, heads *headings, column string) string {
	for _, cell := range header {
		if found, ok := heads.grouped(cell); ok && found.column == column {
			return cell
		}
	}
	return ""
}

// has reports whether a column stands in the header or above it.
func (s *sheetFront) has(column string) bool {
	_, above := s.section.constants[column]
	return above || s.section.layout.has(column) || column == "swimmer" && s.section.layout.has(lastNames)
}

// nameOf is a row's swimmer, put together where parts of the name have columns
// of their own: first name, then the name, then the last name.
func (s *sheetFront) nameOf(r *sheetRow) string {
	var parts []string
	for _, column := range nameColumns {
		if text := r.cell(column); text != "" {
			parts = append(parts, text)
		}
	}
	return strings.Join(parts, " ")
}

// nameColumns are the columns that a name may stand in, in the order of its
// parts.
var nameColumns = []string{firstNames, "swimmer", lastNames}

// row takes one row of the table: hands it on, swim by swim, or excludes it.
func (s *sheetFront) row(row csvRow) error {
	defer func() { s.previous = row.cells }()
	whole := func(rule, format string, args ...any) {
		r := s.newRow(row, &s.section.layout.views[0])
		s.leave(&r, rule, "", format, args...)
	}
	switch {
	case s.isHeader(row):
		r := s.newRow(row, &s.section.layout.views[0])
		s.leave(&r, RuleHeaderAgain, "", "%s", s.newHeader(row))
		s.unusable = s.unfit()
		return nil
	case s.table.overflows(row):
		return s.eachSwim(row, func(r *sheetRow) error {
			s.leave(r, RuleTooManyCells, "", "%d cells under %d headers; put numbers with a decimal comma in quotes, or separate cells with ;",
				len(row.cells), len(s.table.header))
			s.lost = append(s.lost, r.record)
			return nil
		})
	case s.isTotals(row):
		whole(RuleTotalsRow, "a sum or mean of other rows%s", s.lostWithTotals(row))
		return nil
	case s.changesConstants(row):
		whole(RuleHeadingRow, "the row says what holds for the rows below it")
		return nil
	}
	s.above.enter(s, row)
	return s.eachSwim(row, func(r *sheetRow) error {
		if s.unusable != nil {
			s.leave(r, s.unusable.rule, s.unusable.column, "%s", s.unusable.text)
			return nil
		}
		r.fills = s.above.given
		r.named = s.names.of(s.nameOf(r))
		r.name, r.owner = s.names.all[r.named].name, s.names.all[r.named].owner
		if date := r.cell("date"); date == "" || s.memory.date(date, s.dates).day == "" || r.name == "" && r.owner.Swimmer == "" {
			s.lost = append(s.lost, r.record)
		}
		return s.hand(r)
	})
}

// leave excludes a row.
func (s *sheetFront) leave(r *sheetRow, rule, column, format string, args ...any) {
	s.exclude(*r, rule, column, format, args...)
	if s.left != nil {
		s.left(r)
	}
}

// begin begins another section.
func (s *sheetFront) begin(l *layout, constants map[string]constant) {
	s.section = &sheetSection{number: len(s.sections), layout: l, constants: constants}
	s.sections = append(s.sections, s.section)
}

// layOut takes a header, which begins a section.
func (s *sheetFront) layOut(header, above []string) {
	s.table.header, s.above = header, &aboveCells{}
	var constants map[string]constant
	if s.section != nil {
		constants = s.section.constants
	}
	s.begin(s.heads.layout(header, above), constants)
	if s.traits.distances {
		s.lengthsAreDistances()
	}
}

// lineAbove is the line above the header.
func (s *sheetFront) lineAbove() []string {
	if n := len(s.table.above); n > 0 {
		return s.table.above[n-1].cells
	}
	return nil
}

// isHeader looks for a header among the rows, as where sheets were pasted
// together: no swim has the words for time and strokes in its cells.
func (s *sheetFront) isHeader(row csvRow) bool {
	if i, ok := s.section.layout.views[0].at["time"]; ok && i < len(row.cells) &&
		strings.IndexFunc(row.cells[i], unicode.IsLetter) < 0 && strings.TrimSpace(row.cells[i]) != "" {
		return false
	}
	words := map[string]bool{}
	for _, cell := range row.cells {
		if strings.IndexFunc(cell, unicode.IsLetter) < 0 {
			continue
		}
		found, ok := s.heads.of(cell)
		if !ok {
			found, ok = s.heads.grouped(cell)
		}
		if ok {
			words[found.column] = true
		}
	}
	return words["time"] && words["strokes"]
}

// newHeader takes a row that is a header.
func (s *sheetFront) newHeader(row csvRow) string {
	old := s.section.layout
	s.layOut(row.cells, s.previous)
	same := len(old.views) == len(s.section.layout.views)
	for k := 0; same && k < len(old.views); k++ {
		same = maps.Equal(old.views[k].at, s.section.layout.views[k].at)
	}
	if same {
		return "the header stands here again"
	}
	return "another header: what stands below it is read by it"
}

// noteTable writes down how the table as a whole is read.
func (s *sheetFront) noteTable() {
	for _, column := range s.section.layout.twice {
		s.noteFile(RuleTwiceColumn, "column %s stands twice; the first is used", column)
	}
	if !s.section.layout.wide() {
		return
	}
	kind := map[groupKind]string{byLength: "lengths", bySwimmer: "swimmers"}[s.section.layout.views[0].group]
	if kind == "" {
		kind = "repeats"
	}
	s.noteFile(RuleWideSheet, "%s stand side by side, up to %d in a row: each counts as a record, row by row", kind, len(s.section.layout.views))
	for _, i := range s.section.layout.foreign {
		says, _ := s.heads.of(s.table.header[i])
		s.noteFile(RuleWideSheet, "column %s stands once for all %s of a row, and nobody can say which of them it is of: it is not used", says.column, kind)
	}
}

// newRow counts a record.
func (s *sheetFront) newRow(row csvRow, view *sheetView) sheetRow {
	s.records++
	r := sheetRow{record: s.records, row: row, section: s.section, view: view, kind: KindRepeat}
	if view.group == byLength || r.cell("length") != "" {
		r.kind = KindLength
		s.file.Counts.Lengths++
	} else {
		s.file.Counts.Repeats++
	}
	return r
}

// eachSwim gives the records of a row: the row itself, or each repeat of a wide
// row that has anything written in its cells. A wide row without any is one
// record all the same.
func (s *sheetFront) eachSwim(row csvRow, take func(*sheetRow) error) error {
	if !s.section.layout.wide() {
		r := s.newRow(row, &s.section.layout.views[0])
		return take(&r)
	}
	var filled []*sheetView
	for k := range s.section.layout.views {
		v := &s.section.layout.views[k]
		for _, i := range v.own {
			if i < len(row.cells) && strings.TrimSpace(row.cells[i]) != "" {
				filled = append(filled, v)
				break
			}
		}
	}
	if len(filled) == 0 {
		filled = append(filled, &s.section.layout.views[0])
	}
	before := 0
	for k, v := range filled {
		row.part = v.part()
		r := s.newRow(row, v)
		r.opens, r.closes = k == 0, k == len(filled)-1
		r.follows = k > 0 && v.number == before+1
		before = v.number
		if err := take(&r); err != nil {
			return err
		}
	}
	return nil
}

// ownCell gives the trimmed cell of one of our columns as it stands.
func (r *sheetRow) ownCell(column string) string {
	if i, ok := r.view.at[column]; ok && i < len(r.row.cells) {
		return csvText(r.row.cells[i])
	}
	return ""
}

// cell gives the trimmed cell of one of our columns: as it stands, as the
// repeat's number, as rows above leave it to this one, or as it stands above
// the header; "" where there is none or it holds a mark for nothing.
func (r *sheetRow) cell(column string) string {
	if _, ok := r.view.at[column]; ok {
		if text := r.ownCell(column); text != "" {
			return text
		}
		return r.fills.of(r, column)
	}
	switch {
	case column == "swimmer" && r.view.name != "":
		return r.view.name
	case column == string(r.view.group):
		return strconv.Itoa(r.view.number)
	}
	if i, ok := r.section.layout.atEnd[column]; ok && r.closes && i < len(r.row.cells) {
		return csvText(r.row.cells[i])
	}
	return r.section.constants[column].text
}

// newSheetFront looks through a sheet, once, for what all rows share.
func newSheetFront(in *csvInput, src SheetSource) (*sheetFront, error) {
	heads := newHeadings(src.Input.Columns)
	table, err := csvFind(in, "lane sheet", src.FileID, study.ColumnNames(study.Sheet), heads.known)
	if err != nil {
		return nil, err
	}
	s := &sheetFront{
		sheetFacts:  &sheetFacts{src: src, table: table, heads: heads, zone: src.zone(), firstHeader: table.header, traits: columnTraits{typicalHR: math.NaN()}},
		sheetLedger: sheetLedger{file: File{ID: src.FileID}}, names: newSheetNames(src), memory: newSheetMemory(),
	}
	s.layOut(table.header, s.lineAbove())
	s.section.constants = map[string]constant{}
	s.takeConstants(table.above)
	rows, err := table.below(in)
	if err != nil {
		return nil, err
	}
	s.traits, err = s.columnTraits(rows)
	return s, errors.Join(err, rows.close())
}

// run goes through the rows, once: to hand go those that are swims, to left the others.
func (s *sheetFront) run(in *csvInput, hand func(*sheetRow) error, left func(*sheetRow)) (err error) {
	s.hand, s.left = hand, left
	s.noteTable()
	s.unusable = s.unfit()
	s.previous = s.table.header
	rows, err := s.table.below(in)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.close()) }()
	for {
		row, ok, err := rows.next()
		if err != nil {
			return err
		}
		if !ok {
			break
		}
		if err := s.row(row); err != nil {
			return err
		}
	}
	for _, v := range s.section.layout.views {
		s.restAfter = s.restAfter || v.says["rest"].after
	}
	return nil
}
