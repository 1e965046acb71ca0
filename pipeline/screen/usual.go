package screen

import (
	"cmp"
	"math"
	"slices"

	"lengthwise/pipeline/normalise"
)

const (
	// nearest is how many lengths on either side of a candidate, or on either
	// side of its pace, make its usual: pace drifts within a long swim.
	nearest = 15
	// usualSpread is the largest robust spread, as a share of the median,
	// with which lengths have a usual at all; mixed sets have more.
	usualSpread = 0.12
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
	// alikeSeconds and alikeStrokes are how far, as a share, lengths differ
	// that are of one kind.
	alikeSeconds = 0.1
	alikeStrokes = 0.25
	// madToSD turns a median absolute deviation into the standard deviation
	// of a normal distribution, 1/Phi^-1(3/4).
	madToSD = 1.4826
)

// usual is what a length of its kind takes.
type usual struct {
	seconds      float64
	deviation    float64 // robust, in seconds, at least spreadFloor of seconds
	strokes      float64 // NaN when fewer than usual_lengths were counted
	needsStrokes bool    // nothing is repaired by seconds alone
}

// groups finds the usual of a candidate among its like: first within its swim,
// then within its lap (same stroke and pool), then among the session's lengths
// of the same stroke and pool at the pace in question. Excluded lengths,
// repeats and the candidate itself never count.
type groups struct {
	w      *work
	byPace map[paceKey][]int // items by seconds; made when first needed

	found            []int     // reused from candidate to candidate
	seconds, strokes []float64 // likewise
}

type paceKey struct {
	stroke string
	pool   float64
}

func newGroups(w *work) *groups { return &groups{w: w} }

// usual gives the usual of items from to to; target is the seconds of the
// length that they are thought to be (half of a missed turn, the sum of a
// false one). ok is false when there is none: too few lengths, or lengths too
// unlike each other. A mixed swim has no usual, whatever the session holds.
//
// Lengths of like pace were chosen by the answer, so they prove little: the
// few others of the swim must be of that pace too, seconds alone repair
// nothing (needsStrokes), and the caller asks ordinary first.
func (g *groups) usual(from, to int, target float64) (u usual, ok bool) {
	fewest := max(1, g.w.settings.UsualLengths)
	l := &g.w.items[from].length
	swim := g.around(from, to, func(o *normalise.Length) bool { return o.Swim == l.Swim })
	if len(swim) >= fewest {
		return g.summarise(swim, fewest)
	}
	if l.Lap >= 0 {
		lap := g.around(from, to, func(o *normalise.Length) bool { return o.Lap == l.Lap })
		if len(lap) >= fewest {
			if u, ok := g.summarise(lap, fewest); ok {
				return u, true
			}
		}
	}
	mates := g.around(from, to, func(o *normalise.Length) bool { return o.Swim == l.Swim })
	for _, i := range mates {
		if math.Abs(g.secondsOf(i)-target) > likePace*target {
			return usual{}, false
		}
	}
	like := g.likePace(from, to, target, likePace)
	if len(like) < fewest {
		return usual{}, false
	}
	u, ok = g.summarise(like, fewest)
	u.needsStrokes = true
	return u, ok
}

// around collects the nearest items on either side that belong to the same
// stretch of the session, stroke and pool. It looks at most ten times as far
// as it collects.
func (g *groups) around(from, to int, belongs func(*normalise.Length) bool) []int {
	l := &g.w.items[from].length
	found := g.found[:0]
	for _, step := range [...]int{-1, 1} {
		i, have := from-1, 0
		if step > 0 {
			i = to + 1
		}
		for looked := 0; i >= 0 && i < len(g.w.items) && have < nearest && looked < 10*nearest; looked++ {
			o := &g.w.items[i].length
			if !belongs(o) {
				break
			}
			if g.w.repairable(i) && o.PoolM == l.PoolM && strokeOf(o) == strokeOf(l) {
				found = append(found, i)
				have++
			}
			i += step
		}
	}
	g.found = found
	return found
}

// strokeOf is the stroke that a length is judged among: that of its swim.
func strokeOf(l *normalise.Length) string {
	if l.SwimStroke != "" {
		return l.SwimStroke
	}
	return l.Stroke
}

// ordinary tells whether item i is a usual length of the session as it stands:
// enough others take about the same seconds and strokes.
func (g *groups) ordinary(i int) bool {
	l := &g.w.items[i].length
	alike := 0
	for _, k := range g.likePace(i, i, l.DurationS, alikeSeconds) {
		if ratio := l.Strokes / g.w.items[k].length.Strokes; math.Abs(ratio-1) <= alikeStrokes {
			alike++
		}
	}
	return alike >= max(1, g.w.settings.UsualLengths)
}

// likePace collects the items of the same stroke and pool whose seconds are
// closest to target and within a share of it.
func (g *groups) likePace(from, to int, target, share float64) []int {
	if g.byPace == nil {
		g.byPace = make(map[paceKey][]int)
		for i := range g.w.items {
			if g.w.repairable(i) {
				o := &g.w.items[i].length
				k := paceKey{strokeOf(o), o.PoolM}
				g.byPace[k] = append(g.byPace[k], i)
			}
		}
		for _, items := range g.byPace {
			slices.SortStableFunc(items, func(a, b int) int {
				return cmp.Compare(g.secondsOf(a), g.secondsOf(b))
			})
		}
	}
	l := &g.w.items[from].length
	items := g.byPace[paceKey{strokeOf(l), l.PoolM}]
	middle, _ := slices.BinarySearchFunc(items, target, func(i int, t float64) int {
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
			if items[k] < from || items[k] > to {
				found = append(found, items[k])
				have++
			}
		}
	}
	g.found = found
	return found
}

func (g *groups) secondsOf(i int) float64 { return g.w.items[i].length.DurationS }

// summarise is the median and spread of some items; ok is false when they are
// too unlike to have a usual.
func (g *groups) summarise(items []int, fewest int) (usual, bool) {
	seconds, strokes := g.seconds[:0], g.strokes[:0]
	for _, i := range items {
		seconds = append(seconds, g.secondsOf(i))
		if n := g.w.items[i].length.Strokes; !math.IsNaN(n) {
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
	if u.deviation > usualSpread*u.seconds {
		return usual{}, false
	}
	u.deviation = math.Max(u.deviation, spreadFloor*u.seconds)
	if len(strokes) >= fewest {
		u.strokes = median(strokes)
	}
	return u, true
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
