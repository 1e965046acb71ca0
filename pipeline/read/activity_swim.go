package read

import (
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
	before, after float64 // seconds around them within which samples still belong to it

	lapAt   []int // indices into the collector's laps, by start
	lengths []int // ... lengths, rests among them, by start

	rule, detail string // why the session is no pool swim; "" when it is one
	fate         int32  // of its records when it is none

	strapBeats, recordBeats int // samples that are used, by source
	besideLog               int // the recorder's own that are not, where a strap's log runs
	strapRates, recordRates int // of those used, that are a heart rate: 0 and 255 are not
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
		s.origin, s.until = s.start, s.start+s.elapsedS+startCutS
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
			b.note(g, "no-session", "the file holds no session message: its lengths are taken for one pool swim that starts with the first of its laps and lengths")
		}
	}
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
