package screen

import "math"

const (
	// fewestSiblings is how many swims of a set tell what is swum at a place.
	fewestSiblings = 2
	// secondsScale and strokesScale are what a length lies off by chance, as a
	// share, and countScale in counts of the recorder besides.
	secondsScale, strokesScale, countScale = 0.03, 0.06, 1.2
	// mostMisfit is the misfit beyond which it does not matter how odd a length
	// is.
	mostMisfit = 25.0
	// fewestUneven is how many pairs of lengths tell how evenly somebody swims.
	fewestUneven = 15
	// otherStroke is the misfit of pieces that were recorded as different strokes:
	// now and then a recorder takes a length for another one, within which pieces
	// can differ, but more often another stroke is another length.
	otherStroke = 6.0
)

// expected is what a length takes at its place in a swim; NaN where that is not
// known.
type expected struct{ seconds, strokes float64 }

// misfit is how far a length lies off, in squared deviations.
func (e *expected) misfit(seconds, strokes, unit float64) float64 {
	if math.IsNaN(e.seconds) {
		return 0
	}
	off := (seconds - e.seconds) / (secondsScale * e.seconds)
	sum := off * off
	if by := (strokes - e.strokes) / math.Hypot(strokesScale*e.strokes, countScale*unit); !math.IsNaN(by) {
		sum += by * by
	}
	return math.Min(mostMisfit, sum)
}

// misfitWith is how far the lengths of a swim between two items lie off what is
// expected at their places once some of them are joined. Items of other swims
// do not count.
func (w *work) misfitWith(j *joining, from, to int) (sum float64) {
	first, end := w.swimOf(j.from)
	size := end - first - j.pieces + 1
	for i := max(from, first); i <= to && i < end; i++ {
		it := &w.items[i]
		seconds, strokes, place := it.durationS, it.strokes, i-first
		switch {
		case i == j.from:
			seconds, strokes = j.seconds, strokesOf(w.items[j.from:j.from+j.pieces])
			for k := j.from; k < j.last(); k++ {
				if w.source(&w.items[k]).Stroke != w.source(&w.items[k+1]).Stroke {
					sum += otherStroke
				}
			}
		case i > j.from && i <= j.last():
			continue
		case i > j.last():
			place -= j.pieces - 1
		}
		if !w.repairable(i) {
			continue
		}
		e := w.expectedAt(first, end, place, size, j)
		sum += e.misfit(seconds, strokes, countUnit(w.source(it)))
	}
	return sum
}

// expectedAt is what is expected at a place of a swim, items first <= i < end,
// which has size lengths once j is joined: what the swims of the same size
// beside it take there, else what the swim itself takes at every other place,
// else what it takes.
func (w *work) expectedAt(first, end, place, size int, j *joining) expected {
	g := &w.usuals
	found := g.siblings(first, end, place, size)
	if len(found) < fewestSiblings {
		found = g.alternate(first, end, place, j.from, j.last(), j.pieces-1)
	}
	if len(found) == 0 {
		return expected{math.NaN(), math.NaN()}
	}
	seconds, strokes := g.seconds[:0], g.strokes[:0]
	for _, i := range found {
		seconds = append(seconds, w.items[i].durationS)
		if n := w.items[i].strokes; !math.IsNaN(n) {
			strokes = append(strokes, n)
		}
	}
	g.seconds, g.strokes = seconds, strokes
	e := expected{median(seconds), math.NaN()}
	if len(strokes) > 0 {
		e.strokes = median(strokes)
	}
	return e
}

// siblings collects the items at a place of the swims of one size, stroke and
// pool that lie nearest to a swim, items first <= i < end.
func (g *usuals) siblings(first, end, place, size int) []int32 {
	items := g.w.items
	found := g.found[:0]
	for i, have := first-1, 0; i >= 0 && i >= first-setReach && have < closest; {
		from, to := g.w.swimOf(i)
		if at := from + place; to-from == size && items[at].class == items[first].class && g.w.repairable(at) {
			found, have = append(found, int32(at)), have+1
		}
		i = from - 1
	}
	for i, have := end, 0; i < len(items) && i < end+setReach && have < closest; {
		from, to := g.w.swimOf(i)
		if at := from + place; to-from == size && items[at].class == items[first].class && g.w.repairable(at) {
			found, have = append(found, int32(at)), have+1
		}
		i = to
	}
	g.found = found
	return found
}

// alternate collects the lengths of a swim, items first <= i < end, but for those
// from skip to last: those at every other place where two kinds of lengths take
// turns there, else all. What comes after the last moves up by gone places.
func (g *usuals) alternate(first, end, place, skip, last, gone int) []int32 {
	items := g.w.items
	var sum, sumOther float64
	var n, other int
	at := func(i int) (parity int, ok bool) {
		if i >= skip && i <= last || !g.w.repairable(i) {
			return 0, false
		}
		parity = i - first - place
		if i > last {
			parity -= gone
		}
		return parity & 1, true
	}
	from, to := max(first, skip-nearest), min(end, skip+nearest)
	for i := from; i < to; i++ {
		switch parity, ok := at(i); {
		case !ok:
		case parity == 0:
			sum, n = sum+items[i].durationS, n+1
		default:
			sumOther, other = sumOther+items[i].durationS, other+1
		}
	}
	turns := n >= fewestSiblings && other >= fewestSiblings
	if turns {
		mean, meanOther := sum/float64(n), sumOther/float64(other)
		var within float64
		for i := from; i < to; i++ {
			switch parity, ok := at(i); {
			case !ok:
			case parity == 0:
				within += math.Abs(items[i].durationS - mean)
			default:
				within += math.Abs(items[i].durationS - meanOther)
			}
		}
		turns = math.Abs(mean-meanOther) > 3*within/float64(n+other)
	}
	found := g.found[:0]
	for i := from; i < to; i++ {
		if parity, ok := at(i); ok && (!turns || parity == 0) {
			found = append(found, int32(i))
		}
	}
	g.found = found
	return found
}

// atPlace is the usual of an item among those at its place in swims of the same
// size beside it, or where lengths of two kinds take turns in its swim, among
// those at every other place. Items of the swim from skip to last do not count.
func (g *usuals) atPlace(i, skip, last int) (usual, bool) {
	first, end := g.w.swimOf(i)
	found := g.siblings(first, end, i-first, end-first)
	if len(found) < g.fewest() {
		found = g.alternate(first, end, i-first, skip, last, 0)
	}
	if len(found) < g.fewest() {
		return usual{}, false
	}
	u, ok := g.summarise(found)
	u.needsStrokes = true
	return u, ok && u.low == u.high
}

// unevenness is how far lengths lie from those two before or after them in their
// swim as a rule, a robust deviation as a share: lengths that take turns, or slow
// by degrees, are even. Learners swim unevenly.
func (g *usuals) unevenness() float64 {
	if g.uneven > 0 {
		return g.uneven
	}
	off := g.seconds[:0]
	items := g.w.items
	for i := 2; i < len(items); i++ {
		if items[i].swim == items[i-2].swim && g.w.repairable(i) && g.w.repairable(i-2) {
			off = append(off, math.Abs(items[i].durationS/items[i-2].durationS-1))
		}
	}
	g.seconds = off
	g.uneven = spreadFloor
	if len(off) >= fewestUneven {
		g.uneven = math.Max(spreadFloor, madToSD*median(off)/math.Sqrt2)
	}
	return g.uneven
}

// swimOf is the items from <= i < to of the swim of an item.
func (w *work) swimOf(i int) (from, to int) {
	g := &w.usuals
	if len(g.swims) == 0 {
		for from := 0; from < len(w.items); {
			to := from + 1
			for to < len(w.items) && w.items[to].swim == w.items[from].swim {
				to++
			}
			for range to - from {
				g.swims = append(g.swims, [2]int32{int32(from), int32(to)})
			}
			from = to
		}
	}
	return int(g.swims[i][0]), int(g.swims[i][1])
}
