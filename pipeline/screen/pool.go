package screen

import (
	"fmt"
	"math"

	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

const (
	// fewestForPool is how many counted lengths of one stroke a session needs
	// before its pool is doubted.
	fewestForPool = 8
	// doubtLow and doubtHigh are the median stroke index (m2/s) outside which a
	// session's pool is doubted: 1 in 40 swimmers of our simulation lie below or
	// above in the right pool.
	doubtLow, doubtHigh = 0.9, 5.2
)

// screenPool asks whether a session's pool fits its strokes. A wrong pool leaves
// the stroke rate alone and multiplies both speed and distance per stroke, so
// that the stroke index (their product, per cycle) moves by the square: 25 m
// set in a 50 m pool divides it by four. Where the session's median cannot be,
// all its lengths are excluded; where it is merely rare, the session is noted,
// since good swimmers in a long pool that was set short look like poor ones in a
// short pool. Nothing is ever rescaled.
func (w *work) screenPool() {
	index, lengths := w.medianIndex()
	if lengths < fewestForPool {
		return
	}
	set := w.settings
	words := fmt.Sprintf("the median stroke index is %.2f m2/s over %d lengths of %.4g m", index, lengths, w.session.PoolM)
	switch {
	case index < set.StrokeIndexLow || index > set.StrokeIndexHigh:
		for i := range w.items {
			if !w.items[i].out {
				w.exclude(i, RulePoolContradicts, "%s, not within %g to %g: the pool is wrong; state it in the study file's inputs",
					words, set.StrokeIndexLow, set.StrokeIndexHigh)
			}
		}
	case index < doubtLow || index > doubtHigh:
		l := &w.session.Lengths[0]
		w.notes = append(w.notes, read.Entry{FileID: l.FileID, Record: l.Record, Records: 1, Kind: l.Kind, Swimmer: w.session.Swimmer,
			Session: w.session.ID, Rule: RulePoolContradicts, Action: read.Noted, Detail: words + ", which is rare: check the pool"})
	}
}

// medianIndex is the median of speed times distance per cycle over the
// session's freestyle lengths, or where these are few over its backstroke ones,
// which were counted on a known basis and swum as the swimmer liked.
func (w *work) medianIndex() (index float64, lengths int) {
	for _, stroke := range [...]string{"freestyle", "backstroke"} {
		all := w.usuals.seconds[:0]
		for i := range w.items {
			it := &w.items[i]
			l := w.source(it)
			if it.out || l.SwimStroke != stroke || l.Basis == study.UnknownBasis || l.PoolM != w.session.PoolM || designed(l) ||
				!(it.durationS > 0) || !(it.strokes > 0) {
				continue
			}
			all = append(all, 2*l.PoolM/it.strokes*l.PoolM/it.durationS)
		}
		w.usuals.seconds = all
		if len(all) >= fewestForPool {
			return median(all), len(all)
		}
	}
	return math.NaN(), 0
}
