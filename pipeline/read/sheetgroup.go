package read

import (
	"math"
	"slices"
	"strconv"
	"time"
)

// sheetGroup is the rows of one swimmer, day, session and start, in order.
type sheetGroup struct {
	rows     []sheetRow
	hasStart bool
	startRow int // the row that states the start

	day    string // of the first row
	ofRows bool   // several rows state starts, each its own
}

// group takes a row into the group of its swimmer, day and session. Rows of the
// next day go on with a group that swims on past midnight.
func (s *sheetPart) group(r sheetRow) {
	if g := s.grouped; g != nil && r.sameGroup(&g.rows[len(g.rows)-1]) {
		g.rows = append(g.rows, r)
		return
	}
	key := sheetOwnerKey(r.owner, r.name) + "\x00" + r.session + "\x00"
	g := s.newest[key+r.date]
	if g == nil {
		if before := s.newest[key+dayBefore(r.date)]; before != nil && before.passesMidnight(&r) {
			g = before
		}
	}
	if g == nil {
		g = &sheetGroup{day: r.date}
		s.groups = append(s.groups, g)
	}
	s.newest[key+r.date], s.grouped = g, g
	g.rows = append(g.rows, r)
}

func dayBefore(day string) string {
	t, _ := time.Parse(time.DateOnly, day) // csvDate wrote it
	return t.AddDate(0, 0, -1).Format(time.DateOnly)
}

// passesMidnight reports whether a row of the next day may go on with the
// group: the group, by its last start and what was swum since, comes to the end
// of its day, and the row follows within a rest.
func (g *sheetGroup) passesMidnight(r *sheetRow) bool {
	end, known := time.Duration(0), false
	for i := range g.rows {
		row := &g.rows[i]
		if row.hasStart {
			end, known = row.start.clock, true
		}
		end += span(row.length.RestS) + span(row.length.DurationS)
	}
	if !known {
		return false
	}
	const day = 24 * time.Hour
	if r.hasStart {
		gap := day + r.start.clock - end
		return gap > -time.Minute && gap < longestPause
	}
	return end+span(r.length.RestS) > day-time.Minute
}

// span is a time span, none where it is not known.
func span(seconds float64) time.Duration {
	if math.IsNaN(seconds) {
		return 0
	}
	return time.Duration(seconds * float64(time.Second))
}

// longestPause is the longest pause within one visit to the pool, as far as
// starts that stand on single rows tell (common practice, no source).
const longestPause = 20 * time.Minute

// bySession parts a group whose rows state several starts. Where each start
// stands on one swim alone, starts are those of the rows, and a session is what
// follows each other within a pause; where swims share a start it is that of
// their session.
func (s *sheetPart) bySession(g *sheetGroup) []*sheetGroup {
	swims := map[time.Duration]int{}
	shared := false
	for i := range g.rows {
		r := &g.rows[i]
		if !r.hasStart {
			continue
		}
		if i > 0 && g.rows[i-1].hasStart && g.rows[i-1].start.clock == r.start.clock && r.goesOn(&g.rows[i-1]) {
			continue
		}
		swims[r.start.clock]++
		shared = shared || swims[r.start.clock] > 1
	}
	var parts []*sheetGroup
	switch {
	case len(swims) < 2:
		parts = []*sheetGroup{g}
	case shared:
		parts = g.bySharedStart()
	default:
		parts = g.byPause()
	}
	for _, part := range parts {
		part.findStart()
		if part.ofRows {
			s.note(part.rows[part.startRow], RuleStartAgain, "start", "starts differ from row to row: they are those of the rows, and the session starts with the first")
		}
	}
	return parts
}

// goesOn reports whether a row is of the same swim as the one before, as far as
// their cells say.
func (r *sheetRow) goesOn(before *sheetRow) bool {
	return r.set == before.set && r.rep == before.rep && (r.rep != "" || r.kind == KindLength && before.kind == KindLength)
}

// bySharedStart parts rows by the start that they state; a row without one goes
// on with the newest session, and the first start below such rows is theirs.
func (g *sheetGroup) bySharedStart() (parts []*sheetGroup) {
	started := map[time.Duration]*sheetGroup{}
	var newest *sheetGroup
	for _, r := range g.rows {
		part := newest
		if r.hasStart {
			part = started[r.start.clock]
			if part == nil && newest != nil && !newest.hasStart {
				part = newest
			}
		}
		if part == nil {
			part = &sheetGroup{day: g.day}
			parts, newest = append(parts, part), part
		}
		if r.hasStart {
			part.hasStart, started[r.start.clock] = true, part
		}
		part.rows = append(part.rows, r)
	}
	return parts
}

// byPause parts rows whose starts are their own. A start more than half a day
// before the swim above it is one past midnight.
func (g *sheetGroup) byPause() (parts []*sheetGroup) {
	var now *sheetGroup
	end, stated := time.Duration(0), false
	for _, r := range g.rows {
		if r.hasStart {
			r.rowStart = r.start.clock
			if stated && r.rowStart < end-12*time.Hour {
				r.rowStart += 24 * time.Hour
			}
			if stated && (r.rowStart-end).Abs() > longestPause {
				now, r.rowStart = nil, r.start.clock
			}
			end = r.rowStart
		} else {
			end += span(r.length.RestS)
		}
		end += span(r.length.DurationS)
		if now == nil {
			now, stated = &sheetGroup{day: g.day}, false
			parts = append(parts, now)
		}
		now.ofRows = now.ofRows || stated && r.hasStart
		stated = stated || r.hasStart
		now.rows = append(now.rows, r)
	}
	return parts
}

// findStart finds the row that states the group's start.
func (g *sheetGroup) findStart() {
	for i := range g.rows {
		if g.rows[i].hasStart {
			g.hasStart, g.startRow = true, i
			return
		}
	}
}

// recording makes a group's recording; false when no row of it is used.
func (s *sheetPart) recording(g *sheetGroup) (Recording, bool) {
	first := g.rows[0]
	rec := Recording{
		FileID: s.src.FileID, Kind: FromSheet, Swimmer: first.owner.Swimmer, Refused: first.owner.Refused,
		LocalDate: g.day, Zone: s.zone, PoolM: math.NaN(), Basis: s.src.basis(), Content: s.src.Content,
	}
	if g.hasStart {
		rec.Start = s.start(g.rows[g.startRow])
	}
	exact := g.ofRows && slices.ContainsFunc(g.rows, func(r sheetRow) bool { return r.start.seconds })
	clock := sheetClock{sure: true}
	rec.Lengths = make([]Length, 0, len(g.rows))
	for i := range g.rows {
		r := &g.rows[i]
		if i > 0 && s.lostBetween(g.rows[i-1].record, r.record) {
			clock.sure = false
		}
		if exact && r.hasStart && clock.starts(r) {
			clock.set(r.rowStart - g.rows[g.startRow].rowStart)
		}
		if clock.untouched() && r.length.RestS > 0 { // who writes rests after a swim shows here
			if !r.excluded {
				s.note(*r, RuleFirstRest, "rest", "rest is the rest before the row's swim; nothing was swum before this one, so that it is not used")
			}
			r.length.RestS = math.NaN()
		}
		if r.excluded {
			clock.pass(r)
			continue
		}
		l := r.length
		l.Swim = clock.swim(r)
		l.Set = r.set
		l.Rep, _ = strconv.Atoi(r.rep)
		l.StartS = clock.start(r)
		if math.IsNaN(rec.PoolM) {
			rec.PoolM = l.PoolM
		}
		if l.PoolM == rec.PoolM {
			l.PoolM = math.NaN()
		}
		rec.Lengths = append(rec.Lengths, l)
		clock.last = r
	}
	rec.HRSource = s.hrSource(rec.Lengths)
	return rec, len(rec.Lengths) > 0
}

// lostBetween reports whether a row that may belong to any group stands between
// two rows.
func (s *sheetPart) lostBetween(from, to int64) bool {
	k, _ := slices.BinarySearch(s.lost, from)
	return k < len(s.lost) && s.lost[k] < to
}

// start is the instant of a row's start, with a note where the clocks changed.
func (s *sheetPart) start(r sheetRow) time.Time {
	day, _ := time.Parse(time.DateOnly, r.date) // csvDate wrote it
	local := day.Add(r.start.clock)
	if r.start.zone != nil {
		at := local.Add(-offsetOf(r.start.zone, local))
		if offsetOf(s.zone, at) != offsetOf(r.start.zone, at) {
			s.note(r, "zone-differs", "start", "the start states another zone's time than the file's; the stated one is taken")
		}
		return at.UTC()
	}
	at, _, fit := sheetInstant(local, s.zone)
	switch fit {
	case clockGap:
		s.note(r, RuleClockChange, "start", "the clocks went forward over this time; it is counted on from before")
	case clockRepeat:
		s.note(r, RuleClockChange, "start", "the clocks went back over this time; the first of the two is taken")
	}
	return at.UTC()
}

// hrSource is the input's, else the one that all readings share.
func (s *sheetPart) hrSource(lengths []Length) string {
	if s.src.Input.HRSource != "" {
		return s.src.Input.HRSource
	}
	source := ""
	for _, l := range lengths {
		if math.IsNaN(l.End.HRBPM) {
			continue
		}
		if l.End.Source == "" || source != "" && source != l.End.Source {
			return "unknown"
		}
		source = l.End.Source
	}
	if source == "" {
		return "unknown"
	}
	return source
}

// sheetClock follows a session from row to row.
type sheetClock struct {
	end   float64 // of the row before
	sure  bool    // every time and rest so far is known
	known bool    // the row at hand states its own start, and end is that
	swims int
	last  *sheetRow // the last row that is used
}

// untouched reports whether nothing has been swum yet.
func (c *sheetClock) untouched() bool { return !c.known && c.sure && c.last == nil && c.end == 0 }

// swim numbers a row's swim. A new one starts with a rest, another set or
// repeat, a row that covers a repeat and does not say which, or a length whose
// number does not go up.
func (c *sheetClock) swim(r *sheetRow) int {
	if c.starts(r) {
		c.swims++
	}
	return c.swims
}

func (c *sheetClock) starts(r *sheetRow) bool {
	switch {
	case c.last == nil, r.length.RestS > 0, r.set != c.last.set, r.rep != c.last.rep:
		return true
	case r.rep != "":
		return false
	case r.kind == KindRepeat || c.last.kind == KindRepeat:
		return true
	}
	return r.number <= c.last.number
}

// set puts the clock to where a row's own start says.
func (c *sheetClock) set(at time.Duration) {
	if s := at.Seconds(); s >= 0 {
		c.end, c.sure, c.known = s, true, true
	}
}

// start gives a row's start and moves on to its end.
func (c *sheetClock) start(r *sheetRow) float64 {
	if c.last != nil && math.IsNaN(r.length.RestS) && c.starts(r) && !c.known {
		c.sure = false
	}
	c.pass(r)
	if !c.sure {
		return math.NaN()
	}
	return c.end - r.length.DurationS
}

// pass moves on past a row, used or not.
func (c *sheetClock) pass(r *sheetRow) {
	if r.length.RestS > 0 && !c.known {
		c.end += r.length.RestS
	}
	c.known = false
	if math.IsNaN(r.length.DurationS) {
		c.sure = false
		return
	}
	c.end += r.length.DurationS
}
