package normalise

import (
	"math"
	"slices"

	"lengthwise/pipeline/read"
)

const (
	// matchingSwims is the share of a sheet's swims that must lie on swims of
	// the activities.
	matchingSwims = 0.8
	// fitAt is the normal quantile that the departures of seconds may reach
	// together (upper 1 %): beyond it swims are like each other, but not the same.
	fitAt = 2.326
	// sameBy is by how much, in twice a log likelihood, seconds must speak for the
	// same swims against like ones of another hour: 7 to 1.
	sameBy = 4.0
	// mostSteps bounds the work of laying one sheet on the activities of a day: 500
	// swims on 1,000.
	mostSteps = 5e8
	// usualSpread is by how much, as a share, repeats of one distance differ where
	// a recording shows too few of them (common practice, no source).
	usualSpread = 0.01
)

// swum is one unbroken swim in brief; its seconds are those on the clock, so
// that a recorder which leaves out the walls still matches a stopwatch.
type swum struct {
	metres, seconds, pool float64
	restS                 float64 // before it, NaN when not known
	stroke                string
	set                   string // sheets: as written
	rep                   int    // 0: not numbered
	of                    *draft
	from, to              int // its lengths
}

func swumIn(d *draft) []swum {
	written := make(map[read.RecordKind]map[int64]*read.Length)
	for i := range d.recording.Lengths {
		l := &d.recording.Lengths[i]
		if written[l.Kind] == nil {
			written[l.Kind] = make(map[int64]*read.Length)
		}
		written[l.Kind][l.Record] = l
	}
	var all []swum
	var from float64
	for i := range d.Lengths {
		l := &d.Lengths[i]
		if i == 0 || l.Swim != d.Lengths[i-1].Swim {
			s := swum{pool: l.PoolM, restS: l.RestBeforeS, stroke: l.SwimStroke, of: d, from: i}
			if row := written[l.Kind][l.Record]; row != nil {
				s.set, s.rep = row.Set, row.Rep
			}
			all = append(all, s)
			from = l.StartS
		}
		swim := &all[len(all)-1]
		swim.metres += l.PoolM
		swim.to = i + 1
		swim.seconds = l.StartS + l.DurationS - from
	}
	return all
}

// fit is a sheet laid on activities.
type fit struct {
	sheet, watch []swum
	places       []place
	tooMany      bool    // there are more swims than anybody swims in a day
	total        float64 // cost of the best way
	lateS        float64 // by how much the sheet's seconds are more throughout
	backward     []bool  // sheet's swims whose numbers go back: their order is not that of swimming
}

// layOn lays a sheet on activities, which are in order of start.
func layOn(d *draft, activities []*draft) *fit {
	f := &fit{sheet: swumIn(d)}
	for _, a := range activities {
		f.watch = append(f.watch, swumIn(a)...)
	}
	f.places, f.backward = make([]place, len(f.sheet)), make([]bool, len(f.sheet))
	if n, m := len(f.sheet), len(f.watch); float64(n)*float64(m)*float64(m) > mostSteps {
		f.tooMany = true
		for i := range f.places {
			f.places[i].swim = -1
		}
		return f
	}
	a := aligner{sheet: f.sheet, watch: f.watch}
	f.places, f.total = a.places()
	if f.lateS = f.late(); f.lateS != 0 {
		a.lateS = f.lateS
		f.places, f.total = a.places()
	}
	for i := 1; i < len(f.sheet); i++ {
		if x, y := f.sheet[i-1], f.sheet[i]; x.rep > 0 && y.rep > 0 && x.set == y.set && y.rep <= x.rep {
			f.backward[i-1], f.backward[i] = true, true
		}
	}
	return f
}

// alike tells whether most of the sheet's swims lie on some.
func (f *fit) alike() bool {
	placed := 0
	for _, p := range f.places {
		if p.swim >= 0 {
			placed++
		}
	}
	return placed > 0 && float64(placed) >= matchingSwims*float64(len(f.places))
}

// holds tells whether the sheet's swims may be those that they lie on: most lie
// on some, and their seconds depart together by no more than a stopwatch does.
func (f *fit) holds() bool {
	same, _ := f.seconds()
	return f.alike() && same
}

// better tells whether the sheet's swims are surely these rather than those of
// another fit.
func (f *fit) better(than *fit) bool { return f.holds() && f.total+sureBy < than.total }

// sure tells whether seconds speak for the same swims against like ones that the
// swimmer swam at another hour.
func (f *fit) sure() bool {
	_, by := f.seconds()
	return by >= sameBy
}

// seconds compares the departures of seconds, but for a hand that is always late,
// with what a stopwatch beside a watch shows: same is
// false where their sum of squares is beyond the upper quantile of chi-squared
// (Wilson and Hilferty 1931). by is twice the log likelihood ratio against swims
// of another hour, which differ by what repeats do too.
func (f *fit) seconds() (same bool, by float64) {
	var off, took []float64
	for i, p := range f.places {
		if p.swim >= 0 {
			off, took = append(off, f.sheet[i].seconds-f.watch[p.swim].seconds), append(took, f.watch[p.swim].seconds)
		}
	}
	n := float64(len(off))
	if n == 0 {
		return false, 0
	}
	spread, sum := f.spread(), 0.0
	for k := range off {
		watches := timingVariance(took[k])
		other := watches + 2*square(spread*took[k])
		d2 := square(off[k] - f.lateS)
		sum += d2 / watches
		by += d2/other + math.Log(other) - d2/watches - math.Log(watches)
	}
	v := 2 / (9 * n)
	return sum <= n*math.Pow(1-v+fitAt*math.Sqrt(v), 3), by
}

// late is the middle of the departures of seconds: a hand that is always late.
func (f *fit) late() float64 {
	const fewest, most = 4, 1.0 // swims, s
	var off []float64
	for i, p := range f.places {
		if p.swim >= 0 {
			off = append(off, f.sheet[i].seconds-f.watch[p.swim].seconds)
		}
	}
	if len(off) < fewest {
		return 0
	}
	return max(-most, min(most, median(off)))
}

// spread is by how much, as a share, the swimmer's repeats of one distance
// differ: from the middle difference of neighbours, half the usual one with few.
func (f *fit) spread() float64 {
	const oneSet = 0.05 // repeats that differ by more are of two sets
	apart := []float64{usualSpread, usualSpread}
	for j := 1; j < len(f.watch); j++ {
		x, y := f.watch[j-1], f.watch[j]
		if d := math.Abs(math.Log(x.seconds / y.seconds)); x.of == y.of && x.metres == y.metres && d < oneSet {
			apart = append(apart, d)
		}
	}
	return median(apart) / 0.954 // the middle difference of two normal numbers in their standard deviations
}

// otherMetres tells whether the sheet's swims lie on some that are longer, or
// shorter, by one share: a pool of 25 yards for one of 25 m. Missed turns change
// the metres of some by other shares.
func (f *fit) otherMetres() bool {
	shares, _ := f.shares()
	if len(shares) < fewestShares {
		return false
	}
	middle, near := median(shares), 0
	for _, s := range shares {
		if math.Abs(s-middle) <= sharesDiffer*middle {
			near++
		}
	}
	return math.Abs(middle-1) > sharesDiffer && float64(near) >= matchingSwims*float64(len(shares))
}

// otherPool tells whether the sheet's swims have the seconds of the watch's over
// distances that are all in one proportion to theirs, and names that recording.
func (f *fit) otherPool() (*draft, bool) {
	if len(f.sheet) < fewestShares || len(f.watch) == 0 || f.tooMany {
		return nil, false
	}
	g := &fit{sheet: f.sheet, watch: f.watch}
	g.places, g.total = (&aligner{sheet: f.sheet, watch: f.watch, anyDistance: true}).places()
	g.lateS = g.late()
	if !g.holds() {
		return nil, false
	}
	shares, of := g.shares()
	low, high := slices.Min(shares), slices.Max(shares)
	return of, high-low <= sharesDiffer*high && (low > 1+sharesDiffer || high < 1-sharesDiffer)
}

const (
	fewestShares = 3    // swims that tell of another pool
	sharesDiffer = 0.03 // pools that differ by less are one
)

// shares is the sheet's metres over the watch's, by swim, and the recording of
// the last of these.
func (f *fit) shares() (shares []float64, of *draft) {
	for i, p := range f.places {
		if p.swim >= 0 {
			shares = append(shares, f.sheet[i].metres/f.watch[p.swim].metres)
			of = f.watch[p.swim].of
		}
	}
	return shares, of
}
