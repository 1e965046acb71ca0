package read

import (
	"math"
	"slices"
	"strings"
	"time"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// sheetRow is one row of a lane sheet as read.
type sheetRow struct {
	record   int64
	row      csvRow
	kind     RecordKind
	name     string
	owner    identity.Owner
	date     string // "" when it cannot be read
	start    time.Duration
	hasStart bool
	session  string
	set, rep string
	number   int // of the length within its repeat, 0 on a row that is none
	length   Length
	excluded bool // it has its entry; it only moves the clock
}

// parse reads a row's cells. A row that cannot be used is excluded here.
func (s *sheetReader) parse(r *sheetRow) {
	cell := func(name string) string { return s.table.cell(r.row, name) }
	r.name = cell("swimmer")
	r.owner = s.names.owner(r.name)
	refuse := func(rule, column, format string, args ...any) {
		if !r.excluded {
			s.exclude(*r, rule, column, format, args...)
		}
		r.excluded = true
	}
	missing := func(column string) { refuse(RuleMissingCell, column, "the cell is empty") }

	if day, ok := csvDate(cell("date")); ok {
		r.date = day
	} else if cell("date") == "" {
		missing("date")
	} else {
		refuse(RuleUnreadable, "date", "%s is no date; write it as 2026-03-02", csvShown(cell("date")))
	}
	r.session, r.set, r.rep = cell("session"), cell("set"), cell("rep")
	if start := cell("start"); start != "" {
		if r.start, r.hasStart = sheetTimeOfDay(start); !r.hasStart {
			s.note(*r, RuleUnreadable, "start", "%s is no time of day; write it as 18:30", csvShown(start))
		}
	}

	l := Length{Record: r.record, Kind: r.kind, Lap: -1, Covers: 1, StartS: math.NaN(), DurationS: math.NaN(), PoolM: math.NaN()}
	l.RestS = s.optional(r, "rest", 0, longestSeconds, s.table.csvSeconds)
	if text := cell("time"); text == "" {
		missing("time")
	} else if seconds, ok := s.table.csvSeconds(text); !ok || seconds == 0 {
		refuse(RuleUnreadable, "time", "%s is no time; write seconds or m:ss.s", csvShown(text))
	} else if seconds < shortestTimeS {
		refuse(RuleUnreadable, "time", "%s s is too short; if it is a share of a day, write seconds or m:ss.s", csvShown(text))
	} else {
		l.DurationS = seconds
	}
	s.parsePool(r, &l, refuse)
	s.parseDistance(r, &l, refuse)
	s.parseStrokes(r, &l, refuse)
	s.parseStroke(r, &l)
	s.parseTags(r, &l)
	r.length = l
}

// shortestTimeS is below any time that a person swims: what is shorter was
// written in another unit.
const shortestTimeS = 0.1

// isTotals looks for a row that sums others: the word stands where a number or
// name should. A swimmer of that name has a date.
func (s *sheetReader) isTotals(row csvRow) bool {
	for _, column := range []string{"session", "set", "rep", "length", "distance_m", "date", "swimmer"} {
		if column == "swimmer" && s.table.cell(row, "date") != "" {
			continue
		}
		switch csvWord(s.table.cell(row, column)) {
		case "total", "totals", "subtotal", "sum", "mean", "average":
			return true
		}
	}
	return false
}

type refusal func(rule, column, format string, args ...any)

func (s *sheetReader) parsePool(r *sheetRow, l *Length, refuse refusal) {
	cell := s.table.cell(r.row, "pool")
	if cell == "" {
		if l.PoolM = s.src.Input.PoolM; l.PoolM == 0 {
			l.PoolM = math.NaN()
			refuse(RuleMissingCell, "pool", "the cell is empty")
		}
		return
	}
	metres, err := study.ParsePool(cell)
	if err != nil {
		refuse(RuleUnreadable, "pool", "%v", err)
		return
	}
	l.PoolM = metres
}

// parseDistance reads length and distance_m and how many pool lengths the row
// covers.
func (s *sheetReader) parseDistance(r *sheetRow, l *Length, refuse refusal) {
	length, distance := s.table.cell(r.row, "length"), s.table.cell(r.row, "distance_m")
	metres, isNumber := s.table.csvNumber(distance)
	if length != "" {
		number, ok := s.table.csvWhole(length)
		if !ok || number < 1 {
			refuse(RuleUnreadable, "length", "%s is no number of a length from 1", csvShown(length))
			return
		}
		r.number = number
		if isNumber && !math.IsNaN(l.PoolM) && math.Abs(metres-l.PoolM) > distanceSlack(metres) && !r.excluded && !s.distanceNoted {
			s.distanceNoted = true
			s.note(*r, RuleDistance, "distance_m", "a row of one length states another distance than the pool's; here and below it is not used")
		}
		return
	}
	switch {
	case distance == "":
		refuse(RuleMissingCell, "distance_m", "neither length nor distance_m is given")
	case !isNumber || metres <= 0:
		refuse(RuleUnreadable, "distance_m", "%s is no distance in metres", csvShown(distance))
	case !math.IsNaN(l.PoolM):
		lengths := math.Round(metres / l.PoolM)
		if lengths < 1 || lengths > mostLengths || math.Abs(metres-lengths*l.PoolM) > distanceSlack(metres) {
			refuse(RuleNotWhole, "distance_m", "%s m is no whole number of lengths of %.2f m; distances are in metres, in a yards pool too",
				csvShown(distance), l.PoolM)
			return
		}
		l.Covers = int(lengths)
	}
}

// mostLengths bounds the lengths of one row.
const mostLengths = 2000

// distanceSlack is how far a written distance may lie from the pool lengths it
// stands for: a quarter of a metre and a thousandth, so that 66 or 67 m of a
// pool of a third of 100 m, and 366 m for 400 yards, are taken.
func distanceSlack(metres float64) float64 { return 0.35 + 0.001*metres }

// parseStrokes reads the count and its basis. An empty count is a row whose
// strokes nobody counted.
func (s *sheetReader) parseStrokes(r *sheetRow, l *Length, refuse refusal) {
	basis, mean, ok := sheetCount(s.table.cell(r.row, "count"))
	if !ok {
		s.note(*r, RuleUnreadable, "count", "%s is not one of: arms, cycles, per-length; the basis of this row is unknown",
			csvShown(s.table.cell(r.row, "count")))
	}
	l.Basis = basis
	l.Strokes = math.NaN()
	cell := s.table.cell(r.row, "strokes")
	if cell == "" {
		return
	}
	strokes, ok := s.table.csvNumber(cell)
	if !ok || strokes < 0 || strokes > mostLengths*100 {
		refuse(RuleUnreadable, "strokes", "%s is no count of strokes", csvShown(cell))
		return
	}
	if mean {
		strokes *= float64(l.Covers)
	}
	l.Strokes = strokes
}

// sheetCount reads the count column: what counts as a stroke, and whether the
// number is the mean of a length. Both may stand together, as in "cycles,
// per-length".
func sheetCount(cell string) (basis study.CountBasis, mean, ok bool) {
	word := strings.ReplaceAll(csvWord(cell), "per-length", "perlength")
	for _, token := range strings.FieldsFunc(word, func(c rune) bool { return strings.ContainsRune("-,;+/", c) }) {
		stated := study.CountBasis(token)
		switch {
		case token == "perlength":
			mean = true
		case (stated == study.Arms || stated == study.Cycles) && (basis == "" || basis == stated):
			basis = stated
		default:
			return study.UnknownBasis, mean, false
		}
	}
	return basis, mean, true
}

// parseStroke reads the stroke by its name or usual short form.
func (s *sheetReader) parseStroke(r *sheetRow, l *Length) {
	l.Stroke = "unknown"
	cell := s.table.cell(r.row, "stroke")
	switch csvWord(cell) {
	case "":
	case "freestyle", "free", "front-crawl", "crawl", "fr", "fc":
		l.Stroke = "freestyle"
	case "backstroke", "back", "bk", "ba":
		l.Stroke = "backstroke"
	case "breaststroke", "breast", "br":
		l.Stroke = "breaststroke"
	case "butterfly", "fly", "bu", "bf":
		l.Stroke = "butterfly"
	case "mixed":
		l.Stroke = "mixed"
	case "medley", "individual-medley", "im":
		l.Stroke = "medley"
	case "drill", "kick":
		l.Drill = true
	default:
		s.note(*r, RuleUnreadable, "stroke", "%s is no stroke we know, such as freestyle", csvShown(cell))
	}
}

// parseTags reads what was noted or set for the row.
func (s *sheetReader) parseTags(r *sheetRow, l *Length) {
	number := func(column string, low, high float64) float64 {
		return s.optional(r, column, low, high, s.table.csvNumber)
	}
	// The limits are wide: beyond them a value is a slip (common practice, no
	// source). Borg's CR10 scale runs from 0 past 10.
	l.WallTimeS = number("wall_time", 0, 30)
	l.End = Reading{
		HRBPM:  number("hr", 1, 400),
		Source: s.choice(r, "hr_source", "strap", "optical", "palpated"),
		DelayS: number("hr_delay", 0, 600),
	}
	l.Tags = Tags{
		Instruction:   s.choice(r, "instruction", "usual", "fewest-strokes", "quicker-rate"),
		RateTargetSPM: number("rate_target", 5, 200),
		Breathing:     number("breathing", 0.5, 30),
		Kick:          s.choice(r, "kick", "none", "light", "full"),
		Equipment:     strings.ToLower(identity.Tidy(s.table.cell(r.row, "equipment"))),
		RPE:           number("rpe", 0, 12),
		LactateMMOL:   number("lactate", 0, 40),
		LactateBefore: number("lactate_before", 0, 40),
		VO2:           number("vo2", 0, 120),
	}
}

// optional reads a number that a row can do without: NaN when the cell is
// empty, and with a note when it cannot be read.
func (s *sheetReader) optional(r *sheetRow, column string, low, high float64, parse func(string) (float64, bool)) float64 {
	cell := s.table.cell(r.row, column)
	if cell == "" {
		return math.NaN()
	}
	x, ok := parse(cell)
	if !ok || x < low || x > high {
		s.note(*r, RuleUnreadable, column, "%s is no number from %g to %g; the cell is left out", csvShown(cell), low, high)
		return math.NaN()
	}
	return x
}

// choice reads one of the given words, "" when the cell is empty, and with a
// note when it is none of them.
func (s *sheetReader) choice(r *sheetRow, column string, words ...string) string {
	cell := s.table.cell(r.row, column)
	if cell == "" {
		return ""
	}
	if word := csvWord(cell); slices.Contains(words, word) {
		return word
	}
	s.note(*r, RuleUnreadable, column, "%s is not one of: %s; the cell is left out", csvShown(cell), strings.Join(words, ", "))
	return ""
}
