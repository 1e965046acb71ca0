package normalise

import (
	"fmt"
	"math"

	"lengthwise/pipeline/read"
)

// Some recorders leave 1 to 1.8 s out of the seconds of lengths at each wall.
// Starts are mostly whole seconds, so that one turn says little; over several
// turns in a row their rounding stays the same and its share becomes small.
const (
	// longestRun is how many turns in a row are taken together. Longer swims are
	// cut into runs, so that a pause spoils one of them.
	longestRun = 8
	// wallLowS to wallHighS is what recorders are known to leave out, with room;
	// below it lie those that leave out nothing.
	wallLowS, wallHighS = 0.5, 2.5
	// wallSure is how many standard errors from nothing an estimate must lie.
	wallSure = 3.0
	// wallVague is the standard error from which on a session does not tell by
	// itself and takes what other sessions of its recorder show.
	wallVague = wallLowS / wallSure
	// fewestTurns is how many turns a session must have to be judged.
	fewestTurns = 8
	// fewestRests is how many rests must show that starts run ahead.
	fewestRests = 3
	// drifts is the share of what starts show that laps or rests must show too.
	drifts = 0.5
	// huberAt is the number of standard deviations beyond which a run counts
	// less (Huber 1964 has 1.345 for 95 % efficiency).
	huberAt = 1.345
)

// wall is what a recorder leaves out at each wall.
type wall struct {
	seconds, error float64 // estimate and its standard error; NaN when nothing tells
	sessions       int     // that it rests on: more than 1 where the session alone says too little
	found          bool    // time is left out
	unknown        bool    // the estimate says too little to be shown
	drift          bool    // starts alone say so: laps or rests say that they run ahead
}

// out is the seconds left out, 0 where none are known to be.
func (w wall) out() float64 {
	if w.found {
		return w.seconds
	}
	return 0
}

// shown is the estimate as it stands in a table, NaN when it says too little.
func (w wall) shown() float64 {
	if w.unknown {
		return math.NaN()
	}
	return w.seconds
}

// driftWords is what is said where starts alone show time left out.
func (w wall) driftWords() string {
	return fmt.Sprintf("starts run ahead of the seconds by %.1f s a length and are right again at the next lap: they are not taken for time left out at walls", w.seconds)
}

func (w wall) words() string {
	from := "of this session"
	if w.sessions > 1 {
		from = fmt.Sprintf("(judged from %d sessions of the same recorder)", w.sessions)
	}
	return fmt.Sprintf("the recorder leaves out %.1f s at each wall %s: seconds and score read low beside other recorders", w.seconds, from)
}

// judged tells whether time is left out.
func (w wall) judged() wall {
	out := w.seconds >= wallLowS && w.seconds <= wallHighS && w.seconds >= wallSure*w.error
	w.found, w.drift = out && !w.drift, out && w.drift
	return w
}

// wallTimes judges each recording by itself or, where it says too little, by all
// recordings of the same recorder.
func wallTimes(recordings []*read.Recording) []wall {
	walls := make([]wall, len(recordings))
	type pool struct {
		sum, weight float64
		drift       float64 // weight of the sessions whose starts run ahead
		sessions    int
	}
	pools := make(map[string]*pool)
	for i, r := range recordings {
		walls[i] = wall{seconds: math.NaN(), error: math.Inf(1), sessions: 1, unknown: true}
		if r.Kind != read.FromActivity {
			continue
		}
		walls[i] = wallTime(r)
		if r.Device == "" || math.IsNaN(walls[i].seconds) {
			continue
		}
		p := pools[r.Device]
		if p == nil {
			p = &pool{}
			pools[r.Device] = p
		}
		weight := 1 / square(walls[i].error)
		p.sum, p.weight, p.sessions = p.sum+weight*walls[i].seconds, p.weight+weight, p.sessions+1
		if walls[i].drift {
			p.drift += weight
		}
	}
	for i, r := range recordings {
		if p := pools[r.Device]; p != nil && p.sessions > 1 && walls[i].error > wallVague {
			walls[i] = wall{seconds: p.sum / p.weight, error: 1 / math.Sqrt(p.weight), sessions: p.sessions, drift: p.drift > p.weight/2}
		}
		walls[i] = walls[i].judged()
		if walls[i].drift || walls[i].error > wallVague && !walls[i].found {
			walls[i].unknown = true
		}
	}
	return walls
}

// wallRun is some turns in a row.
type wallRun struct{ perTurnS, variance float64 }

// wallTime is what starts show to be left out of durations at a turn, in
// seconds, with its standard error; NaN where there are no turns. Over a run of
// turns without a rest or a pause between them it is the time from the first
// start to the last less the durations, by turn. Recorders that leave the time
// out of the length after the turn show nothing at the first turn of a swim:
// first turns count only where there are too few others. Drills are left out:
// their durations are an interval split evenly.
//
// Starts of some recorders run ahead within a lap and are right again at the
// next one (4 s a lap seen). Recorded rests show that, for the start after one
// then lies before its end, and so do laps that lasted no longer than their
// lengths.
func wallTime(r *read.Recording) wall {
	lengths := r.Lengths
	rests := make(map[int]float64) // recorded seconds before a row
	for k, i := range placeRests(r) {
		rests[i] += math.Max(0, orZero(r.Rests[k].DurationS))
	}
	startVariance, durationVariance := roundedTo(lengths, func(l *read.Length) float64 { return l.StartS }), roundedTo(lengths, func(l *read.Length) float64 { return l.DurationS })
	var later, firsts []wallRun
	var back []float64 // seconds a turn by which the start after a rest lies after the rest's end
	turns, all, inSwim, lost := 0, 0, 0, 0.0
	end := func(runs *[]wallRun) {
		if turns > 0 {
			m := float64(turns)
			*runs = append(*runs, wallRun{lost / m, (2*startVariance/m + durationVariance + turnVariance) / m})
		}
		turns, lost = 0, 0
	}
	for i := 1; i < len(lengths); i++ {
		a, b := &lengths[i-1], &lengths[i]
		gap := b.StartS - a.StartS - a.DurationS
		rest, rested := rests[i]
		if rested || a.Drill || b.Drill || !(math.Abs(gap) <= pauseS) {
			if off := gap - rest; rest > 0 && inSwim > 0 && math.Abs(off) <= pauseS {
				back = append(back, off/float64(inSwim))
			}
			end(&later)
			inSwim = 0
			continue
		}
		turns, lost, all, inSwim = turns+1, lost+gap, all+1, inSwim+1
		switch {
		case inSwim == 1:
			end(&firsts)
		case turns == longestRun:
			end(&later)
		}
	}
	end(&later)
	if all < fewestTurns {
		return wall{seconds: math.NaN(), error: math.Inf(1), sessions: 1}
	}
	w := wall{sessions: 1}
	w.seconds, w.error = huberMean(later)
	if w.error > wallVague {
		w.seconds, w.error = huberMean(append(later, firsts...))
	}
	beside := lapsBeside(r, rests)
	w.drift = len(back) >= fewestRests && median(back) < -drifts*w.seconds || len(beside) > 0 && median(beside) < drifts*w.seconds
	return w
}

// lapsBeside is, for each lap of several lengths without a rest or a pause in
// it, the seconds a turn by which it lasted longer than its lengths.
func lapsBeside(r *read.Recording, rests map[int]float64) (perTurnS []float64) {
	for from := 0; from < len(r.Lengths); {
		to, sum, whole := from+1, r.Lengths[from].DurationS, !r.Lengths[from].Drill
		for ; to < len(r.Lengths) && r.Lengths[to].Lap == r.Lengths[from].Lap; to++ {
			_, rested := rests[to]
			whole = whole && !rested && !r.Lengths[to].Drill
			sum += r.Lengths[to].DurationS
		}
		if lap := lapOf(r, &r.Lengths[from]); lap != nil && whole && to-from > 2 {
			if more := (lap.DurationS - sum) / float64(to-from-1); math.Abs(more) <= pauseS {
				perTurnS = append(perTurnS, more)
			}
		}
		from = to
	}
	return perTurnS
}

// turnVariance is of how evenly time is left out from turn to turn, in s^2.
const turnVariance = 0.01

// roundedTo is the variance that rounding adds to a recorded number, in s^2:
// that of whole numbers, of tenths or of finer ones.
func roundedTo(lengths []read.Length, of func(*read.Length) float64) float64 {
	for _, step := range []float64{1, 0.1} {
		fits := true
		for i := range lengths {
			x := of(&lengths[i]) / step
			fits = fits && !(math.Abs(x-math.Round(x)) > 1e-6)
		}
		if fits {
			return square(step) / 12
		}
	}
	return 1e-6
}

// huberMean is the mean of runs by their variances in which those far from the
// others count less, with its standard error from what they scatter by, at least
// what their variances say.
func huberMean(runs []wallRun) (mean, standardError float64) {
	if len(runs) == 0 {
		return math.NaN(), math.Inf(1)
	}
	values := make([]float64, len(runs))
	for i, r := range runs {
		values[i] = r.perTurnS
	}
	mean = median(values)
	var weight, chi2 float64
	for range 30 {
		var sum float64
		weight, chi2 = 0, 0
		for _, r := range runs {
			z := math.Abs(r.perTurnS-mean) / math.Sqrt(r.variance)
			w := min(1, huberAt/max(z, 1e-9)) / r.variance
			sum, weight, chi2 = sum+w*r.perTurnS, weight+w, chi2+square(min(z, huberAt))
		}
		mean = sum / weight
	}
	scatter := max(1, chi2/float64(max(1, len(runs)-1)))
	return mean, math.Sqrt(scatter / weight)
}
