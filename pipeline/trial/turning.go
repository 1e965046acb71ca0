package trial

import (
	"math"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/schemas"
)

// Turning is how well the sets of turning points did, counted over all swimmers
// and paces for whom there is a set, of whatever shape.
type Turning struct {
	Sets, Covered           int // as the rows give them, corrected where they are
	PlainSets, PlainCovered int // without correction
	Bounded                 int // sets that are intervals
	Named, NamedCovered     int // rates named, and sets of those that hold the truth
	NamedError              float64
	None                    int // no set at all
}

// Coverage is the share of sets that hold the true cheapest rate.
func (t Turning) Coverage() float64 { return share(t.Covered, t.Sets) }

// PlainCoverage is that of the sets without correction.
func (t Turning) PlainCoverage() float64 { return share(t.PlainCovered, t.PlainSets) }

// Error is the root mean square error of the rates named, in % of usual.
func (t Turning) Error() float64 { return math.Sqrt(t.NamedError / float64(t.Named)) }

// Add scores the designed rows at one pace role, "" for all, of one outcome.
func (t *Turning) Add(o Outcome, role string) {
	swimmers := map[string]*squad.Swimmer{}
	for i := range o.Squad.Swimmers {
		swimmers[o.Squad.Swimmers[i].Handle] = &o.Squad.Swimmers[i]
	}
	for _, row := range o.Result.Economical {
		if row.Design != string(analyse.Designed) || role != "" && row.PaceRole != role {
			continue
		}
		sw := swimmers[row.Swimmer]
		if sw.Truth.Curve <= 0 {
			continue
		}
		truth := trueBest(sw, row)
		if row.SetType == "none" {
			t.None++
			continue
		}
		t.Sets++
		covered := holds(row.SetType, row.ConfLow, row.ConfHigh, truth)
		if covered {
			t.Covered++
		}
		if row.SetType == "bounded" {
			t.Bounded++
		}
		if row.PlainSetType != "none" {
			t.PlainSets++
			if holds(row.PlainSetType, row.PlainLow, row.PlainHigh, truth) {
				t.PlainCovered++
			}
		}
		if row.RatePctOfUsual != nil {
			t.Named++
			t.NamedError += (*row.RatePctOfUsual - truth) * (*row.RatePctOfUsual - truth)
			if covered {
				t.NamedCovered++
			}
		}
	}
}

// trueBest is the swimmer's cheapest rate at the row's pace, in % of the true usual
// rate.
func trueBest(sw *squad.Swimmer, row schemas.EconomicalRate) float64 {
	best, _ := sw.Truth.BestPctOfUsual(math.Log(100 / row.PaceSPer100M / sw.RefSpeedMPS))
	return best
}

func holds(shape string, low, high *float64, truth float64) bool {
	above, below := low == nil || truth >= *low, high == nil || truth <= *high
	switch shape {
	case "bounded":
		return above && below
	case "two-rays":
		return low != nil && truth <= *low || high != nil && truth >= *high
	}
	return shape == "whole-line"
}
