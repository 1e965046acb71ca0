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
	w.exclude(normalise.RuleNoPool, true, func(l *normalise.Length) (bool, string) {
		return !(l.PoolM > 0), "the row states no pool and neither does its recording"
	})
	w.exclude(RuleNoDuration, true, func(l *normalise.Length) (bool, string) {
		return math.IsNaN(l.DurationS) || math.IsInf(l.DurationS, 0), "the row states no seconds"
	})
	w.exclude(RuleDrill, false, func(l *normalise.Length) (bool, string) { return l.Drill, "a drill" })
	w.exclude(RuleKick, false, func(l *normalise.Length) (bool, string) {
		return hasKickboard(l.Tags.Equipment), "swum with a kickboard"
	})
	if w.on(RuleFalseTurn) {
		w.joinFalseTurns()
	}
	if w.on(RuleMissedTurn) {
		w.splitMissedTurns()
	}
	w.exclude(RuleImpossibleSpeed, false, w.impossibleSpeed)
	w.exclude(RuleImpossibleRate, false, w.impossibleRate)

	s := Session{Session: n}
	entries := w.settle(&s)
	kept, dropped := w.screenSamples()
	s.KeptSamples = kept
	entries = append(entries, dropped...)
	normalise.SortEntries(entries)
	return s, entries
}

func (w *work) on(rule string) bool { return !w.settings.Off[rule] }

// exclude marks the lengths that a rule excludes. A row that covers several
// lengths leaves whole: what a rule finds in one of its equal shares holds for
// all.
func (w *work) exclude(rule string, fixed bool, found func(*normalise.Length) (bool, string)) {
	if !fixed && !w.on(rule) {
		return
	}
	for i := range w.items {
		it := &w.items[i]
		if it.out != "" {
			continue
		}
		if hit, detail := found(&it.length); hit {
			it.out, it.detail = rule, detail
		}
	}
}

func (w *work) impossibleSpeed(l *normalise.Length) (bool, string) {
	if !(l.DurationS > 0) {
		return true, fmt.Sprintf("%g m in %.1f s", l.PoolM, l.DurationS)
	}
	v := l.PoolM / l.DurationS
	if v >= w.settings.SlowestMPS && v <= w.settings.FastestMPS {
		return false, ""
	}
	return true, fmt.Sprintf("%.4g m in %.1f s are %.2f m/s, not within %g to %g", l.PoolM, l.DurationS, v,
		w.settings.SlowestMPS, w.settings.FastestMPS)
}

// impossibleRate judges the whole-length rate. Somebody told to take few
// strokes may take very few: rows with a set rate or instruction have no lower
// limit. On an unknown basis the count may be of arms or of cycles: it is
// impossible when it is so either way.
func (w *work) impossibleRate(l *normalise.Length) (bool, string) {
	if math.IsNaN(l.Strokes) {
		return false, ""
	}
	rate, low, high := 60*l.Strokes/l.DurationS, w.settings.LowestRateSPM, w.settings.HighestRateSPM
	switch {
	case l.Tags.Instruction != "" || !math.IsNaN(l.Tags.RateTargetSPM):
		low = 0
	case l.Basis == study.UnknownBasis:
		low /= 2
	}
	if rate >= low && rate <= high {
		return false, ""
	}
	return true, fmt.Sprintf("%.3g strokes in %.1f s are %.0f a minute, not within %g to %g",
		l.Strokes, l.DurationS, rate, low, high)
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
