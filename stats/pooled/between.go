package pooled

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// between is an estimate of the between-variance and how it was reached.
type between struct {
	tau2     float64
	stdError float64
	boundary bool // tau2 is zero because the score there points below zero
	verified bool // root bracketed to rounding, or the boundary condition holds
	score    float64
	maxima   int // local maxima found (likelihood methods)
}

// spread is what the between-variance is estimated from, at one value of tau2:
// sums over w_i = 1/(v_i + tau2) and the residuals r_i of the weighted fit, and
// traces of P = W - W X (X'WX)^-1 X'W.
type spread struct {
	w, w2           float64 // sums of w, w^2
	wr2             float64 // sum of w r^2: the generalised Q
	w2r2            float64 // sum of w^2 r^2
	traceP, tracePP float64
}

// search is the estimation of tau2 in a model with k estimates and p
// coefficients.
type search struct {
	k, p              float64
	deviation         float64 // residual sum of squares of the unweighted fit
	smallest, largest float64 // sampling variances
	plainVariance     float64 // of the estimates about their mean, divisor k
	// plainPV and plainPVPV are the traces of PV and PVPV, P the projection off the
	// columns without weights, V the sampling variances.
	plainPV, plainPVPV float64
	at                 func(tau2 float64) spread
	logLik             func(tau2 float64, restricted bool) float64
}

// estimate dispatches on the method.
func (s search) estimate(m Method) between {
	switch m {
	case REML, ML:
		b := s.maximise(m == REML)
		a := s.at(b.tau2)
		// Inverse expected information (Viechtbauer 2005).
		if m == REML {
			b.stdError = math.Sqrt(2 / a.tracePP)
		} else {
			b.stdError = math.Sqrt(2 / a.w2)
		}
		return b
	case DerSimonianLaird:
		a := s.at(0)
		df := s.k - s.p
		free := (a.wr2 - df) / a.traceP
		t := max(0, free)
		variance := (2*df + 4*t*a.traceP + 2*t*t*a.tracePP) / (a.traceP * a.traceP)
		return between{tau2: t, stdError: math.Sqrt(variance), boundary: free <= 0, verified: true}
	case PauleMandel, EmpiricalBayes:
		b := s.solveQ(s.k - s.p)
		a := s.at(b.tau2)
		// Large-sample standard error (Viechtbauer et al. 2015).
		b.stdError = math.Sqrt(2*s.k*s.k/(s.k-s.p)) / a.w
		return b
	case Hedges:
		df := s.k - s.p
		free := (s.deviation - s.plainPV) / df
		t := max(0, free)
		variance := (2*s.plainPVPV + 4*t*s.plainPV + 2*t*t*df) / (df * df)
		return between{tau2: t, stdError: math.Sqrt(variance), boundary: free <= 0, verified: true}
	case SidikJonkman:
		return s.sidikJonkman()
	}
	return between{verified: true, boundary: false} // FixedEffect: nothing is estimated
}

// sidikJonkman starts from g, the plain variance of the estimates, and gives g Q(g)
// over k-p. With P at g, PV = P (W^-1 - g I) and P W^-1 P = P, so that the traces
// of PVPV and PVP, of which its variance is made, follow from those of P and PP.
func (s search) sidikJonkman() between {
	df := s.k - s.p
	g := s.plainVariance
	if g == 0 {
		return between{boundary: true, verified: true}
	}
	a := s.at(g)
	t := g * a.wr2 / df
	pvpv := df - 2*g*a.traceP + g*g*a.tracePP
	pvp := a.traceP - g*a.tracePP
	variance := g * g / (df * df) * (2*pvpv + 4*t*pvp + 2*t*t*a.tracePP)
	return between{tau2: t, stdError: math.Sqrt(variance), boundary: false, verified: true}
}

// score is twice the derivative of the log-likelihood in tau2 (Viechtbauer
// 2005): sum w^2 r^2 minus tr(P) (restricted) or minus sum w (plain).
func (s search) score(tau2 float64, restricted bool) float64 {
	a := s.at(tau2)
	if restricted {
		return a.w2r2 - a.traceP
	}
	return a.w2r2 - a.w
}

// maximise finds the global maximum of the likelihood over tau2 >= 0.
//
// Since sum w^2 r^2 <= D/(vmin+t)^2, D the plain sum of squares, and both
// tr(P) and sum w are at least m/(vmax+t) with m = k-p and k, the score is
// negative beyond the root of m (vmin+t)^2 = D (vmax+t). All stationary
// points lie below it. The score is a rational function with poles at -v_i,
// so on the scale of ln(vmin+t) it changes over distances of order one: a
// grid of ratio 1.1 brackets each of its sign changes, every change from plus
// to minus is bisected down to rounding, and the highest of those maxima and
// zero is taken.
func (s search) maximise(restricted bool) between {
	m := s.k
	if restricted {
		m -= s.p
	}
	d := s.deviation
	end := (d+math.Sqrt(d*d+4*m*d*(s.largest-s.smallest)))/(2*m) - s.smallest
	end *= 1 + 1e-9

	f := func(t float64) float64 { return s.score(t, restricted) }
	best := between{boundary: true}
	height := math.Inf(-1)
	left, atLeft := 0.0, f(0)
	if atLeft <= 0 {
		best = between{boundary: true, verified: true, score: atLeft, maxima: 1}
		height = s.logLik(0, restricted)
	}
	for left < end {
		right := left + 0.1*(s.smallest+left)
		atRight := f(right)
		if atLeft > 0 && atRight <= 0 {
			t, bracketed := bisect(f, left, right, s.smallest)
			best.maxima++
			if h := s.logLik(t, restricted); h > height {
				height = h
				best.tau2, best.boundary, best.verified, best.score = t, false, bracketed, f(t)
			}
		}
		left, atLeft = right, atRight
	}
	return best
}

// solveQ solves Q(t) = target for t >= 0, where Q(t) = sum w r^2 falls
// strictly in t and is at most D/(vmin+t). If Q(0) is at most target the
// answer is zero.
func (s search) solveQ(target float64) between {
	f := func(t float64) float64 { return s.at(t).wr2 - target }
	atZero := f(0)
	if atZero <= 0 {
		return between{boundary: true, verified: true, score: atZero}
	}
	end := (s.deviation/target - s.smallest) * (1 + 1e-9)
	t, bracketed := bisect(f, 0, end, s.smallest)
	return between{tau2: t, verified: bracketed, score: f(t)}
}

// profileInterval returns the Q-profile interval of tau2 (Viechtbauer 2007,
// Statistics in Medicine 26:37): the values not rejected by
// Q(tau2) ~ chi-square with k-p degrees of freedom. A limit that would be
// negative is zero, and both are zero when even tau2 = 0 leaves the estimates
// closer together than chance would.
func (s search) profileInterval(level float64) (low, high float64) {
	chi := distuv.ChiSquared{K: s.k - s.p}
	low = s.solveQ(chi.Quantile((1 + level) / 2)).tau2
	high = s.solveQ(chi.Quantile((1 - level) / 2)).tau2
	return low, high
}

// bisect halves [low, high], where f is above zero at low and not above zero
// at high, until no number lies between or the rest is rounding beside
// scale + low. It returns the end with the smaller |f| and whether f does
// change sign over the last bracket.
func bisect(f func(float64) float64, low, high, scale float64) (root float64, bracketed bool) {
	atLow, atHigh := f(low), f(high)
	for high-low > 0x1p-52*(scale+low) {
		middle := low + (high-low)/2
		if middle <= low || middle >= high {
			break
		}
		if at := f(middle); at > 0 {
			low, atLow = middle, at
		} else {
			high, atHigh = middle, at
		}
	}
	bracketed = atLow > 0 && atHigh <= 0
	if atLow < -atHigh {
		return low, bracketed
	}
	return high, bracketed
}
