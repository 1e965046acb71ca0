package activityfile

import (
	"math"
	"time"

	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/profile/untyped/fieldnum"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
)

// active counts the active lengths and their strokes in a run of lengths.
func (a *Activity) active(first, n int) (lengths, strokes int) {
	for _, l := range a.Lengths[first : first+n] {
		if !l.Idle {
			lengths++
			strokes += max(0, l.Strokes)
		}
	}
	return lengths, strokes
}

// meanBPM is the mean of the valid heart rates recorded in a span, 0 if none.
func (a *Activity) meanBPM(from, to float64) (mean, highest uint8) {
	sum, n, top := 0, 0, 0
	for _, r := range a.Records {
		if r.Seconds >= from && r.Seconds <= to && r.BPM > 0 && r.BPM < 255 {
			sum += r.BPM
			n++
			top = max(top, r.BPM)
		}
	}
	if n == 0 {
		return 0, 0
	}
	return uint8(math.Round(float64(sum) / float64(n))), uint8(top)
}

func (b *builder) laps() {
	laps := b.a.Laps
	if b.q.StrayLap {
		end := b.a.duration()
		laps = append(laps[:len(laps):len(laps)],
			Lap{StartSeconds: end, DurationSeconds: 0.435, FirstLength: len(b.a.Lengths)})
	}
	for k, lap := range laps {
		end := lap.StartSeconds + lap.DurationSeconds
		lengths, strokes := b.a.active(lap.FirstLength, lap.Lengths)
		d := b.slab.draft(mesgnum.Lap, 20).
			u32(fieldnum.LapTimestamp, b.stamp(end)).
			u16(fieldnum.LapMessageIndex, uint16(k)).
			u8(fieldnum.LapEvent, uint8(typedef.EventLap)).
			u8(fieldnum.LapEventType, uint8(typedef.EventTypeStop)).
			u32(fieldnum.LapStartTime, b.stamp(lap.StartSeconds)).
			scaled32(fieldnum.LapTotalElapsedTime, lap.DurationSeconds, 1000).
			scaled32(fieldnum.LapTotalTimerTime, lap.DurationSeconds, 1000).
			scaled32(fieldnum.LapTotalDistance, lap.DistanceMetres, 100)
		if lap.Lengths > 0 {
			d.u16(fieldnum.LapFirstLengthIndex, uint16(lap.FirstLength)).
				u16(fieldnum.LapNumLengths, uint16(lap.Lengths)).
				u16(fieldnum.LapNumActiveLengths, uint16(lengths))
		}
		if lengths > 0 {
			d.u32(fieldnum.LapTotalCycles, uint32(strokes)).
				u8(fieldnum.LapSwimStroke, uint8(b.a.Lengths[lap.FirstLength].Stroke))
		}
		if mean, top := b.a.meanBPM(lap.StartSeconds, end); mean > 0 {
			d.u8(fieldnum.LapAvgHeartRate, mean).u8(fieldnum.LapMaxHeartRate, top)
		}
		if b.q.LapsTogether {
			b.place(float64(k), 1, d)
		} else {
			b.place(end, 0, d)
		}
	}
}

// numLengths is the session's num_lengths by the file's convention.
func (b *builder) numLengths() int {
	active, _ := b.a.active(0, len(b.a.Lengths))
	switch b.q.NumLengths {
	case ActiveOnly:
		return active
	case ActiveAndIdleInInterval:
		n := 0
		for _, lap := range b.a.Laps {
			if a, _ := b.a.active(lap.FirstLength, lap.Lengths); a > 0 {
				n += lap.Lengths
			}
		}
		return n
	}
	return len(b.a.Lengths)
}

// summary writes the closing event, the session and the activity.
func (b *builder) summary() {
	a, q := b.a, b.q
	end := a.duration()
	last := math.Inf(1)
	b.place(last, 0, b.slab.draft(mesgnum.Event, 3).
		u32(fieldnum.EventTimestamp, b.stamp(end)).
		u8(fieldnum.EventEvent, uint8(typedef.EventTimer)).
		u8(fieldnum.EventEventType, uint8(typedef.EventTypeStopAll)))
	if q.OmitSession {
		return
	}
	sport, subSport := uint8(SportSwimming), uint8(SubSportLapSwimming)
	if a.NotPoolSwimming {
		sport, subSport = a.Sport, a.SubSport
	}
	distance := 0.0
	for _, l := range a.Laps {
		distance += l.DistanceMetres
	}
	if n := len(a.Records); n > 0 {
		distance = max(distance, a.Records[n-1].DistanceMetres)
	}
	lengths, strokes := a.active(0, len(a.Lengths))
	s := b.slab.draft(mesgnum.Session, 24).
		u32(fieldnum.SessionTimestamp, b.stamp(end)).
		u16(fieldnum.SessionMessageIndex, 0).
		u8(fieldnum.SessionEvent, uint8(typedef.EventSession)).
		u8(fieldnum.SessionEventType, uint8(typedef.EventTypeStop)).
		u32(fieldnum.SessionStartTime, b.stamp(0)).
		u8(fieldnum.SessionSport, sport).
		u8(fieldnum.SessionSubSport, subSport).
		scaled32(fieldnum.SessionTotalElapsedTime, end, 1000).
		scaled32(fieldnum.SessionTotalTimerTime, end, 1000).
		scaled32(fieldnum.SessionTotalDistance, distance, 100).
		u16(fieldnum.SessionFirstLapIndex, 0).
		u16(fieldnum.SessionNumLaps, uint16(len(a.Laps)))
	if len(a.Lengths) > 0 {
		s.u16(fieldnum.SessionNumLengths, uint16(b.numLengths())).
			u32(fieldnum.SessionTotalCycles, uint32(strokes))
		if !q.OmitNumActive {
			s.u16(fieldnum.SessionNumActiveLengths, uint16(lengths))
		}
	}
	if a.PoolMetres > 0 {
		unit := typedef.DisplayMeasureMetric
		if a.PoolYards {
			unit = typedef.DisplayMeasureStatute
		}
		s.scaled16(fieldnum.SessionPoolLength, a.PoolMetres, 100).
			u8(fieldnum.SessionPoolLengthUnit, uint8(unit))
	}
	if mean, top := a.meanBPM(0, end); mean > 0 {
		s.u8(fieldnum.SessionAvgHeartRate, mean).u8(fieldnum.SessionMaxHeartRate, top)
	}
	b.place(math.Inf(1), 1, s)
	for i, leg := range a.Legs {
		b.leg(i+1, leg)
	}

	local := b.stamp(end) + uint32(int32(a.LocalOffset/time.Second))
	b.place(math.Inf(1), 1, b.slab.draft(mesgnum.Activity, 7).
		u32(fieldnum.ActivityTimestamp, b.stamp(end)).
		scaled32(fieldnum.ActivityTotalTimerTime, end, 1000).
		u16(fieldnum.ActivityNumSessions, uint16(1+len(a.Legs))).
		u8(fieldnum.ActivityType, 0).
		u8(fieldnum.ActivityEvent, uint8(typedef.EventActivity)).
		u8(fieldnum.ActivityEventType, uint8(typedef.EventTypeStop)).
		u32(fieldnum.ActivityLocalTimestamp, local))
}

// leg writes a further session, with the one lap that it is.
func (b *builder) leg(index int, l Leg) {
	end := l.StartSeconds + l.DurationSeconds
	b.place(end, 0, b.slab.draft(mesgnum.Lap, 6).
		u32(fieldnum.LapTimestamp, b.stamp(end)).
		u16(fieldnum.LapMessageIndex, uint16(len(b.a.Laps)+index-1)).
		u32(fieldnum.LapStartTime, b.stamp(l.StartSeconds)).
		scaled32(fieldnum.LapTotalElapsedTime, l.DurationSeconds, 1000).
		scaled32(fieldnum.LapTotalTimerTime, l.DurationSeconds, 1000))
	b.place(math.Inf(1), 1, b.slab.draft(mesgnum.Session, 8).
		u32(fieldnum.SessionTimestamp, b.stamp(end)).
		u16(fieldnum.SessionMessageIndex, uint16(index)).
		u32(fieldnum.SessionStartTime, b.stamp(l.StartSeconds)).
		u8(fieldnum.SessionSport, l.Sport).
		u8(fieldnum.SessionSubSport, l.SubSport).
		scaled32(fieldnum.SessionTotalElapsedTime, l.DurationSeconds, 1000).
		scaled32(fieldnum.SessionTotalTimerTime, l.DurationSeconds, 1000))
}
