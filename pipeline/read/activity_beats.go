package read

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// fitAnchor ties a strap's own clock to the recorder's. A block of hr
// messages starts with one: a time stamp with a fraction of a second, and the
// strap's clock at that moment.
type fitAnchor struct {
	timeS float64 // seconds since the protocol's epoch
	event uint32  // strap's clock, 1/1024 s, wraps around
	last  uint32  // strap's clock at the latest beat
}

// seconds is the time of a moment of the strap's clock.
func (a fitAnchor) seconds(event uint32) float64 {
	return a.timeS + float64(int32(event-a.event))/1024
}

// hr takes a message of a strap's log: a new anchor when it has a time stamp
// and a moment of the strap's clock, and beats. The beats' times are given in
// full or as packed 12-bit remainders that count on from the beat before.
func (c *activityCollector) hr(m fitMessage, now uint32) {
	full, hasFull := m.field(fitEventTime)
	packed := m.bytes(fitEventTime12)
	bpm := m.bytes(fitFilteredBPM)
	if fitBlank(packed) {
		packed = nil
	}
	first, hasFirst := uint64(0), false
	if hasFull {
		first, hasFirst = m.element(full, 0)
	}
	if fitBlank(bpm) && len(packed) == 0 && !hasFirst {
		return // an empty packet
	}
	if now != fitNever && hasFirst {
		fraction := m.scaled(fitFraction, 32768)
		if math.IsNaN(fraction) {
			fraction = m.scaled(fitTime256, 256)
		}
		if math.IsNaN(fraction) {
			fraction = 0
		}
		c.anchor = fitAnchor{timeS: float64(now) + fraction, event: uint32(first), last: uint32(first)}
		c.anchored, c.beatBefore = true, math.NaN()
	}

	at := 0 // beats of this message so far
	next := func(event uint32, known bool) {
		if at >= len(bpm) {
			return
		}
		g := c.group()
		beat := activityBeat{timeS: math.NaN(), bpm: bpm[at], strap: true, first: !g.logStarted}
		g.logStarted = true
		if known && c.anchored {
			beat.timeS = c.anchor.seconds(event)
			if beat.timeS == c.beatBefore { // packets are filled up with the last beat
				beat.fate = activityPadding
			}
			c.beatBefore = beat.timeS
		}
		at++
		c.beat(beat)
	}
	if hasFull {
		for i := 0; ; i++ {
			event, ok := m.element(full, i)
			if !ok {
				break
			}
			next(uint32(event), true)
			c.anchor.last = uint32(event)
		}
	}
	for i := 0; i < fitCount12(packed); i++ {
		// The low 12 bits of a clock that has only gone on since the last beat.
		event := c.anchor.last + (fitPacked12(packed, i)-c.anchor.last)&0xFFF
		next(event, true)
		c.anchor.last = event
	}
	for at < len(bpm) {
		next(0, false)
	}
}

// fitCount12 is how many whole 12-bit numbers bytes hold.
func fitCount12(b []byte) int { return len(b) * 8 / 12 }

// fitPacked12 is the i-th 12-bit number of bytes, low bits first.
func fitPacked12(b []byte, i int) uint32 {
	at := i * 12 / 8
	if i%2 == 0 {
		return uint32(b[at]) | uint32(b[at+1]&0x0F)<<8
	}
	return uint32(b[at]>>4) | uint32(b[at+1])<<4
}

// fitBlank tells whether an array field holds nothing but marks for invalid.
func fitBlank(b []byte) bool {
	for _, v := range b {
		if v != 0xFF {
			return false
		}
	}
	return true
}

// assignBeats finds the session of every heart-rate sample by time. Where
// a strap's log runs, the recorder's own samples are a second source and are
// excluded; where it has gaps, or before and after it, they are used.
func (b *activityBuilder) assignBeats() {
	outside := int32(-1)
	for i := range b.c.beats {
		beat := &b.c.beats[i]
		beat.swim = -1
		if beat.fate != activityUndecided {
			continue
		}
		at := b.swimAt(int(beat.group), beat.timeS)
		if at < 0 {
			if outside < 0 {
				outside = b.fateOutside()
			}
			beat.fate = outside
			continue
		}
		s := &b.sessions[at]
		beat.swim = int32(at)
		if s.rule != "" {
			beat.fate = s.fate
		} else if beat.strap {
			s.strapBeats++
		} else {
			s.recordBeats++
		}
	}
	second := int32(-1)
	runs := b.strapRuns()
	for i := range b.c.beats {
		beat := &b.c.beats[i]
		if beat.fate != activityUndecided {
			continue
		}
		beat.fate = activityUsed
		s := &b.sessions[beat.swim]
		if !beat.strap && runs[beat.swim].run(beat.timeS) {
			if second < 0 {
				second = b.fate("second-source", "the strap's own log has the heart rate at this time")
			}
			beat.fate = second
			s.recordBeats--
			s.besideLog++
			continue
		}
		switch {
		case !beat.isRate():
		case beat.strap:
			s.strapRates++
		default:
			s.recordRates++
		}
	}
	for i := range b.sessions {
		switch s := &b.sessions[i]; {
		case s.strapBeats == 0 || s.recordBeats+s.besideLog == 0:
		case s.recordBeats == 0:
			b.note(s.group, "second-source", fmt.Sprintf("heart rate comes from the strap's log (%d samples) and from the recorder's own samples (%d): the log is used", s.strapBeats, s.besideLog))
		default:
			b.note(s.group, "second-source", fmt.Sprintf("the strap's log (%d samples) does not cover the session: %d of the recorder's own samples, where it has none, are used with it, and %d beside it are not",
				s.strapBeats, s.recordBeats, s.besideLog))
		}
	}
}

// strapRuns are the times at which a strap's log gives each session's heart
// rate.
func (b *activityBuilder) strapRuns() []strapTimes {
	runs := make([]strapTimes, len(b.sessions))
	for i := range runs {
		if n := b.sessions[i].strapBeats; n > 0 && b.sessions[i].recordBeats > 0 {
			runs[i] = make(strapTimes, 0, n)
		}
	}
	for i := range b.c.beats {
		beat := &b.c.beats[i]
		if beat.strap && beat.fate == activityUndecided && runs[beat.swim] != nil && beat.isRate() {
			runs[beat.swim] = append(runs[beat.swim], beat.timeS)
		}
	}
	for i := range runs {
		if !slices.IsSorted(runs[i]) {
			slices.Sort(runs[i])
		}
	}
	return runs
}

// strapTimes are the times of a strap's heart rates, in order.
type strapTimes []float64

// run tells whether the log runs on at a time: between two heart rates that
// are not far apart.
func (t strapTimes) run(timeS float64) bool {
	const gap = 15 // s; beats come once a second or two, in a gap of this length heart rate changes little
	after, same := slices.BinarySearch(t, timeS)
	return same || after > 0 && after < len(t) && t[after]-t[after-1] <= gap
}

// fateOutside is that of samples in no session.
func (b *activityBuilder) fateOutside() int32 {
	if len(b.sessions) == 0 {
		return b.fate("no-session", "the file holds neither a session nor pool lengths")
	}
	return b.fate("outside-session", "before, between or after the recorder's sessions")
}

// samples are the heart-rate samples of a session by time.
func (b *activityBuilder) samples(s *activitySwim) []Sample {
	n := s.strapBeats + s.recordBeats
	if n == 0 {
		return nil
	}
	samples := make([]Sample, 0, n)
	for i := range b.c.beats {
		beat := &b.c.beats[i]
		if beat.fate == activityUsed && int(beat.swim) == s.number {
			samples = append(samples, Sample{Record: int64(i) + 1, TimeS: beat.timeS - s.origin, BPM: float64(beat.bpm), First: beat.first})
		}
	}
	byTime := func(x, y Sample) int { return cmp.Compare(x.TimeS, y.TimeS) }
	if !slices.IsSortedFunc(samples, byTime) {
		slices.SortStableFunc(samples, byTime)
	}
	return samples
}
