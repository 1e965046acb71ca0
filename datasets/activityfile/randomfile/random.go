package randomfile

import (
	"bytes"
	"math"
	"math/rand/v2"
	"time"

	"lengthwise/datasets/activityfile"
)

// File is a random file and what went into it.
type File struct {
	Bytes      []byte
	Activities []activityfile.Activity // chained in the file
	Quirks     []activityfile.Quirks   // of each
}

// Make makes a file of one activity or two: a new one for each seed, always the
// same one for the same. Nothing in it is damaged, and no clock is set back.
func Make(seed uint64) (File, error) {
	r := random{rand.New(rand.NewPCG(seed, 101))}
	var f File
	var buf bytes.Buffer
	start := time.Date(2012+r.IntN(14), time.Month(1+r.IntN(12)), 1+r.IntN(28), r.IntN(24), r.IntN(60), r.IntN(60), 0, time.UTC)
	for range 1 + r.IntN(5)/4 {
		a, q := r.activity(start), r.quirks()
		if err := activityfile.Write(&buf, a, q); err != nil {
			return File{}, err
		}
		f.Activities, f.Quirks = append(f.Activities, a), append(f.Quirks, q)
		start = start.Add(time.Duration(4+r.IntN(72)) * time.Hour)
	}
	f.Bytes = buf.Bytes()
	return f, nil
}

type random struct{ *rand.Rand }

func (r random) chance(p float64) bool           { return r.Float64() < p }
func (r random) between(lo, hi float64) float64  { return lo + (hi-lo)*r.Float64() }
func (r random) millis(lo, hi float64) float64   { return math.Round(1000*r.between(lo, hi)) / 1000 }
func (r random) oneOf(values ...float64) float64 { return values[r.IntN(len(values))] }

// activity is a pool swim: laps of lengths, rests recorded in any way or not at
// all, records of any density, a strap now and then, and other sports after it.
func (r random) activity(start time.Time) activityfile.Activity {
	a := activityfile.Activity{
		StartUTC: start, LocalOffset: time.Duration(r.oneOf(0, 1, 2, -8, 5.75, -528) * float64(time.Hour)),
		Serial: 1 + r.Uint32N(1<<30), ProductName: "poolside recorder",
		PoolMetres: r.oneOf(25, 25, 25, 50, 22.86, 20, 33.33), PoolYards: r.chance(0.2),
	}
	clock := 0.0
	for range 1 + r.IntN(9) {
		clock = r.lap(&a, clock)
	}
	r.records(&a, clock)
	if r.chance(0.3) {
		r.strap(&a, clock)
	}
	for r.chance(0.15) {
		clock = math.Ceil(clock + 90)
		leg := activityfile.Leg{StartSeconds: clock, DurationSeconds: r.millis(200, 3000), Sport: activityfile.SportRunning}
		if r.chance(0.5) {
			leg.Sport, leg.SubSport = activityfile.SportSwimming, activityfile.SubSportOpenWater
		}
		a.Legs = append(a.Legs, leg)
		clock += leg.DurationSeconds
	}
	return a
}

// lap adds an interval and, perhaps, the rest after it; it returns the clock.
func (r random) lap(a *activityfile.Activity, clock float64) float64 {
	lap := activityfile.Lap{StartSeconds: clock, FirstLength: len(a.Lengths)}
	stroke := activityfile.Stroke(r.oneOf(0, 0, 0, 1, 2, 3, 4, 5, 6))
	usual := r.between(14, 60)
	even := r.millis(20, 60)
	for range 1 + r.IntN(8) {
		l := activityfile.Length{StartSeconds: clock, DurationSeconds: r.millis(0.9*usual, 1.1*usual), Strokes: r.IntN(45), Stroke: stroke}
		switch {
		case stroke == activityfile.Drill:
			l.DurationSeconds, l.Strokes = even, -1
		case r.chance(0.02):
			l.DurationSeconds, l.Strokes = 0.4, 1 // starts in the second of the next one
		case r.chance(0.05):
			l.Strokes = -1
		case r.chance(0.03):
			l.Stroke = activityfile.Stroke(r.IntN(4))
		}
		a.Lengths = append(a.Lengths, l)
		clock += l.DurationSeconds
	}
	lap.Lengths = len(a.Lengths) - lap.FirstLength
	lap.DurationSeconds = clock - lap.StartSeconds
	lap.DistanceMetres = float64(lap.Lengths) * a.PoolMetres
	rest := r.millis(0, r.oneOf(2, 20, 40, 315))
	switch r.IntN(4) {
	case 0: // nothing is written
		a.Laps = append(a.Laps, lap)
	case 1: // an idle length in the interval's lap
		a.Lengths = append(a.Lengths, activityfile.Length{StartSeconds: clock, DurationSeconds: rest, Idle: true, Strokes: -1})
		lap.Lengths++
		lap.DurationSeconds += rest
		a.Laps = append(a.Laps, lap)
	case 2: // a lap of its own
		a.Laps = append(a.Laps, lap)
		a.Lengths = append(a.Lengths, activityfile.Length{StartSeconds: clock, DurationSeconds: rest, Idle: true, Strokes: -1})
		a.Laps = append(a.Laps, activityfile.Lap{StartSeconds: clock, DurationSeconds: rest, FirstLength: len(a.Lengths) - 1, Lengths: 1})
	case 3: // no rest
		a.Laps = append(a.Laps, lap)
		return clock
	}
	return clock + rest
}

func (r random) records(a *activityfile.Activity, end float64) {
	every := r.oneOf(0, 1, 1, 5, 50)
	if every == 0 {
		return
	}
	without := r.chance(0.1)
	metres := 0.0
	for t := 0.0; t <= end; t += every {
		if r.chance(0.01) {
			t += r.between(10, 111)
		}
		x := activityfile.Record{Seconds: math.Floor(t), BPM: 90 + r.IntN(90), DistanceMetres: metres}
		if without {
			x.BPM = -1
		} else if r.chance(0.02) {
			x.BPM = int(r.oneOf(0, 255, -1))
		}
		metres += every
		a.Records = append(a.Records, x)
	}
}

func (r random) strap(a *activityfile.Activity, end float64) {
	bpm := r.between(80, 150)
	for t := -r.between(0, 400); t < end+r.between(0, 200); t += 60 / bpm {
		if r.chance(0.001) {
			t += r.between(3, 20)
		}
		bpm = min(190, max(60, bpm+r.between(-1, 1)))
		a.Beats = append(a.Beats, activityfile.Beat{Seconds: t, BPM: uint8(bpm)})
	}
}

// quirks switches each of them on now and then.
func (r random) quirks() activityfile.Quirks {
	on := func() bool { return r.chance(0.2) }
	q := activityfile.Quirks{
		HeaderChecksumZero: on(), Header12: on(), ChecksumOverData: on(), BigEndian: on(), OneLocalType: on(), ShortTimestamps: on(),
		BeatBlocks: 1 + r.IntN(6), BeatSecondAnchor: on(), NumLengths: activityfile.NumLengths(r.IntN(3)), OmitNumActive: on(),
		LengthTimestamps: activityfile.LengthTimestamps(r.IntN(3)), LateSeconds: r.between(0, 540), ZeroIdleDurations: on(),
		NoStrokes: activityfile.NoStrokes(r.IntN(3)), CreatedDelaySeconds: r.between(0, 7200), Order: activityfile.Order(r.IntN(3)),
		OneLap: on(), StrayLap: on(), LapsTogether: on(), DuplicateField: on(), StrokesTwice: on(), Widths: activityfile.Widths(r.IntN(3)),
		UnknownMessages: on(), DeveloperFields: on(), OtherSoftware: on(), OmitSession: r.chance(0.05),
	}
	if on() {
		q.BeatsPerPacket = 2 * (1 + r.IntN(4))
	}
	if on() {
		q.BeatStartValue = 71
	}
	if on() {
		q.BeatClockSeconds = 4194304 - r.between(0, 900)
	}
	if on() {
		q.StartDriftSeconds = r.between(0, 4)
	}
	if on() {
		q.WallSecondsOut = r.between(1, 1.8)
	}
	if q.Order == activityfile.Shuffled { // short time stamps count on from message to message
		q.ShortTimestamps = false
	}
	return q
}
