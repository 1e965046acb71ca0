package trial

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
)

// The ways in which heart rate comes about in a cell.
const (
	SteadyReadings = "steady"
	SampledHeart   = "samples"
	CountedPulse   = "counted"
)

// Cell is one kind of squad of known truth.
type Cell struct {
	Name, Words                  string
	Designed                     bool
	Swimmers, Sessions, Bouts    int
	Effect, EffectSD             float64 // bpm per 10 % of stroke rate
	Range                        float64 // set rates, from minus so many % of usual to plus
	OwnRate                      float64 // standard deviation of rates that nobody sets, %
	Noise, SessionNoise, Fatigue float64 // bpm
	CountError                   float64 // standard deviation of a bout's count, %
	HeartRate                    string
	Missing                      float64 // share of bouts without a heart rate
	BestRates                    bool    // swimmers have a cheapest rate, which moves with pace
	Share                        float64 // of the squads asked for that are made: dear ones less
}

// setSteps is in how many steps rates are set.
const setSteps = 5

// Grid is the kinds of squads that simulate goes through: a squad of usual size with
// rates set, one without, and each of their properties changed alone.
func Grid() []Cell {
	set := Cell{Designed: true, Swimmers: 12, Sessions: 8, Bouts: 8, Range: 20, OwnRate: 4, Noise: 4, SessionNoise: 4, HeartRate: SteadyReadings, Share: 1}
	free := set
	free.Designed = false
	var grid []Cell
	add := func(base Cell, name, words string, change func(*Cell)) {
		kind := "set"
		if !base.Designed {
			kind = "free"
		}
		base.Name, base.Words = kind+"-"+name, words
		if change != nil {
			change(&base)
		}
		grid = append(grid, base)
	}
	// Each change at no effect, where every claim is false, and at one of 3 bpm.
	both := func(base Cell, name, words string, change func(*Cell)) {
		for _, effect := range []float64{0, 3} {
			add(base, fmt.Sprintf("%s-%g", name, effect), words, func(c *Cell) {
				if change != nil {
					change(c)
				}
				if c.Effect = effect; effect != 0 {
					c.EffectSD = 1.5
				}
			})
		}
	}
	both(set, "usual", "rates set from -20 to +20 %", nil)
	add(set, "against", "fewer strokes are dearer", func(c *Cell) { c.Effect, c.EffectSD = -3, 1.5 })
	add(set, "slight", "a slight effect", func(c *Cell) { c.Effect, c.EffectSD = 1, 1.5 })
	add(set, "apart", "swimmers differ much", func(c *Cell) { c.Effect, c.EffectSD = 3, 4 })
	both(set, "small", "a small squad with few sessions", func(c *Cell) { c.Swimmers, c.Sessions, c.Bouts = 6, 6, 6 })
	both(set, "few-swimmers", "a small squad", func(c *Cell) { c.Swimmers = 6 })
	both(set, "few-sessions", "few sessions", func(c *Cell) { c.Sessions = 6 })
	both(set, "large", "a large squad", func(c *Cell) { c.Swimmers, c.Share = 30, 0.5 })
	both(set, "long", "many sessions", func(c *Cell) { c.Sessions, c.Bouts, c.Share = 16, 12, 0.5 })
	both(set, "half-range", "rates set from -10 to +10 %", func(c *Cell) { c.Range = 10 })
	both(set, "narrow", "rates set from -5 to +5 %", func(c *Cell) { c.Range = 5 })
	both(set, "noisy", "noisy bouts", func(c *Cell) { c.Noise = 7 })
	both(set, "days", "days that differ much", func(c *Cell) { c.SessionNoise = 10 })
	both(set, "tired", "tiredness that differs by session", func(c *Cell) { c.Fatigue = 10 })
	both(set, "miscounted", "strokes miscounted by one in twelve", func(c *Cell) { c.CountError = 100 * oneStrokeInTwelve })
	both(set, "pulse", "pulses counted over 10 s", func(c *Cell) { c.HeartRate = CountedPulse })
	both(set, "sampled", "heart-rate samples that rise slowly", func(c *Cell) { c.HeartRate, c.Share = SampledHeart, 0.25 })
	both(set, "gaps", "three in ten heart rates missing", func(c *Cell) { c.Missing = 0.3 })
	add(set, "best-rates", "a cheapest rate that moves with pace", func(c *Cell) { c.BestRates = true })
	add(set, "best-rates-small", "a cheapest rate, few sessions and noisy bouts", func(c *Cell) { c.BestRates, c.Sessions, c.Noise = true, 6, 6 })
	both(free, "usual", "swum as the swimmers like", nil)
	both(free, "large", "a large squad", func(c *Cell) { c.Swimmers, c.Share = 30, 0.5 })
	both(free, "long", "many sessions", func(c *Cell) { c.Sessions, c.Bouts, c.Share = 16, 12, 0.5 })
	both(free, "steady-rates", "rates that hardly differ", func(c *Cell) { c.OwnRate = 2 })
	both(free, "tired", "some tiredness that differs by session and moves the rate", func(c *Cell) { c.Fatigue = 4 })
	both(free, "very-tired", "tiredness that differs by session and moves the rate", func(c *Cell) { c.Fatigue = 10 })
	both(free, "miscounted", "strokes miscounted by one in twelve", func(c *Cell) { c.CountError = 100 * oneStrokeInTwelve })
	return grid
}

// oneStrokeInTwelve is an error of one stroke in twelve.
const oneStrokeInTwelve = 1.0 / 12

// Design is the design of a cell's bouts.
func (c Cell) Design() analyse.Design {
	if c.Designed {
		return analyse.Designed
	}
	return analyse.Observed
}

// RateSpread is the standard deviation of stroke rate about the usual one, in %: of
// evenly dealt steps where rates are set.
func (c Cell) RateSpread() float64 {
	if !c.Designed {
		return c.OwnRate
	}
	const n = setSteps
	return c.Range * math.Sqrt(float64(n+1)/float64(3*(n-1)))
}

// scenario is one squad of the cell.
func (c Cell) scenario(seed uint64) squad.Scenario {
	a := Assumed{Designed: c.Designed, Effect: c.Effect, Spread: c.EffectSD, Noise: c.Noise, Range: c.Range, Steps: setSteps, OwnRate: c.OwnRate}
	sc := a.scenario(Sizes{Swimmers: c.Swimmers, Sessions: c.Sessions, Bouts: c.Bouts}, seed)
	sc.SessionNoiseBPM, sc.FatigueSDBPM = c.SessionNoise, c.Fatigue
	if c.Fatigue > 0 {
		sc.FatigueRatePerBPM = fatigueRate
	}
	sc.HandCount.BoutSD = c.CountError / 100
	if c.BestRates {
		sc.Truths = squad.Mix{BestRate: 1}
	}
	if c.HeartRate == SampledHeart {
		sc.HeartRate, sc.ReadingNoiseBPM, sc.WanderBPM = squad.HeartRateSamples, 0.8, 1.2
	}
	return sc
}

// fatigueRate is how much ln stroke rate a bpm of tiredness takes up where the rate is
// free.
const fatigueRate = 0.006

// spoil does to a simulated squad's readings what the cell says happens to them.
func (c Cell) spoil(s *squad.Squad, seed uint64) {
	rng := rand.New(rand.NewPCG(seed, 0x5151))
	for i := range s.Swimmers {
		for k := range s.Swimmers[i].Sessions {
			for j := range s.Swimmers[i].Sessions[k].Bouts {
				b := &s.Swimmers[i].Sessions[k].Bouts[j]
				if c.HeartRate == CountedPulse {
					b.ReadingBPM = 6 * math.Round(b.ReadingBPM/6)
				}
				if rng.Float64() < c.Missing {
					b.ReadingBPM = math.NaN()
				}
			}
		}
	}
}

// seedOf is the seed of a cell's n-th squad: the same whatever else is in the grid.
func (c Cell) seedOf(seed uint64, n int) uint64 {
	h := fnv.New64a()
	fmt.Fprintf(h, "%s/%d/%d", c.Name, seed, n)
	return h.Sum64()
}
