package analyse

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/stats/linear"
)

// warnings collects what to bear in mind with an answer, in order, each once.
type warnings struct{ list []string }

func (w *warnings) add(text string) {
	for _, have := range w.list {
		if have == text {
			return
		}
	}
	w.list = append(w.list, text)
}

// String joins the warnings with semicolons.
func (w *warnings) String() string { return strings.Join(w.list, "; ") }

func (w *warnings) design(d Design) {
	switch d {
	case Observed:
		w.add("swum as the swimmer liked: tiredness and mood move rate and heart rate together")
	case All:
		w.add("observed and designed bouts together")
	}
}

// sources warns of heart rates that lend themselves to a false answer.
func (w *warnings) sources(bouts []*derive.Bout, measure string) {
	if !(study.Cost{Measure: measure}).ReadsHeartRate() {
		return
	}
	var optical, unknown, reported int
	for _, b := range bouts {
		switch b.HRSource {
		case "optical":
			optical++
		case "unknown":
			unknown++
		}
		if !derive.SteadyStratum(b.CostStratum) {
			reported++
		}
	}
	if optical > 0 {
		w.add(fmt.Sprintf("heart rate from the wrist in %d of %d bouts: its error moves with the stroke rate itself", optical, len(bouts)))
	}
	if unknown > 0 {
		w.add(fmt.Sprintf("source of the heart rate not stated in %d of %d bouts", unknown, len(bouts)))
	}
	if reported > 0 {
		w.add(fmt.Sprintf("heart rate not yet steady, or read late, at the end of %d of %d bouts: compared at equal distance and rest only, and effects read too small there", reported, len(bouts)))
	}
}

// setAlike tells of bouts whose rate or instruction was set, the same for the
// whole session: there is nothing within it to compare them with.
func (w *warnings) setAlike(bouts []*derive.Bout, d Design) {
	n := 0
	for _, b := range bouts {
		if !b.Designed && (b.Tags.Instruction != "" || !math.IsNaN(b.Tags.RateTargetSPM)) {
			n++
		}
	}
	if n > 0 && d != Designed {
		w.add(fmt.Sprintf("%s had the rate or the instruction set, but the same for the whole session: read like the others", count(n, "bout")))
	}
}

// followsOrder is the correlation of rate and order within sessions from
// which order may stand behind the rate's effect.
const followsOrder = 0.7

// order warns when the rate goes up or down with the order of bouts.
func (w *warnings) order(r *rows) {
	c := withinCorrelation(r.session, r.sessions, r.lnRate, r.lnMinutes)
	if math.Abs(c) > followsOrder {
		direction := "rises"
		if c < 0 {
			direction = "falls"
		}
		w.add("stroke rate " + direction + " through the session, so that tiredness may stand behind its effect")
	}
}

// plain puts a numerical refusal into words for the reader of a table.
func plain(err error) string {
	switch {
	case errors.Is(err, linear.ErrTooFewRows):
		return "too few bouts for the terms of the model"
	case errors.Is(err, linear.ErrNoVariance):
		return "nothing varies within a session"
	case errors.Is(err, linear.ErrOneCluster):
		return "bouts from one session only"
	case errors.Is(err, linear.ErrNoTerms):
		return "neither pace nor rate varies within a session"
	}
	return err.Error()
}

func joinTerms(terms []string) string { return strings.Join(terms, ", ") }

// count writes a number with its noun in the right number.
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// tooFewSessions is why a number with its degrees of freedom says nothing: sessions
// weigh as few where they hardly differ in what the number is about.
func tooFewSessions(df float64) string {
	return fmt.Sprintf("too few sessions bear on it: %.2f degrees of freedom, fewer than %d", math.Floor(100*df)/100, FewestDF)
}
