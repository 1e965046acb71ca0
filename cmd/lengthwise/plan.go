package main

import (
	"context"
	"encoding/json"
	"fmt"
	"runtime"
	"strings"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/run"
	"lengthwise/pipeline/trial"
)

// planOptions are the flags of plan.
type planOptions struct {
	observed                           bool
	effect, spread, noise, concordance float64
	change, sessionNoise               float64
	schedule                           string
	swimmers, sessions, bouts          int
	wanted, width, rateRange, ownRate  float64
	steps, trials                      int
	seed                               uint64
	fromStudy                          bool
	deck, usual, pool, pace            string
	distance, rest                     int
}

// Limits within which a size is looked for. Six sessions are the fewest for a
// verdict, but leave some swimmers too few degrees of freedom.
const (
	fewestSessions, mostSessions = 7, 60
	fewestSwimmers, mostSwimmers = 2, 400
)

func newPlan(c *common) *cobra.Command {
	var o planOptions
	cmd := &cobra.Command{
		Use:   "plan",
		Short: "how many swimmers, sessions and bouts a study needs",
		Long: `Say how large a study must be to find an effect of stroke rate on cost at one pace,
or how wide its interval will be; by formula, and by simulated squads that go
through the same stages as yours will. Give what you can fix (--sessions, --bouts,
--swimmers), and the rest is found: swimmers unless --swimmers is given, else
sessions.

What is to be expected comes from flags, or with --from-study from a finished
study: its bouts' scatter, its spread between swimmers, its rates.

--concordance asks for a share of pairs away from one half in place of an effect.
--change asks for a change of so many bpm between sessions in place of it: once (one
date for all), alternating or staggered, with the smallest p that such dates allow.
Only schedules drawn by lot earn the word "costs".

--deck FOLDER writes session sheets for the pool deck: deck.html to print, and
deck.csv, a lane sheet that the study reads once it is filled in. --usual
"mira=52,ivo=48" gives swimmers and their usual rates.

Exit codes: 0 done; 1 failed; 2 wrong usage; 3 no size within reach is enough.`,
		Example: `  lengthwise plan --effect 2 --sessions 8
  lengthwise plan --effect 3 --swimmers 5 --deck deck --usual "mira=52,ivo=48"
  lengthwise plan --change 4 --schedule alternating --swimmers 12`,
		Args: arguments(noArguments),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := o.check(cmd); err != nil {
				return usageError{err}
			}
			if o.fromStudy {
				if err := o.fill(c, cmd); err != nil {
					return err
				}
			}
			if o.change != 0 {
				return c.planChange(o)
			}
			return c.planEffect(cmd.Context(), cmd, o)
		},
	}
	f := cmd.Flags()
	f.BoolVar(&o.observed, "observed", false, "bouts swum as liked; unless told, rates are set beforehand")
	f.Float64Var(&o.effect, "effect", 2, "cost of 10 % more strokes a minute, bpm")
	f.Float64Var(&o.concordance, "concordance", 0, "in place of --effect: share of pairs in which fewer strokes cost less")
	f.Float64Var(&o.spread, "spread", 1.5, "how far swimmers' own effects differ, bpm (standard deviation)")
	f.Float64Var(&o.noise, "noise", 5, "how far bouts of one session scatter at one pace and rate, bpm (standard deviation)")
	f.IntVar(&o.swimmers, "swimmers", 0, "how many swim; found unless told")
	f.IntVar(&o.sessions, "sessions", 0, "sessions of each; 8 unless told, found where swimmers are")
	f.IntVar(&o.bouts, "bouts", 8, "bouts a session")
	f.Float64Var(&o.wanted, "power", 0.8, "how often the study is to find it")
	f.Float64Var(&o.width, "width", 0, "in place of --power: half the width of the 95 % interval, bpm")
	f.Float64Var(&o.rateRange, "rate-range", 20, "set rates go from this far below to this far above the usual one, %")
	f.IntVar(&o.steps, "rate-steps", 5, "in so many steps")
	f.Float64Var(&o.ownRate, "own-rate", 4, "how far rates differ that nobody sets, % (standard deviation)")
	f.Float64Var(&o.change, "change", 0, "in place of --effect: a change between sessions, bpm")
	f.StringVar(&o.schedule, "schedule", trial.Alternating, "of the change: "+strings.Join(trial.Schedules(), ", "))
	f.Float64Var(&o.sessionNoise, "session-noise", 4, "how far a swimmer's days differ at one pace, bpm (standard deviation)")
	f.IntVar(&o.trials, "trials", 100, "squads to simulate; 0 for the formula alone")
	f.Uint64Var(&o.seed, "seed", 1, "of the simulation and of the lots")
	f.BoolVar(&o.fromStudy, "from-study", false, "take scatter, spread and rates from the finished study")
	f.StringVar(&o.deck, "deck", "", "folder to write session sheets into")
	f.StringVar(&o.usual, "usual", "", "swimmers and their usual rates for the deck")
	f.StringVar(&o.pool, "pool", "25m", "pool for the deck: 25m, 50m, 25y, 33.3m")
	f.StringVar(&o.pace, "pace", "", "time of a repeat for the deck, such as 2:40")
	f.IntVar(&o.distance, "distance", 200, "metres of a repeat for the deck")
	f.IntVar(&o.rest, "rest", 30, "seconds of rest for the deck")
	return cmd
}

func (o *planOptions) check(cmd *cobra.Command) error {
	set := cmd.Flags().Changed
	switch {
	case set("effect") && set("concordance"), set("effect") && set("change"), set("concordance") && set("change"):
		return fmt.Errorf("ask for one of --effect, --concordance and --change")
	case set("power") && set("width"):
		return fmt.Errorf("ask for one of --power and --width")
	case !(o.wanted > 0.05 && o.wanted < 1):
		return fmt.Errorf("--power %v: a share above 0.05 and below 1", o.wanted)
	case !(o.noise > 0 && o.noise < 100), !(o.spread >= 0 && o.spread < 100), !(o.sessionNoise >= 0 && o.sessionNoise < 100):
		return fmt.Errorf("--noise above 0, --spread and --session-noise from 0 up, all below 100 bpm")
	case o.effect == 0 && !set("concordance"), set("concordance") && !(o.concordance > 0.01 && o.concordance < 0.99 && o.concordance != 0.5):
		return fmt.Errorf("an effect of nothing, or a concordance of one half or beyond 0.01 to 0.99, cannot be found")
	case o.bouts < 2 || o.bouts > 100, o.swimmers < 0 || o.swimmers > 10_000, o.sessions < 0 || o.sessions > 1000:
		return fmt.Errorf("--bouts from 2 to 100, --swimmers up to 10000, --sessions up to 1000")
	case !(o.rateRange > 0 && o.rateRange <= 40) || o.steps < 2 || o.steps > 20 || !(o.ownRate > 0 && o.ownRate < 40):
		return fmt.Errorf("--rate-range above 0 and up to 40 %%, --rate-steps from 2 to 20, --own-rate above 0 and below 40 %%")
	case o.trials < 0 || o.trials > 100_000, o.width < 0:
		return fmt.Errorf("--trials from 0 to 100000, --width above 0")
	}
	for _, s := range trial.Schedules() {
		if o.schedule == s {
			return nil
		}
	}
	return fmt.Errorf("--schedule %q: there are %s", o.schedule, strings.Join(trial.Schedules(), ", "))
}

// fill takes what a finished study knows for flags that were not given.
func (o *planOptions) fill(c *common, cmd *cobra.Command) error {
	s, err := c.load()
	if err != nil {
		return err
	}
	found, err := run.Components(s)
	if err != nil {
		return err
	}
	for _, take := range []struct {
		flag string
		into *float64
		from float64
	}{{"noise", &o.noise, found.Noise}, {"spread", &o.spread, found.Spread}, {"session-noise", &o.sessionNoise, found.SessionNoise}, {"own-rate", &o.ownRate, found.OwnRatePct}} {
		if !cmd.Flags().Changed(take.flag) && take.from > 0 {
			*take.into = take.from
		}
	}
	return nil
}

func (o *planOptions) assumed() trial.Assumed {
	return trial.Assumed{Designed: !o.observed, Effect: o.effect, Spread: o.spread, Noise: o.noise, Range: o.rateRange, Steps: o.steps, OwnRate: o.ownRate}
}

// planned is what plan prints as JSON.
type planned struct {
	Assumed   trial.Assumed `json:"assumed"`
	Sizes     trial.Sizes   `json:"sizes"`
	Power     trial.Power   `json:"power"`               // of these sizes, by formula
	Simulated *trial.Power  `json:"simulated,omitempty"` // of the same
	Curve     []curvePoint  `json:"curve"`
	Enough    bool          `json:"enough"`
}

type curvePoint struct {
	trial.Sizes
	Power trial.Power `json:"power"`
}

func (c *common) planEffect(ctx context.Context, cmd *cobra.Command, o planOptions) error {
	a := o.assumed()
	if cmd.Flags().Changed("concordance") {
		effect, err := a.EffectOf(o.concordance)
		if err != nil {
			return usageError{err}
		}
		a.Effect = effect
	}
	look := o.search()
	if _, err := a.ClosedForm(look.with(look.high)); err != nil {
		return usageError{err}
	}
	enough := look.find(a, o)
	out := planned{Assumed: a, Sizes: look.sizes, Enough: enough}
	var err error
	if out.Power, err = a.ClosedForm(look.sizes); err != nil {
		return usageError{err}
	}
	for _, share := range []float64{0.4, 0.6, 0.8, 1, 1.25, 1.6, 2} {
		z := look.with(int(share*float64(look.number()) + 0.5))
		p, err := a.ClosedForm(z)
		if err != nil || len(out.Curve) > 0 && z == out.Curve[len(out.Curve)-1].Sizes {
			continue
		}
		out.Curve = append(out.Curve, curvePoint{z, p})
	}
	// A study beyond reach is as large as the search goes: hundreds of swimmers a
	// squad, minutes of simulation for a plan that is refused.
	if o.trials > 0 && (enough || cmd.Flags().Changed("trials")) {
		progress := c.progress()
		p, err := a.Simulate(ctx, look.sizes, o.trials, c.planWorkers(cmd), o.seed, counted(progress.report(), o.trials))
		progress.clear()
		if err != nil {
			return err
		}
		out.Simulated = &p
	}
	if err := c.writeDeck(o, look.sizes); err != nil {
		return err
	}
	if c.json {
		encoder := json.NewEncoder(c.stdout)
		encoder.SetIndent("", "  ")
		if err := encoder.Encode(out); err != nil {
			return err
		}
	} else if !c.quiet {
		if _, err := fmt.Fprint(c.stdout, planText(out, o, c.width)); err != nil {
			return err
		}
	}
	if !enough {
		return refusedError{fmt.Errorf("no study of up to %d swimmers or %d sessions is enough", mostSwimmers, mostSessions)}
	}
	return nil
}

func (c *common) planWorkers(cmd *cobra.Command) int {
	n, err := cmd.Flags().GetInt("workers")
	if err != nil || n < 1 {
		return runtime.GOMAXPROCS(0)
	}
	return n
}
