package read

import (
	"math"
	"slices"
	"time"
)

// sheetGroup is the rows of one swimmer, day, session and start, in order.
type sheetGroup struct {
	rows     []sheetRow
	start    time.Duration
	hasStart bool
	startRow int // the row that states the start
}

// group takes a row into its group. A session whose rows state two starts is
// two; a row without a start joins the newest group of its swimmer, day and
// session, for the start is often written on the first row alone.
func (s *sheetReader) group(r sheetRow) {
	key := sheetOwnerKey(r.owner, r.name) + "\x00" + r.date + "\x00" + r.session
	g := s.newest[key]
	if r.hasStart {
		g = s.started[sheetStart{key, r.start}]
		if newest := s.newest[key]; g == nil && newest != nil && !newest.hasStart {
			g = newest
		}
	}
	if g == nil {
		g = &sheetGroup{}
		s.groups = append(s.groups, g)
		s.newest[key] = g
	}
	if r.hasStart && !g.hasStart {
		g.start, g.hasStart, g.startRow = r.start, true, len(g.rows)
		s.started[sheetStart{key, r.start}] = g
	}
	g.rows = append(g.rows, r)
}

// sheetStart is a group's key and start.
type sheetStart struct {
	key   string
	start time.Duration
}

// build turns groups into recordings.
func (s *sheetReader) build() {
	for _, g := range s.groups {
		s.markTotals(g)
		if rec, ok := s.recording(g); ok {
			rec.Part = len(s.file.Recordings) + 1
			s.file.Recordings = append(s.file.Recordings, rec)
		}
	}
}

// markTotals excludes rows that cover a repeat whose lengths have rows of their
// own: rows of the same set and repeat, or just before or after it with the
// same time in all. Lengths have one totals row: a repeat that took as long as
// its neighbour is none.
func (s *sheetReader) markTotals(g *sheetGroup) {
	type repeat struct{ set, rep string }
	lengths := map[repeat]bool{}
	whole := map[repeat]bool{} // repeats with a row that covers them
	for _, r := range g.rows {
		switch {
		case r.rep == "":
		case r.kind == KindLength:
			lengths[repeat{r.set, r.rep}] = true
		case !r.excluded:
			whole[repeat{r.set, r.rep}] = true
		}
	}
	summed := make([]bool, len(g.rows))
	for i, r := range g.rows {
		summed[i] = r.kind == KindLength && whole[repeat{r.set, r.rep}]
	}
	for i := range g.rows {
		r := &g.rows[i]
		if r.kind != KindRepeat || r.excluded {
			continue
		}
		if lengths[repeat{r.set, r.rep}] || g.sums(i, i-r.length.Covers, summed) || g.sums(i, i+1, summed) {
			r.excluded = true
			s.exclude(*r, RuleTotalsRow, "", "the lengths of this repeat have rows of their own; what else stands here is not used")
			r.length.DurationS, r.length.RestS = 0, 0 // the lengths move the clock
		}
	}
}

// sums reports whether the lengths in rows from on, which no other row sums
// up and which state no other set or repeat, add up to row i, which covers
// several. Those lengths are then summed.
func (g *sheetGroup) sums(i, from int, summed []bool) bool {
	whole := g.rows[i]
	covers := whole.length.Covers
	if covers < 2 || from < 0 || from+covers > len(g.rows) {
		return false
	}
	other := func(a, b string) bool { return a != "" && b != "" && a != b }
	total := 0.0
	for k := from; k < from+covers; k++ {
		r := &g.rows[k]
		if r.kind != KindLength || summed[k] || other(r.set, whole.set) || other(r.rep, whole.rep) {
			return false
		}
		total += r.length.DurationS
	}
	if !(math.Abs(total-whole.length.DurationS) <= math.Max(0.5, 0.005*whole.length.DurationS)) {
		return false
	}
	for k := from; k < from+covers; k++ {
		summed[k] = true
	}
	return true
}

// recording makes a group's recording; false when no row of it is used.
func (s *sheetReader) recording(g *sheetGroup) (Recording, bool) {
	first := g.rows[0]
	rec := Recording{
		FileID: s.src.FileID, Kind: FromSheet, Swimmer: first.owner.Swimmer, Refused: first.owner.Refused,
		LocalDate: first.date, Zone: s.zone, PoolM: math.NaN(), Basis: s.src.basis(), Content: s.src.Content,
	}
	if g.hasStart {
		rec.Start = s.start(g.rows[g.startRow])
	}
	clock := sheetClock{sure: true}
	for i := range g.rows {
		r := &g.rows[i]
		if i > 0 && s.lostBetween(g.rows[i-1].record, r.record) {
			clock.sure = false
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
func (s *sheetReader) lostBetween(from, to int64) bool {
	k, _ := slices.BinarySearch(s.lost, from)
	return k < len(s.lost) && s.lost[k] < to
}

// start is the instant of a row's start, with a note where the clocks changed.
func (s *sheetReader) start(r sheetRow) time.Time {
	day, _ := time.Parse(time.DateOnly, r.date) // csvDate wrote it
	at, _, fit := sheetInstant(day.Add(r.start), s.zone)
	switch fit {
	case clockGap:
		s.note(r, RuleClockChange, "start", "the clocks went forward over this time; it is counted on from before")
	case clockRepeat:
		s.note(r, RuleClockChange, "start", "the clocks went back over this time; the first of the two is taken")
	}
	return at.UTC()
}

// hrSource is the input's, else the one that all readings share.
func (s *sheetReader) hrSource(lengths []Length) string {
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
	swims int
	last  *sheetRow // the last row that is used
}

// untouched reports whether nothing has been swum yet.
func (c *sheetClock) untouched() bool { return c.sure && c.last == nil && c.end == 0 }

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

// start gives a row's start and moves on to its end.
func (c *sheetClock) start(r *sheetRow) float64 {
	if c.last != nil && math.IsNaN(r.length.RestS) && c.starts(r) {
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
	if r.length.RestS > 0 {
		c.end += r.length.RestS
	}
	if math.IsNaN(r.length.DurationS) {
		c.sure = false
		return
	}
	c.end += r.length.DurationS
}
