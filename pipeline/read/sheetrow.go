package read

import (
	"math"
	"slices"
	"strings"
	"time"

	"lengthwise/pipeline/identity"
)

// sheetRow is one record of a lane sheet as read: a row, or one repeat of a
// wide row.
type sheetRow struct {
	record    int64
	section   *sheetSection
	fills     *rowFills
	row       csvRow
	view      *sheetView
	opens     bool // wide: the first repeat of its row that is filled
	closes    bool // wide: the last one
	follows   bool // wide: the repeat before it is filled too
	kind      RecordKind
	named     int // of the names of the sheet
	name      string
	owner     identity.Owner
	date      string // "" when it cannot be read
	start     clockReading
	hasStart  bool
	rowStart  time.Duration // where starts are those of rows
	filled    bool          // cells are taken from the rows above
	restSlips bool          // its rest may be minutes that a spreadsheet took for hours
	session   string
	set, rep  string
	number    int // of the length within its repeat, 0 on a row that is none
	length    Length
	counted   counted
	excluded  bool // it has its entry; it only moves the clock
}

// parse reads a row's cells. A row that cannot be used is excluded here.
func (s *sheetPart) parse(r *sheetRow) {
	cell := func(name string) string { return r.cell(name) }
	refuse := func(rule, column, format string, args ...any) {
		if !r.excluded {
			s.exclude(*r, rule, column, format, args...)
		}
		r.excluded = true
	}
	missing := func(column string) { refuse(RuleMissingCell, column, "the cell is empty") }

	r.filled = r.fills != nil
	s.noteFills(r)
	if text := cell("date"); text == "" {
		missing("date")
	} else if d := s.memory.date(text, s.dates); d.day == "" {
		refuse(RuleUnreadable, "date", "%s", d.why)
	} else {
		r.date = d.day
		if d.timed && d.clock > 0 && cell("start") == "" {
			r.start, r.hasStart = clockReading{clock: d.clock, seconds: d.clock%time.Minute != 0}, true
		}
		if d.serial {
			s.noteRun(*r, RuleDayNumber, "the date is a day number, read as spreadsheets count them from 30 December 1899")
		}
	}
	r.session, r.set, r.rep = cell("session"), cell("set"), cell("rep")
	s.parseStart(r)

	l := Length{Record: r.record, Kind: r.kind, Lap: -1, Covers: 1, StartS: math.NaN(), DurationS: math.NaN(), PoolM: math.NaN()}
	s.parsePool(r, &l, refuse)
	s.parseDistance(r, &l, refuse)
	if text := cell("time"); text == "" {
		missing("time")
	} else {
		metres := l.PoolM * float64(l.Covers)
		if l.Kind == KindRepeat && r.excluded {
			metres = math.NaN() // its distance may be what cannot be read
		}
		seconds, said, why := s.table.swimSeconds(text, metres)
		if why != "" {
			refuse(RuleUnreadable, "time", "%s", why)
		} else {
			l.DurationS = seconds
		}
		if said != "" && !r.excluded {
			s.note(*r, RuleTimeUnit, "time", "%s", said)
			s.signs.slipped = s.signs.slipped || strings.Contains(text, ":")
		}
	}
	l.RestS = s.parseRest(r)
	s.parseStrokes(r, &l)
	s.parseStroke(r, &l)
	s.parseTags(r, &l)
	r.length = l
}

// parseStart reads the row's start. A date in it must be the row's.
func (s *sheetPart) parseStart(r *sheetRow) {
	text := r.cell("start")
	if text == "" {
		return
	}
	start, ok := s.memory.start(text)
	switch {
	case !ok:
		s.note(*r, RuleUnreadable, "start", "%s is no time of day; write it as 18:30", csvShown(text))
	case start.day != "" && r.date != "" && start.day != r.date:
		s.note(*r, RuleUnreadable, "start", "the start is of another day than the date; the cell is left out")
	default:
		r.start, r.hasStart = start, true
	}
}

// parseRest reads the rest before a row. In a wide row a rest that stands once
// is that between its repeats, or that before its first length.
func (s *sheetPart) parseRest(r *sheetRow) float64 {
	text := r.cell("rest")
	if i, ok := r.view.at["rest"]; ok && r.view.group != "" && !slices.Contains(r.view.own, i) {
		switch r.view.group {
		case byLength:
			if !r.opens {
				return math.NaN()
			}
		case byRep, bySet:
			if !r.follows {
				return math.NaN()
			}
		}
	}
	if text == "" {
		return math.NaN()
	}
	seconds, said, slips, ok := s.table.restSeconds(text)
	if r.restSlips = slips; !ok && !slips {
		s.note(*r, RuleUnreadable, "rest", "%s is no rest; write seconds or m:ss, and no departure times; the cell is left out", csvShown(text))
		return math.NaN()
	}
	if said != "" {
		s.note(*r, RuleTimeUnit, "rest", "%s", said)
	}
	return seconds
}

// unslipRests reads rests like 0:20:00 as minutes, seconds and hundredths where
// times of the sheet can only be such: who types 1:05 and 0:20 into one sheet
// gets hours and minutes for both.
func (s *sheetPart) unslipRests() {
	for _, g := range s.groups {
		for i := range g.rows {
			if r := &g.rows[i]; r.restSlips {
				d, _ := s.table.parseSeconds(r.ownCell("rest"))
				r.length.RestS = d.other
				s.note(*r, RuleTimeUnit, "rest", "read as %s, as times of the sheet can only be: %s", d.pairsInWords(), secondsInWords(d.other))
			}
		}
	}
}

// isTotals looks for a row that sums others up: the word stands where a number
// or name should, or begins the row. A swimmer of that name has a date.
func (s *sheetFront) isTotals(row csvRow) bool {
	at := s.section.layout.views[0].at
	text := func(column string) string {
		if i, ok := at[column]; ok && i < len(row.cells) {
			return csvText(row.cells[i])
		}
		return ""
	}
	for _, column := range []string{"session", "set", "rep", "length", "distance_m", "date"} {
		if s.memory.isTotalWord(text(column)) {
			return true
		}
	}
	swimmer, named := at["swimmer"]
	for i, cell := range row.cells {
		cell = strings.TrimSpace(cell)
		if cell == "" {
			continue
		}
		if named && i == swimmer && text("date") != "" {
			return false
		}
		if strings.ContainsAny(cell, "\u2211\u03a3\u00d8\u2300") && len([]rune(cell)) <= 2 {
			return true
		}
		word, rest, _ := strings.Cut(plainWord(cell), " ")
		word, _, _ = strings.Cut(word, ":")
		return totalWords[word] && (rest == "" || i != swimmer || !named || text("date") == "")
	}
	return false
}

type refusal func(rule, column, format string, args ...any)

// parseStroke reads the stroke by its name or usual short form.
func (s *sheetPart) parseStroke(r *sheetRow, l *Length) {
	l.Stroke = "unknown"
	cell := r.cell("stroke")
	if cell == "" {
		return
	}
	switch stroke := s.memory.stroke(cell); stroke {
	case "":
		s.note(*r, RuleUnreadable, "stroke", "%s is no stroke we know, such as freestyle", csvShown(cell))
	case "drill":
		l.Drill = true
	default:
		l.Stroke = stroke
	}
}
