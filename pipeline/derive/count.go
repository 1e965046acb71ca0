package derive

import (
	"math"

	"lengthwise/pipeline/read"
	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
)

// Counter is who counted the strokes of a bout.
type Counter string

// The counters.
const (
	ByHand     Counter = "hand"     // from the deck, on a lane sheet
	ByRecorder Counter = "recorder" // by a watch
	ByBoth     Counter = "mixed"    // some lengths one way, some the other
)

// Count is how a bout's strokes were counted, which says how far the count may
// be off.
type Count struct {
	By      Counter
	Strokes float64 // in all, as used; NaN when a length has none
	Wholes  int     // whole numbers that were added up, each rounded by itself
	Unit    float64 // strokes that one of them counts: 2 for cycles of two arms, else 1
	// Beside is whether a recorder counted the same lengths too.
	Beside bool
	// Recorder is what a recorder counted of the same lengths where they were
	// counted by hand too, in its own units and only where no rule touched it;
	// else NaN.
	Recorder float64
}

func countOf(kind read.RecordingKind, lengths []screen.Length) Count {
	c := Count{Unit: 1, Beside: true, Recorder: math.NaN()}
	var recorder float64
	wholes := true
	rows := map[int64]bool{}
	for i := range lengths {
		l := &lengths[i]
		by := ByRecorder
		if kind == read.FromSheet || l.CountFileID != "" {
			by = ByHand
		}
		if i > 0 && by != c.By {
			by = ByBoth
		}
		c.By = by
		c.Strokes += l.Strokes
		if l.Basis == study.Cycles && armsPerCycle(l.SwimStroke) == 2 {
			c.Unit = 2
		}
		c.Beside = c.Beside && l.CountFileID != ""
		if l.Rule != "" {
			recorder = math.NaN()
		}
		recorder += l.StrokesRecorded
		wholes = wholes && l.Strokes == math.Trunc(l.Strokes)
		rows[l.Record] = true
	}
	switch {
	case kind == read.FromSheet:
		c.Wholes = len(rows)
	case c.By == ByHand && !wholes:
		c.Wholes = 1 // one count for the whole swim, dealt out over its lengths
	default:
		c.Wholes = len(lengths)
	}
	if c.Beside && recorder > 0 {
		c.Recorder = recorder
	}
	return c
}
