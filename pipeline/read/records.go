// Package read turns files into records as recorded: nothing is corrected,
// nothing is left out in silence. Each record keeps its file and its number
// within the file; what cannot be read becomes a ledger entry.
//
// Names, device numbers and positions do not leave this package: a recording
// carries its swimmer's pseudonym.
package read

import (
	"time"

	"lengthwise/pipeline/study"
)

// RecordKind is a kind of source record. The account is kept by kind.
type RecordKind string

// The kinds of source record.
const (
	KindLength    RecordKind = "length"     // one pool length
	KindRest      RecordKind = "rest"       // an idle length of an activity file
	KindRepeat    RecordKind = "repeat"     // a sheet row that covers several lengths
	KindHeartRate RecordKind = "heart-rate" // one heart-rate sample
	KindFile      RecordKind = "file"       // a file as a whole
	KindRoster    RecordKind = "roster"     // a row of the roster
	KindNote      RecordKind = "note"       // a row of the notes
	KindAssign    RecordKind = "assignment" // a row of the assign file
)

// Action is what a rule did to a record.
type Action string

// The actions of the ledger.
const (
	Excluded Action = "excluded" // the record is not used
	Repaired Action = "repaired" // it is used with other values than recorded
	Noted    Action = "noted"    // it is used as it is; the entry says what was seen
)

// Entry is one line of the ledger. Records counts the records in a row, from
// Record on, that it covers: 1 unless many in a row meet one rule.
type Entry struct {
	FileID  string
	Record  int64 // from 1 within file and kind (a sheet's lengths and repeats count together); 0 for the file as a whole
	Records int64
	Kind    RecordKind
	Swimmer string // pseudonym, "" when nobody owns the record
	Session string // "" when the record never reached a session
	Rule    string
	Action  Action
	Detail  string // in words, without names or paths
}

// Counts is how many records of each counted kind a file held, counted where
// bytes become records and nowhere else.
type Counts struct {
	Lengths, Rests, Repeats, HeartRate int64
}

// File is all that one file gave.
type File struct {
	ID         string
	Counts     Counts
	Recordings []Recording
	Entries    []Entry
}

// RecordingKind says what made a recording.
type RecordingKind string

// The kinds of recording.
const (
	FromActivity     RecordingKind = "activity"
	FromSheet        RecordingKind = "sheet"
	FromHeartRateLog RecordingKind = "heart-rate"
)

// Recording is one session of one swimmer as one source recorded it; a
// heart-rate log holds samples alone. Missing numbers are NaN. Times are
// seconds since Start; where Start is unknown (zero) they are seconds since
// the first row.
type Recording struct {
	FileID    string
	Part      int // order within the file, from 1
	Kind      RecordingKind
	Swimmer   string // pseudonym, "" when nobody owns it
	Refused   string // rule that refuses the whole recording (no-swimmer, no-consent, forgotten), "" when none
	Start     time.Time
	LocalDate string // YYYY-MM-DD in Zone
	Zone      *time.Location
	PoolM     float64 // NaN when not stated
	Basis     study.CountBasis
	HRSource  string // strap, optical, palpated or unknown
	Content   string // hex SHA-256 of the bytes it was read from, for duplicates
	Device    string // keyed hash of the recorder's serial number, "" when none
	Created   int64  // the recorder's own creation time, Unix seconds; 0 when none
	Laps      []Lap
	Lengths   []Length // in order of swimming
	Rests     []Rest
	Samples   []Sample
}

// Lap is an interval of an activity file as recorded.
type Lap struct {
	StartS, DurationS float64
	PoolLengths       int // active lengths that the lap owns
}

// Length is one recorded length, or a sheet's row that covers several.
type Length struct {
	Record    int64
	Kind      RecordKind // KindLength or KindRepeat
	Lap       int        // index into Laps, -1 when there are none
	Swim      int        // sheets: rows of one unbroken swim share a number, from 1; 0 where the recording does not say
	Set       string     // sheets: the set that it belongs to, as written; "" where not stated
	Rep       int        // sheets: number of the repeat, as written; 0 where not stated
	Covers    int        // pool lengths it covers, 1 for KindLength
	StartS    float64    // as recorded, NaN when not stated
	DurationS float64
	PoolM     float64 // NaN: the recording's
	Stroke    string  // freestyle, backstroke, breaststroke, butterfly, mixed, medley, unknown
	Drill     bool
	Strokes   float64          // total, as recorded; NaN when not measured
	Basis     study.CountBasis // "" means the recording's
	RestS     float64          // rest before, NaN when not stated
	WallTimeS float64          // seconds without strokes per length, NaN when not stated
	End       Reading          // heart rate at the end of the row
	Tags      Tags
}

// Reading is a heart rate written down by hand.
type Reading struct {
	HRBPM  float64 // NaN when none
	Source string  // strap, optical, palpated; "" when not stated
	DelayS float64 // seconds after the touch, NaN when not stated; of a count, to its middle

	StepBPM float64 // a count's steps: 6 for one over 10 s, 4 for one over 15 s; 0 for a reading in beats a minute
}

// Tags is what was noted or set for a length. Empty or NaN means not stated.
type Tags struct {
	Instruction   string  // usual, fewest-strokes, quicker-rate
	RateTargetSPM float64 // arm strokes per minute
	Breathing     float64 // strokes per breath
	Kick          string  // none, light, full
	Equipment     string
	Effort        string // easy, steady, hard, maximal
	RPE           float64
	LactateMMOL   float64 // mmol/L after
	LactateBefore float64 // mmol/L before
	VO2           float64 // mL/kg/min
}

// Rest is an idle length of an activity file.
type Rest struct {
	Record            int64
	StartS, DurationS float64
}

// Sample is one heart-rate sample. BPM is as recorded: 0 and 255 are still
// there. First marks a sensor's start value.
type Sample struct {
	Record int64
	TimeS  float64
	BPM    float64
	First  bool
}

// Note is one row of the notes file: a tag for swims RepFrom to RepTo of a
// swimmer's day (both 0: all).
type Note struct {
	Record         int64
	Swimmer        string
	LocalDate      string
	RepFrom, RepTo int
	Key, Value     string
}
