package normalise

import "math"

// A sheet's swims are laid on an activity's by the sum of squared departures
// in standard deviations: of the seconds, and of the start where both clocks
// are known. A swim of the sheet that is laid on none costs skipCost; swims of
// the activity that nobody wrote down cost nothing.
const (
	timingFloor = 0.7   // s: a stopwatch beside a watch
	timingShare = 0.008 // of the seconds
	clockSD     = 60.0  // s: sheets write their start to the minute
	skipCost    = 16.0  // four standard deviations
	// sureBy is how much worse the next best place of a swim must be for the
	// best one to be sure: three standard deviations.
	sureBy = 9.0
)

// place is where a swim of the sheet belongs.
type place struct {
	swim int  // index into the activity's swims, -1 for none
	sure bool // the next best place, or none, is clearly worse
}

// align lays a sheet's swims on an activity's, in order, each on at most one.
// clocked says that starts can be compared.
func align(sheet, activity []swum, clocked bool) []place {
	n, m := len(sheet), len(activity)
	cost := func(i, j int) float64 { return placeCost(sheet[i], activity[j], clocked) }
	// before[i][j]: least cost of the first i swims on the first j; after[i][j]:
	// of the swims from i on, on those from j on.
	before, after := table(n+1, m+1), table(n+1, m+1)
	for i := 1; i <= n; i++ {
		before[i][0] = before[i-1][0] + skipCost
		for j := 1; j <= m; j++ {
			before[i][j] = min(before[i-1][j]+skipCost, before[i][j-1], before[i-1][j-1]+cost(i-1, j-1))
		}
	}
	for i := n - 1; i >= 0; i-- {
		after[i][m] = after[i+1][m] + skipCost
		for j := m - 1; j >= 0; j-- {
			after[i][j] = min(after[i+1][j]+skipCost, after[i][j+1], after[i+1][j+1]+cost(i, j))
		}
	}
	places := make([]place, n)
	for i := range n {
		best, next, at := math.Inf(1), math.Inf(1), -1
		offer := func(c float64, j int) {
			if c < best {
				best, next, at = c, best, j
			} else {
				next = min(next, c)
			}
		}
		for j := range m {
			offer(before[i][j]+cost(i, j)+after[i+1][j+1], j)
		}
		none := math.Inf(1)
		for j := 0; j <= m; j++ {
			none = min(none, before[i][j]+skipCost+after[i+1][j])
		}
		offer(none, -1)
		places[i] = place{at, next-best >= sureBy}
	}
	return places
}

// placeCost is the cost of laying one swim on another, infinite where they
// cannot be one.
func placeCost(a, b swum, clocked bool) float64 {
	if !swimMatches(a, b) {
		return math.Inf(1)
	}
	sd := math.Max(timingFloor, timingShare*math.Max(a.seconds, b.seconds))
	c := square((a.seconds - b.seconds) / sd)
	if clocked {
		c += square((a.atS - b.atS) / clockSD)
	}
	return c
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
