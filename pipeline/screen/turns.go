package screen

import (
	"math"
	"slices"
)

const (
	// joinStrokesLow and joinStrokesHigh bound the strokes of joined pieces
	// against the usual: a false turn loses a few, two sprints have far more.
	joinStrokesLow  = 0.6
	joinStrokesHigh = 1.3
	// sliver is the share of the usual below which a piece cannot be a length;
	// the other piece may then be of any length up to wholeShare.
	sliver     = 0.4
	wholeShare = 1.1
	// doubleStrokes is how many times the strokes typical of the session a
	// record of several lengths holds at least.
	doubleStrokes = 1.4
	// oddEnough is the share beyond which it does not matter how much a neighbour
	// lies from the usual.
	oddEnough = 0.3
	// mostPieces is how many pieces of one length are looked for, and how many
	// lengths in one record.
	mostPieces = 3
)

// joinFalseTurns joins neighbours of one swim that turns recorded in mid-pool
// parted: all clearly shorter than usual, together a usual length. An early
// turn (a short length, then one longer than usual) is left alone: the sum is
// that of two lengths. Where several neighbours could be meant, those are
// joined that leave the others of their swim most like the usual.
func (w *work) joinFalseTurns() {
	kept := w.items[:0:len(w.items)]
	for i := 0; i < len(w.items); {
		best := w.falseTurn(i)
		for k := i + 1; best.pieces > 0 && k < i+best.pieces; k++ {
			if later := w.falseTurn(k); later.pieces > 0 && later.misfit < best.misfit {
				best.pieces = 0
			}
		}
		if best.pieces == 0 {
			kept = append(kept, w.items[i])
			i++
			continue
		}
		kept = append(kept, w.join(w.items[i:i+best.pieces], best))
		i += best.pieces
	}
	if len(kept) < len(w.items) {
		w.items = kept
		w.usuals.reset()
	}
}

// joining is what makes one length of several pieces.
type joining struct {
	pieces         int // 0: nothing to join
	misfit         float64
	seconds, ratio float64 // together; strokes over the usual
	usual          float64
}

// falseTurn finds the two or three items from i on that are most likely the
// pieces of one length.
func (w *work) falseTurn(i int) (best joining) {
	for n := 2; n <= mostPieces; n++ {
		last := i + n - 1
		if last >= len(w.items) || !w.fresh(last-1) || !w.fresh(last) || !w.adjacent(last-1) {
			break
		}
		if w.usuals.isPlain(last-1) && w.usuals.isPlain(last) {
			break
		}
		if j, ok := w.joining(i, last); ok && (best.pieces == 0 || j.misfit < best.misfit) {
			best = j
		}
	}
	return best
}

func (w *work) joining(i, last int) (j joining, ok bool) {
	var seconds, longest float64
	shortest := math.Inf(1)
	for _, it := range w.items[i : last+1] {
		seconds += it.durationS
		longest, shortest = math.Max(longest, it.durationS), math.Min(shortest, it.durationS)
	}
	strokes := strokesOf(w.items[i : last+1])
	u, ok := w.usuals.usual(i, last, seconds)
	if !ok {
		return joining{}, false
	}
	off := u.off(seconds)
	short := longest < w.settings.FalseTurnShare*u.low && u.low-longest >= outlyingBy*u.deviation ||
		shortest < sliver*u.low && longest < wholeShare*u.high && last == i+1
	ratio := strokes / u.strokes
	if !short || off > w.settings.FalseTurnTolerance || ratio < joinStrokesLow || ratio > joinStrokesHigh ||
		u.needsStrokes && math.IsNaN(ratio) {
		return joining{}, false
	}
	return joining{pieces: last - i + 1, seconds: seconds, ratio: ratio, usual: u.at(seconds),
		misfit: u.misfit(seconds, strokes) + w.misfitOf(i-1, i, &u) + w.misfitOf(last+1, i, &u)}, true
}

// strokesOf is the strokes of pieces together. A recorder writes none for a
// piece too short to hold one; without a count in a longer piece the sum is not
// known.
func strokesOf(pieces []item) (sum float64) {
	var longest float64
	for _, p := range pieces {
		longest = math.Max(longest, p.durationS)
	}
	for _, p := range pieces {
		if !math.IsNaN(p.strokes) || p.durationS >= sliver*longest {
			sum += p.strokes
		}
	}
	return sum
}

// misfitOf is how far item k, when it belongs to the swim of item i, lies from
// the usual.
func (w *work) misfitOf(k, i int, u *usual) float64 {
	if k < 0 || k >= len(w.items) || w.items[k].swim != w.items[i].swim || !w.repairable(k) {
		return 0
	}
	return math.Min(oddEnough, u.misfit(w.items[k].durationS, w.items[k].strokes))
}

// join makes one item of pieces.
func (w *work) join(pieces []item, j joining) item {
	it := pieces[0]
	it.durationS, it.strokes = j.seconds, strokesOf(pieces)
	it.to = pieces[len(pieces)-1].to
	words := "two pieces"
	if len(pieces) > 2 {
		words = "three pieces"
	}
	it.verdict = w.find(RuleFalseTurn, "%s of %.1f s in all, %.2f times the usual %.1f s%s: joined",
		words, j.seconds, j.seconds/j.usual, j.usual, strokesWords(j.ratio))
	return it
}

// splitMissedTurns splits records that hold two or three lengths: about as many
// times the usual seconds, and strokes to match where both are known. A stop
// inside a length has the seconds but not the strokes.
func (w *work) splitMissedTurns() {
	more := 0
	for i := range w.items {
		if n := w.missedTurn(i); n > 1 {
			w.items[i].parts = int8(n)
			more += n - 1
		}
	}
	if more == 0 {
		return
	}
	// From the last item to the first, each to its new place.
	from := len(w.items)
	w.items = slices.Grow(w.items, more)[:from+more]
	to := len(w.items)
	for from--; from >= 0; from-- {
		it := w.items[from]
		if it.parts == 0 {
			to--
			w.items[to] = it
			continue
		}
		it.durationS, it.strokes = it.durationS/float64(it.parts), it.strokes/float64(it.parts)
		begin := it.startS
		for it.part = it.parts; it.part > 0; it.part-- {
			it.startS = begin + float64(it.part-1)*it.durationS
			to--
			w.items[to] = it
		}
	}
	w.usuals.reset()
}

// missedTurn tells how many lengths an item holds.
func (w *work) missedTurn(i int) (lengths int) {
	if !w.fresh(i) || w.usuals.isPlain(i) {
		return 1
	}
	for n := 2; n <= mostPieces; n++ {
		it := &w.items[i]
		u, ok := w.usuals.usual(i, i, it.durationS/float64(n))
		if !ok {
			continue
		}
		one := u.at(it.durationS / float64(n))
		times, ratio := it.durationS/one, it.strokes/u.strokes
		scale := float64(n) / 2
		if times < w.settings.MissedTurnLow*scale || times > w.settings.MissedTurnHigh*scale || int(math.Round(times)) != n ||
			it.durationS-one < outlyingBy*u.deviation || ratio < w.settings.MissedTurnStrokesLow*scale ||
			u.needsStrokes && (math.IsNaN(ratio) || w.usuals.overTypical(i) < doubleStrokes) {
			continue
		}
		it.verdict = w.find(RuleMissedTurn, "%.1f s are %.2f times the usual %.1f s%s: split into %d",
			it.durationS, times, one, strokesWords(ratio), n)
		return n
	}
	return 1
}

// strokesWords says how strokes compare with the usual.
func strokesWords(ratio float64) string {
	if math.IsNaN(ratio) {
		return ""
	}
	return ", strokes " + times(ratio)
}
