package activityfile

// The functions here spoil an activity as a recorder would. Those that act on
// lengths report whether the length allowed it; the activity is unchanged where
// they return false. Indices are those of Activity.Lengths before the call.

// lapOf returns the index of the lap that owns length i, or -1.
func (a *Activity) lapOf(i int) int {
	for k, l := range a.Laps {
		if i >= l.FirstLength && i < l.FirstLength+l.Lengths {
			return k
		}
	}
	return -1
}

// pair reports whether lengths i and i+1 are active, counted and of one lap.
func (a *Activity) pair(i int) bool {
	if i < 0 || i+1 >= len(a.Lengths) {
		return false
	}
	x, y := a.Lengths[i], a.Lengths[i+1]
	k := a.lapOf(i)
	return k >= 0 && k == a.lapOf(i+1) && !x.Idle && !y.Idle && x.Strokes >= 0 && y.Strokes >= 0
}

// renumber moves the laps after lap k by a number of lengths and resizes lap k.
func (a *Activity) renumber(k, by int) {
	a.Laps[k].Lengths += by
	for j := range a.Laps {
		if j != k && a.Laps[j].FirstLength > a.Laps[k].FirstLength {
			a.Laps[j].FirstLength += by
		}
	}
}

// MissedTurn makes one length of lengths i and i+1: the watch missed the turn.
func MissedTurn(a *Activity, i int) bool {
	if !a.pair(i) {
		return false
	}
	k := a.lapOf(i)
	a.Lengths[i].DurationSeconds += a.Lengths[i+1].DurationSeconds
	a.Lengths[i].Strokes += a.Lengths[i+1].Strokes
	a.Lengths = append(a.Lengths[:i+1], a.Lengths[i+2:]...)
	a.Laps[k].DistanceMetres -= a.PoolMetres
	a.renumber(k, -1)
	return true
}

// FalseTurn cuts length i in two after a share (0 to 1) of it: the watch took a
// pause or a glance for a turn.
func FalseTurn(a *Activity, i int, share float64) bool {
	if i < 0 || i >= len(a.Lengths) || a.Lengths[i].Idle || a.Lengths[i].Strokes < 0 || a.lapOf(i) < 0 {
		return false
	}
	k := a.lapOf(i)
	first := a.Lengths[i]
	first.DurationSeconds *= share
	first.Strokes = int(share * float64(first.Strokes))
	second := a.Lengths[i]
	second.StartSeconds += first.DurationSeconds
	second.DurationSeconds -= first.DurationSeconds
	second.Strokes -= first.Strokes
	a.Lengths = append(a.Lengths[:i], append([]Length{first, second}, a.Lengths[i+1:]...)...)
	a.Laps[k].DistanceMetres += a.PoolMetres
	a.renumber(k, 1)
	return true
}

// EarlyTurn ends length i after a share of it and gives the rest to length i+1:
// the sum is right, the split wrong.
func EarlyTurn(a *Activity, i int, share float64) bool {
	if !a.pair(i) {
		return false
	}
	x, y := &a.Lengths[i], &a.Lengths[i+1]
	seconds := x.DurationSeconds * (1 - share)
	strokes := int((1 - share) * float64(x.Strokes))
	x.DurationSeconds -= seconds
	x.Strokes -= strokes
	y.StartSeconds -= seconds
	y.DurationSeconds += seconds
	y.Strokes += strokes
	return true
}

// StopInside lets the swimmer stand still for some seconds within length i. The
// time is taken from the rest that follows the lap; false where that is shorter.
func StopInside(a *Activity, i int, seconds float64) bool {
	k := -1
	if i >= 0 && i < len(a.Lengths) && !a.Lengths[i].Idle {
		k = a.lapOf(i)
	}
	if k < 0 || k+1 >= len(a.Laps) {
		return false
	}
	lap := &a.Laps[k]
	if a.Laps[k+1].StartSeconds-lap.StartSeconds-lap.DurationSeconds < seconds {
		return false
	}
	a.Lengths[i].DurationSeconds += seconds
	for j := i + 1; j < lap.FirstLength+lap.Lengths; j++ {
		a.Lengths[j].StartSeconds += seconds
	}
	lap.DurationSeconds += seconds
	return true
}

// ImpossibleStrokes gives length i a stroke count that nobody swims.
func ImpossibleStrokes(a *Activity, i, strokes int) bool {
	if i < 0 || i >= len(a.Lengths) || a.Lengths[i].Idle || a.Lengths[i].Strokes < 0 {
		return false
	}
	a.Lengths[i].Strokes = strokes
	return true
}

// SetHeartRate gives all records of a span the same heart rate: 0 or 255 for a
// dropout, -1 for records without the field, 71 for a start value, the stroke
// rate for a sensor that has locked on to the arms.
func SetHeartRate(a *Activity, fromSeconds, toSeconds float64, bpm int) {
	for i := range a.Records {
		if r := &a.Records[i]; r.Seconds >= fromSeconds && r.Seconds < toSeconds {
			r.BPM = bpm
		}
	}
}
