package screen

import "math"

const (
	// joinStrokesLow and joinStrokesHigh bound the strokes of joined pieces
	// against the usual: a false turn loses a few, two sprints have far more.
	joinStrokesLow  = 0.6
	joinStrokesHigh = 1.2
	// sliver is the share of the usual below which a piece cannot be a length;
	// the other piece may then be of any length up to wholeShare.
	sliver     = 0.4
	wholeShare = 1.1
	// tooQuick is how many times faster than anybody swims a piece is that is no
	// length, whatever else the session holds.
	tooQuick = 2
	// sliverStrokes is how many strokes more than its share such a piece holds at
	// most, and how many times its share.
	sliverStrokes, sliverShare = 1.25, 1.25
)

// joinFalseTurns joins neighbours of one swim that turns recorded in mid-pool
// parted: all clearly shorter than usual, together a usual length; or one too
// short for a length at all, with a neighbour. An early turn (a short length,
// then one longer than usual) is left alone: the sum is that of two lengths.
// Where several neighbours could be meant, those are joined that leave the
// others of their swim most like what is swum at their places.
func (w *work) joinFalseTurns() {
	var found []joining
	for i := 0; i < len(w.items); {
		if j := w.falseTurn(i); j.pieces > 0 {
			found = append(found, j)
			i += j.pieces
			continue
		}
		i++
	}
	if len(found) == 0 {
		return
	}
	joined := make([]item, 0, cap(w.items))
	next := 0
	for _, j := range found {
		joined = append(joined, w.items[next:j.from]...)
		joined = append(joined, w.join(w.items[j.from:j.from+j.pieces], j))
		next = j.from + j.pieces
	}
	w.items = append(joined, w.items[next:]...)
	w.usuals.reset()
}

// joining is what makes one length of several pieces.
type joining struct {
	from, pieces   int     // no pieces: nothing to join
	seconds, ratio float64 // together; strokes over the usual
	usual          float64 // seconds, NaN where there is no usual
}

func (j *joining) last() int { return j.from + j.pieces - 1 }

// falseTurn finds the two or three items from i on that are the pieces of one
// length; none when others that begin later and share items with them are
// likelier.
func (w *work) falseTurn(i int) (best joining) {
	all := w.joinings(i, nil)
	if len(all) == 0 {
		return best
	}
	end := 0
	for _, j := range all {
		end = max(end, j.last())
	}
	for k := i + 1; k <= end; k++ {
		all = w.joinings(k, all)
	}
	to := 0
	for _, j := range all {
		to = max(to, j.last())
	}
	least := math.Inf(1)
	for _, j := range all {
		if misfit := w.misfitWith(&j, i-1, to+1); misfit < least {
			least, best = misfit, j
		}
	}
	if best.from != i {
		return joining{}
	}
	return best
}

// joinings adds the joinings that begin at an item.
func (w *work) joinings(i int, to []joining) []joining {
	for n := 2; n <= mostPieces; n++ {
		last := i + n - 1
		if last >= len(w.items) || !w.fresh(last-1) || !w.fresh(last) || !w.adjacent(last-1) {
			break
		}
		if w.usuals.isPlain(last-1) && w.usuals.isPlain(last) {
			break
		}
		if j, ok := w.joining(i, last); ok {
			to = append(to, j)
		}
	}
	return to
}

func (w *work) joining(i, last int) (j joining, ok bool) {
	pieces := w.items[i : last+1]
	var seconds, longest float64
	short := &pieces[0]
	for k := range pieces {
		seconds += pieces[k].durationS
		longest = math.Max(longest, pieces[k].durationS)
		if pieces[k].durationS < short.durationS {
			short = &pieces[k]
		}
	}
	strokes := strokesOf(pieces)
	j = joining{from: i, pieces: len(pieces), seconds: seconds, ratio: math.NaN(), usual: math.NaN()}
	u, ok := w.usuals.usual(i, last, seconds)
	if !ok {
		return j, len(pieces) == 2 && w.noLength(short) && !w.noLength(&item{durationS: longest, from: short.from}) && w.inShare(short, strokes, seconds)
	}
	j.usual, j.ratio = u.at(seconds), strokes/u.strokes
	allShort := longest < w.settings.FalseTurnShare*u.low && u.low-longest >= outlyingBy*u.deviation
	one := short.durationS < sliver*u.low && longest < wholeShare*u.high && len(pieces) == 2 && w.inShare(short, strokes, seconds)
	if allShort && u.needsStrokes && w.sprinted(i, last) {
		return j, false
	}
	return j, (allShort || one) && u.off(seconds) <= w.settings.FalseTurnTolerance &&
		!(j.ratio < joinStrokesLow || j.ratio > joinStrokesHigh) && !(u.needsStrokes && math.IsNaN(j.ratio))
}

// sprinted tells whether items that are a whole swim are no pieces but lengths
// swum fast: another whole swim of one length, which no turn can have parted, took
// as long as one of them.
func (w *work) sprinted(i, last int) bool {
	if first, end := w.swimOf(i); first != i || end != last+1 {
		return false
	}
	for k := max(0, i-setReach); k < min(len(w.items), last+setReach+1); k++ {
		o := &w.items[k]
		if o.class != w.items[i].class || !w.repairable(k) || k >= i && k <= last {
			continue
		}
		for _, piece := range w.items[i : last+1] {
			if math.Abs(o.durationS/piece.durationS-1) <= alikeSeconds {
				if first, end := w.swimOf(k); end-first == 1 {
					return true
				}
			}
		}
	}
	return false
}

// noLength tells whether an item was over far too soon for a length.
func (w *work) noLength(it *item) bool {
	return w.source(it).PoolM/it.durationS > tooQuick*w.settings.FastestMPS
}

// inShare tells whether a piece holds no more strokes than its share of the
// seconds: one that does is a length told wrongly and no piece.
func (w *work) inShare(piece *item, strokes, seconds float64) bool {
	return !(piece.strokes > sliverStrokes*countUnit(w.source(piece))+sliverShare*strokes*piece.durationS/seconds)
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

// join makes one item of pieces.
func (w *work) join(pieces []item, j joining) item {
	it := pieces[0]
	it.durationS, it.strokes = j.seconds, strokesOf(pieces)
	it.to = pieces[len(pieces)-1].to
	words := "two pieces"
	if len(pieces) > 2 {
		words = "three pieces"
	}
	if math.IsNaN(j.usual) {
		it.verdict = w.find(RuleFalseTurn, "two pieces of %.1f s in all, one of them too short for a length: joined", j.seconds)
		return it
	}
	it.verdict = w.find(RuleFalseTurn, "%s of %.1f s in all, %.2f times the usual %.1f s%s: joined",
		words, j.seconds, j.seconds/j.usual, j.usual, strokesWords(j.ratio))
	return it
}
