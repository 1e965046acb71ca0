package screen

import "math"

// isPlain tells whether an item is so like its swim, or where the swim is
// short like others of the session, that no rule need look at it.
func (g *usuals) isPlain(i int) bool {
	if len(g.plain) == 0 {
		if cap(g.plain) < len(g.w.items) {
			g.plain = make([]bool, len(g.w.items))
		}
		g.plain = g.plain[:len(g.w.items)]
		for from := 0; from < len(g.w.items); {
			to := from + 1
			for to < len(g.w.items) && to-from <= 2*nearest && g.w.items[to].swim == g.w.items[from].swim {
				to++
			}
			g.markPlain(from, to)
			from = to
		}
	}
	return g.plain[i]
}

// markPlain judges items from <= i < to of one swim by their medians.
func (g *usuals) markPlain(from, to int) {
	seconds, strokes := g.seconds[:0], g.strokes[:0]
	for i := from; i < to; i++ {
		if g.w.repairable(i) {
			seconds = append(seconds, g.w.items[i].durationS)
			if n := g.w.items[i].strokes; !math.IsNaN(n) {
				strokes = append(strokes, n)
			}
		}
	}
	g.seconds, g.strokes = seconds, strokes
	if len(seconds) <= g.fewest() {
		for i := from; i < to; i++ {
			g.plain[i] = g.w.repairable(i) && !g.oddCount(i) && g.common(i)
		}
		return
	}
	middle, count := median(seconds), math.NaN()
	if len(strokes) > g.fewest() {
		count = median(strokes)
	}
	for i := from; i < to; i++ {
		it := &g.w.items[i]
		g.plain[i] = g.w.repairable(i) && math.Abs(it.durationS-middle) <= plainSeconds*middle &&
			!(math.Abs(it.strokes-count) > plainStrokes*count) && !g.oddCount(i)
	}
}

// typical is the median strokes of the session's lengths of one stroke and pool;
// NaN when few were counted.
func (g *usuals) typical(class int32) float64 {
	if g.counts == nil {
		var all byClass
		all.group(g.w, g.classes)
		g.counts = make([]float64, g.classes)
		for c := range g.counts {
			strokes := g.strokes[:0]
			for _, i := range all.of(int32(c)) {
				if n := g.w.items[i].strokes; !math.IsNaN(n) {
					strokes = append(strokes, n)
				}
			}
			g.strokes = strokes
			g.counts[c] = math.NaN()
			if len(strokes) >= fewestTypical {
				g.counts[c] = median(strokes)
			}
		}
	}
	return g.counts[class]
}

// overTypical is the strokes of an item over what is typical; NaN where either
// is not known.
func (g *usuals) overTypical(i int) float64 {
	return g.w.items[i].strokes / g.typical(g.w.items[i].class)
}

// oddCount tells whether the strokes of an item are not those of a length.
func (g *usuals) oddCount(i int) bool {
	ratio := g.overTypical(i)
	return ratio < plainLow || ratio > plainHigh
}

// byClass is the items of each class, one class after the other.
type byClass struct {
	items []int32
	from  []int32 // where each class begins, and the end
}

func (b *byClass) of(class int32) []int32 { return b.items[b.from[class]:b.from[class+1]] }

// group puts all repairable items into classes, in order.
func (b *byClass) group(w *work, classes int) {
	if cap(b.items) < len(w.items) {
		b.items = make([]int32, 0, len(w.items))
	}
	b.items, b.from = b.items[:len(w.items)], make([]int32, classes+2)
	for i := range w.items {
		if w.repairable(i) {
			b.from[w.items[i].class+2]++
		}
	}
	for c := 2; c < len(b.from); c++ {
		b.from[c] += b.from[c-1]
	}
	for i := range w.items {
		if w.repairable(i) {
			at := &b.from[w.items[i].class+1]
			b.items[*at] = int32(i)
			*at++
		}
	}
	b.items = b.items[:b.from[classes]]
}
