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
	line  int       // of the row that states most of it
	given *rowFills // to the row at hand, nil for nothing
}

// rowFills is what a row takes from above.
type rowFills struct {
	texts map[string]string
	names []string // the columns of texts, in order
	from  int      // the line that they begin with
}

// enter works out what the next row takes from above. A row that gives neither
// name nor date goes on with the swimmer above it, if it says which repeat,
// length, set or session it is (a row of sums does not); a row that names
// another swimmer takes the day and the pool alone.
func (a *aboveCells) enter(s *sheetFront, row csvRow) {
	at := s.section.layout.views[0].at
	own := func(column string) string {
		if i, ok := at[column]; ok && i < len(row.cells) && !slices.Contains(s.section.layout.views[0].own, i) {
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
	a.given = nil
	before, from := a.head, a.line
	take := func(columns ...string) {
		for _, column := range columns {
			if column == "distance_m" && own("length") != "" {
				continue // a length is as long as the pool
			}
			if text := before[column]; text != "" && own(column) == "" {
				if _, ok := at[column]; ok {
					if a.given == nil {
						a.given = &rowFills{texts: map[string]string{}, from: from}
					}
					a.given.texts[column] = text
					a.given.names = append(a.given.names, column)
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
	if named && a.given != nil {
		for _, column := range a.given.names {
			a.head[column] = a.given.texts[column]
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
func (s *sheetFront) statesPlace(own func(string) string) bool {
	has := false
	for _, column := range []string{"rep", "length", "set", "session"} {
		if _, ok := s.section.layout.views[0].at[column]; ok {
			has = true
			if own(column) != "" {
				return true
			}
		}
	}
	return !has && !s.section.layout.wide()
}

// of is what a row takes from above in a column, "" for nothing. A cell that holds a
// mark for nothing is not blank.
func (f *rowFills) of(r *sheetRow, column string) string {
	if f == nil {
		return ""
	}
	text := f.texts[column]
	if text == "" {
		return ""
	}
	if i := r.view.at[column]; i < len(r.row.cells) && strings.TrimSpace(r.row.cells[i]) != "" {
		return ""
	}
	return text
}

// noteFills notes what a record takes from above.
func (s *sheetPart) noteFills(r *sheetRow) {
	if f := r.fills; f != nil {
		s.noteRun(*r, RuleFromAbove, "blank cells are taken from the rows above, from line %d on: %s", f.from, listed(f.names))
	}
}

// listed writes words as a list: a, b and c.
func listed(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}
