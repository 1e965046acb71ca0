package pooled

import "fmt"

// Method is the way the between-variance tau2 is estimated.
type Method int

const (
	// REML maximises the restricted likelihood (Viechtbauer 2005, Journal of
	// Educational and Behavioral Statistics 30:261).
	REML Method = iota
	// ML maximises the likelihood; biased towards zero for small k.
	ML
	// DerSimonianLaird equates Q with its expectation, in closed form
	// (DerSimonian and Laird 1986, Controlled Clinical Trials 7:177).
	DerSimonianLaird
	// PauleMandel solves sum (y_i - mu)^2 / (v_i + tau2) = k - 1 (Paule and
	// Mandel 1982, Journal of Research of the NBS 87:377).
	PauleMandel
	// EmpiricalBayes is the estimator of Morris (1983, JASA 78:47), the
	// solution of the same equation as PauleMandel's (Viechtbauer et al. 2015,
	// Psychological Methods 20:360).
	EmpiricalBayes
	// Hedges equates the plain sum of squares of the estimates with its
	// expectation, in closed form (Hedges and Olkin 1985, Statistical Methods for
	// Meta-Analysis, chapter 9): unbiased before it is cut off at zero.
	Hedges
	// SidikJonkman is a closed form that is never zero (Sidik and Jonkman 2005, J.
	// R. Stat. Soc. C 54:367), with the variance of the estimates about their plain
	// mean, divisor k, as its first guess.
	SidikJonkman
	// FixedEffect sets tau2 to zero: the result speaks about these estimates
	// only.
	FixedEffect
)

// String returns the usual abbreviation of the method.
func (m Method) String() string {
	names := [...]string{"REML", "ML", "DL", "PM", "EB", "HE", "SJ", "FE"}
	if m < 0 || int(m) >= len(names) {
		return fmt.Sprintf("Method(%d)", int(m))
	}
	return names[m]
}

// Test is the standard error and reference distribution of the pooled
// estimate.
type Test int

const (
	// Normal takes 1/sum(w) for the variance and the normal distribution.
	Normal Test = iota
	// HartungKnapp takes q/sum(w), q = sum w (y - mu)^2 / (k-1), and the t
	// distribution with k-1 degrees of freedom (Hartung and Knapp 2001,
	// Statistics in Medicine 20:1771; Sidik and Jonkman 2002, 21:3153).
	HartungKnapp
	// ModifiedHartungKnapp is HartungKnapp with q at least 1, so that the
	// standard error is never below the plain one (Knapp and Hartung 2003,
	// Statistics in Medicine 22:2693).
	ModifiedHartungKnapp
	// BiasReduced takes the sandwich variance of the mean with every residual
	// divided by its share of its own standard deviation under the model,
	//	V = sum h^2 (y - mu)^2 / (1 - h),  h = w / sum w
	// and the t distribution with Satterthwaite's degrees of freedom (CR2 with
	// a cluster for each estimate: Hedges, Tipton and Johnson 2010, Research
	// Synthesis Methods 1:39; Tipton 2015, Psychological Methods 20:375). With
	// equal weights it is HartungKnapp. It holds its level where the weights are
	// wrong, as they are when variances are themselves estimated on few degrees
	// of freedom: the heavy estimates are then those whose variance came out
	// too small, and HartungKnapp counts their residuals as if they were near.
	// [Fit] takes it, [Regress] does not.
	BiasReduced
)

// String returns a short name of the test.
func (t Test) String() string {
	names := [...]string{"normal", "Hartung-Knapp", "modified Hartung-Knapp", "CR2"}
	if t < 0 || int(t) >= len(names) {
		return fmt.Sprintf("Test(%d)", int(t))
	}
	return names[t]
}

// Options choose the model. The zero value is REML with the normal test and
// 95 % intervals.
type Options struct {
	Method Method
	Test   Test
	Level  float64 // of all intervals, in (0, 1); 0 means 0.95
}

func (o Options) resolved() (Options, error) {
	if o.Level == 0 {
		o.Level = 0.95
	}
	if !(o.Level > 0 && o.Level < 1) {
		return o, &OptionError{What: "level", Value: o.Level}
	}
	if o.Method < REML || o.Method > FixedEffect {
		return o, &OptionError{What: "method", Value: float64(o.Method)}
	}
	if o.Test < Normal || o.Test > BiasReduced {
		return o, &OptionError{What: "test", Value: float64(o.Test)}
	}
	return o, nil
}
