package read

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// listReader reads one of the study's own lists: roster, assign file, notes.
// Its entries have no file id; whoever knows the file adds it.
type listReader struct {
	table   *csvTable
	kind    RecordKind
	entries []Entry
}

// openList opens a list and checks the columns that it cannot do without.
func openList(data []byte, what string, kind RecordKind, columns []string, required ...string) (*listReader, error) {
	table, err := csvOpen(data, what, "", columns, nil)
	if err != nil {
		return nil, err
	}
	for _, column := range required {
		if !table.has(column) {
			return nil, &NotTableError{What: what, Reason: "it has no column " + column}
		}
	}
	return &listReader{table: table, kind: kind}, nil
}

func (l *listReader) enter(record int64, row csvRow, rule string, action Action, column, format string, args ...any) {
	l.entries = append(l.entries, Entry{Record: record, Records: 1, Kind: l.kind, Rule: rule, Action: action,
		Detail: csvDetail(row, column, format, args...)})
}

// usable excludes rows whose cells cannot be told apart, and repeated headers.
func (l *listReader) usable(record int64, row csvRow) bool {
	switch {
	case l.table.repeatsHeader(row):
		l.enter(record, row, RuleHeaderAgain, Excluded, "", "the header stands here again")
		return false
	case l.table.overflows(row):
		l.enter(record, row, RuleTooManyCells, Excluded, "", "%d cells under %d headers; put cells that hold the separator in quotes",
			len(row.cells), len(l.table.header))
		return false
	}
	return true
}

// number reads a number that the row can do without, NaN when it is not there.
func (l *listReader) number(record int64, row csvRow, column string, low, high float64) float64 {
	cell := l.table.cell(row, column)
	if cell == "" {
		return math.NaN()
	}
	x, ok := l.table.csvNumber(cell)
	if !ok || x < low || x > high {
		l.enter(record, row, RuleUnreadable, Noted, column, "%s is no number from %g to %g; the cell is left out", csvShown(cell), low, high)
		return math.NaN()
	}
	return x
}

// choice reads one of some words; synonyms lead to them.
func (l *listReader) choice(record int64, row csvRow, column string, words map[string]string) string {
	cell := l.table.cell(row, column)
	if cell == "" {
		return ""
	}
	word, ok := words[csvWord(cell)]
	if !ok {
		known := make([]string, 0, len(words))
		for w := range words {
			known = append(known, w)
		}
		slices.Sort(known)
		l.enter(record, row, RuleUnreadable, Noted, column, "%s is not one of: %s; the cell is left out", csvShown(cell), strings.Join(known, ", "))
	}
	return word
}

// several reads a list of texts separated by semicolons.
func (l *listReader) several(row csvRow, column string) []string {
	var texts []string
	for _, part := range strings.Split(l.table.cell(row, column), ";") {
		if part = identity.Tidy(part); part != "" {
			texts = append(texts, part)
		}
	}
	return texts
}

// rosterColumns are the roster's columns.
func rosterColumns() []string {
	return []string{"swimmer", "aliases", "squad", "sex", "birth_year", "hr_rest", "hr_max", "hr_max_measured_in",
		"mass_kg", "height_cm", "arm_span_cm", "vo2_rest", "device", "rate_altering_medication", "consent"}
}

// Roster reads the roster. The members are never nil; those without a name are
// excluded by an entry, cells that cannot be read are noted and left out, and
// so are headers that are no column. Consent is given by a yes in the column
// consent and by nothing else: without the column nobody has given it. Whether
// names clash is for identity.New to see. The error is a *NotTableError.
func Roster(data []byte) ([]identity.Member, []Entry, error) {
	l, err := openList(data, "roster", KindRoster, rosterColumns(), "swimmer")
	if err != nil {
		return nil, nil, err
	}
	for _, unknown := range l.unknownColumns(rosterColumns()) {
		detail := fmt.Sprintf("header %d is no column of a roster", unknown.Position)
		if unknown.Nearest != "" {
			detail += "; the nearest is " + unknown.Nearest
		}
		l.entries = append(l.entries, Entry{Records: 1, Kind: KindRoster, Rule: RuleUnknownColumn, Action: Noted, Detail: detail})
	}
	members := []identity.Member{}
	for i, row := range l.table.rows {
		record := int64(i) + 1
		if !l.usable(record, row) {
			continue
		}
		name := identity.Tidy(l.table.cell(row, "swimmer"))
		if name == "" {
			l.enter(record, row, RuleMissingCell, Excluded, "swimmer", "the cell is empty")
			continue
		}
		m := identity.Member{
			Record: record, Line: row.line, Name: name,
			Aliases:           l.several(row, "aliases"),
			Squad:             identity.Tidy(l.table.cell(row, "squad")),
			Sex:               l.choice(record, row, "sex", map[string]string{"f": "f", "female": "f", "m": "m", "male": "m", "x": "x"}),
			HRRestBPM:         l.number(record, row, "hr_rest", 20, 130),
			HRMaxBPM:          l.number(record, row, "hr_max", 100, 250),
			HRMaxMeasuredIn:   l.choice(record, row, "hr_max_measured_in", map[string]string{"water": "water", "land": "land"}),
			MassKG:            l.number(record, row, "mass_kg", 10, 300),
			HeightCM:          l.number(record, row, "height_cm", 80, 260),
			ArmSpanCM:         l.number(record, row, "arm_span_cm", 80, 280),
			VO2RestMLPerKGMin: l.number(record, row, "vo2_rest", 1, 15),
			Devices:           l.several(row, "device"),
		}
		if year := l.number(record, row, "birth_year", 1900, 2200); year == math.Trunc(year) {
			m.BirthYear = int(year)
		}
		if m.HRRestBPM >= m.HRMaxBPM {
			l.enter(record, row, RuleUnreadable, Noted, "hr_rest", "hr_rest is not below hr_max; both are left out")
			m.HRRestBPM, m.HRMaxBPM = math.NaN(), math.NaN()
		}
		if cell := l.table.cell(row, "rate_altering_medication"); cell != "" {
			is, ok := csvYes(cell)
			if !ok {
				// Taken for a yes: the caution is the safe side.
				is = true
				l.enter(record, row, RuleUnreadable, Noted, "rate_altering_medication", "neither yes nor no; taken for yes")
			}
			m.RateAlteringMedication = &is
		}
		m.Consent = l.consent(record, row)
		members = append(members, m)
	}
	return members, l.entries, nil
}

func (l *listReader) consent(record int64, row csvRow) identity.Consent {
	cell := l.table.cell(row, "consent") // empty where there is no such column
	is, ok := csvYes(cell)
	switch {
	case is:
		return identity.ConsentYes
	case ok:
		return identity.ConsentNo
	case cell != "":
		l.enter(record, row, RuleUnreadable, Noted, "consent", "neither yes nor no; taken for no")
	}
	return identity.ConsentMissing
}

// RosterHeader is what the header of a roster says. It holds what people
// wrote, and is for the terminal alone.
type RosterHeader struct {
	Consent bool // there is a column consent
	Unknown []UnknownColumn
}

// UnknownColumn is a header that is none of our columns.
type UnknownColumn struct {
	Position int    `json:"position"` // from 1
	Header   string `json:"header"`   // as written
	Nearest  string `json:"nearest"`  // our column that it is most like and that the table does not have, "" when none is
}

// ReadRosterHeader looks at the header of a roster. The error is a
// *NotTableError.
func ReadRosterHeader(data []byte) (RosterHeader, error) {
	l, err := openList(data, "roster", KindRoster, rosterColumns(), "swimmer")
	if err != nil {
		return RosterHeader{}, err
	}
	return RosterHeader{Consent: l.table.has("consent"), Unknown: l.unknownColumns(rosterColumns())}, nil
}

// unknownColumns lists the headers that are none of the columns.
func (l *listReader) unknownColumns(columns []string) []UnknownColumn {
	var free []string
	for _, column := range columns {
		if !l.table.has(column) {
			free = append(free, column)
		}
	}
	taken := map[string]bool{}
	for _, i := range l.table.column {
		taken[csvHeader(l.table.header[i])] = true
	}
	var unknown []UnknownColumn
	for i, header := range l.table.header {
		if header = identity.Tidy(header); header != "" && !taken[csvHeader(header)] {
			unknown = append(unknown, UnknownColumn{Position: i + 1, Header: header, Nearest: nearestColumn(header, free)})
		}
	}
	return unknown
}

// nearestColumn is the column that a header holds whole ("consent given") or
// else is spelled most like, "" when it is like none.
func nearestColumn(header string, columns []string) string {
	for _, column := range columns {
		if strings.Contains(csvHeader(header), csvHeader(column)) {
			return column
		}
	}
	for _, column := range study.Nearest(header, columns, 1) {
		return column
	}
	return ""
}
