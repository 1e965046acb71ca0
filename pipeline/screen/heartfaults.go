package screen

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
)

const (
	// heartSlope is how much more a heart may change with every second after the
	// first: 80 bpm with a time constant of 22 s are 4 bpm in one second and 16 in
	// five, 3 a second.
	heartSlope = 2.5
	// denseS is the longest time between two samples over which a jump can be
	// told from a change.
	denseS = 5.0
	// stepS is the longest time after which a step that comes back is one.
	stepS = 120.0
	// startS is the longest time for which a sensor shows its start value, and
	// fewestHeld the fewest samples that show it.
	startS     = 60.0
	fewestHeld = 3
	// backAgain is the share of a step by which it must come back.
	backAgain = 0.5
)

// clockBack drops samples whose times had been told before: where the clock was
// set back, what was written after it runs over what was written before it, and
// which of the two is late cannot be said. Records are in the order in which
// they were written; a stretch that was written late, into a gap of what came
// before it, is none.
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
	slices.SortFunc(order, func(a, b int) int { return byRecord(p.samples[a], p.samples[b]) })
	gap := p.gapIn(order)
	type told struct{ from, to float64 }
	var stretches []told
	written := 0 // stretches before the latest step back
	for k, i := range order {
		at := p.samples[i].TimeS
		if k > 0 && at < stretches[len(stretches)-1].to {
			written = len(stretches)
		}
		if k == 0 || written == len(stretches) || at-stretches[len(stretches)-1].to > gap {
			stretches = append(stretches, told{at, at})
		}
		stretches[len(stretches)-1].to = at
		for _, before := range stretches[:written] {
			if at >= before.from && at < before.to {
				p.out[i] = p.find(RuleClockBack, "the clock was set back: these times had been told before")
				break
			}
		}
	}
}

// gapIn is how many seconds without a sample are a gap: five times what lies
// between two samples as a rule, ten seconds at least.
func (p *pulse) gapIn(order []int) float64 {
	var between []float64
	for k := 1; k < len(order); k++ {
		if d := p.samples[order[k]].TimeS - p.samples[order[k-1]].TimeS; d > 0 {
			between = append(between, d)
		}
	}
	if len(between) == 0 {
		return 10
	}
	return math.Max(10, 5*median(between))
}

// steps drops samples between two jumps that no heart makes, up and down again
// or down and up, and notes a jump that does not come back: there one side is
// wrong, and which one cannot be said.
func (p *pulse) steps() {
	type jump struct {
		at   int // the sample after it
		size float64
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
				jumps = append(jumps, jump{i, size})
			}
		}
		before = i
	}
	for k := 0; k < len(jumps); k++ {
		there := jumps[k]
		if k == 0 && p.w.on(RuleStartValue) && p.heldFromStart(there.at) {
			found := p.find(RuleStartValue, "the sensor's first value, held until a jump that no heart makes")
			for i := range there.at {
				if p.out[i] == 0 {
					p.out[i] = found
				}
			}
			continue
		}
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
				continue
			}
		}
		s := &p.samples[there.at]
		p.notes = append(p.notes, read.Entry{FileID: s.FileID, Record: s.Record, Records: 1, Kind: read.KindHeartRate, Swimmer: p.w.session.Swimmer,
			Session: p.w.session.ID, Rule: RuleStep, Action: read.Noted,
			Detail: fmt.Sprintf("a jump of %+.0f bpm that does not come back: one side of it is wrong", there.size)})
	}
}

// heldFromStart tells whether a sensor showed one value from its first sample
// until sample at, a minute later at most.
func (p *pulse) heldFromStart(at int) bool {
	if p.samples[at].TimeS-p.samples[0].TimeS > startS {
		return false
	}
	shown, low, high := 0, math.Inf(1), math.Inf(-1)
	for i := range at {
		if p.out[i] == 0 {
			shown++
			low, high = math.Min(low, p.samples[i].BPM), math.Max(high, p.samples[i].BPM)
		}
	}
	return shown >= fewestHeld && high-low <= 1
}

// isJump tells whether a change of bpm within some seconds is more than a heart
// makes.
func (p *pulse) isJump(bpm, seconds float64) bool {
	return seconds <= denseS && math.Abs(bpm) >= p.w.settings.StepBPM+heartSlope*math.Max(0, seconds-1)
}
