package squad

import "math"

// counter turns a bout's continuous strokes into whole ones and counts them as a
// watch and a hand would. Its faults run on through the session's strokes, so
// totals do not depend on how bouts are cut into lengths.
type counter struct {
	watchMiss, watchAdd, handMiss, handAdd fault

	draw                  stream
	watchSD, handSD       float64
	watchShare, handShare float64 // of the bout under way
	watchCarry, handCarry float64 // part of a stroke that rounding left over
}

func newCounter(sw *Swimmer, sc *Scenario, st stream) counter {
	rates := func(e CountError, bias float64) (miss, add float64) {
		return min(0.5, e.MissPerStroke+max(0, -bias)), min(0.5, e.AddPerStroke+max(0, bias))
	}
	wm, wa := rates(sc.WatchCount, sw.WatchBias)
	hm, ha := rates(sc.HandCount, sw.HandBias)
	return counter{
		watchMiss: newFault(st, wm), watchAdd: newFault(st, wa), handMiss: newFault(st, hm), handAdd: newFault(st, ha),
		draw: st, watchSD: sc.WatchCount.BoutSD, handSD: sc.HandCount.BoutSD, watchShare: 1, handShare: 1,
	}
}

// begin draws the shares that a new bout is counted with.
func (c *counter) begin() {
	share := func(sd float64) float64 {
		if sd == 0 {
			return 1 // and draw nothing, so that no other number changes
		}
		return math.Exp(c.draw.normal(0, sd))
	}
	c.watchShare, c.handShare = share(c.watchSD), share(c.handSD)
	c.watchCarry, c.handCarry = 0, 0
}

// count returns what the watch and the hand make of true cycles and arm strokes.
func (c *counter) count(cycles, arms int) (countedCycles, countedArms int) {
	countedCycles = cycles - c.watchMiss.next(cycles) + c.watchAdd.next(cycles)
	countedArms = arms - c.handMiss.next(arms) + c.handAdd.next(arms)
	return scaled(countedCycles, c.watchShare, &c.watchCarry), scaled(countedArms, c.handShare, &c.handCarry)
}

// scaled is a share of a count in whole strokes; what rounding leaves over goes
// into the bout's next length.
func scaled(n int, share float64, carry *float64) int {
	if share == 1 {
		return n
	}
	exact := float64(n)*share + *carry
	whole := math.Round(exact)
	*carry = exact - whole
	return max(0, int(whole))
}

// swim fills the bout's strokes, counted and true, and its lengths if wanted.
func (w *worker) swim(s *Session, b *Bout, c *counter) {
	phase := w.plan.Float64()  // part of a stroke under way at the start
	watchArm := w.plan.IntN(2) // which arm enters first
	wobble := w.sc.LengthPaceSD
	n := b.LengthCount
	c.begin()

	first := len(w.sw.lengths)
	total := 0.0
	if w.sc.LengthDetail {
		for range n {
			share := math.Exp(w.detail.normal(0, wobble))
			total += share
			w.sw.lengths = append(w.sw.lengths, Length{DurationSeconds: share, Stroke: b.Stroke})
		}
	}
	if !w.sc.LengthDetail {
		b.ArmStrokes = int(phase + b.RateSPM*b.DurationSeconds/60)
		b.CountedCycles, b.CountedArms = c.count((b.ArmStrokes+watchArm)/2, b.ArmStrokes)
		return
	}

	glide := w.sw.GlideMetres / (w.sw.GlideSpeedRatio * b.SpeedMPS) // s after each push-off
	clock, elapsed := b.StartSeconds, 0.0
	strokes, cycles := 0, 0 // since the bout's start
	for i := range n {
		l := &w.sw.lengths[first+i]
		l.StartSeconds = clock
		l.DurationSeconds *= b.DurationSeconds / total
		clock += l.DurationSeconds
		elapsed += l.DurationSeconds
		done := int(phase + b.CleanRateSPM*(elapsed-float64(i+1)*glide)/60)
		if i == n-1 { // the sum is known exactly; do not let rounding add a stroke
			done = int(phase + b.RateSPM*b.DurationSeconds/60)
		}
		done = max(done, strokes)
		l.ArmStrokes = done - strokes
		watched := (done + watchArm) / 2
		l.CountedCycles, l.CountedArms = c.count(watched-cycles, l.ArmStrokes)
		strokes, cycles = done, watched
		b.CountedCycles += l.CountedCycles
		b.CountedArms += l.CountedArms
	}
	b.ArmStrokes = strokes
}
