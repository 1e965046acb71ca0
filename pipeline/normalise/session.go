// Package normalise puts records on one footing: units, clocks and time
// zones, the counting basis, the pool, the order of lengths and the swims
// they form. It changes no recorded value; each stays beside the one used.
package normalise

import (
	"time"

	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// Session is one session of one swimmer. Times are seconds since its start;
// missing numbers are NaN.
type Session struct {
	Swimmer   string
	ID        string // pseudonym-YYYYMMDD-n
	FileID    string
	Kind      read.RecordingKind
	Start     time.Time // zero when no clock time is known
	LocalDate string    // YYYY-MM-DD
	Zone      *time.Location
	PoolM     float64
	HRSource  string
	ClockSure bool    // false where a sheet states neither start nor rest of some swim, so that its times are guesses
	WallTimeS float64 // median seconds that the recorder leaves out between lengths, NaN when not known
	Lengths   []Length
	Rests     []Rest
	Samples   []Sample       // by time
	Merged    []MergedRecord // rows of a sheet that are part of the lengths
	Free      []FreeTag
}

// FreeTag is a note with a key that no measure uses (lane, water_temp, phase
// ...), kept as it was written, by key. It holds for swims RepFrom to RepTo of
// the session (both 0: all).
type FreeTag struct {
	Key, Value     string
	RepFrom, RepTo int
}

// Length is one pool length on common footing. DurationRecordedS and
// StrokesRecorded are what the record says; for a share of a repeat, the
// record's total over Covers.
type Length struct {
	FileID            string
	Record            int64
	Kind              read.RecordKind
	Share, Covers     int // the Share-th of Covers equal shares of a repeat; 1 of 1 for a length
	Lap               int // -1 when the recording has no laps
	Swim              int // the unbroken swim it belongs to, from 1
	StartS            float64
	DurationS         float64
	DurationRecordedS float64
	PoolM             float64
	Stroke            string // as recorded
	SwimStroke        string // of most lengths of its swim; what Strokes are counted as
	Drill             bool
	Strokes           float64 // arm entries (freestyle, backstroke, mixed, medley, unknown) or cycles (breaststroke, butterfly); as recorded when the basis is unknown; NaN when not measured
	StrokesRecorded   float64
	Basis             study.CountBasis // what was counted for Strokes: by the sheet where CountFileID is set, else by the recorder
	RecorderBasis     study.CountBasis // what was counted for StrokesRecorded
	CountFileID       string           // the sheet whose hand count Strokes are, "" for the recorder's own
	RestBeforeS       float64          // rest before its swim, the same for all lengths of the swim; NaN before the first or when not known
	WallTimeS         float64
	End               read.Reading // only on the last length of what the reading closes
	Tags              read.Tags
}

// Rest is a recorded rest and the length it precedes.
type Rest struct {
	FileID    string
	Record    int64
	StartS    float64
	DurationS float64
	Before    int // index into Lengths; len(Lengths) after the last
}

// Sample is one heart-rate sample on the session's clock.
type Sample struct {
	FileID string
	Record int64
	TimeS  float64
	BPM    float64 // as recorded; 0 and 255 are still there
	First  bool    // a sensor's start value
}
