package trial

import (
	"fmt"
	"math"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// Recordings writes down a simulated swimmer's sessions as a lane sheet's
// reader would have read them: one repeat a row with hand-counted arm strokes
// and a strap reading at its end, or length by length with samples where the
// scenario made them.
func Recordings(sw *squad.Swimmer) []read.Recording {
	recordings := make([]read.Recording, 0, len(sw.Sessions))
	for i := range sw.Sessions {
		recordings = append(recordings, recording(sw, &sw.Sessions[i]))
	}
	return recordings
}

func recording(sw *squad.Swimmer, s *squad.Session) read.Recording {
	id := fmt.Sprintf("%s/%d", sw.Handle, s.Number)
	r := read.Recording{
		FileID: id, Part: 1, Kind: read.FromSheet, Swimmer: sw.Handle,
		Start: s.StartUTC, LocalDate: s.Local.Format("2006-01-02"), Zone: s.Local.Location(),
		PoolM: s.PoolMetres, Basis: study.Arms, HRSource: "strap", Content: id,
		Lengths: make([]read.Length, 0, len(s.Bouts)),
	}
	for i := range s.Bouts {
		r.Lengths = append(r.Lengths, rows(s, i, len(r.Lengths))...)
	}
	if len(s.HeartRate) > 0 {
		r.Samples = make([]read.Sample, len(s.HeartRate))
		for i, h := range s.HeartRate {
			r.Samples[i] = read.Sample{Record: int64(i + 1), TimeS: h.Seconds, BPM: h.BPM}
		}
	}
	return r
}

// rows gives bout i of a session as rows that follow `before` others.
func rows(s *squad.Session, i, before int) []read.Length {
	b := &s.Bouts[i]
	rest := b.RestBeforeSeconds
	if i == 0 {
		rest = math.NaN()
	}
	row := read.Length{
		Record: int64(before + 1), Kind: read.KindRepeat, Lap: -1, Swim: i + 1, Covers: b.LengthCount,
		StartS: b.StartSeconds, DurationS: b.DurationSeconds, PoolM: math.NaN(), Stroke: string(b.Stroke),
		Drill: b.Stroke == squad.Drill, Strokes: float64(b.CountedArms), RestS: rest, WallTimeS: math.NaN(),
		End:  read.Reading{HRBPM: b.ReadingBPM, Source: "strap", DelayS: math.NaN()},
		Tags: tags(b),
	}
	if b.Lengths == nil {
		return []read.Length{row}
	}
	out := make([]read.Length, len(b.Lengths))
	for k, l := range b.Lengths {
		one := row
		one.Record, one.Kind, one.Covers = int64(before+k+1), read.KindLength, 1
		one.StartS, one.DurationS, one.Strokes = l.StartSeconds, l.DurationSeconds, float64(l.CountedArms)
		one.Stroke, one.Drill = string(l.Stroke), l.Stroke == squad.Drill
		if k > 0 {
			one.RestS = 0
		}
		if k < len(b.Lengths)-1 {
			one.End.HRBPM = math.NaN()
		}
		out[k] = one
	}
	return out
}

func tags(b *squad.Bout) read.Tags {
	none := math.NaN()
	t := read.Tags{
		Instruction: string(b.Instruction), RateTargetSPM: b.RateTargetSPM, Kick: string(b.Kick),
		Breathing: none, RPE: none, LactateMMOL: none, LactateBefore: none, VO2: none,
	}
	if b.RateTargetSPM == 0 {
		t.RateTargetSPM = none
	}
	return t
}
