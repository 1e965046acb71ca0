package trial

import (
	"context"
	"fmt"
	"math"

	"golang.org/x/sync/errgroup"
	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/study"
	"lengthwise/stats/power"
)

// Sizes is how much is swum.
type Sizes struct {
	Swimmers int `json:"swimmers"`
	Sessions int `json:"sessions"` // of each swimmer
	Bouts    int `json:"bouts"`    // a session
}

// Assumed is what a study is expected to meet, in the unit of cost (bpm unless
// another is meant).
type Assumed struct {
	Designed bool    `json:"designed"`            // rates are set beforehand, at a fixed pace and in an order drawn by lot
	Effect   float64 `json:"effect_per_10pct"`    // cost of 10 % more strokes a minute, mean of swimmers
	Spread   float64 `json:"spread_of_swimmers"`  // standard deviation of that between swimmers
	Noise    float64 `json:"noise_of_a_bout"`     // standard deviation of a bout's cost about its session's, at one pace and rate
	Range    float64 `json:"rate_range_pct"`      // rates are set from this far below to this far above the usual one, %
	Steps    int     `json:"rate_steps"`          // in so many even steps
	OwnRate  float64 `json:"own_rate_spread_pct"` // standard deviation of rates that nobody set, %
}

// alpha is the level of tests, confidence that of intervals.
const (
	alpha      = 0.05
	confidence = 1 - alpha
)

// modelTerms are the terms beside the rate and the sessions in the model of the
// primary number: pace, its square, minutes.
const modelTerms = 3

// setLevels are the logarithms of the rates set over the usual one.
func (a Assumed) setLevels() []float64 {
	levels := make([]float64, a.Steps)
	for i := range levels {
		share := -a.Range + 2*a.Range*float64(i)/float64(max(1, a.Steps-1))
		levels[i] = math.Log(1 + share/100)
	}
	return levels
}

// rateVariance is the variance of ln rate within a session at a fixed pace.
func (a Assumed) rateVariance() float64 {
	if !a.Designed {
		return a.OwnRate * a.OwnRate / 1e4
	}
	levels := a.setLevels()
	var mean, squares float64
	for _, v := range levels {
		mean += v / float64(len(levels))
	}
	for _, v := range levels {
		squares += (v - mean) * (v - mean)
	}
	return squares/float64(len(levels)) + rateHold*rateHold
}

// rateHold is how far, in ln rate, a bout is swum from the rate that was set
// (standard deviation; common practice with a tempo beeper, no source).
const rateHold = 0.015

// Power is how often a study finds what is there, and how wide its intervals are.
type Power struct {
	Squad        float64 `json:"squad"`               // the squad's average is told from zero, on the right side
	Swimmer      float64 `json:"swimmer"`             // one swimmer's own interval leaves zero out, on the right side
	SquadHalf    float64 `json:"squad_half_width"`    // of the 95 % interval of the squad's average
	SwimmerHalf  float64 `json:"swimmer_half_width"`  // of one swimmer's
	Wrong        float64 `json:"wrong_direction"`     // shares of squads whose average is told from zero on the wrong side; simulated only
	Trials       int     `json:"trials,omitempty"`    // squads simulated; 0 for the closed form
	TooLittle    float64 `json:"too_little"`          // share of swimmers of too little data for a verdict; simulated only
	SquadError   float64 `json:"squad_error"`         // standard error of Squad by simulation
	SwimmerError float64 `json:"swimmer_error"`       // of Swimmer
	Concordance  float64 `json:"concordance_implied"` // share of pairs at one pace in which the bout of fewer strokes is the cheaper, if the effect is as assumed
}

// swimmerVariance is the sampling variance of one swimmer's primary number, with
// the degrees of freedom of its test by session.
func (a Assumed) swimmerVariance(z Sizes) (variance, df float64) {
	free := float64(z.Sessions*(z.Bouts-1) - modelTerms)
	if free <= 0 {
		return math.Inf(1), 0
	}
	// Rates that are dealt evenly spread more within a session than rates drawn by
	// chance: nothing of them is lost to the session's mean.
	dealt := 1.0
	if a.Designed {
		dealt = float64(z.Bouts) / float64(z.Bouts-1)
	}
	ln10 := math.Log(1.1)
	return ln10 * ln10 * a.Noise * a.Noise / (free * dealt * a.rateVariance()), float64(z.Sessions - 1)
}

// ClosedForm is the power by formula: least squares within sessions for a swimmer,
// with as many degrees of freedom as sessions less one; random effects for the
// squad, with swimmers less one, which is what the bias-reduced interval
// has at equal weights. It knows nothing of counting
// errors, tiredness and heart rates that lag.
func (a Assumed) ClosedForm(z Sizes) (Power, error) {
	variance, df := a.swimmerVariance(z)
	if df <= 0 || z.Swimmers < 1 || a.Noise <= 0 || !(a.rateVariance() > 0) {
		return Power{}, fmt.Errorf("%w: %d swimmers, %d sessions of %d bouts", power.ErrInput, z.Swimmers, z.Sessions, z.Bouts)
	}
	p := Power{Concordance: a.concordance()}
	total := variance + a.Spread*a.Spread
	var err error
	// A swimmer's own effect lies about the mean, so that their share found is that
	// over swimmers.
	if p.Swimmer, err = averagePower(a.Effect, a.Spread, math.Sqrt(variance), df); err != nil {
		return p, err
	}
	p.SwimmerHalf = distuv.StudentsT{Sigma: 1, Nu: df}.Quantile((1+confidence)/2) * math.Sqrt(variance)
	if z.Swimmers < 2 {
		return p, nil
	}
	squadDF := float64(z.Swimmers - 1)
	se := math.Sqrt(total / float64(z.Swimmers))
	if p.Squad, err = oneSide(a.Effect/se, squadDF); err != nil {
		return p, err
	}
	p.SquadHalf = distuv.StudentsT{Sigma: 1, Nu: squadDF}.Quantile((1+confidence)/2) * se
	return p, nil
}

// oneSide is the chance that a two-sided test speaks, on the side of the truth.
func oneSide(delta, df float64) (float64, error) {
	both, err := power.T(delta, df, alpha)
	if err != nil || delta == 0 {
		return both / 2, err
	}
	// Beyond the wrong critical value: negligible but for the smallest effects.
	wrong, err := power.T(0, df, alpha)
	return math.Max(both-wrong/2*math.Exp(-2*math.Abs(delta)), 0), err
}

// averagePower is oneSide averaged over swimmers whose effects are spread normally;
// right is the side of the mean.
func averagePower(mean, spread, se, df float64) (float64, error) {
	const points = 21
	if spread == 0 {
		return oneSide(math.Abs(mean)/se, df)
	}
	sum := 0.0
	for i := range points {
		z := distuv.UnitNormal.Quantile((float64(i) + 0.5) / points)
		own := math.Abs(mean) + spread*z
		p, err := oneSide(math.Abs(own)/se, df)
		if err != nil {
			return 0, err
		}
		if own > 0 {
			sum += p / points
		}
	}
	return sum, nil
}

// concordance is what the effect makes of pairs of bouts of a session at one pace
// and different rates: the share in which the bout of fewer strokes costs less.
func (a Assumed) concordance() float64 {
	var levels []float64
	if a.Designed {
		levels = a.setLevels()
	} else {
		for i := range 9 {
			levels = append(levels, a.OwnRate/100*distuv.UnitNormal.Quantile((float64(i)+0.5)/9))
		}
	}
	sum, pairs := 0.0, 0.0
	for i, low := range levels {
		for _, high := range levels[i+1:] {
			sum += distuv.UnitNormal.CDF(a.Effect / math.Log(1.1) * (high - low) / (math.Sqrt2 * a.Noise))
			pairs++
		}
	}
	if pairs == 0 {
		return 0.5
	}
	return sum / pairs
}

// EffectOf is the effect at which pairs have a concordance, by bisection; it fails
// outside 0.5 to 0.99 and their mirror images.
func (a Assumed) EffectOf(concordance float64) (float64, error) {
	if !(concordance >= 0.01 && concordance <= 0.99) {
		return 0, fmt.Errorf("%w: a concordance of %v", power.ErrInput, concordance)
	}
	low, high := -100*a.Noise, 100*a.Noise
	for range 100 {
		a.Effect = (low + high) / 2
		if a.concordance() < concordance {
			low = a.Effect
		} else {
			high = a.Effect
		}
	}
	return (low + high) / 2, nil
}

// scenario is the squad that a study of this size would meet.
func (a Assumed) scenario(z Sizes, seed uint64) squad.Scenario {
	sc := squad.DesignedBar(a.Effect, seed, z.Swimmers)
	sc.SessionsPerSwimmer, sc.BoutsPerSession = z.Sessions, z.Bouts
	sc.EffectSD, sc.EffectsCross, sc.BoutNoiseBPM = a.Spread, true, a.Noise
	sc.RateLow, sc.RateHigh, sc.RateLevels = -a.Range/100, a.Range/100, a.Steps
	sc.OwnRateSD = a.OwnRate / 100
	sc.RateHoldSD = rateHold
	if !a.Designed {
		sc.DesignedShare = 0
	}
	return sc
}

// Simulate sends squads of this size through the stages and the questions of the
// primary number, and counts. progress may be nil.
func (a Assumed) Simulate(ctx context.Context, z Sizes, trials, workers int, seed uint64, progress func(done int)) (Power, error) {
	s := study.Default()
	s.Analysis.Resamples, s.Analysis.Permutations, s.Analysis.Sensitivity = fewestDraws, fewestDraws, false
	design := analyse.Observed
	if a.Designed {
		design = analyse.Designed
	}
	tallies := make([]tally, trials)
	err := inParallel(ctx, trials, workers, func(i int) error {
		t, err := a.trial(z, seed+uint64(i)*0x9e3779b97f4a7c15, design, s)
		tallies[i] = t
		if err == nil && progress != nil {
			progress(1)
		}
		return err
	})
	if err != nil {
		return Power{}, err
	}
	var sum tally
	for _, t := range tallies {
		sum.add(t)
	}
	n := float64(trials)
	p := Power{Trials: trials, Concordance: a.concordance(), Squad: sum.found / n, Wrong: sum.wrong / n,
		SquadHalf: sum.squadHalf / math.Max(1, sum.squads), TooLittle: sum.thin / math.Max(1, sum.swimmers)}
	if told := sum.swimmers - sum.thin; told > 0 {
		p.Swimmer, p.SwimmerHalf = sum.own/told, sum.swimmerHalf/told
		p.SwimmerError = math.Sqrt(p.Swimmer * (1 - p.Swimmer) / told)
	}
	p.SquadError = math.Sqrt(p.Squad * (1 - p.Squad) / n)
	return p, nil
}

// fewestDraws is how many resamples and permutations a trial of power takes, whose
// answers do not rest on them.
const fewestDraws = 20

// tally counts the squads of trials.
type tally struct {
	found, wrong, squads, squadHalf  float64
	swimmers, thin, own, swimmerHalf float64
}

func (t *tally) add(o tally) {
	t.found, t.wrong, t.squads, t.squadHalf = t.found+o.found, t.wrong+o.wrong, t.squads+o.squads, t.squadHalf+o.squadHalf
	t.swimmers, t.thin, t.own, t.swimmerHalf = t.swimmers+o.swimmers, t.thin+o.thin, t.own+o.own, t.swimmerHalf+o.swimmerHalf
}

// trial is one simulated squad.
func (a Assumed) trial(z Sizes, seed uint64, design analyse.Design, s *study.Study) (tally, error) {
	var t tally
	sc := a.scenario(z, seed)
	if err := sc.Check(); err != nil {
		return t, err
	}
	sign := 1.0
	if a.Effect < 0 {
		sign = -1
	}
	var answers []analyse.Answer
	var sw squad.Swimmer
	for i := range z.Swimmers {
		squad.SimulateInto(sc, i, &sw)
		bouts, err := Bouts(&sw, s)
		if err != nil {
			return t, err
		}
		answers = append(answers, analyse.Swimmer(bouts, s)...)
	}
	r, err := analyse.Squad(answers, s)
	if err != nil {
		return t, err
	}
	for _, row := range r.BySwimmer {
		if row.Design != string(design) {
			continue
		}
		t.swimmers++
		if row.Verdict == "too-little-data" || row.EffectLow == nil || row.EffectHigh == nil {
			t.thin++
			continue
		}
		t.swimmerHalf += (*row.EffectHigh - *row.EffectLow) / 2
		if sign*(*row.EffectLow) > 0 && sign*(*row.EffectHigh) > 0 {
			t.own++
		}
	}
	for _, row := range r.Overall {
		if row.Design != string(design) || row.Measure != "effect_per_10pct" || row.ConfLow == nil || row.ConfHigh == nil {
			continue
		}
		t.squads++
		t.squadHalf += (*row.ConfHigh - *row.ConfLow) / 2
		switch {
		case sign*(*row.ConfLow) > 0 && sign*(*row.ConfHigh) > 0:
			t.found++
		case sign*(*row.ConfLow) < 0 && sign*(*row.ConfHigh) < 0:
			t.wrong++
		}
	}
	return t, nil
}

// inParallel calls work for 0 to n-1 on workers.
func inParallel(ctx context.Context, n, workers int, work func(i int) error) error {
	group, within := errgroup.WithContext(ctx)
	group.SetLimit(max(1, workers))
	for i := range n {
		group.Go(func() error {
			if err := within.Err(); err != nil {
				return err
			}
			return work(i)
		})
	}
	return group.Wait()
}
