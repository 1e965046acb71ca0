package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"lengthwise/pipeline/trial"
)

func sized(z trial.Sizes) string {
	return fmt.Sprintf("%s, %s each, %s a session", count(z.Swimmers, "swimmer"), count(z.Sessions, "session"), count(z.Bouts, "bout"))
}

// percentOf writes a share as a whole percentage that never reads as certainty.
func percentOf(share float64) string {
	switch p := math.Round(100 * share); {
	case p >= 100 && share < 1:
		return "over 99 %"
	case p <= 0 && share > 0:
		return "under 1 %"
	default:
		return strconv.Itoa(int(p)) + " %"
	}
}

func planText(p planned, o planOptions, width int) string {
	var lines []string
	say := func(format string, args ...any) {
		lines = append(lines, wrap(fmt.Sprintf(format, args...), width, "", "  ")...)
	}
	verb, other := "costs", "cheaper"
	if !p.Assumed.Designed {
		verb = "goes together with"
	}
	if p.Assumed.Effect > 0 {
		other = "dearer"
	}
	alone := p.Sizes.Swimmers == 1
	chance, half, who := p.Power.Squad, p.Power.SquadHalf, "the squad's average"
	if alone {
		chance, half, who = p.Power.Swimmer, p.Power.SwimmerHalf, "the swimmer's own number"
	}
	say("%s: if 10 %% more strokes a minute %s %.1f bpm %s at one pace, %s is told from nothing in %s of such studies, give or take %.1f bpm (95 %% interval).",
		capital(sized(p.Sizes)), map[string]string{"costs": "are", "goes together with": "go together with"}[verb], math.Abs(p.Assumed.Effect), other, who, percentOf(chance), half)
	if !alone {
		say("One swimmer's own number is told from nothing for %s of them, give or take %.1f bpm.", percentOf(p.Power.Swimmer), p.Power.SwimmerHalf)
	}
	say("Such an effect makes %.2f of the pairs of bouts at one pace go its way (0.50 is chance).", p.Power.Concordance)
	if s := p.Simulated; s != nil {
		say("%s simulated through all stages: %s for the squad (give or take %s), %s for a swimmer; on the wrong side %s; too little data for %s of swimmers.",
			count(s.Trials, "such squad"), percentOf(s.Squad), percentOf(2*s.SquadError), percentOf(s.Swimmer), percentOf(s.Wrong), percentOf(s.TooLittle))
	}
	lines = append(lines, "", fmt.Sprintf("%9s %9s %6s  %-28s %s", "swimmers", "sessions", "bouts", "power, squad", "half width"))
	for _, c := range p.Curve {
		share := c.Power.Squad
		width := c.Power.SquadHalf
		if c.Swimmers == 1 {
			share, width = c.Power.Swimmer, c.Power.SwimmerHalf
		}
		bar := strings.Repeat("#", int(math.Round(share*20)))
		lines = append(lines, fmt.Sprintf("%9d %9d %6d  %-20s %-7s %6.2f bpm", c.Swimmers, c.Sessions, c.Bouts, bar, percentOf(share), width))
	}
	lines = append(lines, "")
	a := p.Assumed
	if a.Designed {
		say("Assumed: swimmers' own effects differ by %.1f bpm, bouts of a session by %.1f bpm at one pace and rate (standard deviations); rates set beforehand from %.0f %% below to %.0f %% above the usual one in %d steps, in an order drawn by lot.", a.Spread, a.Noise, a.Range, a.Range, a.Steps)
	} else {
		say("Assumed: swimmers' own effects differ by %.1f bpm, bouts of a session by %.1f bpm at one pace and rate, rates by %.1f %% (standard deviations). Nobody sets a rate: rates differ little, so that miscounted strokes hide part of the effect, and the formula, which knows nothing of that, promises too much: where both stand here, believe the simulation. What is found only goes together, tiredness can look like it, and no size of study mends that. Set rates earn \"costs\".", a.Spread, a.Noise, a.OwnRate)
	}
	if p.Sizes.Sessions < fewestSessions {
		say("Of so few sessions some swimmers have too little data for a verdict, and do not count for the squad's average; under six none has enough.")
	}
	say("Nothing here is medical advice; rates go in small steps, with attention to the shoulders; nobody holds their breath or swims alone; for swimmers under 18 a parent or guardian agrees first.")
	if o.deck != "" {
		lines = append(lines, "", "Session sheets: "+filepath.Join(o.deck, "deck.html")+", "+filepath.Join(o.deck, "deck.csv"))
	}
	return strings.Join(lines, "\n") + "\n"
}

// plannedChange is what plan prints of a change as JSON.
type plannedChange struct {
	Assumed trial.AssumedChange `json:"assumed"`
	Sizes   trial.Sizes         `json:"sizes"`
	Power   trial.ChangePower   `json:"power"`
	Enough  bool                `json:"enough"`
}

func (c *common) planChange(o planOptions) error {
	if o.deck != "" {
		return usageError{errors.New("--deck is for set rates: a change between sessions needs no other sheet than the usual one")}
	}
	a := trial.AssumedChange{Schedule: o.schedule, Effect: o.change, Spread: o.spread, Session: o.sessionNoise, Bout: o.noise}
	l := o.search()
	if l.sizes.Sessions == usualSessions && o.sessions == 0 {
		l.sizes.Sessions = 12
	}
	out := plannedChange{Assumed: a, Enough: l.given}
	for n := l.low; !l.given && n <= l.high; n++ {
		p, err := a.ClosedForm(l.with(n))
		if err != nil {
			return usageError{err}
		}
		if o.width > 0 && p.SquadHalf <= o.width || o.width == 0 && p.Squad >= o.wanted {
			l.sizes, out.Enough = l.with(n), true
			break
		}
	}
	if !out.Enough {
		l.sizes = l.with(l.high)
	}
	var err error
	out.Sizes = l.sizes
	if out.Power, err = a.ClosedForm(out.Sizes); err != nil {
		return usageError{err}
	}
	if c.json {
		encoder := json.NewEncoder(c.stdout)
		encoder.SetIndent("", "  ")
		err = encoder.Encode(out)
	} else if !c.quiet {
		_, err = fmt.Fprintln(c.stdout, strings.Join(changeText(out, c.width), "\n"))
	}
	if err == nil && !out.Enough {
		return refusedError{fmt.Errorf("no study of up to %d swimmers or %d sessions is enough", mostSwimmers, mostSessions)}
	}
	return err
}

func changeText(p plannedChange, width int) []string {
	words := map[string]string{trial.Once: "one date for all, half way", trial.Alternating: "with it and without it by turns, drawn by lot pair by pair", trial.Staggered: "every swimmer on another date, in an order drawn by lot"}
	lines := wrap(fmt.Sprintf("%s (%s): a change of %.1f bpm at one pace is told from nothing in %s of such studies, give or take %.1f bpm (95 %% interval).",
		capital(sized(p.Sizes)), words[p.Assumed.Schedule], p.Assumed.Effect, percentOf(p.Power.Squad), p.Power.SquadHalf), width, "", "  ")
	lines = append(lines, wrap(fmt.Sprintf("The time trend beside it makes its variance %.1f times as large. The smallest p that such dates allow, whatever is measured, is %.2g (%.0f ways).",
		p.Power.Inflation, p.Power.SmallestP, p.Power.Ways), width, "", "  ")...)
	if p.Power.SmallestP >= 0.05 {
		need := map[string]string{trial.Once: "26 sessions and more leave enough dates", trial.Alternating: "12 sessions and more leave enough ways", trial.Staggered: "4 swimmers and more leave enough orders"}[p.Assumed.Schedule]
		lines = append(lines, wrap("That is too coarse for 0.05, so that nothing would be found whatever happens: "+need+".", width, "", "  ")...)
	}
	if !p.Power.Causal {
		lines = append(lines, wrap("One date cannot earn the word \"costs\": whatever else changed that week changed with it. Alternating or staggered dates, drawn by lot, can.", width, "", "  ")...)
	}
	return lines
}

// writeDeck writes the session sheets.
func (c *common) writeDeck(o planOptions, z trial.Sizes) error {
	if o.deck == "" {
		return nil
	}
	d := trial.Deck{Study: "a planned study", Sessions: z.Sessions, Bouts: z.Bouts, RangePct: o.rateRange, Steps: o.steps,
		DistanceM: o.distance, Pool: o.pool, Pace: o.pace, RestS: o.rest, Seed: o.seed}
	if o.observed {
		return usageError{errors.New("--deck is for rates that are set beforehand: leave --observed out")}
	}
	for part := range strings.SplitSeq(o.usual, ",") {
		name, rate, ok := strings.Cut(part, "=")
		usual, err := strconv.ParseFloat(strings.TrimSpace(rate), 64)
		if strings.TrimSpace(part) == "" {
			continue
		}
		if !ok || strings.TrimSpace(name) == "" || err != nil || !(usual >= 15 && usual <= 120) {
			return usageError{fmt.Errorf("--usual %q: write name=strokes a minute, such as mira=52", strings.TrimSpace(part))}
		}
		d.Swimmers = append(d.Swimmers, trial.DeckSwimmer{Name: strings.TrimSpace(name), UsualSPM: usual})
	}
	for i := len(d.Swimmers); i < z.Swimmers; i++ {
		d.Swimmers = append(d.Swimmers, trial.DeckSwimmer{Name: fmt.Sprintf("swimmer %d", i+1)})
	}
	sheet, err := d.Sheet()
	if err != nil {
		return err
	}
	page, err := d.Page()
	if err != nil {
		return err
	}
	folder := o.deck
	if !filepath.IsAbs(folder) {
		folder = filepath.Join(c.folder, folder)
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	for name, data := range map[string][]byte{"deck.csv": sheet, "deck.html": page} {
		path := filepath.Join(folder, name)
		file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		if err != nil {
			return fmt.Errorf("%w: a sheet that may be filled in already is never written over", err)
		}
		_, err = file.Write(data)
		if err = errors.Join(err, file.Close()); err != nil {
			return err
		}
	}
	return nil
}
