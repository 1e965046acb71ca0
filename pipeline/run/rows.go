package run

import (
	"math"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/screen"
	"lengthwise/schemas"
)

// number is a nullable column's value: nil for NaN and infinities, which no
// table holds.
func number(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// text is a nullable column's value: nil for "".
func text(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

func swimmerRow(swimmer string, m identity.Member) schemas.Swimmer {
	row := schemas.Swimmer{
		Swimmer: swimmer, Sex: text(m.Sex),
		HRRestBPM: number(m.HRRestBPM), HRMaxBPM: number(m.HRMaxBPM), HRMaxMeasuredIn: text(m.HRMaxMeasuredIn),
		MassKG: number(m.MassKG), HeightCM: number(m.HeightCM), ArmSpanCM: number(m.ArmSpanCM),
		VO2RestMLPerKGMin: number(m.VO2RestMLPerKGMin), RateAlteringMedication: m.RateAlteringMedication,
	}
	if m.BirthYear != 0 {
		year := int32(m.BirthYear)
		row.BirthYear = &year
	}
	return row
}

// withTau adds to a swimmer's row the time constant of heart rate, the swimmer's
// own and the one in use.
func withTau(row schemas.Swimmer, own derive.OwnTau, used derive.Tau) schemas.Swimmer {
	if !math.IsNaN(used.LnSeconds) && own.Traced > 0 {
		row.HRTauS, row.HRTauLnSE = number(math.Exp(used.LnSeconds)), number(used.StdError)
	}
	row.HRTauOwnS, row.HRTauOwnLnSE = number(math.Exp(own.LnSeconds)), number(own.StdError)
	row.HRTauBouts = int32(own.Bouts)
	if own.Traced > 0 {
		row.HRTauReason = text(used.Reason)
	}
	return row
}

func sessionRow(s *screen.Session, bouts []derive.Bout) schemas.Session {
	row := schemas.Session{
		Swimmer: s.Swimmer, Session: s.ID, FileID: s.FileID, Kind: string(s.Kind),
		LocalDate: s.LocalDate, TimeZone: s.Zone.String(), PoolM: number(s.PoolM),
		Lengths: int32(len(s.Kept)), Bouts: int32(len(bouts)), HRSamples: int32(len(s.KeptSamples)),
		HRSource: text(s.HRSource), WallTimeS: number(math.Max(0, s.WallTimeS)), // starts in whole seconds make it a little negative
	}
	if !s.Start.IsZero() {
		ms := s.Start.UnixMilli()
		row.StartUTC = &ms
	}
	for _, b := range bouts { // usable ones are counted when their costs are known
		if b.Designed {
			row.DesignedBouts++
		}
	}
	return row
}

func lengthRow(s *screen.Session, l *derive.Length) schemas.Length {
	row := schemas.Length{
		Swimmer: s.Swimmer, Session: s.ID, Ordinal: int32(l.Ordinal), Bout: int32(l.Bout),
		FileID: l.FileID, Record: l.Record, RecordedAs: string(l.Kind),
		StartS: l.StartS, PoolM: l.PoolM, Stroke: l.Stroke,
		DurationS: l.DurationS, DurationRecordedS: l.DurationRecordedS,
		Strokes: number(l.Strokes), StrokesRecorded: number(l.StrokesRecorded), StrokeCountBasis: string(l.Basis), StrokesFileID: text(l.CountFileID),
		SpeedMPS: l.SpeedMPS, PaceSPer100M: l.PaceSPer100M,
		StrokeRateSPM: number(l.StrokeRateSPM), DistancePerStrokeM: number(l.DistancePerStrokeM),
		Score: number(l.Score), ScoreRecorded: number(l.ScoreRecorded), Score25: number(l.Score25),
		StrokeIndex: number(l.StrokeIndex), HRBPM: number(l.HRBPM), Status: "kept", Rule: text(l.Rule),
	}
	if l.Rule != "" {
		row.Status = "repaired"
	}
	return row
}

func lineageRow(s *screen.Session, link screen.Link) schemas.Lineage {
	return schemas.Lineage{FileID: link.FileID, Record: link.Record, Kind: string(link.Kind),
		Swimmer: s.Swimmer, Session: s.ID, Ordinal: int32(link.Ordinal), Relation: string(link.Relation)}
}

func heartRateRow(s *screen.Session, h normalise.Sample) schemas.HeartRate {
	return schemas.HeartRate{Swimmer: s.Swimmer, Session: s.ID, FileID: h.FileID, Record: h.Record, TimeS: h.TimeS, HRBPM: h.BPM}
}

// derivative is a bout's hr_by_ln_tau: null where no time constant was used.
func derivative(b *derive.Bout) *float64 {
	if b.LnTauSE == 0 {
		return nil
	}
	return number(b.HRByLnTau)
}

// steps is null where the heart rate is no count.
func steps(b *derive.Bout) *float64 {
	if b.HRStepBPM == 0 {
		return nil
	}
	return number(b.HRStepBPM)
}

func boutRow(b *derive.Bout) schemas.Bout {
	return schemas.Bout{
		Swimmer: b.Swimmer, Session: b.Session, Bout: int32(b.Bout), Swim: int32(b.Swim), Block: int32(b.Block),
		Stroke: b.Stroke, PoolM: b.PoolM, Lengths: int32(b.Lengths), RepairedLengths: int32(b.RepairedLengths),
		DistanceM: b.DistanceM, DurationS: b.DurationS, RestBeforeS: number(b.RestBeforeS), MinutesIn: b.MinutesIn,
		SpeedMPS: b.SpeedMPS, PaceSPer100M: b.PaceSPer100M, StrokeCountBasis: string(b.Basis),
		StrokeRateSPM: number(b.StrokeRateSPM), DistancePerStrokeM: number(b.DistancePerStrokeM),
		Strokes25: number(b.Strokes25), Score25: number(b.Score25), ScoreRecorded25: number(b.ScoreRecorded25),
		StrokeIndex: number(b.StrokeIndex), HRSteadyBPM: number(b.HRSteadyBPM), HRMethod: text(b.HRMethod),
		HRSource: text(b.HRSource), HRStepBPM: steps(b), HRSamples: int32(b.HRSamples), HRStratum: text(b.HRStratum),
		HRSteadySE: number(b.HRSteadySE()), HRByLnTau: derivative(b),
		HRReserve: number(b.HRReserve), NetBeats100M: number(b.NetBeats100M), Cost: number(b.Cost), CostStratum: text(b.CostStratum),
		Instruction: text(b.Tags.Instruction), RateTarget: number(b.Tags.RateTargetSPM), Breathing: number(b.Tags.Breathing),
		Kick: text(b.Tags.Kick), Equipment: text(b.Tags.Equipment), RPE: number(b.Tags.RPE),
		VO2: number(b.Tags.VO2), Lactate: number(b.Tags.LactateMMOL), LactateBefore: number(b.Tags.LactateBefore),
		Designed: b.Designed, Usable: b.Usable, Reason: text(b.Reason),
	}
}

// entryRow is a ledger entry as published. Without consent not even the
// pseudonym is.
func entryRow(e read.Entry) schemas.LedgerEntry {
	row := schemas.LedgerEntry{FileID: e.FileID, Record: e.Record, Records: e.Records, Kind: string(e.Kind),
		Swimmer: text(e.Swimmer), Session: text(e.Session), Rule: e.Rule, Action: string(e.Action), Detail: e.Detail}
	if e.Rule == identity.NoConsent {
		row.Swimmer = nil
	}
	return row
}
