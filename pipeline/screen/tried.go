package screen

import (
	"fmt"
	"math"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// Outcome is how one rule went for one length.
type Outcome string

// The outcomes.
const (
	Passed   Outcome = "passed"
	Met      Outcome = "met"       // the rule repaired, excluded or noted it
	NotAsked Outcome = "not asked" // the rule has nothing to compare, or the length had left
	RuleOff  Outcome = "off"       // the study file switches it off
)

// Tried is what one rule made of one length: in words, and where it compares a
// number, the number with the limits between which a length passes. Missing
// numbers are NaN.
type Tried struct {
	Rule      string
	Outcome   Outcome
	Words     string
	Value     float64
	Low, High float64
	Unit      string // of the numbers; "1" for shares and ratios
}

// Source names a record of a length or repeat.
type Source struct {
	FileID string
	Record int64
}

// Trace screens a swimmer's sessions as [Sessions] does and tells how each rule
// went for one record of session which, in the order in which rules are applied;
// nil when the session holds no such record. Share is the part of a repeat's row
// that is meant, from 1.
func Trace(all []normalise.Session, which int, of Source, share int, settings study.Screen) (Session, []read.Entry, []Tried) {
	n := all[which]
	w := newWork(&n, settings)
	w.peers = peersOf(all)[which]
	for i := range n.Lengths {
		if l := &n.Lengths[i]; l.FileID == of.FileID && l.Record == of.Record && l.Share == max(1, share) {
			w.trace = &trace{source: int32(i)}
			break
		}
	}
	s, entries := w.apply()
	if w.trace == nil {
		return s, entries, nil
	}
	return s, entries, w.trace.tried
}

// trace follows one source length through the rules.
type trace struct {
	source int32
	tried  []Tried
	left   string // the rule by which it left
}

// follow tells how a rule goes for the traced length: try looks before the rule is
// applied, and the length's verdict afterwards says whether the rule met it.
func (w *work) follow(rule string, try func(i int) Tried, apply func()) {
	if w.trace == nil {
		apply()
		return
	}
	if w.trace.left != "" {
		apply()
		w.trace.tried = append(w.trace.tried, Tried{rule, NotAsked, "it had left by " + w.trace.left, math.NaN(), math.NaN(), math.NaN(), ""})
		return
	}
	before := try(w.traced())
	before.Rule = rule
	apply()
	it := &w.items[w.traced()]
	if found := w.verdicts[it.verdict]; found.rule == rule {
		before.Outcome, before.Words = Met, found.detail
		if it.out {
			w.trace.left = rule
		}
	}
	w.trace.tried = append(w.trace.tried, before)
}

// switchedOff tells that a rule was not applied.
func (w *work) switchedOff(rule string) {
	if w.trace != nil {
		w.trace.tried = append(w.trace.tried, Tried{rule, RuleOff, "switched off in the study file", math.NaN(), math.NaN(), math.NaN(), ""})
	}
}

// traced is the item that holds the traced source length.
func (w *work) traced() int {
	for i := range w.items {
		if w.items[i].from <= w.trace.source && w.trace.source <= w.items[i].to {
			return i
		}
	}
	return 0 // every source length is in an item
}

func passed(words string, value, low, high float64, unit string) Tried {
	return Tried{Outcome: Passed, Words: words, Value: value, Low: low, High: high, Unit: unit}
}

func notAsked(format string, a ...any) Tried {
	nan := math.NaN()
	return Tried{Outcome: NotAsked, Words: fmt.Sprintf(format, a...), Value: nan, Low: nan, High: nan}
}

func (w *work) tryMeasured(int) Tried {
	return passed("pool and seconds are known", math.NaN(), math.NaN(), math.NaN(), "")
}

func (w *work) tryDrill(int) Tried {
	return passed("not recorded as a drill", math.NaN(), math.NaN(), math.NaN(), "")
}

func (w *work) tryKick(i int) Tried {
	switch l := w.source(&w.items[i]); {
	case l.Kind != read.KindLength:
		return notAsked("a row of a whole repeat")
	case l.Basis == study.UnknownBasis:
		return notAsked("whether arms or cycles were counted is not known")
	case designed(l):
		return notAsked("its rate or instruction was set: few strokes are what may have been asked for")
	}
	first, end := w.swimOf(i)
	highest := math.NaN()
	for k := first; k < end; k++ {
		it := &w.items[k]
		if rate := 60 * armsOf(w.source(it)) * it.strokes / it.durationS; !it.out && !(rate <= highest) && !math.IsNaN(rate) {
			highest = rate
		}
	}
	if math.IsNaN(highest) {
		return notAsked("no strokes were counted in its swim")
	}
	limit := w.kickLimit()
	return passed(fmt.Sprintf("the quickest length of its swim has %.0f arm strokes a minute; a kicked swim stays below %.0f", highest, limit),
		highest, limit, math.NaN(), "/min")
}

func (w *work) tryPool(int) Tried {
	own := w.poolIndex()
	if own.lengths < fewestForPool {
		return notAsked("its session has fewer than %d lengths of freestyle or backstroke that were counted and swum as the swimmer liked", fewestForPool)
	}
	set := w.settings
	words := fmt.Sprintf("its session's median stroke index is %.2f m2/s; rare below %g and above %g, impossible below %g and above %g",
		own.index, doubtLow, doubtHigh, set.StrokeIndexLow, set.StrokeIndexHigh)
	if over := own.index / w.peers.usual; !math.IsNaN(over) {
		words += fmt.Sprintf("; %.2f times that of the swimmer's sessions around it, another pool from %g times either way", over, peersApart)
	}
	return passed(words, own.index, set.StrokeIndexLow, set.StrokeIndexHigh, "m2/s")
}

// besideUsual asks for what is usual for an item; the words say why there is none.
func (w *work) besideUsual(i int) (u usual, not Tried, ok bool) {
	if !w.repairable(i) {
		return u, notAsked("a row of a whole repeat"), false
	}
	if u, ok = w.usuals.usual(i, i, w.items[i].durationS); !ok {
		return u, notAsked("too few lengths like it, or too unlike each other, to say what is usual"), false
	}
	return u, not, true
}

func (w *work) tryFalseTurn(i int) Tried {
	u, not, ok := w.besideUsual(i)
	if !ok {
		return not
	}
	seconds := w.items[i].durationS
	return passed(fmt.Sprintf("%.1f s are %.2f times the usual %.1f s; a piece of a length is below %g and, with its neighbour, a whole one",
		seconds, seconds/u.at(seconds), u.at(seconds), w.settings.FalseTurnShare), seconds/u.at(seconds), w.settings.FalseTurnShare, math.NaN(), "1")
}

func (w *work) tryEarlyTurn(i int) Tried {
	if !w.repairable(i) {
		return notAsked("a row of a whole repeat")
	}
	most, beside := math.NaN(), 0.0
	for _, k := range [...]int{i - 1, i} {
		if k < 0 || k+1 >= len(w.items) || !w.repairable(k) || !w.repairable(k+1) || !w.adjacent(k) || w.items[k].class != w.items[k+1].class {
			continue
		}
		a, b := w.items[k].durationS, w.items[k+1].durationS
		if shift := math.Abs(a-b) / (a + b); !(shift <= most) {
			most, beside = shift, w.items[2*k+1-i].durationS
		}
	}
	if math.IsNaN(most) {
		return notAsked("no neighbour of its stroke in its swim")
	}
	return passed(fmt.Sprintf("%.1f s beside %.1f s: a turn is off by %.0f %% of a length at most; looked at from %.0f %% on",
		w.items[i].durationS, beside, 100*most, 100*w.settings.EarlyTurnShift), most, math.NaN(), w.settings.EarlyTurnShift, "1")
}

func (w *work) tryMissedTurn(i int) Tried {
	u, not, ok := w.besideUsual(i)
	if !ok {
		return not
	}
	seconds := w.items[i].durationS
	return passed(fmt.Sprintf("%.1f s are %.2f times the usual %.1f s; two lengths in one are %g to %g times",
		seconds, seconds/u.at(seconds), u.at(seconds), w.settings.MissedTurnLow, w.settings.MissedTurnHigh), seconds/u.at(seconds), math.NaN(), w.settings.MissedTurnLow, "1")
}

func (w *work) tryStop(i int) Tried {
	if !w.repairable(i) {
		return notAsked("a row of a whole repeat")
	}
	u, ok := w.usuals.besideSet(i)
	if !ok {
		return notAsked("too few lengths like it, or too unlike each other, to say what is usual")
	}
	ratio := w.items[i].durationS / u.high
	return passed(fmt.Sprintf("%.1f s are %.2f times the usual %.1f s%s; a stop is looked for from %g times on",
		w.items[i].durationS, ratio, u.high, strokesWords(w.items[i].strokes/u.strokes), w.settings.StopInsideLow), ratio, math.NaN(), w.settings.StopInsideLow, "1")
}

func (w *work) trySpeed(i int) Tried {
	it := &w.items[i]
	v := w.source(it).PoolM / it.durationS
	return passed(fmt.Sprintf("%.2f m/s; people swim %g to %g", v, w.settings.SlowestMPS, w.settings.FastestMPS), v, w.settings.SlowestMPS, w.settings.FastestMPS, "m/s")
}

func (w *work) tryRate(i int) Tried {
	it := &w.items[i]
	rate := 60 * it.strokes / it.durationS
	if math.IsNaN(rate) {
		return notAsked("no strokes were counted")
	}
	low, high := w.rateLimits(w.source(it))
	if low == 0 {
		return passed(fmt.Sprintf("%.0f strokes a minute; possible are up to %g, and any lower one where the rate or the instruction was set", rate, high), rate, math.NaN(), high, "/min")
	}
	return passed(fmt.Sprintf("%.0f strokes a minute; possible are %g to %g", rate, low, high), rate, low, high, "/min")
}

func (w *work) tryCount(i int) Tried {
	it := &w.items[i]
	switch l := w.source(it); {
	case !w.repairable(i):
		return notAsked("a row of a whole repeat")
	case math.IsNaN(it.strokes):
		return notAsked("no strokes were counted")
	case designed(l):
		return notAsked("its rate or instruction was set: an unusual count is what was asked for")
	}
	usual, _, ok := w.usualStrokes(i)
	if !ok {
		return notAsked("too few counted lengths at its pace, or enough of them count the same")
	}
	ratio := it.strokes / usual
	return passed(fmt.Sprintf("%.3g strokes are %.2f times the usual %.3g at its pace; doubted below %g and above %g", it.strokes, ratio, usual,
		w.settings.CountLow, w.settings.CountHigh), ratio, w.settings.CountLow, w.settings.CountHigh, "1")
}
