package deckfile

import (
	"cmp"
	"fmt"
	"math"
	"strconv"

	"lengthwise/datasets/squad"
)

// HeartRateSource is how the deck took a heart rate.
type HeartRateSource string

// The sources; NoHeartRate leaves the columns empty.
const (
	NoHeartRate HeartRateSource = ""
	Strap       HeartRateSource = "strap"    // read from a strap's display at the touch
	Palpated    HeartRateSource = "palpated" // beats counted for ten seconds after the touch
)

// SheetOptions says what the person with the sheet wrote down.
type SheetOptions struct {
	Name       string // how the sheet names the swimmer; empty: the handle
	PerLength  bool   // a row a length, not a row a repeat
	OmitStart  bool   // the start was not written down
	NoTags     bool   // instruction, rate_target and kick were not written down
	MeanCount  bool   // strokes are the mean of a length (count "per-length")
	Clock      bool   // times as m:ss.s, not seconds
	HeartRate  HeartRateSource
	Beats      int    // palpated: the beats counted in so many seconds are written, with the delay after which counting began; 0: beats a minute
	RPE        bool   // rating of perceived exertion, 0 to 10
	Lab        bool   // oxygen uptake, and lactate before and after
	WarmUpNote string // what stands in the notes of a warm-up; empty: "warm-up"
	FromRep    int    // leave out the first bouts of the session (warm-up); 0: none
}

// palpationDelay is the middle of a ten-second count that begins countDelay
// seconds after the touch (common practice, no source).
const (
	palpationDelay = 8
	countDelay     = 3
)

// RowsFromSession writes down a simulated session: arm strokes counted by hand,
// times to a tenth of a second, rests to the second. Drills are left out. Heart
// rate stands on the repeat's row, or on that of its last length.
func RowsFromSession(s *squad.Session, sw *squad.Swimmer, o SheetOptions) []Row {
	name := o.Name
	if name == "" {
		name = sw.Handle
	}
	var rows []Row
	for k := range s.Bouts {
		b := &s.Bouts[k]
		if b.Stroke == squad.Drill || k < o.FromRep {
			continue
		}
		base := Row{
			Swimmer: name, Date: s.Local.Format("2006-01-02"), Session: strconv.Itoa(s.Number + 1), Set: "1",
			Rep: strconv.Itoa(k + 1), Pool: PoolName(s), Stroke: string(b.Stroke), Count: "arms",
		}
		if !o.OmitStart {
			base[Start] = s.Local.Format("15:04")
		}
		if !o.NoTags {
			base[InstructionColumn], base[KickColumn] = string(b.Instruction), string(b.Kick)
			if b.RateTargetSPM > 0 {
				base[RateTarget] = number(b.RateTargetSPM, 0)
			}
		}
		if b.WarmUp {
			base[Set], base[Notes] = "0", cmp.Or(o.WarmUpNote, "warm-up")
		}
		if o.PerLength {
			rows = append(rows, lengthRows(base, b, s, sw, o)...)
			continue
		}
		r := base
		r[DistanceM] = number(b.DistanceMetres, 2)
		r[Time] = clockTime(b.DurationSeconds, o.Clock)
		r[Strokes] = strconv.Itoa(b.CountedArms)
		if o.MeanCount {
			r[Count], r[Strokes] = "per-length", number(float64(b.CountedArms)/float64(b.LengthCount), 1)
		}
		r[Rest] = number(b.RestBeforeSeconds, 0)
		effort(&r, b, sw, o)
		rows = append(rows, r)
	}
	return rows
}

func lengthRows(base Row, b *squad.Bout, s *squad.Session, sw *squad.Swimmer, o SheetOptions) []Row {
	rows := make([]Row, 0, len(b.Lengths))
	for i, l := range b.Lengths {
		r := base
		r[Length] = strconv.Itoa(i + 1)
		r[DistanceM] = number(s.PoolMetres, 2)
		r[Time] = clockTime(l.DurationSeconds, o.Clock)
		r[Strokes] = strconv.Itoa(l.CountedArms)
		if i == 0 {
			r[Rest] = number(b.RestBeforeSeconds, 0)
		}
		if i == len(b.Lengths)-1 {
			effort(&r, b, sw, o)
		}
		rows = append(rows, r)
	}
	return rows
}

// effort fills heart rate and rating. A palpated rate has fallen since the touch
// as the kinetics say, and is six times a whole count.
func effort(r *Row, b *squad.Bout, sw *squad.Swimmer, o SheetOptions) {
	switch o.HeartRate {
	case Strap:
		r[HR], r[HRSource], r[HRDelay] = number(b.ReadingBPM, 0), string(Strap), "0"
	case Palpated:
		bpm := b.ReadingBPM
		if sw.TauSeconds > 0 {
			bpm = sw.RecoveryBPM + (bpm-sw.RecoveryBPM)*math.Exp(-palpationDelay/sw.TauSeconds)
		}
		r[HR], r[HRSource] = number(6*math.Round(bpm/6), 0), string(Palpated)
		r[HRDelay] = strconv.Itoa(palpationDelay)
		if o.Beats > 0 {
			r[HR] = number(math.Round(bpm*float64(o.Beats)/60), 0)
			r[HRDelay] = strconv.Itoa(countDelay)
		}
	}
	if o.RPE {
		// Half steps of the ten-point scale in proportion to the heart-rate
		// reserve: a stand-in, not a finding.
		share := (b.SteadyBPM - sw.RestBPM) / (sw.MaxBPM - sw.RestBPM)
		r[RPE] = number(math.Round(2*min(10, max(0.5, 10*share-2)))/2, 1)
	}
	if o.Lab {
		l := LabOf(b, sw)
		r[VO2], r[LactateBefore], r[Lactate] = number(l.VO2, 1), number(l.LactateBefore, 1), number(l.Lactate, 1)
	}
}

// Lab is what a laboratory at the pool's side would measure of a bout.
type Lab struct {
	VO2                    float64 // mL/kg/min
	LactateBefore, Lactate float64 // mmol/L
}

// LabOf gives oxygen uptake and lactate in proportion to the steady heart rate's
// share of the reserve: 3.5 mL/kg/min at rest and 50 at its end, and lactate that
// rises by 5 mmol/L for each share above 0.6. A stand-in, not a finding.
func LabOf(b *squad.Bout, sw *squad.Swimmer) Lab {
	share := (b.SteadyBPM - sw.RestBPM) / (sw.MaxBPM - sw.RestBPM)
	return Lab{VO2: 3.5 + 46.5*share, LactateBefore: 1.2, Lactate: 1.2 + 5*max(0, share-0.6)}
}

// PoolName is the pool as the sheet writes it: 25m, 50m, 25y, 33.3m.
func PoolName(s *squad.Session) string {
	if s.PoolYards {
		return strconv.Itoa(int(math.Round(s.PoolMetres/0.9144))) + "y"
	}
	return number(s.PoolMetres, 1) + "m"
}

// number formats with at most the given decimals, no trailing zeros.
func number(v float64, decimals int) string {
	scale := math.Pow(10, float64(decimals))
	return strconv.FormatFloat(math.Round(v*scale)/scale, 'f', -1, 64)
}

// clockTime writes seconds to a tenth, as m:ss.s if asked for.
func clockTime(seconds float64, clock bool) string {
	tenths := int(math.Round(10 * seconds))
	if !clock {
		return fmt.Sprintf("%d.%d", tenths/10, tenths%10)
	}
	return fmt.Sprintf("%d:%02d.%d", tenths/600, tenths/10%60, tenths%10)
}
