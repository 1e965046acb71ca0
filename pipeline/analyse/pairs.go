package analyse

import (
	"math"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// Pair is two bouts of one session at a matched pace, as differences of what
// pace and minutes leave of them: the stroke count in per cent, the cost in its
// unit. Which of the two comes first is how they were swum.
type Pair struct{ StrokesPct, Cost float64 }

// SwimmerPairs are one swimmer's matched pairs of one stroke and design, those
// from which score_by_swimmer has its concordance.
type SwimmerPairs struct {
	Swimmer, Stroke string
	Design          Design
	Pairs           []Pair
}

// MatchedPairs makes the matched pairs anew from rows of the table bouts, all
// bouts of a swimmer one after the other. Swimmers without pairs are left out.
func MatchedPairs(bouts []schemas.Bout, s *study.Study) []SwimmerPairs {
	var out []SwimmerPairs
	for start := 0; start < len(bouts); {
		end := start
		for end < len(bouts) && bouts[end].Swimmer == bouts[start].Swimmer {
			end++
		}
		own := make([]derive.Bout, 0, end-start)
		for _, row := range bouts[start:end] {
			own = append(own, boutOf(row))
		}
		for _, stroke := range s.Analysis.Strokes {
			everything, _ := usable(own, stroke, All)
			if len(everything) == 0 {
				continue
			}
			usual := newUsualRate(everything, referenceSpeed(everything, s))
			for _, d := range []Design{Designed, Observed} {
				picked, _ := usable(own, stroke, d)
				kept, _ := informative(picked)
				if len(kept) == 0 {
					continue
				}
				r := newRows(kept, usual, s, d)
				if found := r.differences(s); len(found) > 0 {
					out = append(out, SwimmerPairs{Swimmer: bouts[start].Swimmer, Stroke: stroke, Design: d, Pairs: found})
				}
			}
		}
		start = end
	}
	return out
}

// differences lists the matched pairs; none where strokes or cost cannot be
// adjusted.
func (r *rows) differences(s *study.Study) []Pair {
	strokes, err := r.adjusted(r.lnStrokes)
	if err != nil {
		return nil
	}
	cost, err := r.adjusted(r.cost)
	if err != nil {
		return nil
	}
	var out []Pair
	for i := range r.bouts {
		for j := i + 1; j < len(r.bouts); j++ {
			if r.session[i] == r.session[j] && r.matched(i, j, s) {
				out = append(out, Pair{100 * (strokes[i] - strokes[j]), cost[i] - cost[j]})
			}
		}
	}
	return out
}

// matched reports whether two bouts were swum at one pace and alike in what a
// pair may not differ in.
func (r *rows) matched(i, j int, s *study.Study) bool {
	x, y := r.bouts[i], r.bouts[j]
	return math.Abs(r.lnSpeed[i]-r.lnSpeed[j]) <= s.Analysis.MatchedPace &&
		x.PoolM == y.PoolM && x.CostStratum == y.CostStratum && x.Designed == y.Designed &&
		x.Tags.Kick == y.Tags.Kick && x.Tags.Equipment == y.Tags.Equipment
}

// boutOf is a bout as far as its row and the models of cost on rate go.
func boutOf(row schemas.Bout) derive.Bout {
	return derive.Bout{
		Swimmer: row.Swimmer, Session: row.Session, Bout: int(row.Bout), Stroke: row.Stroke, PoolM: row.PoolM,
		MinutesIn: row.MinutesIn, SpeedMPS: row.SpeedMPS, PaceSPer100M: row.PaceSPer100M, Basis: study.CountBasis(row.StrokeCountBasis),
		StrokeRateSPM: orNaN(row.StrokeRateSPM), Strokes25: orNaN(row.Strokes25),
		Cost: orNaN(row.Cost), CostStratum: orEmpty(row.CostStratum),
		Tags: read.Tags{Instruction: orEmpty(row.Instruction), RateTargetSPM: orNaN(row.RateTarget), Breathing: orNaN(row.Breathing),
			Kick: orEmpty(row.Kick), Equipment: orEmpty(row.Equipment)},
		Designed: row.Designed, Usable: row.Usable, Reason: orEmpty(row.Reason),
	}
}

func orNaN(p *float64) float64 {
	if p == nil {
		return math.NaN()
	}
	return *p
}

func orEmpty(p *string) string {
	if p == nil {
		return ""
	}
	return *p
}
