package screen

import (
	"fmt"
	"math"
)

const (
	// restS is the shortest rest in which a heart is expected to fall, and besideS
	// how long before and after it heart rate is read.
	restS, besideS = 15.0, 6.0
	// restFall is the fall over rests (bpm) that a heart makes at least: with a
	// time constant of 60 s, 15 s take a fifth of the way, which is 10 bpm from 150
	// towards 100.
	restFall = 4.0
	// fewestRests is how many rests tell when no jump does.
	fewestRests = 3
	// slowestHeart is the heart rate (bpm) below which nobody swims; no source: the
	// slowest hearts at rest come near it.
	slowestHeart = 45.0
	// lockedShare is the share of the samples taken while swimming that follow the
	// strokes when all do.
	lockedShare = 0.85
)

// lockedOpen drops what follows the strokes from the first sample on, to the last
// one, or both: there at most one jump tells, so rests must: a heart falls in them
// by the time that the next swim begins, a sensor on the arms does not. Without
// rests of restS nothing is dropped: a slow heart and quick arms look the same.
func (p *pulse) lockedOpen(rates []strokeRate, factor float64, words string) {
	found := fmt.Sprintf("near %s of the lengths for long, and no fall in the rests", words)
	defer func() {
		p.extendLocks(rates, factor, func(i int) bool {
			return p.findings[p.out[i]].rule == RuleLocked && rates[i].near(p.samples[i].BPM/factor)
		}, p.find(RuleLocked, found))
	}()
	first, last := -1, -1
	for i := range p.samples {
		if p.out[i] == 0 && rates[i].known() {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	if first < 0 {
		return
	}
	if p.shareFollowed(rates, factor, first, last) >= lockedShare {
		if (p.heldInRests(first, last, fewestRests) || p.tooSlow(rates, first, last)) && p.secondsFollowed(rates, factor, first, last) >= p.w.settings.LockSeconds {
			p.dropLocked(rates, factor, 0, len(p.samples)-1, p.find(RuleLocked, found))
		}
		return
	}
	if p.follows(rates, factor, first) { // from the first sample on, until a jump
		if to := p.lastJumpOut(first, p.heldAfter(rates, p.follow(rates, factor, first))); to > first && p.openLock(rates, factor, first, to) {
			p.dropLocked(rates, factor, 0, to, p.find(RuleLocked, found))
		}
	}
	for from := first; from <= last; from++ { // from a jump on, to the last sample
		if !p.follows(rates, factor, from) {
			continue
		}
		to := p.follow(rates, factor, from)
		if to < last {
			from = to
			continue
		}
		for from <= to && !p.jumpsInto(from) {
			from++
		}
		if from < to && p.openLock(rates, factor, from, to) {
			p.dropLocked(rates, factor, from, len(p.samples)-1, p.find(RuleLocked, found))
		}
		return
	}
}

// extendLocks drops, beside locks of one kind, what follows the strokes from the
// first sample on until the first of them, or from the last one to the last
// sample, unless rests show that the heart was found again. Jumps did not bound
// it: the sensor found the heart in a rest, or the strokes themselves jumped.
func (p *pulse) extendLocks(rates []strokeRate, factor float64, isLock func(i int) bool, found int8) {
	n := len(p.samples)
	first, last := n, -1
	for i := range n {
		if isLock(i) {
			first, last = min(first, i), i
		}
	}
	if last < 0 {
		return
	}
	if p.shareFollowed(rates, factor, 0, first-1) >= lockedShare && p.heldInRests(0, first-1, 0) {
		p.dropLocked(rates, factor, 0, first-1, found)
	}
	if p.shareFollowed(rates, factor, last+1, n-1) >= lockedShare && p.heldInRests(last+1, n-1, 0) {
		p.dropLocked(rates, factor, last+1, n-1, found)
	}
}

// openLock tells whether samples from <= i <= to, with a jump at one end alone, are
// a lock.
func (p *pulse) openLock(rates []strokeRate, factor float64, from, to int) bool {
	return (p.heldInRests(from, to, 1) || p.tooSlow(rates, from, to)) && p.shareFollowed(rates, factor, from, to) >= 1-lockStray &&
		p.secondsFollowed(rates, factor, from, to) >= p.w.settings.LockSeconds
}

// tooSlow tells whether half of the samples from <= i <= to taken while swimming are
// slower than a swimmer's heart.
func (p *pulse) tooSlow(rates []strokeRate, from, to int) bool {
	var swum, slow int
	for i := from; i <= to; i++ {
		if p.out[i] == 0 && rates[i].known() {
			swum++
			if p.samples[i].BPM < slowestHeart {
				slow++
			}
		}
	}
	return 2*slow > swum
}

// lastJumpOut is the last of samples from <= i <= to from which a jump leads out;
// from - 1 where there is none.
func (p *pulse) lastJumpOut(from, to int) int {
	for to >= from && !p.jumpsInto(to+1) {
		to--
	}
	return to
}

// shareFollowed is the share of the samples from <= i <= to taken while swimming
// that follow the strokes.
func (p *pulse) shareFollowed(rates []strokeRate, factor float64, from, to int) float64 {
	var known, near float64
	for i := from; i <= to; i++ {
		if p.out[i] == 0 && rates[i].known() {
			known++
			if p.follows(rates, factor, i) {
				near++
			}
		}
	}
	return near / known
}

// heldInRests tells whether heart rate does not fall in the rests between samples
// from and to: the median fall from the end of a swim to the beginning of the next
// is less than a heart's. Fewer rests than fewest tell nothing.
func (p *pulse) heldInRests(from, to, fewest int) bool {
	lengths := p.w.session.Lengths
	var falls []float64
	at := from
	for k := 1; k < len(lengths); k++ {
		end, start := lengths[k-1].StartS+lengths[k-1].DurationS, lengths[k].StartS
		if start-end < restS || lengths[k-1].Drill || lengths[k].Drill {
			continue
		}
		var before, after float64
		before, at = p.mean(at, from, to, end-besideS, end)
		after, at = p.mean(at, from, to, start, start+besideS)
		if fall := before - after; !math.IsNaN(fall) {
			falls = append(falls, fall)
		}
	}
	return len(falls) >= fewest && (len(falls) == 0 || median(falls) < restFall)
}

// mean is the mean of the kept samples from <= i <= to taken between two times,
// looked for from sample at on; NaN where there is none. It returns where to look
// next.
func (p *pulse) mean(at, from, to int, begin, end float64) (float64, int) {
	for at > from && p.samples[at-1].TimeS >= begin {
		at--
	}
	var sum, n float64
	for ; at <= to && p.samples[at].TimeS < end; at++ {
		if p.samples[at].TimeS >= begin && p.out[at] == 0 {
			sum, n = sum+p.samples[at].BPM, n+1
		}
	}
	return sum / n, at
}
