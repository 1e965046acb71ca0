package trial

import (
	"context"
	"math"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// The estimators that simulate scores.
const (
	BySwimmer    = "swimmer"
	TwoStages    = "squad"
	OneModel     = "mixed"
	Pairs        = "concordance"
	CheapestRate = "cheapest-rate"
)

// Simulate sends squads of every cell through the study's own stages, with its default
// settings, and scores every estimator against the truth: a row a cell and estimator.
// squads is how many of each cell, of which a dear cell takes its share, two or more.
// The rows follow from the seed alone, whatever the workers. progress may be nil.
func Simulate(ctx context.Context, cells []Cell, squads, workers int, seed uint64, progress func(done, total int)) ([]schemas.Simulation, error) {
	s := study.Default()
	s.Analysis.Resamples, s.Analysis.Permutations, s.Analysis.Sensitivity = 200, 99, false
	type job struct{ cell, squad int }
	var jobs []job
	scores := make([][]gridScore, len(cells))
	for i, c := range cells {
		n := max(2, int(math.Round(float64(squads)*c.Share)))
		scores[i] = make([]gridScore, n)
		for k := range n {
			jobs = append(jobs, job{i, k})
		}
	}
	done := make(chan struct{}, len(jobs))
	told := make(chan struct{})
	go func() {
		defer close(told)
		n := 0
		for range done {
			if n++; progress != nil {
				progress(n, len(jobs))
			}
		}
	}()
	err := inParallel(ctx, len(jobs), workers, func(i int) error {
		at := jobs[i]
		c := cells[at.cell]
		own := c.seedOf(seed, at.squad)
		sc := c.scenario(own)
		if err := sc.Check(); err != nil {
			return err
		}
		simulated := squad.Simulate(sc)
		c.spoil(&simulated, own)
		o, err := RunOn(ctx, simulated, s, 1)
		if err != nil {
			return err
		}
		scores[at.cell][at.squad] = c.score(o, s.Analysis.SmallestEffect)
		done <- struct{}{}
		return nil
	})
	close(done)
	<-told
	if err != nil {
		return nil, err
	}
	var rows []schemas.Simulation
	for i, c := range cells {
		var sum gridScore
		for k := range scores[i] {
			sum.add(&scores[i][k])
		}
		rows = append(rows, c.rows(&sum, len(scores[i]))...)
	}
	return rows, nil
}

// tested counts the answers of one estimator.
type tested struct {
	n                   int // scored
	errors, squares     float64
	covered, intervals  int
	there, found, wrong int // with an effect that is there
	nothing, untrue     int // with none
	asked, tooLittle    int
}

func (t *tested) add(o *tested) {
	t.n, t.errors, t.squares = t.n+o.n, t.errors+o.errors, t.squares+o.squares
	t.covered, t.intervals = t.covered+o.covered, t.intervals+o.intervals
	t.there, t.found, t.wrong = t.there+o.there, t.found+o.found, t.wrong+o.wrong
	t.nothing, t.untrue = t.nothing+o.nothing, t.untrue+o.untrue
	t.asked, t.tooLittle = t.asked+o.asked, t.tooLittle+o.tooLittle
}

// gridScore is one squad's score.
type gridScore struct {
	swimmer, squad, mixed, pairs, best tested
}

func (g *gridScore) add(o *gridScore) {
	g.swimmer.add(&o.swimmer)
	g.squad.add(&o.squad)
	g.mixed.add(&o.mixed)
	g.pairs.add(&o.pairs)
	g.best.add(&o.best)
}

// score scores one squad.
func (c Cell) score(o Outcome, smallest float64) (g gridScore) {
	c.scoreSwimmers(&g.swimmer, o, smallest)
	answers := map[string]*tested{"effect_per_10pct": &g.squad, "effect_mixed": &g.mixed, "concordance": &g.pairs}
	for _, row := range o.Result.Overall {
		t := answers[row.Measure]
		if t == nil || row.Design != string(c.Design()) || row.Question != "matched-pace" || row.Score != "score" || c.BestRates {
			continue
		}
		t.asked++
		if row.Estimate == nil || row.ConfLow == nil || row.ConfHigh == nil {
			t.tooLittle++
			continue
		}
		t.n++
		null := 0.0
		if row.Measure == "concordance" {
			if null = 0.5; row.Null != nil {
				null = *row.Null
			}
		} else {
			t.errors += *row.Estimate - c.Effect
			t.squares += (*row.Estimate - c.Effect) * (*row.Estimate - c.Effect)
		}
		above, below := *row.ConfLow > null, *row.ConfHigh < null
		if row.Measure != "concordance" || c.Effect == 0 {
			truth := c.Effect
			if row.Measure == "concordance" {
				truth = null
			}
			if t.intervals++; *row.ConfLow <= truth && truth <= *row.ConfHigh {
				t.covered++
			}
		}
		t.judge(c.Effect, above, below)
	}
	if c.BestRates {
		c.scoreBest(&g.best, o)
	}
	return g
}

// judge counts a claim of something above or below nothing.
func (t *tested) judge(effect float64, above, below bool) {
	switch {
	case effect == 0:
		if t.nothing++; above || below {
			t.untrue++
		}
	default:
		t.there++
		if above && effect > 0 || below && effect < 0 {
			t.found++
		} else if above || below {
			t.wrong++
		}
	}
}

// scoreSwimmers scores the verdicts and intervals of swimmers. An effect that is there
// is one beyond the smallest that matters.
func (c Cell) scoreSwimmers(t *tested, o Outcome, smallest float64) {
	truth := trueEffects(o)
	for _, row := range o.Result.BySwimmer {
		if row.Design != string(c.Design()) {
			continue
		}
		t.asked++
		verdict := analyse.Verdict(row.Verdict)
		if verdict == analyse.TooLittleData || row.EffectPer10Pct == nil {
			t.tooLittle++
			continue
		}
		effect := truth[row.Swimmer]
		t.n++
		t.errors += *row.EffectPer10Pct - effect
		t.squares += (*row.EffectPer10Pct - effect) * (*row.EffectPer10Pct - effect)
		if t.intervals++; *row.EffectLow <= effect && effect <= *row.EffectHigh {
			t.covered++
		}
		if effect == 0 || math.Abs(effect) > smallest {
			t.judge(effect, verdict == analyse.Tracks, verdict == analyse.RunsAgainst)
		}
	}
}

// scoreBest scores the sets of cheapest rates.
func (c Cell) scoreBest(t *tested, o Outcome) {
	swimmers := map[string]*squad.Swimmer{}
	for i := range o.Squad.Swimmers {
		swimmers[o.Squad.Swimmers[i].Handle] = &o.Squad.Swimmers[i]
	}
	for _, row := range o.Result.Economical {
		if row.Design != string(c.Design()) {
			continue
		}
		t.asked++
		if row.SetType == "none" {
			t.tooLittle++
			continue
		}
		best := trueBest(swimmers[row.Swimmer], row)
		t.n++
		if t.intervals++; holds(row.SetType, row.ConfLow, row.ConfHigh, best) {
			t.covered++
		}
		if t.there++; row.RatePctOfUsual != nil {
			t.found++
			t.errors += *row.RatePctOfUsual - best
			t.squares += (*row.RatePctOfUsual - best) * (*row.RatePctOfUsual - best)
		}
	}
}

// rows writes a cell's scores down.
func (c Cell) rows(g *gridScore, squads int) (out []schemas.Simulation) {
	for _, e := range []struct {
		name string
		t    *tested
	}{{BySwimmer, &g.swimmer}, {TwoStages, &g.squad}, {OneModel, &g.mixed}, {Pairs, &g.pairs}, {CheapestRate, &g.best}} {
		if e.t.asked == 0 {
			continue
		}
		t, errorsOf := e.t, e.t.n
		if e.name == CheapestRate {
			errorsOf = t.found
		}
		row := schemas.Simulation{Cell: c.Name, Words: c.Words, Design: string(c.Design()), Swimmers: int32(c.Swimmers), Sessions: int32(c.Sessions), Bouts: int32(c.Bouts),
			Effect: c.Effect, EffectSD: c.EffectSD, RateSpreadPct: round(c.RateSpread(), 1), Noise: c.Noise, SessionNoise: c.SessionNoise, Fatigue: c.Fatigue,
			CountErrorPct: round(c.CountError, 1), HeartRate: c.HeartRate, MissingPct: 100 * c.Missing, Estimator: e.name, Squads: int32(squads), N: int32(t.n),
			CoveragePct: percentOf(t.covered, t.intervals), FoundPct: percentOf(t.found, t.there), WrongPct: percentOf(t.wrong, t.there),
			FalsePct: percentOf(t.untrue, t.nothing), TooLittlePct: round(100*share(t.tooLittle, t.asked), 1)}
		if e.name != Pairs {
			row.Bias, row.RMSE = known(round(t.errors/float64(errorsOf), 3)), known(round(math.Sqrt(t.squares/float64(errorsOf)), 3))
		}
		out = append(out, row)
	}
	return out
}

func percentOf(n, of int) *float64 { return known(round(100*share(n, of), 1)) }

// known is a number, nil where there is none.
func known(x float64) *float64 {
	if math.IsNaN(x) {
		return nil
	}
	return &x
}

// round rounds to so many places; what rests on a few hundred squads has no more.
func round(x float64, places int) float64 {
	p := math.Pow(10, float64(places))
	return math.Round(x*p) / p
}
