package reliability

import (
	"fmt"
	"math"
)

// exactTolerance is the share of the largest reading below which a standard
// deviation is rounding.
const exactTolerance = 1e-14

// smallestSquare is where squares begin to lose their digits.
const smallestSquare = 1e-290

// squares are the mean squares of a complete table of n subjects by k trials.
type squares struct {
	n, k                     float64
	subjects, trials         float64 // between subjects, between trials
	within, err              float64 // within subjects; within subjects and trials
	mean, largest            float64
	subjectMeans, trialMeans []float64
}

func (s squares) errorDF() float64 { return (s.n - 1) * (s.k - 1) }

// analyse computes the mean squares of ratings[subject][trial].
func analyse(ratings [][]float64) (squares, error) {
	n := len(ratings)
	if n < 2 {
		return squares{}, fmt.Errorf("reliability: %w: %d subjects, need at least 2", ErrTooFew, n)
	}
	k := len(ratings[0])
	if k < 2 {
		return squares{}, fmt.Errorf("reliability: %w: %d trials, need at least 2", ErrTooFew, k)
	}
	s := squares{n: float64(n), k: float64(k), subjectMeans: make([]float64, n), trialMeans: make([]float64, k)}
	// Measured from the first reading, so that equal readings deviate by nothing.
	origin := ratings[0][0]
	var shift float64
	for i, row := range ratings {
		if len(row) != k {
			return squares{}, fmt.Errorf("reliability: %w: subject %d has %d trials, subject 0 has %d", ErrShape, i, len(row), k)
		}
		for j, v := range row {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return squares{}, fmt.Errorf("reliability: %w: subject %d, trial %d is %v", ErrNotFinite, i, j, v)
			}
			d := v - origin
			s.subjectMeans[i] += d / s.k
			s.trialMeans[j] += d / s.n
			shift += d
			s.largest = max(s.largest, math.Abs(v))
		}
	}
	centre := shift / (s.n * s.k)
	s.mean = origin + centre
	for _, m := range s.subjectMeans {
		s.subjects += s.k * (m - centre) * (m - centre)
	}
	for _, m := range s.trialMeans {
		s.trials += s.n * (m - centre) * (m - centre)
	}
	for i, row := range ratings {
		for j, v := range row {
			within := v - origin - s.subjectMeans[i]
			left := within - (s.trialMeans[j] - centre)
			s.within += within * within
			s.err += left * left
		}
	}
	s.subjects /= s.n - 1
	s.trials /= s.k - 1
	s.within /= s.n * (s.k - 1)
	s.err /= s.errorDF()
	for i := range s.subjectMeans {
		s.subjectMeans[i] += origin
	}
	for j := range s.trialMeans {
		s.trialMeans[j] += origin
	}
	for _, v := range []float64{s.subjects, s.trials, s.within, s.err} {
		if math.IsInf(v, 0) || math.IsNaN(v) || v > 0 && v < smallestSquare {
			return squares{}, fmt.Errorf("reliability: %w: a sum of squares leaves the range of a float64; change units", ErrNotFinite)
		}
	}
	if math.Sqrt(s.err) <= exactTolerance*s.largest {
		return squares{}, fmt.Errorf("reliability: %w: the trials differ by a constant only", ErrNoVariance)
	}
	return s, nil
}

func checkLevel(level float64) error {
	if !(level > 0 && level < 1) {
		return fmt.Errorf("reliability: %w: level %v is not between 0 and 1", ErrArgument, level)
	}
	return nil
}
