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
)

// MergedRecord is a row of a sheet that became part of an activity's session:
// Length is the first length of its swim, an index into Lengths.
type MergedRecord struct {
	FileID string
	Record int64
	Kind   read.RecordKind
	Length int
}

// merge lays a sheet on the activity of the same swims. The sheet wins stroke
// counts, tags and lactate; the activity wins clock, seconds and heart rate,
// and where it has none, the sheet's reading stands. What fits no swim, or
// more than one, is excluded: nothing is guessed.
//
// The sheet's draft is spent; its rows are in activity.Merged or in entries.
func merge(sheet, activity *draft) (entries []read.Entry) {
	activity.entries = append(activity.entries, sheet.entries...)
	others := *sheet.recording
	others.Lengths = nil // a sheet has no rests or samples of its own; were there any, they would be left out
	entries = whole(&others, RuleSecondRecording, "file "+activity.FileID+" recorded the session")
	written, swum := swumIn(sheet), swumIn(activity)
	clocked := !sheet.Start.IsZero() && !activity.Start.IsZero() && sheet.ClockSure
	if clocked {
		shift := sheet.Start.Sub(activity.Start).Seconds()
		for i := range written {
			written[i].atS += shift
		}
	}
	for i, p := range align(written, swum, clocked) {
		rows := sheet.Lengths[written[i].from:written[i].to]
		switch {
		case p.swim < 0:
			entries = append(entries, excludeRows(sheet, rows, RuleSecondRecording,
				"no swim of file "+activity.FileID+", which recorded the session, is like it")...)
		case !p.sure:
			entries = append(entries, excludeRows(sheet, rows, RuleMatchAmbiguous,
				"several swims of file "+activity.FileID+" are like it; a start time, or all the session's repeats, would tell which")...)
		default:
			s := swum[p.swim]
			mergeSwim(sheet, rows, activity, s.from, s.to)
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
	if end := rows[len(rows)-1].End; len(activity.recording.Samples) == 0 && !math.IsNaN(end.HRBPM) {
		lengths[len(lengths)-1].End = end
	}
	hand, recorded := strokesOf(rows), strokesOf(lengths)
	if math.IsNaN(hand) || slices.ContainsFunc(rows, func(l Length) bool { return l.Basis == study.UnknownBasis }) {
		return
	}
	if known := activity.Lengths[from].Basis != study.UnknownBasis; known && math.Abs(hand-recorded) > countsDisagree*hand {
		note(RuleCountsDisagree, "%.0f strokes by hand, %.0f by the recorder of file %s: the hand count is used", hand, recorded, activity.FileID)
	}
	shareCount(lengths, rows, hand, recorded)
	for i := range lengths {
		lengths[i].Basis, lengths[i].CountFileID = study.Arms, sheet.FileID
	}
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
