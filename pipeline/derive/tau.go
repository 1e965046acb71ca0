package derive

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"lengthwise/stats/kinetics"
	"lengthwise/stats/pooled"
)

// OwnTau is what one swimmer's samples say, by themselves, of the time constant of
// heart rate. Missing numbers are NaN.
type OwnTau struct {
	LnSeconds, StdError float64 // NaN where they say nothing
	DF                  float64
	Traced              int     // bouts whose samples show their course
	Bouts, Sessions     int     // of those, that say something of it
	NoiseBPM            float64 // standard deviation of one sample's error
	Refused             string  // why kinetics must not be used, "" when nothing speaks against it
}

// Why a swimmer's steady heart rate is not read by kinetics.
const refusedNotFirstOrder = "rise-not-first-order"

const (
	// fewestSessions is how many sessions make clusters of their own; with fewer,
	// bouts do.
	fewestSessions = 6
	// fewestBoutsForRefusal is how many bouts must show a rise that no tau within
	// the bounds fits before it counts as not of first order.
	fewestBoutsForRefusal = 8
	// roundingVariance is what whole beats a minute leave in a sample, and a little
	// more.
	roundingVariance = 0.1
)

// FirstTau reads a swimmer's own time constant off all bouts, the first of the two
// passes. Where there are straps they alone are asked, since the error of a wrist
// moves with the stroke. What only this pass needs is let go of.
func FirstTau(bouts []Bout) OwnTau {
	own := OwnTau{LnSeconds: math.NaN(), StdError: math.NaN(), DF: math.NaN(), NoiseBPM: math.NaN()}
	source := bestSource(bouts)
	var rises []*kinetics.Rise
	var sessions, single []int
	codes := map[string]int{}
	for i := range bouts {
		a := bouts[i].approach
		if a == nil || a.profile == nil {
			continue
		}
		own.Traced++
		if a.rise == nil {
			continue
		}
		if bouts[i].sampleSource == source {
			code, known := codes[bouts[i].Session]
			if !known {
				code = len(codes)
				codes[bouts[i].Session] = code
			}
			single = append(single, len(rises))
			rises, sessions = append(rises, a.rise), append(sessions, code)
		}
		a.rise = nil
	}
	clusters := sessions
	if len(codes) < fewestSessions {
		clusters = single
	}
	e, err := tauGrid().Estimate(rises, clusters, roundingVariance)
	own.Bouts, own.Sessions = e.Bouts, len(codes)
	switch {
	case err == nil:
		own.LnSeconds, own.StdError, own.DF, own.NoiseBPM = e.LogTau, e.StdError, e.DF, e.Sigma
	case errors.Is(err, kinetics.ErrNotIdentified) && e.Bouts >= fewestBoutsForRefusal:
		own.Refused = refusedNotFirstOrder
	}
	return own
}

// bestSource is the source of samples that is asked for tau: straps before unknown
// sources before the wrist.
func bestSource(bouts []Bout) string {
	best, rank := "", 0
	for i := range bouts {
		if a := bouts[i].approach; a == nil || a.rise == nil {
			continue
		}
		r := 2
		switch bouts[i].sampleSource {
		case "strap":
			r = 3
		case "optical":
			r = 1
		}
		if r > rank {
			best, rank = bouts[i].sampleSource, r
		}
	}
	return best
}

// Settled is what the squad's time constants say of the next swimmer's: ln tau has
// mean ln TauSeconds, known to within LnMeanSE, and spread LnSD between swimmers. It
// is all that passes from one swimmer to another in reading heart rates, so it is
// kept with the result.
type Settled struct {
	TauSeconds float64 `json:"tau_s"`
	LnMeanSE   float64 `json:"ln_tau_mean_std_error"`
	LnSD       float64 `json:"ln_tau_sd_between_swimmers"`
	NoiseBPM   float64 `json:"sample_noise_bpm"` // of one sample, the median over swimmers; 0 without any
	Swimmers   int     `json:"swimmers"`         // whose own time constant is in it
}

// What is thought of tau before any swimmer is seen: 30 to 60 s is one standard
// deviation to either side of the middle. Common practice, no source for the spread.
// In the spread between swimmers it counts as much as priorSwimmers would.
const (
	priorTauSeconds = 43.0
	priorLnMeanSE   = 0.35
	priorLnSD       = 0.25
	priorSwimmers   = 4
	priorNoiseBPM   = 1.5
)

// Traced counts the bouts whose heart rates the time constant of the squad can
// change. Where there are none, Steady gives the same for every time constant.
func Traced(bouts []Bout) int {
	n := 0
	for i := range bouts {
		if bouts[i].approach != nil {
			n++
		}
	}
	return n
}

// Settle joins the swimmers' own time constants: random effects by REML, then
// weighed with what was thought before, which a squad of twenty outweighs. The order
// of swimmers makes no difference.
func Settle(swimmers []OwnTau) Settled {
	q := Settled{TauSeconds: priorTauSeconds, LnMeanSE: priorLnMeanSE, LnSD: priorLnSD}
	var own []OwnTau
	var noise []float64
	for _, o := range swimmers {
		if !math.IsNaN(o.LnSeconds) && o.StdError > 0 {
			own = append(own, o)
			noise = append(noise, o.NoiseBPM)
		}
	}
	q.Swimmers = len(own)
	if len(own) == 0 {
		return q
	}
	slices.SortFunc(own, func(a, b OwnTau) int {
		return cmp.Or(cmp.Compare(a.LnSeconds, b.LnSeconds), cmp.Compare(a.StdError, b.StdError))
	})
	slices.Sort(noise)
	q.NoiseBPM = noise[len(noise)/2]
	mean, spread, variance := own[0].LnSeconds, priorLnSD*priorLnSD, own[0].StdError*own[0].StdError+priorLnSD*priorLnSD
	estimates, variances := make([]float64, len(own)), make([]float64, len(own))
	for i, o := range own {
		estimates[i], variances[i] = o.LnSeconds, o.StdError*o.StdError
	}
	if r, err := pooled.Fit(estimates, variances, pooled.Options{}); err == nil {
		mean = r.Estimate
		k := float64(len(own))
		spread = ((k-1)*r.Tau2 + priorSwimmers*priorLnSD*priorLnSD) / (k - 1 + priorSwimmers)
		variance = r.StdError*r.StdError + (spread-math.Min(spread, r.Tau2))/k
	}
	before, now := 1/(priorLnMeanSE*priorLnMeanSE), 1/variance
	q.TauSeconds = math.Exp(rounded((before*math.Log(priorTauSeconds)+now*mean)/(before+now), settledStep))
	q.LnMeanSE = math.Max(settledStep, rounded(math.Sqrt(1/(before+now)), settledStep))
	q.LnSD = math.Max(settledStep, rounded(math.Sqrt(spread), settledStep))
	q.NoiseBPM = math.Max(noiseStep, rounded(q.NoiseBPM, noiseStep))
	return q
}

// What is said of the squad is rounded, so that a session more seldom changes it, and
// with it the answers of every swimmer: a time constant to a hundredth of itself, well
// within its own error.
const (
	settledStep = 0.01
	noiseStep   = 0.05
)

func rounded(x, step float64) float64 { return step * math.Round(x/step) }

// Tau is the time constant in use for a swimmer.
type Tau struct {
	LnSeconds float64 // NaN where kinetics is not used
	StdError  float64 // of LnSeconds
	DF        float64 // of StdError
	NoiseBPM  float64 // of one sample
	Reason    string  // why it is not used, or not the swimmer's own
}

// Shrink draws a swimmer's own time constant towards the squad's as far as its error
// asks: the weight of the own one is LnSD^2 over LnSD^2 plus its squared standard
// error (empirical Bayes; Efron and Morris 1975).
func (q Settled) Shrink(own OwnTau) Tau {
	t := Tau{LnSeconds: math.Log(q.TauSeconds), StdError: math.Hypot(q.LnSD, q.LnMeanSE), DF: largeDF, NoiseBPM: own.NoiseBPM}
	if math.IsNaN(t.NoiseBPM) {
		t.NoiseBPM = priorNoiseBPM
		if q.NoiseBPM > 0 {
			t.NoiseBPM = q.NoiseBPM
		}
	}
	switch {
	case own.Refused != "":
		t.LnSeconds, t.Reason = math.NaN(), own.Refused
	case math.IsNaN(own.LnSeconds):
		t.Reason = "squad-tau"
	default:
		error2, spread := own.StdError*own.StdError, q.LnSD*q.LnSD
		w := spread / (spread + error2)
		t.LnSeconds += w * (own.LnSeconds - t.LnSeconds)
		t.StdError = math.Sqrt(w*error2 + (1-w)*(1-w)*q.LnMeanSE*q.LnMeanSE)
		// The part of the variance that comes from the own error has its degrees of
		// freedom (Satterthwaite).
		part := w * w * error2 / (t.StdError * t.StdError)
		t.DF = math.Min(largeDF, own.DF/(part*part))
	}
	return t
}

// largeDF stands for a normal distribution.
const largeDF = 1e6
