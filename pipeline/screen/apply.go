package screen

import (
	"math"
	"slices"
	"strings"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

const (
	// kickShare is the share of a session's brisk stroke rate below which arms
	// hardly move, and slowestArms the rate (both arms, a minute) below which they
	// do not, whoever swims.
	kickShare   = 0.62
	slowestArms = 16.0
)

// Sessions screens all sessions of one swimmer, in order of time: each as [Apply]
// does, but that its pool is also held against the swimmer's other sessions.
// Screened sessions come in the order of the sessions, entries session by session.
func Sessions(all []normalise.Session, settings study.Screen) (screened []Session, entries []read.Entry) {
	peers := peersOf(all)
	screened = make([]Session, len(all))
	for i := range all {
		var own []read.Entry
		screened[i], own = apply(all[i], settings, peers[i])
		entries = append(entries, own...)
	}
	return screened, entries
}

// Apply screens one session alone. Rules go in this order: lengths without pool or
// seconds, drills and kicking leave; false turns are joined, early turns shared
// evenly, missed turns split; then lengths with a stop inside, speeds and rates
// that nobody swims and counts that do not fit leave, and the whole session
// where its pool contradicts it. Of heart rate, start values and dropouts
// leave, then what was told twice, what follows the strokes, and steps.
//
// Kept lengths have ordinals from 1; AfterGap marks those whose predecessor in
// the same swim was excluded. Every record is either linked to a kept length
// (samples: among KeptSamples) or excluded by an entry. Entries come in the
// order of the ledger. n is not changed; the result shares its slices.
func Apply(n normalise.Session, settings study.Screen) (Session, []read.Entry) {
	return apply(n, settings, poolPeers{usual: math.NaN()})
}

func apply(n normalise.Session, settings study.Screen, peers poolPeers) (Session, []read.Entry) {
	w := newWork(&n, settings)
	w.peers = peers
	return w.apply()
}

func (w *work) apply() (Session, []read.Entry) {
	w.follow(RuleNoDuration, w.tryMeasured, w.excludeUnmeasured)
	for _, step := range []struct {
		rule  string
		apply func()
		try   func(i int) Tried
	}{
		{RuleDrill, w.excludeDrills, w.tryDrill},
		{RuleKick, w.excludeKicking, w.tryKick},
		{RulePoolContradicts, w.screenPool, w.tryPool},
		{RuleFalseTurn, w.joinFalseTurns, w.tryFalseTurn},
		{RuleEarlyTurn, w.evenOutEarlyTurns, w.tryEarlyTurn},
		{RuleMissedTurn, w.splitMissedTurns, w.tryMissedTurn},
		{RuleStopInside, w.excludeStops, w.tryStop},
		{RuleImpossibleSpeed, w.excludeSpeeds, w.trySpeed},
		{RuleImpossibleRate, w.excludeRates, w.tryRate},
		{RuleCountImplausible, w.excludeCounts, w.tryCount},
	} {
		if w.on(step.rule) {
			w.follow(step.rule, step.try, step.apply)
		} else {
			w.switchedOff(step.rule)
		}
	}
	w.leaveTogether()

	s := Session{Session: *w.session}
	entries := append(w.settle(&s), w.notes...)
	entries = append(entries, s.linkMerged()...)
	kept, dropped := w.screenSamples()
	s.KeptSamples = kept
	entries = append(entries, dropped...)
	normalise.SortEntries(entries)
	return s, entries
}

// excludeUnmeasured excludes lengths without pool or seconds: nothing can be
// measured on them, so this cannot be switched off.
func (w *work) excludeUnmeasured() {
	for i := range w.items {
		switch l := w.source(&w.items[i]); {
		case !(l.PoolM > 0):
			w.exclude(i, normalise.RuleNoPool, "the row states no pool and neither does its recording")
		case math.IsNaN(l.DurationS) || math.IsInf(l.DurationS, 0):
			w.exclude(i, RuleNoDuration, "the row states no seconds")
		}
	}
}

func (w *work) excludeDrills() {
	for i := range w.items {
		if !w.items[i].out && w.source(&w.items[i]).Drill {
			w.exclude(i, RuleDrill, "a drill")
		}
	}
}

// excludeSpeeds excludes lengths at speeds that nobody swims.
func (w *work) excludeSpeeds() {
	slowest, fastest := w.settings.SlowestMPS, w.settings.FastestMPS
	for i := range w.items {
		it := &w.items[i]
		pool := w.source(it).PoolM
		switch v := pool / it.durationS; {
		case it.out:
		case !(it.durationS > 0):
			w.exclude(i, RuleImpossibleSpeed, "%g m in %.1f s", pool, it.durationS)
		case v < slowest || v > fastest:
			w.exclude(i, RuleImpossibleSpeed, "%.4g m in %.1f s are %.2f m/s, not within %g to %g", pool, it.durationS, v, slowest, fastest)
		}
	}
}

// excludeRates excludes lengths at whole-length rates that nobody swims.
func (w *work) excludeRates() {
	for i := range w.items {
		it := &w.items[i]
		low, high := w.rateLimits(w.source(it))
		rate := 60 * it.strokes / it.durationS
		if !it.out && (rate < low || rate > high) { // never for a count that is NaN
			w.exclude(i, RuleImpossibleRate, "%.3g strokes in %.1f s are %.0f a minute, not within %g to %g",
				it.strokes, it.durationS, rate, low, high)
		}
	}
}

// rateLimits are the rates that are possible for a length. Somebody told to
// take few strokes may take very few: rows with a set rate or instruction have
// no lower limit. On an unknown basis the count may be of arms or of cycles: it
// is impossible when it is so either way.
func (w *work) rateLimits(l *normalise.Length) (low, high float64) {
	low, high = w.settings.LowestRateSPM, w.settings.HighestRateSPM
	switch {
	case designed(l):
		low = 0
	case l.Basis == study.UnknownBasis:
		low /= 2
	}
	return low, high
}

// excludeKicking excludes lengths swum with a kickboard, and whole swims of an
// activity in which the arms hardly moved.
func (w *work) excludeKicking() {
	for i := range w.items {
		if !w.items[i].out && hasKickboard(w.source(&w.items[i]).Tags.Equipment) {
			w.exclude(i, RuleKick, "swum with a kickboard")
		}
	}
	limit := w.kickLimit()
	for from := 0; from < len(w.items); {
		to := from + 1
		for to < len(w.items) && w.items[to].swim == w.items[from].swim {
			to++
		}
		if rate, ok := w.kicked(from, to, limit); ok && w.wholeLap(from, to) {
			for i := from; i < to; i++ {
				if !w.items[i].out {
					w.exclude(i, RuleKick, "no length of the swim has more than %.0f arm strokes a minute: kicking", math.Ceil(rate))
				}
			}
		}
		from = to
	}
}

// wholeLap tells whether the items from <= i < to share their lap with no
// other: one leg of a medley is not kicked alone.
func (w *work) wholeLap(from, to int) bool {
	lap := w.items[from].lap
	return lap < 0 || !(from > 0 && w.items[from-1].lap == lap) && !(to < len(w.items) && w.items[to].lap == lap)
}

// kickLimit is the stroke rate (both arms, a minute) below which a swim was
// kicked: the setting, but less for those who swim with slow arms: a share of the
// rate that three in four of the session's lengths do not reach, slowestArms at
// least, since a session may hold little but kicking.
func (w *work) kickLimit() float64 {
	var rates []float64
	for i := range w.items {
		it := &w.items[i]
		if rate := 60 * armsOf(w.source(it)) * it.strokes / it.durationS; !it.out && rate > 0 && !math.IsInf(rate, 0) {
			rates = append(rates, rate)
		}
	}
	if len(rates) == 0 {
		return w.settings.KickRateSPM
	}
	slices.Sort(rates)
	return math.Min(w.settings.KickRateSPM, math.Max(slowestArms, kickShare*rates[len(rates)*3/4]))
}

// armsOf is how many arm strokes one counted stroke of a length stands for: cycles
// of breaststroke and butterfly are both arms'.
func armsOf(l *normalise.Length) float64 {
	if l.SwimStroke == "breaststroke" || l.SwimStroke == "butterfly" {
		return 2
	}
	return 1
}

// kicked tells whether the items from <= i < to, one swim, are all counted or
// hardly so, with the highest rate. A length without a count says nothing; a
// swim without any is left to strokes-missing.
func (w *work) kicked(from, to int, limit float64) (highest float64, ok bool) {
	counted := 0
	for i := from; i < to; i++ {
		it := &w.items[i]
		l := w.source(it)
		if l.Basis == study.UnknownBasis || designed(l) || l.Kind != read.KindLength {
			return 0, false
		}
		if it.out || math.IsNaN(it.strokes) {
			continue
		}
		counted++
		highest = math.Max(highest, 60*armsOf(l)*it.strokes/it.durationS)
		if !(highest < limit) {
			return 0, false
		}
	}
	return highest, counted > 0
}

// hasKickboard tells whether a row's equipment is, or lists, a kickboard.
func hasKickboard(equipment string) bool {
	if equipment == "" {
		return false
	}
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

// leaveTogether excludes with a length what came of the same records: the
// other parts of a split, the other one of two that were evened out.
func (w *work) leaveTogether() {
	for i := 0; i < len(w.items); {
		n := max(1, int(w.items[i].parts))
		if w.items[i].paired == 1 {
			n = 2
		}
		for _, it := range w.items[i : i+n] {
			if !it.out {
				continue
			}
			for k := i; k < i+n; k++ {
				if !w.items[k].out {
					w.items[k].out, w.items[k].verdict = true, it.verdict
				}
			}
			break
		}
		i += n
	}
}
