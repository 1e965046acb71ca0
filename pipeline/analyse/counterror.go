package analyse

import (
	"errors"
	"math"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/stats/measurement"
)

// What the size of a counting error is known from.
const (
	errorStated   = "stated"   // in the study file
	errorMeasured = "measured" // hand counts beside a recorder's of the same swims
	errorRounding = "rounding" // hand counts, taken as right but for whole numbers
	errorUnknown  = "unknown"
	errorBounded  = "bounded" // not known, but no larger than the rate's scatter about what was set
)

// recorderError is what a swimmer's recorder does to a stroke count: the
// variance of the ln of one length's count, from swims that were counted by
// hand too. An error that stays the same for all of a session's bouts is not in
// it: it moves no slope within the session.
type recorderError struct {
	perLength float64 // NaN when it cannot be told
	bouts     int
}

// fewestCompared is how few comparisons, sessions' means taken off, tell the
// size of a recorder's error: with 12 its standard deviation is known to a
// fifth (common practice, no source).
const fewestCompared = 12

// newRecorderError compares the two counts of one stroke's bouts. The variance
// of a bout's ln ratio is taken to fall with the number of its lengths; what
// rounding adds to the hand count is taken off.
func newRecorderError(bouts []derive.Bout, stroke string) recorderError {
	type sums struct{ weight, weighted float64 }
	means := map[string]sums{}
	var used []*derive.Bout
	for i := range bouts {
		b := &bouts[i]
		if b.Stroke != stroke || math.IsNaN(b.Count.Recorder) || !(b.Count.Strokes > 0) {
			continue
		}
		used = append(used, b)
		m, n := means[b.Session], float64(b.Lengths)
		means[b.Session] = sums{m.weight + n, m.weighted + n*recorderRatio(b)}
	}
	e := recorderError{perLength: math.NaN(), bouts: len(used)}
	free := len(used) - len(means)
	if free < fewestCompared {
		return e
	}
	var squares, rounding float64
	for _, b := range used {
		m, n := means[b.Session], float64(b.Lengths)
		d := recorderRatio(b) - m.weighted/m.weight
		squares += n * d * d
		rounding += n * roundingVariance(b.Count) / float64(len(used))
	}
	e.perLength = math.Max(0, squares/float64(free)-rounding)
	return e
}

func recorderRatio(b *derive.Bout) float64 { return math.Log(b.Count.Recorder / b.Count.Strokes) }

// roundingVariance is that of the ln of a count which is a sum of whole numbers:
// a twelfth of a unit squared for each (Sheppard 1898).
func roundingVariance(c derive.Count) float64 {
	return float64(c.Wholes) * c.Unit * c.Unit / 12 / (c.Strokes * c.Strokes)
}

// of is the variance of the error of a bout's ln stroke rate and what it is
// known from; NaN when it is not known.
func (e recorderError) of(b *derive.Bout, a study.Analysis) (variance float64, from string) {
	n := float64(b.Lengths)
	stated := a.CountErrorBout*a.CountErrorBout + a.CountErrorLength*a.CountErrorLength/n
	switch {
	case stated > 0 && !b.Count.Beside:
		return stated + roundingVariance(b.Count), errorStated
	case b.Count.By == derive.ByHand:
		return roundingVariance(b.Count), errorRounding
	case !math.IsNaN(e.perLength):
		return e.perLength / n, errorMeasured
	}
	return math.NaN(), errorUnknown
}

// countError is the standard deviation of the error of each row's ln stroke
// rate; sd is nil when that of some row is not known.
type countError struct {
	sd   []float64
	from string // the least sure of what the rows' are known from
}

func newCountError(r *rows, e recorderError, a study.Analysis) countError {
	c := countError{sd: make([]float64, len(r.bouts)), from: errorRounding}
	for i, b := range r.bouts {
		variance, from := e.of(b, a)
		if from == errorUnknown {
			return countError{from: errorUnknown}
		}
		c.sd[i] = math.Sqrt(variance)
		if from == errorStated || from == errorMeasured && c.from == errorRounding {
			c.from = from
		}
	}
	return c
}

// reliability is the share of the variance of ln stroke rate at fixed pace,
// within session, that is not counting error; 0 when it is all error, NaN when
// the error is not known.
func (c countError) reliability(r *rows) float64 {
	if c.sd == nil {
		return math.NaN()
	}
	share, err := measurement.ReliabilityRatio(r.rate, c.sd, r.terms, r.columns, r.session)
	switch {
	case errors.Is(err, measurement.ErrNoSignal):
		return 0
	case err != nil:
		return math.NaN()
	}
	return share
}
