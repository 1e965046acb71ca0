package screen

import "math"

const (
	// strokesFollow is the share of the shift in seconds that the strokes must
	// have shifted the same way: a turn in the wrong place moves both, a change
	// of pace moves them apart.
	strokesFollow = 0.4
	// mostShifted is the largest share of a length that is taken for a turn in
	// the wrong place; beyond it the short length holds too little to tell.
	mostShifted = 0.6
)

// evenOutEarlyTurns finds two neighbours of one swim whose turn was recorded
// too early or too late (one short in seconds and strokes, one long, together
// two usual lengths) and shares their sum evenly: where between them the wall
// was is not known. Bouts keep their totals exactly.
func (w *work) evenOutEarlyTurns() {
	changed := false
	for i := 0; i+1 < len(w.items); i++ {
		found, ok := w.earlyTurn(i)
		if !ok {
			continue
		}
		if next, ok := w.earlyTurn(i + 1); ok && next.misfit < found.misfit {
			continue
		}
		a, b := &w.items[i], &w.items[i+1]
		a.verdict = w.find(RuleEarlyTurn, "%.1f s then %.1f s, together %.2f times two usual lengths of %.1f s: a turn recorded %s, shared evenly",
			a.durationS, b.durationS, (a.durationS+b.durationS)/2/found.usual, found.usual, found.where)
		b.verdict = a.verdict
		a.paired, b.paired = 1, 2
		seconds, strokes := (a.durationS+b.durationS)/2, (a.strokes+b.strokes)/2
		a.durationS, b.durationS, a.strokes, b.strokes = seconds, seconds, strokes, strokes
		b.startS = a.startS + seconds
		changed = true
		i++
	}
	if changed {
		w.usuals.reset()
	}
}

// misplaced is a turn recorded in the wrong place.
type misplaced struct {
	where  string // early or late
	usual  float64
	misfit float64 // of the pair, and of the neighbours that it leaves
}

func (w *work) earlyTurn(i int) (found misplaced, ok bool) {
	if !w.fresh(i) || !w.fresh(i+1) || !w.adjacent(i) || w.usuals.isPlain(i) && w.usuals.isPlain(i+1) {
		return misplaced{}, false
	}
	short, long := &w.items[i], &w.items[i+1]
	found.where = "early"
	if short.durationS > long.durationS {
		short, long, found.where = long, short, "late"
	}
	half := (short.durationS + long.durationS) / 2
	shift := (long.durationS - half) / half
	if short.class != long.class || shift < w.settings.EarlyTurnShift || shift > mostShifted {
		return misplaced{}, false
	}
	u, ok := w.usuals.usual(i, i+1, half)
	if !ok || u.off(half) > w.settings.EarlyTurnTolerance || long.durationS-short.durationS < outlyingBy*u.deviation {
		return misplaced{}, false
	}
	strokes := (short.strokes + long.strokes) / 2
	moved, ratio := (long.strokes-strokes)/strokes, strokes/u.strokes
	if moved < strokesFollow*shift || ratio < joinStrokesLow || ratio > joinStrokesHigh || u.needsStrokes && math.IsNaN(ratio) {
		return misplaced{}, false
	}
	if u.needsStrokes && !w.apart(short, long, &u) && (w.usuals.ordinary(i) && w.usuals.ordinary(i+1) ||
		u.low < u.high && u.off(short.durationS) < alikeSeconds && u.off(long.durationS) < alikeSeconds) {
		return misplaced{}, false
	}
	found.usual = u.at(half)
	found.misfit = u.misfit(half, strokes) + w.misfitOf(i-1, i, &u) + w.misfitOf(i+2, i, &u)
	return found, true
}

// apart tells whether the counts of two lengths lie so far on either side of the
// usual that counting does not explain it.
func (w *work) apart(short, long *item, u *usual) bool {
	by := countFloor * countUnit(w.source(short))
	return u.strokes-short.strokes >= by && long.strokes-u.strokes >= by
}
