package screen

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestRepairsOnSimulatedSets counts right and wrong repairs on sessions of
// mixed sets with known faults: swims of 1 to 16 lengths at four paces, each
// length 2.5 % (one standard deviation) off its pace, counts a stroke off now
// and then, seconds to a tenth. The seed is none that the rules were tried on. One length in 100 lacks its turn (and 0 to 3
// strokes), one in 100 has a turn too many at 20 to 80 % of the way, one in
// 100 holds a stop of 10 to 40 s.
func TestRepairsOnSimulatedSets(t *testing.T) {
	rng := rand.New(rand.NewPCG(2026, 3))
	type outcome struct{ injected, found int }
	var missed, falseTurns outcome
	lengths, wrong := 0, 0
	for range 400 {
		var swims [][]swum
		var truth [][]string // what each recorded length is
		for range 12 {
			pace := []float64{16, 20, 26, 32}[rng.IntN(4)]
			strokes := 220 / pace // fewer strokes when easy
			n := []int{1, 2, 4, 8, 16}[rng.IntN(5)]
			var swim []swum
			var is []string
			one := func() swum {
				return swum{pace * (1 + 0.025*rng.NormFloat64()), math.Round(strokes + 0.6*rng.NormFloat64())}
			}
			for i := 0; i < n; i++ {
				lengths++
				switch u := rng.Float64(); {
				case u < 0.01 && i+1 < n:
					a, b := one(), one()
					i++
					lengths++
					swim, is = append(swim, swum{a.seconds + b.seconds, a.strokes + b.strokes - float64(rng.IntN(4))}), append(is, "missed")
					missed.injected++
				case u > 0.99:
					a, at := one(), 0.2+0.6*rng.Float64()
					first := math.Round(a.strokes * at)
					swim = append(swim, swum{a.seconds * at, first}, swum{a.seconds * (1 - at), math.Max(1, a.strokes-first-float64(rng.IntN(2)))})
					is = append(is, "part", "part")
					falseTurns.injected++
				case u > 0.98:
					a := one()
					a.seconds += 10 + 30*rng.Float64()
					swim, is = append(swim, a), append(is, "")
				default:
					swim, is = append(swim, one()), append(is, "")
				}
			}
			for i := range swim {
				swim[i].seconds = math.Round(10*swim[i].seconds) / 10
			}
			swims, truth = append(swims, swim), append(truth, is)
		}
		s, _ := Apply(session(swims...), settings())
		var all []string
		for _, is := range truth {
			all = append(all, is...)
		}
		repaired := map[int64]string{}
		for _, l := range s.Kept {
			if l.Rule != "" {
				repaired[l.Record] = l.Rule
			}
		}
		for record, rule := range repaired {
			switch what := all[record-1]; {
			case rule == RuleMissedTurn && what == "missed":
				missed.found++
			case rule == RuleFalseTurn && what == "part":
				falseTurns.found++
			default:
				wrong++
			}
		}
	}
	t.Logf("%d lengths: missed turns %d of %d split, false turns %d of %d joined, %d wrong repairs",
		lengths, missed.found, missed.injected, falseTurns.found, falseTurns.injected, wrong)
	if share := float64(missed.found) / float64(missed.injected); share < 0.8 {
		t.Errorf("%.2f of the missed turns are split", share)
	}
	if share := float64(falseTurns.found) / float64(falseTurns.injected); share < 0.8 {
		t.Errorf("%.2f of the false turns are joined", share)
	}
	if rate := float64(wrong) / float64(lengths); rate > 0.001 {
		t.Errorf("%.4f of the lengths are repaired wrongly", rate)
	}
}
