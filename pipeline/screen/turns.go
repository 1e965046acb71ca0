package screen

import (
	"fmt"
	"math"

	"lengthwise/pipeline/read"
)

const (
	// joinStrokesLow and joinStrokesHigh bound the strokes of two joined
	// parts against the usual: a false turn loses a few, two sprints have far
	// more.
	joinStrokesLow  = 0.6
	joinStrokesHigh = 1.3
)

// joinFalseTurns joins neighbours of one swim that a turn recorded in mid-pool
// parted: both clearly shorter than usual, together a usual length. An early
// turn (a short length, then one longer than usual) is left alone: the sum is
// that of two lengths. Where either of two neighbours could be meant, the pair
// that is closer to the usual is joined.
func (w *work) joinFalseTurns() {
	groups := newGroups(w)
	joined := make([]item, 0, len(w.items))
	for i := 0; i < len(w.items); i++ {
		off, detail := w.falseTurn(groups, i)
		if math.IsInf(off, 1) {
			joined = append(joined, w.items[i])
			continue
		}
		if next, _ := w.falseTurn(groups, i+1); next < off {
			joined = append(joined, w.items[i])
			continue
		}
		joined = append(joined, joinItems(w.items[i], w.items[i+1], detail))
		i++
	}
	w.items = joined
}

// falseTurn tells how far the sum of item i and the next lies from a usual
// length, as a share of it; +Inf when they are not the parts of one length.
func (w *work) falseTurn(groups *groups, i int) (off float64, detail string) {
	none := math.Inf(1)
	if i+1 >= len(w.items) || !w.repairable(i) || !w.repairable(i+1) || !w.adjacent(i) {
		return none, ""
	}
	a, b := &w.items[i].length, &w.items[i+1].length
	sum, strokes := a.DurationS+b.DurationS, a.Strokes+b.Strokes
	u, ok := groups.usual(i, i+1, sum)
	if !ok {
		return none, ""
	}
	longer := math.Max(a.DurationS, b.DurationS)
	off = math.Abs(sum/u.seconds - 1)
	if longer >= w.settings.FalseTurnShare*u.seconds || u.seconds-longer < outlyingBy*u.deviation ||
		off > w.settings.FalseTurnTolerance {
		return none, ""
	}
	ratio := strokes / u.strokes
	if ratio < joinStrokesLow || ratio > joinStrokesHigh || u.needsStrokes && math.IsNaN(ratio) {
		return none, ""
	}
	if u.needsStrokes && groups.ordinary(i) && groups.ordinary(i+1) {
		return none, ""
	}
	return off, fmt.Sprintf("%.1f s and %.1f s, together %.2f times the usual %.1f s%s: joined",
		a.DurationS, b.DurationS, sum/u.seconds, u.seconds, strokesWords(ratio))
}

func joinItems(a, b item, detail string) item {
	l := a.length // its record and recorded values; the used ones are sums
	l.DurationS += b.length.DurationS
	l.Strokes += b.length.Strokes
	l.End = b.length.End
	if b.length.DurationS > a.length.DurationS {
		l.Stroke = b.length.Stroke
	}
	return item{length: l, from: a.from, to: b.to, rule: RuleFalseTurn, detail: detail}
}

// splitMissedTurns splits lengths that hold two: about twice the usual
// seconds, and strokes to match where both are known. A stop inside a length
// has the seconds but not the strokes.
func (w *work) splitMissedTurns() {
	groups := newGroups(w)
	split := make([]item, 0, len(w.items))
	for i := range w.items {
		detail, ok := w.missedTurn(groups, i)
		if !ok {
			split = append(split, w.items[i])
			continue
		}
		first, second := w.items[i], w.items[i]
		half := first.length.DurationS / 2
		for k, part := range []*item{&first, &second} {
			part.half, part.rule, part.detail = k+1, RuleMissedTurn, detail
			part.length.DurationS = half
			part.length.Strokes /= 2
		}
		first.length.End = read.Reading{HRBPM: math.NaN(), DelayS: math.NaN()}
		second.length.StartS += half
		split = append(split, first, second)
	}
	w.items = split
}

func (w *work) missedTurn(groups *groups, i int) (detail string, ok bool) {
	if !w.repairable(i) || w.items[i].rule != "" {
		return "", false
	}
	l := &w.items[i].length
	u, ok := groups.usual(i, i, l.DurationS/2)
	if !ok {
		return "", false
	}
	times, ratio := l.DurationS/u.seconds, l.Strokes/u.strokes
	if times < w.settings.MissedTurnLow || times > w.settings.MissedTurnHigh ||
		l.DurationS-u.seconds < outlyingBy*u.deviation ||
		ratio < w.settings.MissedTurnStrokesLow || u.needsStrokes && (math.IsNaN(ratio) || groups.ordinary(i)) {
		return "", false
	}
	return fmt.Sprintf("%.1f s are %.2f times the usual %.1f s%s: split into two",
		l.DurationS, times, u.seconds, strokesWords(ratio)), true
}

// strokesWords says how strokes compare with the usual.
func strokesWords(ratio float64) string {
	if math.IsNaN(ratio) {
		return ""
	}
	return fmt.Sprintf(", strokes %.2f times", ratio)
}

// repairable tells whether an item was recorded as one length and is still in.
func (w *work) repairable(i int) bool {
	it := &w.items[i]
	return it.out == "" && it.length.Kind == read.KindLength && it.length.Covers <= 1
}

// adjacent tells whether nothing lies between item i and the next: one swim,
// one pool, no recorded rest.
func (w *work) adjacent(i int) bool {
	a, b := &w.items[i], &w.items[i+1]
	if a.length.Swim != b.length.Swim || a.length.PoolM != b.length.PoolM || b.from != a.to+1 {
		return false
	}
	return !w.rested[b.from]
}
