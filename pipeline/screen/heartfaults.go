package screen

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lengthwise/pipeline/normalise"
)

const (
	// heartSlope is how much a heart changes from second to second at most when
	// it starts or stops working hard: 80 bpm with a time constant of 20 s are
	// 4 bpm in the first second.
	heartSlope = 4.0
	// denseS is the longest time between two samples over which a jump can be
	// told from a change.
	denseS = 5.0
	// stepS is the longest time after which a step that comes back is one.
	stepS = 120.0
	// backAgain is the share of a step by which it must come back.
	backAgain = 0.5
	// lockLow and lockHigh bound heart rate over the stroke rate of a length
	// while it is locked on the strokes. Whole-length rates hold the glide off
	// the wall, in which nobody strokes: the arms go 5 to 20 % quicker than that.
	lockLow  = 0.9
	lockHigh = 1.25
	// lockStray is the share of samples outside those bounds that a lock may
	// hold.
	lockStray = 0.1
)

// clockBack drops samples whose times had been told before: where the clock was
// set back, what was written after it runs over what was written before it, and
// which of the two is late cannot be said. Records are in the order in which
// they were written.
func (p *pulse) clockBack() {
	byRecord := func(a, b normalise.Sample) int { return cmp.Compare(a.Record, b.Record) }
	if slices.IsSortedFunc(p.samples, byRecord) {
		return
	}
	order := make([]int, 0, len(p.samples))
	for i := range p.samples {
		if p.out[i] == 0 {
			order = append(order, i)
		}
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(p.samples[a].Record, p.samples[b].Record) })
	type told struct{ from, to float64 }
	var stretches []told
	for k, i := range order {
		at := p.samples[i].TimeS
		if k == 0 || at < p.samples[order[k-1]].TimeS {
			stretches = append(stretches, told{at, at})
		}
		now := len(stretches) - 1
		stretches[now].to = at
		for _, before := range stretches[:now] {
			if at >= before.from && at < before.to {
				p.out[i] = p.find(RuleClockBack, "the clock was set back: these times had been told before")
				break
			}
		}
	}
}

// steps drops samples between two jumps that no heart makes, up and down again
// or down and up, and notes a jump that does not come back: there one side is
// wrong, and which one cannot be said.
func (p *pulse) steps() {
	type jump struct {
		at, before int // samples
		size       float64
	}
	var jumps []jump
	before := -1
	for i := range p.samples {
		if p.out[i] != 0 {
			continue
		}
		if before >= 0 {
			size := p.samples[i].BPM - p.samples[before].BPM
			if p.isJump(size, p.samples[i].TimeS-p.samples[before].TimeS) {
				jumps = append(jumps, jump{i, before, size})
			}
		}
		before = i
	}
	for k := 0; k < len(jumps); k++ {
		there := jumps[k]
		if k+1 < len(jumps) {
			back := jumps[k+1]
			if p.samples[back.at].TimeS-p.samples[there.at].TimeS <= stepS && math.Abs(there.size+back.size) <= backAgain*math.Abs(there.size) {
				found := p.find(RuleStep, "between two jumps that no heart makes")
				for i := there.at; i < back.at; i++ {
					if p.out[i] == 0 {
						p.out[i] = found
					}
				}
				k++
			}
		}
	}
}

// isJump tells whether a change of bpm within some seconds is more than a heart
// makes.
func (p *pulse) isJump(bpm, seconds float64) bool {
	return seconds <= denseS && math.Abs(bpm) >= p.w.settings.StepBPM+heartSlope*math.Max(0, seconds-1)
}

// locked drops samples that follow the strokes and not the heart: for a long
// while the value over the stroke rate of the length (of both arms, or of one)
// stays near one, and it came there or left it by a jump. A heart that happens
// to beat as fast as the arms move comes and goes gently.
func (p *pulse) locked() {
	rates := p.strokeRates()
	for _, per := range [...]struct {
		factor float64
		words  string
	}{{1, "the arm strokes a minute"}, {0.5, "the stroke cycles a minute"}} {
		for from := 0; from < len(p.samples); {
			to, lastIn, seconds := p.follow(rates, per.factor, from)
			if seconds >= p.w.settings.LockSeconds && (p.jumpsInto(from) || p.jumpsInto(lastIn+1)) {
				found := p.find(RuleLocked, fmt.Sprintf("near %s of the lengths for long, and not by degrees", per.words))
				p.dropLocked(rates, from, lastIn, found)
			}
			from = max(to, from+1)
		}
	}
}

// dropLocked drops the samples of a lock. In its rests some sensors hold the
// last value, others find the heart again: only the held ones go.
func (p *pulse) dropLocked(rates []strokeRate, from, to int, found int8) {
	const held = 5 // bpm
	last := math.NaN()
	for i := from; i <= to; i++ {
		if rates[i].known() {
			last = p.samples[i].BPM
		} else if math.Abs(p.samples[i].BPM-last) > held {
			continue
		}
		if p.out[i] == 0 {
			p.out[i] = found
		}
	}
}

// follow walks from a sample on while values stay within bounds of the rate,
// for the swum part, and gives the sample after the walk, the last one within
// bounds and the seconds swum. A walk goes on through rests and lengths without
// a count, which say nothing, and ends where the value jumps and the rate does
// not.
func (p *pulse) follow(rates []strokeRate, factor float64, from int) (to, lastIn int, seconds float64) {
	in, stray := 0, 0
	lastIn = from
	for to = from; to < len(p.samples); to++ {
		if p.out[to] != 0 || !rates[to].known() {
			continue
		}
		x, before := &p.samples[to], &p.samples[lastIn]
		if !rates[to].near(x.BPM / factor) {
			stray++
			if in == 0 || float64(stray) > math.Max(2, lockStray*float64(in)) {
				break
			}
			continue
		}
		if in > 0 {
			if p.isJump(x.BPM-before.BPM, x.TimeS-before.TimeS) && !(rates[to] != rates[lastIn] &&
				!p.isJump(x.BPM-before.BPM*rates[to].mean/rates[lastIn].mean, x.TimeS-before.TimeS)) {
				break
			}
			seconds += math.Min(denseS, x.TimeS-before.TimeS)
		}
		in, lastIn = in+1, to
	}
	if in == 0 {
		return to, from, 0
	}
	return lastIn + 1, lastIn, seconds
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
