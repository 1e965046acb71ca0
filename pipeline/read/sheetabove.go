package read

import (
	"slices"
	"strings"
)

// fromAbove are the columns that a row may leave to the row above it, as in a
// table whose cells were merged.
var fromAbove = []string{firstNames, "swimmer", lastNames, "date", "session", "set", "pool", "stroke", "distance_m", "count", "hr_source"}

// aboveCells is what the rows so far leave to those that follow.
type aboveCells struct {
	head  map[string]string
	line  int // of the row that states most of it
	fills map[string]string
	names []string // the columns of fills, in order
	from  int      // the line that fills begin with
}

// enter works out what the next row takes from above. A row that gives neither
// name nor date goes on with the swimmer above it, if it says which repeat,
// length, set or session it is (a row of sums does not); a row that names
// another swimmer takes the day and the pool alone.
func (a *aboveCells) enter(s *sheetReader, row csvRow) {
	at := s.layout.views[0].at
	own := func(column string) string {
		if i, ok := at[column]; ok && i < len(row.cells) && !slices.Contains(s.layout.views[0].own, i) {
			return strings.TrimSpace(row.cells[i])
		}
		return ""
	}
	hasName, named := false, false
	for _, column := range nameColumns {
		if _, ok := at[column]; ok {
			hasName, named = true, named || own(column) != ""
		}
	}
	hasName = hasName && !s.src.ownsRows()
	_, hasDate := at["date"]
	named, dated := !hasName || named, !hasDate || own("date") != ""
	a.fills, a.names, a.from = nil, nil, a.line
	before := a.head
	take := func(columns ...string) {
		for _, column := range columns {
			if column == "distance_m" && own("length") != "" {
				continue // a length is as long as the pool
			}
			if text := before[column]; text != "" && own(column) == "" {
				if _, ok := at[column]; ok {
					if a.fills == nil {
						a.fills = map[string]string{}
					}
					a.fills[column] = text
					a.names = append(a.names, column)
				}
			}
		}
	}
	switch {
	case named && dated:
		if a.line = row.line; a.head == nil {
			a.head = map[string]string{}
		}
		clear(a.head) // nothing is taken from it any more
	case len(before) == 0:
		return
	case named:
		a.head, a.line = map[string]string{}, row.line
		take("date", "pool")
	case !dated || s.traits.namesOnce:
		if !s.statesPlace(own) {
			return
		}
		take(fromAbove...)
	default:
		return
	}
	if named {
		for _, column := range a.names {
			a.head[column] = a.fills[column]
		}
	}
	for _, column := range fromAbove {
		if text := csvText(own(column)); text != "" {
			a.head[column] = text
		}
	}
}

// statesPlace reports whether a row says which of its swimmer's swims it is.
// In a plain sheet without any such column every row may be one.
func (s *sheetReader) statesPlace(own func(string) string) bool {
	has := false
	for _, column := range []string{"rep", "length", "set", "session"} {
		if _, ok := s.layout.views[0].at[column]; ok {
			has = true
			if own(column) != "" {
				return true
			}
		}
	}
	return !has && !s.layout.wide()
}

// fill is what a row takes from above in a column, "" for nothing. A cell that
// holds a mark for nothing is not blank.
func (a *aboveCells) fill(r *sheetRow, column string) string {
	text := a.fills[column]
	if text == "" {
		return ""
	}
	if i := r.view.at[column]; i < len(r.row.cells) && strings.TrimSpace(r.row.cells[i]) != "" {
		return ""
	}
	return text
}

// noteFills notes what a record takes from above.
func (s *sheetReader) noteFills(r *sheetRow) {
	if names := s.above.names; len(names) > 0 {
		s.noteRun(*r, RuleFromAbove, "blank cells are taken from the rows above, from line %d on: %s", s.above.from, listed(names))
	}
}

// listed writes words as a list: a, b and c.
func listed(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}
