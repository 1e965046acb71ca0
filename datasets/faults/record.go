package faults

import "math"

// recorder is a watch, or a person with a stopwatch and a pencil.
type recorder struct {
	random
	arms       bool    // counts both arms; else one, as a wrist does
	resolution float64 // s
	wallTime   float64 // s left out at each wall
	turnJitter float64 // s, sd of when a turn is noticed
	countError float64 // chance of one stroke too many or too few
	flip       float64 // chance of taking the stroke for another one
	wholeStart bool    // starts are whole seconds
}

func newRecorder(r random, pool float64) recorder {
	rec := recorder{random: r, arms: r.chance(0.25), resolution: r.oneOf(0.01, 0.1, 0.1, 1), turnJitter: r.between(0.1, 0.6),
		countError: r.between(0.02, 0.3), wholeStart: r.chance(0.6)}
	if !rec.arms && r.chance(0.2) {
		rec.wallTime = r.between(1, 1.8)
	}
	if r.chance(0.3) {
		rec.flip = 0.02
	}
	return rec
}

// record makes lengths of what was swum. Each swum length carries a part of a
// stroke over the wall, so that counts of a repeat add up.
func (rec recorder) record(all []swum, poolSet float64) []Length {
	var out []Length
	var clock, carried float64
	swim := 0
	for i, s := range all {
		first := i == 0 || s.lap != all[i-1].lap
		if first {
			clock += s.restBefore
			swim++
			carried = rec.between(0, 1)
		}
		last := i == len(all)-1 || all[i+1].lap != s.lap
		if !last && s.kind == Clean && all[i+1].kind == Clean {
			jitter := rec.clipped(0, rec.turnJitter, 2.5)
			s.seconds += jitter
			all[i+1].seconds -= jitter
		}
		seconds := s.seconds
		if !first && !s.drill {
			seconds -= rec.wallTime * min(1, s.lengths)
		}
		l := Length{Lap: s.lap, Swim: swim, PoolM: poolSet, StartS: clock, Stroke: s.stroke, Drill: s.drill,
			DurationS: max(rec.resolution, rec.round(seconds)), RestBeforeS: math.NaN(),
			Truth: Truth{Kind: s.kind, Fault: s.fault, Lengths: s.lengths, DurationS: s.seconds, Strokes: s.strokes}}
		if first {
			l.RestBeforeS = s.restBefore
		}
		l.Strokes, carried = rec.count(s, carried)
		if rec.chance(rec.flip) && !s.drill {
			l.Stroke = map[string]string{freestyle: backstroke, backstroke: freestyle, breaststroke: butterfly, butterfly: breaststroke}[s.stroke]
		}
		if rec.wholeStart {
			l.StartS = math.Floor(clock)
		}
		clock += s.seconds
		out = append(out, l)
	}
	return out
}

func (rec recorder) round(seconds float64) float64 {
	return math.Round(seconds/rec.resolution) * rec.resolution
}

// count returns the strokes that the recorder shows and the part carried on.
// Breaststroke and butterfly move both arms at once: a wrist sees every cycle.
func (rec recorder) count(s swum, carried float64) (strokes, rest float64) {
	if math.IsNaN(s.strokes) {
		return math.NaN(), carried
	}
	exact := s.strokes
	if !rec.arms && (s.stroke == freestyle || s.stroke == backstroke) {
		exact /= 2
	}
	whole := math.Floor(exact + carried)
	rest = exact + carried - whole
	if rec.chance(rec.countError) && s.strokes > 0 {
		whole += rec.sign()
	}
	return max(0, whole), rest
}
