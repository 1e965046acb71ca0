package screen

import (
	"fmt"
	"math"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// item is a length on its way through the rules: one source length, or several
// that a rule joined; a split makes several of one. It holds what rules change
// and what they compare; all else stays with the source length.
type item struct {
	startS, durationS, strokes float64
	from, to                   int32 // source lengths from <= i <= to
	class                      int32 // lengths of one stroke and pool share it
	swim, lap                  int32
	size                       int32 // lengths recorded in its lap, or in its swim where there are no laps
	verdict                    int32 // index into work.verdicts, 0 for none
	part, parts                int8  // the part-th of parts that a split made; 0 of 0
	paired                     int8  // 1 and 2: evened out with the next, the one before
	single                     bool  // recorded as one length, not as a share of a repeat
	out                        bool  // excluded
}

// verdict is what a rule found.
type verdict struct{ rule, detail string }

// work is a session on its way through the rules.
type work struct {
	session  *normalise.Session
	settings study.Screen
	items    []item
	verdicts []verdict // the first is none
	rested   []bool    // for each source length, whether a recorded rest lies before it
	usuals   usuals
	peers    poolPeers
	trace    *trace // nil: nobody asks
	notes    []read.Entry
}

func newWork(n *normalise.Session, settings study.Screen) *work {
	w := &work{session: n, settings: settings, verdicts: make([]verdict, 1), rested: make([]bool, len(n.Lengths)+1)}
	for k := range n.Rests {
		w.rested[n.Rests[k].Before] = true
	}
	type class struct {
		stroke string
		pool   float64
	}
	classes := make(map[class]int32)
	var last class
	var number int32 = -1
	w.items = make([]item, len(n.Lengths), len(n.Lengths)+len(n.Lengths)/32+2) // room for what splits add
	for i := range n.Lengths {
		l := &n.Lengths[i]
		if c := (class{strokeOf(l), l.PoolM}); number < 0 || c != last {
			last = c
			var known bool
			if number, known = classes[c]; !known {
				number = int32(len(classes))
				classes[c] = number
			}
		}
		w.items[i] = item{startS: l.StartS, durationS: l.DurationS, strokes: l.Strokes, from: int32(i), to: int32(i),
			class: number, swim: int32(l.Swim), lap: int32(l.Lap), single: l.Kind == read.KindLength && l.Covers <= 1}
	}
	together := func(a, b *item) bool { return a.lap == b.lap && (a.lap >= 0 || a.swim == b.swim) }
	for from := 0; from < len(w.items); {
		to := from
		for to < len(w.items) && together(&w.items[from], &w.items[to]) {
			to++
		}
		for i := from; i < to; i++ {
			w.items[i].size = int32(to - from)
		}
		from = to
	}
	w.usuals.w, w.usuals.classes = w, len(classes)
	return w
}

// strokeOf is the stroke that a length is judged among: that of its swim.
func strokeOf(l *normalise.Length) string {
	if l.SwimStroke != "" {
		return l.SwimStroke
	}
	return l.Stroke
}

func (w *work) on(rule string) bool { return !w.settings.Off[rule] }

// source is the first source length of an item.
func (w *work) source(it *item) *normalise.Length { return &w.session.Lengths[it.from] }

// find keeps what a rule found and gives its number.
func (w *work) find(rule, format string, a ...any) int32 {
	w.verdicts = append(w.verdicts, verdict{rule, fmt.Sprintf(format, a...)})
	return int32(len(w.verdicts) - 1)
}

func (w *work) exclude(i int, rule, format string, a ...any) {
	w.items[i].out, w.items[i].verdict = true, w.find(rule, format, a...)
}

// repairable tells whether an item was recorded as one length and is still in.
func (w *work) repairable(i int) bool { return w.items[i].single && !w.items[i].out }

// fresh tells whether, besides, no rule has touched it.
func (w *work) fresh(i int) bool {
	return i >= 0 && i < len(w.items) && w.repairable(i) && w.items[i].verdict == 0
}

// adjacent tells whether nothing lies between item i and the next: one swim,
// one pool, no recorded rest.
func (w *work) adjacent(i int) bool {
	a, b := &w.items[i], &w.items[i+1]
	return a.swim == b.swim && w.source(a).PoolM == w.source(b).PoolM && b.from == a.to+1 && !w.rested[b.from]
}

// designed tells whether rate or instruction of a length was set beforehand.
func designed(l *normalise.Length) bool {
	return l.Tags.Instruction != "" || !math.IsNaN(l.Tags.RateTargetSPM)
}
