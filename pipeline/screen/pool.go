package screen

import (
	"fmt"
	"math"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

const (
	// fewestForPool is how many counted lengths of one stroke a session needs
	// before its pool is doubted.
	fewestForPool = 8
	// doubtLow and doubtHigh are the median stroke index (m2/s) outside which a
	// session's pool is doubted: learners lie below in the right pool, nobody but
	// the best sprinters above.
	doubtLow, doubtHigh = 0.9, 5.2
	// slowestForPool is the rate (arm strokes a minute) of slow swimming: slower ones
	// kick or drill. It does not hang on the pool.
	slowestForPool = 24.0
	// peersReach is how many of the swimmer's sessions before and after are asked:
	// a child's stroke index doubles within some years.
	peersReach = 5
	// peersAlike is the factor within which stroke indices are alike from session
	// to session, and peersApart the one beyond which one of them has another pool:
	// 25 m for 50 m makes four.
	peersAlike, peersApart = 1.5, 2.0
	// peersMost is the share of the sessions that must be alike before one that is
	// not is left out.
	peersMost = 2.0 / 3
)

// poolIndex is what a session says of its pool: the median stroke index (m2/s) of
// its lengths of one stroke.
type poolIndex struct {
	index   float64 // NaN where too few lengths say it
	lengths int
	stroke  string
}

// poolPeers is what a swimmer's other sessions say of a session's pool.
type poolPeers struct {
	usual    float64 // their stroke index, NaN where they say nothing
	sessions int     // that agree on it
	all      int     // that were asked, this one with them
	told     bool    // an earlier session that is alike has the note on what is rare
}

// most tells whether so many sessions agree that one which does not is wrong.
func (p *poolPeers) most() bool {
	return p.sessions >= 2 && float64(p.sessions) >= peersMost*float64(p.all)
}

// screenPool asks whether a session's pool fits its strokes. A wrong pool leaves
// the stroke rate alone and multiplies both speed and distance per stroke, so
// that the stroke index (their product, per cycle) moves by the square: 25 m
// set in a 50 m pool divides it by four. Where the session's median cannot be,
// or most of the swimmer's other sessions say that it is another's, all its
// lengths are excluded; where it is merely rare, or the swimmer's sessions do
// not agree, the session is noted, since good swimmers in a long pool that was
// set short look like learners in a short pool. Nothing is ever rescaled.
func (w *work) screenPool() {
	own := w.poolIndex()
	if own.lengths < fewestForPool {
		return
	}
	set := w.settings
	words := fmt.Sprintf("the median stroke index is %.2f m2/s over %d lengths of %.4g m", own.index, own.lengths, w.session.PoolM)
	const remedy = "; state it in the study file's inputs"
	out := func(format string, a ...any) {
		for i := range w.items {
			if !w.items[i].out {
				w.exclude(i, RulePoolContradicts, format, a...)
			}
		}
	}
	switch over := own.index / w.peers.usual; {
	case own.index < set.StrokeIndexLow || own.index > set.StrokeIndexHigh:
		out("%s, not within %g to %g: the pool is wrong%s", words, set.StrokeIndexLow, set.StrokeIndexHigh, remedy)
	case apart(over, peersApart) && w.peers.most():
		out("%s, %.2f times the %.2f of %d of the swimmer's %d sessions around it: the pool is wrong%s", words, over, w.peers.usual,
			w.peers.sessions, w.peers.all, remedy)
	case apart(over, peersAlike):
		w.notePool("%s, and %.2f in the swimmer's other sessions: check the pool of each", words, w.peers.usual)
	case (own.index < doubtLow || own.index > doubtHigh) && !w.peers.told:
		w.notePool("%s, which is rare: check the pool", words)
	}
}

func (w *work) notePool(format string, a ...any) {
	l := &w.session.Lengths[0]
	w.notes = append(w.notes, read.Entry{FileID: l.FileID, Record: l.Record, Records: 1, Kind: l.Kind, Swimmer: w.session.Swimmer,
		Session: w.session.ID, Rule: RulePoolContradicts, Action: read.Noted, Detail: fmt.Sprintf(format, a...)})
}

// apart tells whether a ratio lies outside a factor either way; NaN does not.
func apart(ratio, factor float64) bool { return ratio > factor || ratio < 1/factor }

// poolIndex is the median of speed times distance per cycle over the session's
// freestyle lengths, or where these are few over its backstroke ones, which were
// counted on a known basis and swum as the swimmer liked.
func (w *work) poolIndex() poolIndex {
	return indexOf(w.session, func(i int) bool { return w.items[i].out })
}

func indexOf(n *normalise.Session, out func(i int) bool) poolIndex {
	var all []float64
	for _, stroke := range [...]string{"freestyle", "backstroke"} {
		all = all[:0]
		for i := range n.Lengths {
			l := &n.Lengths[i]
			if l.SwimStroke != stroke || l.Basis == study.UnknownBasis || l.PoolM != n.PoolM || l.Drill || designed(l) ||
				!(l.DurationS > 0) || !(60*l.Strokes/l.DurationS >= slowestForPool) || out(i) {
				continue
			}
			all = append(all, 2*l.PoolM/l.Strokes*l.PoolM/l.DurationS)
		}
		if len(all) >= fewestForPool {
			return poolIndex{median(all), len(all), stroke}
		}
	}
	return poolIndex{index: math.NaN()}
}

// peersOf asks for each of a swimmer's sessions, in order of time, what the
// sessions around it say of its pool. Sessions agree that are within a factor of
// peersAlike of one of them; of two groups as large nobody can say which is
// right, and each is told the other's stroke index.
func peersOf(sessions []normalise.Session) []poolPeers {
	own := make([]poolIndex, len(sessions))
	for i := range sessions {
		own[i] = indexOf(&sessions[i], func(int) bool { return false })
	}
	out := make([]poolPeers, len(sessions))
	for i := range out {
		out[i] = askPeers(own, i)
	}
	return out
}

func askPeers(own []poolIndex, i int) poolPeers {
	p := poolPeers{usual: math.NaN()}
	if math.IsNaN(own[i].index) {
		return p
	}
	asked := []float64{own[i].index}
	for _, step := range [...]int{-1, 1} {
		have := 0
		for k := i + step; k >= 0 && k < len(own) && have < peersReach; k += step {
			if own[k].stroke != own[i].stroke {
				continue
			}
			asked = append(asked, own[k].index)
			have++
			if step < 0 && !apart(own[k].index/own[i].index, peersAlike) {
				p.told = true
			}
		}
	}
	p.all = len(asked)
	if p.all < 2 {
		return p
	}
	var usual []float64
	for _, centre := range asked {
		var alike []float64
		for _, other := range asked {
			if !apart(other/centre, peersAlike) {
				alike = append(alike, other)
			}
		}
		// Of groups as large, the one that this session is not in: it must hear it.
		if len(alike) > len(usual) || len(alike) == len(usual) && apart(centre/own[i].index, peersApart) {
			usual = alike
		}
	}
	p.usual, p.sessions = median(usual), len(usual)
	return p
}
