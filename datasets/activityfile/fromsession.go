package activityfile

import (
	"math"
	"time"

	"lengthwise/datasets/squad"
)

// RestStyle says how a watch records the rests between intervals.
type RestStyle int

const (
	RestGap        RestStyle = iota // nothing: a pause between lengths
	RestOwnLap                      // a lap of distance 0 that owns one idle length
	RestInInterval                  // an idle length at the end of the interval's lap
)

// Options says which watch records a session, and how.
type Options struct {
	RecordEverySeconds int  // interval of record messages, s; 0: 1
	RecordPerLength    bool // instead: one record at each length's end
	NoRecords          bool
	NoHeartRate        bool // the watch has no sensor
	Rests              RestStyle
	Profile            bool // write what the watch believes of its wearer

	// A strap that stores beats under water and hands them over later. Records
	// then carry no heart rate.
	Strap            bool
	StrapLeadSeconds float64 // beats before the start
	StrapTailSeconds float64 // beats after the end
}

// FromSession records a simulated session with a watch on one wrist: one-arm
// cycles, whole seconds of start, a lap a bout. The session must have been
// simulated with LengthDetail; heart rate is taken from its samples, if any. On
// a drill the watch counts nothing and spreads the time evenly.
func FromSession(s *squad.Session, sw *squad.Swimmer, o Options) Activity {
	_, offset := s.Local.Zone()
	a := Activity{
		StartUTC:    s.StartUTC,
		LocalOffset: time.Duration(offset) * time.Second,
		Serial:      sw.Device,
		ProductName: "poolside recorder",
		PoolMetres:  s.PoolMetres,
		PoolYards:   s.PoolYards,
	}
	if o.Profile {
		a.Profile = &Profile{Name: sw.Given, Female: sw.Sex == "f", MassKG: sw.MassKG,
			HeightM: sw.HeightCM / 100, RestingBPM: uint8(sw.RestBPM), MaxBPM: uint8(sw.MaxBPM)}
	}
	a.addLengths(s, o.Rests)
	if !o.NoRecords {
		a.addRecords(s, o)
	}
	if o.Strap {
		a.Beats = beatsOf(s.HeartRate, o.StrapLeadSeconds, o.StrapTailSeconds)
	}
	return a
}

// addLengths writes a lap a bout and the rests in the style asked for.
func (a *Activity) addLengths(s *squad.Session, style RestStyle) {
	for k := range s.Bouts {
		b := &s.Bouts[k]
		lap := Lap{StartSeconds: b.StartSeconds, DurationSeconds: b.DurationSeconds,
			FirstLength: len(a.Lengths), DistanceMetres: b.DistanceMetres}
		at := b.StartSeconds
		for _, l := range b.Lengths {
			rec := Length{StartSeconds: l.StartSeconds, DurationSeconds: l.DurationSeconds, Strokes: l.CountedCycles}
			if l.Stroke == squad.Drill {
				even := b.DurationSeconds / float64(len(b.Lengths))
				rec = Length{StartSeconds: at, DurationSeconds: even, Strokes: -1, Stroke: Drill}
				at += even
			}
			a.Lengths = append(a.Lengths, rec)
		}
		end := b.StartSeconds + b.DurationSeconds
		if k+1 < len(s.Bouts) && style != RestGap {
			rest := s.Bouts[k+1].RestBeforeSeconds
			a.Lengths = append(a.Lengths, Length{StartSeconds: end, DurationSeconds: rest, Idle: true, Strokes: -1})
			if style == RestInInterval {
				lap.DurationSeconds += rest
			}
		}
		lap.Lengths = len(a.Lengths) - lap.FirstLength
		if style == RestOwnLap && k+1 < len(s.Bouts) {
			lap.Lengths--
			a.Laps = append(a.Laps, lap)
			lap = Lap{StartSeconds: end, DurationSeconds: s.Bouts[k+1].RestBeforeSeconds,
				FirstLength: len(a.Lengths) - 1, Lengths: 1}
		}
		a.Laps = append(a.Laps, lap)
	}
}

// addRecords writes records at fixed seconds or length ends, with the distance
// the watch knows at that time: whole lengths.
func (a *Activity) addRecords(s *squad.Session, o Options) {
	done, metres := 0, 0.0
	at := func(seconds float64) {
		for done < len(a.Lengths) && a.Lengths[done].StartSeconds+a.Lengths[done].DurationSeconds <= seconds {
			if !a.Lengths[done].Idle {
				metres += a.PoolMetres
			}
			done++
		}
		r := Record{Seconds: seconds, BPM: -1, DistanceMetres: metres}
		if i := int(seconds); !o.NoHeartRate && !o.Strap && i < len(s.HeartRate) {
			r.BPM = int(math.Round(s.HeartRate[i].BPM))
		}
		a.Records = append(a.Records, r)
	}
	if o.RecordPerLength {
		for _, l := range a.Lengths {
			if !l.Idle {
				at(l.StartSeconds + l.DurationSeconds)
			}
		}
		return
	}
	every := max(1, o.RecordEverySeconds)
	a.Records = make([]Record, 0, int(s.DurationSeconds())/every+1)
	for t := 0; float64(t) <= s.DurationSeconds(); t += every {
		at(float64(t))
	}
}

// beatsOf turns samples at 1 Hz into beats: a beat falls wherever the integral of
// the heart rate passes a whole number. Before and after the samples the first
// and last value are held.
func beatsOf(samples []squad.Sample, lead, tail float64) []Beat {
	if len(samples) == 0 {
		return nil
	}
	var beats []Beat
	sum := 0.0
	end := samples[len(samples)-1].Seconds + tail
	for t := -lead; t < end; t++ {
		i := min(len(samples)-1, max(0, int(math.Floor(t))))
		perSecond := samples[i].BPM / 60
		next := sum + perSecond
		for b := math.Floor(sum) + 1; b <= next; b++ {
			beats = append(beats, Beat{Seconds: t + (b-sum)/perSecond, BPM: uint8(math.Round(samples[i].BPM))})
		}
		sum = next
	}
	return beats
}
