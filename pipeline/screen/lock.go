package screen

import (
	"fmt"
	"math"

	"lengthwise/pipeline/normalise"
)

const (
	// lockLow and lockHigh bound heart rate over the stroke rate of a length
	// while it is locked on the strokes. Whole-length rates hold the glide off
	// the wall, in which nobody strokes: the arms go 5 to 20 % quicker than that.
	lockLow  = 0.88
	lockHigh = 1.3
	// lockStray is the share of samples outside those bounds that a lock may
	// hold.
	lockStray = 0.25
	fewStrays = 3
	// heldBPM is how far a value in a rest may lie from the last one swum and
	// still be that one, held by the sensor.
	heldBPM = 5
	// driftedBPM is how far a value in a rest has moved by degrees when it was
	// no held one: lengths' ends are known to a second or two only, so that the
	// next length's rate can show before it begins.
	driftedBPM = 10
)

// locked drops samples that follow the strokes and not the heart: for a long
// while the value over the stroke rate of the length (of both arms, or of one)
// stays near one, and it came there and left it by a jump. A heart that happens
// to beat as fast as the arms move comes and goes gently, but for where a lock
// begins or ends; where a lock lasts from the first sample on or to the last one,
// rests must tell (lockedOpen). Cycles come first: no
// swimmer's heart beats that slowly, so that what lies between two such locks is
// not taken for a third.
func (p *pulse) locked() {
	rates := p.strokeRates()
	for _, per := range [...]struct {
		factor float64
		words  string
	}{{0.5, "the stroke cycles a minute"}, {1, "the arm strokes a minute"}} {
		for from := 0; from < len(p.samples); from++ {
			if !p.follows(rates, per.factor, from) {
				continue
			}
			to := p.follow(rates, per.factor, from)
			if first, last, ok := p.betweenJumps(from, p.heldAfter(rates, to)); ok &&
				p.secondsFollowed(rates, per.factor, first, last) >= p.w.settings.LockSeconds {
				p.dropLocked(rates, per.factor, first, last,
					p.find(RuleLocked, fmt.Sprintf("near %s of the lengths for long, and by jumps there and back", per.words)))
			}
			from = to
		}
		p.lockedOpen(rates, per.factor, per.words)
	}
}

// follows tells whether a sample taken while swimming is near the strokes.
func (p *pulse) follows(rates []strokeRate, factor float64, i int) bool {
	return p.out[i] == 0 && rates[i].near(p.samples[i].BPM/factor)
}

// follow walks on from a sample that follows the strokes and gives the last one
// that does. It goes on through strays (a length miscounted by one stroke moves
// its rate by 8 %) and through rests in which the sensor holds its value or
// jumps to the heart's. A rest in which the value moves off by degrees shows
// that it was the heart's all along.
func (p *pulse) follow(rates []strokeRate, factor float64, from int) (last int) {
	last = from
	in, stray, jumped := 1, 0, false
	for i := from + 1; i < len(p.samples); i++ {
		jumped = jumped || p.jumpsInto(i)
		switch {
		case p.out[i] != 0:
		case !rates[i].known():
			if !jumped && math.Abs(p.samples[i].BPM-p.samples[last].BPM) > driftedBPM {
				return last
			}
		case p.follows(rates, factor, i):
			in, last, jumped = in+1, i, false
		default:
			if stray++; float64(stray) > math.Max(fewStrays, lockStray*float64(in)) {
				return last
			}
		}
	}
	return last
}

// betweenJumps narrows samples from <= i <= to down to those between the first
// jump that leads into them and the last that leads out.
func (p *pulse) betweenJumps(from, to int) (first, last int, ok bool) {
	for first = from; first <= to && !p.jumpsInto(first); first++ {
	}
	for last = to; last >= first && !p.jumpsInto(last+1); last-- {
	}
	return first, last, last >= first
}

// secondsFollowed is how long of samples from <= i <= to follow the strokes.
func (p *pulse) secondsFollowed(rates []strokeRate, factor float64, from, to int) (seconds float64) {
	for i := from + 1; i <= to; i++ {
		if p.follows(rates, factor, i) {
			seconds += math.Min(denseS, p.samples[i].TimeS-p.samples[i-1].TimeS)
		}
	}
	return seconds
}

// heldAfter is the last of the samples after a lock that hold its value in a
// rest.
func (p *pulse) heldAfter(rates []strokeRate, last int) int {
	to := last
	for to+1 < len(p.samples) && !rates[to+1].known() && math.Abs(p.samples[to+1].BPM-p.samples[last].BPM) <= heldBPM {
		to++
	}
	return to
}

// dropLocked drops the samples of a lock. In its rests some sensors hold the
// last value, others find the heart again: only the held ones go.
func (p *pulse) dropLocked(rates []strokeRate, factor float64, from, to int, found int8) {
	last := p.samples[from].BPM
	for i := from; i <= to; i++ {
		if p.out[i] != 0 {
			continue
		}
		if p.follows(rates, factor, i) {
			last = p.samples[i].BPM
		} else if !rates[i].known() && math.Abs(p.samples[i].BPM-last) > heldBPM {
			continue
		}
		p.out[i] = found
	}
}

// jumpsInto tells whether a jump leads from the sample before to sample i.
func (p *pulse) jumpsInto(i int) bool {
	if i <= 0 || i >= len(p.samples) || p.out[i] != 0 || p.out[i-1] != 0 {
		return false
	}
	return p.isJump(p.samples[i].BPM-p.samples[i-1].BPM, p.samples[i].TimeS-p.samples[i-1].TimeS)
}

// strokeRate is the arm strokes a minute while a sample was taken: of the length
// alone, and of it and its neighbours in the swim, which a stroke counted too
// many or too few moves less. Zero where nothing is known.
type strokeRate struct{ low, mean, high float64 }

func (r strokeRate) known() bool { return r.mean > 0 }

// near tells whether heart rate would be taken for locked on the strokes.
func (r strokeRate) near(bpm float64) bool { return bpm >= lockLow*r.low && bpm <= lockHigh*r.high }

// strokeRates gives the rate at each sample: of the length that was being swum,
// as it was recorded. A wrist or an arm feels both arms of a breaststroke or
// butterfly cycle as one, so there a cycle is taken for two.
func (p *pulse) strokeRates() []strokeRate {
	rates := make([]strokeRate, len(p.samples))
	lengths := p.w.session.Lengths
	k, of := 0, -1
	var now strokeRate
	for i := range p.samples {
		at := p.samples[i].TimeS
		for k < len(lengths) && !(at < lengths[k].StartS+lengths[k].DurationS) {
			k++
		}
		if k == len(lengths) {
			break
		}
		if at < lengths[k].StartS || lengths[k].Drill {
			continue
		}
		if of != k {
			now, of = rateAround(lengths, k), k
		}
		rates[i] = now
	}
	return rates
}

func rateAround(lengths []normalise.Length, k int) strokeRate {
	l := &lengths[k]
	alone := l.Strokes / l.DurationS
	if !(alone > 0) || math.IsInf(alone, 0) {
		return strokeRate{}
	}
	var strokes, seconds float64
	for i := max(0, k-1); i < min(len(lengths), k+2); i++ {
		if o := &lengths[i]; o.Swim == l.Swim && o.Strokes > 0 && o.DurationS > 0 {
			strokes, seconds = strokes+o.Strokes, seconds+o.DurationS
		}
	}
	perMinute := 60.0
	if l.SwimStroke == "breaststroke" || l.SwimStroke == "butterfly" {
		perMinute = 120
	}
	mean := strokes / seconds
	return strokeRate{low: perMinute * math.Min(alone, mean), mean: perMinute * mean, high: perMinute * math.Max(alone, mean)}
}
