package findings

import (
	"fmt"
	"slices"
	"strings"

	"lengthwise/schemas"
)

// The tags, measures and directions of the table contrasts that sentences need
// by name.
const (
	tagInstruction = "instruction"
	tagKick        = "kick"
	tagEquipment   = "equipment"
	tagBreathing   = "breathing"

	contrastCost     = "cost"
	contrastRate     = "stroke_rate"
	contrastScore    = "score_25"
	contrastFullKick = "full_kick"

	directionHigher = "higher"
	directionLower  = "lower"

	notStated = "not stated"
)

// BreathingSentence goes with every number about breath patterns.
const BreathingSentence = "Heart rate is not a valid cost for breath patterns: breath-holding can hold it down while carbon dioxide rises. Nothing about how to breathe follows from this."

// contrastSet is one contrast with all its measures.
type contrastSet struct {
	cost, held, rate, score, kick *schemas.Contrast
}

// contrasts makes the sentences on tags that differ within sessions: the
// squad's first, then each swimmer's. Contrasts without an answer are left to
// the limits.
func (m maker) contrasts() []schemas.Finding {
	type key struct{ swimmer, stroke, design, tag, level, reference string }
	sets := map[key]*contrastSet{}
	var squad, own []key
	for i := range m.Contrasts {
		r := &m.Contrasts[i]
		k := key{r.Swimmer, r.Stroke, r.Design, r.Tag, r.Level, r.Reference}
		if sets[k] == nil {
			sets[k] = &contrastSet{}
			if r.Scope == scopeSquad {
				squad = append(squad, k)
			} else {
				own = append(own, k)
			}
		}
		sets[k].put(r)
	}
	var out []schemas.Finding
	for _, k := range append(squad, own...) {
		set := sets[k]
		if set.cost == nil || set.cost.Reason != nil {
			continue
		}
		if f, ok := m.contrast(*set); ok {
			out = append(out, f)
		}
	}
	return out
}

func (c *contrastSet) put(r *schemas.Contrast) {
	switch {
	case r.AdjustedFor != "" && r.Measure == contrastCost:
		c.held = r
	case r.AdjustedFor != "":
	case r.Measure == contrastCost:
		c.cost = r
	case r.Measure == contrastRate:
		c.rate = r
	case r.Measure == contrastScore:
		c.score = r
	case r.Measure == contrastFullKick:
		c.kick = r
	}
}

// contrast makes one contrast's finding.
func (m maker) contrast(c contrastSet) (schemas.Finding, bool) {
	row := *c.cost
	e, ok := newInterval(row.Estimate, row.ConfLow, row.ConfHigh)
	if !ok {
		return schemas.Finding{}, false
	}
	f := schemas.Finding{
		Finding: id(Contrast, row.Tag, row.Level, row.Reference, row.Stroke, row.Design), Question: Contrast,
		Stroke: pointer(row.Stroke), Design: pointer(row.Design), Strength: strengthOf(row.Design), N: row.N,
		Estimate: number(row.Estimate), ConfLow: number(row.ConfLow), ConfHigh: number(row.ConfHigh),
	}
	if row.Scope == scopeSquad {
		f.N = row.Swimmers
	} else {
		f.Finding, f.Swimmer = id(Contrast, row.Swimmer, row.Tag, row.Level, row.Reference, row.Stroke, row.Design), pointer(row.Swimmer)
	}
	opening := capital(row.Stroke) + ": "
	switch {
	case row.Tag == tagBreathing:
		f.Strength = StrengthNone
		f.Sentence = opening + m.breathing(row, e)
	case row.Tag == tagInstruction:
		f.Sentence = opening + m.instruction(c, e)
	default:
		f.Sentence = opening + m.setting(c, e)
	}
	f.Caution = pointer(strings.Join(m.contrastCautions(c), " "))
	return f, true
}

// who ends a clause: whose contrast it is.
func who(row schemas.Contrast) string {
	if row.Scope == scopeSquad {
		return "on average over " + count(row.Swimmers, "swimmer")
	}
	return "for this swimmer"
}

// behind is what stands in brackets: interval, adjusted p, bouts.
func behind(row schemas.Contrast, span string) string {
	text := "95 % interval " + span
	if p, ok := value(row.PHolm); ok {
		text += "; " + probability(adjusted(row.FamilySize), p)
	}
	return text + "; " + count(row.NLevel, "bout") + " against " + Grouped(int64(row.NReference)) + " in " + count(row.Sessions, "session")
}

// adjusted is the letter of a p that counts so many tests.
func adjusted(tests int32) string {
	if tests > 1 {
		return "adjusted p"
	}
	return "p"
}

// setting says what a level of kick, equipment or the squad's own notes goes
// together with, or costs.
func (m maker) setting(c contrastSet, e interval) string {
	row := *c.cost
	var b strings.Builder
	b.WriteString(settingWords(row.Tag, row.Level) + " rather than " + settingWords(row.Tag, row.Reference))
	if row.Design == Designed {
		b.WriteString(" costs " + m.scale.change(e.estimate) + " at the same pace " + who(row))
	} else {
		b.WriteString(" goes together with bouts " + m.scale.apart(e.estimate) + " at the same pace " + who(row))
	}
	b.WriteString(" (" + behind(row, m.scale.span(e.low, e.high)) + ").")
	if !decided(c.cost) {
		b.WriteString(" " + stillOpen(e))
	}
	b.WriteString(c.beside())
	b.WriteString(m.another(row))
	return b.String()
}

// stillOpen says that a contrast has no direction, and why where its interval
// alone would have one.
func stillOpen(e interval) string {
	open := "That leaves open whether such bouts are cheaper or dearer."
	if e.low > 0 || e.high < 0 {
		return "The interval by itself leaves out zero, but among as many contrasts as were looked at that is not enough. " + open
	}
	return open
}

// beside names what else clearly differed.
func (c contrastSet) beside() string {
	var parts []string
	for _, one := range []struct {
		row  *schemas.Contrast
		what string
		in   scale
	}{{c.rate, "the stroke rate", scale{"%", 1}}, {c.score, "the score", scale{"points per 25 m", 1}}} {
		if decided(one.row) {
			parts = append(parts, one.what+" was "+one.in.off(*one.row.Estimate))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return " Beside it " + strings.Join(parts, ", and ") + "."
}

// decided reports whether a row's direction is claimed.
func decided(row *schemas.Contrast) bool {
	if row == nil {
		return false
	}
	e, ok := newInterval(row.Estimate, row.ConfLow, row.ConfHigh)
	return ok && (row.Direction == directionHigher && e.low > 0 || row.Direction == directionLower && e.high < 0)
}

// off writes a difference as "3.4 bpm higher".
func (s scale) off(v float64) string {
	return s.size(v) + " " + s.unit + " " + sign(v, "higher", "lower")
}

// offSpan is span with higher and lower in place of dearer and cheaper.
func (s scale) offSpan(low, high float64) string {
	switch {
	case low >= 0:
		return "from " + s.size(low) + " to " + s.off(high)
	case high <= 0:
		return "from " + s.size(high) + " to " + s.off(low)
	}
	return "from " + s.off(low) + " to " + s.off(high)
}

// settingWords names a tag's level.
func settingWords(tag, level string) string {
	level = Printable(level)
	own := strings.ReplaceAll(Printable(tag), "_", " ")
	switch {
	case tag == tagKick && level == "none":
		return "no kick"
	case tag == tagKick && level == notStated:
		return "kick as it came"
	case tag == tagKick:
		return level + " kick"
	case tag == tagEquipment && level == notStated:
		return "no equipment noted"
	case tag == tagEquipment && level == "none":
		return "no equipment"
	case tag == tagEquipment:
		return level
	case level == notStated:
		return "no " + own + " noted"
	}
	return own + " " + level
}

// noSpread stands where the swimmers' results differ by no more than their errors:
// the prediction interval is then the average's own and says nothing of swimmers.
const noSpread = " How far another swimmer may lie from that cannot be told: these bouts show no spread between swimmers beyond their errors, which does not mean that there is none."

// another is what another swimmer of the squad may expect.
func (m maker) another(row schemas.Contrast) string {
	p, ok := newInterval(row.Estimate, row.PredictLow, row.PredictHigh)
	if row.Scope != scopeSquad || !ok {
		return ""
	}
	if v, ok := value(row.Tau2); ok && v == 0 {
		return noSpread
	}
	span := m.scale.span(p.low, p.high)
	if row.Tag == tagInstruction {
		span = m.scale.offSpan(p.low, p.high)
	}
	return " Another swimmer of such a squad may lie anywhere " + span + " (95 % prediction interval)."
}

// breathing shows a breath pattern's numbers and claims nothing.
func (m maker) breathing(row schemas.Contrast, e interval) string {
	return fmt.Sprintf("with %s rather than the %s usual for this swimmer, %s at the same pace read %s (95 %% interval %s; %s against %s in %s). %s",
		row.Level, row.Reference, m.costNoun(), m.scale.off(e.estimate), m.scale.offSpan(e.low, e.high),
		count(row.NLevel, "bout"), Grouped(int64(row.NReference)), count(row.Sessions, "session"), BreathingSentence)
}

// costNoun is what the study's cost is called as something that rises or falls.
func (m maker) costNoun() string {
	if m.Study.Cost.Measure == "bpm" {
		return "heart rate"
	}
	return "the cost"
}

// contrastCautions is what must be read with a contrast.
func (m maker) contrastCautions(c contrastSet) []string {
	row := *c.cost
	var cautions []string
	if v, ok := value(row.RobustnessValue); ok && row.Design != Designed && decided(c.cost) {
		cautions = append(cautions, fmt.Sprintf("An unseen cause that explains %s %% of what is left of both would be enough to account for it all.", share(v)))
	}
	for _, w := range strings.Split(row.Warnings, ";") {
		if w = asSentence(w); w != "" && row.Tag != tagBreathing {
			cautions = append(cautions, w)
		}
	}
	if row.Scope == scopeSquad && row.NDropped > 0 {
		cautions = append(cautions, asSentence(count(row.NDropped, "swimmer")+" left out: "+row.DroppedWhy))
	}
	switch {
	case row.Tag != tagInstruction || !decided(c.cost):
	case row.Scope != scopeSquad && m.medicated(row.Swimmer):
		cautions = append(cautions, CautionMedication)
	default:
		cautions = append(cautions, CautionSteps)
	}
	return cautions
}

// contrastLimits counts the swimmers whose contrasts were too little.
func (m maker) contrastLimits(add func(string, string, int)) {
	type key struct{ stroke, tag string }
	thin, enough := map[key]map[string]bool{}, map[key]map[string]bool{}
	var order []key
	for _, r := range m.Contrasts {
		if r.Scope == scopeSquad || r.Measure != contrastCost || r.AdjustedFor != "" || r.Tag == tagBreathing {
			continue
		}
		k := key{r.Stroke, r.Tag}
		if thin[k] == nil {
			order = append(order, k)
			thin[k], enough[k] = map[string]bool{}, map[string]bool{}
		}
		if r.Reason != nil {
			thin[k][r.Swimmer] = true
		} else {
			enough[k][r.Swimmer] = true
		}
	}
	slices.SortFunc(order, func(a, b key) int { return strings.Compare(a.stroke+"\x00"+a.tag, b.stroke+"\x00"+b.tag) })
	for _, k := range order {
		n := 0
		for swimmer := range thin[k] {
			if !enough[k][swimmer] {
				n++
			}
		}
		if n > 0 {
			add(strings.Join([]string{"contrast", k.tag, k.stroke}, "-"), fmt.Sprintf("%s: for %s the tag %s differed within sessions, but in too few of them, or bound to order or pace, for an answer of their own.",
				capital(k.stroke), count(n, "swimmer"), strings.ReplaceAll(Printable(k.tag), "_", " ")), n)
		}
	}
}
