package normalise

import (
	"fmt"
	"math"
	"slices"

	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

const (
	// countsDisagree is the share by which a hand count and a recorder's may
	// differ before it is noted: one stroke in six.
	countsDisagree = 1.0 / 6
	// readingsDisagree is by how many bpm a reading and the file's heart rate may
	// differ before it is noted, secondsDisagree by how many standard deviations
	// seconds may.
	readingsDisagree = 10.0
	secondsDisagree  = 3.0
	// matchS is how far the seconds of one length may differ between a sheet and
	// a watch for its count to be that of the length.
	matchS = 2.0
)

// MergedRecord is a row of a sheet that became part of an activity's session:
// Length is the first length of its swim, an index into Lengths.
type MergedRecord struct {
	FileID string
	Record int64
	Kind   read.RecordKind
	Length int
}

// merge gives activities what a sheet says of the swims that it lies on. The
// sheet wins stroke counts, tags and lactate; the activity wins clock, seconds
// and heart rate, and where it has none, the sheet's reading stands. What fits no
// swim, or more than one, or one of which another sheet tells, is excluded:
// nothing is guessed.
//
// The sheet's draft is spent; its rows are in the activities' Merged or in
// entries.
func merge(sheet *draft, f *fit) (entries []read.Entry) {
	first := f.watch[0].of
	first.entries = append(first.entries, sheet.entries...)
	others := *sheet.recording
	others.Lengths = nil // a sheet has no rests or samples of its own; were there any, they would be left out
	entries = whole(&others, RuleSecondRecording, "file "+first.FileID+" recorded the session")
	for i, p := range f.places {
		rows := sheet.Lengths[f.sheet[i].from:f.sheet[i].to]
		exclude := func(rule, detail string) { entries = append(entries, excludeRows(sheet, rows, rule, detail)...) }
		switch {
		case p.swim < 0:
			exclude(RuleSecondRecording, "no swim of file "+first.FileID+", which recorded the session, is like it")
		case f.backward[i]:
			exclude(RuleMatchAmbiguous, "the numbers of its repeats go back: which was swum first cannot be told")
		case !p.sure:
			exclude(RuleMatchAmbiguous, "several swims of file "+f.watch[p.swim].of.FileID+" are like it; a start time, or all the session's repeats, would tell which")
		default:
			s := f.watch[p.swim]
			if by := s.of.toldBy(s.from); by != "" && by != sheet.FileID {
				exclude(RuleSecondRecording, "the sheet of file "+by+" tells of the same swim")
				continue
			}
			mergeSwim(sheet, rows, s.of, s.from, s.to)
		}
	}
	return entries
}

// mergeSwim gives the activity's lengths from <= i < to what the sheet's rows
// of the same swim say.
func mergeSwim(sheet *draft, rows []Length, activity *draft, from, to int) {
	lengths := activity.Lengths[from:to]
	for _, l := range recordsOf(rows) {
		activity.Merged = append(activity.Merged, MergedRecord{FileID: sheet.FileID, Record: l.Record, Kind: l.Kind, Length: from})
	}
	note := func(rule, format string, args ...any) {
		activity.entries = append(activity.entries, read.Entry{FileID: sheet.FileID, Record: rows[0].Record, Records: 1, Kind: rows[0].Kind,
			Swimmer: sheet.Swimmer, Rule: rule, Action: read.Noted, Detail: fmt.Sprintf(format, args...)})
	}
	tags := blankTags()
	for _, row := range rows {
		tags = filled(tags, row.Tags)
	}
	for i := range lengths {
		lengths[i].Tags = filled(tags, lengths[i].Tags)
	}
	last := &lengths[len(lengths)-1]
	switch end := rows[len(rows)-1].End; {
	case math.IsNaN(end.HRBPM):
	case len(activity.recording.Samples) == 0:
		last.End = end
	default:
		if bpm := activity.heartRateAt(last.StartS + last.DurationS + orZero(end.DelayS)); math.Abs(bpm-end.HRBPM) > readingsDisagree {
			note(RuleReadingsDisagree, "%.0f bpm written down, %.0f by file %s at that time: the file's heart rate is used", end.HRBPM, bpm, activity.FileID)
		}
	}
	written, watched := onTheClock(rows), onTheClock(lengths)
	if off := written - watched; math.Abs(off) > secondsDisagree*math.Sqrt(timingVariance(watched)) {
		note(RuleSecondsDisagree, "%.1f s written down, %.1f by file %s: the file's are used", written, watched, activity.FileID)
	}
	if stroke := rows[0].SwimStroke; oneStroke(stroke) && stroke != lengths[0].SwimStroke {
		if oneStroke(lengths[0].SwimStroke) {
			note(RuleStrokesDisagree, "%s by hand, %s by the recorder of file %s: what was written down is used", stroke, lengths[0].SwimStroke, activity.FileID)
		}
		for i := range lengths {
			l := &lengths[i]
			l.SwimStroke, l.Strokes = stroke, ArmStrokes(l.StrokesRecorded, stroke, l.RecorderBasis)
		}
	}
	for i := range rows { // a sheet that names no stroke counts that of the watch
		if !oneStroke(rows[i].SwimStroke) {
			rows[i].Strokes = ArmStrokes(rows[i].StrokesRecorded, lengths[0].SwimStroke, rows[i].RecorderBasis)
		}
	}
	hand, recorded := strokesOf(rows), strokesOf(lengths)
	if math.IsNaN(hand) || slices.ContainsFunc(rows, func(l Length) bool { return l.Basis == study.UnknownBasis }) {
		return
	}
	if known := lengths[0].Basis != study.UnknownBasis; known && math.Abs(hand-recorded) > countsDisagree*hand {
		note(RuleCountsDisagree, "%.0f strokes by hand, %.0f by the recorder of file %s: the hand count is used", hand, recorded, activity.FileID)
	}
	shareCount(lengths, rows, hand, recorded)
	for i := range lengths {
		lengths[i].Basis, lengths[i].CountFileID = study.Arms, sheet.FileID
	}
}

// toldBy is the sheet of which a row is merged into the swim that begins at a
// length, "" when there is none.
func (d *draft) toldBy(from int) string {
	for _, m := range d.Merged {
		if m.Length == from {
			return m.FileID
		}
	}
	return ""
}

// heartRateAt is the mean of the recording's heart rates within some seconds of
// a time; NaN where there are none.
func (d *draft) heartRateAt(timeS float64) float64 {
	const within = 5.0 // s
	sum, n := 0.0, 0
	for i := range d.recording.Samples {
		if s := &d.recording.Samples[i]; isBeat(s.BPM) && !s.First && math.Abs(s.TimeS-timeS) <= within {
			sum, n = sum+s.BPM, n+1
		}
	}
	return sum / float64(n)
}

// onTheClock is the seconds from the first of some lengths to the end of the
// last.
func onTheClock(lengths []Length) float64 {
	last := &lengths[len(lengths)-1]
	return last.StartS + last.DurationS - lengths[0].StartS
}

// shareCount deals a hand count out over a swim's lengths: one by one where
// the sheet counted each, else in proportion to what the recorder counted, or
// to the seconds where it counted nothing.
func shareCount(lengths, rows []Length, hand, recorded float64) {
	oneByOne := len(rows) == len(lengths)
	for i := range rows {
		oneByOne = oneByOne && rows[i].Kind == read.KindLength &&
			math.Abs(rows[i].DurationS-lengths[i].DurationS) <= matchS
	}
	var seconds float64
	for _, l := range lengths {
		seconds += l.DurationS
	}
	for i := range lengths {
		switch {
		case oneByOne:
			lengths[i].Strokes = rows[i].Strokes
		case recorded > 0:
			lengths[i].Strokes *= hand / recorded
		default:
			lengths[i].Strokes = hand * lengths[i].DurationS / seconds
		}
	}
}

// strokesOf sums the strokes of lengths, NaN where one was not counted.
func strokesOf(lengths []Length) float64 {
	var sum float64
	for _, l := range lengths {
		sum += l.Strokes
	}
	return sum
}

// recordsOf lists one length for each source record.
func recordsOf(rows []Length) []Length {
	return slices.CompactFunc(slices.Clone(rows), func(a, b Length) bool { return a.Kind == b.Kind && a.Record == b.Record })
}

// excludeRows excludes the records behind some of a draft's lengths.
func excludeRows(d *draft, rows []Length, rule, detail string) []read.Entry {
	var entries []read.Entry
	for _, l := range recordsOf(rows) {
		entries = append(entries, read.Entry{FileID: l.FileID, Record: l.Record, Records: 1, Kind: l.Kind,
			Swimmer: d.Swimmer, Rule: rule, Action: read.Excluded, Detail: detail})
	}
	return entries
}
