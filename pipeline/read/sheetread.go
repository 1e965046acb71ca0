package read

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"lengthwise/pipeline/study"
)

// sheetReader gathers a sheet's rows.
type sheetReader struct {
	src    SheetSource
	table  *csvTable
	heads  *headings
	layout *layout
	zone   *time.Location
	names  *sheetNames
	file   File
	groups []*sheetGroup

	dates     study.DateOrder
	constants map[string]constant // what stands above the header, by our column
	above     *aboveCells         // what rows below may leave out
	traits    columnTraits

	firstHeader []string
	records     int64
	newest      map[string]*sheetGroup // of a swimmer, day and session
	lost        []int64                // rows that could belong to any group, in order
	keep        int                    // so many first records are kept
	first       []sheetRow             // as parsed

	distanceNoted bool
	slipped       bool // a time is minutes that a spreadsheet took for hours
	restAfter     bool // rests stand in the row before them
	memory        sheetMemory
	grouped       *sheetGroup // of the row that was grouped last
}

// sheetUnfit is why no row of a sheet can be used.
type sheetUnfit struct{ rule, column, text string }

// unfit looks for what makes a whole sheet unusable, nil when nothing does.
func (s *sheetReader) unfit() *sheetUnfit {
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
	if !s.has("length") && !s.has("distance_m") && s.layout.views[0].group != byLength {
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
func (s *sheetReader) has(column string) bool {
	_, above := s.constants[column]
	return above || s.layout.has(column) || column == "swimmer" && s.layout.has(lastNames)
}

// nameOf is a row's swimmer, put together where parts of the name have columns
// of their own: first name, then the name, then the last name.
func (s *sheetReader) nameOf(r *sheetRow) string {
	var parts []string
	for _, column := range nameColumns {
		if text := s.cell(r, column); text != "" {
			parts = append(parts, text)
		}
	}
	return strings.Join(parts, " ")
}

// nameColumns are the columns that a name may stand in, in the order of its
// parts.
var nameColumns = []string{firstNames, "swimmer", lastNames}

// row takes one row of the table: into groups, swim by swim, or excluded.
func (s *sheetReader) row(row csvRow, unfit *sheetUnfit) {
	whole := func(rule, format string, args ...any) {
		r := s.newRow(row, &s.layout.views[0])
		s.exclude(r, rule, "", format, args...)
		s.keepRow(r)
	}
	if s.table.overflows(row) {
		s.eachSwim(row, func(r sheetRow) {
			s.exclude(r, RuleTooManyCells, "", "%d cells under %d headers; put numbers with a decimal comma in quotes, or separate cells with ;",
				len(row.cells), len(s.table.header))
			s.lost = append(s.lost, r.record)
			s.keepRow(r)
		})
		return
	}
	switch {
	case s.isTotals(row):
		whole(RuleTotalsRow, "a sum or mean of other rows%s", s.lostWithTotals(row))
		return
	case s.changesConstants(row):
		whole(RuleHeadingRow, "the row says what holds for the rows below it")
		return
	}
	s.above.enter(s, row)
	s.eachSwim(row, func(r sheetRow) {
		if unfit != nil {
			s.exclude(r, unfit.rule, unfit.column, "%s", unfit.text)
			s.keepRow(r)
			return
		}
		s.parse(&r)
		if r.date == "" || r.name == "" && r.owner.Swimmer == "" {
			s.lost = append(s.lost, r.record)
		}
		if r.date != "" {
			s.group(r)
		}
		s.keepRow(r)
	})
}

// layOut takes a header.
func (s *sheetReader) layOut(header, above []string) {
	s.table.header, s.layout, s.above = header, s.heads.layout(header, above), &aboveCells{}
	if s.traits.distances {
		s.lengthsAreDistances()
	}
}

// lineAbove is the line above the header.
func (s *sheetReader) lineAbove() []string {
	if n := len(s.table.above); n > 0 {
		return s.table.above[n-1].cells
	}
	return nil
}

// isHeader looks for a header among the rows, as where sheets were pasted
// together: no swim has the words for time and strokes in its cells.
func (s *sheetReader) isHeader(row csvRow) bool {
	if i, ok := s.layout.views[0].at["time"]; ok && i < len(row.cells) &&
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

// newHeader takes the header in row i of the table.
func (s *sheetReader) newHeader(i int) string {
	var above []string
	if i > 0 {
		above = s.table.rows[i-1].cells
	} else {
		above = s.table.header
	}
	old := s.layout
	s.layOut(s.table.rows[i].cells, above)
	same := len(old.views) == len(s.layout.views)
	for k := 0; same && k < len(old.views); k++ {
		same = maps.Equal(old.views[k].at, s.layout.views[k].at)
	}
	if same {
		return "the header stands here again"
	}
	return "another header: what stands below it is read by it"
}

// noteTable writes down how the table as a whole is read.
func (s *sheetReader) noteTable() {
	for _, column := range s.layout.twice {
		s.noteFile(RuleTwiceColumn, "column %s stands twice; the first is used", column)
	}
	if !s.layout.wide() {
		return
	}
	kind := map[groupKind]string{byLength: "lengths", bySwimmer: "swimmers"}[s.layout.views[0].group]
	if kind == "" {
		kind = "repeats"
	}
	s.noteFile(RuleWideSheet, "%s stand side by side, up to %d in a row: each counts as a record, row by row", kind, len(s.layout.views))
	for _, i := range s.layout.foreign {
		says, _ := s.heads.of(s.table.header[i])
		s.noteFile(RuleWideSheet, "column %s stands once for all %s of a row, and nobody can say which of them it is of: it is not used", says.column, kind)
	}
}

// newRow counts a record.
func (s *sheetReader) newRow(row csvRow, view *sheetView) sheetRow {
	s.records++
	r := sheetRow{record: s.records, row: row, view: view, kind: KindRepeat}
	if view.group == byLength || s.cell(&r, "length") != "" {
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
func (s *sheetReader) eachSwim(row csvRow, take func(sheetRow)) {
	if !s.layout.wide() {
		take(s.newRow(row, &s.layout.views[0]))
		return
	}
	var filled []*sheetView
	for k := range s.layout.views {
		v := &s.layout.views[k]
		for _, i := range v.own {
			if i < len(row.cells) && strings.TrimSpace(row.cells[i]) != "" {
				filled = append(filled, v)
				break
			}
		}
	}
	if len(filled) == 0 {
		filled = append(filled, &s.layout.views[0])
	}
	before := 0
	for k, v := range filled {
		row.part = fmt.Sprintf("%s %d", v.group, v.number)
		r := s.newRow(row, v)
		r.opens, r.closes = k == 0, k == len(filled)-1
		r.follows = k > 0 && v.number == before+1
		before = v.number
		take(r)
	}
}

func (s *sheetReader) keepRow(r sheetRow) {
	if len(s.first) < s.keep {
		s.first = append(s.first, r)
	}
}

// ownCell gives the trimmed cell of one of our columns as it stands.
func (s *sheetReader) ownCell(r *sheetRow, column string) string {
	if i, ok := r.view.at[column]; ok && i < len(r.row.cells) {
		return csvText(r.row.cells[i])
	}
	return ""
}

// cell gives the trimmed cell of one of our columns: as it stands, as the
// repeat's number, as rows above leave it to this one, or as it stands above
// the header; "" where there is none or it holds a mark for nothing.
func (s *sheetReader) cell(r *sheetRow, column string) string {
	if _, ok := r.view.at[column]; ok {
		if text := s.ownCell(r, column); text != "" {
			return text
		}
		return s.above.fill(r, column)
	}
	switch {
	case column == "swimmer" && r.view.name != "":
		return r.view.name
	case column == string(r.view.group):
		return strconv.Itoa(r.view.number)
	}
	if i, ok := s.layout.atEnd[column]; ok && r.closes && i < len(r.row.cells) {
		return csvText(r.row.cells[i])
	}
	return s.constants[column].text
}

// readSheet reads a lane sheet and keeps its first records for Understood.
func readSheet(data []byte, src SheetSource, keep int) (*sheetReader, error) {
	heads := newHeadings(src.Input.Columns)
	table, err := csvFind(data, "lane sheet", src.FileID, study.ColumnNames(study.Sheet), heads.known)
	if err != nil {
		return nil, err
	}
	s := &sheetReader{src: src, table: table, heads: heads, zone: src.zone(), names: newSheetNames(src), file: File{ID: src.FileID},
		constants: map[string]constant{}, newest: map[string]*sheetGroup{}, keep: keep, firstHeader: table.header, memory: newSheetMemory()}
	s.layOut(table.header, s.lineAbove())
	s.takeConstants(table.above)
	s.traits = s.columnTraits()
	s.noteTable()
	unfit := s.unfit()
	for i, row := range table.rows {
		if s.isHeader(row) {
			r := s.newRow(row, &s.layout.views[0])
			s.exclude(r, RuleHeaderAgain, "", "%s", s.newHeader(i))
			s.keepRow(r)
			unfit = s.unfit()
			continue
		}
		s.row(row, unfit)
	}
	s.build()
	slices.SortStableFunc(s.file.Entries, func(a, b Entry) int { return int(a.Record - b.Record) })
	return s, nil
}
