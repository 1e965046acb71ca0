package trial

import (
	"context"
	"fmt"
	"math"
	"slices"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
)

// Outcome is one simulated squad with the answers that its recordings gave.
type Outcome struct {
	Squad   squad.Squad
	Settled derive.Settled // what the squad says of time constants
	Result  analyse.Result
}

// Run simulates the scenario and sends it through normalise, screen, derive
// and analyse with the study's settings, swimmers in parallel on workers.
func Run(ctx context.Context, sc squad.Scenario, s *study.Study, workers int) (Outcome, error) {
	if err := sc.Check(); err != nil {
		return Outcome{}, err
	}
	return RunOn(ctx, squad.Simulate(sc), s, workers)
}

// RunOn is [Run] with a squad that is there already.
func RunOn(ctx context.Context, simulated squad.Squad, s *study.Study, workers int) (Outcome, error) {
	out := Outcome{Squad: simulated}
	swimmers := make([]underway, len(out.Squad.Swimmers))
	each := func(work func(i int) error) error { return inParallel(ctx, len(swimmers), workers, work) }
	err := each(func(i int) error {
		var err error
		swimmers[i], err = begin(&out.Squad.Swimmers[i], s)
		return err
	})
	if err != nil {
		return Outcome{}, err
	}
	own := make([]derive.OwnTau, len(swimmers))
	for i := range swimmers {
		own[i] = swimmers[i].tau
	}
	out.Settled = derive.Settle(own)
	parts := make([]analyse.Part, len(swimmers))
	err = each(func(i int) error {
		if bouts := swimmers[i].finish(out.Settled, s); len(bouts) > 0 {
			parts[i] = analyse.Ask(person(&out.Squad.Swimmers[i], s), bouts, s)
		}
		return nil
	})
	if err != nil {
		return Outcome{}, err
	}
	out.Result, err = analyse.Study(parts, s)
	return out, err
}

// person is what the questions know of a simulated swimmer, whom the study's
// changes name by handle.
func person(sw *squad.Swimmer, s *study.Study) analyse.Person {
	who := analyse.Person{BirthYear: sw.BirthYear}
	for _, c := range s.Changes {
		who.Reached = append(who.Reached, c.Swimmers == nil || slices.Contains(c.Swimmers, sw.Handle))
	}
	return who
}

// underway is a simulated swimmer between the two passes over heart rate.
type underway struct {
	who   derive.Athlete
	bouts []derive.Bout
	tau   derive.OwnTau
}

// begin sends a swimmer's recordings through the stages up to bouts.
func begin(sw *squad.Swimmer, s *study.Study) (underway, error) {
	sessions, _, err := normalise.Sessions(Recordings(sw), nil, s)
	if err != nil {
		return underway{}, fmt.Errorf("simulated swimmer %s: %w", sw.Handle, err)
	}
	u := underway{who: derive.Athlete{HRRestBPM: sw.RestBPM, HRMaxBPM: sw.MaxBPM, VO2Rest: math.NaN()}}
	screened, _ := screen.Sessions(sessions, s.Screen)
	for i := range screened {
		_, some := derive.Session(&screened[i], u.who, s.Cost)
		u.bouts = append(u.bouts, some...)
	}
	u.tau = derive.FirstTau(u.bouts)
	return u, nil
}

// finish reads steady heart rates with what the squad says of time constants.
func (u *underway) finish(squad derive.Settled, s *study.Study) []derive.Bout {
	derive.Steady(u.bouts, squad.Shrink(u.tau), u.who, s.Cost)
	return u.bouts
}

// Bouts sends one simulated swimmer's recordings through the stages up to bouts,
// with nobody else in the squad.
func Bouts(sw *squad.Swimmer, s *study.Study) ([]derive.Bout, error) {
	u, err := begin(sw, s)
	if err != nil {
		return nil, err
	}
	return u.finish(derive.Settle([]derive.OwnTau{u.tau}), s), nil
}

// Score is how well the answers of trials did. Counts are of swimmers.
type Score struct {
	Swimmers      int // judged
	WithEffect    int // true effect beyond the smallest one
	Right         int // of those: the verdict with the right sign
	Wrong         int // of those: the verdict with the wrong sign
	WithoutEffect int // true effect zero
	False         int // of those: a verdict with a sign
	None          int // of those: practically none
	Signals       int // of those: p below 0.05, whatever the verdict
	Covered       int // interval holds the true effect, of Swimmers
	TooLittle     int // no verdict for want of data, not in Swimmers

	concordance float64 // sum over swimmers
	pairs       int
}

// RightShare is the share of swimmers with an effect who got the right verdict.
func (s Score) RightShare() float64 { return share(s.Right, s.WithEffect) }

// WrongShare is the share of swimmers with an effect who got the opposite verdict.
func (s Score) WrongShare() float64 { return share(s.Wrong, s.WithEffect) }

// FalseShare is the share of swimmers without an effect who got a verdict with a sign.
func (s Score) FalseShare() float64 { return share(s.False, s.WithoutEffect) }

// SignalShare is the share of swimmers without an effect whose p is below 0.05:
// what the test alone would say, without the smallest effect that guards it.
func (s Score) SignalShare() float64 { return share(s.Signals, s.WithoutEffect) }

// Coverage is the share of 95 % intervals that hold the true effect.
func (s Score) Coverage() float64 { return share(s.Covered, s.Swimmers) }

// Concordance is the mean matched-pace concordance over swimmers.
func (s Score) Concordance() float64 { return s.concordance / float64(s.pairs) }

func share(n, of int) float64 {
	if of == 0 {
		return math.NaN()
	}
	return float64(n) / float64(of)
}

// trueEffect is what the study's number estimates: the local effect at the rate
// that stands for the usual one. That is the usual rate itself where the swimmer
// chose the rate often enough, or rates were set about it; else the middle of the
// rates swum.
func trueEffect(sw *squad.Swimmer) float64 {
	var own, all []float64
	set := true
	for i := range sw.Sessions {
		for k := range sw.Sessions[i].Bouts {
			b := &sw.Sessions[i].Bouts[k]
			all = append(all, b.LnRate)
			set = set && b.RateTargetSPM > 0
			if !b.Designed {
				own = append(own, b.LnRate)
			}
		}
	}
	if len(own) < analyse.FewestUsual {
		if set || len(all) == 0 {
			return sw.Truth.EffectBPMPer10Pct()
		}
		own = all
	}
	var sum float64
	for _, r := range own {
		sum += r
	}
	return sw.Truth.EffectAt(sum/float64(len(own)), 0)
}

// trueEffects is the true effect of every swimmer of an outcome, by handle.
func trueEffects(o Outcome) map[string]float64 {
	truth := map[string]float64{}
	for i := range o.Squad.Swimmers {
		sw := &o.Squad.Swimmers[i]
		truth[sw.Handle] = trueEffect(sw)
	}
	return truth
}

// Add scores one outcome under one design. smallest is the study's smallest
// effect: truths between it and zero count for coverage alone.
func (s *Score) Add(o Outcome, d analyse.Design, smallest float64) {
	truth := trueEffects(o)
	for _, row := range o.Result.BySwimmer {
		if row.Design != string(d) {
			continue
		}
		verdict := analyse.Verdict(row.Verdict)
		if verdict == analyse.TooLittleData {
			s.TooLittle++
			continue
		}
		effect := truth[row.Swimmer]
		s.Swimmers++
		if *row.EffectLow <= effect && effect <= *row.EffectHigh {
			s.Covered++
		}
		if row.Concordance != nil {
			s.concordance += *row.Concordance
			s.pairs++
		}
		signed := verdict == analyse.Tracks || verdict == analyse.RunsAgainst
		switch {
		case math.Abs(effect) > smallest:
			s.WithEffect++
			if signed && (verdict == analyse.Tracks) == (effect > 0) {
				s.Right++
			} else if signed {
				s.Wrong++
			}
		case effect == 0:
			s.WithoutEffect++
			if signed {
				s.False++
			}
			if *row.PValue < 0.05 {
				s.Signals++
			}
			if verdict == analyse.PracticallyNone {
				s.None++
			}
		}
	}
}
