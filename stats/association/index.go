package association

import "math"

// TauA returns Kendall's tau-a: (C - D) over all pairs. It fails with a
// *[TooFewError] for counts of no pairs.
func (c RankCounts) TauA() (float64, error) {
	pairs := c.Concordant + c.Discordant + c.TiedX + c.TiedY + c.TiedBoth
	if pairs == 0 {
		return 0, &TooFewError{What: "pairs", Got: 0, Need: 1}
	}
	return (c.Concordant - c.Discordant) / pairs, nil
}

// Gamma returns Goodman and Kruskal's gamma: (C - D)/(C + D) (1954, JASA 49:732).
// It fails with a *[TooFewError] if all pairs are tied.
func (c RankCounts) Gamma() (float64, error) {
	pairs := c.Concordant + c.Discordant
	if pairs == 0 {
		return 0, &TooFewError{What: "pairs without ties", Got: 0, Need: 1}
	}
	return (c.Concordant - c.Discordant) / pairs, nil
}

// Index is a concordance index.
type Index struct {
	C float64 // 0.5 without association, 1 when the order of x is that of y
	// StdError is the infinitesimal jackknife's, rows taken as independent. It is
	// zero for a perfect order, and too small near one.
	StdError float64
	Pairs    float64 // pairs not tied in y
}

// ConcordanceIndex returns how often the order of x is the order of y: over the
// pairs not tied in y,
//
//	C = (concordant + half of those tied in x) / pairs,
//
// which is (1 + D)/2 with D [SomersD] of x given y (Harrell et al. 1982, JAMA
// 247:2543). With N_i and P_i the numerator and the pairs that row i takes part
// in, the variance is sum (N_i - C P_i)^2 / pairs^2 (the infinitesimal jackknife,
// as in R's survival::concordance). It fails as [CountRanks], and with a
// *[NoVariationError] if all values of y are equal.
func ConcordanceIndex(x, y []float64) (Index, error) {
	if _, err := CountRanks(x, y); err != nil {
		return Index{}, err
	}
	numerator, pairs := make([]float64, len(x)), make([]float64, len(x))
	var out Index
	var sum float64
	for i := range x {
		for j := range i {
			if y[i] == y[j] {
				continue
			}
			s := 0.0
			switch {
			case x[i] == x[j]:
				s = 0.5
			case (x[i] > x[j]) == (y[i] > y[j]):
				s = 1
			}
			numerator[i] += s
			numerator[j] += s
			pairs[i]++
			pairs[j]++
			sum += s
			out.Pairs++
		}
	}
	if out.Pairs == 0 {
		return Index{}, &NoVariationError{What: "y"}
	}
	out.C = sum / out.Pairs
	var squares float64
	for i := range x {
		d := (numerator[i] - out.C*pairs[i]) / out.Pairs
		squares += d * d
	}
	out.StdError = math.Sqrt(squares)
	return out, nil
}
