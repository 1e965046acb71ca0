package faults

import (
	"math"
	"math/rand/v2"
)

// The strokes, in the words of the published protocol.
const (
	freestyle    = "freestyle"
	backstroke   = "backstroke"
	breaststroke = "breaststroke"
	butterfly    = "butterfly"
	drillStroke  = "drill"
)

// random is one session's stream of numbers.
type random struct{ *rand.Rand }

func newRandom(seed, use uint64) random {
	return random{rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15^use))}
}

func (r random) normal(mean, sd float64) float64 { return mean + sd*r.NormFloat64() }
func (r random) between(lo, hi float64) float64  { return lo + (hi-lo)*r.Float64() }
func (r random) chance(p float64) bool           { return r.Float64() < p }
func (r random) oneOf(values ...float64) float64 { return values[r.IntN(len(values))] }
func (r random) sign() float64                   { return float64(2*r.IntN(2) - 1) }
func (r random) clipped(mean, sd, w float64) float64 {
	return mean + sd*max(-w, min(w, r.NormFloat64()))
}

// swimmer is a body in the water. Speeds in m/s, distances in m.
type swimmer struct {
	speed              float64 // freestyle, steady
	perStroke          float64 // distance an arm stroke at that speed, between glides
	rateExponent       float64 // rate goes with speed to this power
	lengthSD           float64 // sd of ln time from length to length
	countSD            float64 // sd of ln strokes from length to length
	glide              float64
	restHR, maxHR, tau float64
}

// newSwimmer draws one. The line of distance per stroke on speed goes through
// recorded lengths of 25 m: 38.4 s / 32 arm strokes, 30.8 / 26, 26 / 24.
func newSwimmer(r random) swimmer {
	speed := math.Exp(r.clipped(math.Log(1.05), 0.22, 2))
	s := swimmer{
		speed:        speed,
		perStroke:    (0.25 + 0.6*speed) * math.Exp(r.clipped(0, 0.09, 2)),
		rateExponent: r.between(0.6, 1.4),
		lengthSD:     r.between(0.008, 0.03),
		countSD:      r.between(0.01, 0.04),
		glide:        r.between(3.5, 7),
		restHR:       r.between(48, 72),
		maxHR:        r.between(165, 198),
		tau:          r.between(22, 55),
	}
	if r.chance(0.12) { // quick arms and a slow heart: they meet without any fault
		s.perStroke *= 0.72
		s.restHR, s.maxHR = r.between(40, 48), r.between(135, 160)
	}
	return s
}

// style is how a stroke differs from the swimmer's freestyle: share of the
// speed, and of the distance an arm stroke covers. Breaststroke and butterfly
// count cycles, hence the longer ones. No source: club swimmers' usual ratios.
func style(stroke string) (speed, perStroke float64) {
	switch stroke {
	case backstroke:
		return 0.89, 1.08
	case breaststroke:
		return 0.77, 1.65
	case butterfly:
		return 0.97, 1.75
	default:
		return 1, 1
	}
}
