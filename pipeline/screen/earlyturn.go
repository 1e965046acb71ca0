package screen

import (
	"fmt"
	"math"
)

const (
	// strokesFollow is the share of the shift in seconds that the strokes must
	// have shifted the same way: a turn in the wrong place moves both, a change
	// of pace moves them apart.
	strokesFollow = 0.4
	// bothOff is the share of the shift by which each of the two must lie off the
	// usual, one below and one above.
	bothOff = 0.4
	// mostShifted is the largest share of a length that is taken for a turn in
	// the wrong place; beyond it the short length holds too little to tell.
	mostShifted = 0.6
	// unevenShare is the share of the swimmer's unevenness that two lengths are given
	// as a deviation at least.
	unevenShare = 0.75
	// evenStrokesHigh is how many times the usual strokes two such lengths hold at
	// most.
	evenStrokesHigh = 1.3
	// oddEnough is the share beyond which it does not matter how much a neighbour
	// lies from the usual.
	oddEnough = 0.3
	// fewestRecurring is how many pairs besides make a pattern.
	fewestRecurring = 2
)

// evenOutEarlyTurns finds two neighbours of one swim whose turn was recorded
// too early or too late (one short in seconds and strokes, one long, together
// two usual lengths) and shares their sum as is usual: evenly, or where fast and
// easy lengths take turns, as at their places; where between them the wall was
// is not known. Bouts keep their totals exactly.
func (w *work) evenOutEarlyTurns() {
	changed := false
	for i := 0; i+1 < len(w.items); i++ {
		found, ok := w.misplacedTurn(i)
		if !ok {
			continue
		}
		if next, ok := w.misplacedTurn(i + 1); ok && next.misfit < found.misfit {
			continue
		}
		a, b := &w.items[i], &w.items[i+1]
		seconds, strokes := a.durationS+b.durationS, a.strokes+b.strokes
		words := fmt.Sprintf("two usual lengths of %.1f s: a turn recorded %s, shared evenly", (found.first+found.second)/2, found.where)
		if found.first != found.second {
			words = fmt.Sprintf("the usual %.1f s and %.1f s at their places: a turn recorded %s, shared so", found.first, found.second, found.where)
		}
		a.verdict = w.find(RuleEarlyTurn, "%.1f s then %.1f s, together %.2f times %s", a.durationS, b.durationS, seconds/(found.first+found.second), words)
		b.verdict = a.verdict
		a.paired, b.paired = 1, 2
		share := found.first / (found.first + found.second)
		a.durationS, b.durationS = share*seconds, (1-share)*seconds
		a.strokes, b.strokes = found.strokesShare*strokes, (1-found.strokesShare)*strokes
		b.startS = a.startS + a.durationS
		changed = true
		i++
	}
	if changed {
		w.usuals.reset()
	}
}

// misplaced is a turn recorded in the wrong place.
type misplaced struct {
	where         string  // early or late
	first, second float64 // usual seconds of the two lengths
	strokesShare  float64 // usual strokes of the first over those of both
	misfit        float64 // of the pair, and of the neighbours that it leaves
}

// misplacedTurn tells whether the turn between an item and the next was recorded
// in the wrong place: beside the usual of their like, or beside what is usual at
// their two places.
func (w *work) misplacedTurn(i int) (found misplaced, ok bool) {
	if !w.fresh(i) || !w.fresh(i+1) || !w.adjacent(i) || w.items[i].class != w.items[i+1].class ||
		w.usuals.isPlain(i) && w.usuals.isPlain(i+1) {
		return misplaced{}, false
	}
	if found, ok = w.earlyTurn(i); !ok {
		found, ok = w.earlyTurnAtPlaces(i)
	}
	return found, ok && !w.recurs(i)
}

func (w *work) earlyTurn(i int) (found misplaced, ok bool) {
	short, long := &w.items[i], &w.items[i+1]
	found.where = "early"
	if short.durationS > long.durationS {
		short, long, found.where = long, short, "late"
	}
	half := (short.durationS + long.durationS) / 2
	shift := (long.durationS - half) / half
	if shift < w.settings.EarlyTurnShift || shift > mostShifted {
		return misplaced{}, false
	}
	u, ok := w.usuals.usual(i, i+1, half)
	if !ok || u.off(half) > w.settings.EarlyTurnTolerance || long.durationS-short.durationS < outlyingBy*math.Max(u.deviation, unevenShare*w.usuals.unevenness()*half) {
		return misplaced{}, false
	}
	if by := bothOff * shift * half; u.low == u.high && (long.durationS-u.seconds < by || u.seconds-short.durationS < by) {
		return misplaced{}, false
	}
	strokes := (short.strokes + long.strokes) / 2
	moved, ratio := (long.strokes-strokes)/strokes, strokes/u.strokes
	if moved < strokesFollow*shift || ratio < joinStrokesLow || ratio > evenStrokesHigh || u.needsStrokes && math.IsNaN(ratio) {
		return misplaced{}, false
	}
	if u.needsStrokes && !w.apart(short, long, &u) && (w.usuals.ordinary(i) && w.usuals.ordinary(i+1) ||
		u.low < u.high && u.off(short.durationS) < alikeSeconds && u.off(long.durationS) < alikeSeconds) {
		return misplaced{}, false
	}
	found.first, found.second, found.strokesShare = u.at(half), u.at(half), 0.5
	found.misfit = u.misfit(half, strokes) + w.misfitOf(i-1, i, &u) + w.misfitOf(i+2, i, &u)
	return found, true
}

// earlyTurnAtPlaces holds two neighbours against what is usual at their places in
// the set: 41 s and 23 s where 36 s and 28 s are.
func (w *work) earlyTurnAtPlaces(i int) (found misplaced, ok bool) {
	a, b := &w.items[i], &w.items[i+1]
	u, ok1 := w.usuals.atPlace(i, i, i+1)
	v, ok2 := w.usuals.atPlace(i+1, i, i+1)
	if !ok1 || !ok2 {
		return misplaced{}, false
	}
	half := (u.seconds + v.seconds) / 2
	over, under := a.durationS-u.seconds, v.seconds-b.durationS // what the first has of the second
	found.where = "late"
	strokes := a.strokes - u.strokes + v.strokes - b.strokes
	if over < 0 {
		over, under, strokes, found.where = -over, -under, -strokes, "early"
	}
	shift := (over + under) / 2 / half
	off, counts := math.Abs(over-under)/2/half, (u.strokes+v.strokes)/2
	ratio := (a.strokes + b.strokes) / 2 / counts
	if shift < w.settings.EarlyTurnShift || shift > mostShifted || math.Min(over, under) < bothOff*shift*half || off > w.settings.EarlyTurnTolerance ||
		over+under < outlyingBy*math.Max(math.Max(u.deviation, v.deviation), unevenShare*w.usuals.unevenness()*half) ||
		!(strokes/2/counts >= strokesFollow*shift) || ratio < joinStrokesLow || ratio > evenStrokesHigh {
		return misplaced{}, false
	}
	found.first, found.second, found.strokesShare = u.seconds, v.seconds, u.strokes/(u.strokes+v.strokes)
	found.misfit = off + math.Abs(ratio-1)
	return found, true
}

// recurs tells whether a short and a long neighbour are how the set is swum, a
// drill and a swim, or the last length fast: enough other pairs at their places,
// in the same swim or in swims of its size beside it, take about the same.
func (w *work) recurs(i int) bool {
	first, end := w.swimOf(i)
	alike := 0
	count := func(k int) {
		if w.likeItem(i, k) && w.likeItem(i+1, k+1) {
			alike++
		}
	}
	for _, step := range [...]int{-2, 2} {
		for k := i + step; k >= first && k+1 < end; k += step {
			count(k)
		}
	}
	for _, k := range w.usuals.siblings(first, end, i-first, end-first) {
		count(int(k))
	}
	return alike >= fewestRecurring
}

// likeItem tells whether item k takes about the seconds and strokes of item i.
func (w *work) likeItem(i, k int) bool {
	a, b := &w.items[i], &w.items[k]
	return b.class == a.class && w.repairable(k) && math.Abs(b.durationS/a.durationS-1) <= alikeSeconds &&
		!(math.Abs(b.strokes/a.strokes-1) > alikeStrokes)
}

// misfitOf is how far item k, when it belongs to the swim of item i, lies from
// the usual.
func (w *work) misfitOf(k, i int, u *usual) float64 {
	if k < 0 || k >= len(w.items) || w.items[k].swim != w.items[i].swim || !w.repairable(k) {
		return 0
	}
	return math.Min(oddEnough, u.misfit(w.items[k].durationS, w.items[k].strokes))
}

// apart tells whether the counts of two lengths lie so far on either side of the
// usual that counting does not explain it.
func (w *work) apart(short, long *item, u *usual) bool {
	by := countFloor * countUnit(w.source(short))
	return u.strokes-short.strokes >= by && long.strokes-u.strokes >= by
}
