package pooled

import (
	"cmp"
	"math"
	"slices"
)

// sample holds the estimates y with their variances v, sorted by value so
// that no sum depends on the order or the labels of the input.
type sample struct {
	y, v      []float64
	smallest  float64 // smallest variance
	largest   float64 // largest variance
	deviation float64 // sum of squares of y about its plain mean
}

func newSample(estimates, variances []float64) sample {
	order := make([]int, len(estimates))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(estimates[a], estimates[b]), cmp.Compare(variances[a], variances[b]))
	})
	s := sample{
		y: make([]float64, len(order)), v: make([]float64, len(order)),
		smallest: slices.Min(variances), largest: slices.Max(variances),
	}
	var shift float64
	for i, o := range order {
		s.y[i], s.v[i] = estimates[o], variances[o]
		shift += s.y[i] - s.y[0]
	}
	mean := s.y[0] + shift/float64(len(s.y))
	for _, y := range s.y {
		s.deviation += (y - mean) * (y - mean)
	}
	return s
}

// sums are the weighted sums at one value of tau2, with w_i = 1/(v_i + tau2)
// and residuals r_i = y_i - mu.
type sums struct {
	mu        float64 // weighted mean
	w, w2, w3 float64 // sums of w, w^2, w^3
	wr2       float64 // sum of w r^2: the generalised Q
	w2r2      float64 // sum of w^2 r^2
}

// at computes the sums. The mean is measured from the first estimate, so that
// equal estimates have exactly zero residuals.
func (s sample) at(tau2 float64) sums {
	var out sums
	var shift float64
	for i, v := range s.v {
		w := 1 / (v + tau2)
		out.w += w
		out.w2 += w * w
		out.w3 += w * w * w
		shift += w * (s.y[i] - s.y[0])
	}
	out.mu = s.y[0] + shift/out.w
	for i, v := range s.v {
		w := 1 / (v + tau2)
		r := s.y[i] - out.mu
		out.wr2 += w * r * r
		out.w2r2 += (w * r) * (w * r)
	}
	return out
}

// biasReduced is the CR2 variance of the mean at one value of tau2, and its
// degrees of freedom by Satterthwaite under the model. With residuals e, the
// variance is the sum of (h e)^2/(1-h); the covariance of h e/sqrt(1-h) under the
// model is h/w on the diagonal and -h h'/(W sqrt((1-h)(1-h'))) off it, so that
//
//	df = 1 / (sum h^2 + 2 sum over pairs a a'),  a = h^2/(1-h).
func (s sample) biasReduced(a sums, tau2 float64) (variance, df float64) {
	var h2, before, pairs float64
	for i, v := range s.v {
		h := 1 / (v + tau2) / a.w
		var rest float64 // 1 - h, without the digits lost where one estimate weighs nearly all
		if h < 0.5 {
			rest = 1 - h
		} else {
			for j, u := range s.v {
				if j != i {
					rest += 1 / (u + tau2) / a.w
				}
			}
		}
		e := s.y[i] - a.mu
		variance += (h * e) * (h * e) / rest
		own := h * h / rest
		h2, pairs, before = h2+h*h, pairs+own*before, before+own
	}
	return variance, 1 / (h2 + 2*pairs)
}

// search makes the estimation of tau2 from the sample.
func (s sample) search() search {
	k := float64(len(s.y))
	var v, v2 float64
	for _, x := range s.v {
		v += x
		v2 += x * x
	}
	return search{
		k: k, p: 1, deviation: s.deviation, smallest: s.smallest, largest: s.largest, plainVariance: s.deviation / k,
		plainPV: v * (1 - 1/k), plainPVPV: v2*(1-2/k) + v/k*(v/k),
		at: func(tau2 float64) spread {
			a := s.at(tau2)
			return spread{w: a.w, w2: a.w2, wr2: a.wr2, w2r2: a.w2r2, traceP: a.traceP(), tracePP: a.tracePP()}
		},
		logLik: s.logLik,
	}
}

// traceP is the trace of P = W - W 1 1' W / sum(w).
func (a sums) traceP() float64 { return a.w - a.w2/a.w }

// tracePP is the trace of P P.
func (a sums) tracePP() float64 { return a.w2 - 2*a.w3/a.w + (a.w2/a.w)*(a.w2/a.w) }

// logLik is the log-likelihood of tau2 with mu profiled out (Viechtbauer
// 2005): restricted, or plain. Constants are kept, so values
// compare with other software.
func (s sample) logLik(tau2 float64, restricted bool) float64 {
	a := s.at(tau2)
	k := float64(len(s.y))
	var logs float64
	for _, v := range s.v {
		logs += math.Log(v + tau2)
	}
	ll := -0.5 * (k*math.Log(2*math.Pi) + logs + a.wr2)
	if restricted {
		ll += 0.5 * (math.Log(2*math.Pi) + math.Log(k) - math.Log(a.w))
	}
	return ll
}
