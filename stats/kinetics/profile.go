package kinetics

import (
	"fmt"
	"math"
)

// Noise is how the errors of one bout's samples hang together: a share of their
// variance wanders with a correlation of exp(-|dt|/Seconds), the rest is white. The
// zero value is white noise.
type Noise struct {
	Share   float64 // of the variance, 0 to 1
	Seconds float64 // above zero where Share is
}

// Profile is what the samples of one bout say at every time constant of a grid: by
// least squares of y = steady + (start - steady) exp(-t/tau), which is linear once
// tau is given.
type Profile struct {
	Samples int
	Steady  Series // the level approached, in the unit of the values
	// Factor is the variance of Steady, tau given, over that of one sample's error.
	Factor Series
	// Start is the value at t = 0, at the middle of the grid.
	Start float64
}

// Rise is what the first samples of a bout say of tau, both levels fitted to them
// alone.
type Rise struct {
	Samples int
	Squares Series // the residual sum of squares
	// Spent is how many samples' worth of variance the two levels take from Squares:
	// its expectation is Samples - Spent times the variance of one sample's error. It
	// is 2 for white noise.
	Spent float64
}

// sums are those of the samples at one time constant; e = exp(-t/tau), y from the
// first value.
type sums struct {
	e, step    float64 // exp(-t/tau) of the last sample, and of the last interval
	e1, e2, ye float64 // of e, e^2, y e
	past       float64 // sum of earlier e, each times exp(-dt/noise)
	q1e, qee   float64 // 1'Re and e'Re, R the correlation of the wander
}

// Profile lays the profile of one bout, and that of its first `early` seconds. Times
// are in seconds since the bout's beginning, in order and at or above zero. Errors
// wrap ErrShape, ErrNotFinite, ErrArgument, or ErrTooFew below three samples at
// different times.
func (g *Grid) Profile(seconds, values []float64, early float64, noise Noise) (*Profile, *Rise, error) {
	n := len(seconds)
	switch {
	case len(values) != n:
		return nil, nil, fmt.Errorf("kinetics: %w: %d times and %d values", ErrShape, n, len(values))
	case n < 3 || seconds[0] == seconds[n-1]:
		return nil, nil, fmt.Errorf("kinetics: %w: %d samples, need at least 3 at different times", ErrTooFew, n)
	case !(noise.Share >= 0 && noise.Share <= 1) || noise.Share > 0 && !(noise.Seconds > 0):
		return nil, nil, fmt.Errorf("kinetics: %w: noise %+v", ErrArgument, noise)
	}
	l := layer{grid: g, origin: values[0], noise: noise}
	var rise *Rise
	before := 0.0
	for i, t := range seconds {
		if v := values[i]; math.IsNaN(t+v) || math.IsInf(t, 0) || math.IsInf(v, 0) {
			return nil, nil, fmt.Errorf("kinetics: %w: sample %d is %v at %v s", ErrNotFinite, i, v, t)
		}
		if t < before {
			return nil, nil, fmt.Errorf("kinetics: %w: time %d is %v s, before the bout or the sample before it", ErrArgument, i, t)
		}
		if t > early && rise == nil && i > 0 {
			rise = l.rise()
		}
		l.add(t, values[i])
		before = t
	}
	if rise == nil {
		rise = l.rise()
	}
	if math.IsInf(l.y2, 0) || l.y2 > 0 && exactShare*l.y2 < smallestSquare {
		return nil, nil, fmt.Errorf("kinetics: %w: squares of the values leave the range of a float64; change units", ErrNotFinite)
	}
	return l.profile(), rise, nil
}

// layer adds up samples in one pass, at all time constants at once.
type layer struct {
	grid      *Grid
	origin    float64
	noise     Noise
	n         float64
	y1, y2    float64
	past, q11 float64 // of ones
	t, gap    float64 // of the last sample; interval whose steps are in k
	fade      float64 // exp(-gap/noise seconds)
	k         [Nodes]sums
}

func (l *layer) add(t, value float64) {
	y := value - l.origin
	if l.n == 0 {
		for k := range l.k {
			l.k[k].e = math.Exp(-t * l.grid.rates[k])
		}
	} else {
		if gap := t - l.t; gap != l.gap {
			l.gap = gap
			l.fade = 0
			if l.noise.Share > 0 {
				l.fade = math.Exp(-gap / l.noise.Seconds)
			}
			for k := range l.k {
				l.k[k].step = math.Exp(-gap * l.grid.rates[k])
			}
		}
		l.past = l.fade * (l.past + 1)
		for k := range l.k {
			s := &l.k[k]
			s.past = l.fade * (s.past + s.e)
			s.e *= s.step
		}
	}
	l.n++
	l.t = t
	l.y1 += y
	l.y2 += y * y
	l.q11 += 1 + 2*l.past
	for k := range l.k {
		s := &l.k[k]
		e := s.e
		s.e1 += e
		s.e2 += e * e
		s.ye += y * e
		s.q1e += s.past + e*(1+l.past)
		s.qee += e * (e + 2*s.past)
	}
}

// fit is the straight line in e of the samples so far, at time constant k.
func (l *layer) fit(k int) (steady, gain, meanE, spread, squares float64) {
	s := &l.k[k]
	meanE = s.e1 / l.n
	spread = math.Max(0, s.e2-s.e1*meanE)
	cross := s.ye - l.y1*meanE
	if spread > 0 {
		gain = cross / spread
	}
	squares = math.Max(0, l.y2-l.y1*l.y1/l.n-gain*cross)
	return l.y1/l.n - gain*meanE, gain, meanE, spread, squares
}

// wander gives the quadratic forms of the noise's correlation in ones and in the
// centred e.
func (l *layer) wander(k int, meanE, spread float64) (ones, cross, own float64) {
	s, w := &l.k[k], l.noise.Share
	ones = (1-w)*l.n + w*l.q11
	cross = w * (s.q1e - meanE*l.q11)
	own = (1-w)*spread + w*(s.qee-2*meanE*s.q1e+meanE*meanE*l.q11)
	return ones, cross, own
}

func (l *layer) rise() *Rise {
	r := &Rise{Samples: int(l.n)}
	var squares [Nodes]float64
	for k := range squares {
		var meanE, spread float64
		_, _, meanE, spread, squares[k] = l.fit(k)
		if k == Nodes/2 {
			ones, _, own := l.wander(k, meanE, spread)
			r.Spent = ones / l.n
			if spread > 0 {
				r.Spent += own / spread
			}
		}
	}
	r.Squares = l.grid.series(&squares)
	return r
}

func (l *layer) profile() *Profile {
	p := &Profile{Samples: int(l.n)}
	var steady, factor [Nodes]float64
	for k := range steady {
		level, gain, meanE, spread, _ := l.fit(k)
		steady[k] = l.origin + level
		ones, cross, own := l.wander(k, meanE, spread)
		away := meanE / math.Max(spread, 1e-12)
		factor[k] = ones/(l.n*l.n) - 2*away*cross/l.n + away*away*own
		if k == Nodes/2 {
			p.Start = l.origin + level + gain
		}
	}
	p.Steady, p.Factor = l.grid.series(&steady), l.grid.series(&factor)
	return p
}
