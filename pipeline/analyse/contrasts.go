package analyse

import (
	"fmt"
	"math"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/linear"
	"lengthwise/stats/resample"
)

// The measures of a contrast.
const (
	MeasureCost              = "cost"
	MeasureStrokeRate        = "stroke_rate"
	MeasureDistancePerStroke = "distance_per_stroke"
	MeasureScore             = "score_25"
	MeasureFullKick          = "full_kick"
)

// The directions of a contrast or a change.
const (
	Higher     = "higher"
	Lower      = "lower"
	NotClaimed = "not-claimed"
	open       = string(Undecided)
	tooLittle  = string(TooLittleData)
)

// The scopes of a row.
const (
	OneSwimmer = "swimmer"
	WholeSquad = "squad"
)

// Contrast is one contrast of one swimmer, with what the squad's needs of it.
// Row has no adjusted p and no direction yet: both depend on the family.
type Contrast struct {
	Row schemas.Contrast

	content    uint64 // hash of the bouts' numbers: an order free of names
	enough     bool   // enters the swimmer's family
	confused   bool   // cannot be told from order, pace or other tags
	poolable   bool
	estimate   float64 // on the scale of the model: ln for rate and distance per stroke
	stdError   float64
	sigma2     float64 // residual variance ...
	df         float64 // ... and its degrees of freedom
	perSigma2  float64 // classical variance of the estimate over sigma2
	percentage bool    // reported as a percentage of what the model has as ln
}

// measure is what is compared between levels.
type measure struct {
	name, unit string
	percentage bool
	values     []float64 // NaN where a bout has none; nil for the last measure's, turned round
}

// Contrasts compares, for every stroke of the study and every tag that differs
// within sessions, each level with the reference at a fixed pace.
//
// The model, over the sessions in which the tag differs: measure = session +
// stratum + other tags + b1 x + b2 x^2 + g ln(1 + minutes) + level + error,
// sessions absorbed, errors CR2 by session with Satterthwaite degrees of
// freedom. Stroke rate is no term of it: it is one of the measures. An
// instruction is compared as a whole first, then with kick held fixed too,
// which is a path by which it may act.
func Contrasts(bouts []derive.Bout, s *study.Study) []Contrast {
	var out []Contrast
	for _, stroke := range s.Analysis.Strokes {
		everything, _ := usable(bouts, stroke, All)
		if len(everything) == 0 {
			continue
		}
		usual := newUsualRate(everything, referenceSpeed(everything, s))
		for _, t := range tagsOf(everything) {
			l, ok := newLevels(everything, t)
			if !ok {
				continue
			}
			base := schemas.Contrast{Scope: OneSwimmer, Swimmer: bouts[0].Swimmer, Stroke: stroke, Swimmers: 1, Direction: tooLittle,
				Design: string(Observed), NDropped: int32(total(l.dropped)), DroppedWhy: tally(l.dropped)}
			if setBeforehand(t.name, s) {
				base.Design = string(Designed)
			}
			out = append(out, l.contrasts(base, usual, s, false)...)
			if t.name == TagInstruction && l.kickVaries() {
				out = append(out, l.contrasts(base, usual, s, true)...)
			}
		}
	}
	return out
}

// kickVaries reports whether kick was noted for every bout, and differs.
func (l *levels) kickVaries() bool {
	values := valuesOf(l.bouts, kickOf)
	return len(values) > 1 && l.kickNoted() == len(l.bouts)
}

func (l *levels) kickNoted() int {
	n := 0
	for _, b := range l.bouts {
		if b.Tags.Kick != "" {
			n++
		}
	}
	return n
}

// contrasts fits each measure and reads every level off it.
func (l *levels) contrasts(base schemas.Contrast, usual usualRate, s *study.Study, kickHeld bool) []Contrast {
	base.Tag, base.Reference, base.N = l.tag.name, orNotStated(l.reference), int32(len(l.bouts))
	base.NReference = int32(l.count(l.reference))
	if kickHeld {
		base.AdjustedFor = TagKick
	}
	r := newRows(l.bouts, usual, s, All)
	content := resample.SeedOf(s.Seed, "content/contrast/"+base.Stroke+"/"+base.Tag, r.cost, r.lnSpeed, r.lnRate, r.lnMinutes)
	l.layTerms(r, usual, s.Cost.Measure, kickHeld)
	var out []Contrast
	var fit levelFit
	for _, m := range l.measures(r, s, kickHeld) {
		if m.values == nil {
			fit.turned = true
		} else {
			fit = l.fit(r, m)
		}
		for _, at := range l.names {
			row := base
			row.Level, row.Measure, row.Unit = orNotStated(at), m.name, m.unit
			row.NLevel, row.Sessions = int32(l.count(at)), int32(l.pairSessions(at))
			c := Contrast{Row: row, content: content, percentage: m.percentage}
			var w warnings
			l.warn(r, at, s, &w)
			if reason := c.read(fit, l, r, at); reason != "" {
				c.Row.Reason = &reason
			}
			c.Row.Warnings = w.String()
			out = append(out, c)
		}
	}
	return out
}

// layTerms lays out pace, drift, stratum, the other tags that may differ with
// this one, and the rates that were set. An instruction may act by the kick,
// so kick is a term only where it is to be held.
func (l *levels) layTerms(r *rows, usual usualRate, costMeasure string, kickHeld bool) {
	r.layBasics()
	if costMeasure != "rpe" {
		r.indicators(termStratum, stratumOf)
	}
	if l.tag.name != TagEquipment {
		r.indicators(termEquipment, equipmentOf)
	}
	if l.tag.name == TagInstruction {
		if kickHeld {
			r.indicators(termKick, kickOf)
		}
		return
	}
	if l.tag.name != TagKick {
		r.indicators(termKick, kickOf)
	}
	r.indicators(termInstruction, instructionOf)
	r.targets(usual)
}

const (
	termInstruction   = "instruction " // prefix of the instructions' indicators
	termTargetSet     = "rate_set"     // 1 where a rate was set
	termTarget        = "ln_rate_set"  // ln of the rate set over the usual one at that pace, 0 where none was
	termTargetSquared = "ln_rate_set_squared"
	termLevel         = "level "
)

// targets adds the rates that were set beforehand: they move cost and are no
// doing of the tag's.
func (r *rows) targets(usual usualRate) {
	set := func(b *derive.Bout) bool { return !math.IsNaN(b.Tags.RateTargetSPM) && b.Tags.RateTargetSPM > 0 }
	r.indicator(termTargetSet, set)
	target, squared := make([]float64, len(r.bouts)), make([]float64, len(r.bouts))
	any := false
	for i, b := range r.bouts {
		if set(b) {
			target[i] = math.Log(b.Tags.RateTargetSPM) - usual.level - usual.slope*r.lnSpeed[i]
			squared[i] = target[i] * target[i]
			any = true
		}
	}
	if any {
		r.terms = append(r.terms, termTarget, termTargetSquared)
		r.columns = append(r.columns, target, squared)
	}
}

// measures lists what is compared: with kick held, cost alone. Rate, distance
// per stroke and score say how the stroke changed; at a fixed pace they are one
// number in three coats, and ln distance is that of rate turned round.
func (l *levels) measures(r *rows, s *study.Study, kickHeld bool) []measure {
	n := len(r.bouts)
	out := []measure{{MeasureCost, s.Cost.Unit(), false, r.cost}}
	if kickHeld {
		return out
	}
	score, full := make([]float64, n), make([]float64, n)
	for i, b := range r.bouts {
		score[i] = b.Score25
		switch b.Tags.Kick {
		case "":
			full[i] = math.NaN()
		case "full":
			full[i] = 100
		}
	}
	out = append(out,
		measure{MeasureStrokeRate, "%", true, r.lnRate},
		measure{MeasureDistancePerStroke, "%", true, nil},
		measure{MeasureScore, "points per 25 m", false, score})
	if l.tag.name == TagInstruction && 2*l.kickNoted() >= n {
		out = append(out, measure{MeasureFullKick, "percentage points", false, full})
	}
	return out
}

// levelFit is one measure's model, or why there is none.
type levelFit struct {
	model   *linear.Model
	robust  linear.Covariance
	turned  bool // its numbers count with the other sign
	refused string
}

// coefficient reads a term off under a covariance.
func (f levelFit) coefficient(term string, c linear.Covariance) (linear.Coefficient, error) {
	k, err := f.model.Coefficient(term, c, level)
	if f.turned {
		k.Estimate, k.Statistic = -k.Estimate, -k.Statistic
		k.ConfLow, k.ConfHigh = -k.ConfHigh, -k.ConfLow
	}
	return k, err
}

// fit fits one measure, over the bouts that have it.
func (l *levels) fit(r *rows, m measure) levelFit {
	keep := make([]int, 0, len(m.values))
	for i, v := range m.values {
		if !math.IsNaN(v) {
			keep = append(keep, i)
		}
	}
	pick := func(values []float64) []float64 {
		out := make([]float64, len(keep))
		for k, i := range keep {
			out[k] = values[i]
		}
		return out
	}
	p := linear.Problem{Response: pick(m.values), Absorb: make([]int, len(keep))}
	for k, i := range keep {
		p.Absorb[k] = r.session[i]
	}
	p.Cluster = p.Absorb
	for t, term := range r.terms {
		p.Terms, p.Columns = append(p.Terms, term), append(p.Columns, pick(r.columns[t]))
	}
	for _, name := range l.names {
		column := make([]float64, len(keep))
		for k, i := range keep {
			column[k] = oneIf(l.level[i] == name)
		}
		p.Terms, p.Columns = append(p.Terms, termLevel+name), append(p.Columns, column)
	}
	if len(keep) == 0 {
		return levelFit{refused: "no bout has it"}
	}
	model, err := linear.Fit(p)
	if err != nil {
		return levelFit{refused: "no fit: " + plain(err)}
	}
	robust, err := model.Clustered(linear.CR2)
	if err != nil {
		return levelFit{refused: "no interval: " + plain(err), model: model}
	}
	if m.name == MeasureCost && len(keep) == len(r.cost) {
		if robust, err = r.carryTau(p, model, robust); err != nil {
			return levelFit{refused: "no interval: " + plain(err), model: model}
		}
	}
	return levelFit{model: model, robust: robust}
}

// read fills in one level's numbers and returns why nothing can be claimed, ""
// when something can.
func (c *Contrast) read(fit levelFit, l *levels, r *rows, at string) string {
	if fit.model == nil {
		return fit.refused
	}
	if reason := l.confused(r, at); reason != "" {
		c.confused = true
		return reason
	}
	m, term := fit.model, termLevel+at
	ordinary, err := fit.coefficient(term, m.Classical())
	if err != nil || m.Exact || ordinary.StdError == 0 {
		c.confused = true
		return "cannot be told from pace, minutes and the other tags"
	}
	c.estimate, c.sigma2, c.df = ordinary.Estimate, m.Sigma*m.Sigma, float64(m.DFResidual)
	c.perSigma2 = ordinary.StdError * ordinary.StdError / c.sigma2
	c.poolable = m.DFResidual >= fewestResidual
	if c.Row.Design == string(Observed) {
		if value, err := linear.RobustnessValue(ordinary.Statistic, float64(m.DFResidual)); err == nil {
			c.Row.RobustnessValue = &value
		}
	}
	if fit.refused != "" {
		c.show(linear.Coefficient{Estimate: c.estimate, StdError: math.NaN()})
		return fit.refused
	}
	robust, err := fit.coefficient(term, fit.robust)
	if err != nil {
		c.show(linear.Coefficient{Estimate: c.estimate, StdError: math.NaN()})
		return "the sessions do not tell how sure it is"
	}
	c.stdError = robust.StdError
	c.show(robust)
	if robust.DF < FewestDF {
		return fmt.Sprintf("%.2f degrees of freedom, fewer than %d: more sessions that hold both are needed", math.Floor(100*robust.DF)/100, FewestDF)
	}
	c.enough = true
	return ""
}

// fewestResidual is how many residual degrees of freedom a swimmer's contrast
// needs to enter the squad's (our own choice).
const fewestResidual = 4

// show fills the row's numbers in, percentages from logarithms. A standard
// error of NaN leaves all but the estimate out.
func (c *Contrast) show(k linear.Coefficient) {
	estimate := c.shown(k.Estimate)
	c.Row.Estimate = &estimate
	if math.IsNaN(k.StdError) {
		return
	}
	low, high, stdError := c.shown(k.ConfLow), c.shown(k.ConfHigh), k.StdError
	if c.percentage {
		stdError *= 100 * math.Exp(k.Estimate)
	}
	statistic, df, p := k.Statistic, k.DF, k.PValue
	c.Row.StdError, c.Row.Statistic, c.Row.DF, c.Row.PValue = &stdError, &statistic, &df, &p
	c.Row.ConfLow, c.Row.ConfHigh = &low, &high
}

// shown turns a number of the model into one of the table.
func (c *Contrast) shown(v float64) float64 {
	if c.percentage {
		return 100 * math.Expm1(v)
	}
	return v
}
