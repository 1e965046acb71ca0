package screen

import (
	"cmp"
	"math"
	"slices"
)

const (
	// nearest is how many lengths on either side of a candidate, or on either
	// side of its pace, make its usual: pace drifts within a long swim.
	nearest = 15
	// closest is how many are asked first where the swim itself is too short,
	// and setReach how far a set reaches.
	closest  = 5
	setReach = 40
	// hereReach is how far lengths lie around one.
	hereReach = 8
	// usualSpread is the largest robust spread, as a share of the median,
	// with which lengths have a usual at all; mixed sets have more.
	usualSpread = 0.12
	// mixedFrom to mixedRange is the longest over the shortest of the lengths of
	// a swim that is swum fast and easy in turn; for every trimEvery of them one
	// is left out at either end.
	mixedFrom  = 1.15
	mixedRange = 1.6
	trimEvery  = 5
	// spreadFloor is the spread that lengths are given at least, so that
	// recordings in whole seconds or of a very even swimmer judge no turn by
	// fractions of a second.
	spreadFloor = 0.02
	// outlyingBy is how many robust deviations a length lies off before it is
	// a candidate for repair.
	outlyingBy = 4.0
	// likePace is how far a length may lie from the pace in question and be
	// of like pace.
	likePace = 0.2
	// likeMates is how far the other lengths of a short swim may lie from it.
	likeMates = 0.15
	// plainSeconds and plainStrokes are how near, as a share, a length lies to
	// the median of its swim when nobody need look at it twice.
	plainSeconds = 0.07
	plainStrokes = 0.2
	// plainLow and plainHigh bound the strokes of such a length over what is
	// typical of its stroke in the session: people swim fast or easy with much
	// the same strokes, but the pieces of a length have fewer and two lengths in
	// one have more.
	plainLow  = 0.7
	plainHigh = 1.45
	// fewestTypical is how many counted lengths make strokes typical.
	fewestTypical = 5
	// alikeSeconds and alikeStrokes are how far, as a share, lengths differ
	// that are of one kind.
	alikeSeconds = 0.1
	alikeStrokes = 0.13
	// madToSD turns a median absolute deviation into the standard deviation
	// of a normal distribution, 1/Phi^-1(3/4).
	madToSD = 1.4826
)

// usual is what a length of its kind takes.
type usual struct {
	seconds      float64
	deviation    float64 // robust, in seconds, at least spreadFloor of seconds
	low, high    float64 // the range in seconds; both are seconds where lengths are alike
	strokes      float64 // NaN when fewer than usual_lengths were counted
	needsStrokes bool    // nothing is judged by seconds alone
}

// off is how far some seconds lie from the usual, as a share of it.
func (u *usual) off(seconds float64) float64 {
	switch {
	case seconds < u.low:
		return 1 - seconds/u.low
	case seconds > u.high:
		return seconds/u.high - 1
	}
	return 0
}

// misfit is how far seconds and strokes, where they are known, lie from the
// usual together.
func (u *usual) misfit(seconds, strokes float64) float64 {
	if off := math.Abs(strokes/u.strokes - 1); !math.IsNaN(off) {
		return u.off(seconds) + off
	}
	return u.off(seconds)
}

// at is the usual seconds nearest to some seconds.
func (u *usual) at(seconds float64) float64 { return math.Max(u.low, math.Min(u.high, seconds)) }

// usuals finds the usual of a candidate among its like: first within its swim,
// then within its lap (same stroke and pool), then among the session's lengths
// of the same stroke and pool: those nearest in order, then those at the pace
// in question. Excluded lengths, repeats, lengths with odd counts and the
// candidate itself never count.
type usuals struct {
	w       *work
	byPace  byClass   // items of each class by seconds; made when first needed
	plain   []bool    // items that nobody need look at twice; made when first needed
	counts  []float64 // typical strokes of each class; made when first needed
	classes int
	swims   [][2]int32 // the swim of each item, see swimOf; made when first needed
	uneven  float64    // see unevenness; 0 before it was asked for

	found            []int32 // reused from candidate to candidate
	seconds, strokes []float64
}

// reset forgets what was found of items that have changed since.
// What is typical of a stroke stays: repairs move no strokes that matter to it.
func (g *usuals) reset() {
	g.byPace.items, g.plain, g.swims = g.byPace.items[:0], g.plain[:0], g.swims[:0]
}

func (g *usuals) fewest() int { return max(1, g.w.settings.UsualLengths) }

// usual gives the usual of items from to to; target is the seconds of the
// length that they are thought to be (half of a missed turn, the sum of a
// false one), NaN when that cannot be said. ok is false when there is none: too
// few lengths, or lengths too unlike each other. A mixed swim has no usual,
// whatever the session holds.
//
// Lengths from elsewhere prove less, those of like pace little, since they were
// chosen by the answer: the few others of the swim must be of that pace too,
// seconds alone decide nothing (needsStrokes), and the caller asks ordinary.
func (g *usuals) usual(from, to int, target float64) (u usual, ok bool) {
	it := &g.w.items[from]
	swim := g.around(from, to, func(o *item) bool { return o.swim == it.swim })
	if len(swim) >= g.fewest() {
		return g.summarise(swim)
	}
	if it.lap >= 0 {
		lap := g.around(from, to, func(o *item) bool { return o.lap == it.lap })
		if len(lap) >= g.fewest() {
			if u, ok := g.summarise(lap); ok {
				return u, true
			}
		}
	}
	for _, width := range [...]int{closest, nearest} {
		near := g.near(from, to, width, func(*item) bool { return true })
		if len(near) >= g.fewest() {
			if u, ok := g.summarise(near); ok && !(u.off(target) > likePace) {
				u.needsStrokes = true
				return u, true
			}
		}
	}
	for _, i := range g.around(from, to, func(o *item) bool { return o.swim == it.swim }) {
		if math.Abs(g.secondsOf(i)-target) > likeMates*target {
			return usual{}, false
		}
	}
	like := g.likePace(from, to, target, likePace)
	if len(like) < g.fewest() {
		return usual{}, false
	}
	u, ok = g.summarise(like)
	u.needsStrokes = true
	return u, ok
}

// around collects the nearest items on either side that belong to the same
// stretch of the session, stroke and pool. It looks at most ten times as far
// as it collects.
func (g *usuals) around(from, to int, belongs func(*item) bool) []int32 {
	return g.near(from, to, nearest, belongs)
}

// near collects at most width on either side.
func (g *usuals) near(from, to, width int, belongs func(*item) bool) []int32 {
	class := g.w.items[from].class
	found := g.found[:0]
	for _, step := range [...]int{-1, 1} {
		i, have := from-1, 0
		if step > 0 {
			i = to + 1
		}
		for looked := 0; i >= 0 && i < len(g.w.items) && have < width && looked < 10*nearest; looked++ {
			o := &g.w.items[i]
			if !belongs(o) {
				break
			}
			if g.w.repairable(i) && o.class == class && !g.oddCount(i) {
				found = append(found, int32(i))
				have++
			}
			i += step
		}
	}
	g.found = found
	return found
}

// ordinary tells whether item i is a usual length of the session as it stands:
// enough others take about the same seconds and strokes.
func (g *usuals) ordinary(i int) bool {
	it := &g.w.items[i]
	alike := 0
	for _, k := range g.likePace(i, i, it.durationS, alikeSeconds) {
		if ratio := it.strokes / g.w.items[k].strokes; math.Abs(ratio-1) <= alikeStrokes {
			alike++
		}
	}
	return alike >= g.fewest()
}

// ordinaryHere tells whether some of the lengths around item i take about the same
// seconds and strokes, as where fast and easy swims take turns.
func (g *usuals) ordinaryHere(i int) bool {
	alike := 0
	for k := max(0, i-hereReach); k <= min(len(g.w.items)-1, i+hereReach); k++ {
		if k != i && g.w.likeItem(i, k) {
			alike++
		}
	}
	return alike >= fewestRecurring
}

// mates collects lengths of the same set: the nearest on either side of the same
// stroke and pool, in repeats of as many lengths.
func (g *usuals) mates(i int) []int32 {
	it := &g.w.items[i]
	found := g.found[:0]
	for _, step := range [...]int{-1, 1} {
		have := 0
		for k := i + step; k >= 0 && k < len(g.w.items) && have < closest && k-i <= setReach && i-k <= setReach; k += step {
			if o := &g.w.items[k]; o.class == it.class && o.size == it.size && g.w.repairable(k) && !g.oddCount(k) {
				found = append(found, int32(k))
				have++
			}
		}
	}
	g.found = found
	return found
}

// common tells whether item i is usual in its set: at least two of its mates
// take about the same seconds and strokes.
func (g *usuals) common(i int) bool {
	it := &g.w.items[i]
	alike := 0
	for _, k := range g.mates(i) {
		o := &g.w.items[k]
		if math.Abs(o.durationS/it.durationS-1) <= alikeSeconds && !(math.Abs(o.strokes/it.strokes-1) > alikeStrokes) {
			alike++
		}
	}
	return alike >= 2
}

// likePace collects the items of the same stroke and pool whose seconds are
// closest to target and within a share of it.
func (g *usuals) likePace(from, to int, target, share float64) []int32 {
	if len(g.byPace.items) == 0 {
		g.byPace.group(g.w, g.classes)
		for c := range g.classes {
			slices.SortStableFunc(g.byPace.of(int32(c)), func(a, b int32) int { return cmp.Compare(g.secondsOf(a), g.secondsOf(b)) })
		}
	}
	items := g.byPace.of(g.w.items[from].class)
	middle, _ := slices.BinarySearchFunc(items, target, func(i int32, t float64) int {
		return cmp.Compare(g.secondsOf(i), t)
	})
	found := g.found[:0]
	for _, step := range [...]int{-1, 1} {
		k, have := middle-1, 0
		if step > 0 {
			k = middle
		}
		for ; k >= 0 && k < len(items) && have < nearest; k += step {
			if math.Abs(g.secondsOf(items[k])-target) > share*target {
				break
			}
			if i := int(items[k]); (i < from || i > to) && !g.oddCount(i) {
				found = append(found, items[k])
				have++
			}
		}
	}
	g.found = found
	return found
}

func (g *usuals) secondsOf(i int32) float64 { return g.w.items[i].durationS }

// besideSet gives the usual of item i among the lengths of its swim, or where
// these are few of its set.
func (g *usuals) besideSet(i int) (usual, bool) {
	it := &g.w.items[i]
	like := g.around(i, i, func(o *item) bool { return o.swim == it.swim })
	if len(like) >= g.fewest() {
		return g.summarise(like)
	}
	if like = g.mates(i); len(like) < g.fewest() {
		return g.usual(i, i, math.NaN())
	}
	u, ok := g.summarise(like)
	u.needsStrokes = true
	return u, ok
}

// summarise is the median and spread of some items; ok is false when they are
// too unlike to have a usual.
func (g *usuals) summarise(items []int32) (usual, bool) {
	seconds, strokes := g.seconds[:0], g.strokes[:0]
	for _, i := range items {
		seconds = append(seconds, g.secondsOf(i))
		if n := g.w.items[i].strokes; !math.IsNaN(n) {
			strokes = append(strokes, n)
		}
	}
	g.seconds, g.strokes = seconds, strokes
	u := usual{seconds: median(seconds), strokes: math.NaN()}
	if !(u.seconds > 0) {
		return usual{}, false
	}
	for k, s := range seconds {
		seconds[k] = math.Abs(s - u.seconds)
	}
	u.deviation = madToSD * median(seconds)
	if len(strokes) >= g.fewest() {
		u.strokes = median(strokes)
	}
	u.low, u.high = u.seconds, u.seconds
	if mixed := g.mixed(items, &u); mixed || u.deviation > usualSpread*u.seconds {
		return u, mixed
	}
	u.deviation = math.Max(u.deviation, spreadFloor*u.seconds)
	return u, true
}

// mixed makes the usual a range of seconds where fast and easy lengths
// alternate, without the lengths at its very ends: it tells whether the range is
// wider than lengths of one pace have, and not too wide to say anything. Then
// strokes, which differ little, have to agree too.
func (g *usuals) mixed(items []int32, u *usual) bool {
	if math.IsNaN(u.strokes) {
		return false
	}
	seconds := g.seconds[:0]
	for _, i := range items {
		seconds = append(seconds, g.secondsOf(i))
	}
	slices.Sort(seconds)
	ends := len(seconds) / trimEvery
	low, high := seconds[ends], seconds[len(seconds)-1-ends]
	if high < mixedFrom*low || high > mixedRange*low {
		return false
	}
	u.low, u.high, u.deviation, u.needsStrokes = low, high, spreadFloor*u.seconds, true
	return true
}

// median is the median of xs, which it reorders; xs is not empty.
func median(xs []float64) float64 {
	slices.Sort(xs)
	m := len(xs) / 2
	if len(xs)%2 == 1 {
		return xs[m]
	}
	return (xs[m-1] + xs[m]) / 2
}
