package findings

import (
	"fmt"
	"strings"

	"lengthwise/schemas"
)

// The rows and differences of mixed_effects, as the table spells them.
const (
	termEffect = "effect_per_10pct"
	kindFixed  = "fixed"

	differsSwimmers = "swimmers"
	differsCounts   = "counts"
	differsCurve    = "curve"
	differsWeights  = "weights"
	differsSeveral  = "several"
	differsWidth    = "width"
)

// mixed makes the sentence of each mixed model, with the two-stage result
// beside it.
func (m maker) mixed() []schemas.Finding {
	var out []schemas.Finding
	for _, stroke := range m.strokes() {
		for _, design := range []string{Designed, Observed, All} {
			for _, row := range m.Mixed {
				if row.Stroke == stroke && row.Design == design && row.Kind == kindFixed && row.Term == termEffect {
					out = append(out, m.mixedModel(row))
				}
			}
		}
	}
	return out
}

func (m maker) mixedModel(row schemas.MixedEffect) schemas.Finding {
	opening := fmt.Sprintf("%s, %s: ", capital(row.Stroke), setting(row.Design))
	f := schemas.Finding{
		Finding: id(MixedModel, row.Stroke, row.Design), Question: MixedModel,
		Stroke: pointer(row.Stroke), Design: pointer(row.Design), N: row.Swimmers,
	}
	e, ok := newInterval(row.Estimate, row.ConfLow, row.ConfHigh)
	if !ok {
		f.Strength = StrengthNone
		f.Sentence = opening + "no answer from one model of all bouts" + because(row.Reason) + "."
		return f
	}
	f.Strength = strengthOf(row.Design)
	f.Estimate, f.ConfLow, f.ConfHigh = number(row.Estimate), number(row.ConfLow), number(row.ConfHigh)
	f.Sentence = opening + fmt.Sprintf("in one model of all bouts (%s, %s), a stroke rate 10 %% higher at the same pace %s on average (95 %% interval %s). ",
		count(row.Swimmers, "swimmer"), count(row.N, "bout"), m.costing(row.Design, e.estimate), m.scale.span(e.low, e.high)) + m.beside(row, e)
	var cautions []string
	for _, w := range strings.Split(row.Warnings, ";") {
		if w = asSentence(w); w != "" {
			cautions = append(cautions, w)
		}
	}
	f.Caution = pointer(strings.Join(cautions, " "))
	return f
}

// costing says what a higher rate comes with, as far as the design lets it.
func (m maker) costing(design string, v float64) string {
	if design == Designed {
		return "costs " + m.scale.change(v)
	}
	return "goes together with bouts " + m.scale.apart(v)
}

// beside sets the model beside the two-stage result.
func (m maker) beside(row schemas.MixedEffect, e interval) string {
	two, ok := newInterval(row.TwoStage, row.TwoStageLow, row.TwoStageHigh)
	if !ok {
		return "Swimmer by swimmer there is no pooled result to set beside it."
	}
	said := fmt.Sprintf("Pooled from the swimmers' own results it is %s (95 %% interval %s)", m.scale.apart(two.estimate), m.scale.span(two.low, two.high))
	left := ""
	if v, ok := value(row.Changed); ok {
		left = m.scale.apart(v)
	}
	switch row.Difference {
	case differsSwimmers:
		return said + fmt.Sprintf(". Most of the distance goes with swimmers of too little data, who are in the one model alone: without them it reads %s.", left)
	case differsCounts:
		return said + fmt.Sprintf(". Most of the distance goes with counting errors, for which the swimmers' own slopes are corrected and the one model's are not: as the counts stand they pool to %s.", left)
	case differsCurve:
		return said + fmt.Sprintf(". Most of the distance goes with curves, from which the swimmers' own slopes are read where cost bends: with straight lines alone they pool to %s.", left)
	case differsWeights:
		return said + fmt.Sprintf(". Most of the distance goes with the weights: the swimmers' own results count by how surely each is known, the one model takes one scatter for all, and with that the own results pool to %s.", left)
	case differsSeveral:
		return said + ". No single thing takes most of the distance away: the one model holds more swimmers where some have too little data, has one drift, one curve and one scatter for all, and draws each swimmer's slope towards the others."
	case differsWidth:
		return said + ". The estimates agree and the intervals do not: " + m.widths(row, e, two) + "."
	}
	return said + ": the two agree."
}

// widths says what the two intervals rest on.
func (m maker) widths(row schemas.MixedEffect, e, two interval) string {
	wider := "wider"
	if e.high-e.low < two.high-two.low {
		wider = "narrower"
	}
	text := fmt.Sprintf("that of the one model is %s, with %s in it", wider, count(row.Swimmers, "swimmer"))
	for _, o := range m.Overall {
		if o.Stroke == row.Stroke && o.Design == row.Design && o.Question == MatchedPace && o.Measure == MeasureEffect {
			text += fmt.Sprintf(" against %d", o.Swimmers)
		}
	}
	return text
}

// partlyPooled makes the sentence of a swimmer whose own bouts are too few for
// a verdict and who has a number from the squad's model.
func (m maker) partlyPooled(row schemas.ScoreBySwimmer) (schemas.Finding, bool) {
	e, ok := newInterval(row.EffectPooled, row.EffectPooledLow, row.EffectPooledHigh)
	own, okOwn := value(row.OwnShare)
	if !row.PooledOnly || row.Design == All || !ok || !okOwn {
		return schemas.Finding{}, false
	}
	f := schemas.Finding{
		Finding: id(PartlyPooled, row.Swimmer, row.Stroke, row.Design), Question: PartlyPooled,
		Swimmer: pointer(row.Swimmer), Stroke: pointer(row.Stroke), Design: pointer(row.Design),
		Strength: strengthOf(row.Design), N: row.Bouts,
		Estimate: number(row.EffectPooled), ConfLow: number(row.EffectPooledLow), ConfHigh: number(row.EffectPooledHigh),
	}
	f.Sentence = fmt.Sprintf("%s, %s: read together with the other swimmers' bouts, a stroke rate 10 %% higher at the same pace %s for this swimmer (95 %% interval %s). %s, the rest is what the other swimmers' bouts say. It is an estimate and no verdict.",
		capital(row.Stroke), setting(row.Design), m.costing(row.Design, e.estimate), m.scale.span(e.low, e.high), ownWords(own))
	cautions := []string{"The interval takes the bouts of all swimmers to scatter alike, and sessions to differ in their level alone."}
	if m.medicated(row.Swimmer) {
		cautions = append(cautions, CautionMedication)
	} else {
		cautions = append(cautions, CautionSteps)
	}
	f.Caution = pointer(strings.Join(cautions, " "))
	return f, true
}

func ownWords(own float64) string {
	switch {
	case own < 0.01:
		return "Next to nothing of it is told by the swimmer's own bouts"
	case own > 0.99:
		return "Nearly all of it is told by the swimmer's own bouts"
	}
	return fmt.Sprintf("%.0f %% of it is told by the swimmer's own bouts", 100*own)
}
