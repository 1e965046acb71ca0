package findings

import (
	"fmt"
	"strings"

	"lengthwise/schemas"
)

// sourcesApart tells how far effects differ by where the heart rate came from, in the
// swimmers who have a strap and another source.
func (m maker) sourcesApart(add func(string, string, int)) {
	for _, row := range m.BySource {
		if e, ok := newInterval(row.EffectPer10Pct, row.EffectLow, row.EffectHigh); ok && row.Against != "" {
			add(strings.Join([]string{"source", row.Source, row.Stroke, row.Design}, "-"), m.sourceSentence(row, e), int(row.Swimmers))
		}
	}
}

func (m maker) sourceSentence(row schemas.ScoreBySource, e interval) string {
	verdict := "which leaves open whether the source matters"
	switch {
	case e.low > 0:
		verdict = "so that more strokes a minute look dearer there than they are by the strap"
	case e.high < 0:
		verdict = "so that more strokes a minute look cheaper there than they are by the strap"
	}
	return fmt.Sprintf("%s, %s: over %s with both, the effect of a stroke rate 10 %% higher reads %s %s %s by %s than by a strap (95 %% interval of the difference from %s to %s %s), %s.",
		capital(row.Stroke), setting(row.Design), count(row.Swimmers, "swimmer"), m.scale.size(e.estimate), m.scale.unit,
		sign(e.estimate, "higher", "lower"), sourceWords(row.Source), m.signed(e.low), m.signed(e.high), m.scale.unit, verdict)
}

func sourceWords(source string) string {
	switch source {
	case "optical":
		return "the wrist"
	case "palpated":
		return "a pulse counted by hand"
	}
	return "a source that is not stated"
}
