package read

import (
	"math"
	"strings"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// Notes reads the notes file: swimmer, date, rep_from, rep_to, key, value.
// Without rep_from and rep_to a note holds for all swims of the day; with
// rep_from alone for that one. Keys are in lower case with underscores. Rows
// that cannot be read, and those of swimmers who are refused, are excluded by
// an entry. The error is a *NotTableError.
func Notes(data []byte, owner func(name string) identity.Owner) ([]Note, []Entry, error) {
	columns := []string{"swimmer", "date", "rep_from", "rep_to", "key", "value"}
	l, err := openList(data, "notes file", KindNote, columns, "swimmer", "date", "key", "value")
	if err != nil {
		return nil, nil, err
	}
	names := newSheetNames(SheetSource{Owner: owner})
	var dates []string
	for _, row := range l.table.rows {
		dates = append(dates, l.table.cell(row, "date"))
	}
	order := dateOrderOf(dates)
	var notes []Note
	for i, row := range l.table.rows {
		record := int64(i) + 1
		if !l.usable(record, row) {
			continue
		}
		who := names.owner(l.table.cell(row, "swimmer"))
		if note, ok := l.note(record, row, who, order); ok {
			notes = append(notes, note)
		}
		// The entries of this row get their swimmer.
		for k := len(l.entries) - 1; k >= 0 && l.entries[k].Record == record; k-- {
			l.entries[k].Swimmer = who.Swimmer
		}
	}
	return notes, l.entries, nil
}

// note reads one row.
func (l *listReader) note(record int64, row csvRow, who identity.Owner, order study.DateOrder) (Note, bool) {
	if who.Refused != "" {
		l.enter(record, row, who.Refused, Excluded, "", "the row's swimmer is not used")
		return Note{}, false
	}
	n := Note{Record: record, Swimmer: who.Swimmer}
	day := csvDate(l.table.cell(row, "date"), order)
	if day.day == "" {
		l.enter(record, row, RuleUnreadable, Excluded, "date", "%s", strings.ReplaceAll(day.why, orderAdvice, ""))
		return Note{}, false
	}
	n.LocalDate = day.day
	for _, end := range []struct {
		column string
		into   *int
	}{{"rep_from", &n.RepFrom}, {"rep_to", &n.RepTo}} {
		x := 0.0
		if cell := l.table.cell(row, end.column); cell != "" {
			var ok bool
			if x, ok = l.table.csvNumber(cell); !ok || x < 0 || x > 1e6 || x != math.Trunc(x) {
				l.enter(record, row, RuleUnreadable, Excluded, end.column, "%s is no number of a swim from 1", csvShown(cell))
				return Note{}, false
			}
		}
		*end.into = int(x)
	}
	if n.RepFrom > 0 && n.RepTo == 0 {
		n.RepTo = n.RepFrom
	}
	if n.RepFrom > n.RepTo || n.RepFrom == 0 && n.RepTo > 0 {
		l.enter(record, row, RuleUnreadable, Excluded, "rep_to", "swims %d to %d are no range", n.RepFrom, n.RepTo)
		return Note{}, false
	}
	n.Key = strings.ReplaceAll(csvWord(l.table.cell(row, "key")), "-", "_")
	n.Value = l.table.cell(row, "value")
	if n.Key == "" || n.Value == "" {
		l.enter(record, row, RuleMissingCell, Excluded, "", "key or value is empty")
		return Note{}, false
	}
	return n, true
}
