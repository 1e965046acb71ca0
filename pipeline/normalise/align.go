package normalise

import "math"

// A sheet's swims are laid on those of watches by a sum of costs, each twice a
// loss of log likelihood: squared departures in standard deviations of seconds
// and rest, and prices for what is less likely. A swim of the sheet that is laid
// on none costs skipCost; swims of the watch that nobody wrote down cost nothing
// before the first and after the last that was, and a price where they are left
// out in between. Written starts find the session; within it they are too rough
// to tell one repeat from the next.
const (
	timingSD   = 0.65  // s: a stopwatch beside a watch that sees push-off and touch
	timingMore = 0.003 // of the seconds
	restSD     = 4.0   // s: rests are often written as planned
	restMore   = 0.1   // of the rest
	restMost   = 4.0
	strokeCost = 4.0
	lengthCost = 2.0 // a turn that the watch missed, or saw twice
	skipCost   = 25.0
	// Of swims left out between two that are written: within a set, between
	// sets, and against numbers that say otherwise.
	gapCost, betweenSets = 5.0, 3.0
	numberCost           = 12.0
	// sessionCost is of going on in another session of the day within a set, or
	// after a rest shorter than longestRestS.
	sessionCost  = 25.0
	longestRestS = 900.0
	// sureBy is how much worse the next best place of a swim must be for the
	// best one to be sure, sureOfSome how much worse it must be to lay it on none.
	sureBy, sureOfSome = 12.0, 6.0
)

// place is where a swim of the sheet belongs.
type place struct {
	swim int  // index into the watch's swims, -1 for none
	sure bool // the next best place, or none, is clearly worse
}

// aligner lays a sheet's swims on watches' in order, each on at most one. A
// state is a row and the swim that the last laid one lies on: on holds the cost
// of the best way to lay the rows up to this one where it lies on the swim
// itself, off where it lies on none and an earlier one does; none where none
// does yet.
type aligner struct {
	sheet, watch []swum
	anyDistance  bool    // distances are not looked at
	lateS        float64 // by how much the sheet's seconds are more throughout
}

// places gives each swim of the sheet its place, and what the best way costs.
func (a *aligner) places() (all []place, total float64) {
	n, m := len(a.sheet), len(a.watch)
	cost := table(n, m)
	for i := range n {
		for j := range m {
			cost[i][j] = a.cost(i, j)
		}
	}
	inf := math.Inf(1)
	on, off, none := table(n, m), table(n, m), make([]float64, n+1) // up to row i, none: before row i
	for i := range n {
		none[i+1] = none[i] + skipCost
		for j := range m {
			best := none[i]
			off[i][j] = inf
			if i > 0 {
				off[i][j] = min(on[i-1][j], off[i-1][j]) + skipCost
				for k := range j {
					best = min(best, on[i-1][k]+a.step(i, k, j, true), off[i-1][k]+a.step(i, k, j, false))
				}
			}
			on[i][j] = best + cost[i][j]
		}
	}
	// The same from behind: what the rows after row i cost, given the state at i.
	onAfter, offAfter, noneAfter := table(n, m), table(n, m), make([]float64, n+1)
	for i := n - 2; i >= 0; i-- {
		for j := range m {
			skipped := offAfter[i+1][j] + skipCost
			onAfter[i][j], offAfter[i][j] = skipped, skipped
			for k := j + 1; k < m; k++ {
				next := cost[i+1][k] + onAfter[i+1][k]
				onAfter[i][j] = min(onAfter[i][j], a.step(i+1, j, k, true)+next)
				offAfter[i][j] = min(offAfter[i][j], a.step(i+1, j, k, false)+next)
			}
		}
	}
	for i := n - 1; i >= 0; i-- {
		noneAfter[i] = noneAfter[i+1] + skipCost
		for j := range m {
			noneAfter[i] = min(noneAfter[i], cost[i][j]+onAfter[i][j])
		}
	}
	// The best way from front to end, and for each row how much worse the best
	// way is that lays it elsewhere.
	all = make([]place, n)
	last := -1 // swim of the row before it on the best way, or of an earlier one
	beside := false
	for i := range n {
		way := func(j int) float64 { // of laying row i on swim j, behind the best way so far
			c := cost[i][j] + onAfter[i][j]
			switch {
			case last < 0:
				return c
			case j > last:
				return c + a.step(i, last, j, beside)
			}
			return inf
		}
		at, least := -1, skipCost+noneAfter[i+1]
		if last >= 0 {
			least = skipCost + offAfter[i][last]
		}
		for j := range m {
			if c := way(j); c < least {
				at, least = j, c
			}
		}
		best, other, nowhere := inf, inf, inf
		offer := func(c float64, j int) {
			switch j {
			case at:
				best = min(best, c)
			case -1:
				nowhere = min(nowhere, c)
			default:
				other = min(other, c)
			}
		}
		offer(none[i]+skipCost+noneAfter[i+1], -1)
		for j := range m {
			offer(on[i][j]+onAfter[i][j], j)
			offer(off[i][j]+offAfter[i][j], -1)
		}
		all[i] = place{swim: at, sure: other-best >= sureBy && nowhere-best >= sureOfSome}
		if beside = at >= 0; beside {
			last = at
		}
	}
	return all, noneAfter[0]
}

// timing is the squared departure of seconds in standard deviations.
func (a *aligner) timing(i, j int) float64 {
	took := a.watch[j].seconds
	return square(a.sheet[i].seconds-a.lateS-took) / timingVariance(took)
}

// timingVariance is that of the seconds of one swim by two watches, in s^2.
func timingVariance(seconds float64) float64 { return square(timingSD) + square(timingMore*seconds) }

// cost is that of laying one swim on another, infinite where they cannot be
// one.
func (a *aligner) cost(i, j int) float64 {
	x, y := a.sheet[i], a.watch[j]
	if math.Abs(x.metres-y.metres) > math.Max(x.pool, y.pool)+0.01 && !a.anyDistance {
		return math.Inf(1)
	}
	c := a.timing(i, j)
	if c > skipCost {
		return math.Inf(1)
	}
	if rest := math.Max(x.restS, y.restS); !math.IsNaN(rest) {
		c += min(restMost, square(x.restS-y.restS)/(square(restSD)+square(restMore*rest)))
	}
	if oneStroke(x.stroke) && oneStroke(y.stroke) && x.stroke != y.stroke {
		c += strokeCost
	}
	if math.Abs(x.metres-y.metres) > 0.01 && !a.anyDistance {
		c += lengthCost
	}
	return c
}

// oneStroke tells whether a name stands for one stroke.
func oneStroke(name string) bool {
	return name == "freestyle" || name == "backstroke" || name == "breaststroke" || name == "butterfly"
}

// step is the price of laying row i on swim j where the row before it lies on
// swim k or, if not beside, on none and an earlier one on k.
func (a *aligner) step(i, k, j int, beside bool) float64 {
	row := a.sheet[i]
	expected, price := 1, gapCost
	if beside {
		before := a.sheet[i-1]
		oneSet := row.set == before.set
		if a.watch[j].of != a.watch[k].of { // another session of the day
			if row.restS < longestRestS || oneSet && row.rep > before.rep && before.rep > 0 {
				return sessionCost
			}
			return betweenSets
		}
		switch {
		case !oneSet:
			price = betweenSets
		case row.rep > before.rep+1 && before.rep > 0:
			expected, price = row.rep-before.rep, numberCost
		}
	}
	if j-k == expected {
		return 0
	}
	return price
}

func square(x float64) float64 { return x * x }

func table(rows, columns int) [][]float64 {
	cells := make([]float64, rows*columns)
	t := make([][]float64, rows)
	for i := range t {
		t[i] = cells[i*columns : (i+1)*columns]
	}
	return t
}
