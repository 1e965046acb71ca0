package read

import (
	"cmp"
	"math"
	"slices"
)

// assignLengths gives laps and lengths their session: the only one of their
// group, or the one that activityPlaces finds. A length message that is there
// twice counts once.
func (b *activityBuilder) assignLengths() {
	b.dropRepeats()
	places := make([]activityPlaces, len(b.c.groups))
	for i := range b.sessions {
		p := &places[b.sessions[i].group]
		p.swims = append(p.swims, &b.sessions[i])
	}
	for i := range b.c.lengths {
		if l := &b.c.lengths[i]; l.fate == activityUndecided {
			places[l.group].learn(l)
		}
	}
	for i := range b.c.laps {
		l := &b.c.laps[i]
		if s := places[l.group].of(l.at, l.start, l.durationS); s != nil {
			s.lapAt = append(s.lapAt, i)
		}
	}
	for i := range b.c.lengths {
		l := &b.c.lengths[i]
		if l.fate != activityUndecided { // its message said too little, or was there before
			continue
		}
		l.fate = activityUsed
		s := places[l.group].of(l.at, l.start, l.durationS) // findSwims gave every group with lengths one
		s.lengths = append(s.lengths, i)
	}
	for i := range b.sessions {
		s := &b.sessions[i]
		b.orderLengths(s, len(places[s.group].swims) == 1)
		activityByStart(s.lapAt, func(at int) (float64, uint32) { return b.c.laps[at].start, fitNone })
	}
}

// dropRepeats excludes length messages that have the number, start, duration
// and type of one before them.
func (b *activityBuilder) dropRepeats() {
	type key struct {
		group            int
		index            uint32
		start, durationS float64
		rest             bool
	}
	seen := make(map[key]bool, len(b.c.lengths))
	fate := activityUndecided
	for i := range b.c.lengths {
		l := &b.c.lengths[i]
		if l.fate != activityUndecided || l.index == fitNone || math.IsNaN(l.start) {
			continue
		}
		k := key{l.group, l.index, l.start, l.durationS, l.rest}
		if math.IsNaN(k.durationS) {
			k.durationS = -1
		}
		if !seen[k] {
			seen[k] = true
			continue
		}
		if fate == activityUndecided {
			fate = b.fate("length-twice", "a length of the same number, start and duration is there before: it counts once")
		}
		l.fate = fate
	}
}

// activityPlaces finds the session of a lap or length among those of its
// group: by time; else by its place in the file, where the summaries stand
// between the lengths; else the session that began last before it; else that
// of the lengths beside it in the file.
type activityPlaces struct {
	swims []*activitySwim // in order of the file

	// Of the lengths whose time tells their session: their place in the file,
	// and whether every summary comes after its lengths, or before them.
	timed             []activityTimed
	after, before     int // how many lengths fit with that
	fewest, mostAhead int // summaries ahead of a length in the file
	lengths           int
}

type activityTimed struct {
	at   int64
	swim *activitySwim
}

// ahead is how many summaries come before a place in the file.
func (p *activityPlaces) ahead(at int64) int {
	n := 0
	for n < len(p.swims) && p.swims[n].at < at {
		n++
	}
	return n
}

// learn takes the next length of the file.
func (p *activityPlaces) learn(l *activityLength) {
	if len(p.swims) < 2 {
		return
	}
	n := p.ahead(l.at)
	if p.lengths == 0 {
		p.fewest = n
	}
	p.mostAhead = n
	p.lengths++
	s := p.byTime(l.start, l.durationS)
	if s == nil {
		return
	}
	p.timed = append(p.timed, activityTimed{l.at, s})
	if n < len(p.swims) && p.swims[n] == s {
		p.after++
	}
	if n > 0 && p.swims[n-1] == s {
		p.before++
	}
}

// of is the session of a lap or length; nil when the group has none.
func (p *activityPlaces) of(at int64, start, durationS float64) *activitySwim {
	switch len(p.swims) {
	case 0:
		return nil
	case 1:
		return p.swims[0]
	}
	if s := p.byTime(start, durationS); s != nil {
		return s
	}
	if s := p.byFile(at); s != nil {
		return s
	}
	if s := p.begunBefore(start); s != nil {
		return s
	}
	return p.beside(at)
}

// byTime is the session that shares most time with a span, nil when none
// shares any.
func (p *activityPlaces) byTime(start, durationS float64) (best *activitySwim) {
	most := 0.0
	for _, s := range p.swims {
		if shared := activityShared(start, durationS, s.origin, s.until-s.origin); shared > most {
			best, most = s, shared
		}
	}
	return best
}

// byFile is the session whose summary follows a place in the file, or goes
// before it, as it does for every length whose time tells. It is nil where
// summaries stand in one block, or with lengths in no order.
func (p *activityPlaces) byFile(at int64) *activitySwim {
	if p.fewest == p.mostAhead {
		return nil
	}
	n := p.ahead(at)
	switch {
	case p.after == len(p.timed) && n < len(p.swims):
		return p.swims[n]
	case p.before == len(p.timed) && n > 0:
		return p.swims[n-1]
	}
	return nil
}

// begunBefore is the session that began last before a time; before all of
// them, the first.
func (p *activityPlaces) begunBefore(start float64) (nearest *activitySwim) {
	if math.IsNaN(start) {
		return nil
	}
	var first *activitySwim
	for _, s := range p.swims {
		if s.origin <= start && (nearest == nil || s.origin > nearest.origin) {
			nearest = s
		}
		if !math.IsNaN(s.origin) && (first == nil || s.origin < first.origin) {
			first = s
		}
	}
	if nearest == nil {
		return first
	}
	return nearest
}

// beside is the session of the length before a place in the file, else of
// the first.
func (p *activityPlaces) beside(at int64) *activitySwim {
	n, _ := slices.BinarySearchFunc(p.timed, at, func(t activityTimed, at int64) int { return cmp.Compare(t.at, at) })
	switch {
	case n > 0:
		return p.timed[n-1].swim
	case len(p.timed) > 0:
		return p.timed[0].swim
	}
	return p.swims[0]
}

// activityShared is how many seconds two spans have in common; a span without
// a known duration counts as a moment, which shares a millisecond.
func activityShared(start, duration, from, span float64) float64 {
	const moment = 0.001
	if math.IsNaN(duration) || duration < moment {
		duration = moment
	}
	if math.IsNaN(span) || span < moment {
		span = moment
	}
	shared := min(start+duration, from+span) - max(start, from)
	if math.IsNaN(shared) {
		return 0
	}
	return shared
}

// activityByStart sorts by start; what has no start stays behind what it
// followed. What starts at the same second goes by message index where all of
// it has one, else in the file's order.
func activityByStart(order []int, of func(int) (start float64, index uint32)) {
	type row struct {
		at    int
		key   float64
		index uint32
	}
	rows := make([]row, len(order))
	last := math.Inf(-1)
	for i, at := range order {
		start, index := of(at)
		if !math.IsNaN(start) {
			last = start
		}
		rows[i] = row{at, last, index}
	}
	slices.SortStableFunc(rows, func(x, y row) int { return cmp.Compare(x.key, y.key) })
	for i := 0; i < len(rows); {
		end := i
		indexed := true
		for ; end < len(rows) && rows[end].key == rows[i].key; end++ {
			indexed = indexed && rows[end].index != fitNone
		}
		if indexed && !math.IsInf(rows[i].key, -1) {
			slices.SortStableFunc(rows[i:end], func(x, y row) int { return cmp.Compare(x.index, y.index) })
		}
		i = end
	}
	for i, r := range rows {
		order[i] = r.at
	}
}
