package pooled

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/stats/tail"
)

// Result is a pooled estimate with what it rests on. Units are those of the
// estimates; variances are in their squares.
type Result struct {
	K        int // number of estimates pooled
	Estimate float64
	StdError float64
	// Statistic is Estimate/StdError; PValue is two-sided, from the t
	// distribution with DF degrees of freedom, or the normal when DF is +Inf.
	Statistic, DF, PValue float64
	ConfLow, ConfHigh     float64
	// PredictLow and PredictHigh hold the true value of one more unit like
	// these: Estimate -+ c sqrt(StdError^2 + Tau2), c the normal quantile for
	// the Normal test and the t quantile with DF degrees of freedom otherwise
	// (Riley, Higgins and Deeks 2011, BMJ 342:d549, whose k-2 degrees of
	// freedom are here k-1). It takes Tau2 as known, so it is too narrow for
	// few estimates: in the setting of TestCoverage it covers 0.88 for k = 8.
	// Under FixedEffect it equals the confidence interval.
	PredictLow, PredictHigh float64

	Tau2 float64 // between-variance; zero, not estimated, under FixedEffect
	// Tau2StdError is the large-sample standard error of Tau2, of little
	// worth for few estimates or Tau2 near zero; zero under FixedEffect.
	Tau2StdError float64
	// Tau2Low and Tau2High are the Q-profile interval (Viechtbauer 2007),
	// which depends on the data alone, not on Method.
	Tau2Low, Tau2High float64
	// I2, in percent, is the share of Tau2 in the total variance, and H2 the
	// ratio of total to sampling variance, at the typical sampling variance
	// s2 = (k-1) sum(w) / (sum(w)^2 - sum(w^2)), w = 1/v (Higgins and Thompson
	// 2002, Statistics in Medicine 21:1539, eq. 9): I2 = 100 Tau2/(Tau2 + s2),
	// H2 = 1 + Tau2/s2. Under FixedEffect I2 = max(0, 100 (Q-(k-1))/Q) and
	// H2 = Q/(k-1).
	I2, H2 float64
	Q, QP  float64 // Cochran's Q with weights 1/v, its p-value on k-1 df

	LogLik  float64   // restricted log-likelihood under REML, plain otherwise
	Weights []float64 // share of each estimate in Estimate, in input order; sums to 1

	// Converged says that Tau2 was verified: its estimating equation changes
	// sign within rounding of Tau2, or Tau2 is zero and the equation points
	// below zero there. Score is the value left: twice the derivative of the
	// log-likelihood (REML, ML), or Q(Tau2) - (k-1) (PauleMandel,
	// EmpiricalBayes); zero for the closed forms.
	Converged bool
	Score     float64
	Boundary  bool // Tau2 was set to zero because the data would have it lower
	Method    Method
	Test      Test
	Level     float64
	Warnings  []string // what a reader must know, in plain words
}

// Fit pools estimates with their sampling variances. The two slices are of
// equal length, at least 2, and are not changed. The result does not depend
// on their order (but for Weights, which follows it), to the last bit.
//
// It fails with a *[LengthError], *[TooFewError], *[ValueError] (NaN,
// infinite, or a variance not above zero), *[OptionError], *[NoSpreadError]
// (all estimates equal under HartungKnapp or
// BiasReduced) or *[NumericalError] (overflow).
func Fit(estimates, variances []float64, o Options) (Result, error) {
	o, err := o.resolved()
	if err != nil {
		return Result{}, err
	}
	if err := check(estimates, variances); err != nil {
		return Result{}, err
	}
	s := newSample(estimates, variances)
	if s.y[0] == s.y[len(s.y)-1] && (o.Test == HartungKnapp || o.Test == BiasReduced) {
		return Result{}, &NoSpreadError{K: len(s.y)}
	}
	if math.IsInf(s.deviation, 0) || math.IsInf(1/(s.smallest*s.smallest*s.smallest), 0) {
		return Result{}, &NumericalError{What: "a sum of squares"}
	}

	search := s.search()
	b := search.estimate(o.Method)
	a := s.at(b.tau2)
	df := float64(len(s.y) - 1)
	r := Result{
		K: len(s.y), Estimate: a.mu,
		Tau2: b.tau2, Tau2StdError: b.stdError,
		Converged: b.verified, Score: b.score, Boundary: b.boundary,
		LogLik: s.logLik(b.tau2, o.Method == REML),
		Method: o.Method, Test: o.Test, Level: o.Level,
	}
	r.Tau2Low, r.Tau2High = search.profileInterval(o.Level)
	r.setHeterogeneity(s, df)
	r.setTest(s, a, df)
	r.Weights = make([]float64, len(variances))
	for i, v := range variances {
		r.Weights[i] = 1 / (v + b.tau2) / a.w
	}
	r.warn(s, a, b)
	if err := r.finite(); err != nil {
		return Result{}, err
	}
	return r, nil
}

func check(estimates, variances []float64) error {
	if len(estimates) != len(variances) {
		return &LengthError{Estimates: len(estimates), Variances: len(variances)}
	}
	if len(estimates) < 2 {
		return &TooFewError{K: len(estimates)}
	}
	for i, y := range estimates {
		if math.IsNaN(y) || math.IsInf(y, 0) {
			return &ValueError{What: "estimate", Index: i, Value: y}
		}
		if v := variances[i]; !(v > 0) || math.IsInf(v, 0) {
			return &ValueError{What: "variance", Index: i, Value: v}
		}
	}
	return nil
}

// setHeterogeneity fills Q, its p-value, I2 and H2.
func (r *Result) setHeterogeneity(s sample, df float64) {
	a := s.at(0)
	r.Q = a.wr2
	r.QP = distuv.ChiSquared{K: df}.Survival(r.Q)
	if r.Method == FixedEffect {
		r.H2 = r.Q / df
		if r.Q > df {
			r.I2 = 100 * (r.Q - df) / r.Q
		}
		return
	}
	typical := df / a.traceP()
	r.I2 = 100 * r.Tau2 / (r.Tau2 + typical)
	r.H2 = 1 + r.Tau2/typical
}

// setTest fills the standard error, test and intervals.
func (r *Result) setTest(s sample, a sums, df float64) {
	variance := 1 / a.w
	r.DF = math.Inf(1)
	switch r.Test {
	case HartungKnapp:
		variance, r.DF = variance*a.wr2/df, df
	case ModifiedHartungKnapp:
		variance, r.DF = variance*max(1, a.wr2/df), df
	case BiasReduced:
		variance, r.DF = s.biasReduced(a, r.Tau2)
	}
	r.StdError = math.Sqrt(variance)
	r.Statistic = r.Estimate / r.StdError
	r.PValue = tail.TwoSided(r.Statistic, r.DF)
	c := tail.Critical(1-r.Level, r.DF)
	r.ConfLow, r.ConfHigh = r.Estimate-c*r.StdError, r.Estimate+c*r.StdError
	spread := c * math.Sqrt(variance+r.Tau2)
	r.PredictLow, r.PredictHigh = r.Estimate-spread, r.Estimate+spread
}

const (
	// fewEstimates is where a warning about tau2 starts; common practice.
	fewEstimates = 5
	// varianceRatio is where largest over smallest variance begins to cost
	// digits (R's metafor warns from the same ratio; value from memory).
	varianceRatio = 1e7
)

// warn lists what a reader of the numbers must know.
func (r *Result) warn(s sample, a sums, b between) {
	add := func(format string, args ...any) { r.Warnings = append(r.Warnings, fmt.Sprintf(format, args...)) }
	if !r.Converged {
		add("the between-variance could not be verified as a solution of its equation")
	}
	if r.K < fewEstimates {
		add("only %d estimates: the between-variance and the prediction interval are poorly known", r.K)
	}
	if r.Boundary && r.Method != FixedEffect {
		add("the between-variance is estimated at its lower limit of zero: the prediction interval holds no differences between those pooled")
	}
	if b.maxima > 1 {
		add("the likelihood has %d local maxima: the highest was taken", b.maxima)
	}
	if s.largest/s.smallest >= varianceRatio {
		add("the variances differ by a factor of %.2g: a few estimates decide the result", s.largest/s.smallest)
	}
	// Compared by interval, not by standard error: the standard error is below
	// the plain one about half of the time by chance.
	plain := 2 * distuv.UnitNormal.Quantile((1+r.Level)/2) / math.Sqrt(a.w)
	if r.Test == HartungKnapp && r.ConfHigh-r.ConfLow < plain {
		add("the Hartung-Knapp interval is narrower than the plain one: compare with the modified Hartung-Knapp interval")
	}
}

// finite refuses a result with a number lost to overflow.
func (r *Result) finite() error {
	named := []struct {
		what  string
		value float64
	}{
		{"the estimate", r.Estimate}, {"the standard error", r.StdError}, {"the test statistic", r.Statistic},
		{"the p-value", r.PValue}, {"a confidence limit", r.ConfHigh - r.ConfLow},
		{"a prediction limit", r.PredictHigh - r.PredictLow}, {"the between-variance", r.Tau2},
		{"the standard error of the between-variance", r.Tau2StdError}, {"a limit of the between-variance", r.Tau2High},
		{"I2", r.I2}, {"H2", r.H2}, {"Q", r.Q}, {"the log-likelihood", r.LogLik},
	}
	for _, n := range named {
		if math.IsNaN(n.value) || math.IsInf(n.value, 0) {
			return &NumericalError{What: n.what}
		}
	}
	if slices.ContainsFunc(r.Weights, func(w float64) bool { return math.IsNaN(w) }) {
		return &NumericalError{What: "a weight"}
	}
	return nil
}
