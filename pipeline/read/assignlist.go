package read

import (
	"strings"

	"lengthwise/pipeline/identity"
)

// Assignments reads the assign file: file, a path from the study's folder in
// which * and ? work as in inputs, and swimmer. Rows without a file are
// excluded by an entry; so are rows without a swimmer, which are still to be
// completed. The error is a *NotTableError.
func Assignments(data []byte) ([]identity.Assignment, []Entry, error) {
	l, err := openList(data, "assign file", KindAssign, []string{"file", "swimmer"}, "file", "swimmer")
	if err != nil {
		return nil, nil, err
	}
	var list []identity.Assignment
	for i, row := range l.table.rows {
		record := int64(i) + 1
		if !l.usable(record, row) {
			continue
		}
		file, name := l.table.cell(row, "file"), identity.Tidy(l.table.cell(row, "swimmer"))
		switch {
		case file == "":
			l.enter(record, row, RuleMissingCell, Excluded, "file", "the cell is empty")
		case name == "":
			l.enter(record, row, RuleMissingCell, Excluded, "swimmer", "the row is still to be completed")
		default:
			// People on Windows copy paths as that system writes them.
			list = append(list, identity.Assignment{Record: record, File: strings.ReplaceAll(file, `\`, "/"), Name: name})
		}
	}
	return list, l.entries, nil
}
