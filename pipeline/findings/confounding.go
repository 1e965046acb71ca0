package findings

import (
	"fmt"
	"strings"

	"lengthwise/schemas"
)

// unseenLead opens the sentence on what an unseen cause would have to explain.
const unseenLead = "An unseen cause"

// unseen says what an unseen cause would have to be to remove an observed slope
// on stroke rate, and what one as strong as something measured would leave.
func (m maker) unseen(row schemas.ScoreBySwimmer) string {
	v, ok := value(row.RobustnessValue)
	if !ok {
		return ""
	}
	text := fmt.Sprintf(unseenLead+", tied to both stroke rate and %s within sessions, would have to explain %s %% of what is left of both to remove this.", m.costNoun(), share(v))
	var left []string
	for _, c := range m.Confounding {
		if c.Swimmer != row.Swimmer || c.Stroke != row.Stroke || c.Design != row.Design {
			continue
		}
		what := "the minutes into the session"
		if c.Benchmark == "pace" {
			what = "pace"
		}
		left = append(left, "one as strong as "+what+" would leave "+m.leftOf(c))
	}
	if len(left) == 0 {
		return text
	}
	return text + " For comparison: " + strings.Join(left, ", ") + "."
}

// leftOf is what a cause of a benchmark's strength leaves of an effect.
func (m maker) leftOf(c schemas.Confounding) string {
	if c.EffectLeft == 0 || (c.EffectLeft > 0) != (c.EffectPer10Pct > 0) {
		return "none of it"
	}
	return m.scale.size(c.EffectLeft) + " of " + m.scale.size(c.EffectPer10Pct) + " " + m.scale.unit
}
