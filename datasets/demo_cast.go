package datasets

import (
	af "lengthwise/datasets/activityfile"
	"lengthwise/datasets/deckfile"
)

// recorder is how a watch of the demo records: an invented model.
type recorder struct {
	options af.Options
	quirks  af.Quirks
}

// The recorders. Names say what a reader has to cope with.
var (
	plainWatch   = recorder{af.Options{Profile: true}, af.Quirks{}}
	oldHeader    = recorder{af.Options{RecordEverySeconds: 4, Rests: af.RestOwnLap}, af.Quirks{HeaderChecksumZero: true, NoStrokes: af.StrokesZero, NumLengths: af.ActiveAndIdleInInterval}}
	shortHeader  = recorder{af.Options{RecordEverySeconds: 5, Rests: af.RestInInterval}, af.Quirks{Header12: true, NoStrokes: af.StrokesInvalid, NumLengths: af.ActiveOnly, StartDriftSeconds: 4}}
	perLength    = recorder{af.Options{RecordPerLength: true}, af.Quirks{HeaderChecksumZero: true, OmitNumActive: true}}
	strapLater   = recorder{af.Options{Strap: true, RecordEverySeconds: 10, StrapLeadSeconds: 75, StrapTailSeconds: 40}, af.Quirks{BeatBlocks: 3, BeatStartValue: 71, BeatSecondAnchor: true}}
	summaryFirst = recorder{af.Options{RecordEverySeconds: 2, Rests: af.RestOwnLap, Profile: true}, af.Quirks{Order: af.SummaryFirst, ZeroIdleDurations: true, DeveloperFields: true, UnknownMessages: true}}
	lateWriter   = recorder{af.Options{}, af.Quirks{LengthTimestamps: af.TimestampLate, LateSeconds: 240, CreatedDelaySeconds: 3600, DuplicateField: true, StrayLap: true}}
	wallLeftOut  = recorder{af.Options{RecordEverySeconds: 2}, af.Quirks{WallSecondsOut: 1.4, LengthTimestamps: af.TimestampInvalid, LapsTogether: true}}
	noSensor     = recorder{af.Options{NoHeartRate: true, RecordEverySeconds: 10}, af.Quirks{}}
)

// owned is how a watch file gets its owner.
type owned int

const (
	byFolder owned = iota
	byAssign       // assign.csv
	byDevice       // the roster's device column
	byNobody       // a stray
)

// part is what a swimmer of the demo brings.
type part struct {
	watch    *recorder
	owned    owned
	sheet    *sheetStyle // lane sheet instead of, or beside, the watch
	designed bool        // the sheet is kept for designed sessions only
	pulse    int         // heart-rate log with a line every so many seconds; 0: none
	sessions int         // came only so many times; 0: to most
	noMax    bool        // highest heart rate not known
	medicine bool        // on rate-altering medication
	refused  bool        // did not consent
	extra    extra       // one more file
}

// extra is a file that a tidy folder would not hold.
type extra int

const (
	noExtra     extra = iota
	copied            // a session's file twice, byte for byte
	reExported        // a session's file again, other bytes
	truncated         // one file cut short
	openWater         // a swim in the sea
	ride              // another sport
	notActivity       // not an activity file at all
	wrongClock        // local clock 22 days behind
)

// sheetStyle is one lane's way of keeping its sheet.
type sheetStyle struct {
	lane    string // part of the file's name
	folder  string
	format  deckfile.Format
	options deckfile.SheetOptions
	wide    bool // observed sessions go on a wide sheet
	alias   int  // which of the roster's aliases the sheet uses
}

var (
	laneTwo = sheetStyle{lane: "lane-2", folder: "sheets", alias: 0,
		options: deckfile.SheetOptions{HeartRate: deckfile.Strap, RPE: true, Clock: true}}
	laneFour = sheetStyle{lane: "lane-4", folder: "sheets", alias: 1,
		format:  deckfile.Format{DecimalComma: true, CP1252: true},
		options: deckfile.SheetOptions{PerLength: true, HeartRate: deckfile.Palpated, WarmUpNote: "easy, ½ effort"}}
	laneSix = sheetStyle{lane: "lane-6", folder: "sheets", alias: 2, wide: true,
		format:  deckfile.Format{BOM: true},
		options: deckfile.SheetOptions{MeanCount: true, OmitStart: true, HeartRate: deckfile.Strap}}
	oldForm = sheetStyle{lane: "lane-5", folder: "sheets/old-form", alias: 0,
		format:  deckfile.Format{Rename: map[deckfile.Column]string{deckfile.Time: "Split", deckfile.Strokes: "SC"}},
		options: deckfile.SheetOptions{HeartRate: deckfile.NoHeartRate}}
)

// castOf deals the parts: the squad, then two strays whose watches nobody knows.
func castOf(swimmers int) []part {
	cast := []part{
		{watch: &plainWatch, extra: copied},
		{watch: &strapLater, extra: reExported},
		{watch: &plainWatch, sheet: &laneTwo, designed: true},
		{watch: &lateWriter, extra: truncated},
		{watch: &oldHeader, extra: openWater},
		{watch: &noSensor, pulse: 2},
		{watch: &summaryFirst, extra: ride},
		{watch: &plainWatch, sessions: 4},
		{watch: &shortHeader, extra: notActivity},
		{watch: &strapLater, noMax: true},
		{watch: &plainWatch, extra: wrongClock},
		{watch: &lateWriter, medicine: true},
		{watch: &perLength},
		{watch: &wallLeftOut},
		{watch: &plainWatch, owned: byAssign},
		{watch: &summaryFirst, owned: byAssign, noMax: true},
		{watch: &plainWatch, owned: byDevice},
		{watch: &oldHeader, owned: byDevice},
		{sheet: &laneTwo},
		{sheet: &oldForm, pulse: 2},
		{sheet: &laneFour, sessions: 3},
		{sheet: &laneFour},
		{sheet: &laneSix},
		{watch: &plainWatch, refused: true},
	}
	return append(cast[:min(swimmers, len(cast))],
		part{watch: &plainWatch, owned: byNobody, sessions: 1},
		part{watch: &shortHeader, owned: byNobody, sessions: 1})
}
