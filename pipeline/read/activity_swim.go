package read

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/muktihari/fit/profile/typedef"
)

// activitySwim is a session of a file, stated by a message or, where the file
// was cut before one, taken from its lengths. Times are seconds since the
// protocol's epoch.
type activitySwim struct {
	activitySummary
	number        int  // index into the builder's sessions
	stated        bool // by a session message
	clock         bool // origin is a time of day, not a count from power-on
	origin, until float64

	lapAt   []int // indices into the collector's laps, by start
	lengths []int // ... lengths, rests among them, by start

	rule, detail string // why the session is no pool swim; "" when it is one
	fate         int32  // of its records when it is none

	strapBeats, recordBeats int
}

// findSwims lists the sessions in order of the file and gives a group that
// holds lengths but no session message one of its own.
func (b *activityBuilder) findSwims() {
	has := make([]bool, len(b.c.groups))
	for _, s := range b.c.sessions {
		has[s.group] = true
	}
	next := 0
	add := func(s activitySwim) {
		s.number = len(b.sessions)
		b.span(&s)
		b.sessions = append(b.sessions, s)
	}
	for g := range b.c.groups {
		for ; next < len(b.c.sessions) && b.c.sessions[next].group == g; next++ {
			add(activitySwim{activitySummary: b.c.sessions[next], stated: true})
		}
		if !has[g] && slices.ContainsFunc(b.c.lengths, func(l activityLength) bool { return l.group == g }) {
			nan := math.NaN()
			add(activitySwim{activitySummary: activitySummary{group: g, start: nan, elapsedS: nan, poolM: nan,
				sport: fitNone, subSport: fitNone, active: fitNone}})
			b.note(g, "no-session", "the file holds no session message: its lengths are taken for one pool swim that starts with its first record")
		}
	}
}

// span sets when a session began and ended. What the session message does not
// tell comes from the laps, lengths and samples of its group.
func (b *activityBuilder) span(s *activitySwim) {
	s.origin, s.until = s.start, s.start+s.elapsedS+1 // start is cut to whole seconds
	if !math.IsNaN(s.until) {
		s.clock = s.origin >= fitClockFrom
		return
	}
	first, last := math.Inf(1), math.Inf(-1)
	see := func(from, to float64) {
		if !math.IsNaN(from) {
			first, last = min(first, from), max(last, from)
		}
		if !math.IsNaN(to) {
			last = max(last, to)
		}
	}
	for _, l := range b.c.laps {
		if l.group == s.group {
			see(l.start, l.start+l.durationS)
		}
	}
	for _, l := range b.c.lengths {
		if l.group == s.group {
			see(l.start, l.start+l.durationS)
		}
	}
	for i := range b.c.beats {
		if beat := &b.c.beats[i]; int(beat.group) == s.group && !beat.strap {
			see(beat.timeS, beat.timeS)
		}
	}
	if math.IsNaN(s.origin) {
		s.origin = first // +Inf when nothing has a time: then no row has one
	}
	s.until = last + 1
	s.clock = s.origin >= fitClockFrom && !math.IsInf(s.origin, 0)
}

// judge tells pool swims from the rest, by the kind of swimming and by the
// lengths: other sports carry swimming as their sport too.
func (b *activityBuilder) judge(s *activitySwim) {
	active := 0
	for _, at := range s.lengths {
		if l := &b.c.lengths[at]; !l.rest {
			active++
		}
	}
	pool := s.subSport == uint32(typedef.SubSportLapSwimming)
	open := (s.subSport == fitNone || s.subSport == uint32(typedef.SubSportGeneric)) &&
		(s.sport == fitNone || s.sport == uint32(typedef.SportSwimming) || s.sport == uint32(typedef.SportGeneric))
	switch {
	case s.subSport == uint32(typedef.SubSportOpenWater):
		s.rule, s.detail = "open-water", "a swim in open water has no pool, no lengths and no stroke type"
	case !pool && !open:
		s.rule, s.detail = "not-pool-swimming", fmt.Sprintf("a session of %s, which is not swimming in a pool", activitySportWords(s.sport, s.subSport))
	case active > 0:
		return
	case open:
		s.rule, s.detail = "not-pool-swimming", fmt.Sprintf("a session of %s without pool lengths", activitySportWords(s.sport, s.subSport))
	default:
		s.rule, s.detail = "no-lengths", "a pool swim for which the recorder wrote no pool length that was swum"
	}
	s.fate = b.fate(s.rule, s.detail)
	for _, at := range s.lengths {
		if l := &b.c.lengths[at]; l.fate == activityUsed {
			l.fate = s.fate
		}
	}
}

// activitySportWords names a sport as the published profile does.
func activitySportWords(sport, sub uint32) string {
	words := "a sport that is not stated"
	if sport <= math.MaxUint8 {
		words = typedef.Sport(sport).String()
	}
	if sub <= math.MaxUint8 && sub != uint32(typedef.SubSportGeneric) {
		words += " (" + typedef.SubSport(sub).String() + ")"
	}
	return words
}

// assignLengths gives laps and lengths their session: the only one of their
// group, or the one they share most time with.
func (b *activityBuilder) assignLengths() {
	count := make([]int, len(b.c.groups))
	only := make([]int, len(b.c.groups))
	for i := range b.sessions {
		count[b.sessions[i].group]++
		only[b.sessions[i].group] = i
	}
	of := func(group int, start, duration float64) int {
		switch count[group] {
		case 0:
			return -1
		case 1:
			return only[group]
		}
		best, most := -1, 0.0
		for i := range b.sessions {
			if s := &b.sessions[i]; s.group == group {
				if shared := activityShared(start, duration, s.origin, s.until-s.origin); shared > most {
					best, most = i, shared
				}
			}
		}
		return best
	}
	for i, l := range b.c.laps {
		if at := of(l.group, l.start, l.durationS); at >= 0 {
			b.sessions[at].lapAt = append(b.sessions[at].lapAt, i)
		}
	}
	none := int32(-1)
	for i := range b.c.lengths {
		l := &b.c.lengths[i]
		at := of(l.group, l.start, l.durationS)
		switch {
		case l.fate != activityUndecided: // its message said too little
		case at < 0:
			if none < 0 {
				none = b.fate("outside-session", "within none of the recorder's sessions")
			}
			l.fate = none
		default:
			l.fate = activityUsed
			b.sessions[at].lengths = append(b.sessions[at].lengths, i)
		}
	}
	for i := range b.sessions {
		s := &b.sessions[i]
		activityByStart(s.lapAt, func(at int) float64 { return b.c.laps[at].start })
		activityByStart(s.lengths, func(at int) float64 { return b.c.lengths[at].start })
	}
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

// activityByStart sorts by start. What starts at the same second keeps the
// file's order, and what has no start stays behind what it followed.
func activityByStart(order []int, start func(int) float64) {
	type row struct {
		at  int
		key float64
	}
	rows := make([]row, len(order))
	last := math.Inf(-1)
	for i, at := range order {
		if t := start(at); !math.IsNaN(t) {
			last = t
		}
		rows[i] = row{at, last}
	}
	slices.SortStableFunc(rows, func(x, y row) int { return cmp.Compare(x.key, y.key) })
	for i, r := range rows {
		order[i] = r.at
	}
}
