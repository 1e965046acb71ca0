package reliability

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// readings are values by subject and trial, labels renumbered from 0 in order of
// first appearance; trial is all 0 when there is no effect of the trial.
type readings struct {
	subject, trial   []int
	subjects, trials int
	value            []float64 // measured from origin
	origin, largest  float64
}

func newReadings(subject, trial []int, values []float64) (readings, error) {
	if len(subject) != len(values) || trial != nil && len(trial) != len(values) {
		return readings{}, fmt.Errorf("reliability: %w: %d values, %d subjects, %d trials", ErrShape, len(values), len(subject), len(trial))
	}
	if len(values) == 0 {
		return readings{}, fmt.Errorf("reliability: %w: no values", ErrTooFew)
	}
	r := readings{trial: make([]int, len(values)), trials: 1, origin: values[0], value: make([]float64, len(values))}
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return readings{}, fmt.Errorf("reliability: %w: value %d is %v", ErrNotFinite, i, v)
		}
		r.value[i] = v - r.origin
		r.largest = max(r.largest, math.Abs(v))
	}
	r.subject, r.subjects = relabel(subject)
	if trial != nil {
		r.trial, r.trials = relabel(trial)
	}
	if r.subjects < 2 {
		return readings{}, fmt.Errorf("reliability: %w: %d subjects, need at least 2", ErrTooFew, r.subjects)
	}
	return r, nil
}

func relabel(labels []int) (codes []int, count int) {
	codes = make([]int, len(labels))
	seen := make(map[int]int)
	for i, l := range labels {
		code, known := seen[l]
		if !known {
			code = count
			seen[l] = code
			count++
		}
		codes[i] = code
	}
	return codes, count
}

// spectrum is the model with fixed trials reduced to independent parts: with Z
// the indicators of subjects and M the projection off the trials, Z'MZ = U diag(c)
// U' and t = U'Z'My, the t_j with c_j > 0 are independent with variance
//
//	sigma^2 c_j (1 + lambda c_j),   lambda = Var(u)/sigma^2,
//
// and independent of the residual sum of squares, sigma^2 chi-square on df.
type spectrum struct {
	c, t2    []float64 // c_j ascending and t_j^2
	residual float64   // sum of squares after subjects and trials
	df       float64   // its degrees of freedom
	mean     float64
}

// rankTolerance is the share of the largest eigenvalue of Z'MZ below which one
// counts as zero.
const rankTolerance = 1e-10

func (r readings) spectrum() (spectrum, error) {
	a := r.subjects
	inTrial := make([]float64, r.trials)
	trialMean := make([]float64, r.trials)
	counts := make([]float64, a*r.trials) // readings by subject and trial
	z := mat.NewSymDense(a, nil)
	var s spectrum
	for i, v := range r.value {
		inTrial[r.trial[i]]++
		trialMean[r.trial[i]] += v
		counts[r.subject[i]*r.trials+r.trial[i]]++
		s.mean += v / float64(len(r.value))
	}
	s.mean += r.origin
	for j := range trialMean {
		trialMean[j] /= inTrial[j]
	}
	sums := make([]float64, a)
	for i, v := range r.value {
		k := r.subject[i]
		sums[k] += v - trialMean[r.trial[i]]
		z.SetSym(k, k, z.At(k, k)+1)
	}
	for k := range a {
		for l := k; l < a; l++ {
			v := z.At(k, l)
			for j, n := range inTrial {
				v -= counts[k*r.trials+j] * counts[l*r.trials+j] / n
			}
			z.SetSym(k, l, v)
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(z, true) {
		return spectrum{}, fmt.Errorf("reliability: %w: eigenvalues", ErrNotConverged)
	}
	var u mat.Dense
	eigen.VectorsTo(&u)
	values := eigen.Values(nil)
	effects := make([]float64, a)
	for j, c := range values {
		if c <= rankTolerance*values[a-1] || c <= 0 {
			continue
		}
		var t float64
		for k, v := range sums {
			t += u.At(k, j) * v
		}
		s.c, s.t2 = append(s.c, c), append(s.t2, t*t)
		for k := range effects {
			effects[k] += u.At(k, j) * t / c
		}
	}
	s.residual = r.leftover(effects, inTrial)
	s.df = float64(len(r.value) - r.trials - len(s.c))
	switch {
	case len(s.c) == 0:
		return spectrum{}, fmt.Errorf("reliability: %w: no trial has two subjects to compare", ErrTooFew)
	case s.df < 1:
		return spectrum{}, fmt.Errorf("reliability: %w: %d readings of %d subjects leave no degree of freedom for the error", ErrTooFew, len(r.value), a)
	case math.IsInf(s.residual, 0) || math.IsNaN(s.residual) || s.residual > 0 && s.residual < smallestSquare:
		return spectrum{}, fmt.Errorf("reliability: %w: a sum of squares leaves the range of a float64; change units", ErrNotFinite)
	case math.Sqrt(s.residual/s.df) <= exactTolerance*r.largest:
		return spectrum{}, fmt.Errorf("reliability: %w: readings of one subject do not differ", ErrNoVariance)
	}
	return s, nil
}

// leftover is the sum of squares about subjects' effects and trials.
func (r readings) leftover(effects, inTrial []float64) float64 {
	trial := make([]float64, r.trials)
	for i, v := range r.value {
		trial[r.trial[i]] += (v - effects[r.subject[i]]) / inTrial[r.trial[i]]
	}
	var ss float64
	for i, v := range r.value {
		e := v - effects[r.subject[i]] - trial[r.trial[i]]
		ss += e * e
	}
	return ss
}

// between is the quadratic form sum t_j^2 / (c_j (1 + lambda c_j)), sigma^2
// chi-square on len(c) degrees of freedom at the true lambda.
func (s spectrum) between(lambda float64) float64 {
	var q float64
	for j, c := range s.c {
		q += s.t2[j] / (c * (1 + lambda*c))
	}
	return q
}

// limits gives the exact interval of lambda (Wald 1940, Annals of Mathematical
// Statistics 11:96-100; Seely and El-Bassiouni 1983, Annals of Statistics
// 11:197-201): the values at which between(lambda)/q over the error mean square
// lies between the points of F(q, df). It falls in lambda, so both limits are
// found by halving. They may be negative, down to -1/max(c).
func (s spectrum) limits(level float64) (low, high float64) {
	q := float64(len(s.c))
	return s.solve(fQuantile((1+level)/2, q, s.df)), s.solve(1 / fQuantile((1+level)/2, s.df, q))
}

func (s spectrum) solve(f float64) float64 {
	target := f * float64(len(s.c)) * s.residual / s.df
	largest := s.c[len(s.c)-1]
	// On the scale of ln(1 + lambda max(c)).
	at := func(x float64) float64 { return math.Expm1(x) / largest }
	low, high := -60.0, 60.0
	for range 200 {
		middle := (low + high) / 2
		if middle <= low || middle >= high {
			break
		}
		if s.between(at(middle)) > target {
			low = middle
		} else {
			high = middle
		}
	}
	return at(high)
}

// slope is the derivative in lambda of the restricted deviance
//
//	sum ln(1 + lambda c_j) + (q + df) ln(residual + between(lambda)).
func (s spectrum) slope(lambda float64) float64 {
	var logs, fall float64
	for j, c := range s.c {
		d := 1 + lambda*c
		logs += c / d
		fall += s.t2[j] / (d * d)
	}
	return logs - (float64(len(s.c))+s.df)*fall/(s.residual+s.between(lambda))
}

func (s spectrum) deviance(lambda float64) float64 {
	var logs float64
	for _, c := range s.c {
		logs += math.Log1p(lambda * c)
	}
	return logs + (float64(len(s.c))+s.df)*math.Log(s.residual+s.between(lambda))
}

// reml gives the lambda >= 0 of least restricted deviance. Every change of the
// slope from falling to rising on a grid of ratio 1.2 is halved to rounding, and
// the lowest of those minima and zero is taken.
func (s spectrum) reml() float64 {
	best, least := 0.0, math.Inf(1)
	if s.slope(0) >= 0 {
		least = s.deviance(0)
	}
	largest, smallest := s.c[len(s.c)-1], s.c[0]
	// Beyond end the slope is positive: with lambda c > 1 the logarithms give at
	// least q/(2 lambda) and the rest at most (q+df) between(0)/(residual c lambda^2).
	end := 1e-3/largest + 4*(1+s.df/float64(len(s.c)))*(1+s.between(0)/s.residual)/smallest
	left := 0.0
	for left < end {
		right := left + 0.2*(1e-2/largest+left)
		if s.slope(left) < 0 && s.slope(right) >= 0 {
			low, high := left, right
			for {
				middle := low + (high-low)/2
				if middle <= low || middle >= high {
					break
				}
				if s.slope(middle) < 0 {
					low = middle
				} else {
					high = middle
				}
			}
			if d := s.deviance(high); d < least {
				best, least = high, d
			}
		}
		left = right
	}
	return best
}
