package findings

import (
	"strings"
	"testing"

	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

func TestSentencesOfSources(t *testing.T) {
	row := func(estimate, low, high float64) schemas.ScoreBySource {
		return schemas.ScoreBySource{Scope: "squad", Stroke: "freestyle", Design: Designed, Source: "optical", Against: "strap",
			EffectPer10Pct: &estimate, EffectLow: &low, EffectHigh: &high, Swimmers: 7}
	}
	for _, c := range []struct {
		row  schemas.ScoreBySource
		want string
	}{
		{row(1.6, 0.4, 2.8), "over 7 swimmers with both, the effect of a stroke rate 10 % higher reads 1.6 bpm higher by the wrist than by a strap (95 % interval of the difference from +0.4 to +2.8 bpm), so that more strokes a minute look dearer there than they are by the strap."},
		{row(-1.6, -2.8, -0.4), "reads 1.6 bpm lower by the wrist than by a strap (95 % interval of the difference from −2.8 to −0.4 bpm), so that more strokes a minute look cheaper there"},
		{row(0.02, -1, 1), "reads under 0.1 bpm higher by the wrist than by a strap (95 % interval of the difference from −1.0 to +1.0 bpm), which leaves open whether the source matters."},
	} {
		plain := row(9, 8, 10)
		plain.Against = ""
		s := study.Default()
		found := ""
		for _, f := range Make(Input{Study: s, BySource: []schemas.ScoreBySource{plain, c.row}, Bouts: BoutCounts{Bouts: 9, Usable: 9, Designed: 9, Strap: 5, Optical: 4}}) {
			if strings.HasPrefix(f.Finding, "limits/source-") {
				found += f.Sentence
			}
		}
		if !strings.Contains(found, c.want) || strings.Contains(found, "9.0") {
			t.Errorf("got %q, want %q in it", found, c.want)
		}
	}
}
