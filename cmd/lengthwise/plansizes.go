package main

import (
	"sync/atomic"

	"lengthwise/pipeline/run"
	"lengthwise/pipeline/trial"
	"lengthwise/stats/power"
)

// search looks for the smallest study that is enough, over swimmers or over
// sessions; where both are given there is nothing to look for.
type search struct {
	sizes      trial.Sizes
	bySessions bool
	given      bool
	low, high  int
}

func (o *planOptions) search() *search {
	l := &search{sizes: trial.Sizes{Swimmers: o.swimmers, Sessions: o.sessions, Bouts: o.bouts}, low: fewestSwimmers, high: mostSwimmers,
		bySessions: o.swimmers > 0 && o.sessions == 0, given: o.swimmers > 0 && o.sessions > 0}
	switch {
	case l.bySessions:
		l.low, l.high = fewestSessions, mostSessions
	case o.sessions == 0:
		l.sizes.Sessions = usualSessions
	}
	return l
}

// usualSessions stands where neither swimmers nor sessions are given.
const usualSessions = 8

// with is the study with another number of what is looked for, within its limits
// unless it was given.
func (l *search) with(n int) trial.Sizes {
	z := l.sizes
	if l.bySessions {
		z.Sessions = max(l.low, n)
	} else {
		z.Swimmers = max(1, n)
	}
	return z
}

// number is how many there are of what is looked for.
func (l *search) number() int {
	if l.bySessions {
		return l.sizes.Sessions
	}
	return l.sizes.Swimmers
}

// find sets the sizes, the largest within reach where none is enough, and tells
// whether they are.
func (l *search) find(a trial.Assumed, o planOptions) bool {
	wanted := o.wanted
	if o.width > 0 {
		wanted = 1
	}
	reaches := func(n int) float64 {
		z := l.with(n)
		p, err := a.ClosedForm(z)
		alone := z.Swimmers == 1
		switch {
		case err != nil:
			return 0
		case o.width > 0 && alone:
			return o.width / p.SwimmerHalf
		case o.width > 0:
			return o.width / p.SquadHalf
		case alone:
			return p.Swimmer
		}
		return p.Squad
	}
	if l.given {
		return true
	}
	n, ok := power.Size(l.low, l.high, wanted, reaches)
	if !ok {
		n = l.high
	}
	l.sizes = l.with(n)
	return ok
}

// counted makes a run's progress callback one for trials that are done one by one;
// nil where nothing is drawn.
func counted(report func(run.Phase, int, int), total int) func(int) {
	if report == nil {
		return nil
	}
	var done atomic.Int64
	return func(n int) { report("simulating", int(done.Add(int64(n))), total) }
}
