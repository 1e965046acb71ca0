package screen

import (
	"fmt"
	"math"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/study"
)

const (
	// countFloor is how many counts of its recorder a length's count must lie
	// from the usual, whatever its share: one stroke more or less is counting.
	countFloor = 2.5
	// countOutlyingBy is how many deviations it lies off besides: some recorders
	// miscount every other length. They are told by the mean absolute deviation,
	// since counts are so coarse that the median one is often zero; meanToSD, the
	// square root of pi/2, makes a standard deviation of it.
	countOutlyingBy = 3.5
	meanToSD        = 1.2533
	// stopStrokesLow and stopStrokesHigh bound the strokes of a length with a
	// stop inside over the usual: some more for starting again, no second length.
	stopStrokesLow  = 0.75
	stopStrokesHigh = 1.5
)

// countUnit is what one count of the recorder adds to a length's strokes.
func countUnit(l *normalise.Length) float64 {
	if l.Basis == study.Cycles && l.SwimStroke != "breaststroke" && l.SwimStroke != "butterfly" {
		return 2 // one arm's entries stand for both
	}
	return 1
}

// times says a ratio in words.
func times(ratio float64) string { return fmt.Sprintf("%.2f times", ratio) }

// excludeStops excludes lengths in which the swimmer stopped: far more seconds
// than usual, strokes as usual. How long the stop was is not known, and what
// the heart did after it is not the heart rate of steady swimming; so nothing
// is repaired, the length leaves, and its bout ends before it.
func (w *work) excludeStops() {
	for i := range w.items {
		if !w.fresh(i) || w.usuals.isPlain(i) {
			continue
		}
		if u, ok := w.usuals.besideSet(i); ok && w.stopped(i, &u) && !w.usuals.common(i) &&
			(!u.needsStrokes || !w.usuals.ordinaryHere(i) && w.alone(i, &u, func(int) (usual, bool) { return u, true })) {
			w.excludeStop(i, &u)
		} else if u, ok := w.usuals.atPlace(i, i, i); ok && w.stopped(i, &u) &&
			w.alone(i, &u, func(k int) (usual, bool) { return w.usuals.atPlace(k, i, i) }) {
			w.excludeStop(i, &u)
		}
	}
}

// stopped tells whether an item took far more than the usual seconds with about
// the usual strokes.
func (w *work) stopped(i int, u *usual) bool {
	it := &w.items[i]
	strokes := it.strokes / u.strokes
	return it.durationS/u.high >= w.settings.StopInsideLow && it.durationS-u.high >= outlyingBy*u.deviation &&
		!(strokes > stopStrokesHigh || strokes < stopStrokesLow) && !(u.needsStrokes && math.IsNaN(strokes))
}

// alone tells whether the length is slow and not its swim: beside it in the swim
// lies one that is much nearer to what is usual for it. Where the swim has no
// other, lengths around it must not take the like.
func (w *work) alone(i int, u *usual, usualOf func(k int) (usual, bool)) bool {
	first, end := w.swimOf(i)
	if end-first == 1 {
		return !w.usuals.ordinaryHere(i)
	}
	over := w.items[i].durationS/u.high - 1
	for _, k := range [...]int{i - 1, i + 1} {
		if k < first || k >= end || !w.repairable(k) {
			continue
		}
		if o, ok := usualOf(k); ok && w.items[k].durationS/o.high-1 < over/2 {
			return true
		}
	}
	return false
}

func (w *work) excludeStop(i int, u *usual) {
	it := &w.items[i]
	w.exclude(i, RuleStopInside, "%.1f s are %.2f times the usual %.1f s%s: a stop inside the length",
		it.durationS, it.durationS/u.high, u.high, strokesWords(it.strokes/u.strokes))
}

// excludeCounts excludes lengths whose count does not fit their pace, beside
// lengths of the same pace: in the same swim, else in the session. Lengths
// whose rate or instruction was set are exempt: there an unusual count is what
// was asked for.
func (w *work) excludeCounts() {
	for i := range w.items {
		if !w.repairable(i) || w.usuals.isPlain(i) {
			continue
		}
		it := &w.items[i]
		l := w.source(it)
		if math.IsNaN(it.strokes) || designed(l) {
			continue
		}
		usual, deviation, ok := w.usualStrokes(i)
		if !ok {
			continue
		}
		ratio, off := it.strokes/usual, math.Abs(it.strokes-usual)
		if ratio >= w.settings.CountLow && ratio <= w.settings.CountHigh || off < countFloor*countUnit(l) || off < countOutlyingBy*deviation {
			continue
		}
		w.exclude(i, RuleCountImplausible, "%.3g strokes in %.1f s are %.2f times the usual %.3g at that pace",
			it.strokes, it.durationS, ratio, usual)
	}
}

// usualStrokes is the median count of the swim's lengths of like pace, or where
// these are few of the session's, with its deviation; ok is false where too few
// were counted or where enough others count the same as the length itself.
func (w *work) usualStrokes(i int) (usual, deviation float64, ok bool) {
	g := &w.usuals
	it := &w.items[i]
	like := g.around(i, i, func(o *item) bool { return o.swim == it.swim })
	counts := w.countsAtPaceOf(it, like)
	if len(counts) < g.fewest() {
		like = g.likePace(i, i, it.durationS, alikeSeconds)
		counts = w.countsAtPaceOf(it, like)
		alike := 0
		for _, n := range counts {
			if math.Abs(it.strokes/n-1) <= alikeStrokes/2 {
				alike++
			}
		}
		if len(counts) < g.fewest() || alike >= g.fewest() {
			return 0, 0, false
		}
	}
	usual = median(counts)
	for _, n := range counts {
		deviation += math.Abs(n - usual)
	}
	return usual, meanToSD * deviation / float64(len(counts)), true
}

// countsAtPaceOf is the known strokes of those items that take about as long as
// one.
func (w *work) countsAtPaceOf(it *item, items []int32) []float64 {
	counts := w.usuals.strokes[:0]
	for _, k := range items {
		if o := &w.items[k]; math.Abs(o.durationS-it.durationS) <= alikeSeconds*it.durationS && !math.IsNaN(o.strokes) {
			counts = append(counts, o.strokes)
		}
	}
	w.usuals.strokes = counts
	return counts
}
