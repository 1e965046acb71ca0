package kinetics

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Bout is one response, samples in any order.
type Bout struct {
	Seconds []float64 // since the beginning of the bout, at or above zero
	Values  []float64
}

// bout holds the samples of one bout by time, values measured from origin.
type bout struct {
	t, y   []float64
	origin float64
	// Of the fit at the last tau: y = start + gain x, x = 1 - exp(-t/tau).
	start, gain   float64
	x, g, e       []float64 // g is the derivative in ln tau at fixed start and gain, e the residual
	meanX, spread float64   // mean of x, sum of squares of x about it
}

func newBout(number int, b Bout) (bout, error) {
	n := len(b.Seconds)
	if len(b.Values) != n {
		return bout{}, fmt.Errorf("kinetics: %w: bout %d has %d times and %d values", ErrShape, number, n, len(b.Values))
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
		if t, v := b.Seconds[i], b.Values[i]; math.IsNaN(t+v) || math.IsInf(t, 0) || math.IsInf(v, 0) {
			return bout{}, fmt.Errorf("kinetics: %w: sample %d of bout %d is %v at %v s", ErrNotFinite, i, number, v, t)
		}
		if b.Seconds[i] < 0 {
			return bout{}, fmt.Errorf("kinetics: %w: time %d of bout %d is %v, before its beginning", ErrArgument, i, number, b.Seconds[i])
		}
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch {
		case b.Seconds[i] < b.Seconds[j]:
			return -1
		case b.Seconds[i] > b.Seconds[j]:
			return 1
		}
		return 0
	})
	out := bout{t: make([]float64, n), y: make([]float64, n), x: make([]float64, n), g: make([]float64, n), e: make([]float64, n)}
	different := 0
	for i, o := range order {
		out.t[i] = b.Seconds[o]
		if i == 0 || out.t[i] != out.t[i-1] {
			different++
		}
		if i == 0 {
			out.origin = b.Values[o]
		}
		out.y[i] = b.Values[o] - out.origin
	}
	if different < 2 {
		return bout{}, fmt.Errorf("kinetics: %w: bout %d has samples at %d different times, need at least 2", ErrTooFew, number, different)
	}
	return out, nil
}

// fit fits start and gain at tau = exp(u) and returns the residual sum of squares
// and its derivative in u. The derivative is -2 e'g: the residual is orthogonal to
// what start and gain can do, so their change with u does not count (Golub and
// Pereyra 1973, SIAM J. Numer. Anal. 10:413).
func (b *bout) fit(u float64) (squares, slope float64) {
	rate := math.Exp(-u)
	n := float64(len(b.t))
	var mx, my float64
	for i, t := range b.t {
		b.x[i] = -math.Expm1(-t * rate)
		mx += b.x[i] / n
		my += b.y[i] / n
	}
	var xx, xy float64
	for i, x := range b.x {
		xx += (x - mx) * (x - mx)
		xy += (x - mx) * (b.y[i] - my)
	}
	b.meanX, b.spread, b.gain = mx, xx, 0
	if xx > 0 {
		b.gain = xy / xx
	}
	b.start = my - b.gain*mx
	for i, t := range b.t {
		b.e[i] = b.y[i] - my - b.gain*(b.x[i]-mx)
		b.g[i] = -b.gain * t * rate * (1 - b.x[i])
		squares += b.e[i] * b.e[i]
		slope -= 2 * b.e[i] * b.g[i]
	}
	return squares, slope
}

// problem is the search for u = ln tau: the minimum of
//
//	weight nu ln(RSS(u) + floor) + ((u - mean)/sd)^2
//
// with nu the samples less two for each bout. Without a prior that is the least
// RSS.
type problem struct {
	bouts   []bout
	nu      float64
	weight  float64 // below 1 when the errors hang together
	floor   float64 // keeps the logarithm of an exact fit finite
	prior   *Prior
	lo, hi  float64 // range of u
	samples int
	grid    []gridPoint
}

// criterion is the criterion and its slope at u from the sum of squares there.
func (p *problem) criterion(u, squares, slope float64) (value, valueSlope float64) {
	c := p.weight * p.nu
	value, valueSlope = c*math.Log(squares+p.floor), c*slope/(squares+p.floor)
	if p.prior != nil {
		z := (u - p.prior.MeanLog) / p.prior.SDLog
		value += z * z
		valueSlope += 2 * z / p.prior.SDLog
	}
	return value, valueSlope
}

func (p *problem) at(u float64) (value, slope float64) {
	squares, d := p.squares(u)
	return p.criterion(u, squares, d)
}

func (p *problem) squares(u float64) (squares, slope float64) {
	for i := range p.bouts {
		s, d := p.bouts[i].fit(u)
		squares += s
		slope += d
	}
	return squares, slope
}

// gridStep is the distance of grid points in ln tau. An exponential changes its
// shape over a factor of e in tau, so a step of an eighth of that misses no
// minimum that matters.
const gridStep = 0.125

type gridPoint struct{ u, squares, slope float64 }

// lay computes the sum of squares over the grid, once for all that follows.
func (p *problem) lay() {
	n := int(math.Ceil((p.hi - p.lo) / gridStep))
	p.grid = make([]gridPoint, n+1)
	for i := range p.grid {
		g := &p.grid[i]
		g.u = p.lo + (p.hi-p.lo)*float64(i)/float64(n)
		g.squares, g.slope = p.squares(g.u)
	}
}

// minimise gives the u of the least criterion. inside is false when that is an end
// of the range.
func (p *problem) minimise() (u, least float64, inside bool) {
	least = math.Inf(1)
	var before float64
	for i, g := range p.grid {
		value, slope := p.criterion(g.u, g.squares, g.slope)
		if i == 0 || i == len(p.grid)-1 {
			if value < least {
				u, least, inside = g.u, value, false
			}
		}
		if i > 0 && before < 0 && slope >= 0 {
			at := root(p.grid[i-1].u, g.u, before, slope, func(u float64) float64 { _, s := p.at(u); return s })
			if value, _ := p.at(at); value < least {
				u, least, inside = at, value, true
			}
		}
		before = slope
	}
	return u, least, inside
}

// limits gives the least and the largest u whose criterion does not exceed cut,
// -Inf and +Inf when that holds at an end of the range. It looks between the points
// of the grid and best, where the criterion is least.
func (p *problem) limits(best, cut float64) (low, high float64) {
	squares, slope := p.squares(best)
	grid := append(slices.Clone(p.grid), gridPoint{best, squares, slope})
	slices.SortStableFunc(grid, func(a, b gridPoint) int { return cmp.Compare(a.u, b.u) })
	above := func(u float64) float64 { value, _ := p.at(u); return value - cut }
	low, high = math.Inf(1), math.Inf(-1)
	var before float64
	for i, g := range grid {
		value, _ := p.criterion(g.u, g.squares, g.slope)
		value -= cut
		switch {
		case i == 0 && value <= 0:
			low = math.Inf(-1)
		case i > 0 && before > 0 && value <= 0 && math.IsInf(low, 1):
			low = root(grid[i-1].u, g.u, before, value, above)
		case i > 0 && before <= 0 && value > 0:
			high = root(grid[i-1].u, g.u, before, value, above)
		}
		if i == len(grid)-1 && value <= 0 {
			high = math.Inf(1)
		}
		before = value
	}
	return low, high
}

// root finds a zero of f between low and high, where it has opposite signs, by
// false position with the Illinois rule (Dowell and Jarratt 1971, BIT 11:168), and
// by halving when that is slow.
func root(low, high, atLow, atHigh float64, f func(float64) float64) float64 {
	side := 0
	for step := range 200 {
		if atLow == 0 {
			return low
		}
		if atHigh == 0 {
			return high
		}
		next := low + (high-low)*(atLow/(atLow-atHigh))
		if step%8 == 7 || !(next > low && next < high) {
			next = low + (high-low)/2
		}
		if high-low <= 1e-14*(1+math.Abs(low)) || next <= low || next >= high {
			break
		}
		at := f(next)
		if (at < 0) == (atLow < 0) {
			low, atLow = next, at
			if side == -1 {
				atHigh /= 2
			}
			side = -1
		} else {
			high, atHigh = next, at
			if side == 1 {
				atLow /= 2
			}
			side = 1
		}
	}
	return low + (high-low)/2
}
