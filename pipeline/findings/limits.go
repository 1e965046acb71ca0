package findings

import (
	"fmt"
	"slices"
	"strings"

	"lengthwise/schemas"
)

// limits lists what the data cannot say, each written from the data.
func (m maker) limits() []schemas.Finding {
	var out []schemas.Finding
	add := func(name, sentence string, n int) {
		out = append(out, schemas.Finding{Finding: id(Limits, name), Question: Limits,
			Strength: StrengthNone, Sentence: sentence, N: int32(n)})
	}
	m.plan(add)
	b := m.Bouts
	switch {
	case b.Usable == 0:
		add("no-bouts", "No bout could be used, so that nothing at all can be said.", 0)
		return out
	case b.Designed == 0:
		add("observed-only", "No usable bout had its rate or instruction set beforehand. These data show what goes together, not what a change of stroke rate would do: tiredness, mood and pace move along with the rate. Sessions of set rates at one pace would tell more.", b.Usable)
	case b.Designed < b.Usable:
		add("two-designs", fmt.Sprintf("Of %s, %s had the rate or the instruction set beforehand. Where the two kinds of bout disagree, go by the bouts set beforehand.", count(b.Usable, "usable bout"), Grouped(int64(b.Designed))), b.Designed)
	}
	if off := rulesOff(m.Study.Screen.Off); len(off) > 0 {
		add("rules-off", "The study file switches screening rules off: "+strings.Join(off, ", ")+". What they would have left out or repaired is used as it was recorded.", len(off))
	}
	for _, row := range m.Overall {
		m.spread(row, add)
	}
	m.thin(add)
	m.contrastLimits(add)
	if m.Study.Cost.ReadsHeartRate() {
		m.heartRate(add)
		m.simulatedLike(add)
	}
	m.lacks(add)
	if b.BasisUnknown > 0 {
		add("unknown-count", fmt.Sprintf("For %s it is not known whether arms or cycles were counted. Within a session that does not matter; across sessions and swimmers they stay out.", count(b.BasisUnknown, "usable bout")), b.BasisUnknown)
	}
	add("score-is-count", "At a fixed pace in one pool, the score, the stroke count, the distance per stroke and the stroke rate are one and the same number in other clothes. None of them can be shown better than another there.", b.Usable)
	m.speedLimits(add)
	add("no-best-rate", "A slope says which way cost goes around the usual rate, and names no cheapest one. Where a cheapest rate is named, the rates had been set beforehand; nothing is said of rates that were not swum.", b.Usable)
	return out
}

// plan tells whether the run followed the plan that was frozen.
func (m maker) plan(add func(string, string, int)) {
	f := m.Frozen
	switch {
	case f == nil:
	case f.Followed():
		add("plan", fmt.Sprintf("The analysis plan was frozen when the study held %s, and this run followed it: no setting of screening, cost, analysis or changes differs.", count(f.FilesThen, "input file")), 0)
	default:
		add("plan", fmt.Sprintf("This run departs from the analysis plan that was frozen: %s. What was not planned beforehand is exploratory: it may suggest a question and does not answer one.", strings.Join(f.Departures, "; ")), len(f.Departures))
	}
}

// spread tells how far single swimmers may lie from a pooled answer.
func (m maker) spread(row schemas.ScoreOverall, add func(string, string, int)) {
	if row.Question != MatchedPace || row.Measure != MeasureEffect || row.Design == All {
		return
	}
	p, ok := newInterval(row.Estimate, row.PredictLow, row.PredictHigh)
	if !ok || p.low >= 0 || p.high <= 0 {
		return
	}
	add(strings.Join([]string{"spread", row.Stroke, row.Design}, "-"),
		fmt.Sprintf("%s, %s: what holds on average need not hold for one swimmer. The prediction interval goes %s, to both sides of zero.",
			capital(row.Stroke), setting(row.Design), m.scale.span(p.low, p.high)), int(row.Swimmers))
}

// thin counts swimmers whose data were too little.
func (m maker) thin(add func(string, string, int)) {
	for _, stroke := range m.strokes() {
		for _, design := range []string{Designed, Observed} {
			tally := m.Tally(stroke, design)
			all := 0
			for _, n := range tally {
				all += n
			}
			if n := tally[TooLittleData]; n > 0 {
				add(strings.Join([]string{"too-little", stroke, design}, "-"),
					fmt.Sprintf("%s, %s: %s of %d with such bouts had too little data for a verdict.", capital(stroke), setting(design), count(n, "swimmer"), all), n)
			}
			if n := tally[Undecided]; n > 0 {
				add(strings.Join([]string{"undecided", stroke, design}, "-"),
					fmt.Sprintf("%s, %s: for %s the direction stays open. That is no sign that stroke rate does not matter there.", capital(stroke), setting(design), count(n, "swimmer")), n)
			}
		}
	}
}

// heartRate tells what the heart rates are worth.
func (m maker) heartRate(add func(string, string, int)) {
	b := m.Bouts
	switch {
	case b.Strap == 0:
		add("no-strap", "No usable bout has a heart rate that is known to come from a chest strap.", b.Usable)
	case b.Strap < b.Usable:
		add("some-strap", fmt.Sprintf("Of %s, %s had a heart rate from a chest strap.", count(b.Usable, "usable bout"), Grouped(int64(b.Strap))), b.Strap)
	}
	if b.Optical > 0 {
		add("optical", fmt.Sprintf("For %s heart rate was read at the wrist. The error of such a reading moves with the arm, that is with the stroke rate itself, and can look like a cost.", count(b.Optical, "usable bout")), b.Optical)
	}
	m.sourcesApart(add)
	if b.SourceUnknown > 0 {
		add("unknown-source", fmt.Sprintf("For %s it is not known how heart rate was taken.", count(b.SourceUnknown, "usable bout")), b.SourceUnknown)
	}
	if b.Kinetics > 0 {
		add("kinetics", fmt.Sprintf("For %s the steady heart rate was read from how the samples rise, since a short bout ends before it is reached. The intervals for the effect of stroke rate hold the error of that reading. Where a recorder smooths its samples over many seconds, or heart rate keeps creeping up within a bout, it comes out somewhat too high.", count(b.Kinetics, "usable bout")), b.Kinetics)
	}
	if n := m.notFirstOrder(); n > 0 {
		add("rise-not-first-order", fmt.Sprintf("The heart rate of %s does not rise towards a steady value as it should. Of short bouts only the end could be used, and effects read too small there.", count(n, "swimmer")), n)
	}
	if b.Reported > 0 {
		add("reported", fmt.Sprintf("For %s heart rate is one reading at the end. Such bouts are compared only at equal distance and rest, and a reading taken late is too low.", count(b.Reported, "usable bout")), b.Reported)
	}
}

// rulesOff lists the rules that are switched off, in order.
func rulesOff(off map[string]bool) []string {
	var names []string
	for rule, is := range off {
		if is {
			names = append(names, rule)
		}
	}
	slices.Sort(names)
	return names
}

// notFirstOrder counts swimmers whose samples rise towards no steady value.
func (m maker) notFirstOrder() int {
	n := 0
	for _, s := range m.Swimmers {
		if s.HRTauReason != nil && *s.HRTauReason == "rise-not-first-order" {
			n++
		}
	}
	return n
}
