package concordance

import (
	"cmp"
	"fmt"
	"slices"

	"lengthwise/stats/resample"
)

// Tally holds the counts of pairs by block. Entry k of each count belongs to
// block Blocks[k]; blocks are in increasing order and may have no pairs.
type Tally struct {
	Blocks                       []int
	Concordant, Discordant, Tied []float64
}

// Pairs returns the number of pairs compared.
func (t Tally) Pairs() float64 {
	concordant, discordant, tied := t.totals()
	return concordant + discordant + tied
}

// Estimate returns (C + T/2)/(C + D + T) over all blocks, from 0 to 1. It
// fails with a *[NoPairsError] if there are no pairs.
func (t Tally) Estimate() (float64, error) {
	concordant, discordant, tied := t.totals()
	pairs := concordant + discordant + tied
	if pairs == 0 {
		return 0, &NoPairsError{Blocks: len(t.Blocks)}
	}
	return (concordant + tied/2) / pairs, nil
}

func (t Tally) totals() (concordant, discordant, tied float64) {
	for k := range t.Blocks {
		concordant += t.Concordant[k]
		discordant += t.Discordant[k]
		tied += t.Tied[k]
	}
	return concordant, discordant, tied
}

// Resampled returns the percentile interval and the standard error of the
// estimate, made by resampling the blocks that have pairs, with replacement,
// on their counts. Rows of a block may depend on each other in any way.
//
// It fails with a *[TooFewError] for fewer than two such blocks, with a
// *[NoVariationError] if every resample gives the same value (all pairs
// concordant, say: certainty the data do not hold), and with an error of
// [resample.Options.Resolved].
func (t Tally) Resampled(o resample.Options) (low, high, stdError float64, err error) {
	o, err = o.Resolved()
	if err != nil {
		return 0, 0, 0, fmt.Errorf("concordance: %w", err)
	}
	units := t.units()
	if len(units) < 2 {
		return 0, 0, 0, &TooFewError{What: "blocks with pairs", Got: len(units), Need: 2}
	}
	plan, err := resample.Clusters(len(units), o.Replicates, o.Seed)
	if err != nil {
		return 0, 0, 0, fmt.Errorf("concordance: %w", err)
	}
	weights := make([]float64, len(units))
	replicates := make([]float64, plan.Replicates())
	for b := range replicates {
		plan.Weights(b, weights)
		var agreeing, pairs float64
		for k, w := range weights {
			agreeing += w * units[k].agreeing
			pairs += w * units[k].pairs
		}
		replicates[b] = agreeing / pairs
	}
	if slices.Min(replicates) == slices.Max(replicates) {
		return 0, 0, 0, &NoVariationError{What: "every resample of the blocks gives the same estimate, no interval can be formed"}
	}
	interval, err := resample.Percentile(replicates, o.Level)
	if err != nil {
		return 0, 0, 0, fmt.Errorf("concordance: %w", err)
	}
	stdError, err = resample.StdError(replicates)
	if err != nil {
		return 0, 0, 0, fmt.Errorf("concordance: %w", err)
	}
	return interval.Low, interval.High, stdError, nil
}

// unit is one block in a resample: C + T/2 and the number of pairs.
type unit struct{ agreeing, pairs float64 }

// units returns the blocks with pairs in order of their counts, so that their
// labels do not matter.
func (t Tally) units() []unit {
	var out []unit
	for k := range t.Blocks {
		if pairs := t.Concordant[k] + t.Discordant[k] + t.Tied[k]; pairs > 0 {
			out = append(out, unit{t.Concordant[k] + t.Tied[k]/2, pairs})
		}
	}
	slices.SortFunc(out, func(a, b unit) int {
		return cmp.Or(cmp.Compare(a.pairs, b.pairs), cmp.Compare(a.agreeing, b.agreeing))
	})
	return out
}
