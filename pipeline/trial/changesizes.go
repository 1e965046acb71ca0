package trial

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/stats/power"
)

// Schedules of a dated change.
const (
	Once        = "once"        // one date for everybody, half way
	Alternating = "alternating" // with it and without it by turns, which half of each pair of sessions by lot
	Staggered   = "staggered"   // each swimmer on another date, in an order drawn by lot
)

// Schedules lists them.
func Schedules() []string { return []string{Once, Alternating, Staggered} }

// AssumedChange is what a study of a dated change is expected to meet.
type AssumedChange struct {
	Schedule string  `json:"schedule"`
	Effect   float64 `json:"effect"`             // on the cost at the reference pace
	Spread   float64 `json:"spread_of_swimmers"` // standard deviation of that between swimmers
	Session  float64 `json:"noise_of_a_session"` // standard deviation of a session's cost at the reference pace, one day to another
	Bout     float64 `json:"noise_of_a_bout"`    // of a bout's about its session's
}

// ChangePower is how often a change is found, and what its dates allow.
type ChangePower struct {
	Squad     float64 `json:"squad"`
	SquadHalf float64 `json:"squad_half_width"`
	Inflation float64 `json:"inflation"`  // by how much the time trend beside the change inflates its variance
	Ways      float64 `json:"ways"`       // how many schedules the lot could have drawn; dates on which it could have begun
	SmallestP float64 `json:"smallest_p"` // smallest p that those allow, whatever is measured
	Causal    bool    `json:"causal"`     // drawn by lot: such a schedule alone earns "costs"
}

// fewestOnASide is how many sessions must lie on either side of a date on which the
// change could have begun, as the analysis asks.
const fewestOnASide = 3

// ClosedForm is the power by least squares of a swimmer's sessions on level, time
// trend and change, pooled over swimmers by random effects.
func (c AssumedChange) ClosedForm(z Sizes) (ChangePower, error) {
	if z.Swimmers < 2 || z.Sessions < 4 || z.Bouts < 1 || !(c.Session >= 0 && c.Bout >= 0 && c.Session+c.Bout > 0) {
		return ChangePower{}, fmt.Errorf("%w: a change in %d swimmers with %d sessions of %d bouts", power.ErrInput, z.Swimmers, z.Sessions, z.Bouts)
	}
	noise := c.Session*c.Session + c.Bout*c.Bout/float64(z.Bouts)
	var variance float64
	out := ChangePower{Causal: c.Schedule != Once}
	for k := range z.Swimmers {
		on := c.on(z, k)
		alone, beside := information(on, false), information(on, true)
		if !(beside > 0) {
			return ChangePower{}, fmt.Errorf("%w: the trend and the change cannot be told apart in %d sessions", power.ErrInput, z.Sessions)
		}
		variance += noise / beside / float64(z.Swimmers)
		out.Inflation += alone / beside / float64(z.Swimmers)
	}
	switch c.Schedule {
	case Once:
		out.Ways = math.Max(0, float64(z.Sessions-2*fewestOnASide+1))
		out.SmallestP = 1 / math.Max(1, out.Ways)
	case Alternating:
		out.Ways = math.Pow(2, float64(z.Sessions/2)) // one lot for the squad, pair by pair
		out.SmallestP = 2 / out.Ways                  // the mirror image fits as well
	case Staggered:
		lg, _ := math.Lgamma(float64(z.Swimmers) + 1)
		out.Ways = math.Exp(lg)
		out.SmallestP = 1 / out.Ways
	default:
		return ChangePower{}, fmt.Errorf("%w: no schedule is called %q", power.ErrInput, c.Schedule)
	}
	se := math.Sqrt((variance + c.Spread*c.Spread) / float64(z.Swimmers))
	df := float64(z.Swimmers - 1)
	var err error
	if out.Squad, err = oneSide(c.Effect/se, df); err != nil {
		return out, err
	}
	out.SquadHalf = distuv.StudentsT{Sigma: 1, Nu: df}.Quantile((1+confidence)/2) * se
	if out.SmallestP >= alpha {
		out.Squad = 0 // what the lot cannot show at that level is not found
	}
	return out, nil
}

// on says in which of a swimmer's sessions, evenly spaced in time, the change holds.
func (c AssumedChange) on(z Sizes, swimmer int) []float64 {
	on := make([]float64, z.Sessions)
	begin := z.Sessions / 2
	if c.Schedule == Staggered {
		// Dates from a quarter to three quarters of the season.
		begin = z.Sessions/4 + int(math.Round(float64(z.Sessions)/2*float64(swimmer)/float64(max(1, z.Swimmers-1))))
	}
	for i := range on {
		switch {
		case c.Schedule == Alternating:
			on[i] = float64((i + i/2) % 2) // 0 1 1 0 0 1 1 0: no run of one kind with the trend
		case i >= begin:
			on[i] = 1
		}
	}
	return on
}

// information is the sum of squares of a column about its mean, and about the time
// trend as well.
func information(column []float64, trend bool) float64 {
	n := float64(len(column))
	var mean float64
	for _, v := range column {
		mean += v / n
	}
	var own, time, cross float64
	for i, v := range column {
		t := float64(i) - (n-1)/2
		own, time, cross = own+(v-mean)*(v-mean), time+t*t, cross+t*(v-mean)
	}
	if trend && time > 0 {
		own -= cross * cross / time
	}
	return own
}
