package read

import (
	"maps"
	"slices"
	"strings"

	"lengthwise/pipeline/identity"
)

// constant is what stands above the header, as in Date: 2.3.2026, and holds for
// every row.
type constant struct {
	text  string
	says  heading
	line  int
	twice bool // it stands there twice with different values and is not used
}

// constantColumns are those that may stand above the header.
var constantColumns = []string{"swimmer", "date", "start", "session", "pool", "stroke", "distance_m", "count", "hr_source", "hr_delay"}

// labelled finds what a row says of single columns: Date: 2.3.2026 in one cell,
// or the label in one and the value in the next that is filled.
func (s *sheetFront) labelled(row csvRow, found func(column string, c constant)) {
	for i := 0; i < len(row.cells); i++ {
		label, value, inOne := strings.Cut(row.cells[i], ":")
		says, ok := s.heads.of(label)
		if !ok || !slices.Contains(constantColumns, says.column) {
			continue
		}
		value = csvText(value)
		for inOne = inOne && value != ""; !inOne && i+1 < len(row.cells) && value == ""; i++ {
			value = csvText(row.cells[i+1])
		}
		if value != "" {
			found(says.column, constant{text: value, says: says, line: row.line})
		}
	}
}

// takeConstants reads the rows above the header. What has a column of its own
// is not taken from there.
func (s *sheetFront) takeConstants(rows []csvRow) {
	for _, row := range rows {
		s.labelled(row, func(column string, c constant) {
			if s.section.layout.has(column) {
				return
			}
			if have, again := s.section.constants[column]; again && identity.Fold(have.text) != identity.Fold(c.text) {
				c = constant{line: have.line, twice: true}
			}
			s.section.constants[column] = c
		})
	}
	for _, column := range constantColumns {
		c, ok := s.section.constants[column]
		switch {
		case !ok:
		case c.twice:
			s.noteFile(RuleHeadingRow, "above the header %s is given twice, first in line %d, with different values; neither is used", column, c.line)
			delete(s.section.constants, column)
		default:
			s.noteFile(RuleHeadingRow, "line %d above the header gives the %s of all rows", c.line, column)
		}
	}
}

// changesConstants takes a row between others that says something else than
// what stands above the header, as where sheets were pasted together.
func (s *sheetFront) changesConstants(row csvRow) bool {
	if len(s.section.constants) == 0 {
		return false
	}
	if i, ok := s.section.layout.views[0].at["time"]; ok && i < len(row.cells) {
		if d, ok := s.table.parseSeconds(csvText(row.cells[i])); ok && d.plain {
			return false // a swim
		}
	}
	changes := map[string]constant{}
	s.labelled(row, func(column string, c constant) {
		if _, ok := s.section.constants[column]; ok {
			changes[column] = c
		}
	})
	if len(changes) == 0 {
		return false
	}
	constants := maps.Clone(s.section.constants) // rows above keep theirs
	maps.Copy(constants, changes)
	s.begin(s.section.layout, constants)
	return true
}
