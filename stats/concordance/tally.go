package concordance

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
