package association

import "math"

// RankCounts are the counts of all pairs of rows by the directions in which x
// and y differ. Values are tied when they are equal.
type RankCounts struct {
	Concordant, Discordant float64
	TiedX, TiedY           float64 // tied in this column only
	TiedBoth               float64
}

// CountRanks compares all pairs of rows; its time grows with the square of
// their number. x and y are of equal length, at least 2, and are not changed.
// It fails with a *[LengthError], *[NotFiniteError] or *[TooFewError].
func CountRanks(x, y []float64) (RankCounts, error) {
	if err := checkColumns(x, y); err != nil {
		return RankCounts{}, err
	}
	if len(x) < 2 {
		return RankCounts{}, &TooFewError{What: "rows", Got: len(x), Need: 2}
	}
	var c RankCounts
	for i := range x {
		for j := range i {
			sameX, sameY := x[i] == x[j], y[i] == y[j]
			switch {
			case sameX && sameY:
				c.TiedBoth++
			case sameX:
				c.TiedX++
			case sameY:
				c.TiedY++
			case (x[i] > x[j]) == (y[i] > y[j]):
				c.Concordant++
			default:
				c.Discordant++
			}
		}
	}
	return c, nil
}

// Kendall returns the rank correlation tau-b (Kendall 1945, Biometrika
// 33:239): with C, D concordant and discordant pairs,
//
//	(C - D) / sqrt((pairs not tied in x) (pairs not tied in y)).
//
// It fails as [CountRanks], and with a *[NoVariationError] if all values of a
// column are equal.
func Kendall(x, y []float64) (float64, error) {
	c, err := CountRanks(x, y)
	if err != nil {
		return 0, err
	}
	untied := c.Concordant + c.Discordant
	if untied+c.TiedY == 0 {
		return 0, &NoVariationError{What: "x"}
	}
	if untied+c.TiedX == 0 {
		return 0, &NoVariationError{What: "y"}
	}
	return (c.Concordant - c.Discordant) / math.Sqrt((untied+c.TiedY)*(untied+c.TiedX)), nil
}

// SomersD returns Somers' D of y given x (Somers 1962, American Sociological
// Review 27:799): (C - D) over the pairs not tied in x. It is not symmetric.
// It fails as [CountRanks], and with a *[NoVariationError] if all values of x
// are equal.
func SomersD(x, y []float64) (float64, error) {
	c, err := CountRanks(x, y)
	if err != nil {
		return 0, err
	}
	pairs := c.Concordant + c.Discordant + c.TiedY
	if pairs == 0 {
		return 0, &NoVariationError{What: "x"}
	}
	return (c.Concordant - c.Discordant) / pairs, nil
}
