package read

import "math"

// Running times: who stops the watch at every wall of a swim without stopping
// it writes 18.2, 37.4, 57.0. As times of single lengths they would say that
// the second length took twice as long as the first, the third thrice.
const (
	// A length of a swim takes these shares of its first.
	runningLow, runningHigh = 0.6, 1.6
	// fewestRunning is from how many lengths on running times are known as
	// such by themselves; two could be a length and a stop.
	fewestRunning = 3
)

// seeRunning finds the swims whose times look as if they ran on. A sheet that has
// such in a swim of three lengths or more has them in all that look alike.
func (s *sheetPart) seeRunning() (swims []running) {
	for _, g := range s.groups {
		for from := 0; from < len(g.rows); {
			to := from + 1
			for to < len(g.rows) && g.rows[to].runsOn(&g.rows[to-1]) {
				to++
			}
			swim := running{rows: g.rows[from:to]}
			switch {
			case !swim.runs(func(r *sheetRow) float64 { return r.length.DurationS }):
			case swim.rows[0].kind == KindRepeat:
				if len(swim.rows) >= fewestRunning {
					s.note(swim.rows[0], RuleRunningTime, "time", "from here on distance and time grow together within one repeat; they are read as parts swum one after another; if they run on, give each part its own distance and time")
				}
			default:
				swims = append(swims, swim)
				s.signs.running = s.signs.running || len(swim.rows) >= fewestRunning
			}
			from = to
		}
	}
	return swims
}

// unrunTimes turns running times of the lengths of a swim into the lengths' own.
// Strokes that run on too are treated likewise.
func (s *sheetPart) unrunTimes(swims []running) {
	for _, swim := range swims {
		strokes := swim.runs(func(r *sheetRow) float64 { return r.length.Strokes })
		what := "the times run on from length to length: each length's own is its time less the one before"
		if strokes {
			what = "times and strokes run on from length to length: each length's own are those less the ones before"
		}
		for k := len(swim.rows) - 1; k >= 0; k-- {
			r := &swim.rows[k]
			if k > 0 {
				r.length.DurationS = math.Round(1e6*(r.length.DurationS-swim.rows[k-1].length.DurationS)) / 1e6 // without the last bit's noise
				if strokes {
					r.length.Strokes -= swim.rows[k-1].length.Strokes
					r.counted.strokes = r.length.Strokes
				}
			}
		}
		for k := range swim.rows {
			s.noteRun(swim.rows[k], RuleRunningTime, "%s", what)
		}
	}
}

// runsOn reports whether a row goes on with the swim of the one before: the next
// length, or more of the same repeat.
func (r *sheetRow) runsOn(before *sheetRow) bool {
	switch {
	case r.set != before.set || r.rep != before.rep || r.kind != before.kind || r.length.RestS > 0 || r.length.PoolM != before.length.PoolM:
		return false
	case r.kind == KindLength:
		return r.number == before.number+1
	}
	return r.rep != "" && r.length.Covers > before.length.Covers
}

// running is the rows of one swim.
type running struct{ rows []sheetRow }

// runs reports whether a value runs on through the rows, from the start of the
// swim: each adds about as much for a length as the first.
func (w running) runs(value func(*sheetRow) float64) bool {
	if len(w.rows) < 2 {
		return false
	}
	lengths := func(r *sheetRow) float64 {
		if r.kind == KindLength {
			return float64(r.number)
		}
		return float64(r.length.Covers)
	}
	first := value(&w.rows[0]) / lengths(&w.rows[0])
	if w.rows[0].kind == KindLength && w.rows[0].number != 1 {
		return false
	}
	for k := range w.rows {
		if w.rows[k].excluded {
			return false
		}
		if k == 0 {
			continue
		}
		each := (value(&w.rows[k]) - value(&w.rows[k-1])) / (lengths(&w.rows[k]) - lengths(&w.rows[k-1]))
		if !(each >= runningLow*first && each <= runningHigh*first) {
			return false
		}
	}
	return true
}
