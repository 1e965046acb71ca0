package concordance

import (
	"cmp"
	"math"
	"slices"

	"lengthwise/stats/tail"
)

// Interval is a confidence interval of [Tally.Estimate], all in shares of 1.
type Interval struct {
	Low, High float64
	StdError  float64 // of the estimate
	DF        float64 // degrees of freedom of StdError, from 1 to the number of blocks less 1
}

// Interval returns the interval of the estimate e at a level between 0 and 1,
// from leaving out each block in turn. Rows of a block may depend on each other in
// any way. With w the share of all pairs that a block holds, A + T/2 its concordant
// pairs and half its ties, N all pairs,
//
//	u = (A + T/2)/N - e w      e moves by u/(1-w) when the block is left out
//	StdError^2 = sum of u^2/(1-w)
//
// which is unbiased when a block's deviations vary as its pairs, and is then the
// covariance CR2 of Bell and McCaffrey (2002, Survey Methodology 28:169) for a mean
// of the blocks weighted by their pairs, with DF by their Satterthwaite
// approximation. Student's t is applied on the scale of asin(sqrt e), where the
// spread of a share hardly depends on the share (Fisher 1922), so that the limits
// stay within 0 and 1.
//
// It fails with a *[RangeError] for another level, with a *[TooFewError] for fewer
// than two blocks with pairs, and with a *[NoVariationError] if every block gives
// the same share (all pairs concordant, say: certainty the data do not hold).
func (t Tally) Interval(level float64) (Interval, error) {
	if !(level > 0 && level < 1) {
		return Interval{}, &RangeError{What: "the level", Value: level, Want: "between 0 and 1"}
	}
	v, err := t.variance()
	if err != nil {
		return Interval{}, err
	}
	if v.square == 0 {
		return Interval{}, &NoVariationError{What: "every block gives the same share, no interval can be formed"}
	}
	out := Interval{StdError: math.Sqrt(v.square), DF: v.df}
	// The derivative of asin(sqrt e) is 1/(2 sqrt(e(1-e))).
	half := tail.Critical(1-level, v.df) * out.StdError / (2 * math.Sqrt(v.estimate*(1-v.estimate)))
	angle := math.Asin(math.Sqrt(v.estimate))
	out.Low = squaredSine(math.Max(0, angle-half))
	out.High = squaredSine(math.Min(math.Pi/2, angle+half))
	return out, nil
}

func squaredSine(angle float64) float64 {
	s := math.Sin(angle)
	return s * s
}

// CommonVariances returns the variance of the estimate of each of several tallies
// (one per subject, say), for pooling them. Each takes part with
//
//	c/N, c = sum of (G-1) N v / sum of (G-1)
//
// N its pairs, v the square of the standard error of [Tally.Interval], G its blocks
// with pairs: one variance c of a pair for all tallies, as a linear model has one
// residual variance. A tally's own v is near zero exactly when its share happens to
// lie close to 0 or 1, so that weights of 1/v pull a pooled share away from one
// half; 1/c N does not. A tally with a single block takes part too.
//
// The package's comment says what the pooled interval covers.
//
// It fails with a *[NoPairsError] for a tally without pairs, with a *[TooFewError]
// if no tally has two blocks with pairs, and with a *[NoVariationError] if all the
// blocks of each tally give one share.
func CommonVariances(tallies []Tally) ([]float64, error) {
	var sum, df float64
	out := make([]float64, len(tallies))
	for i, t := range tallies {
		pairs := t.Pairs()
		if pairs == 0 {
			return nil, &NoPairsError{Blocks: len(t.Blocks)}
		}
		out[i] = pairs
		blocks := len(t.units())
		if blocks < 2 {
			continue
		}
		v, err := t.variance()
		if err != nil {
			return nil, err
		}
		sum += float64(blocks-1) * pairs * v.square
		df += float64(blocks - 1)
	}
	if df == 0 {
		return nil, &TooFewError{What: "blocks with pairs in every tally", Got: 1, Need: 2}
	}
	if sum == 0 {
		return nil, &NoVariationError{What: "the blocks of each tally give one share, no variance can be formed"}
	}
	for i := range out {
		out[i] = sum / df / out[i]
	}
	return out, nil
}

// variance is the square of a standard error and its degrees of freedom.
type variance struct{ estimate, square, df float64 }

func (t Tally) variance() (variance, error) {
	units := t.units()
	if len(units) < 2 {
		return variance{}, &TooFewError{What: "blocks with pairs", Got: len(units), Need: 2}
	}
	var agreeing, pairs float64
	for _, u := range units {
		agreeing += u.agreeing
		pairs += u.pairs
	}
	out := variance{estimate: agreeing / pairs}
	// With P the covariance of the u/sqrt(1-w) when those vary as the pairs, DF is
	// (trace P)^2 / trace P^2: the trace is 1, an entry off the diagonal
	// -sqrt(h_i h_j), h = w^2/(1-w).
	var inverse, before float64
	for _, u := range units {
		w, rest := u.pairs/pairs, (pairs-u.pairs)/pairs
		// pairs times u.agreeing are whole numbers or halves: exact, so that equal
		// shares leave nothing.
		d := (u.agreeing*pairs - agreeing*u.pairs) / pairs / pairs
		out.square += d * d / rest
		h := w * w / rest
		inverse += w*w + 2*h*before
		before += h
	}
	out.df = 1 / inverse
	return out, nil
}

// unit is one block with pairs: C + T/2 and their number.
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
