package squad

import (
	"math"
	"math/rand/v2"
)

// purpose separates the random streams of one session or swimmer.
type purpose uint64

const (
	forBody purpose = iota + 1
	forPlan
	forCounts
	forLengths
	forHeart
	forNames
	forCalendar
	forTrend
)

// mix64 is the finaliser of splitmix64 (Steele, Lea and Flood 2014, from
// memory): every input bit reaches every output bit.
func mix64(z uint64) uint64 {
	z += 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// stream is a reusable random stream.
type stream struct {
	pcg *rand.PCG
	*rand.Rand
}

func newStream() stream {
	p := rand.NewPCG(0, 0)
	return stream{p, rand.New(p)}
}

// aim restarts the stream at the place that belongs to these numbers alone.
func (s stream) aim(seed uint64, swimmer, session int, use purpose) {
	k := mix64(seed)
	k = mix64(k ^ uint64(swimmer+1)<<20 ^ uint64(use))
	k = mix64(k ^ uint64(session+1))
	s.pcg.Seed(k, mix64(k^0x5851f42d4c957f2d))
}

// normal draws from a normal distribution; it draws even for sd 0, so that
// switching a noise off moves no other number.
func (s stream) normal(mean, sd float64) float64 { return mean + sd*s.NormFloat64() }

// between draws uniformly from [lo, hi).
func (s stream) between(lo, hi float64) float64 { return lo + (hi-lo)*s.Float64() }

// fault counts events of probability p per trial over a run of trials, drawing
// the gap to the next event (geometric) rather than every trial. Each has random
// numbers of its own, so the counts do not depend on how the run is cut.
type fault struct {
	state   uint64
	logMiss float64 // ln(1-p); 0: never
	gap     int     // trials left before the next event
}

func newFault(st stream, p float64) fault {
	f := fault{state: st.Uint64(), logMiss: math.Log1p(-p)}
	f.gap = f.draw()
	return f
}

// draw returns the number of trials without an event before the next one.
func (f *fault) draw() int {
	if f.logMiss == 0 {
		return math.MaxInt32
	}
	f.state += 0x9e3779b97f4a7c15
	u := (float64(mix64(f.state)>>11) + 0.5) / (1 << 53) // in (0, 1)
	return int(min(math.MaxInt32, math.Log(u)/f.logMiss))
}

// next returns the number of events among the next n trials.
func (f *fault) next(n int) (events int) {
	if f.logMiss == 0 {
		return 0
	}
	for f.gap < n {
		events++
		n -= f.gap + 1
		f.gap = f.draw()
	}
	f.gap -= n
	return events
}
