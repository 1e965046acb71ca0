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
		it := &w.items[i]
		u, ok := w.usuals.besideSet(i)
		if !ok {
			continue
		}
		ratio, strokes := it.durationS/u.high, it.strokes/u.strokes
		if ratio < w.settings.StopInsideLow || it.durationS-u.high < outlyingBy*u.deviation ||
			strokes > stopStrokesHigh || strokes < stopStrokesLow || u.needsStrokes && math.IsNaN(strokes) || w.usuals.common(i) {
			continue
		}
		w.exclude(i, RuleStopInside, "%.1f s are %.2f times the usual %.1f s%s: a stop inside the length",
			it.durationS, ratio, u.high, strokesWords(strokes))
	}
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
		usual, ok := w.usualStrokes(i)
		if !ok {
			continue
		}
		ratio := it.strokes / usual
		if ratio >= w.settings.CountLow && ratio <= w.settings.CountHigh || math.Abs(it.strokes-usual) < countFloor*countUnit(l) {
			continue
		}
		w.exclude(i, RuleCountImplausible, "%.3g strokes in %.1f s are %.2f times the usual %.3g at that pace",
			it.strokes, it.durationS, ratio, usual)
	}
}

// usualStrokes is the median count of the swim's lengths of like pace, or where
// these are few of the session's; ok is false where too few were counted or
// where enough others count the same as the length itself.
func (w *work) usualStrokes(i int) (usual float64, ok bool) {
	g := &w.usuals
	it := &w.items[i]
	counts := g.strokes[:0]
	add := func(k int32) {
		o := &w.items[k]
		if math.Abs(o.durationS-it.durationS) <= alikeSeconds*it.durationS && !math.IsNaN(o.strokes) {
			counts = append(counts, o.strokes)
		}
	}
	for _, k := range g.around(i, i, func(o *item) bool { return o.swim == it.swim }) {
		add(k)
	}
	if len(counts) < g.fewest() {
		counts = counts[:0]
		alike := 0
		for _, k := range g.likePace(i, i, it.durationS, alikeSeconds) {
			add(k)
			if math.Abs(it.strokes/w.items[k].strokes-1) <= alikeStrokes/2 {
				alike++
			}
		}
		if alike >= g.fewest() {
			return 0, false
		}
	}
	g.strokes = counts
	if len(counts) < g.fewest() {
		return 0, false
	}
	return median(counts), true
}
