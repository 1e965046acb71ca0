package screen

import (
	"fmt"
	"math"
	"strings"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// item is a length on its way through the rules: one source length, or two
// that a rule joined; a split makes two of one.
type item struct {
	length   normalise.Length
	from, to int    // source lengths from <= i <= to
	half     int    // 1 or 2 after a split
	rule     string // the rule that repaired it
	detail   string
	out      string // the rule that excluded it
}

// work is a session on its way through the rules.
type work struct {
	session  *normalise.Session
	settings study.Screen
	items    []item
	rested   []bool // for each source length, whether a recorded rest lies before it
}

// Apply screens one session. Rules go in this order: lengths without pool or
// seconds and drills leave; false turns are joined, then missed turns split;
// then speeds and rates that nobody swims leave; start values and dropouts of
// heart rate leave.
//
// Kept lengths have ordinals from 1; AfterGap marks those whose predecessor in
// the same swim was excluded. Every record is either linked to a kept length
// (samples: among KeptSamples) or excluded by an entry. Entries come in the
// order of the ledger. n is not changed; the result shares its slices.
func Apply(n normalise.Session, settings study.Screen) (Session, []read.Entry) {
	w := &work{session: &n, settings: settings, rested: make([]bool, len(n.Lengths)+1)}
	for k := range n.Rests {
		w.rested[n.Rests[k].Before] = true
	}
	w.items = make([]item, len(n.Lengths))
	for i := range n.Lengths {
		w.items[i] = item{length: n.Lengths[i], from: i, to: i}
	}
	say := func(detail string) func(*normalise.Length) string {
		return func(*normalise.Length) string { return detail }
	}
	w.exclude(normalise.RuleNoPool, true, func(l *normalise.Length) bool { return !(l.PoolM > 0) },
		say("the row states no pool and neither does its recording"))
	w.exclude(RuleNoDuration, true, func(l *normalise.Length) bool {
		return math.IsNaN(l.DurationS) || math.IsInf(l.DurationS, 0)
	}, say("the row states no seconds"))
	w.exclude(RuleDrill, false, func(l *normalise.Length) bool { return l.Drill }, say("a drill"))
	w.exclude(RuleKick, false, func(l *normalise.Length) bool { return hasKickboard(l.Tags.Equipment) }, say("swum with a kickboard"))
	if w.on(RuleFalseTurn) {
		w.joinFalseTurns()
	}
	if w.on(RuleMissedTurn) {
		w.splitMissedTurns()
	}
	w.exclude(RuleImpossibleSpeed, false, w.impossibleSpeed, w.speedInWords)
	w.exclude(RuleImpossibleRate, false, w.impossibleRate, w.rateInWords)

	s := Session{Session: n}
	entries := w.settle(&s)
	entries = append(entries, s.linkMerged()...)
	kept, dropped := w.screenSamples()
	s.KeptSamples = kept
	entries = append(entries, dropped...)
	normalise.SortEntries(entries)
	return s, entries
}

func (w *work) on(rule string) bool { return !w.settings.Off[rule] }

// exclude marks the lengths that a rule excludes; detail says in words what was
// seen, and is asked only where the rule hits. A row that covers several
// lengths leaves whole: what a rule finds in one of its equal shares holds for
// all.
func (w *work) exclude(rule string, fixed bool, hits func(*normalise.Length) bool, detail func(*normalise.Length) string) {
	if !fixed && !w.on(rule) {
		return
	}
	for i := range w.items {
		it := &w.items[i]
		if it.out == "" && hits(&it.length) {
			it.out, it.detail = rule, detail(&it.length)
		}
	}
}

func (w *work) impossibleSpeed(l *normalise.Length) bool {
	v := l.PoolM / l.DurationS
	return !(l.DurationS > 0) || v < w.settings.SlowestMPS || v > w.settings.FastestMPS
}

func (w *work) speedInWords(l *normalise.Length) string {
	if !(l.DurationS > 0) {
		return fmt.Sprintf("%g m in %.1f s", l.PoolM, l.DurationS)
	}
	return fmt.Sprintf("%.4g m in %.1f s are %.2f m/s, not within %g to %g", l.PoolM, l.DurationS, l.PoolM/l.DurationS,
		w.settings.SlowestMPS, w.settings.FastestMPS)
}

// impossibleRate judges the whole-length rate.
func (w *work) impossibleRate(l *normalise.Length) bool {
	low, high := w.rateLimits(l)
	rate := 60 * l.Strokes / l.DurationS
	return rate < low || rate > high // never for a count that is NaN
}

// rateLimits are the rates that are possible for a length. Somebody told to
// take few strokes may take very few: rows with a set rate or instruction have
// no lower limit. On an unknown basis the count may be of arms or of cycles: it
// is impossible when it is so either way.
func (w *work) rateLimits(l *normalise.Length) (low, high float64) {
	low, high = w.settings.LowestRateSPM, w.settings.HighestRateSPM
	switch {
	case l.Tags.Instruction != "" || !math.IsNaN(l.Tags.RateTargetSPM):
		low = 0
	case l.Basis == study.UnknownBasis:
		low /= 2
	}
	return low, high
}

func (w *work) rateInWords(l *normalise.Length) string {
	low, high := w.rateLimits(l)
	return fmt.Sprintf("%.3g strokes in %.1f s are %.0f a minute, not within %g to %g",
		l.Strokes, l.DurationS, 60*l.Strokes/l.DurationS, low, high)
}

// hasKickboard tells whether a row's equipment is, or lists, a kickboard.
func hasKickboard(equipment string) bool {
	for _, word := range strings.FieldsFunc(strings.ToLower(equipment), func(r rune) bool {
		return strings.ContainsRune(",;/+&|", r)
	}) {
		switch strings.Join(strings.Fields(word), " ") {
		case "kickboard", "kick board", "kick-board", "board":
			return true
		}
	}
	return false
}
