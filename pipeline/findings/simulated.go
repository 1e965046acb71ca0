package findings

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"lengthwise/pipeline/simulated"
	"lengthwise/schemas"
)

// simulatedLike cites, by stroke and design, how the method did on the simulated squads
// that are nearest to the study.
func (m maker) simulatedLike(add func(name, sentence string, n int)) {
	rows, err := simulated.Rows()
	if err != nil {
		return // the program carries the table, and a test reads it
	}
	for _, stroke := range m.strokes() {
		for _, design := range []string{Designed, Observed} {
			s, ok := m.likeness(stroke, design)
			if !ok {
				continue
			}
			if kind, ok := simulated.Nearest(rows, s); ok {
				add(strings.Join([]string{"simulated", stroke, design}, "-"), capital(stroke)+", "+setting(design)+": "+kindWords(rows, kind, design), int(s.Swimmers))
			}
		}
	}
}

// likeness is what of the study's bouts tells which simulated squads are like it.
func (m maker) likeness(stroke, design string) (simulated.Study, bool) {
	var sessions, each, sigma, spread []float64
	for _, r := range m.BySwimmer {
		if r.Stroke == stroke && r.Design == design && r.Verdict != TooLittleData && r.Sessions > 0 {
			sessions = append(sessions, float64(r.Sessions))
			each = append(each, float64(r.Bouts)/float64(r.Sessions))
		}
	}
	for _, f := range m.Fits {
		if f.Stroke == stroke && f.Design == design && f.Sigma != nil && f.RateSpread != nil {
			sigma, spread = append(sigma, *f.Sigma), append(spread, 100**f.RateSpread)
		}
	}
	s := simulated.Study{Designed: design == Designed, Swimmers: float64(len(sessions)), Sessions: middle(sessions), Bouts: middle(each),
		RateSpreadPct: middle(spread), Noise: middle(sigma)}
	return s, len(sessions) > 0
}

// middle is the median, NaN of nothing.
func middle(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	x = slices.Clone(x)
	slices.Sort(x)
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}

// kindWords tells how the method did on a kind of squads.
func kindWords(rows []schemas.Simulation, k simulated.Kind, design string) string {
	none, some, squad := k.Nothing["swimmer"], k.There["swimmer"], k.There["squad"]
	text := fmt.Sprintf("tried on simulated squads most like this one (%d of %s with %s of %s, rates that differ by %.1f %%, noise of %.0f bpm, a true number of %.0f bpm), 95 %% intervals held the truth for %s %% of swimmers and for %s %% of squads, and %s %% of the swimmers got a verdict the wrong way round; where nothing was there, %s %% got a verdict of something.",
		some.Squads, count(int(some.Swimmers), "swimmer"), count(int(some.Sessions), "session"), count(int(some.Bouts), "bout"), some.RateSpreadPct, some.Noise, some.Effect,
		inPercent(some.CoveragePct), inPercent(squad.CoveragePct), inPercent(some.WrongPct), inPercent(none.FalsePct))
	if design == Observed {
		tired := simulated.OfKind(rows, "free-very-tired").Nothing
		text += fmt.Sprintf(" Where tiredness differed by session (by %.0f bpm) and moved rate and heart rate together, only %s %% of swimmers' intervals and %s %% of squads' held it.",
			tired["swimmer"].Fatigue, inPercent(tired["swimmer"].CoveragePct), inPercent(tired["squad"].CoveragePct))
	}
	return text
}

// inPercent writes a percentage that may not be there.
func inPercent(p *float64) string {
	if p == nil {
		return "\u2013"
	}
	return fmt.Sprintf("%.1f", *p)
}
