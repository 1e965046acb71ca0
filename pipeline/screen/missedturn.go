package screen

import (
	"math"
	"slices"
)

const (
	// doubleStrokes is how many times the strokes typical of the session a
	// record of several lengths holds at least.
	doubleStrokes = 1.4
	// mostPieces is how many pieces of one length are looked for, and how many
	// lengths in one record.
	mostPieces = 3
)

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
