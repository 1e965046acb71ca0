package faults

import (
	"math"
	"slices"
)

// sensor is how heart rate was kept.
type sensor struct {
	random
	every  float64 // s between samples; 0: one a length
	wander float64 // sd of the slow wander, bpm
	noise  float64
}

func newSensor(r random) sensor {
	return sensor{random: r, every: r.oneOf(1, 1, 1, 1, 5, 0), wander: r.between(0.5, 2.5), noise: r.between(0, 0.8)}
}

// samples lets heart rate follow first-order kinetics towards what the length asks
// for, and towards 30 % of the reserve in rests, and samples it.
func (sen sensor) samples(p *planner, lengths []Length, efforts []float64) []Sample {
	reserve := p.maxHR - p.restHR
	hr := p.restHR + 0.3*reserve
	var out []Sample
	var clock, wander float64
	next := 0.0
	towards := 1 - math.Exp(-1/p.tau)
	const keep = 0.97 // of the wander from second to second
	fresh := sen.wander * math.Sqrt(1-keep*keep)
	for i, l := range lengths {
		start := l.StartS
		end := start + l.Truth.DurationS
		rest := p.restHR + 0.3*reserve
		work := p.restHR + reserve*min(1, max(0.35, 0.70+1.6*(efforts[i]-1)))
		for clock < end {
			target := work
			if clock < start {
				target = rest
			}
			hr += (target - hr) * towards
			wander = keep*wander + sen.normal(0, fresh)
			if (sen.every > 0 && clock >= next) || (sen.every == 0 && clock+1 >= end) {
				next = clock + sen.every
				actual := hr + wander
				out = append(out, Sample{TimeS: clock, BPM: math.Round(actual + sen.normal(0, sen.noise)), Length: at(clock, start, i),
					Truth: SampleTruth{BPM: actual, Fault: -1}})
			}
			clock++
		}
	}
	return out
}

// at is the length that a moment belongs to, -1 in a rest.
func at(clock, start float64, i int) int {
	if clock < start {
		return -1
	}
	return i
}

// rateOf is strokes a minute of a length as the water saw them, both arms'.
func rateOf(l Length) float64 { return 60 * l.Truth.Strokes / l.Truth.DurationS }

// spoilSamples plants up to n faults of one kind and size among the samples of
// a session.
func spoilSamples(r random, s *Session, k Kind, size float64, n int) (placed int) {
	switch {
	case k == StartValue:
		return startValue(r, s)
	case k == Lock && size < 0:
		return lockAll(r, s, size)
	}
	for range 40 * n {
		if placed == n || len(s.Samples) < 30 {
			break
		}
		at := 5 + r.IntN(len(s.Samples)-10)
		ok := false
		switch k {
		case Dropout:
			ok = dropout(r, s.Samples, at, int(size), placed)
		case Step:
			ok = step(r, s.Samples, at, size, placed)
		case Lock:
			ok = lock(r, s, at, size, placed)
		case ClockBack:
			ok = placed == 0 && clockBack(s, at, size)
		}
		if ok {
			placed++
		}
	}
	return placed
}

// startValue puts a sensor's first value before the first sample: 71 whatever
// the heart does, as in seven of eleven logs.
func startValue(r random, s *Session) int {
	if len(s.Samples) == 0 {
		return 0
	}
	first := Sample{TimeS: s.Samples[0].TimeS, BPM: 71, First: true, Length: s.Samples[0].Length,
		Truth: SampleTruth{Kind: StartValue, BPM: s.Samples[0].Truth.BPM}}
	if r.chance(0.3) {
		first.BPM = math.Round(r.between(60, 110))
	}
	s.Samples[0] = first
	return 1
}

// untouched tells whether samples from..to-1 and ten on each side are clean.
func untouched(s []Sample, from, to int) bool {
	if to > len(s) {
		return false
	}
	return !slices.ContainsFunc(s[max(0, from-10):min(len(s), to+10)], func(x Sample) bool { return x.Truth.Kind != Clean })
}

func dropout(r random, s []Sample, at, n, id int) bool {
	if !untouched(s, at, at+n) {
		return false
	}
	missing := r.oneOf(0, 255)
	for i := range s[at : at+n] {
		s[at+i].BPM = missing
		s[at+i].Truth.Kind, s[at+i].Truth.Fault = Dropout, id
	}
	return true
}

// step lifts or drops 5 to 60 samples at once and lets them back at once. It
// asks for a sample every second: with fewer, a jump is no jump.
func step(r random, s []Sample, at int, size float64, id int) bool {
	n := 5 + r.IntN(56)
	if !untouched(s, at, at+n) || s[at].TimeS-s[at-1].TimeS > 1.5 {
		return false
	}
	up := r.sign()
	for i := range s[at : at+n] {
		s[at+i].BPM += up * size
		s[at+i].Truth.Kind, s[at+i].Truth.Fault = Step, id
	}
	return true
}

// lock makes the sensor follow the arms for a while: a multiple of the rate
// between whole-length and clean stroking (the glide holds no strokes), one arm
// or both, with a small wobble. In rests the last value stays or the heart comes
// back. It is planted only where heart and arms differ by 15 bpm at least, and
// where a sample comes every 5 s or faster; elsewhere nobody could tell.
func lock(r random, s *Session, at int, seconds float64, id int) bool {
	if s.Samples[at].TimeS-s.Samples[at-1].TimeS > 5.5 {
		return false
	}
	follows, usable := followed(r, s)
	hold := r.chance(0.5)
	end, swum := at, 0.0
	for swum < seconds {
		if end >= len(s.Samples)-1 || (s.Samples[end].Length >= 0 && !usable(end)) {
			return false
		}
		if usable(end) {
			swum += s.Samples[end+1].TimeS - s.Samples[end].TimeS
		}
		end++
	}
	if !untouched(s.Samples, at, end) || !usable(at) || math.Abs(follows(at)-s.Samples[at].Truth.BPM) < 15 || follows(at) < 25 {
		return false
	}
	last := 0.0
	for i := at; i < end; i++ {
		x := &s.Samples[i]
		switch {
		case usable(i):
			last = follows(i)
		case !hold:
			continue
		}
		x.BPM = math.Round(last + r.normal(0, 1.2))
		x.Truth.Kind, x.Truth.Fault = Lock, id
	}
	return true
}

// followed draws how a sensor follows the arms: the rate that it shows at a
// sample, and whether it can there.
func followed(r random, s *Session) (follows func(i int) float64, usable func(i int) bool) {
	factor := r.between(1, 1.15)
	if r.chance(0.3) {
		factor /= 2
	}
	follows = func(i int) float64 {
		l := s.Lengths[s.Samples[i].Length]
		rate := rateOf(l) * factor
		if l.Stroke == breaststroke || l.Stroke == butterfly {
			rate *= 2 // cycles: both arms at once
		}
		return rate
	}
	usable = func(i int) bool {
		j := s.Samples[i].Length
		return j >= 0 && s.Lengths[j].Truth.Kind == Clean && !math.IsNaN(s.Lengths[j].Truth.Strokes)
	}
	return follows, usable
}

// The sizes of locks that no jump begins, ends, or either.
const (
	lockThroughout = -1 // from the first sample to the last
	lockFromFirst  = -2 // from the first sample on, for a third of the session
	lockToLast     = -3 // for the last third, to the last sample
)

// lockAll is a lock from the first sample on, to the last one, or both. It is
// planted where heart and arms differ by 15 bpm on the whole.
func lockAll(r random, s *Session, size float64) int {
	n := len(s.Samples)
	if n < 60 || s.Samples[n/2].TimeS-s.Samples[n/2-1].TimeS > 5.5 {
		return 0
	}
	follows, usable := followed(r, s)
	hold := r.chance(0.5)
	from, to := 0, n
	switch size {
	case lockFromFirst:
		to = n / 3
	case lockToLast:
		from = n - n/3
	}
	var off []float64
	for i := from; i < to; i++ {
		if usable(i) {
			off = append(off, math.Abs(follows(i)-s.Samples[i].Truth.BPM))
		}
	}
	if len(off) < 20 {
		return 0
	}
	slices.Sort(off)
	if off[len(off)/2] < 15 {
		return 0
	}
	last := 0.0
	for i := from; i < to; i++ {
		x := &s.Samples[i]
		switch {
		case usable(i):
			last = follows(i)
		case !hold || last == 0:
			continue
		}
		x.BPM = math.Round(last + r.normal(0, 1.2))
		x.Truth.Kind, x.Truth.Fault = Lock, 0
	}
	return 1
}

// clockBack sets the clock back at one sample, from which on every time is that
// much too early. The samples whose times had been told before are the fault.
func clockBack(s *Session, at int, seconds float64) bool {
	back := s.Samples[at-1].TimeS
	if s.Samples[at].TimeS-seconds >= back {
		return false // goes on, late, but forward
	}
	for i := at; i < len(s.Samples); i++ {
		x := &s.Samples[i]
		x.TimeS -= seconds
		if x.TimeS < back {
			x.Truth.Kind, x.Truth.Fault = ClockBack, 0
		}
	}
	return true
}
